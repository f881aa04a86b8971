"""What the cabinets of a group show in run after run, read once for all that show the same.

In: a rig, one of its groups, the pictures of its carriers while nothing is wrong. Out: lines and
`Reading`s, times in flicks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.engine.signal import Kept, Signal, Trace, cabinet_line
from sim.rig.topology import Group, Rig
from sim.study.effects import LIT, Key, Line, Reading, read
from sim.study.mirrors import Kind
from sim.study.settled import Settled

Pictures = Mapping[str, Sequence[tuple[int, Kept]]]


class Showing:
    """One group, asked about run after run."""

    def __init__(self, rig: Rig, group: Group, still: Pictures) -> None:
        self.rig, self.group, self.still = rig, group, still
        self.readings: dict[Key, Reading] = {}

    def line(self, trace: Trace, shown: Sequence[tuple[int, Signal]], stack: int) -> Line:
        """What is seen of a stack on a cabinet that shows these signals."""
        wanted = trace.wanted[self.group.name]
        return tuple(cabinet_line(self.group.stacks[stack], shown, trace.pictures, wanted))

    def of(self, found: Settled, kind: Kind, stack: int) -> Reading:
        """What one kind of cabinet shows in a run, or one that notices nothing of it: its carrier
        (which shows the same in every run that leaves its picture as it was).
        """
        where: Key = (found.number, kind, stack)
        if isinstance(kind, str) and self._is_still(found.trace, kind):
            where = ("still", kind, stack, found.trace.repeat, found.drops)
        if where not in self.readings:
            shown = [(0, (LIT, kind))] if isinstance(kind, str) else found.shown[kind]
            self.readings[where] = self.read(found, self.line(found.trace, shown, stack))
        return self.readings[where]

    def read(self, found: Settled, line: Line) -> Reading:
        """A line of a run, read."""
        return read(line, self.rig.frame, self.rig.length, found.trace.repeat, found.drops)

    def _is_still(self, trace: Trace, carrier: str) -> bool:
        """Whether the picture of a carrier, and what is wanted, stay as they were."""
        wanted = len(trace.wanted[self.group.name]) == 1
        return wanted and (not carrier or trace.pictures[carrier] == self.still[carrier])

    def forget(self) -> None:
        """Nothing that was read is kept."""
        self.readings.clear()
