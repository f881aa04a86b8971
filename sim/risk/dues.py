"""What a contract takes back for one show.

In: a `Contract`, for each thing that it asks for the longest stretch in one go (flicks).
Out: exact amounts in the contract's currency. Each clause's due is rounded to the smallest coin,
half to even, and nothing is rounded after that.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from sim.reliability.money import MINOR, Clause, Cover, Money, Step, covered, due
from sim.rig.terms import ClauseTerms, Contract

Pair = tuple[int, str]
"""The place of a clause in the contract, and what it speaks of: a wall, a region, an audience area,
or `group` (all pixels of the group).
"""


@dataclass(frozen=True, slots=True)
class Dues:
    """A contract made ready for many shows. `asked[i]` is what the i-th stretch belongs to.

    For each clause: the times (flicks, rising) of its steps, and what is due when none, one, two
    and so on of them are passed; `cap` holds all dues together. `places`: decimals of the coin.
    """

    asked: tuple[Pair, ...]
    times: tuple[tuple[int, ...], ...]
    amounts: tuple[tuple[Decimal, ...], ...]
    cap: Decimal
    places: int


def dues_of(contract: Contract, pairs: Sequence[Pair]) -> Dues:
    """The contract for these pairs (`values.pairs_of`, of one group or several in turn)."""
    clauses = [_clause(clause, contract.currency) for clause in contract.clauses]
    times = tuple(tuple(sorted({s.time for s in c.steps})) for c in contract.clauses)
    fee, places = Money(contract.fee, contract.currency), MINOR[contract.currency]
    amounts = tuple(
        (Decimal(0), *(_coined(due(clause, Fraction(time + 1), fee), places) for time in rising))
        for clause, rising in zip(clauses, times, strict=True)
    )
    cap = contract.fee if contract.cap is None else contract.cap
    whole = cap.quantize(Decimal(1).scaleb(-places), ROUND_FLOOR)
    return Dues(tuple(pairs), times, amounts, whole, places)


def _clause(clause: ClauseTerms, currency: str) -> Clause:
    steps = [
        Step(Fraction(s.time), s.share, None if s.amount is None else Money(s.amount, currency))
        for s in clause.steps
    ]
    return Clause(clause.name, tuple(steps))


def _coined(amount: Money, places: int) -> Decimal:
    return amount.amount.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN)


def loss_of(dues: Dues, longest: Sequence[int]) -> Decimal:
    """What is due for one show: each clause pays, for its worst target, the highest step whose time
    was exceeded (strictly); all together at most the cap. `longest`: flicks, in the order of
    `dues.asked`. Raises ValueError for another number of stretches.
    """
    return owed(dues, passed(dues, longest))


def passed(dues: Dues, longest: Sequence[int]) -> tuple[int, ...]:
    """For each clause how many of its steps its worst target passed."""
    worst = [0] * len(dues.times)
    for (clause, _), length in zip(dues.asked, longest, strict=True):
        if length > worst[clause]:
            worst[clause] = length
    return tuple(map(bisect_left, dues.times, worst))


def owed(dues: Dues, steps: Sequence[int]) -> Decimal:
    """What is due where so many steps of each clause were passed."""
    each = (amounts[n] for amounts, n in zip(dues.amounts, steps, strict=True))
    return min(sum(each, Decimal(0)), dues.cap)


def insured(contract: Contract, loss: Decimal) -> Decimal:
    """What an insurer bears of one show's loss: what exceeds the deductible, up to the cover;
    nothing where no cover was agreed. The rest stays with the owner.
    """
    if contract.cover is None:
        return Decimal(0)
    below = Decimal(0) if contract.deductible is None else contract.deductible
    cover = Cover(Money(below, contract.currency), Money(contract.cover, contract.currency))
    return covered(Money(loss, contract.currency), cover).amount
