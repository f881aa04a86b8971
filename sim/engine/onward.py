"""A rig that goes on from event to event, each at a time that is said only then.

In: a settled `Base`, a part of it, faults in the order of a `Script` (those of negative time hold
already). Out: the flicks at which each event happened in the run. What repeats itself is not run
through again and again: the run goes on from its second turn, at the same place of a turn, so that
its clock lies behind by whole turns.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.engine.run import Run
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.symmetry import Cone
from sim.faults import Script
from sim.timebase import FOREVER


@dataclass(frozen=True, slots=True)
class Stage:
    """`at`: when (flicks of the run) an event happened; `settled`: from when nothing changed any
    more, or `repeat`: between which flicks the rig repeated itself until the next event.
    """

    at: int
    settled: int
    repeat: tuple[int, int] | None = None


class Onward:
    """One run, event by event."""

    def __init__(self, base: Base, script: Script, within: Cone) -> None:
        early = tuple(fault for fault in script.faults if fault.at < 0)
        assert script.faults[: len(early)] == early, "what holds already comes first"
        self.run = Run(base, script, FOREVER, repeats=True, within=within, planned=False)
        self.at = 0
        self.stages: list[Stage] = []

    def event(self, gap: int, begins: list[int], ends: list[int]) -> None:
        """Faults (by number) that begin and end so many flicks after the event before; without
        any: what stands at the begin of the show.
        """
        run, player = self.run, self.run.player
        target = self.at + gap
        run.work(target)
        if self.stages:
            self._close(player.repeat)
        repeat = player.repeat
        if repeat is not None:
            period = repeat[1] - repeat[0]
            target = repeat[1] + ((target - repeat[1]) % period or period)
        for number in ends:
            player.end_at(target, number)
        for number in begins:
            player.begin_at(target, number)
        if repeat is not None:
            player.go_on()
        self.at = target
        self.stages.append(Stage(target, target))

    def ended(self, gap: int) -> Trace:
        """The end of the show, so many flicks after the last event, and what was recorded."""
        self.run.work(self.at + gap)
        self._close(self.run.player.repeat)
        return self.run.trace()

    def _close(self, repeat: tuple[int, int] | None) -> None:
        last = self.stages[-1]
        self.stages[-1] = Stage(last.at, max(self.run.now, last.at), repeat)
