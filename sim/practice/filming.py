"""What a camera before the walls would count of a pull: while it is pulled, and once it is back.

In: a frozen `Rig`, traces of whole runs with the pull at time 0. Out: lines (flicks, quality) of
walls and regions, each at its worst place; frozen `Filmed`: what to film, in which state it is, for
how many frames of the show, least to most over the phase and the corners of the timings.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from sim.engine.signal import Trace
from sim.faults import Quality
from sim.rig.topology import Rig
from sim.study.effects import STATES, Canvas, Line, state_of
from sim.study.flashing import MOST, QUARTER, flashes
from sim.study.injection import shown_on
from sim.study.ledger import over_phase, worst_line
from sim.study.outcome import CORNERS
from sim.timebase import FOREVER

SEEN = int(Quality.FROZEN)
"""The best quality that a camera before a wall can tell from a good picture."""


class Span(NamedTuple):
    """Frames of the show: least and most over phase and corners, the mean at typical timings."""

    least: int
    typical: Fraction
    most: int


NOTHING = Span(0, Fraction(0), 0)


@dataclass(frozen=True, slots=True)
class Filmed:
    """`target`: the wall or region to film; `state` it is worst in ("" if it stays lit), on at most
    `part` of it; `pulled`, `back`: frames in that state while it is pulled and once it is put back
    (None: it stays so, or is not put back); `lasting`: the state stays until it is put back.

    `seen`: all walls and regions that are not always lit, with their worst states, and whether some
    of it stays until it is put back; `box`: first and last row and column (from 1) of the cabinets
    of the target that are not always lit (None: all are).
    """

    target: str
    group: str
    state: str = ""
    part: Fraction = Fraction(0)
    pulled: Span | None = NOTHING
    back: Span | None = NOTHING
    lasting: bool = False
    seen: tuple[tuple[str, str, bool], ...] = ()
    box: tuple[int, int, int, int] | None = None


class Walls:
    """The walls and regions of a rig, ready for trace after trace."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.canvases = {name: Canvas(rig, group) for name, group in rig.groups.items()}
        self.targets = {
            name: canvas.group.name
            for canvas in self.canvases.values()
            for name in (*canvas.walls, *canvas.regions)
        }

    def areas(self, trace: Trace) -> dict[str, list[tuple[Line, int]]]:
        """The lines that each wall and region shows, each with its pixels."""
        found: dict[str, list[tuple[Line, int]]] = {name: [] for name in self.targets}
        for canvas in self.canvases.values():
            for patch, line in shown_on(canvas, trace):
                for name, area in ((patch.wall, patch.area), *patch.regions):
                    found[name].append((line, area))
        return found

    def lines(self, trace: Trace) -> dict[str, Line]:
        """Each wall and region at the worst of its places."""
        return {
            name: tuple(worst_line(dict.fromkeys(line for line, _ in of)))
            for name, of in self.areas(trace).items()
        }

    def box(self, traces: Iterable[Trace], target: str) -> tuple[int, int, int, int] | None:
        """Within which rows and columns of its wall (from 1) a target is ever seen not lit."""
        canvas, cabinets = self.canvases[self.targets[target]], self.rig.cabinets
        found = {
            patch.cabinet
            for trace in traces
            for patch, line in shown_on(canvas, trace)
            if min(q for _, q in line) <= SEEN
            and (target == patch.wall or any(target == name for name, _ in patch.regions))
        }
        if not found:
            return None
        rows = [cabinets[name].row + 1 for name in found]
        columns = [cabinets[name].column + 1 for name in found]
        return min(rows), max(rows), min(columns), max(columns)

    def flash(self, trace: Trace) -> tuple[bool, bool]:
        """Whether a group flashes more often than the limits allow; whether a quarter blinks."""
        most = 0
        for canvas in self.canvases.values():
            areas = [(line, patch.area) for patch, line in shown_on(canvas, trace)]
            most = max(most, flashes(areas, canvas.area))
        return most > MOST, most > 0


def parted(line: Line, hold: int | None) -> tuple[Line, Line, int]:
    """A line while it is pulled and, with time from then, once it is put back; what was before."""
    if hold is None:
        return line, (), int(Quality.GOOD)
    pulled = tuple(step for step in line if step[0] < hold)
    return pulled, tuple((at - hold, q) for at, q in line if at >= hold), pulled[-1][1]


def time_at(line: Line, quality: int) -> int:
    """Flicks for which a line is no better than this; FOREVER if it ends so."""
    if line and line[-1][1] <= quality:
        return FOREVER
    ends = [at for at, _ in line[1:]]
    return sum(b - a for (a, q), b in zip(line, ends, strict=False) if q <= quality)


def outages(line: Line, quality: int) -> int:
    """How many times a line becomes no better than this."""
    bad = [q <= quality for _, q in line]
    return sum(now and not before for before, now in zip([False, *bad], bad, strict=False))


Cornered = Mapping[str, Mapping[str, Line]]
"""By corner, the line of each target."""


def film(walls: Walls, cornered: Cornered, traces: Mapping[str, Trace], hold: int | None) -> Filmed:
    """What to film: what comes back by itself first, then what is away for longest."""
    best: tuple[tuple[bool, int], Filmed] | None = None
    for name, group in walls.targets.items():
        lines = {which: cornered[which][name] for which in CORNERS}
        worst = min(q for line in lines.values() for _, q in line)
        if worst > SEEN:
            continue
        lasting = any(_stays(parted(line, hold)) for line in lines.values())
        key = (not lasting, max(_away(line, worst) for line in lines.values()))
        if best is None or key > best[0]:
            best = key, _filmed(walls, name, group, lines, hold, lasting)
    if best is None:
        name, group = next(iter(walls.targets.items()))
        return Filmed(name, group, back=None if hold is None else NOTHING)
    return _with_part(walls, best[1], traces, cornered, hold)


def _stays(parts: tuple[Line, Line, int]) -> bool:
    pulled, back, _ = parts
    return pulled[-1][1] <= SEEN or bool(back and back[-1][1] <= SEEN)


def _away(line: Line, quality: int) -> int:
    return min(time_at(line, quality), FOREVER)


def _filmed(
    walls: Walls, name: str, group: str, lines: Mapping[str, Line], hold: int | None, lasting: bool
) -> Filmed:
    state = state_of(min(q for line in lines.values() for _, q in line))
    if lasting:
        return Filmed(name, group, STATES[state], pulled=None, back=None, lasting=True)
    frame = walls.rig.frame
    parts = {which: parted(line, hold) for which, line in lines.items()}
    first = {which: (pulled, int(Quality.GOOD)) for which, (pulled, _, _) in parts.items()}
    then = {which: (back, before) for which, (_, back, before) in parts.items()}
    back = None if hold is None else _span(then, frame, state)
    return Filmed(name, group, STATES[state], pulled=_span(first, frame, state), back=back)


def _span(parts: Mapping[str, tuple[Line, int]], frame: int, state: int) -> Span:
    counts = {which: over_phase(line, frame, q) for which, (line, q) in parts.items() if line}
    if not counts:
        return NOTHING
    every = [NOTHING] if len(counts) < len(parts) else []
    least = min([c.least[state] for c in counts.values()] + [s.least for s in every])
    typical = counts["typical"].mean[state] if "typical" in counts else Fraction(0)
    return Span(least, typical, max(c.most[state] for c in counts.values()))


def _with_part(
    walls: Walls,
    made: Filmed,
    traces: Mapping[str, Trace],
    cornered: Cornered,
    hold: int | None,
) -> Filmed:
    """With the greatest part of the target in its state at one instant, and where all is seen."""
    quality = STATES.index(made.state) + 1
    parts = [_greatest(walls.areas(trace)[made.target], quality) for trace in traces.values()]
    box = walls.box(traces.values(), made.target)
    return replace(made, part=max(parts), seen=tuple(_seen(cornered, hold)), box=box)


def _seen(cornered: Cornered, hold: int | None) -> Iterator[tuple[str, str, bool]]:
    """Every wall and region that is not always lit, its worst state, whether it stays for long."""
    for name in cornered["typical"]:
        lines = [of[name] for of in cornered.values()]
        worst = min(q for line in lines for _, q in line)
        if worst <= SEEN:
            yield name, STATES[state_of(worst)], any(_stays(parted(line, hold)) for line in lines)


def _greatest(areas: Sequence[tuple[Line, int]], quality: int) -> Fraction:
    changes: dict[int, int] = {}
    for at, by in _changes(areas, quality):
        changes[at] = changes.get(at, 0) + by
    now = most = 0
    for at in sorted(changes):
        now += changes[at]
        most = max(most, now)
    return Fraction(most, sum(area for _, area in areas))


def _changes(areas: Sequence[tuple[Line, int]], quality: int) -> Iterator[tuple[int, int]]:
    for line, area in areas:
        bad = False
        for at, q in line:
            if (q <= quality) != bad:
                bad = not bad
                yield at, area if bad else -area


__all__ = [
    "NOTHING", "QUARTER", "SEEN", "Filmed", "Span", "Walls", "film", "outages", "parted", "time_at",
]  # fmt: skip
