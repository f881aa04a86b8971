"""Which unknown timing to measure first, because it decides whether a limit is met.

In: a `Laboratory`, the verdicts on limits, the outcomes. Out: frozen `Decider`s. For a limit that
is perhaps met, each timing with a range is put to its least and to its most, all others typical;
it decides if the limit is met at one end by every fault in doubt and broken at the other by some;
it bears on the limit if only some of the faults in doubt turn with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sim.rig.topology import corner
from sim.study.contingency import distinct
from sim.study.effects import Effect
from sim.study.laboratory import Laboratory
from sim.study.outcome import Outcome
from sim.study.promises import PERHAPS, Verdict, broken
from sim.timebase import Timing


@dataclass(frozen=True, slots=True)
class Decider:
    """A timing (its key and range), the limits (labels) that it decides alone, and those on which
    it only bears; of `doubtful` faults, `faults` turn from kept to broken with it.
    """

    key: str
    timing: Timing
    limits: tuple[str, ...]
    bears: tuple[str, ...]
    faults: int
    doubtful: int


def deciders(
    laboratory: Laboratory, judged: Iterable[Verdict], outcomes: Sequence[Outcome]
) -> tuple[Decider, ...]:
    """The timings that matter, those that decide most limits first, then most faults."""
    by_name = {outcome.strike.name: outcome for outcome in outcomes}
    found: dict[str, Decider] = {}
    for verdict in judged:
        if verdict.verdict == PERHAPS:
            doubtful = distinct(laboratory, [by_name[s.name] for s in verdict.suspects])
            for key in _ranged(laboratory, doubtful):
                _weigh(laboratory, verdict, doubtful, key, found)
    return tuple(sorted(found.values(), key=lambda d: (-len(d.limits), -d.faults, d.key)))


def _weigh(
    laboratory: Laboratory,
    verdict: Verdict,
    doubtful: Sequence[Outcome],
    key: str,
    found: dict[str, Decider],
) -> None:
    """Add what this timing does to this limit."""
    least, most = (
        [broken(verdict.limit, laboratory.canvas, _at(laboratory, o, key, which)) for o in doubtful]
        for which in ends(laboratory, key)
    )
    turning = sum(a != b for a, b in zip(least, most, strict=True))
    if not turning:
        return
    before = found.get(key, Decider(key, laboratory.rig.timings[key], (), (), 0, 0))
    alone = any(least) != any(most)
    label = (verdict.limit.label,)
    found[key] = Decider(
        key,
        before.timing,
        before.limits + label if alone else before.limits,
        before.bears if alone else before.bears + label,
        before.faults + turning,
        before.doubtful + len(doubtful),
    )


def _at(laboratory: Laboratory, outcome: Outcome, key: str, which: str) -> Effect:
    """The effect with this timing at an end: where it sets no timer, the typical one."""
    if key not in outcome.typical.used:
        return outcome.typical
    return laboratory.effect(outcome.strike.faults, which)


def _ranged(laboratory: Laboratory, outcomes: Iterable[Outcome]) -> list[str]:
    used = {key for outcome in outcomes for e in outcome.distinct for key in e.used}
    timings = laboratory.rig.timings
    return sorted(k for k in used if timings[k].least != timings[k].most)


def ends(laboratory: Laboratory, key: str) -> tuple[str, str]:
    """Two further choices of timings: this one at its ends, all others typical."""
    timing = laboratory.rig.timings[key]
    typical = corner(laboratory.rig, "typical")
    names = (f"{key} at its least", f"{key} at its most")
    for name, value in zip(names, (timing.least, timing.most), strict=True):
        laboratory.add_corner(name, {**typical, key: value})
    return names
