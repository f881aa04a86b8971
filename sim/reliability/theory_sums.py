"""From what each blow and each pair does to the dark time of a show, and what is left out at most.

In: struck blows, kinds of blows by cabinet (masses: mean numbers per show). Out: pixel-flicks.
Integrals over the show are Simpson's, of functions that are smooth but for blinks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from math import exp, expm1
from typing import NamedTuple

from sim.reliability.theory_blows import Struck
from sim.reliability.theory_cells import Screen, spans
from sim.reliability.theory_pairs import Cabinets, Kind, weight
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_steps import Steps, value_at

PARTS = 64
"""Intervals of a show for what single faults overlap."""
CHANGES = 20
FEW = 16
"""The same for chances of three faults, where a per cent does not matter."""


def simpson(of: Callable[[float], float], parts: int) -> float:
    """The mean of a function over 0 to 1; `parts` is even. (Simpson's rule, exact for cubics.)"""
    inner = sum(of(k / parts) * (4 if k % 2 else 2) for k in range(1, parts))
    return (of(0.0) + inner + of(1.0)) / (3 * parts)


# ---- single faults, overlapping -----------------------------------------------------------------


def overlap_of(on: Calculus, screen: Screen, hits: Sequence[Struck]) -> float:
    """Dark pixel-flicks that the sum over single faults counts twice or more.

    The faults that hold a cell dark at t are a Poisson number: each strikes at any time alike, and
    so many as strike at the right distance hold it dark. With mean N(t) it is dark with chance
    1 - exp(-N(t)), while the sum counts N(t).
    """
    length = on.rig.length
    held: dict[int, dict[tuple[int, bool], float]] = defaultdict(lambda: defaultdict(float))
    for hit in hits:
        for patch, line in hit.dark.items():
            held[patch][line, hit.blow.early] += hit.blow.mass
    curve = _Curves(on)
    found: dict[tuple[object, ...], float] = {}
    total = 0.0
    for patch, masses in held.items():
        key = tuple(sorted(masses.items()))
        if key not in found:
            found[key] = _overlap([(mass, curve.of(*line)) for line, mass in masses.items()])
        total += screen.areas[patch].pixels * found[key] * length
    return total


def _overlap(held: Sequence[tuple[float, Sequence[float]]]) -> float:
    """The mean over a show of N + exp(-N) - 1."""
    means = [sum(mass * curve[k] for mass, curve in held) for k in range(PARTS + 1)]
    return simpson(lambda at: _twice(means[round(at * PARTS)]), PARTS)


def _twice(mean: float) -> float:
    return mean + expm1(-mean)


class _Curves:
    """For each line how much of a strike at any time before t, alike, holds it dark at t."""

    def __init__(self, on: Calculus) -> None:
        self.on = on
        self.known: dict[tuple[int, bool], tuple[float, ...]] = {}

    def of(self, line: int, early: bool) -> tuple[float, ...]:
        if (line, early) not in self.known:
            steps, length = self.on.steps[line], self.on.rig.length
            times = [length * k // PARTS for k in range(PARTS + 1)]
            mean = [float(value_at(steps, t)) if early else _until(steps, t) / length
                    for t in times]  # fmt: skip
            self.known[line, early] = tuple(mean)
        return self.known[line, early]


def _until(line: Steps, at: int) -> int:
    """Dark flicks within so many after the strike."""
    return sum((b - a) * times for a, b, times, _ in spans(line, at)) if at else 0


# ---- pairs, and what is left --------------------------------------------------------------------


class Order(NamedTuple):
    """What pairs add to single faults (pixel-flicks), and what is left out at most."""

    dark: float
    bound: float


def worth_of(on: Calculus) -> Callable[[int, int], tuple[float, float]]:
    """What a line of steps is worth in a pair, signed and in size, worked out once for each."""

    @cache
    def worth(line: int, early: int) -> tuple[float, float]:
        signed, size = weight(on.steps[line], on.rig.length, early)
        return float(signed), float(size)

    return worth


def second_order(on: Calculus, screen: Screen, cabinets: Cabinets) -> Order:
    """All pairs of kinds, cabinet by cabinet.

    The bound adds up: three kinds or more (then the whole cabinet may be dark, or not); pairs while
    anything else has struck too, twice; a second fault while the first has not settled; what lost
    frames may hide, at up to `CHANGES` changes that another fault brings.
    """
    length, worth = on.rig.length, worth_of(on)
    dark = bound = 0.0
    for cabinet, kinds in cabinets.kinds.items():
        pixels = pixels_of(screen, cabinet)
        more, size, again = pairs_of(cabinets, cabinet, pixels, worth)
        others = -expm1(-sum(kind.mass for kind in kinds))
        rest = length * _three(kinds, again) + soon(kinds, length)
        rest += cabinets.lost * others * CHANGES
        dark += more
        bound += sum(pixels.values()) * rest + 2 * size * others
    return Order(dark, bound)


def first_bound(screen: Screen, cabinets: Cabinets, length: int) -> float:
    """What pairs and more can change at most, pixel-flicks: all of a cabinet where two strike."""
    total = 0.0
    for cabinet, kinds in cabinets.kinds.items():
        mean = [sum(k.mass for k in kinds if k.early is early) for early in (False, True)]
        two = simpson(lambda at, m=mean: _two_or_more(m[0] * at + m[1]), FEW)  # type: ignore[misc]
        total += sum(pixels_of(screen, cabinet).values()) * two * length
    return total


def _two_or_more(mean: float) -> float:
    return -expm1(-mean) - mean * exp(-mean)


def pixels_of(screen: Screen, cabinet: str) -> dict[int, int]:
    """Pixels of a cabinet by the number of their stack."""
    pixels: dict[int, int] = defaultdict(int)
    for patch in screen.patches[cabinet]:
        pixels[screen.areas[patch].stack] += screen.areas[patch].pixels
    return dict(pixels)


def pairs_of(
    cabinets: Cabinets, cabinet: str, pixels: Mapping[int, int],
    worth: Callable[[int, int], tuple[float, float]],
) -> tuple[float, float, set[int]]:  # fmt: skip
    """What pairs add on a cabinet, the same regardless of sign, and the kinds that add to
    themselves.
    """
    more = size = 0.0
    again: set[int] = set()
    for first, second, mores in cabinets.of(cabinet):
        chance = first.mass * second.mass
        early = first.early + second.early
        if first is second:
            again.add(id(first))
            chance /= 2 if early == 2 else 1
        for stack, (line, _) in mores.items():
            if stack in pixels:
                signed, whole = worth(line, early)
                more += pixels[stack] * chance * signed
                size += pixels[stack] * chance * whole
    return more, size, again


def _three(kinds: Sequence[Kind], again: set[int]) -> float:
    """The mean over a show of the chance that three kinds or more have struck.

    A kind that a second of its own makes darker counts as two; kinds of which the last one undoes
    the others, none dark by itself, count as one.
    """
    masses: dict[object, float] = defaultdict(float)
    for kind in kinds:
        masses[kind.early, kind.key if id(kind) in again else kind.family] += kind.mass
        if id(kind) in again:
            masses[kind.early, kind.key, "again"] += kind.mass
    counted = [(mass, key[0]) for key, mass in masses.items()]  # type: ignore[index]

    def chance(at: float) -> float:
        return three_or_more([-expm1(-mass * (1 if early else at)) for mass, early in counted])

    return simpson(chance, FEW)


def three_or_more(chances: Sequence[float]) -> float:
    """The chance that at least three of some independent things are so; all terms positive."""
    none, one, two, more = 1.0, 0.0, 0.0, 0.0
    for q in chances:
        more += two * q
        two += (one - two) * q
        one += (none - one) * q
        none -= none * q
    return more


def soon(kinds: Sequence[Kind], length: int) -> float:
    """Flicks: pairs of which the second strikes before the first has settled, all dark from then.

    Of two that strike at any time alike the second comes within s of the first, and is followed by
    half a show, in the mean s / 2 of a show's length for each unit of both masses.
    """
    total = 0.0
    for first in kinds:
        beside = sum(kind.mass for kind in kinds if kind.bits & first.bits)
        part = 1.0 if first.early else 0.5
        total += first.mass * beside * min(first.settled, length) * part
    return total
