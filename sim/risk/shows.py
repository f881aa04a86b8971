"""Shows that strike every topology alike: drawn by how many faults they have.

In: the hazards of all topologies, a seed. Out: frozen `Show`s. The hazards of a group of topologies
are taken together (`Union`); how many of them strike in a show is its stratum, with its exact
Poisson probability. Within a stratum shows are those of the hazards' own streams that have so many
strikes, with all streams running faster so that there are enough of them: given their number, which
hazards strike and when does not depend on the pace.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import exp, fsum, lgamma, log

import numpy as np

from sim.risk.hazards import Hazard
from sim.risk.streams import Floats, Whole, arrivals, one_by_one

NEGLIGIBLE = 1e-6
"""Strata of many faults that all together are less than this part of all that have several are only
bounded.
"""
Name = tuple[str, float]
"""What makes a hazard the same in two topologies: its key and its mass."""


@dataclass(frozen=True, slots=True)
class Blow:
    """One strike in a show: the hazard's number in the union, its uniform draws."""

    hazard: int
    draws: tuple[float, ...]


Show = tuple[Blow, ...]


@dataclass(frozen=True, slots=True)
class Union:
    """All hazards of some topologies, each once; `mass`: mean number of strikes in a show."""

    hazards: tuple[Hazard, ...]
    mass: float = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "mass", fsum(hazard.mass for hazard in self.hazards))

    def chance(self, faults: int) -> float:
        """The probability of so many strikes in a show."""
        return poisson(faults, self.mass)

    @property
    def most(self) -> int:
        """The greatest number of faults that is worked out."""
        number, several = 2, beyond(1, self.mass)
        while beyond(number, self.mass) > NEGLIGIBLE * several:
            number += 1
        return number


def poisson(number: int, mean: float) -> float:
    """The probability of `number` where `mean` are expected."""
    return exp(number * log(mean) - mean - lgamma(number + 1)) if mean else float(number == 0)


@lru_cache(maxsize=1024)
def beyond(number: int, mean: float) -> float:
    """The probability of more than `number`: its terms added up, the smallest first."""
    last = number + int(10 * mean**0.5) + 40 + int(mean)
    return fsum(poisson(n, mean) for n in range(last, number, -1))


def name_of(hazard: Hazard) -> Name:
    return hazard.key, hazard.mass


def union_of(lists: Iterable[Sequence[Hazard]]) -> Union:
    """All hazards of several topologies, in the order in which they are first met."""
    found: dict[Name, Hazard] = {}
    for hazards in lists:
        for hazard in hazards:
            found.setdefault(name_of(hazard), hazard)
    return Union(tuple(found.values()))


def natural(
    union: Union, seed: int, shows: int, pace: float = 1.0, label: str = "plain"
) -> list[Show]:
    """The shows that have at least one fault, of so many shows as they come."""
    paces = [pace] * len(union.hazards)
    if not union.hazards:
        return []
    return [show for _, show in _grouped(*_drawn(union, seed, shows, paces, label))]


def struck(union: Union, seed: int, count: int) -> list[Show]:
    """The first `count` shows with any fault; more of them begin with these."""
    tries = count
    while len(found := natural(union, seed, tries)) < count:
        tries += count
    return found[:count]


def with_faults(
    union: Union, seed: int, faults: int, count: int, boosts: Sequence[float] = (), known: int = 0
) -> list[Show]:
    """The first `count` shows with exactly so many faults, but for the `known` first of them; more
    of them begin with these.

    `boosts`: for each hazard how many times likelier it strikes than it does; () once for all.
    """
    weights = boosts or [1.0] * len(union.hazards)
    mass = _boosted(union, weights)
    paces = [faults / mass * boost for boost in weights]
    label = f"{faults} faults" + (" boosted" if boosts else "")
    tries = int(count / poisson(faults, float(faults)) * 1.1) + 50
    while True:
        of, which, draws = _drawn(union, seed, tries, paces, label)
        kept = np.flatnonzero((np.bincount(of) == faults)[of])
        if len(kept) >= count * faults:
            kept = kept[known * faults : count * faults]
            return [show for _, show in _grouped(of[kept], which[kept], draws[kept])]
        tries *= 2


def likelier(union: Union, boosts: Sequence[float], faults: int, shows: Sequence[Show]) -> Floats:
    """How many times likelier each of these shows of so many faults is with boosted hazards, among
    shows of as many.
    """
    each = np.array(boosts) * (union.mass / _boosted(union, boosts))
    struck = np.array([blow.hazard for show in shows for blow in show], dtype=np.int64)
    found = np.ones(len(shows))
    for column in each[struck].reshape(-1, faults).T:  # factor by factor, in their order
        found *= column
    return found


def _boosted(union: Union, boosts: Sequence[float]) -> float:
    return fsum(h.mass * boost for h, boost in zip(union.hazards, boosts, strict=True))


def _drawn(
    union: Union, seed: int, shows: int, paces: Sequence[float], label: str
) -> tuple[Whole, Whole, Floats]:
    """Of every strike in so many shows, in their order: the number of the show, the hazard, what
    was drawn.
    """
    numbers, hazards, draws, stream = [], [], [], one_by_one()
    for place, (hazard, pace) in enumerate(zip(union.hazards, paces, strict=True)):
        name = f"{label}\x1e{hazard.key}\x1e{hazard.mass!r}"
        found = arrivals(seed, name, hazard.mass, shows, pace, stream)
        numbers.append(found.shows)
        hazards.append(np.full(len(found.shows), place))
        draws.append(found.draws)
    of = np.concatenate(numbers)
    order = np.argsort(of, kind="stable")
    return of[order], np.concatenate(hazards)[order], np.concatenate(draws)[order]


def _grouped(numbers: Whole, hazards: Whole, draws: Floats) -> Iterator[tuple[int, Show]]:
    """Number and strikes of every show that is struck, in order."""
    of, which, uniform = numbers.tolist(), hazards.tolist(), draws.tolist()
    begin = 0
    for place in range(1, len(of) + 1):
        if place == len(of) or of[place] != of[begin]:
            show = tuple(Blow(which[n], tuple(uniform[n])) for n in range(begin, place))
            yield of[begin], show
            begin = place
