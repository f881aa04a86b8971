"""Tales of events one after the other, told by the engine and remembered.

In: a `Laboratory`, the hazards of a rig, what is asked. Out: frozen `Tale`s, and how far the events
of a story spread (`Spreading`); times are flicks.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence

from sim.faults import Fault
from sim.risk.channels import Asked
from sim.risk.events import (
    LONG,
    NOTHING,
    Event,
    Piece,
    Struck,
    Tale,
    Turn,
    as_one,
    moved,
    ordered,
    since,
    times,
)
from sim.risk.hazards import Hazard
from sim.risk.once import told_once
from sim.risk.profile import Profile, profile
from sim.study.laboratory import Laboratory
from sim.study.ripple import Ripple, Ripples, Spreading
from sim.study.shown import shown

MOST_KEPT, MOST_TALES = 300, 50_000
"""Casts, and tales of several events, that are remembered at a time."""
MANY = 3
"""So many events of a part of a show, and its story is not remembered."""
Story = tuple[Turn, ...]
Told = tuple[list[Piece], Spreading]
NOWHERE = Spreading(Ripple(), Ripple())


class Telling:
    """One rig's tales."""

    def __init__(self, laboratory: Laboratory, hazards: Sequence[Hazard], asked: Asked) -> None:
        self.laboratory = laboratory
        self.hazards = tuple(hazards)
        self.strikes = [as_one(hazard) for hazard in hazards]
        self.asked = asked
        self.ripples = Ripples(laboratory)
        self.tales: dict[Story, Tale] = {}
        self.latest: tuple[list[Struck], Told] = ([], ([], NOWHERE))

    def alone(self, hazard: int) -> Profile:
        """What a hazard does by itself, never mended."""
        return self.tale((((hazard, True, 0), None),)).added

    def mended(self, hazard: int) -> Profile:
        """What its end adds when it had settled, from its end on."""
        return self.tale((((hazard, True, 0), None), ((hazard, False, 0), None))).added

    # ---- parts of a show

    def played(self, part: Sequence[Struck]) -> list[Piece]:
        """What each event of a part of a show adds, with when it happens."""
        if not self.strikes_anything(part):
            return []
        if self.is_long(part):
            return self._at_length(part)[0]
        return [(at, self.tale(story).added) for at, story in self._stories(part)]

    def spread_of(self, part: Sequence[Struck]) -> Spreading:
        """How far a part of a show spreads."""
        if self.is_long(part):
            return self._at_length(part)[1]
        return self.spreading(self._stories(part)[-1][1])

    def key(self, part: Sequence[Struck]) -> Hashable:
        """Equal for parts of shows that go alike."""
        return tuple(part) if self.is_long(part) else self._stories(part)[-1][1]

    def strikes_anything(self, part: Sequence[Struck]) -> bool:
        """Whether anything is struck (and not only changeovers fail that nobody calls on)."""
        return any(self.strikes[each.hazard].faults for each in part)

    def is_long(self, part: Sequence[Struck]) -> bool:
        """Whether a part has so many events that it will hardly be met again."""
        early = {each.begin < 0 for each in part}
        later = sum(len(times(each)) - (each.begin < 0) for each in part)
        return later + (True in early) >= MANY

    def _at_length(self, part: Sequence[Struck]) -> Told:
        if self.latest[0] != part:
            self.latest = list(part), self._once(part)
        return self.latest[1]

    def _once(self, part: Sequence[Struck]) -> Told:
        known = self.laboratory, self.ripples, self.asked, self.hazards, self.strikes
        return told_once(*known, part)

    def _stories(self, part: Sequence[Struck]) -> list[tuple[int, Story]]:
        """For each event of a part of a show when it happens, and the story up to it; what was
        there before the show is one event.
        """
        order, found = ordered(part), list[tuple[int, Story]]()
        story: Story = ()
        before = Tale(NOTHING, 0, -1)
        for number, (at, event) in enumerate(order):
            gap = at - order[number - 1][0] if number else LONG
            after = None if self.before(event) else since(before, gap)
            story = (*story, (event, after))
            more = order[number + 1 : number + 2]
            if self.before(event) and more and self.before(more[0][1]):
                continue
            before = self.tale(story)
            found.append((at, story))
        return found

    def tale(self, story: Story) -> Tale:
        """What the last event of a story adds."""
        if story not in self.tales:
            if len(self.tales) > MOST_TALES + 2 * len(self.hazards):
                self.tales = {told: tale for told, tale in self.tales.items() if len(told) < 2}
            self.tales[story] = self._told(story)
        return self.tales[story]

    def spreading(self, story: Story) -> Spreading:
        """How far a story spreads."""
        faults, failing = self._script(self._times(story))
        things = (*(fault.thing for fault in faults), *failing)
        cast = self.laboratory.cast(things)
        found = self.laboratory.settle(cast, faults, "typical", failing)
        modes = {fault.mode for fault in faults}
        over = all(fault.ends for fault in faults) and not (failing or found.pending)
        ever = self.ripples.ever(cast, found, modes)
        return Spreading(ever, self.ripples.standing(cast, found, modes, over))

    def _told(self, story: Story) -> Tale:
        times = self._times(story)
        at = times[-1][0]
        faults, failing = self._script(times)
        once = any(gap is not None for _, gap in story)
        seen = shown(self.laboratory, faults, failing, once)
        if len(self.laboratory.casts) > len(self.hazards) + MOST_KEPT:
            self.laboratory.forget({strike.struck for strike in self.strikes})
        added = profile(seen, self.asked, self.laboratory.group.audience, at)
        return Tale(added, at, at + (added.settled if added.repeat is None else added.repeat[0]))

    def _times(self, story: Story) -> list[tuple[int, Event]]:
        """When each event happens: so long after the one before, or when that has settled."""
        at, times = 0, []
        for number, (event, gap) in enumerate(story):
            if number and not self.before(event):
                before = self.tale(story[:number])
                at = before.settled + 1 if gap is None else before.at + gap
            times.append((at, event))
        return times

    def before(self, event: Event) -> bool:
        """Whether an event was there before the show."""
        return event[1] and self.hazards[event[0]].early

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
