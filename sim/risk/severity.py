"""How bad a loss or a darkness is: the severities 1 to 4 of the risk matrix.

In: a loss (decimal) against the fee, or dark wall-seconds. Out: 1 catastrophic, 2 critical,
3 marginal, 4 negligible (the words of MIL-STD-882E Table I, values from memory). The thresholds
are this project's choice, no standard's.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

LOSS_AT_LEAST = (Fraction(1, 2), Fraction(1, 20), Fraction(1, 200))
"""Our choice. The least share of the fee whose loss is catastrophic, critical, marginal: half of
it, a twentieth, a two-hundredth. Each a tenth of the one before, as the money thresholds of
MIL-STD-882E Table I are (value from memory: 10, 1 and 0.1 million dollars).
"""
DARK_AT_LEAST = (300.0, 30.0, 3.0)
"""Our choice, where there is no contract. The least darkness of one night, in wall-seconds, that is
catastrophic, critical, marginal: the whole group dark for five minutes, half a minute, three
seconds, or a part of it for as much longer. Each a tenth of the one before.
"""


def severity_of_loss(loss: Decimal, fee: Decimal) -> int:
    """1 to 4 by the share of the fee that is lost. Raises ValueError unless the fee is above 0."""
    if fee <= 0:
        raise ValueError(f"fee {fee}: above 0")
    return _severity(Fraction(loss) / Fraction(fee), LOSS_AT_LEAST)


def severity_of_dark(dark: float) -> int:
    """1 to 4 by the dark wall-seconds of one night in which it happens (not of a mean show)."""
    return _severity(dark, DARK_AT_LEAST)


def _severity(found: float | Fraction, at_least: Sequence[float | Fraction]) -> int:
    """An edge belongs to the worse."""
    return next((n for n, edge in enumerate(at_least, 1) if found >= edge), len(at_least) + 1)


def meanings(contract: bool) -> tuple[str, ...]:
    """What each severity means, the worst first, in words."""
    least = [f"{float(100 * e):g} % of the fee" for e in LOSS_AT_LEAST]
    least = (
        least
        if contract
        else [f"{edge:g} wall-seconds dark in one night" for edge in DARK_AT_LEAST]
    )
    return (*(f"at least {edge}" for edge in least), f"less than {least[-1]}")
