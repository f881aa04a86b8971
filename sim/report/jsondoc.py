"""Results as JSON documents for other programs, each with the name and number of its format.

In: frozen results. Out: plain JSON values in a fixed order. Exact fractions are texts such as
`3/2`; rates and dark times are numbers; times are integer flicks; frames count from 0.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sim.engine.signal import Note
from sim.report.blocks import CAUTIONS
from sim.report.row_fields import fault_fields, mark_fields, texts
from sim.rig.bill import Bill
from sim.scenario.scenario import Limit, Scenario, Variant
from sim.study.decisive import Decider
from sim.study.doubles import PairRow
from sim.study.effects import STATES
from sim.study.hidden import LatentRow
from sim.study.injection import Injection, Toll, WallMoment
from sim.study.promises import Verdict
from sim.study.study import Comparison, Difference, VariantStudy
from sim.timebase import FLICKS, Timing

COMPARE, FAULTS, PAIRS, INJECT = (
    f"staylit-{name} 1" for name in ("compare", "faults", "pairs", "inject")
)
NOTES = {
    "exact": 'texts such as "3/2" are exact fractions; shares are parts of the group\'s pixels',
    "frames": "least and most; null where a fault is lasting. frames: not lit, of the cell that is "
    "dark longest; frames_by_state: of the cell that is in that state longest. no_bound: two "
    "protections race, so that frames may also lie outside",
    "latent": "unseen, and some other single dead or cut leaves more not lit than it would alone",
    "times": f"whole flicks, {FLICKS} to the second; frames count from 0 at the start of the show",
    "rates": "failure rates are per hour in the show; dark is in wall-seconds a show, guessed the "
    "part of it that rests on placeholder rates",
}


OPEN_LEVELS = 6
"""So many levels are written line by line; what lies deeper stands on one line."""


def as_json(document: Mapping[str, Any]) -> str:
    """The document as text: the same bytes for the same results."""
    return _written(document, 0) + "\n"


def _written(value: Any, level: int) -> str:
    if level >= OPEN_LEVELS or not isinstance(value, dict | list) or not value:
        return json.dumps(value, allow_nan=False)
    inner, outer = "\n" + " " * (level + 1), "\n" + " " * level
    if isinstance(value, dict):
        items = [f"{json.dumps(key)}: {_written(item, level + 1)}" for key, item in value.items()]
        return "{" + inner + f",{inner}".join(items) + outer + "}"
    return "[" + inner + f",{inner}".join(_written(item, level + 1) for item in value) + outer + "]"


def _head(name: str, scenario: Scenario) -> dict[str, Any]:
    show = {
        "title": scenario.title,
        "rate": scenario.rate.label,
        "frame": scenario.rate.frame,
        "length": scenario.length,
        "start": scenario.start,
        "currency": scenario.currency,
    }
    return {"format": name, "about": NOTES, "cautions": [*CAUTIONS.texts], "show": show}


def compare_document(compared: Iterable[Comparison], scenario: Scenario) -> dict[str, Any]:
    """Everything that `compare` works out."""
    return {**_head(COMPARE, scenario), "groups": [_comparison(one) for one in compared]}


def faults_document(studies: Iterable[VariantStudy], scenario: Scenario) -> dict[str, Any]:
    """Everything that `faults` works out."""
    return {**_head(FAULTS, scenario), "topologies": [_study(study) for study in studies]}


def pairs_document(
    found: Sequence[tuple[Variant, Sequence[PairRow]]], scenario: Scenario,
    modes: Sequence[str] = (),
) -> dict[str, Any]:  # fmt: skip
    """Everything that `faults --pairs` works out, of some modes only where these are named."""
    made = [{**_variant(variant), "pairs": [_pair(r) for r in rows]} for variant, rows in found]
    only = {"modes": list(modes)} if modes else {}
    return {**_head(PAIRS, scenario), **only, "topologies": made}


def inject_document(
    result: Injection, variants: Iterable[Variant], faults: Sequence[str], failing: Sequence[str],
    scenario: Scenario,
) -> dict[str, Any]:  # fmt: skip
    """Everything that `inject` works out."""
    return {
        **_head(INJECT, scenario),
        "topologies": [_variant(variant) for variant in variants],
        "faults": list(faults),
        "failing": list(failing),
        "timing": result.corner,
        "events": [_note(note) for note in result.notes],
        "tolls": [_toll(toll) for toll in result.tolls],
        "worst_at": result.worst_at,
        "worst_moment": [_walls(moment) for moment in result.moment],
        "changed_at": result.changed_at,
        "end_moment": [_walls(moment) for moment in result.at_end],
        "pending": [_note(note) for note in result.pending],
        "flashes": result.flashes,
    }


def _comparison(one: Comparison) -> dict[str, Any]:
    return {
        "group": one.group,
        "assumptions": one.assumptions,
        "topologies": [
            {**_study(study), "extra": dict(extra)}
            for study, extra in zip(one.studies, one.extras, strict=True)
        ],
        "common": [row.name for row in one.common],
        "differences": [_difference(each) for each in one.differences],
    }


def _difference(each: Difference) -> dict[str, Any]:
    cells = [None if row is None else mark_fields(row) for row in each.rows]
    return {"fault": each.name, "topologies": cells}


def _variant(variant: Variant) -> dict[str, Any]:
    return {
        "group": variant.group,
        "label": variant.label,
        "topology": variant.topology,
        "offered": variant.offered,
    }


def _study(study: VariantStudy) -> dict[str, Any]:
    return {
        **_variant(study.variant),
        "can_be_built": study.can_be_built,
        "reasons": list(study.reasons),
        "serious_findings": [
            {"kind": f.kind, "subject": f.subject, "text": f.text, "todo": f.todo}
            for f in study.serious
        ],
        **({"modes": sorted(study.modes)} if study.modes else {}),
        "areas": dict(study.areas or {}),
        "bill": None if study.bill is None else _bill(study.bill),
        "counts": {v: study.count(v) for v in ("lasting", "blink", "unseen")},
        "latent_count": study.latent_count,
        "dark": study.dark,
        "guessed": study.guessed,
        "limits": [_verdict(verdict) for verdict in study.verdicts],
        "measure_first": [_decider(decider) for decider in study.deciders],
        "latent": [_latent(row) for row in study.latents],
        "faults": [fault_fields(row) for row in study.rows],
    }


def _bill(bill: Bill) -> dict[str, Any]:
    return {
        "units": dict(sorted(bill.kits.items())),
        "metres": {name: str(length) for name, length in sorted(bill.metres.items())},
        "crew": bill.crew,
        "price": str(bill.price),
        "without_price": list(bill.unpriced),
    }


def _limit(limit: Limit) -> dict[str, Any]:
    return {
        "label": limit.label,
        "any": limit.any,
        "state": limit.state,
        "over": str(limit.over),
        "of": limit.of,
        "time": limit.time,
        "frames": limit.frames,
        "group": limit.group,
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        **_limit(verdict.limit),
        "verdict": verdict.verdict,
        "broken_by": [strike.name for strike in verdict.breakers],
        "perhaps_by": [strike.name for strike in verdict.suspects],
    }


def _timing(timing: Timing) -> dict[str, Any]:
    return {
        "least": timing.least,
        "typical": timing.typical,
        "most": timing.most,
        "grade": timing.grade,
        "source": timing.source,
    }


def _decider(decider: Decider) -> dict[str, Any]:
    return {
        "timing": decider.key,
        **_timing(decider.timing),
        "decides": list(decider.limits),
        "bears_on": list(decider.bears),
        "faults": decider.faults,
        "doubtful": decider.doubtful,
    }


def _latent(row: LatentRow) -> dict[str, Any]:
    return {
        "fault": row.name,
        "count": row.count,
        "second": row.second,
        "alone": str(row.alone),
        "together": str(row.together),
        "together_by_state": dict(zip(STATES, texts(row.together_states), strict=True)),
    }


def _pair(row: PairRow) -> dict[str, Any]:
    return {
        "first": row.first,
        "second": row.second,
        "count": row.count,
        "alone": texts(row.alone),
        "together": str(row.together),
    }


def _note(note: Note) -> dict[str, Any]:
    return {"at": note.at, "name": note.name, "what": note.what, "detail": note.detail}


def _toll(toll: Toll) -> dict[str, Any]:
    return {
        "kind": toll.kind,
        "name": toll.name,
        "group": toll.group,
        "frames": toll.frames._asdict(),
        "worst": {state: str(part) for state, part in toll.worst.items()},
        "first": toll.first,
        "last": toll.last,
        "at_end": toll.at_end,
        "end": {state: str(part) for state, part in toll.end.items()},
    }


def _walls(moment: WallMoment) -> dict[str, Any]:
    return {"wall": moment.wall, "group": moment.group, "rows": list(moment.rows)}
