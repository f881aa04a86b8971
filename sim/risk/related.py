"""Which events of a show can matter to each other: the unrelated parts of a show.

In: a `Telling`, which hazards concern the group. Out: lists of `Struck`. Two events are related if
some place of the rig would have to see what both of them change, at a time at which both do
(`study.ripple`). Parts of several events spread together: if that is further than each of them
does, what the part meets then becomes a part of it.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import reduce
from operator import or_

from sim.risk.events import Struck, times
from sim.risk.telling import Telling
from sim.study.ripple import Spreading

Part = list[Struck]
MOST_COVERED = 50_000
"""Stories of which it is remembered whether they spread no further than their events."""


class Related:
    """How the events of one rig's shows are related; it remembers how far hazards spread."""

    def __init__(self, telling: Telling, concerned: Sequence[bool]) -> None:
        self.telling = telling
        self.concerned = concerned
        self.silences: dict[int, bool] = {}
        self.spreadings: dict[int, Spreading] = {}
        self.covered: dict[Hashable, bool] = {}

    # ---- two events

    def meet(self, one: Struck, other: Struck) -> bool:
        """Whether two events of a show can matter to each other."""
        if one.hazard == other.hazard:
            return True
        if self.telling.asked.joint and not (self.silent(one.hazard) or self.silent(other.hazard)):
            return True
        first, second = self.spreading(one.hazard), self.spreading(other.hazard)
        if first.reaches(second):
            return True
        return first.ever.meets(second.ever) and self._close(one, other)

    def _close(self, one: Struck, other: Struck) -> bool:
        """Whether something of one may not have settled when something of the other happens."""
        longest = max(self._settling(one), self._settling(other))
        both = [(a, b) for a in times(one) for b in times(other)]
        return any(abs(a - b) <= longest for a, b in both)

    def _settling(self, event: Struck) -> int:
        if not self.telling.strikes[event.hazard].faults:
            return 0
        first = self.telling.alone(event.hazard).settled
        return first if event.end is None else max(first, self.telling.mended(event.hazard).settled)

    # ---- one hazard

    def silent(self, hazard: int) -> bool:
        """Whether a hazard by itself changes nothing, from first to last and after its end."""
        if hazard not in self.silences:
            idle = not self.concerned[hazard] or not self.telling.strikes[hazard].faults
            alone, mended = self.telling.alone, self.telling.mended
            self.silences[hazard] = idle or (alone(hazard).blank and mended(hazard).blank)
        return self.silences[hazard]

    def spreading(self, hazard: int) -> Spreading:
        """How far a hazard by itself spreads, also when it ends."""
        if hazard not in self.spreadings:
            begin, end = ((hazard, True, 0), None), ((hazard, False, 0), None)
            made = self.telling.spreading((begin,))
            if self.telling.strikes[hazard].faults:
                after = self.telling.spreading((begin, end))
                made |= after
            self.spreadings[hazard] = made
        return self.spreadings[hazard]

    # ---- a show

    def parts(self, events: Sequence[Struck]) -> list[Part]:
        """The unrelated parts of a show."""
        parts: list[Part] = []
        for event in events:
            near = [part for part in parts if any(self.meet(event, other) for other in part)]
            joined = [event, *(other for part in near for other in part)]
            parts = [part for part in parts if part not in near] + [joined]
        return self._closed(parts) if len(parts) > 1 else parts

    def _closed(self, parts: list[Part]) -> list[Part]:
        """Parts that stay unrelated when it counts how far each spreads as a whole."""
        for part in parts:
            wider = self._wider(part)
            near = [o for o in parts if wider and o is not part and self._joins(wider, part, o)]
            if near:
                joined = [event for one in (part, *near) for event in one]
                return self._closed([*(o for o in parts if o not in (part, *near)), joined])
        return parts

    def _joins(self, wider: Spreading, part: Part, other: Part) -> bool:
        """Whether a part that spreads so far meets another."""
        against = self._wider(other) or self._each(other)
        if wider.reaches(against):
            return True
        close = any(self._close(a, b) for a in part for b in other)
        return close and wider.ever.meets(against.ever)

    def _each(self, part: Part) -> Spreading:
        """How far the events of a part spread one by one."""
        return reduce(or_, (self.spreading(event.hazard) for event in part))

    def _wider(self, part: Part) -> Spreading | None:
        """How far a part of several events spreads, None if no further than they do one by one."""
        if len(part) < 2 or not self.telling.strikes_anything(part):
            return None
        key = self.telling.key(part)
        if self.covered.get(key, False):
            return None
        made = self.telling.spread_of(part)
        if len(self.covered) > MOST_COVERED:
            self.covered.clear()
        self.covered[key] = made.within(self._each(part))
        return None if self.covered[key] else made
