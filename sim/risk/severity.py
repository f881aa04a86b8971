"""How bad a night is, and where in the risk matrix a risk stands: where it is gravest.

In: what nights come to: a loss as a part of the fee, or dark wall-seconds; chances by severity.
Out: severities 1 catastrophic, 2 critical, 3 marginal, 4 negligible (the words of MIL-STD-882E
Table I, values from memory). The thresholds are this project's choice, no standard's.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sim.reliability.riskmatrix import RISKS, Matrix
from sim.risk.streams import Floats

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


def reached(harm: Floats, seen: NDArray[np.bool_], money: bool) -> NDArray[np.bool_]:
    """Which severities each night reaches: shape (nights, 4), the worst first; one of them brings
    all that are less. `harm`: with `money` parts of the fee, else dark wall-seconds; an edge
    belongs to the worse. `seen`: whether the audience sees anything wrong; then it is negligible
    at least, and without it nothing.
    """
    edges = [float(edge) for edge in (LOSS_AT_LEAST if money else DARK_AT_LEAST)]
    bad = harm[:, None] >= np.array(edges)
    return np.column_stack([bad, seen | bad[:, -1]])


def gravest(matrix: Matrix, chances: Sequence[float]) -> tuple[int, str]:
    """Severity and level at which the matrix finds a risk gravest, of equal ones where it is
    likelier, then the worse; the last severity and "" where all chances are 0. `chances`: of a
    night of each severity or worse, the worst first.
    """
    ranks = {name: rank for rank, name in enumerate(RISKS.values())}
    found = [(ranks[matrix.risk(n, p)], -p, n) for n, p in enumerate(chances, 1) if p > 0]
    if not found:
        return len(chances), ""
    _, less, severity = min(found)
    return severity, matrix.levels[matrix.level(-less)]


def meanings(contract: bool) -> tuple[str, ...]:
    """What each severity means, the worst first, in words."""
    least = [f"{float(100 * e):g} % of the fee" for e in LOSS_AT_LEAST]
    least = (
        least
        if contract
        else [f"{edge:g} wall-seconds dark in one night" for edge in DARK_AT_LEAST]
    )
    return (*(f"at least {edge}" for edge in least), f"seen, but less than {least[-1]}")
