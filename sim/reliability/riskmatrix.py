"""The risk matrix: how likely and how bad together make a risk, by thresholds that can be changed.

In: a probability (of the period that the thresholds speak of, such as one show) and a severity from
1, the worst. Out: frozen values and words. As shipped: MIL-STD-882E Tables I to III (secondary
source read; its words are values from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from sim.errors import refuse
from sim.reliability.estimates import Estimate

RISKS = {"H": "high", "S": "serious", "M": "medium", "L": "low"}


@dataclass(frozen=True, slots=True)
class Matrix:
    """Severities, the worst first; levels, the likeliest first; `edges[i]` is the least probability
    of level i (the last level has none); `rows[s][l]` a letter of `RISKS`.
    """

    severities: tuple[str, ...]
    levels: tuple[str, ...]
    edges: tuple[float, ...]
    rows: tuple[str, ...]

    def level(self, probability: float) -> int:
        """The place of the level that a probability belongs to; an edge belongs to the likelier."""
        if not 0 <= probability <= 1:
            raise ValueError(f"probability {probability!r}: between 0 and 1")
        return next((i for i, e in enumerate(self.edges) if probability >= e), len(self.edges))

    def risk(self, severity: int, probability: float) -> str:
        """high, serious, medium or low. Severities count from 1. Raises ValueError."""
        if not 1 <= severity <= len(self.rows):
            raise ValueError(f"severity {severity!r}: from 1 to {len(self.rows)}")
        return RISKS[self.rows[severity - 1][self.level(probability)]]

    def span(self, severity: int, found: Estimate) -> tuple[str, str]:
        """The risk at the lower and at the upper end of an estimated probability."""
        low, high = max(found.low, 0.0), min(found.high, 1.0)
        return self.risk(severity, low), self.risk(severity, high)


STANDARD = Matrix(
    ("catastrophic", "critical", "marginal", "negligible"),
    ("frequent", "probable", "occasional", "remote", "improbable"),
    (1e-1, 1e-2, 1e-3, 1e-6),
    ("HHHSM", "HHSMM", "SSMMM", "MMLLL"),
)
"""MIL-STD-882E (secondary source read). Its sixth level, a hazard that is gone, is left out: no
estimate is ever zero.
"""


def with_edges(edges: tuple[float, ...], where: str, matrix: Matrix = STANDARD) -> Matrix:
    """The matrix with other probabilities between its levels. Raises InputError."""
    needed = len(matrix.levels) - 1
    falling = all(a > b for a, b in pairwise((1.0, *edges, 0.0)))
    if len(edges) != needed or not falling:
        shown = ", ".join(f"{edge:g}" for edge in edges) or "nothing"
        allowed = f"{needed} probabilities between 1 and 0, each below the one before"
        example = ", ".join(f"{edge:g}" for edge in matrix.edges)
        raise refuse(where, f"thresholds {shown}", allowed, todo=f"write them as {example}")
    return Matrix(matrix.severities, matrix.levels, edges, matrix.rows)
