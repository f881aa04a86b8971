"""One script on one rig, told in full: who noticed what, what every region lost, the wall at its
worst and when the show ends.

In: a `Rig`, a `Script`, one choice of timings. Out: a frozen `Injection`. Frames are whole frames
of the show, by number from 0; shares are parts of the pixels of a wall, region or group.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.engine.signal import Note, Trace, cabinet_line
from sim.engine.through import run_through
from sim.faults import Script
from sim.rig.topology import Group, Rig, corner
from sim.study.effects import STATES, Canvas, Line, Patch, state_of
from sim.study.flashing import flashes
from sim.study.ledger import Frames, frames_by_state, frames_in_states, worst_line
from sim.study.mirrors import best_of, pieces, views_of

LETTERS = "DCWFU."
"""Dark, corrupt, wrong, frozen, unlocked, lit; small letters: only part of the cabinet."""


@dataclass(frozen=True, slots=True)
class Toll:
    """What one wall, region, view or group lost.

    `frames` counts each frame once, at the worst state that any of it has then; `worst` is the
    greatest share in each state at one instant, `end` the share in each at the end of the show
    (lit left out); `first` and `last` are the numbers of the first and last frame that is not lit
    everywhere (None: none is); `at_end` whether some is not lit at the end.
    """

    kind: str
    name: str
    group: str
    frames: Frames
    worst: Mapping[str, Fraction]
    first: int | None
    last: int | None
    at_end: bool
    end: Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class WallMoment:
    """A wall at one instant: a letter for each cabinet, row by row."""

    wall: str
    group: str
    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Injection:
    """`worst_at` (flicks) is the first instant at which most pixels are not lit, dark ones counted
    first; `moment` shows the walls then, `at_end` when the show ends; `changed_at` (flicks) is the
    last instant at which any pixel changed, 0 if none did.
    """

    corner: str
    notes: tuple[Note, ...]
    tolls: tuple[Toll, ...]
    worst_at: int
    moment: tuple[WallMoment, ...]
    changed_at: int
    at_end: tuple[WallMoment, ...]
    pending: tuple[Note, ...]
    flashes: int


Shown = Sequence[tuple[Patch, Line]]
"""Every patch of a group with its line."""
Areas = list[tuple[Line, int]]


def inject(rig: Rig, script: Script, which: str = "typical") -> Injection:
    """Run a script from time 0 to the end of the show, with all timings at one corner."""
    return told(rig, ran(rig, script, which), which)


def ran(rig: Rig, script: Script, which: str = "typical") -> Trace:
    """The run itself."""
    return run_through(rig, script, corner(rig, which), rig.length)


def told(rig: Rig, trace: Trace, which: str = "typical") -> Injection:
    """A run from time 0 to the end of the show, told in full."""
    shown = {name: shown_on(Canvas(rig, group), trace) for name, group in rig.groups.items()}
    everything = [(line, patch.area) for of in shown.values() for patch, line in of]
    worst_at = _worst_instant(everything)
    return Injection(
        corner=which,
        notes=tuple(trace.notes),
        tolls=tuple(
            t for name, group in rig.groups.items() for t in _tolls(rig, group, shown[name])
        ),
        worst_at=worst_at,
        moment=_moments(rig, shown, worst_at),
        changed_at=max((at for line, _ in everything for at, _ in line), default=0),
        at_end=_moments(rig, shown, rig.length),
        pending=tuple(trace.pending),
        flashes=flashes(_added(everything), sum(area for _, area in everything)),
    )


def unlit(rig: Rig, trace: Trace, begin: int = 0, end: int | None = None) -> dict[str, int]:
    """For each group the pixels that are not lit, times the flicks for which they are not, of
    those from `begin` to `end` (None: to the end of the show).
    """
    end = rig.length if end is None else min(end, rig.length)
    return {
        name: sum(p.area * _unlit(line, begin, end) for p, line in shown_on(Canvas(rig, of), trace))
        for name, of in rig.groups.items()
    }


def _unlit(line: Line, begin: int, end: int) -> int:
    ends = [*(at for at, _ in line[1:]), end]
    spans = ((q, max(a, begin), min(b, end)) for (a, q), b in zip(line, ends, strict=True))
    return sum(max(b - a, 0) for q, a, b in spans if lost(q))


def lines_of(rig: Rig, trace: Trace) -> list[Line]:
    """What every patch of every group shows in a run of the whole rig."""
    return [line for of in rig.groups.values() for _, line in shown_on(Canvas(rig, of), trace)]


def lost(quality: int) -> bool:
    """Whether this quality is anything but lit."""
    return state_of(quality) < len(STATES)


def shown_on(canvas: Canvas, trace: Trace) -> Shown:
    """What every patch of a group shows in a run of the whole rig."""
    group = canvas.group
    known: dict[tuple[object, int], Line] = {}
    found = []
    for cabinet, patches in canvas.patches.items():
        signals = trace.shown[cabinet]
        for patch in patches:
            key = (tuple(signals), patch.stack)
            if key not in known:
                wanted = trace.wanted[group.name]
                stack = group.stacks[patch.stack]
                known[key] = tuple(cabinet_line(stack, signals, trace.pictures, wanted))
            found.append((patch, known[key]))
    return found


def _added(lines: Iterable[tuple[Line, int]]) -> Areas:
    """Equal lines on one entry."""
    areas: dict[Line, int] = {}
    for line, area in lines:
        areas[line] = areas.get(line, 0) + area
    return list(areas.items())


def _worst_instant(lines: Iterable[tuple[Line, int]]) -> int:
    """The first instant of all with most pixels dark, then most not lit."""
    found = ((now[0], sum(now), -at) for at, now in _sweep(_added(lines)))
    return -max(found)[2]


def _sweep(areas: Areas) -> Iterator[tuple[int, list[int]]]:
    """Every instant at which something changes, with the pixels in each state from then on."""
    changes: dict[int, list[tuple[int, int, int]]] = {}
    for line, area in areas:
        before = len(STATES)
        for at, quality in line:
            state = state_of(quality)
            changes.setdefault(at, []).append((before, state, area))
            before = state
    now = [0] * (len(STATES) + 1)
    for at in sorted(changes):
        for before, after, area in changes[at]:
            now[before] -= area
            now[after] += area
        yield at, now[: len(STATES)]


def _at(line: Line, at: int) -> int:
    return next(quality for start, quality in reversed(line) if start <= at)


def _tolls(rig: Rig, group: Group, shown: Shown) -> Iterator[Toll]:
    yield _toll(rig, "group", group.name, group.name, [(line, p.area) for p, line in shown])
    for wall in group.walls:
        there = [(line, p.area) for p, line in shown if p.wall == wall]
        yield _toll(rig, "wall", wall, group.name, there)
    for region in group.regions:
        inside = [(line, area) for p, line in shown for n, area in p.regions if n == region.name]
        yield _toll(rig, "region", region.name, group.name, inside)
    wall_of = {p.cabinet: p.wall for p, _ in shown}
    line_of = {(p.cabinet, p.stack): line for p, line in shown}
    for name, walls in views_of(group).items():
        cut = pieces(group, wall_of, walls)
        seen = [(best_of(line_of[spot] for spot in piece.spots), piece.area) for piece in cut]
        yield _toll(rig, "view", name, group.name, seen)


def _toll(rig: Rig, kind: str, name: str, group: str, lines: Areas) -> Toll:
    areas = _added(lines)
    total = sum(area for _, area in areas)
    worst = worst_line(line for line, _ in areas)
    numbers = frames_in_states(worst, rig.frame, rig.length)
    unlit_for = [span for of in numbers[: len(STATES)] for span in of]
    return Toll(
        kind=kind,
        name=name,
        group=group,
        frames=frames_by_state(worst, rig.frame, rig.length),
        worst=_greatest(areas, total),
        first=min((start for start, _ in unlit_for), default=None),
        last=max((end - 1 for _, end in unlit_for), default=None),
        at_end=any(lost(line[-1][1]) for line, _ in areas),
        end=_at_end(areas, total),
    )


def _greatest(areas: Areas, total: int) -> dict[str, Fraction]:
    """For each state the greatest share that is in it at one instant."""
    found = [0] * len(STATES)
    for _, now in _sweep(areas):
        found = [max(pair) for pair in zip(found, now, strict=True)]
    return {n: Fraction(area, total) for n, area in zip(STATES, found, strict=True) if area}


def _at_end(areas: Areas, total: int) -> dict[str, Fraction]:
    """For each state the share that is in it when the show ends."""
    found = [0] * (len(STATES) + 1)
    for line, area in areas:
        found[state_of(line[-1][1])] += area
    return {n: Fraction(a, total) for n, a in zip(STATES, found, strict=False) if a}


def _moments(rig: Rig, shown: Mapping[str, Shown], at: int) -> tuple[WallMoment, ...]:
    return tuple(
        _moment(rig, group, wall, shown[name], at)
        for name, group in rig.groups.items()
        for wall in group.walls
    )


def _moment(rig: Rig, group: Group, wall: str, shown: Shown, at: int) -> WallMoment:
    rows, columns, _, _ = group.walls[wall]
    states: dict[str, set[int]] = {}
    for patch, line in shown:
        states.setdefault(patch.cabinet, set()).add(state_of(_at(line, at)))
    grid = [[" "] * columns for _ in range(rows)]
    for name, found in states.items():
        cabinet = rig.cabinets[name]
        if cabinet.wall == wall:
            letter = LETTERS[min(found)]
            grid[cabinet.row][cabinet.column] = letter if len(found) == 1 else letter.lower()
    return WallMoment(wall, group.name, tuple("".join(row) for row in grid))
