"""The simulation: shows by their number of faults, worked out until they are precise enough.

In: topologies (`Field`s) with the `Union` of their hazards, a seed, a budget of shows. Out: frozen
`Sampling`s. What single faults do is summed over all hazards, exactly where that has a closed form:
as hazards strike independently, that sum is the mean over all shows of what their faults do one by
one. What is sampled is what several faults in one show do beyond it: few enough pairs one by one,
the rest as many shows of each number of faults as its part of the variance asks for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from sim.risk.field import Field
from sim.risk.piles import EACH_ONE, EACH_TWO, EXACT, SAMPLED, Pile, Sampling
from sim.risk.shows import Blow, Show, Union, beyond, poisson, with_faults
from sim.risk.single import Single
from sim.risk.streams import DRAWS, Floats, Whole, stream

PILOT = 100
"""Shows of each stratum before anything is known of its variance."""
BATCH = 1000
FEW_PAIRS = 12_000
"""Up to so many pairs of hazards each is taken by itself."""
EACH_PAIR = 2
EACH_HAZARD = 32
"""Shows of each pair at least, and of each hazard that has no closed form."""


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
class Effort:
    """How far to go: a budget of shows, the standard error wanted as a part of each value."""

    seed: int = 1
    budget: int = 20_000
    precision: float = 0.01


Told = Callable[[Sampling], None]


def sample(work: Work, effort: Effort, told: Told = lambda made: None) -> Sampling:
    """Work shows out until every value of every topology has a standard error of `precision` of
    it, or the budget is used up. An interruption ends it early; what was done so far counts.
    """
    mass, most = work.union.mass, work.union.most
    found = tuple(tuple(each) for each in work.exacts())
    piles = _ones(work, effort.seed, found)
    left = beyond(1, mass)
    made = Sampling(work.union, work.fields, tuple(piles), left, found, effort.seed, finished=False)
    sampled = range(2, most + 1)
    more = dict.fromkeys(sampled, PILOT)
    try:
        while more:
            later = [_grown(work, effort.seed, made, faults, more) for faults in sampled]
            made = replace(made, piles=(*piles, *later), rest=beyond(most, mass))
            told(made)
            more = _wanted(made, effort)
    except KeyboardInterrupt:
        return made
    return replace(made, finished=True)


def _wanted(made: Sampling, effort: Effort) -> dict[int, int]:
    """How many more shows of which number of faults, by their parts of the variance."""
    left = effort.budget - made.shows
    sampled = [pile for pile in made.piles if pile.faults > 1]
    need = {pile.faults: _need(made, pile, effort.precision) for pile in sampled}
    total = sum(need.values())
    if left <= 0 or not total:
        return {}
    batch = min(left, max(BATCH, made.shows // 2))
    shares = {faults: int(batch * part / total) for faults, part in need.items()}
    return {faults: count for faults, count in shares.items() if count}


def _need(made: Sampling, pile: Pile, precision: float) -> float:
    """A pile's weight times deviation, against the value that needs it most."""
    worst = 0.0
    for topology, field in enumerate(made.fields):
        spread = np.sqrt(pile.variance(pile.tables[topology])) * pile.weight
        for value in range(len(field.values)):
            mean = made.mean(topology, value)
            if mean > 0 and made.error(topology, value) > precision * mean:
                worst = max(worst, float(spread[value]) / mean)
    return worst


# ---- piles ---------------------------------------------------------------------------------------


def _grown(work: Work, seed: int, before: Sampling, faults: int, more: dict[int, int]) -> Pile:
    """The shows with so many faults, and more of them; those worked out before are kept."""
    old = next((p for p in before.piles if p.faults == faults > 1), None)
    known = len(old.shows) if old else 0
    if old is not None and faults not in more:
        return old
    many = len(work.union.hazards)
    if faults == 2 and many * (many + 1) // 2 <= FEW_PAIRS:
        return _twos(work, seed, old, more[2])
    count = known + more[faults]
    shows = with_faults(work.union, seed, faults, count)
    fresh = _piled(work, Drawn(faults, SAMPLED, shows[known:], [1.0] * (count - known)))
    return _joined(old, fresh) if old else replace(fresh, shares=np.full(count, 1 / count))


def _joined(old: Pile, fresh: Pile) -> Pile:
    """The shows of both, each standing for the same part."""
    shows = (*old.shows, *fresh.shows)
    return replace(
        old,
        shows=shows,
        shares=np.full(len(shows), 1 / len(shows)),
        rows=_after(old.rows, fresh.rows),
        singles=_after(old.singles, fresh.singles),
        tables=_after(old.tables, fresh.tables),
    )


def _after(old: tuple[Floats, ...], fresh: tuple[Floats, ...]) -> tuple[Floats, ...]:
    return tuple(np.concatenate(pair) for pair in zip(old, fresh, strict=True))


@dataclass(frozen=True, slots=True)
class Drawn:
    """Shows of a pile with their shares, before they are worked out."""

    faults: int
    method: str
    shows: Sequence[Show]
    shares: Sequence[float]
    groups: Sequence[int] = ()


def _piled(work: Work, of: Drawn) -> Pile:
    """The shows worked out, and each of their faults alone."""
    apart = [(blow,) for show in of.shows for blow in show] if of.faults > 1 else []
    found = work.rows([*of.shows, *apart])
    count = len(of.shows)
    rows, singles = tuple(r[:count] for r in found), tuple(r[count:] for r in found)
    tables = []
    for field, together, alone in zip(work.fields, rows, singles, strict=True):
        values = field.table(together)
        if of.faults > 1:
            values -= field.table(alone).reshape(count, of.faults, -1).sum(axis=1)
        tables.append(values)
    chance = poisson(of.faults, work.union.mass)
    shares, groups = np.array(of.shares), tuple(of.groups)
    shows = tuple(of.shows)
    return Pile(
        of.faults, chance, chance, of.method, shows, shares, rows, singles, tuple(tables), groups
    )


Exacts = tuple[tuple[Single | None, ...], ...]


def _ones(work: Work, seed: int, found: Exacts) -> list[Pile]:
    """Every hazard by itself: exactly, or at strike times spread evenly over the show."""
    numbers = range(len(work.union.hazards))
    known = [n for n in numbers if all(each[n] is not None for each in found)]
    others = sorted(set(numbers) - set(known))
    piles = [_known(work, found, known)] if known else []
    return [*piles, _each(work, seed, others)] if others else piles


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


def _each(work: Work, seed: int, others: Sequence[int]) -> Pile:
    """One strike in each of so many parts of the show; how they vary is told by neighbours."""
    shows, shares = [], []
    mass = sum(work.union.hazards[n].mass for n in others)
    for number in others:
        hazard = work.union.hazards[number]
        draws = stream(seed, "one", hazard.key, repr(hazard.mass)).random((EACH_HAZARD, DRAWS))
        draws[:, 0] = (np.arange(EACH_HAZARD) + draws[:, 0]) / EACH_HAZARD
        shows += [(Blow(number, tuple(row)),) for row in draws.tolist()]
        shares += [hazard.mass / mass / EACH_HAZARD] * EACH_HAZARD
    groups = [2] * (len(others) * EACH_HAZARD // 2)
    made = _piled(work, Drawn(1, EACH_ONE, shows, shares, groups))
    return replace(made, chance=made.chance * mass / work.union.mass, weight=mass)


def _twos(work: Work, seed: int, old: Pile | None, more: int) -> Pile:
    """Every pair of hazards by itself; a hazard with itself counts half. What comes to more shows
    than each pair has at least goes to the pairs by their parts.
    """
    pairs, parts = _pairs(work.union)
    known = np.array(old.groups) if old else np.zeros(len(pairs), dtype=int)
    least = 0 if old else EACH_PAIR
    edges = np.floor(np.cumsum([0.0, *parts]) * max(more - least * len(pairs), 0) + 0.5)
    sizes = known + least + np.diff(edges).astype(int)
    shows = [
        show
        for pair, have, size in zip(pairs, known.tolist(), sizes.tolist(), strict=True)
        if have < size
        for show in _of_pair(work.union, seed, pair, size)[have:]
    ]
    shares = np.repeat(np.array(parts) / sizes, sizes)
    drawn = Drawn(2, EACH_TWO, shows, [1.0] * len(shows))
    order = np.argsort(
        np.concatenate([np.repeat(range(len(pairs)), n) for n in (known, sizes - known)]),
        kind="stable",
    )
    fresh = _piled(work, drawn)
    made = _joined(old, fresh) if old else fresh
    return replace(_ordered(made, order), shares=shares, groups=tuple(sizes.tolist()))


def _pairs(union: Union) -> tuple[list[tuple[int, int]], list[float]]:
    """All pairs, and the part of shows with two faults that have them."""
    masses = [hazard.mass for hazard in union.hazards]
    pairs = [(a, b) for a in range(len(masses)) for b in range(a, len(masses))]
    whole = union.mass**2
    return pairs, [masses[a] * masses[b] * (1 if a == b else 2) / whole for a, b in pairs]


def _of_pair(union: Union, seed: int, pair: tuple[int, int], size: int) -> list[Show]:
    """The first shows of a pair."""
    first, second = (union.hazards[n] for n in pair)
    names = (first.key, repr(first.mass), second.key, repr(second.mass))
    draws = stream(seed, "pair", *names).random((size, 2, DRAWS)).tolist()
    return [(Blow(pair[0], tuple(a)), Blow(pair[1], tuple(b))) for a, b in draws]


def _ordered(pile: Pile, order: Whole) -> Pile:
    """The same shows in another order."""
    apart = (order[:, None] * 2 + np.arange(2)).ravel()
    return replace(
        pile,
        shows=tuple(pile.shows[n] for n in order.tolist()),
        rows=tuple(each[order] for each in pile.rows),
        singles=tuple(each[apart] for each in pile.singles),
        tables=tuple(each[order] for each in pile.tables),
    )
