"""A rig that goes on from event to event, each at a time that is said only then.

In: a settled `Base`, a part of it, faults in the order of a `Script` (those of negative time hold
already). Out: stages of the run. What repeats itself is not run through again and again: whole
turns are left out, so that the run's clock lies behind that of the show by as much. That something
is held up for a time meanwhile (a UPS) is no hindrance: as much is left of that time as there would
be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.engine.run import Run
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.symmetry import Cone
from sim.faults import Script
from sim.timebase import FOREVER


@dataclass(frozen=True, slots=True)
class Stage:
    """`at`: flick of the run at which it begins, `when`: flick of the show; `repeat`: between which
    flicks of the run it repeats itself until the next stage.
    """

    at: int
    when: int
    repeat: tuple[int, int] | None = None


class Onward:
    """One run, event by event."""

    def __init__(self, base: Base, script: Script, within: Cone) -> None:
        early = tuple(fault for fault in script.faults if fault.at < 0)
        assert script.faults[: len(early)] == early, "what holds already comes first"
        self.run = Run(base, script, FOREVER, repeats=True, within=within, planned=False)
        self.run.player.masks = True
        self.lag = 0
        self.stages: list[Stage] = []

    def event(self, when: int, begins: Sequence[int], ends: Sequence[int]) -> None:
        """Faults (by number) that begin and end at a flick of the show, not before the last event;
        without any: what stands then.
        """
        self._advance(when)
        at = when - self.lag
        for number in ends:
            self.run.player.end_at(at, number)
        for number in begins:
            self.run.player.begin_at(at, number)
        self.stages.append(Stage(at, when))

    def ended(self, when: int) -> Trace:
        """The end of the show, and what was recorded; nothing happens after it."""
        self._advance(when)
        trace = self.run.trace()
        self.run.let_go()
        return trace

    def _advance(self, when: int) -> None:
        """Work through all that is due before a flick of the show."""
        player = self.run.player
        self.run.work(when - self.lag)
        while player.repeat is not None:
            self._leave_out(player.repeat, when - self.lag, player.held_until)
            player.go_on()
            self.run.work(when - self.lag)

    def _leave_out(self, repeat: tuple[int, int], target: int, held_until: int) -> None:
        """As many whole turns as end before the target, and before anything held up falls."""
        now, period = repeat[1], repeat[1] - repeat[0]
        turns = (min(target, held_until) - now - 1) // period
        if turns < 1:
            return
        last = self.stages[-1]
        self.stages[-1] = Stage(last.at, last.when, repeat)
        self.lag += turns * period
        self.stages.append(Stage(now, now + self.lag))
        self.run.player.hasten(turns * period)
