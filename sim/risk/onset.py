"""When in a show a hazard strikes: the chance that it has by an instant, and that chance summed.

In: a `Hazard` with a Weibull shape. Out: an `Onset`, whose functions take flicks of the show, as
arrays, to chances from 0 to 1, and to flicks.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import expm1, log1p

import numpy as np

from sim.risk.streams import Floats
from sim.risk.striking import Hazard
from sim.study.strikes import HOUR

SERIES = 1e-3
"""Up to this part of the age the sum is a series, which loses no digits."""


@dataclass(frozen=True, slots=True)
class Onset:
    """Given that it strikes in a show of `length` flicks: by its cumulative hazard, Weibull's of
    `shape` from `age` (flicks) on, as `striking.position` draws it.
    """

    length: int
    shape: float
    age: float = 0.0

    def by(self, at: Floats) -> Floats:
        """The chance that it has struck by these flicks; 0 before the show, 1 after it."""
        inside = np.clip(at, 0.0, float(self.length))
        if self.age:
            return np.expm1(self.shape * np.log1p(inside / self.age)) / self._grown
        chance: Floats = (inside / self.length) ** self.shape
        return chance

    @property
    def _grown(self) -> float:
        """How much the cumulative hazard grows in the show, in parts of what it was before."""
        return expm1(self.shape * log1p(self.length / self.age))

    def summed(self, at: Floats) -> Floats:
        """The integral of `by` from the begin of the show (flicks)."""
        inside, k = np.clip(at, 0.0, float(self.length)), self.shape
        if not self.age:
            whole: Floats = self.length * (inside / self.length) ** (k + 1) / (k + 1)
            return whole
        part = inside / self.age
        far = np.expm1((k + 1) * np.log1p(part)) / (k + 1) - part
        near = 1 + (k - 1) * part / 3 * (1 + (k - 2) * part / 4 * (1 + (k - 3) * part / 5))
        sums = np.where(part < SERIES, k * part**2 / 2 * near, far)
        return self.age / self._grown * sums


def onset_of(hazard: Hazard, length: int) -> Onset | None:
    """When it strikes in a show of `length` flicks; None: at any time alike, or before the show."""
    if hazard.early or hazard.shape == 1:
        return None
    return Onset(length, hazard.shape, hazard.age * HOUR)
