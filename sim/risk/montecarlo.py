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
from sim.risk.piles import ANY, EACH_TWO, SAMPLED, Pile, Sampling
from sim.risk.piling import EACH_PAIR, Drawn, Work, joined, ones, piled, twos
from sim.risk.shows import beyond, likelier, struck, with_faults
from sim.risk.streams import Floats

PILOT = 200
"""Shows of each stratum before anything is known of its variance."""
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
    sampled = [pile for pile in made.piles if pile.faults > 1]
    need = {pile.faults: _need(made, pile, effort) for pile in sampled}
    total = sum(need.values())
    if left <= 0 or not total:
        return {}
    batch = min(left, max(BATCH, made.drawn // 2))
    shares = {faults: int(batch * part / total) for faults, part in need.items()}
    return {faults: count for faults, count in shares.items() if count >= LEAST}


def _need(made: Sampling, pile: Pile, effort: Effort) -> float:
    """A pile's weight times deviation, against the value that needs it most."""
    worst = 0.0
    for topology, field in enumerate(made.fields):
        spread = np.sqrt(_doubtful(made, pile, topology)) * pile.weight
        for place, value in enumerate(field.values):
            mean = made.mean(topology, place)
            if mean <= 0 or (effort.keys and value.key not in effort.keys):
                continue
            if doubt(made, topology, place) > effort.precision * mean:
                worst = max(worst, float(spread[place]) / mean)
    return worst


def doubt(made: Sampling, topology: int, place: int) -> float:
    """The standard error of a value, with what nobody has seen yet."""
    piles = [pile for pile in made.piles if not pile.exact]
    parts = [
        pile.weight**2 * _doubtful(made, pile, topology)[place] / len(pile.shows) for pile in piles
    ]
    return float(sum(parts) ** 0.5)


def _doubtful(made: Sampling, pile: Pile, topology: int) -> Floats:
    """The variance of one show; where all were alike, as if the next one were not."""
    found = pile.variance(pile.tables[topology])
    if pile.method != SAMPLED:
        return found
    most = np.array([value.most for value in made.fields[topology].values])
    return np.where(found > 0, found, most**2 / len(pile.shows))


# ---- piles ---------------------------------------------------------------------------------------


def _pilot(work: Work, effort: Effort, faults: int) -> Pile:
    """The first shows with so many faults, as they come; or of every pair, if these are few."""
    many, seed = len(work.union.hazards), effort.seed
    pairs = many * (many + 1) // 2
    few = pairs <= FEW_PAIRS and EACH_PAIR * pairs <= FEW_BUDGETS * effort.budget
    if faults == 2 and few:
        return twos(work, seed, None, PILOT)
    if faults == ANY:
        shows = struck(work.union, seed, ANY_PILOT)
        return piled(work, Drawn(ANY, SAMPLED, shows, [1 / len(shows)] * len(shows)))
    count = PILOT * (5 if faults == 2 else 1)
    shows = with_faults(work.union, seed, faults, count)
    return piled(work, Drawn(faults, SAMPLED, shows, [1 / count] * count, (count,)))


def _grown(
    work: Work, before: Sampling, old: Pile, more: dict[int, int], boosts: Sequence[float]
) -> Pile:
    """A pile and more shows, drawn with boosted hazards. Every show stands for what is left of its
    probability when both ways to draw it are counted (the balance heuristic of Veach and Guibas,
    SIGGRAPH 1995, from memory).
    """
    if old.faults not in more:
        return old
    if old.method == EACH_TWO:
        return twos(work, before.seed, old, more[2])
    if old.faults == ANY:
        shows = struck(work.union, before.seed, len(old.shows) + more[ANY])[len(old.shows) :]
        both = joined(old, piled(work, Drawn(ANY, SAMPLED, shows, [0.0] * len(shows))))
        return replace(both, shares=np.full(len(both.shows), 1 / len(both.shows)))
    piloted, known = old.groups[0], sum(old.groups[1:])
    count = known + more[old.faults]
    shows = with_faults(work.union, before.seed, old.faults, count, boosts)[known:]
    fresh = piled(work, Drawn(old.faults, SAMPLED, shows, [0.0] * len(shows)))
    first = old.ratios or likelier(work.union, boosts, old.shows)
    ratios = (*first, *likelier(work.union, boosts, shows))
    return replace(
        joined(old, fresh),
        shares=np.array([1 / (piloted + count * ratio) for ratio in ratios]),
        groups=(piloted, count),
        ratios=ratios,
    )
