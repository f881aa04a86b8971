"""Piles of shows: made by working them out, or from what is known of single hazards and pairs.

In: who works shows out (`Work`), shows, a seed. Out: frozen `Pile`s.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Protocol

import numpy as np

from sim.risk.field import Field
from sim.risk.pairs import in_order, pairs_of, shows_of
from sim.risk.piles import ANY, EACH_ONE, EACH_TWO, EXACT, Pile
from sim.risk.shows import Blow, Show, Union, beyond, poisson
from sim.risk.single import Single
from sim.risk.streams import DRAWS, Floats, stream

EACH_PAIR, EACH_HAZARD, LEAST_HAZARD = 2, 32, 4
"""Shows of each pair at least, of each hazard that has no closed form, of each of these where few
shows were asked for.
"""


class Work(Protocol):
    """Who works shows out, in one process or several; always in the topologies' order."""

    @property
    def fields(self) -> tuple[Field, ...]:
        """The topologies."""

    @property
    def union(self) -> Union:
        """Their hazards."""

    def rows(self, shows: Sequence[Show]) -> Sequence[Floats]:
        """The rows of these shows, for every topology."""

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        """What every hazard of the union comes to by itself, where that has a closed form."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """Shows of a pile with their shares, before they are worked out."""

    faults: int
    method: str
    shows: Sequence[Show]
    shares: Sequence[float]
    groups: Sequence[int] = ()


def piled(work: Work, of: Drawn) -> Pile:
    """The shows worked out, and each of their faults alone."""
    apart = [(blow,) for show in of.shows for blow in show] if of.faults > 1 else []
    found = work.rows([*of.shows, *apart])
    count = len(of.shows)
    rows, singles = tuple(r[:count] for r in found), tuple(r[count:] for r in found)
    begins = np.cumsum([0, *map(len, of.shows[:-1])])
    tables = []
    for field, together, alone in zip(work.fields, rows, singles, strict=True):
        values = field.table(together)
        if of.faults > 1:
            values -= np.add.reduceat(field.table(alone), begins)
        tables.append(values)
    mass = work.union.mass
    chance = beyond(0, mass) if of.faults == ANY else poisson(of.faults, mass)
    shares, groups = np.array(of.shares), tuple(of.groups)
    shows = tuple(of.shows)
    return Pile(
        of.faults, chance, chance, of.method, shows, shares, rows, singles, tuple(tables), groups
    )


def joined(old: Pile, fresh: Pile) -> Pile:
    """The shows of both, those known before first."""
    return replace(
        old,
        shows=(*old.shows, *fresh.shows),
        rows=_after(old.rows, fresh.rows),
        singles=_after(old.singles, fresh.singles),
        tables=_after(old.tables, fresh.tables),
    )


def _after(old: tuple[Floats, ...], fresh: tuple[Floats, ...]) -> tuple[Floats, ...]:
    return tuple(np.concatenate(pair) for pair in zip(old, fresh, strict=True))


Exacts = tuple[tuple[Single | None, ...], ...]


def ones(work: Work, seed: int, found: Exacts, most: float = inf) -> Iterator[Pile]:
    """Every hazard by itself: exactly, or at strike times spread evenly over the show. `most`:
    shows for these, if that leaves at least `LEAST_HAZARD` for each.
    """
    numbers = range(len(work.union.hazards))
    known = [n for n in numbers if all(each[n] is not None for each in found)]
    others = sorted(set(numbers) - set(known))
    if known:
        yield _known(work, found, known)
    if others:
        count = int(min(max(most / len(others), LEAST_HAZARD), EACH_HAZARD))
        yield _each(work, seed, others, count)


def _known(work: Work, found: Exacts, known: Sequence[int]) -> Pile:
    union = work.union
    masses = np.array([union.hazards[n].mass for n in known])
    means = [[single.means for n in known if (single := each[n]) is not None] for each in found]
    rows = tuple(np.zeros((len(known), field.gauge.size)) for field in work.fields)
    shows = tuple((Blow(n, ()),) for n in known)
    weight = float(masses.sum())
    chance = weight / union.mass * poisson(1, union.mass)
    tables = tuple(np.array(of) for of in means)
    return Pile(1, chance, weight, EXACT, shows, masses / weight, rows, rows, tables)


def _each(work: Work, seed: int, others: Sequence[int], count: int) -> Pile:
    """One strike in each of so many parts of the show; how they vary is told by neighbours."""
    shows, shares = [], []
    mass = sum(work.union.hazards[n].mass for n in others)
    for number in others:
        hazard = work.union.hazards[number]
        draws = stream(seed, "one", hazard.key, repr(hazard.mass)).random((count, DRAWS))
        draws[:, 0] = (np.arange(count) + draws[:, 0]) / count
        shows += [(Blow(number, tuple(row)),) for row in draws.tolist()]
        shares += [hazard.mass / mass / count] * count
    groups = [count] * len(others)
    made = piled(work, Drawn(1, EACH_ONE, shows, shares, groups))
    return replace(made, chance=made.chance * mass / work.union.mass, weight=mass)


def twos(work: Work, seed: int, old: Pile | None, more: int) -> Pile:
    """Every pair of hazards by itself; a hazard with itself counts half. Of so many shows more each
    pair has as many at first, at least two; later half go to the pairs by their parts and half to
    all alike, or rare pairs would stay unknown.
    """
    pairs, parts = pairs_of(work.union)
    known = np.array(old.groups) if old else np.zeros(len(pairs), dtype=int)
    if old:
        wanted = [(part + 1 / len(pairs)) / 2 for part in parts]
        edges = np.floor(np.cumsum([0.0, *wanted]) * more + 0.5)
        sizes = known + np.diff(edges).astype(int)
    else:
        sizes = known + max(more // len(pairs), EACH_PAIR)
    shows = [
        show
        for pair, have, size in zip(pairs, known.tolist(), sizes.tolist(), strict=True)
        if have < size
        for show in shows_of(work.union, seed, pair, size, have)
    ]
    shares = np.repeat(np.array(parts) / sizes, sizes)
    drawn = Drawn(2, EACH_TWO, shows, [1.0] * len(shows))
    order = np.argsort(
        np.concatenate([np.repeat(range(len(pairs)), n) for n in (known, sizes - known)]),
        kind="stable",
    )
    fresh = piled(work, drawn)
    made = joined(old, fresh) if old else fresh
    return replace(in_order(made, order), shares=shares, groups=tuple(sizes.tolist()))
