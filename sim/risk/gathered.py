"""What the simulation worked out, as nights: each with its part of probability and who struck.

In: a `Sampling`, the number of one of its topologies. Out: `Night`s whose `longest` are flicks in
the order of `values.pairs_of`, `culprits` numbers of hazards in the union, `dark` wall-seconds.
Weights sum to 1: what was not worked out counts as without a fault (`left_out` says how much it
is). Each show counts by the chance of its stratum, so that a mean over nights is not the
simulation's own estimate, which is steadier (it holds several faults against each alone, and does
not bring the shares of drawn shows to a sum of 1); both have one true value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from math import fsum

from sim.risk.dues import Dues, loss_of
from sim.risk.field import Field
from sim.risk.nights import Culprits, Night
from sim.risk.piles import Pile, Sampling
from sim.risk.single import Single
from sim.risk.stretches import DARK_TIME
from sim.risk.values import columns_of, pairs_of
from sim.timebase import FLICKS

DARK_COLUMN = 2
"""Where a table of values has dark wall-seconds."""


def left_out(made: Sampling) -> float:
    """The probability of shows with faults that were not worked out: too many faults, or strata
    that an interruption cut off.
    """
    return max(0.0, 1.0 - made.union.chance(0) - fsum(pile.chance for pile in made.piles))


def nights_of(made: Sampling, topology: int) -> Iterator[Night]:
    """All nights of one topology. What of a show does not concern it is no culprit there."""
    field = made.fields[topology]
    yield Night(max(0.0, 1.0 - fsum(pile.chance for pile in made.piles)), _none(field))
    for pile in made.piles:
        singles = made.exacts[topology]
        yield from _known(pile, field, singles) if pile.exact else _drawn(pile, field, topology)


def alone_of(nights: Iterable[Night], dues: Dues) -> dict[int, Decimal]:
    """For each hazard that struck alone in some night, the most that it cost then."""
    found: dict[int, Decimal] = {}
    for night in nights:
        if len(night.culprits) == 1:
            place, loss = night.culprits[0], loss_of(dues, night.longest)
            found[place] = max(loss, found.get(place, loss))
    return found


def _none(field: Field) -> tuple[int, ...]:
    return (0,) * len(pairs_of(field.gauge.asked))


def _scale(field: Field) -> float:
    """Wall-seconds in a pixel-flick."""
    return 1.0 / (FLICKS * field.gauge.asked.areas["group"])


def _drawn(pile: Pile, field: Field, topology: int) -> Iterator[Night]:
    """Shows worked out one by one."""
    columns, scale = columns_of(field.gauge.asked), _scale(field)
    weights = (pile.chance * pile.shares / pile.shares.sum()).tolist()
    for weight, show, row in zip(weights, pile.shows, pile.rows[topology].tolist(), strict=True):
        longest = tuple(int(row[column]) for column in columns)
        struck = [blow.hazard for blow in show]
        culprits = _culprits(struck, field)
        if not culprits and (any(longest) or row[DARK_TIME]):
            culprits = _there(struck, field)
        yield Night(weight, longest, culprits, row[DARK_TIME] * scale)


def _known(pile: Pile, field: Field, singles: Sequence[Single | None]) -> Iterator[Night]:
    """Single faults summed exactly: for each the nights that differ in what is due."""
    for weight, show in zip((pile.chance * pile.shares).tolist(), pile.shows, strict=True):
        hazard = show[0].hazard
        culprits = _culprits([hazard], field)
        alone = singles[hazard] if culprits else None
        if alone is None or not alone.nights:
            yield Night(weight, _none(field), culprits)
        else:
            yield from _parts(weight, culprits, alone, field)


def _parts(weight: float, culprits: Culprits, alone: Single, field: Field) -> Iterator[Night]:
    """The nights of one fault; their dark times stretched so that their mean is the exact one."""
    columns = columns_of(field.gauge.asked)
    darks = [row[DARK_TIME] for _, row in alone.nights]
    mean = fsum(share * dark for (share, _), dark in zip(alone.nights, darks, strict=True))
    exact = alone.means[DARK_COLUMN]
    for (share, row), dark in zip(alone.nights, darks, strict=True):
        longest = tuple(int(row[column]) for column in columns)
        yield Night(weight * share, longest, culprits, dark * exact / mean if mean else exact)


def _culprits(struck: Sequence[int], field: Field) -> Culprits:
    """Of what struck, what can be seen in this group at all."""
    concerned = field.scenes.concerned
    return tuple(n for n in _there(struck, field) if concerned[field.local[n]])


def _there(struck: Sequence[int], field: Field) -> Culprits:
    """Of what struck, what there is in this topology: where nothing of it can be seen, mending it
    did the harm.
    """
    return tuple(sorted({number for number in struck if field.local[number] >= 0}))
