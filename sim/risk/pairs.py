"""Pairs of hazards, each with shows of its own.

In: a `Union`, a seed. Out: pairs with their parts of the shows with two faults, shows, piles in
another order.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.risk.piles import Pile
from sim.risk.shows import Blow, Show, Union
from sim.risk.streams import DRAWS, Whole, stream


def pairs_of(union: Union) -> tuple[list[tuple[int, int]], list[float]]:
    """All pairs, and the part of shows with two faults that have them."""
    masses = [hazard.mass for hazard in union.hazards]
    pairs = [(a, b) for a in range(len(masses)) for b in range(a, len(masses))]
    whole = union.mass**2
    return pairs, [masses[a] * masses[b] * (1 if a == b else 2) / whole for a, b in pairs]


def shows_of(
    union: Union, seed: int, pair: tuple[int, int], size: int, known: int = 0
) -> list[Show]:
    """The first shows of a pair, but for the `known` first of them."""
    first, second = (union.hazards[n] for n in pair)
    names = (first.key, repr(first.mass), second.key, repr(second.mass))
    draws = stream(seed, "pair", *names).random((size, 2, DRAWS))[known:].tolist()
    return [(Blow(pair[0], tuple(a)), Blow(pair[1], tuple(b))) for a, b in draws]


def in_order(pile: Pile, order: Whole) -> Pile:
    """The same shows, all of one number of faults, in another order."""
    apart = (order[:, None] * pile.faults + np.arange(pile.faults)).ravel()
    return replace(
        pile,
        shows=tuple(map(pile.shows.__getitem__, order.tolist())),
        rows=tuple(each[order] for each in pile.rows),
        singles=tuple(each[apart] for each in pile.singles),
        tables=tuple(each[order] for each in pile.tables),
    )
