"""What several faults in one show make of a wall group, by the engine, remembered where it can be.

In: a `Rig`, the name of a group, its `Hazard`s. Out: for the events of a show (which hazard, from
when, until when; flicks) the pieces of each unrelated part of it. Faults that cannot matter to each
other are worked out alone and their areas added; others are played by the engine one after the
other: once for all that look alike where each has settled before the next begins, else as they
come.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sim.faults import Fault
from sim.rig.terms import Terms
from sim.rig.topology import Rig, corner
from sim.risk.channels import Asked, asked, mark_moving
from sim.risk.events import (
    LONG,
    NOTHING,
    Event,
    Piece,
    Struck,
    Tale,
    Turn,
    apart,
    as_one,
    moved,
    ordered,
    since,
    times,
)
from sim.risk.hazards import Hazard
from sim.risk.profile import Profile, profile
from sim.study.laboratory import Laboratory
from sim.study.ripple import Ripple, Ripples
from sim.study.shown import Shown, shown
from sim.study.strikes import Strike

MOST_KEPT, MOST_TALES = 3000, 50_000
"""Casts, and tales of several events, that are remembered at a time."""
__all__ = ["Piece", "Scenes", "Struck", "Tale"]


@dataclass(frozen=True, slots=True)
class Spreading:
    """How far something spreads: all that it ever changes, and what stands otherwise once it has
    settled.
    """

    ever: Ripple
    standing: Ripple


def _is_over(fault: Fault) -> bool:
    return fault.until is not None or fault.mode in ("restart", "drops")


class Scenes:
    """One rig, ready for show after show; it remembers what it has worked out."""

    def __init__(
        self,
        rig: Rig,
        group: str,
        hazards: Sequence[Hazard],
        terms: Terms,
        values: Mapping[str, int] | None = None,
    ) -> None:
        """`values`: one in flicks for each timing; None: all typical."""
        long = replace(rig, length=rig.length * 4)
        given = {"typical": values or corner(rig, "typical")}
        self.laboratory = Laboratory(long, group, given)
        mark_moving(self.laboratory.canvas, rig.groups[group], terms.moving.get(group))
        views = [name for name in self.laboratory.pieces if name in rig.groups[group].audience]
        self.asked: Asked = asked(self.laboratory.canvas, terms, views)
        self.hazards = tuple(hazards)
        self.strikes = [as_one(hazard) for hazard in hazards]
        self.ripples = Ripples(self.laboratory)
        self.concerned = [bool(h.failing) or self._concerns(s) for h, s in self._pairs()]
        self.tales: dict[tuple[Turn, ...], Tale] = {}
        self.meetings: dict[tuple[int, int], tuple[bool, bool]] = {}
        self.silences: dict[int, bool] = {}
        self.spreadings: dict[int, Spreading] = {}

    def _pairs(self) -> zip[tuple[Hazard, Strike]]:
        return zip(self.hazards, self.strikes, strict=True)

    def _concerns(self, strike: Strike) -> bool:
        return bool(strike.faults) and self.laboratory.concerns(strike)

    # ---- one hazard

    def alone(self, hazard: int) -> Profile:
        """What a hazard does by itself, never mended."""
        return self._tale((((hazard, True, 0), None),)).added

    def mended(self, hazard: int) -> Profile:
        """What its end adds when it had settled, from its end on."""
        return self._tale((((hazard, True, 0), None), ((hazard, False, 0), None))).added

    # ---- several

    def pieces(self, events: Sequence[Struck]) -> list[list[Piece]]:
        """The pieces of each unrelated part of a show; what shows nothing is left out."""
        known = apart(each for each in events if self.concerned[each.hazard])
        parts = [self._played(part) for part in self._unrelated(known)]
        return [part for part in parts if part]

    def essential(self, events: Sequence[Struck]) -> Sequence[Struck]:
        """The events without those that show nothing and can matter to no other."""
        if len(events) < 2:
            return events
        silent = [each for each in events if self.silent(each.hazard)]
        if not silent:
            return events
        known = [each for each in events if self.concerned[each.hazard]]
        idle = [
            one
            for one in silent
            if not any(self._meet(one, other) for other in known if other is not one)
        ]
        return [each for each in events if each not in idle]

    def _unrelated(self, events: Sequence[Struck]) -> list[list[Struck]]:
        """The events by whether they can matter to each other, directly or through others."""
        parts: list[list[Struck]] = []
        for event in events:
            near = [part for part in parts if any(self._meet(event, other) for other in part)]
            joined = [event, *(other for part in near for other in part)]
            parts = [part for part in parts if part not in near] + [joined]
        return parts

    def _meet(self, one: Struck, other: Struck) -> bool:
        if one.hazard == other.hazard:
            return True
        if self.asked.joint and not self.silent(one.hazard) and not self.silent(other.hazard):
            return True
        far, near = self._relation(min(one.hazard, other.hazard), max(one.hazard, other.hazard))
        return far or (near and self._close(one, other))

    def _close(self, one: Struck, other: Struck) -> bool:
        """Whether something of one may not have settled when something of the other happens."""
        longest = max(self._settling(one), self._settling(other))
        both = [(a, b) for a in times(one) for b in times(other)]
        return any(abs(a - b) <= longest for a, b in both)

    def _settling(self, event: Struck) -> int:
        if not self.strikes[event.hazard].faults:
            return 0
        first = self.alone(event.hazard).settled
        return first if event.end is None else max(first, self.mended(event.hazard).settled)

    def _relation(self, one: int, other: int) -> tuple[bool, bool]:
        """Whether two hazards can matter to each other once settled, and before."""
        if (one, other) not in self.meetings:
            self.meetings[one, other] = self._related(one, other)
        return self.meetings[one, other]

    def _related(self, one: int, other: int) -> tuple[bool, bool]:
        first, second = self.ripple(one), self.ripple(other)
        if first.standing.meets(second.ever) or first.ever.meets(second.standing):
            return True, True
        return False, first.ever.meets(second.ever)

    def ripple(self, hazard: int) -> Spreading:
        """How far a hazard by itself spreads, from first to last and after its end."""
        if hazard not in self.spreadings:
            self.spreadings[hazard] = self._spreading(hazard)
        return self.spreadings[hazard]

    def _spreading(self, hazard: int) -> Spreading:
        begin, end = (hazard, True, 0), (hazard, False, 0)
        first = self._spread([(0, begin)])
        if not self.strikes[hazard].faults:
            return first
        after = self._spread([(0, begin), (self.alone(hazard).settled + 1, end)])
        return Spreading(first.ever | after.ever, first.standing | after.standing)

    def _spread(self, times: Sequence[tuple[int, Event]]) -> Spreading:
        """How far the events of a story spread."""
        faults, failing = self._script(times)
        cast = self.laboratory.cast((*(fault.thing for fault in faults), *failing))
        modes = [fault.mode for fault in faults] if faults else ["moved"]
        found = self.laboratory.settle(cast, faults, "typical", failing)
        over = bool(faults) and all(_is_over(fault) for fault in faults) and not failing
        made = self.ripples
        return Spreading(
            made.ever(cast, found, modes), made.standing(cast, found, modes, over and not found.pending)
        )

    def silent(self, hazard: int) -> bool:
        """Whether a hazard by itself changes nothing, from first to last and after its end."""
        if hazard not in self.silences:
            idle = not self.concerned[hazard] or not self.strikes[hazard].faults
            blank = idle or (self.alone(hazard).blank and self.mended(hazard).blank)
            self.silences[hazard] = blank
        return self.silences[hazard]

    # ---- playing

    def _played(self, part: Sequence[Struck]) -> list[Piece]:
        """One related part of a show, event by event."""
        order = ordered(part)
        if not any(self.strikes[hazard].faults for _, (hazard, _, _) in order):
            return []
        made: list[Piece] = []
        story: tuple[Turn, ...] = ()
        before = Tale(NOTHING, 0, -1)
        for number, (at, event) in enumerate(order):
            gap = at - order[number - 1][0] if number else LONG
            after = None if self._before(event) else since(before, gap)
            story = (*story, (event, after))
            more = order[number + 1 : number + 2]
            if self._before(event) and more and self._before(more[0][1]):
                continue
            before = self._tale(story)
            made.append((at, before.added))
        return made

    def _tale(self, story: tuple[Turn, ...]) -> Tale:
        if story not in self.tales:
            if len(self.tales) > MOST_TALES + 2 * len(self.hazards):
                self.tales = {told: tale for told, tale in self.tales.items() if len(told) < 2}
            self.tales[story] = self._told(story)
        return self.tales[story]

    def _forget(self) -> None:
        """Keep the parts of the rig that single hazards reach, and drop the rest."""
        self.laboratory.forget({strike.struck for strike in self.strikes})

    def _told(self, story: tuple[Turn, ...]) -> Tale:
        """The events of a story, each so long after the one before, or when that has settled."""
        at, times = 0, []
        for number, (event, gap) in enumerate(story):
            if number and not self._before(event):
                before = self._tale(story[:number])
                at = before.settled + 1 if gap is None else before.at + gap
            times.append((at, event))
        once = any(gap is not None for _, gap in story)
        seen = self._shown(times, once)
        added = self._profile(seen, at)
        return Tale(added, at, at + (added.settled if added.repeat is None else added.repeat[0]))

    def _before(self, event: Event) -> bool:
        """Whether an event was there before the show."""
        return event[1] and self.hazards[event[0]].early

    def _shown(self, times: Sequence[tuple[int, Event]], once: bool = False) -> Shown:
        faults, failing = self._script(times)
        seen = shown(self.laboratory, faults, failing, once)
        if len(self.laboratory.casts) > 2 * len(self.hazards) + MOST_KEPT:
            self._forget()
        return seen

    def _script(self, times: Sequence[tuple[int, Event]]) -> tuple[list[Fault], list[str]]:
        faults: list[Fault] = []
        failing: dict[str, None] = {}
        for place, (at, (hazard, begins, turn)) in enumerate(times):
            if not begins:
                continue
            failing.update(dict.fromkeys(self.hazards[hazard].failing))
            ends = [t for t, event in times[place:] if event == (hazard, False, turn)]
            until = ends[0] if ends else None
            begin = -1 if self.hazards[hazard].early else at
            faults += [moved(fault, begin, until) for fault in self.strikes[hazard].faults]
        return faults, list(failing)

    def _profile(self, seen: Shown, event: int) -> Profile:
        return profile(seen, self.asked, self.laboratory.group.audience, event)
