"""What nobody knows: rates and timings drawn from their ranges, and what moves the answer most.

In: a `Sampling`, what single hazards come to, the same at the ends of all timings.
Out: bands (5th and 95th percentile) for each value, `Sway`s. A rate's error factor is the 95th
percentile over the median of a lognormal law whose mean is the rate; hazards of one kind (role,
mode and cause) are known or unknown together. Shows are weighed anew, not played anew. All timings
move together from their least over typical to most, triangular.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np

from sim.reliability.quantiles import normal_quantile, normal_quantiles
from sim.risk.hazards import Hazard
from sim.risk.piles import Sampling, alone
from sim.risk.results import Sway
from sim.risk.shows import Show
from sim.risk.streams import Floats, Whole, stream

STUDIES, AT_ONCE = 10_000, 250
"""Draws of everything that nobody knows, and how many are weighed at once."""
MOST_SWAYS = 8


@dataclass(frozen=True, slots=True)
class Unknown:
    """Hazards whose rate is known or unknown together: their places, sigma of log(rate)."""

    name: str
    source: str
    places: tuple[int, ...]
    sigma: float


Kind = tuple[str, str, str]


def kind_of(hazard: Hazard) -> Kind:
    """Role, mode and cause: what tells one risk from another in a report."""
    first = hazard.strikes[0] if hazard.strikes else None
    if first is None or hazard.cause == "shared cause":
        return hazard.key, "", hazard.cause
    return first.role, first.mode, hazard.cause


def by_kind(hazards: Sequence[Hazard]) -> dict[Kind, list[int]]:
    """The places of the hazards of each kind, in order."""
    found: dict[Kind, list[int]] = {}
    for place, hazard in enumerate(hazards):
        found.setdefault(kind_of(hazard), []).append(place)
    return found


def name_of_kind(kind: Kind) -> str:
    """Role and mode, as a report names them."""
    return " ".join(part for part in kind[:2] if part)


def unknowns(hazards: Sequence[Hazard]) -> tuple[Unknown, ...]:
    """All kinds of hazards, in order, with how little is known of their rates."""
    return tuple(
        Unknown(
            name=f"{name_of_kind(kind)} ({kind[2]})",
            source=hazards[places[0]].source,
            places=tuple(places),
            sigma=log(max(hazards[places[0]].error_factor, 1.0)) / normal_quantile(0.95),
        )
        for kind, places in by_kind(hazards).items()
    )


def factors(of: Sequence[Unknown], hazards: int, seed: int) -> Floats:
    """Shape (studies, hazards): by what each rate is multiplied; of each kind once from each of so
    many equal parts of its law (a Latin hypercube: McKay, Beckman, Conover 1979, from memory).
    """
    found = np.ones((STUDIES, hazards))
    for unknown in of:
        drawn: Floats = normal_quantiles(_spread(stream(seed, "ignorance", unknown.name)))
        found[:, unknown.places] = np.exp(unknown.sigma * drawn - unknown.sigma**2 / 2)[:, None]
    return found


def _spread(draw: np.random.Generator) -> Floats:
    """Uniform numbers, one from each of `STUDIES` equal parts, in an order of their own."""
    found: Floats = (draw.permutation(STUDIES) + draw.random(STUDIES)) / STUDIES
    return found


def reweighed(of: Sampling, topology: int, by: Floats) -> Floats:
    """Shape (studies, values): every value with the rates multiplied so, shows as they were."""
    masses = np.array([hazard.mass for hazard in of.union.hazards])
    found: Floats = (by * masses) @ alone(of, topology)
    more = np.exp(masses.sum() - by @ masses)
    padded = np.concatenate([by, np.ones((len(by), 1))], axis=1)
    for pile in (each for each in of.piles if each.faults > 1):
        places = _places(pile.shows, by.shape[1])
        table = pile.tables[topology]
        busy = np.flatnonzero(table.any(axis=1))
        if not len(busy):
            continue
        parts, where = table[busy] * (pile.shares[busy] * pile.weight)[:, None], places[busy]
        for begin in range(0, len(by), AT_ONCE):
            some = slice(begin, begin + AT_ONCE)
            weights = padded[some][:, where[:, 0]]
            for faults in range(1, where.shape[1]):
                weights *= padded[some][:, where[:, faults]]
            found[some] += more[some, None] * (weights @ parts)
    return found


def _places(shows: Sequence[Show], none: int) -> Whole:
    """The hazards of each show, one line for each, filled up with `none`."""
    longest = max(map(len, shows))
    return np.array(
        [[*(b.hazard for b in show), *[none] * (longest - len(show))] for show in shows]
    )


def bands(
    of: Sampling, topology: int, ends: tuple[Floats, Floats] | None = None
) -> list[tuple[float, float]]:
    """The band of each value. `ends`: values with all timings at their least and at their most."""
    kinds = unknowns(of.union.hazards)
    drawn = reweighed(of, topology, factors(kinds, len(of.union.hazards), of.seed))
    if ends is not None:
        typical = reweighed(of, topology, np.ones((1, len(of.union.hazards))))[0]
        u = _spread(stream(of.seed, "ignorance of timings"))[:, None]
        where = np.where(u < 0.5, np.sqrt(2 * u) - 1, 1 - np.sqrt(2 - 2 * u))  # triangular, -1 to 1
        less, more = ends[0] - typical, ends[1] - typical
        drawn = drawn + np.where(where < 0, -where * less, where * more)
    low, high = np.percentile(np.maximum(drawn, 0.0), [5, 95], axis=0)
    tops = [value.most for value in of.fields[topology].values]
    pairs = zip(low.tolist(), high.tolist(), tops, strict=True)
    return [(a, min(b, top)) for a, b, top in pairs]


def sways(
    of: Sampling, topology: int, value: int, ends: tuple[Floats, Floats] | None = None
) -> tuple[Sway, ...]:
    """What moves one value most, each input by itself from its 5th to its 95th percentile."""
    kinds = unknowns(of.union.hazards)
    count = len(of.union.hazards)
    by = np.ones((2 * len(kinds), count))
    edge = normal_quantile(0.95)
    for number, kind in enumerate(kinds):
        for place, sign in ((2 * number, -1), (2 * number + 1, 1)):
            by[place, kind.places] = exp(sign * edge * kind.sigma - kind.sigma**2 / 2)
    moved = reweighed(of, topology, by)[:, value].tolist()
    found = [
        Sway(kind.name, kind.source, moved[2 * n], moved[2 * n + 1]) for n, kind in enumerate(kinds)
    ]
    if ends is not None:
        low, high = sorted((float(ends[0][value]), float(ends[1][value])))
        found.append(Sway("all timings, least to most", "ranges of the scenario", low, high))
    found.sort(key=lambda sway: (-(sway.high - sway.low), sway.name))
    return tuple(sway for sway in found[:MOST_SWAYS] if sway.high > sway.low)


def guessed(of: Sampling, topology: int) -> list[float]:
    """The part of each value that rests on placeholders, by what single hazards do; all of it where
    these do nothing by themselves and some of them are placeholders.
    """
    masses = np.array([hazard.mass for hazard in of.union.hazards])
    of_each = masses[:, None] * alone(of, topology)
    guesses = np.array([hazard.guessed for hazard in of.union.hazards])
    whole, part = of_each.sum(axis=0), of_each[guesses].sum(axis=0)
    unseen = np.full_like(part, float(guesses.any()))
    found = np.divide(part, whole, out=unseen, where=whole > 0)
    return [float(each) for each in found]
