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

import numpy as np

from sim.risk.boosts import boosted
from sim.risk.pairs import in_order
from sim.risk.piles import ANY, EACH_TWO, SAMPLED, Pile, Sampling
from sim.risk.piling import EACH_PAIR, Drawn, Work, joined, ones, piled, twos
from sim.risk.shows import beyond, likelier, struck, with_faults
from sim.risk.streams import Floats, Whole

PILOT, COUNTED = 200, 100
"""Shows of each stratum before anything is known of its variance, and how many of those after them
count at least.
"""
BATCH, LEAST = 1000, 20
FEW_PAIRS = 12_000
"""Up to so many pairs of hazards each is taken by itself, if that is no more than a few times what
the budget has shows.
"""
FEW_BUDGETS = 5
MOST_STRATA = 25
"""Where shows may have more faults than this they are not told apart by their number."""
ANY_PILOT, ANY_BATCH, ANY_COST = 20, 20, 100
"""Of such shows: how many first, how many at a time, and how many of a budget each takes."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How far to go: a budget of shows, the standard error wanted as a part of each value, or of
    those named by their `keys`.
    """

    seed: int = 1
    budget: int = 20_000
    precision: float = 0.01
    keys: tuple[str, ...] = ()


Told = Callable[[Sampling], None]


def sample(work: Work, effort: Effort, told: Told = lambda made: None) -> Sampling:
    """Work shows out until every value of every topology has a standard error of `precision` of
    it, or the budget is used up. An interruption ends it early; what was done so far counts.
    """
    mass, most = work.union.mass, work.union.most
    found = tuple(tuple(each) for each in work.exacts())
    piles = ones(work, effort.seed, found)
    left = beyond(1, mass)
    made = Sampling(work.union, work.fields, tuple(piles), left, found, effort.seed, finished=False)
    sampled: Sequence[int] = range(2, most + 1)
    if most > MOST_STRATA:
        sampled, left = (ANY,), 0.0
        piles = [replace(pile, chance=0.0) for pile in piles]
        made = replace(made, piles=tuple(piles))
    else:
        left = beyond(most, mass)
    try:
        later = [_pilot(work, effort, faults) for faults in sampled]
        made = replace(made, piles=(*piles, *later), rest=left)
        told(made)
        boosts = boosted(made, effort.keys)
        least = {pile.faults: COUNTED for pile in later if pile.method == SAMPLED}
        least.pop(ANY, None)
        later = [_grown(work, made, pile, least, boosts) for pile in later]
        made = replace(made, piles=(*piles, *later))
        told(made)
        while more := _wanted(made, effort):
            later = [_grown(work, made, pile, more, boosts) for pile in later]
            made = replace(made, piles=(*piles, *later))
            told(made)
    except KeyboardInterrupt:
        return made
    return replace(made, finished=True)


def _wanted(made: Sampling, effort: Effort) -> dict[int, int]:
    """How many more shows of which number of faults, by their parts of the variance."""
    left = effort.budget - made.drawn
    if any(pile.faults == ANY for pile in made.piles):
        left = effort.budget // ANY_COST - made.drawn
    need = _needs(made, effort)
    total = sum(need.values())
    if left <= 0 or not total:
        return {}
    batch = min(left, max(BATCH, made.drawn // 2))
    shares = {faults: int(batch * part / total) for faults, part in need.items()}
    return {faults: count for faults, count in shares.items() if count >= LEAST}


def _needs(made: Sampling, effort: Effort) -> dict[int, float]:
    """Of each number of faults the weight times deviation, against the value that needs it most."""
    worst = {pile.faults: 0.0 for pile in made.piles if pile.faults > 1}
    for topology, field in enumerate(made.fields):
        means = sum(pile.weight * pile.mean(topology) for pile in made.piles)
        known = [(p, np.sqrt(_doubtful(made, p, topology))) for p in made.piles if not p.exact]
        squares = sum((p.weight * spread) ** 2 / len(p.shows) for p, spread in known)
        asked = [not effort.keys or value.key in effort.keys for value in field.values]
        open_ = (means > 0) & (np.sqrt(squares) > effort.precision * means) & asked
        for pile, spread in known:
            if pile.faults > 1 and open_.any():
                most = float((pile.weight * spread[open_] / means[open_]).max())
                worst[pile.faults] = max(worst[pile.faults], most)
    return worst


def doubt(made: Sampling, topology: int, place: int) -> float:
    """The standard error of a value, with what nobody has seen yet."""
    piles = [pile for pile in made.piles if not pile.exact]
    parts = [
        pile.weight**2 * _doubtful(made, pile, topology)[place] / len(pile.shows) for pile in piles
    ]
    return float(sum(parts) ** 0.5)


def _doubtful(made: Sampling, pile: Pile, topology: int) -> Floats:
    """The variance of one show, as if the next one were like the one that is farthest out; where
    all were alike, as if it were not. Else who stops by what was seen stops where too little was.
    """
    table, count = pile.tables[topology], len(pile.shows)
    found = pile.variance(table)
    most = np.array([value.most for value in made.fields[topology].values])
    if pile.method == EACH_TWO:
        return found + (pile.unseen(table) * most) ** 2 * count
    if pile.method != SAMPLED:
        return found
    parts = pile.shares[:, None] * table * count
    far = np.abs(parts - parts.mean(axis=0)).max(axis=0)
    return found + np.where(found > 0, far, most) ** 2 / count


# ---- piles ---------------------------------------------------------------------------------------


def _pilot(work: Work, effort: Effort, faults: int) -> Pile:
    """The first shows with so many faults, as they come; or of every pair, if these are few."""
    many, seed = len(work.union.hazards), effort.seed
    pairs = many * (many + 1) // 2
    few = pairs <= FEW_PAIRS and EACH_PAIR * pairs <= FEW_BUDGETS * effort.budget
    if faults == 2 and few:
        return twos(work, seed, None, _first(2))
    if faults == ANY:
        shows = struck(work.union, seed, ANY_PILOT)
        return piled(work, Drawn(ANY, SAMPLED, shows, [1 / len(shows)] * len(shows)))
    count = _first(faults)
    shows = with_faults(work.union, seed, faults, count)
    return piled(work, Drawn(faults, SAMPLED, shows, [1 / count] * count, (count,)))


def _first(faults: int) -> int:
    """How many shows are looked at first."""
    return PILOT * (5 if faults == 2 else 1)


def _grown(
    work: Work, before: Sampling, old: Pile, more: dict[int, int], boosts: Sequence[float]
) -> Pile:
    """A pile and more shows."""
    if old.faults not in more:
        return old
    if old.method == EACH_TWO:
        return twos(work, before.seed, old, more[2])
    if old.faults == ANY:
        shows = struck(work.union, before.seed, len(old.shows) + more[ANY])[len(old.shows) :]
        both = joined(old, piled(work, Drawn(ANY, SAMPLED, shows, [0.0] * len(shows))))
        return replace(both, shares=np.full(len(both.shows), 1 / len(both.shows)))
    return _boosted(work, before.seed, old, more[old.faults], boosts)


def _boosted(work: Work, seed: int, old: Pile, more: int, boosts: Sequence[float]) -> Pile:
    """More shows of a stratum, half of them as they come, half drawn with boosted hazards. Every
    show stands for what is left of its probability when both ways to draw it are counted (the
    balance heuristic of Veach and Guibas, SIGGRAPH 1995, from memory). The first look said what to
    boost and how many to draw; its own shows count no more, or what they had would be counted less
    wherever they had something.
    """
    first, faults = _first(old.faults), old.faults
    usual, often = old.groups if old.ratios else (0, 0)
    sizes = (usual + (more + 1) // 2, often + more // 2)
    fresh = with_faults(work.union, seed, faults, first + sizes[0], known=first + usual)
    fresh += with_faults(work.union, seed, faults, sizes[1], boosts, known=often)
    made = piled(work, Drawn(faults, SAMPLED, fresh, [0.0] * len(fresh)))
    ratios = np.array(likelier(work.union, boosts, fresh))
    if old.ratios:
        added = sizes[0] - usual
        order = np.concatenate([_row(0, usual), _row(usual + often, added)])
        order = np.concatenate([order, _row(usual, often), _row(usual + often + added, more // 2)])
        made = in_order(joined(old, made), order)
        ratios = np.concatenate([old.ratios, ratios])[order]
    shares = 1 / (sizes[0] + sizes[1] * ratios)
    return replace(made, shares=shares, groups=sizes, ratios=tuple(ratios.tolist()), looked=first)


def _row(begin: int, count: int) -> Whole:
    return np.arange(begin, begin + count)
