"""A stand-in for the engine, a few lines long, and how often the intervals of simulations hold.

In: masses of four hazards: two ways to a cabinet, a link for both, and one that has no part in it.
Out: the part of repeated simulations, each with a seed of its own, whose interval holds the truth
by hand. `montecarlo.sample` does all else as it does for people: a first look, boosted hazards,
shares by the balance heuristic, shows by their parts of the variance, until a precision or a budget
is reached. Its steps are made smaller (tens of shows, where intervals are hardest).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import exp
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from sim.risk import montecarlo, shows
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling
from sim.risk.shows import Blow, Show, Union
from sim.risk.single import Single
from sim.risk.streams import Floats, stream
from tests.handmade import dead

FEW = 300
"""Repeated estimates of what is shown to fail."""
BEFORE = (1.0, 0.5)
"""Dark, if the faults that it takes strike in the first part of the show, up to these."""


def dark(met: int) -> tuple[bool, ...]:
    """What the strikes of a show come to, for each of `BEFORE`. Bit 2h + k of `met`: hazard h in
    the k-th half of the show (0: the first).
    """
    ways = [[met & part << 2 * h > 0 for h in range(3)] for part in (0b11, 0b01)]
    return tuple((left and right) or both for left, right, both in ways)


DARK_OF = np.array([dark(met) for met in range(1 << 8)], dtype=float)
"""Shape (met, before)."""


class StandIn:
    """A cabinet that is dark once both ways, or the link for both, have died."""

    def __init__(self, masses: dict[str, float]) -> None:
        self.union = Union(tuple(dead(name, mass) for name, mass in masses.items()))
        self.masses = list(masses.values())
        values = tuple(SimpleNamespace(key=f"{p}", most=1.0) for p in BEFORE)
        known = {"values": values, "table": np.copy, "gauge": SimpleNamespace(size=len(BEFORE))}
        self.fields: Any = (SimpleNamespace(**known),)

    def rows(self, of: Sequence[Show]) -> Sequence[Floats]:
        """Worked out from `met` of each show."""
        halves = [2 * blow.hazard + (blow.draws[0] >= 0.5) for show in of for blow in show]
        sizes = np.array(list(map(len, of)))
        met = np.bitwise_or.reduceat(1 << np.array(halves), np.cumsum(sizes) - sizes)
        return [DARK_OF[met]]

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        nothing = Single((0.0,) * len(BEFORE), ())
        return [[nothing, nothing, Single(BEFORE, ()), nothing]]

    def truths(self) -> list[float]:
        """By hand: Poisson strikes of each, apart from each other."""
        chances = [[1 - exp(-m * part) for m in self.masses] for part in BEFORE]
        return [1 - (1 - both) * (1 - left * right) for left, right, both, _ in chances]


KNOWN = [Blow(hazard, (half,)) for hazard in range(4) for half in (0.25, 0.75)]
"""All that can strike: a hazard, in the first half of the show or in the second."""


def drawn(
    union: Union, seed: int, faults: int, count: int, boosts: Sequence[float] = (), known: int = 0
) -> list[Show]:
    """What `with_faults` draws, by the law that it has: given how many strike, each is one of the
    hazards by their (boosted) masses, in either half of the show.
    """
    masses = np.array([h.mass for h in union.hazards]) * (boosts or 1.0)
    edges = np.cumsum(np.repeat(masses, 2))
    uniform = stream(seed, faults, *boosts).random(count * faults)[known * faults :]
    which = np.searchsorted(edges / edges[-1], uniform, side="right").tolist()
    blows = [KNOWN[n] for n in which]
    return [tuple(blows[n : n + faults]) for n in range(0, len(blows), faults)]


def steps(patch: pytest.MonkeyPatch, pilot: int, counted: int, batch: int) -> None:
    """A simulation by `drawn` in steps of these sizes."""
    patch.setattr(montecarlo, "with_faults", drawn)
    patch.setattr(shows, "NEGLIGIBLE", 1e-4)
    for name, size in (("PILOT", pilot), ("COUNTED", counted), ("BATCH", batch)):
        patch.setattr(montecarlo, name, size)


Spoilt = Callable[[Sampling], Sampling]


def as_it_is(made: Sampling) -> Sampling:
    return made


def covered(
    masses: dict[str, float], effort: Effort, repeats: int, spoilt: Spoilt = as_it_is
) -> Floats:
    """For each of `BEFORE` the part of the repetitions, seeds from 0, that hold the truth."""
    work = StandIn(masses)
    truths, hits = work.truths(), np.zeros(len(BEFORE))
    for seed in range(repeats):
        made = spoilt(sample(work, replace(effort, seed=seed)))
        found = [made.estimate(0, n) for n in range(len(BEFORE))]
        hits += [one.low <= true <= one.high for one, true in zip(found, truths, strict=True)]
    return hits / repeats
