"""Exact sums of weighted things, the same in whatever order they come, and one way to round them.

In: weights (floats: parts of probability), amounts. Out: whole numbers of `WHOLE`ths, fractions,
and decimals in whole grains (10^-9 of the currency's unit).
"""

from __future__ import annotations

from collections.abc import Mapping
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


def shared(sums: Mapping[int, int]) -> Fraction:
    """Sums by the number among whom each is shared: one share of them all."""
    return sum((Fraction(of, among) for among, of in sums.items()), Fraction(0))


def in_grains(amount: Fraction) -> Decimal:
    """An exact amount rounded to whole grains, half to even."""
    return _decimal(round(amount * GRAINS))


def _decimal(grains: int) -> Decimal:
    """So many grains, without noughts at the end; exact however many digits it has."""
    places = next((n for n in range(PLACES) if grains % 10 ** (PLACES - n) == 0), PLACES)
    return Decimal(f"{grains // 10 ** (PLACES - places)}e-{places}")
