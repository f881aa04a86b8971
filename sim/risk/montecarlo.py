"""The simulation: shows by their number of faults, worked out until they are precise enough.

In: topologies (`Field`s) with the `Union` of their hazards, a seed, a budget of shows. Out: frozen
`Sampling`s. What single faults do is summed over all hazards, exactly where that has a closed form:
as hazards strike independently, that sum is the mean over all shows of what their faults do one by
one. What is sampled is what several faults in one show do beyond it: few enough pairs one by one,
the rest as many shows of each number of faults as its part of the variance asks for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from sim.errors import refuse
from sim.risk.boosts import boosted
from sim.risk.pairs import in_order, pairs_of
from sim.risk.piles import ANY, EACH_TWO, SAMPLED, Pile, Sampling
from sim.risk.piling import EACH_PAIR, Drawn, Work, joined, ones, piled, twos
from sim.risk.shows import Union, beyond, likelier, struck, with_faults
from sim.risk.streams import Floats, Whole

USUAL = 6_000
"""Shows beyond the least, unless asked."""
PILOT, COUNTED = 200, 100
"""Shows of each stratum before anything is known of its variance, and how many of those after them
count at least.
"""
BATCH, LEAST = 1000, 20
FEW_PAIRS = 12_000
"""Up to so many pairs of hazards each is taken by itself, if that is no more than a part of the
budget.
"""
FEW_PART = 0.75
MOST_STRATA = 25
"""Where shows may have more faults than this they are not told apart by their number."""
ANY_PILOT, ANY_BATCH, ANY_COST = 20, 20, 100
"""Of such shows: how many first, how many at a time, and how many of a budget each takes."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How far to go: a budget of all shows that are worked out (None: `USUAL` beyond what is looked
    at in any case), the standard error wanted as a part of each value, or of those named by their
    `keys`. `refuses`: a budget below the least is an error, else the least is worked out.
    """

    seed: int = 1
    budget: int | None = 20_000
    precision: float = 0.01
    keys: tuple[str, ...] = ()
    refuses: bool = False


@dataclass(frozen=True, slots=True)
class After:
    """Shows after a first look: how many times likelier each hazard is among half of them, and how
    many there may be at most of one number of faults.
    """

    boosts: Sequence[float]
    most: int


Told = Callable[[Sampling], None]


def sample(work: Work, effort: Effort, told: Told = lambda made: None) -> Sampling:
    """Work shows out until every value of every topology has a standard error of `precision` of
    it, or the budget is used up. An interruption ends it early; what was done so far counts, the
    rest as unknown. Raises InputError for a budget below what is looked at in any case.
    """
    union = work.union
    nothing = tuple((None,) * len(union.hazards) for _ in work.fields)
    made = Sampling(
        union, work.fields, (), beyond(1, union.mass), nothing, effort.seed,
        finished=False, untold=union.chance(1),
    )  # fmt: skip
    try:
        for known in _rounds(work, effort, made):
            made = known
            told(made)
    except KeyboardInterrupt:
        return made
    return replace(made, finished=True)


def _rounds(work: Work, effort: Effort, made: Sampling) -> Iterator[Sampling]:
    """What is known after each step: single faults, each first look, ever more shows."""
    for known in _singles(work, effort, made):
        made = known
        yield made
    few = _few(work.union, effort)
    effort = _enough(work, effort, made, few)
    ones, later = made.piles, list[Pile]()
    many = work.union.most > MOST_STRATA
    if many:
        ones = tuple(replace(pile, chance=0.0) for pile in ones)
    for faults in (ANY,) if many else range(2, work.union.most + 1):
        later.append(_pilot(work, effort, faults, few))
        left = 0.0 if many else beyond(faults, work.union.mass)
        made = replace(made, piles=(*ones, *later), rest=left)
        yield made
    after = After(boosted(made, effort.keys), max((effort.budget or 0) - made.shows, COUNTED))
    more = {p.faults: COUNTED for p in later if p.method == SAMPLED and p.faults != ANY}
    more = more or _wanted(made, effort)
    while more:
        later = [_grown(work, made, pile, more, after) for pile in later]
        made = replace(made, piles=(*ones, *later))
        yield made
        more = _wanted(made, effort)


def _singles(work: Work, effort: Effort, made: Sampling) -> Iterator[Sampling]:
    """Single faults: what has a closed form first."""
    found = tuple(tuple(each) for each in work.exacts())
    made = replace(made, exacts=found)
    left = (inf if effort.budget is None else effort.budget) - _least(
        work.union, _few(work.union, effort)
    )
    for pile in ones(work, effort.seed, found, left):
        made = replace(made, piles=(*made.piles, pile), untold=made.untold - pile.chance)
        yield made
    yield replace(made, untold=0.0)


def _enough(work: Work, effort: Effort, made: Sampling, few: bool) -> Effort:
    """The effort with a budget; refuses one that is below the least."""
    least = _least(work.union, few) + made.shows
    if effort.budget is None:
        return replace(effort, budget=least + USUAL)
    if effort.refuses and effort.budget < least:
        alone = f"{made.shows} for hazards that are mended or age, " if made.shows else ""
        raise refuse(
            "--shows", str(effort.budget),
            f"at least {least} here: {alone}{least - made.shows} to look at several faults",
            todo="ask for more, or leave --shows out",
        )  # fmt: skip
    return effort


def _least(union: Union, few: bool) -> int:
    """Shows with several faults that are worked out in any case."""
    if union.most > MOST_STRATA:
        return ANY_PILOT
    sampled = range(3 if few else 2, union.most + 1)
    pairs = len(pairs_of(union)[0]) if few else 0
    return sum(map(_first, sampled)) + COUNTED * len(sampled) + pairs * _of_pair(pairs)


def _few(union: Union, effort: Effort) -> bool:
    """Whether each pair of hazards is taken by itself."""
    pairs = len(union.hazards) * (len(union.hazards) + 1) // 2
    most = max(FEW_PART * (inf if effort.budget is None else effort.budget), _first(2) + COUNTED)
    return pairs <= FEW_PAIRS and pairs * _of_pair(pairs) <= most


def _of_pair(pairs: int) -> int:
    """Shows of each pair at first."""
    return max(_first(2) // max(pairs, 1), EACH_PAIR)


def _wanted(made: Sampling, effort: Effort) -> dict[int, int]:
    """How many more shows of which number of faults, by their parts of the variance."""
    cost = ANY_COST if any(pile.faults == ANY for pile in made.piles) else 1
    left = (effort.budget or 0) // cost - made.shows
    need = _needs(made, effort)
    total = sum(need.values())
    if left <= 0 or not total:
        return {}
    batch = min(left, max(BATCH, made.shows // 2))
    shares = {faults: int(batch * part / total) for faults, part in need.items()}
    return {faults: count for faults, count in shares.items() if count >= LEAST}


def _needs(made: Sampling, effort: Effort) -> dict[int, float]:
    """Of each number of faults the weight times deviation, against the value that needs it most."""
    worst = {pile.faults: 0.0 for pile in made.piles if pile.faults > 1}
    for topology, field in enumerate(made.fields):
        means = np.array([made.mean(topology, n) for n in range(len(field.values))])
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
        hidden: Floats = (pile.unseen(table) * most) ** 2 * count
        return found + hidden
    if pile.method != SAMPLED:
        return found
    each = pile.shares_of_next[:, None] * count
    parts = each * table
    far = np.abs(parts - parts.mean(axis=0)).max(axis=0)
    later = table[pile.groups[0] :] if pile.ratios else table
    alike = later.max(axis=0) == later.min(axis=0)
    unsure: Floats = found + np.where(alike, each.max() * most, far) ** 2 / count
    return unsure


# ---- piles ---------------------------------------------------------------------------------------


def _pilot(work: Work, effort: Effort, faults: int, few: bool) -> Pile:
    """The first shows with so many faults, as they come; or of every pair, if these are few."""
    seed = effort.seed
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


def _grown(work: Work, before: Sampling, old: Pile, more: dict[int, int], after: After) -> Pile:
    """A pile and more shows."""
    if old.faults not in more:
        return old
    if old.method == EACH_TWO:
        return twos(work, before.seed, old, more[2])
    if old.faults == ANY:
        shows = struck(work.union, before.seed, len(old.shows) + more[ANY])[len(old.shows) :]
        both = joined(old, piled(work, Drawn(ANY, SAMPLED, shows, [0.0] * len(shows))))
        return replace(both, shares=np.full(len(both.shows), 1 / len(both.shows)))
    return _boosted(work, before.seed, old, more[old.faults], after)


def _boosted(work: Work, seed: int, old: Pile, more: int, after: After) -> Pile:
    """More shows of a stratum, half of them as they come, half drawn with boosted hazards. Every
    show stands for what is left of its probability when both ways to draw it are counted (the
    balance heuristic of Veach and Guibas, SIGGRAPH 1995, from memory). The first look said what to
    boost and how many to draw: it keeps a part that was fixed before it, or what it had would be
    counted less wherever it had something.
    """
    first, faults, union = _first(old.faults), old.faults, work.union
    _, usual, often = old.groups if old.ratios else (first, 0, 0)
    sizes = (first, usual + (more + 1) // 2, often + more // 2)
    fresh = with_faults(union, seed, faults, first + sizes[1], known=first + usual)
    fresh += with_faults(union, seed, faults, sizes[2], after.boosts, known=often)
    known = old.ratios or likelier(union, after.boosts, faults, old.shows)
    made = joined(old, piled(work, Drawn(faults, SAMPLED, fresh, [0.0] * len(fresh))))
    order = _in_groups((first, usual, often), (0, sizes[1] - usual, sizes[2] - often))
    ratios = np.concatenate([known, likelier(union, after.boosts, faults, fresh)])[order]
    part = first / (first + after.most)
    shares = (1 - part) / (sizes[1] + sizes[2] * ratios)
    shares[:first] = part / first
    made = in_order(made, order)
    return replace(made, shares=shares, groups=sizes, ratios=tuple(ratios.tolist()))


def _in_groups(old: Sequence[int], fresh: Sequence[int]) -> Whole:
    """The order in which shows of each group stand together, fresh ones after old ones."""
    of = np.repeat([*range(len(old)), *range(len(fresh))], [*old, *fresh])
    return np.argsort(of, kind="stable")
