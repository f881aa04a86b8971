"""Who has which part of a figure, and how often more than a loss is lost: by the figures' own sums.

In: a `Sampling`, the place of a topology. Out: parts of each value by hazard, which add up to the
value; the exceedance curve. Single faults count with their masses, shows of several with what they
have beyond their faults one by one, split equally among these.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

import numpy as np

from sim.risk.piles import EXACT, Pile, Sampling, alone
from sim.risk.streams import Floats

CENT, MILLIONTH = Decimal("0.01"), Decimal("0.000001")


def attributed(of: Sampling, topology: int) -> Floats:
    """Shape (hazards of the union, values): the part of each value that a hazard has."""
    masses = np.array([hazard.mass for hazard in of.union.hazards])
    found: Floats = masses[:, None] * alone(of, topology)
    for pile in (each for each in of.piles if each.faults > 1):
        table = pile.tables[topology] * (pile.shares * pile.weight)[:, None]
        for number in np.flatnonzero(table.any(axis=1)).tolist():
            show = pile.shows[number]
            here = [b.hazard for b in show if of.fields[topology].local[b.hazard] >= 0]
            for hazard in here:
                found[hazard] += table[number] / len(here)
    return found


def as_money(amount: float) -> Decimal:
    """A part of a loss, at least 0, in millionths of the currency's unit."""
    return Decimal(repr(max(amount, 0.0))).quantize(MILLIONTH)


def exceedance(of: Sampling, topology: int) -> tuple[tuple[Decimal, float], ...]:
    """Losses, rising from 0, each with the chance a show of more. The loss is the last value."""
    return curve_of(_weighed(of, topology))


def curve_of(weighed: Iterable[tuple[float, float]]) -> tuple[tuple[Decimal, float], ...]:
    """The same of (part of probability, loss) of shows; what costs nothing may be left out."""
    weights: dict[Decimal, float] = {}
    for weight, loss in weighed:
        amount = Decimal(repr(loss)).quantize(CENT)
        weights[amount] = weights.get(amount, 0.0) + weight
    levels = sorted({Decimal(0), *(amount for amount in weights if amount > 0)})
    found: list[tuple[Decimal, float]] = []
    above = 0.0
    for level in reversed(levels):
        least = found[-1][1] if found else 0.0
        found.append((level, min(max(above, least, 0.0), 1.0)))
        above += weights.get(level, 0.0)
    return tuple(reversed(found))


def once_in(shows: int, curve: tuple[tuple[Decimal, float], ...]) -> Decimal:
    """The smallest loss that at most one show in so many exceeds."""
    return next(loss for loss, more in curve if more <= 1 / shows)


def _weighed(of: Sampling, topology: int) -> Iterator[tuple[float, float]]:
    for pile in of.piles:
        yield from (
            _known(of, topology, pile) if pile.method == EXACT else _drawn(of, topology, pile)
        )


def _known(of: Sampling, topology: int, pile: Pile) -> Iterator[tuple[float, float]]:
    field, parts = of.fields[topology], (pile.shares * pile.weight).tolist()
    nights = [
        (weight * part, row)
        for weight, show in zip(parts, pile.shows, strict=True)
        if (single := of.exacts[topology][show[0].hazard]) is not None
        for part, row in single.nights
    ]
    if nights:
        losses = field.table(np.array([row for _, row in nights]))[:, -1].tolist()
        yield from zip((weight for weight, _ in nights), losses, strict=True)


def _drawn(of: Sampling, topology: int, pile: Pile) -> Iterator[tuple[float, float]]:
    field, weights = of.fields[topology], pile.shares * pile.weight
    yield from zip(weights.tolist(), field.table(pile.rows[topology])[:, -1].tolist(), strict=True)
    if pile.faults > 1:
        each = np.repeat(weights, [len(show) for show in pile.shows])
        alone_ = field.table(pile.singles[topology])[:, -1]
        yield from zip((-each).tolist(), alone_.tolist(), strict=True)
