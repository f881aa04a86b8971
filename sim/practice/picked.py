"""Which pulls a test sheet asks for: as few as make every protection act, whatever the timings.

In: a `Bench`. Out: a frozen `Picked`: pulls with the protections that each makes act at all three
corners of the timings, and how many pulls are needed at least.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sim.practice.proof_cover import cover
from sim.practice.protections import Protection
from sim.practice.pulls import Bench, Pull, pulls

OTHERS = ("all-least", "all-most")


@dataclass(frozen=True, slots=True)
class Picked:
    """`perhaps`: protections that no single pull makes act for certain, and some at typical timings
    (a unit that changes its reference over at once need not hold over); `apart`: protections of
    which no pull makes two act, so that as many pulls are needed; `bound`: pulls needed at least;
    `searched`: no smaller choice was left untried; `out`: what no single pull makes act.
    """

    tests: tuple[tuple[Pull, frozenset[Protection]], ...]
    perhaps: tuple[Protection, ...]
    apart: tuple[Protection, ...]
    bound: int
    searched: bool
    out: tuple[Protection, ...]


def picked(bench: Bench, wanted: Callable[[Protection], bool] = lambda each: True) -> Picked:
    """The fewest pulls for all protections that are wanted; of equally many the safest ones.

    What a pull does at typical timings is taken first; what is chosen is played at the corners too,
    and chosen anew without what it does not do there.
    """
    every = pulls(bench.rig)
    meant = frozenset(filter(wanted, bench.protections))
    typical = [bench.acts(pull) & meant for pull in every]
    acts, sure, perhaps = list(typical), set[int](), frozenset[Protection]()
    whole = _all(typical)
    while True:
        made = cover(acts, [pull.rank for pull in every])
        fresh = [number for number in made.chosen if number not in sure]
        if not fresh:
            break
        for number in fresh:
            acts[number] = _certain(bench, every[number], acts[number]) | acts[number] & perhaps
        sure.update(fresh)
        perhaps |= whole - _all(acts)
        acts = [of | did & perhaps for of, did in zip(acts, typical, strict=True)]
    return Picked(
        tests=tuple((every[number], acts[number]) for number in made.chosen),
        perhaps=tuple(p for p in bench.protections if p in perhaps),
        apart=tuple(p for p in bench.protections if p in made.apart),
        bound=made.bound,
        searched=made.searched,
        out=tuple(p for p in bench.protections if p in meant - whole),
    )


def _all(acts: Iterable[frozenset[Protection]]) -> frozenset[Protection]:
    return frozenset[Protection]().union(*acts)


def _certain(bench: Bench, pull: Pull, acts: frozenset[Protection]) -> frozenset[Protection]:
    for which in OTHERS:
        acts &= bench.acts(pull, which)
    return acts
