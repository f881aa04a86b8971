"""What one single fault does to a wall group, under all-least, typical and all-most timings.

In: a `Strike`, an `Effect` for each corner, the races. Out: a frozen `Outcome` with its verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sim.study.effects import Effect
from sim.study.races import Race
from sim.study.strikes import Strike

CORNERS = ("all-least", "typical", "all-most")
VERDICTS = ("lasting", "blink", "unseen")
"""Worst first."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a strike does, by corner. `effects` has all three corners, equal ones where no timing
    matters; `distinct`: one of them for all corners that share it.

    `races`: pairs of protections whose order depends on where in their ranges they lie; then the
    span between the corners is no bound; `slowest` is then the sum of all waits and changeovers
    that take part, each at its most (flicks).
    """

    strike: Strike
    effects: Mapping[str, Effect]
    races: tuple[Race, ...] = ()
    slowest: int = 0
    distinct: tuple[Effect, ...] = field(init=False, compare=False)

    def of(self, strike: Strike) -> Outcome:
        """The same for a strike that does the same."""
        made = object.__new__(Outcome)
        for name in ("effects", "races", "slowest", "distinct"):
            object.__setattr__(made, name, getattr(self, name))
        object.__setattr__(made, "strike", strike)
        return made

    @property
    def typical(self) -> Effect:
        return self.effects["typical"]

    def __post_init__(self) -> None:
        apart = {id(effect): effect for effect in self.effects.values()}
        object.__setattr__(self, "distinct", tuple(apart.values()))

    @property
    def verdict(self) -> str:
        """lasting, blink or unseen: the worst of the corners."""
        found = {effect.verdict for effect in self.distinct}
        return next(verdict for verdict in VERDICTS if verdict in found)

    @property
    def settled(self) -> bool:
        """Whether no timer is left that had not run out when the show ended."""
        return not any(e.pending for e in self.distinct)

    def frames(self, state: int = 0) -> tuple[int, int]:
        """Least and most frames in a state of the cell that is in it longest, over phase and
        timing range.
        """
        spans = [effect.longest(state) for effect in self.distinct]
        return min(least for least, _ in spans), max(most for _, most in spans)

    def lost_frames(self) -> tuple[int, int]:
        """The same for frames in which the worst cell is not lit, in whatever state."""
        spans = [effect.lost_frames for effect in self.distinct]
        return min(least for least, _ in spans), max(most for _, most in spans)
