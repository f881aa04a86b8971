"""Which unknown timing to measure first, because it decides whether a limit is met.

In: a `Laboratory`, the verdicts on limits, the outcomes. Out: frozen `Decider`s. For a limit that
is perhaps met, each timing with a range is put to its least and to its most, all others typical;
it decides if the limit is met at one end by every fault in doubt and broken at the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sim.rig.topology import corner
from sim.study.laboratory import Laboratory
from sim.study.outcome import Outcome
from sim.study.promises import PERHAPS, Verdict, broken
from sim.timebase import Timing


@dataclass(frozen=True, slots=True)
class Decider:
    """A timing (its key and range) whose ends decide these limits (their labels), and for how many
    faults.
    """

    key: str
    timing: Timing
    limits: tuple[str, ...]
    faults: int


def deciders(
    laboratory: Laboratory, judged: Iterable[Verdict], outcomes: Sequence[Outcome]
) -> tuple[Decider, ...]:
    """The timings that decide, those that decide most faults first."""
    by_name = {outcome.strike.name: outcome for outcome in outcomes}
    decided: dict[str, dict[str, int]] = {}
    for verdict in judged:
        if verdict.verdict != PERHAPS:
            continue
        doubtful = _distinct(laboratory, [by_name[s.name] for s in verdict.suspects])
        for key in _ranged(laboratory, doubtful):
            count = sum(_turns(laboratory, verdict, outcome, key) for outcome in doubtful)
            if count:
                decided.setdefault(key, {})[verdict.limit.label] = count
    timings = laboratory.rig.timings
    made = [Decider(k, timings[k], tuple(of), sum(of.values())) for k, of in decided.items()]
    return tuple(sorted(made, key=lambda d: (-len(d.limits), -d.faults, d.key)))


def _distinct(laboratory: Laboratory, outcomes: Iterable[Outcome]) -> list[Outcome]:
    first: dict[object, Outcome] = {}
    for outcome in outcomes:
        strike = outcome.strike
        alike = laboratory.part(strike).signature, strike.mode, strike.detail
        first.setdefault(alike, outcome)
    return list(first.values())


def _ranged(laboratory: Laboratory, outcomes: Iterable[Outcome]) -> list[str]:
    used = {key for outcome in outcomes for e in outcome.distinct for key in e.used}
    timings = laboratory.rig.timings
    return sorted(k for k in used if timings[k].least != timings[k].most)


def _turns(laboratory: Laboratory, verdict: Verdict, outcome: Outcome, key: str) -> bool:
    ends = [
        broken(verdict.limit, laboratory.canvas, laboratory.effect(outcome.strike.faults, which))
        for which in _ends(laboratory, key)
    ]
    return ends[0] != ends[1]


def _ends(laboratory: Laboratory, key: str) -> tuple[str, str]:
    """Two further choices of timings: this one at its ends, all others typical."""
    timing = laboratory.rig.timings[key]
    typical = corner(laboratory.rig, "typical")
    names = (f"{key} at its least", f"{key} at its most")
    for name, value in zip(names, (timing.least, timing.most), strict=True):
        laboratory.add_corner(name, {**typical, key: value})
    return names
