"""Shows worked out, stratum by stratum, and what they say.

In: piles of shows with their rows and values. Out: estimates with intervals, single and paired.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sim.reliability.estimates import Estimate
from sim.reliability.strata import Stratum, weighted_mean
from sim.risk.field import Field
from sim.risk.shows import Show, Union, beyond
from sim.risk.single import Single
from sim.risk.streams import Floats

EXACT, SAMPLED, EACH_ONE, EACH_TWO = "summed exactly", "sampled", "each hazard", "each pair"
"""How a stratum was worked out."""
ANY = 1 << 20
"""In place of a number of faults: any number, where most shows have many."""


@dataclass(frozen=True, slots=True)
class Pile:
    """Shows of one stratum: with so many `faults`, which has the probability `chance`.

    `tables` by topology: of shows with one fault their values, of others what these have beyond the
    sum of what their faults have one by one (mostly nothing). `weight`: what a mean over them
    counts for: for one fault the mean number of faults in a show, so that the sum over single
    faults is that of all shows; else `chance`. `shares`: the part of the pile that each show stands
    for; they sum to 1. `rows` by topology; `singles`: rows of the faults of all shows one by one.
    `groups`: sizes of the groups that the shows stand in, one after the other; () for one group.
    `ratios`: how many times likelier each show is among those drawn with boosted hazards than
    among natural ones; () where none were boosted.
    """

    faults: int
    chance: float
    weight: float
    method: str
    shows: tuple[Show, ...]
    shares: Floats
    rows: tuple[Floats, ...]
    singles: tuple[Floats, ...]
    tables: tuple[Floats, ...]
    groups: tuple[int, ...] = ()
    ratios: tuple[float, ...] = ()

    @property
    def exact(self) -> bool:
        return self.method == EXACT

    @property
    def worked(self) -> int:
        """Shows worked out for it."""
        return 0 if self.exact else len(self.shows)

    @property
    def largest(self) -> int:
        """The most faults in a show."""
        return max(map(len, self.shows)) if self.faults == ANY else self.faults

    def mean(self, topology: int) -> Floats:
        found: Floats = self.shares @ self.tables[topology]
        return found

    def variance(self, table: Floats) -> Floats:
        """Of one show, so that a shows-th of it is that of the mean: each group by itself."""
        if self.exact:
            return np.zeros(table.shape[1])
        total: Floats = self._of_groups(table).sum(axis=0) * len(table)
        return total

    def spread(self, table: Floats) -> tuple[Floats, Floats]:
        """That variance and its degrees of freedom (Satterthwaite, over the groups)."""
        parts = self._of_groups(table)
        one_less = np.array(self.groups or (len(table),))[:, None] - 1.0
        total, below = parts.sum(axis=0), (parts**2 / one_less).sum(axis=0)
        freedom: Floats = np.divide(total**2, below, out=np.ones_like(total), where=below > 0)
        return total * len(table), freedom

    @property
    def shares_of_next(self) -> Floats:
        """What one show more like each would stand for: those of a first look have parts that were
        fixed before it.
        """
        if not self.ratios:
            return self.shares
        looked, usual, often = self.groups
        left = 1.0 - self.shares[:looked].sum()
        found: Floats = left / (usual + often * np.array(self.ratios))
        return found

    def usual(self, values: Floats) -> Floats:
        """For each show the median of its group; of two middle ones that nearer to nothing."""
        sizes = np.array(self.groups or (len(values),))
        begins = np.cumsum(sizes) - sizes
        ranked = values[np.lexsort((values, np.arange(len(sizes)).repeat(sizes)))]
        one, other = ranked[begins + (sizes - 1) // 2], ranked[begins + sizes // 2]
        found: Floats = np.where(np.abs(one) <= np.abs(other), one, other).repeat(sizes)
        return found

    def unseen(self, table: Floats) -> Floats:
        """For each value the largest part of the pile that one show stands for in a group whose
        shows were all alike: what may be hidden there counts in such parts. 0 where none were.
        Groups whose shows have nothing at all beyond their faults one by one hide nothing.
        """
        sizes = np.array(self.groups or (len(table),))
        begins = np.cumsum(sizes) - sizes
        alike = np.maximum.reduceat(table, begins) == np.minimum.reduceat(table, begins)
        busy = np.logical_or.reduce([each.any(axis=1) for each in self.tables])
        alike &= np.logical_or.reduceat(busy, begins)[:, None]
        found: Floats = (alike * self.shares[begins][:, None]).max(axis=0)
        return found

    def _of_groups(self, table: Floats) -> Floats:
        """Shape (groups, values): what each group adds to the variance of the mean."""
        sizes = np.array(self.groups or (len(table),))
        begins = np.cumsum(sizes) - sizes
        parts = self.shares[:, None] * table
        if self.method == EACH_ONE:  # spread over the show: one and the next, for what lies between
            each = np.diff(parts, axis=0, append=parts[-1:]) ** 2 / 2
            each[begins + sizes - 1] = 0.0
        else:
            each = (parts - (np.add.reduceat(parts, begins) / sizes[:, None]).repeat(sizes, 0)) ** 2
        squares = np.add.reduceat(each, begins)
        found: Floats = (sizes / (sizes - 1))[:, None] * squares
        return found


@dataclass(frozen=True, slots=True)
class Sampling:
    """All piles of some topologies. `exacts`: for each topology and hazard of the union what it
    comes to by itself, where that was summed exactly. `rest`: the probability of more faults than
    were worked out; `untold`: of one fault that was not; `finished`: whether nobody interrupted it;
    `seconds`: of processor time.
    """

    union: Union
    fields: tuple[Field, ...]
    piles: tuple[Pile, ...]
    rest: float
    exacts: tuple[tuple[Single | None, ...], ...] = ()
    seed: int = 1
    finished: bool = True
    seconds: float = 0.0
    untold: float = 0.0

    @property
    def shows(self) -> int:
        """Shows worked out."""
        return sum(pile.worked for pile in self.piles)

    @property
    def in_pairs(self) -> list[Pile]:
        """Piles whose shows stand pair by pair."""
        return [pile for pile in self.piles if pile.method == EACH_TWO]

    def mean(self, topology: int, value: int) -> float:
        """One value of one topology, without its interval."""
        return float(sum(pile.weight * pile.mean(topology)[value] for pile in self.piles))

    def estimate(self, topology: int, value: int, level: float = 0.95) -> Estimate:
        """One value of one topology, with its interval."""
        most = self.fields[topology].values[value].most
        strata = [
            _stratum(pile, pile.tables[topology][:, value], most, (1 - pile.largest) * most)
            for pile in self.piles
        ]
        for pile in self.in_pairs:
            strata += _hidden(pile, pile.tables[topology][:, value], most)
        less, more = self.left_out
        found = _bounded(weighted_mean(strata, level), less * most, more * most)
        return replace(found, low=max(found.low, 0.0), high=min(found.high, most))

    @property
    def left_out(self) -> tuple[float, float]:
        """By how much shows of more faults than were worked out may lower and raise a chance: the
        sum over single faults counts all their faults, of which one show has one at the most.
        """
        mass, worked = self.union.mass, max((pile.faults for pile in self.piles), default=1)
        return mass * beyond(worked - 1, mass) - self.rest, self.rest + self.untold

    def error(self, topology: int, value: int) -> float:
        """The standard error of an estimate."""
        parts = [
            pile.weight**2 * pile.variance(pile.tables[topology])[value] / len(pile.shows)
            for pile in self.piles
            if not pile.exact
        ]
        return float(sum(parts) ** 0.5)

    def paired(self, first: int, second: int, value: int, level: float = 0.95) -> Estimate:
        """How much more the first has than the second, in the same shows."""
        most = self.fields[first].values[value].most
        strata = []
        for pile in self.piles:
            apart = pile.tables[first][:, value] - pile.tables[second][:, value]
            strata.append(_stratum(pile, apart, pile.largest * most, -pile.largest * most))
            if pile.method == EACH_TWO:
                strata += _hidden(pile, apart, most)
        either = sum(self.left_out) * most
        found = _bounded(weighted_mean(strata, level), either, either)
        return replace(found, method="paired, " + found.method)


def _stratum(pile: Pile, values: Floats, most: float, least: float) -> Stratum:
    mean = float(pile.shares @ values)
    if pile.exact:
        return Stratum(pile.weight, 0, mean)
    table, off = values[:, None], values - pile.usual(values)
    above, below, each = _as_many(pile.shares * off)
    variance, freedom = pile.spread(table)
    return Stratum(
        pile.weight,
        len(pile.shows),
        mean,
        float(variance[0]),
        least,
        most,
        float(freedom[0]),
        above,
        below,
        float(np.abs(pile.shares_of_next * off).max()) / each if pile.ratios else 1.0,
    )


def _as_many(parts: Floats) -> tuple[float, float, float]:
    """How many shows that all count alike would have the same sum, and sum of squares, as these:
    those above nothing and those below it; and for how much each counts then. So shows that stand
    for little count as few. (Fay and Feuer 1997, from memory, take a weighted sum of Poisson counts
    for such a one.)
    """
    squares = float(parts @ parts)
    each = squares / float(np.abs(parts).sum()) if squares else 1.0
    above, below = (float(one @ one) for one in (np.maximum(parts, 0.0), np.minimum(parts, 0.0)))
    return above / each**2, below / each**2, each


def _hidden(pile: Pile, values: Floats, most: float) -> list[Stratum]:
    """What pairs whose shows were all alike may hide: the deviation of one show as far out as can
    be, where one show counts most. (The chance that nothing of a hidden part is seen is a product
    over the pairs, largest there.)
    """
    weight = pile.weight * float(pile.unseen(values[:, None])[0])
    return [Stratum(weight, 1, 0.0, most**2, freedom=len(values))] if weight else []


def _bounded(found: Estimate, less: float, more: float) -> Estimate:
    return replace(found, low=found.low - less, high=found.high + more)


def alone(of: Sampling, topology: int) -> Floats:
    """Shape (hazards of the union, values): means given that each strikes by itself."""
    size = len(of.fields[topology].values)
    found = np.zeros((len(of.union.hazards), size))
    for pile in (each for each in of.piles if each.faults == 1):
        table, shares = pile.tables[topology], pile.shares
        for number, show in enumerate(pile.shows):
            hazard = show[0].hazard
            mass = of.union.hazards[hazard].mass
            found[hazard] += table[number] * (shares[number] * pile.weight / mass)
    return found
