"""Rates learnt from an owner's records, beside the placeholders that the program ships.

In: frozen `Record`s and the name of their table. Out: a frozen `OwnRates`, per hour or per demand,
with 90 % intervals. Hours are hours in use.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sim.reliability.estimates import Estimate
from sim.reliability.learned import Learned, learn
from sim.reliability.posterior import GammaRate, error_factor
from sim.reliability.recorded import Record
from sim.rig.placeholders import RATES

WITHIN, ABOVE, BELOW = "within", "above", "below"
GAMMA, BETA = "Gamma-Poisson", "Beta-binomial"
SURE = 0.95
"""How sure it is that a rate lies below the upper end of its 90 % interval."""


@dataclass(frozen=True, slots=True)
class RateRow:
    """One rate of the records: its posterior mean with the 90 % interval, its error factor, and the
    placeholder per hour of the same kind and mode; None for chances on demand.
    """

    learned: Learned
    found: Estimate
    factor: float
    placeholder: float | None

    @property
    def hourly(self) -> bool:
        return self.learned.key.per == "hour"

    @property
    def seen(self) -> bool:
        return self.learned.failures > 0

    @property
    def method(self) -> str:
        return GAMMA if isinstance(self.learned.known, GammaRate) else BETA

    @property
    def lies(self) -> str:
        """Where the placeholder lies: within, above or below the interval; "" if there is none.

        Where no failure was seen no placeholder is too low: the interval begins at 0.
        """
        if self.placeholder is None:
            return ""
        below = self.seen and self.placeholder < self.found.low
        return BELOW if below else ABOVE if self.placeholder > self.found.high else WITHIN

    @property
    def bound(self) -> Estimate:
        """What is said where no failure was seen: an upper bound, at the level `SURE`."""
        return replace(self.found, value=0.0, low=0.0, level=SURE)


@dataclass(frozen=True, slots=True)
class OwnRates:
    """All that the records say. `silent`: kinds with modes that no row speaks of by the hour, so
    that they stay placeholders; `modes`: how many modes of all kinds there are. An empty `lines`:
    no row holds hours or demands.
    """

    source: str
    rows: int
    things: int
    begins: datetime
    ends: datetime
    lines: tuple[RateRow, ...]
    silent: tuple[tuple[str, str], ...]
    modes: int

    @property
    def outside(self) -> tuple[RateRow, ...]:
        """Those whose placeholder lies outside the interval."""
        return tuple(line for line in self.lines if line.lies in (ABOVE, BELOW))


def own_rates(records: Sequence[Record], source: str) -> OwnRates:
    """What these records (at least one) say; `source` names their table."""
    lines = tuple(_row(one) for one in learn(records))
    spoken = {(line.learned.key.family, line.learned.key.mode) for line in lines if line.hourly}
    return OwnRates(
        source=source,
        rows=len(records),
        things=len({record.thing for record in records}),
        begins=min(record.begins for record in records),
        ends=max(record.ends for record in records),
        lines=lines,
        silent=tuple(key for key in RATES if key not in spoken),
        modes=len(RATES),
    )


def _row(one: Learned) -> RateRow:
    shipped = RATES.get((one.key.family, one.key.mode)) if one.key.per == "hour" else None
    placeholder = None if shipped is None else shipped.per_hour
    return RateRow(one, one.interval(), error_factor(one.known), placeholder)
