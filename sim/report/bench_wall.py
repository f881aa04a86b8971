"""A wall of the break bench as a picture: the spots that show one thing each, regions, chains.

In: a frozen `Rig`, one of its groups and walls, the group's spots. Out: SVG as text, without
styles, scripts or ids; what a spot shows is left to whoever plays it. Sizes are pixels, a cabinet
being `WIDE` of them wide.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sim.report import svg
from sim.report.ways import ChainLine, chain_lines
from sim.report.words import harmless, wall_words
from sim.rig.topology import Cell, Group, Region, Rig
from sim.rig.wall import cabinet_name
from sim.study.effects import Patch

WIDE = 44.0
LEAST_TALL, MOST_TALL = 30.0, 88.0
SIDE, HEAD, EDGE = 34.0, 22.0, 10.0
"""Room left of the grid for the rows' names, above it for the columns', and around the rest."""
TEXT = 14
LETTER = 22.0
INSET = 0.2
"""Where a chain runs in a cabinet: this part of its sides from the top left corner."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """How a wall is scaled: its rows and columns, and wall pixels to drawn ones."""

    rows: int
    columns: int
    tall: float
    across: float
    down: float

    def rect(self, part: Cell | Region) -> tuple[float, float, float, float]:
        """Left, top, width, height of a part of the wall."""
        left, top = SIDE + part.x * self.across, HEAD + part.y * self.down
        return left, top, part.w * self.across, part.h * self.down

    def corner(self, row: int, column: int) -> tuple[float, float]:
        return SIDE + column * WIDE, HEAD + row * self.tall

    @property
    def size(self) -> tuple[float, float]:
        return SIDE + self.columns * WIDE + EDGE, HEAD + self.rows * self.tall + EDGE


def sheet(wall: Sequence[int]) -> Sheet:
    """The scale of a wall of (rows, columns, cabinet width, cabinet height)."""
    rows, columns, wide, high = wall
    tall = min(max(WIDE * high / wide, LEAST_TALL), MOST_TALL)
    return Sheet(rows, columns, round(tall, 1), WIDE / wide, round(tall, 1) / high)


def draw_spots(rig: Rig, group: Group, wall: str, spots: Sequence[Patch]) -> str:
    """One wall; `spots` are those of the whole group, numbered by their place."""
    scale = sheet(group.walls[wall])
    cells: dict[tuple[str, int], list[Cell]] = {}
    for cell in group.cells:
        cells.setdefault((cell.cabinet, cell.stack), []).append(cell)
    chains = [line for line in chain_lines(rig) if (line.group, line.wall) == (group.name, wall)]
    parts = [
        *_names(scale),
        *_spots(scale, wall, spots, cells),
        *_cabinets(rig, group, wall, scale, chains),
        *(svg.together(_chain(scale, line), _told(line)) for line in chains if not line.card),
        *_regions(scale, (region for region in group.regions if region.wall == wall)),
    ]
    return _sheet(scale, wall_words(wall), parts)


def _sheet(scale: Sheet, title: str, parts: Iterable[str]) -> str:
    wide, tall = (svg.number(side) for side in scale.size)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="bench-wall" viewBox="0 0 {wide} {tall}"'
        f' width="{wide}" height="{tall}" role="group" aria-label="{svg.clean(title)}">'
    )
    return "\n".join([head, *parts, "</svg>"])


def _names(scale: Sheet) -> Iterator[str]:
    """Over each column and beside each row what it is called."""
    for column in range(scale.columns):
        x, y = scale.corner(0, column)
        yield svg.text(x + WIDE / 2, y - 6, f"c{column + 1}", TEXT, "dim", "middle")
    for row in range(scale.rows):
        x, y = scale.corner(row, 0)
        yield svg.text(x - 5, y + scale.tall / 2 + 5, f"r{row + 1}", TEXT, "dim", "end")


def _spots(
    scale: Sheet, wall: str, spots: Sequence[Patch], cells: Mapping[tuple[str, int], list[Cell]]
) -> Iterator[str]:
    for number, spot in enumerate(spots):
        if spot.wall == wall:
            rects = [scale.rect(cell) for cell in cells[spot.cabinet, spot.stack]]
            drawn = "".join(svg.rect(*rect, "bench-rect") for rect in rects)
            letter = _letter(max(rects, key=lambda rect: (min(rect[2], rect[3]), rect[2])))
            yield f'<g class="bench-spot" data-spot="{number}">{drawn}{letter}</g>'


def _letter(rect: tuple[float, float, float, float]) -> str:
    """Room for a letter in the middle of a spot's roomiest rectangle, as large as fits."""
    left, top, wide, tall = rect
    size = max(round(min(LETTER, wide * 1.1, tall * 0.9)), 5)
    return svg.text(
        left + wide / 2, top + tall / 2 + 0.36 * size, "", size, "bench-letter", "middle"
    )


def _cabinets(
    rig: Rig, group: Group, wall: str, scale: Sheet, chains: Iterable[ChainLine]
) -> Iterator[str]:
    """Over the spots an outline of each cabinet, to be pointed at."""
    of = {place: _on(line, place) for line in chains if not line.card for place in line.places}
    for cabinet in rig.cabinets.values():
        if (cabinet.group, cabinet.wall) == (group.name, wall):
            place = (cabinet.row, cabinet.column)
            called = cabinet_name(*place) + (f", {of[place]}" if place in of else "")
            corner, named = scale.corner(*place), cabinet_name(*place)
            drawn = svg.rect(*corner, WIDE, scale.tall, "bench-cabinet", cabinet=named)
            yield drawn.replace("/>", f"><title>{svg.clean(called)}</title></rect>")


def _on(line: ChainLine, place: tuple[int, int]) -> str:
    ends = {line.places[-1]: "tail of ", line.places[0]: "head of "}
    return ends.get(place, "") + harmless(line.name)


def _regions(scale: Sheet, regions: Iterable[Region]) -> Iterator[str]:
    """Each region's outline, with its name on the upper side; names that would meet step aside."""
    taken: list[tuple[float, float, float]] = []
    for region in regions:
        left, top, wide, tall = scale.rect(region)
        name = svg.shorten(harmless(region.name), scale.columns * WIDE, TEXT)
        start, end = left + 8, left + 8 + svg.width(name, TEXT)
        while any(a < end and start < b and abs(y - top) < TEXT + 2 for a, b, y in taken):
            top += TEXT + 4
        taken.append((start, end, top))
        sides = (left + 1.5, scale.rect(region)[1] + 1.5, wide - 3, tall - 3)
        outline = svg.rect(*sides, "bench-halo") + svg.rect(*sides, "bench-outline")
        plate = svg.rect(start - 3, top - 8, end - start + 6, TEXT + 3, "bench-plate")
        named = svg.text(start, top + 5, name, TEXT, "bench-region")
        yield svg.together((outline, plate, named), f"region {region.name}")


def _chain(scale: Sheet, line: ChainLine) -> Iterator[str]:
    """A thin line with a dot at the head and a bar at the tail."""
    points = [
        (x + INSET * WIDE, y + INSET * scale.tall)
        for x, y in (scale.corner(*place) for place in line.places)
    ]
    if len(points) == 1:
        points.append((points[0][0] + WIDE / 2, points[0][1]))
    yield svg.line(points, "bench-halo")
    yield svg.line(points, "bench-chain")
    yield svg.dot(*points[0], 3)
    (ax, ay), (x, y) = points[-2:]
    bar = [(x, y - 5), (x, y + 5)] if abs(x - ax) > abs(y - ay) else [(x - 5, y), (x + 5, y)]
    yield svg.line(bar, "bench-chain")


def _told(line: ChainLine) -> str:
    first, last = (cabinet_name(*line.places[end]) for end in (0, -1))
    return f"{line.name}: from {first} to {last}"
