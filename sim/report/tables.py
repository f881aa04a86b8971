"""Results as CSV: one head row, one line for each topology, fault, pair or event.

In: frozen results. Out: text. Exact fractions are texts such as `3/2`; lists are joined by `; `.
A text that a spreadsheet would take for a formula begins with an apostrophe.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from sim.report.jsondoc import fault_fields
from sim.report.words import harmless
from sim.scenario.scenario import Scenario, Variant
from sim.study.injection import Injection
from sim.study.study import Comparison, PairRow, VariantStudy
from sim.timecode import time_code

FORMULA = ("=", "+", "-", "@")


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
    if isinstance(value, list | tuple):
        return _cell("; ".join(map(str, value)))
    if isinstance(value, str):
        shown = harmless(value)
        return f"'{shown}" if shown.startswith(FORMULA) else shown
    return str(value)


COMPARE_HEAD = (
    "group", "topology", "offered", "can_be_built", "reasons", "price", "extra_units", "lasting",
    "blink", "unseen", "latent", "worst_blink", "worst_blink_frames_least",
    "worst_blink_frames_most", "worst_blink_area", "worst_lasting_fault", "worst_lasting_area",
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
            **(_built(study, extra) if study.can_be_built else {}),
            "worst_blink": blink and blink.name,
            "worst_blink_frames_least": blink and blink.frames[0],
            "worst_blink_frames_most": blink and blink.frames[1],
            "worst_blink_area": blink and str(blink.ever[1]),
            "worst_lasting_fault": [row.name for row in worst.values()],
            "worst_lasting_area": [str(row.lasting[1]) for row in worst.values()],
            "worst_lasting_supplier": list(worst),
        }


def _built(study: VariantStudy, extra: Mapping[str, int]) -> dict[str, Any]:
    limits = [verdict.verdict for verdict in study.verdicts]
    return {
        "price": str(study.bill.price) if study.bill else None,
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


FAULT_HEAD = (
    "group", "topology", "name", "role", "mode", "detail", "verdict", "valid_signal", "count",
    "frames_least", "frames_most", "dark_frames_least", "dark_frames_most", "lasting_least",
    "lasting_most", "ever_least", "ever_most", "states", "states_seen", "regions", "suppliers",
    "grade", "latent_until", "races", "pending", "rate", "dark", "flashes", "where",
)  # fmt: skip
SPANS = ("frames", "dark_frames", "lasting", "ever")


def faults_csv(studies: Iterable[VariantStudy]) -> str:
    """One line for each row of like faults."""
    return as_csv(FAULT_HEAD, (record for study in studies for record in _faults(study)))


def _faults(study: VariantStudy) -> Iterator[dict[str, Any]]:
    hidden = {latent.name: latent.second for latent in study.latents}
    for row in study.rows:
        fields = fault_fields(row)
        least = {f"{name}_least": fields[name][0] for name in SPANS}
        most = {f"{name}_most": fields[name][1] for name in SPANS}
        until = hidden.get(f"{row.role} {row.mode}", "") if row.verdict == "unseen" else ""
        where = {"group": study.variant.group, "topology": study.variant.label}
        yield {**where, **fields, **least, **most, "latent_until": until}


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
                "alone_first": str(row.alone[0]),
                "alone_second": str(row.alone[1]),
                "together": str(row.together),
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
