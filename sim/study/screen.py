"""The walls of a group as something to be watched: spots, what is counted, frames of what is shown.

In: a `Canvas`, the lines (flicks, quality) that spots show where they are not lit all the time.
Out: courses (what spots show, frame by frame) and frames by state for each target. A *spot* is a
patch of the walls (one cabinet's cells with one stack of layers), known by its number in `spots`.
Frames are counted from an `origin` (a frame of the show; 0 is its first).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sim.study.effects import Canvas, Line, Patch
from sim.study.ledger import Frames, frames_by_state, frames_in_states, worst_line
from sim.study.mirrors import views_of

Course = tuple[tuple[int, int], ...]
"""Steps (frame, state as in `STATES`, 5 lit); the first frame is 0."""
Shown = Mapping[int, Line]
"""Spots that are not lit all the time, with their lines."""


@dataclass(frozen=True, slots=True)
class Target:
    """What frames are counted for: the group, a wall, a region, or those who see several walls of
    a mirrored picture (a view), with the spots that it touches.
    """

    kind: str
    name: str
    spots: tuple[int, ...]


def spots(canvas: Canvas) -> tuple[Patch, ...]:
    """The patches of a group in the order in which spots are numbered."""
    return tuple(patch for patches in canvas.patches.values() for patch in patches)


def targets(canvas: Canvas) -> tuple[Target, ...]:
    """What frames are counted for, the group first."""
    return tuple(_targets(canvas))


def _targets(canvas: Canvas) -> Iterator[Target]:
    every = tuple(enumerate(spots(canvas)))
    yield Target("group", canvas.group.name, tuple(n for n, _ in every))
    for wall in canvas.group.walls:
        yield Target("wall", wall, tuple(n for n, patch in every if patch.wall == wall))
    for region in canvas.group.regions:
        inside = (n for n, patch in every if region.name in dict(patch.regions))
        yield Target("region", region.name, tuple(inside))
    for name, walls in views_of(canvas.group).items():
        yield Target("view", name, tuple(n for n, patch in every if patch.wall in walls))


class Screen:
    """The walls of one group; remembers what lines come to."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.spots = spots(canvas)
        self.targets = targets(canvas)
        self.frame, self.length = canvas.frame, canvas.length
        self.spot_of: dict[str, list[tuple[int, int]]] = {}
        for number, patch in enumerate(self.spots):
            self.spot_of.setdefault(patch.cabinet, []).append((number, patch.stack))
        self.within: dict[int, list[int]] = {number: [] for number in range(len(self.spots))}
        for place, target in enumerate(self.targets):
            for number in target.spots if target.kind != "view" else ():
                self.within[number].append(place)
        self.counted: dict[tuple[frozenset[Line], int], Frames] = {}
        self.cut: dict[tuple[Line, int], Course] = {}

    def frames_left(self, origin: int) -> int:
        """Whole frames from the origin to the end of the show."""
        return self.length // self.frame - origin

    def courses(
        self, shown: Shown, end: int, origin: int = 0
    ) -> tuple[tuple[Course, tuple[int, ...]], ...]:
        """What spots show in the `end` frames from the origin on, those that show the same
        together.
        """
        alike: dict[Course, list[int]] = {}
        for number, line in self._from(shown, origin).items():
            if (line, end) not in self.cut:
                self.cut[line, end] = course(line, self.frame, end)
            alike.setdefault(self.cut[line, end], []).append(number)
        return tuple((made, tuple(numbers)) for made, numbers in alike.items())

    def played(self, shown: Shown, end: int, origin: int = 0) -> tuple[tuple[int, Frames], ...]:
        """For each target that loses something the `end` frames from the origin on, by the worst
        state of any spot of it.
        """
        there: dict[int, set[Line]] = {}
        for number, line in self._from(shown, origin).items():
            for place in self.within[number]:
                there.setdefault(place, set()).add(line)
        return tuple((place, self._count(lines, end)) for place, lines in sorted(there.items()))

    def _count(self, lines: set[Line], end: int) -> Frames:
        key = (frozenset(lines), end)
        if key not in self.counted:
            whole = end * self.frame
            self.counted[key] = frames_by_state(worst_line(sorted(lines)), self.frame, whole)
        return self.counted[key]

    def _from(self, shown: Shown, origin: int) -> Shown:
        if not origin:
            return shown
        return {number: _later(line, origin * self.frame) for number, line in shown.items()}


def _later(line: Line, begin: int) -> Line:
    """A line from an instant on, counted from there."""
    now = next(quality for at, quality in reversed(line) if at <= begin)
    return ((0, now), *((at - begin, quality) for at, quality in line if at > begin))


def course(line: Line, frame: int, end: int) -> Course:
    """A line (flicks, quality) as steps of whole frames, from frame 0 to `end`."""
    spans = frames_in_states(line, frame, end * frame)
    return tuple(sorted((start, state) for state, of in enumerate(spans) for start, _ in of))
