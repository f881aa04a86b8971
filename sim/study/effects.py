"""What the lines of a run mean for a wall group: how much, in which state, where, for how many
frames.

In: a `Group` with its rig, and for cabinets and stacks the step functions of a run (flicks,
quality). Out: a frozen `Effect`. Areas are pixels; all is exact but `dark_time`, a float.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sim.rig.topology import Group, Rig
from sim.rig.wall import overlap
from sim.study.readings import LIT, STATES, Line, Reading, read, state_of

__all__ = [
    "LIT", "STATES", "Canvas", "Effect", "Key", "Line", "Patch", "Reading", "Share", "View",
    "area_of", "effect", "read", "shares", "state_of", "targets_of",
]  # fmt: skip

Key = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Patch:
    """Cells of one cabinet with one stack: area in pixels, and what of it lies in which region."""

    cabinet: str
    wall: str
    stack: int
    area: int
    regions: tuple[tuple[str, int], ...]


class Canvas:
    """The patches of a group, by cabinet, and the areas of its walls, its regions and its largest
    cabinet (pixels).
    """

    def __init__(self, rig: Rig, group: Group) -> None:
        self.group = group
        self.frame = rig.frame
        self.length = rig.length
        walls = {name: rig.cabinets[name].wall for name in {c.cabinet for c in group.cells}}
        self.patches: dict[str, tuple[Patch, ...]] = _patches(group, walls)
        self.walls = _sums((p.wall, p.area) for ps in self.patches.values() for p in ps)
        self.regions = _sums(pair for ps in self.patches.values() for p in ps for pair in p.regions)
        self.area = sum(self.walls.values())
        self.cabinet = max((sum(p.area for p in ps) for ps in self.patches.values()), default=0)


def _sums(pairs: Iterable[tuple[str, int]]) -> dict[str, int]:
    sums: dict[str, int] = {}
    for name, area in pairs:
        sums[name] = sums.get(name, 0) + area
    return sums


def _patches(group: Group, walls: Mapping[str, str]) -> dict[str, tuple[Patch, ...]]:
    areas: dict[tuple[str, int], int] = {}
    inside: dict[tuple[str, int], dict[str, int]] = {}
    for cell in group.cells:
        key = (cell.cabinet, cell.stack)
        areas[key] = areas.get(key, 0) + cell.area
        for region in group.regions:
            if region.wall != walls[cell.cabinet]:
                continue
            if common := overlap(cell, region):
                of = inside.setdefault(key, {})
                of[region.name] = of.get(region.name, 0) + common
    found: dict[str, list[Patch]] = {}
    for (cabinet, stack), area in areas.items():
        regions = tuple(inside.get((cabinet, stack), {}).items())
        found.setdefault(cabinet, []).append(Patch(cabinet, walls[cabinet], stack, area, regions))
    return {cabinet: tuple(patches) for cabinet, patches in found.items()}


def targets_of(of: str, canvas: Canvas) -> tuple[str, ...]:
    """What a limit or a clause speaks of in this group: names of walls, a region, an audience area,
    or the group; none if it concerns another group.
    """
    if of == "wall":
        return tuple(canvas.walls)
    if of in ("group", canvas.group.name):
        return ("group",)
    known = {*canvas.walls, *canvas.regions, *canvas.group.audience}
    return (of,) if of in known else ()


def area_of(target: str, canvas: Canvas, views: Container[str]) -> int:
    """The whole area of a target, in pixels. `views`: areas of the audience whose walls are
    mirrored, so that they see one picture.
    """
    audience = canvas.group.audience
    if target in views:
        return canvas.walls[audience[target][0]]
    if target in audience:
        return sum(area for wall, area in canvas.walls.items() if wall in audience[target])
    if target == "group":
        return canvas.area
    return canvas.walls[target] if target in canvas.walls else canvas.regions[target]


@dataclass(frozen=True, slots=True)
class Share:
    """What shows one line: pixels of each wall, and of each region that it touches."""

    walls: tuple[tuple[str, int], ...]
    regions: tuple[tuple[str, int], ...]


def part_of(target: str, share: Share, audience: Mapping[str, Sequence[str]]) -> int:
    """How much of a target shows a share, in pixels. Walls, regions and areas of the audience have
    names of their own.
    """
    if target == "group":
        return sum(area for _, area in share.walls)
    if target in audience:
        return sum(area for wall, area in share.walls if wall in audience[target])
    return next((area for name, area in (*share.walls, *share.regions) if name == target), 0)


def shares(patches: Iterable[tuple[Key, Patch]]) -> dict[Key, Share]:
    """Patches added up by what they show."""
    walls: dict[Key, dict[str, int]] = {}
    regions: dict[Key, dict[str, int]] = {}
    for key, patch in patches:
        of = walls.setdefault(key, {})
        of[patch.wall] = of.get(patch.wall, 0) + patch.area
        inside = regions.setdefault(key, {})
        for name, area in patch.regions:
            inside[name] = inside.get(name, 0) + area
    return {key: Share(tuple(of.items()), tuple(regions[key].items())) for key, of in walls.items()}


@dataclass(frozen=True, slots=True)
class View:
    """What is lost of a mirrored picture to those who see these walls: pixels that no wall shows
    lit, by worst state.
    """

    lines: tuple[tuple[Line, int], ...]
    lasting: tuple[int, ...]
    ever: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Effect:
    """What one fault does to a group under one choice of timings.

    `lasting` and `ever`: for each wall the area (pixels) by worst state (as in `STATES`) once
    settled, and at any time, `all_lasting` and `all_ever` for all walls; `regions`: the regions
    that ever lose something, and those that do once settled; `worst`: the reading of the cell
    that is dark longest (where none is dark corrupt longest, and so on); `readings` of all cells
    that are not always lit; `lines`: their lines, with what shows each; `views`: what is lost to
    those who see several mirrored walls; `dark_time`: area times flicks expected dark in a show;
    `pending`: timers that had not run out; `repeat`: as in a trace.
    """

    lasting: Mapping[str, tuple[int, ...]]
    ever: Mapping[str, tuple[int, ...]]
    all_lasting: tuple[int, ...]
    all_ever: tuple[int, ...]
    regions: tuple[str, ...]
    regions_lasting: tuple[str, ...]
    worst: Reading | None
    readings: tuple[Reading, ...]
    lines: tuple[tuple[Line, Share], ...]
    views: Mapping[str, View]
    dark_time: float
    pending: tuple[str, ...] = ()
    repeat: tuple[int, int] | None = None
    used: frozenset[str] = frozenset()

    @property
    def seen(self) -> bool:
        return self.worst is not None

    @property
    def lasts(self) -> bool:
        return any(self.all_lasting)

    @property
    def verdict(self) -> str:
        """lasting, blink or unseen."""
        return "lasting" if self.lasts else "blink" if self.seen else "unseen"

    @property
    def lost_frames(self) -> tuple[int, int]:
        """Frames not lit of the worst cell, least and most over the phase."""
        return (0, 0) if self.worst is None else self.worst.lost

    def longest(self, state: int) -> tuple[int, int]:
        """Frames in a state of the cell that is in it longest, least and most over the phase."""
        spans = ((reading.most[state], reading.least[state]) for reading in self.readings)
        most, least = max(spans, default=(0, 0))
        return least, most

    def area(self, state: int, lasting: bool = True) -> int:
        """Pixels of all walls in a state."""
        return (self.all_lasting if lasting else self.all_ever)[state]

    def lost(self, lasting: bool = True) -> int:
        """Pixels of all walls that are not lit."""
        return sum(self.all_lasting if lasting else self.all_ever)


def effect(
    canvas: Canvas,
    readings: Iterable[tuple[Reading, Share]],
    views: Mapping[str, View],
    pending: tuple[str, ...] = (),
    repeat: tuple[int, int] | None = None,
    used: frozenset[str] = frozenset(),
) -> Effect:
    """Add up what was read of all lines that are not always lit."""
    lasting: dict[str, list[int]] = {}
    ever: dict[str, list[int]] = {}
    lost = [(reading, share) for reading, share in readings if reading.worst < 5]
    dark = 0.0
    for reading, share in lost:
        worst, last = reading.worst, reading.last
        for wall, area in share.walls:
            ever.setdefault(wall, [0] * 5)[worst] += area
            if last < 5:
                lasting.setdefault(wall, [0] * 5)[last] += area
            dark += area * reading.dark_time
    found = [reading for reading, _ in lost]
    return Effect(
        lasting=_by_wall(canvas, lasting),
        ever=_by_wall(canvas, ever),
        all_lasting=_all(lasting),
        all_ever=_all(ever),
        regions=_regions(share for _, share in lost),
        regions_lasting=_regions(share for reading, share in lost if reading.last < 5),
        worst=max(found, key=_badness) if len(found) > 1 else found[0] if found else None,
        readings=tuple(found),
        lines=tuple([(reading.line, share) for reading, share in lost]),
        views=views,
        dark_time=dark,
        pending=pending,
        repeat=repeat,
        used=used,
    )


NOTHING = (0,) * 5
"""Pixels in each state where nothing is lost."""


def _by_wall(canvas: Canvas, areas: Mapping[str, Sequence[int]]) -> dict[str, tuple[int, ...]]:
    """For each wall its areas by state."""
    none = dict.fromkeys(canvas.walls, NOTHING)
    return none | {wall: tuple(of) for wall, of in areas.items()}


def _regions(of: Iterable[Share]) -> tuple[str, ...]:
    return tuple(sorted({name for share in of for name, _ in share.regions}))


def _all(areas: Mapping[str, Sequence[int]]) -> tuple[int, ...]:
    """What the walls have in common: their areas by state, added up."""
    return tuple(map(sum, zip(NOTHING, *areas.values(), strict=True)))


def _badness(reading: Reading) -> tuple[object, ...]:
    return reading.most, reading.least, reading.line
