"""Exact sums of weighted things, the same in whatever order they come, and one way to round them.

In: weights (floats: parts of probability), amounts. Out: whole numbers of `WHOLE`ths, fractions,
and decimals in whole grains (10^-9 of the currency's unit).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from math import inf, ldexp

BITS = 200
WHOLE = 1 << BITS
"""Probability 1. A weight is cut to whole 2^-200: every float from 2^-148 (3e-45) up is exact."""
PLACES = 9
GRAINS = 10**PLACES
"""A mean amount is rounded to 10^-9 of the currency's unit, half to even, once, when all is summed:
a mean may be far below a coin. With amounts of 18 digits a grain is within a decimal's 28 digits.
"""


def parts_of(weight: float) -> int:
    """A weight (or weight times something) in WHOLEths. Raises ValueError below 0."""
    if not 0 <= weight < inf:
        raise ValueError(f"weight {weight!r}: a number from 0 up")
    return int(ldexp(weight, BITS))


def chance(parts: int) -> float:
    """WHOLEths as the nearest float, at most 1 (weights that sum to 1 but for their last digit)."""
    return min(parts / WHOLE, 1.0)


def shared(sums: Mapping[int, int]) -> Fraction:
    """Sums by the number among whom each is shared: one share of them all."""
    return sum((Fraction(of, among) for among, of in sums.items()), Fraction(0))


def in_grains(amount: Fraction) -> Decimal:
    """An exact amount rounded to whole grains, half to even."""
    return _decimal(round(amount * GRAINS))


def apportioned(parts: Sequence[Fraction], total: Decimal) -> tuple[Decimal, ...]:
    """Parts (0 or more, adding up to what `total` was rounded from) in whole grains that add up to
    `total` exactly: each rounded down, then the largest remainders, of equal ones the first, get
    the grains that are left.

    Raises ValueError where they do not add up to the total.
    """
    whole = [part * GRAINS // 1 for part in parts]
    left = int(Fraction(total) * GRAINS) - sum(whole)
    if in_grains(sum(parts, Fraction(0))) != total or any(part < 0 for part in parts):
        raise ValueError(f"parts of {total}: from 0 up, adding up to it")
    order = sorted(range(len(parts)), key=lambda i: (whole[i] - parts[i] * GRAINS, i))
    lifted = set(order[:left])
    return tuple(_decimal(n + (i in lifted)) for i, n in enumerate(whole))


def _decimal(grains: int) -> Decimal:
    """So many grains, without noughts at the end; exact however many digits it has."""
    places = next((n for n in range(PLACES) if grains % 10 ** (PLACES - n) == 0), PLACES)
    return Decimal(f"{grains // 10 ** (PLACES - places)}e-{places}")
