"""Results as CSV: one head row, one line for each topology, fault, pair or event.

In: frozen results. Out: text. Shares and prices are decimals, never `3/2`, which a spreadsheet
takes for a date (JSON has the exact fractions); lists are joined by `; `. Frames are empty where
the verdict is lasting. A text that a spreadsheet would take for a formula begins with an
apostrophe.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from sim.harmless import cell
from sim.report.row_fields import fault_fields
from sim.scenario.scenario import Scenario, Variant
from sim.study.doubles import PairRow
from sim.study.effects import STATES
from sim.study.injection import Injection
from sim.study.rows import FaultRow
from sim.study.study import Comparison, VariantStudy
from sim.timecode import time_code


def as_csv(head: Sequence[str], records: Iterable[Mapping[str, Any]]) -> str:
    """The records under this head."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([_cell(record[name]) for name in head] for record in records)
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Fraction):
        return decimals(value)
    if isinstance(value, list | tuple):
        return _cell(
            "; ".join(decimals(each) if isinstance(each, Fraction) else str(each) for each in value)
        )
    if isinstance(value, str):
        return cell(value)
    return str(value)


def decimals(value: Fraction) -> str:
    """A decimal with twelve places at most: `0.095238095238`; never rounded to 0 or 1."""
    if value.denominator == 1:
        return str(value.numerator)
    return f"{float(value):.12f}".rstrip("0")


COMPARE_HEAD = (
    "group", "topology", "offered", "can_be_built", "reasons", "serious_findings", "price",
    "extra_units", "lasting", "blink", "unseen", "latent", "worst_blink",
    "worst_blink_frames_least",
    "worst_blink_frames_most", "worst_blink_dark_frames_most", "worst_blink_no_bound",
    "worst_blink_area", "worst_lasting_fault", "worst_lasting_area", "worst_lasting_states",
    "worst_lasting_supplier", "spoils_all_nothing_arrives", "spoils_all_valid_signal",
    "dark_wall_seconds_a_show", "limits_met", "limits_perhaps_met", "limits_not_met",
    "limits_not_studied",
)  # fmt: skip


def compare_csv(compared: Iterable[Comparison]) -> str:
    """One line for each topology."""
    return as_csv(COMPARE_HEAD, (record for one in compared for record in _topologies(one)))


def _topologies(one: Comparison) -> Iterator[dict[str, Any]]:
    for study, extra in zip(one.studies, one.extras, strict=True):
        blink = study.worst_blink
        worst = study.worst_lasting
        yield {
            **dict.fromkeys(COMPARE_HEAD),
            "group": one.group,
            "topology": study.variant.label,
            "offered": study.variant.offered,
            "can_be_built": study.can_be_built,
            "reasons": study.reasons,
            "serious_findings": [f"{each.subject}: {each.text}" for each in study.serious],
            **(_built(study, extra) if study.can_be_built else {}),
            "worst_blink": blink and blink.name,
            "worst_blink_frames_least": blink and blink.frames[0],
            "worst_blink_frames_most": blink and blink.frames[1],
            "worst_blink_dark_frames_most": blink and blink.dark_frames[1],
            "worst_blink_no_bound": blink and bool(blink.races),
            "worst_blink_area": blink and blink.ever[1],
            "worst_lasting_fault": [row.name for row in worst.values()],
            "worst_lasting_area": [row.lasting[1] for row in worst.values()],
            "worst_lasting_states": [" or ".join(row.states) for row in worst.values()],
            "worst_lasting_supplier": list(worst),
        }


def _built(study: VariantStudy, extra: Mapping[str, int]) -> dict[str, Any]:
    limits = [verdict.verdict for verdict in study.verdicts]
    return {
        "price": study.bill.price if study.bill else None,
        "extra_units": [f"{name} {count:+}" for name, count in extra.items()],
        "lasting": study.count("lasting"),
        "blink": study.count("blink"),
        "unseen": study.count("unseen"),
        "latent": study.latent_count,
        "spoils_all_nothing_arrives": [row.name for row in study.spoilers(False)],
        "spoils_all_valid_signal": [row.name for row in study.spoilers(True)],
        "dark_wall_seconds_a_show": study.dark,
        "limits_met": limits.count("met"),
        "limits_perhaps_met": limits.count("perhaps met"),
        "limits_not_met": limits.count("not met"),
        "limits_not_studied": limits.count("not studied"),
    }


ENDS = ("least", "most")
FAULT_HEAD = (
    "group", "topology", "name", "role", "mode", "detail", "verdict", "valid_signal", "count",
    "frames_least", "frames_most", *(f"{s}_frames_{end}" for s in STATES for end in ENDS),
    "no_bound", "lasting_least", "lasting_most", "ever_least", "ever_most", "states",
    "states_seen", "regions", "suppliers",
    "grade", "latent_until", "races", "pending", "rate", "dark", "guessed", "flashes", "where",
)  # fmt: skip


def faults_csv(studies: Iterable[VariantStudy]) -> str:
    """One line for each row of like faults."""
    return as_csv(FAULT_HEAD, (record for study in studies for record in _faults(study)))


def _faults(study: VariantStudy) -> Iterator[dict[str, Any]]:
    hidden = {latent.name: latent.second for latent in study.latents}
    for row in study.rows:
        fields = fault_fields(row)
        until = hidden.get(f"{row.role} {row.mode}", "") if row.verdict == "unseen" else ""
        where = {"group": study.variant.group, "topology": study.variant.label}
        yield {**where, **fields, **_spans(row), "latent_until": until}


def _spans(row: FaultRow) -> dict[str, Any]:
    """The ends of all spans; frames are empty for what lasts."""
    shares: dict[str, tuple[Any, Any]] = {"lasting": row.lasting, "ever": row.ever}
    named = {f"{s}_frames": span for s, span in zip(STATES, row.state_frames, strict=True)}
    counts = {"frames": row.frames, **named}
    none = dict.fromkeys(counts, (None, None)) if row.verdict == "lasting" else {}
    spans = {**shares, **counts, **none}
    return {f"{name}_{end}": span[i] for name, span in spans.items() for i, end in enumerate(ENDS)}


PAIR_HEAD = (
    "group", "topology", "first", "second", "count", "alone_first", "alone_second", "together",
)  # fmt: skip


def pairs_csv(found: Iterable[tuple[Variant, Sequence[PairRow]]]) -> str:
    """One line for each row of like pairs."""
    return as_csv(
        PAIR_HEAD,
        (
            {
                "group": variant.group,
                "topology": variant.label,
                "first": row.first,
                "second": row.second,
                "count": row.count,
                "alone_first": row.alone[0],
                "alone_second": row.alone[1],
                "together": row.together,
            }
            for variant, rows in found
            for row in rows
        ),
    )


EVENT_HEAD = ("at_flicks", "frame", "time_code", "name", "what", "detail")


def inject_csv(result: Injection, scenario: Scenario) -> str:
    """One line for each event, none put together."""
    frame = scenario.rate.frame
    return as_csv(
        EVENT_HEAD,
        (
            {
                "at_flicks": note.at,
                "frame": note.at // frame,
                "time_code": time_code(note.at // frame, scenario.rate, scenario.start),
                "name": note.name,
                "what": note.what,
                "detail": note.detail,
            }
            for note in result.notes
        ),
    )
