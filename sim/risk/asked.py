"""What a study of the risk of a show is asked for.

In: nothing. Out: a frozen `RiskAsked`, which the command line fills.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RiskAsked:
    """What a study is asked for: one `topology` by its label ("" all of the group), the seed, how
    many shows at most, the first look among them (None: the usual budget), the standard error to
    stop at as a part of the value (None: the usual one), `workers`: processes (0: as many as there
    are cores), `plain` sampling instead of strata, to hold the two against each other.
    """

    topology: str = ""
    seed: int = 1
    shows: int | None = None
    precision: float | None = None
    workers: int = 0
    plain: bool = False
