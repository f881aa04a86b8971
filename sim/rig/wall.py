"""Walls as plain geometry: cabinet grids, chains through them, layers and the cells they make.

In: rows, columns and pixels (counted from 0), rectangles in picture pixels. Out: frozen tuples:
chains of (row, column), cells in wall pixels, and the distinct stacks of layers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sim.errors import refuse

Place = tuple[int, int]
"""A cabinet of a wall: row and column, counted from 0."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A wall: its cabinets, the pixels of one, and where its top left corner lies in the picture.

    `x` and `y` are picture pixels; mirrored walls all stand at 0, 0.
    """

    rows: int
    columns: int
    cabinet_width: int
    cabinet_height: int
    x: int = 0
    y: int = 0

    def __post_init__(self) -> None:
        if min(self.rows, self.columns, self.cabinet_width, self.cabinet_height) < 1:
            raise refuse("wall", f"{self} has no pixels", "whole numbers of at least 1")

    @property
    def width(self) -> int:
        """Pixels."""
        return self.columns * self.cabinet_width

    @property
    def height(self) -> int:
        """Pixels."""
        return self.rows * self.cabinet_height

    @property
    def places(self) -> Iterator[Place]:
        """Every cabinet, row by row."""
        return ((r, c) for r in range(self.rows) for c in range(self.columns))


@dataclass(frozen=True, slots=True)
class Placement:
    """A layer in a rectangle of the picture (pixels): what an arrangement shows there."""

    layer: str
    x: int
    y: int
    w: int
    h: int


Stack = Mapping[str, tuple[Placement, ...]]
"""For each arrangement, what lies over a cell, topmost first; the background lies below all."""


@dataclass(frozen=True, slots=True)
class Cell:
    """The smallest area with one cabinet and one stack of layers.

    Its rectangle is in wall pixels; `stack` counts into the stacks of the group.
    """

    cabinet: str
    x: int
    y: int
    w: int
    h: int
    stack: int

    @property
    def area(self) -> int:
        """Pixels."""
        return self.w * self.h


@dataclass(frozen=True, slots=True)
class Region:
    """A named rectangle of a wall (pixels), for reporting."""

    name: str
    wall: str
    x: int
    y: int
    w: int
    h: int


def cabinet_name(row: int, column: int, wall: str = "") -> str:
    """What people call a cabinet: `r2c3`, counted from 1; with the wall's name `main/r2c3`."""
    return f"{wall}/r{row + 1}c{column + 1}" if wall else f"r{row + 1}c{column + 1}"


def overlap(one: Cell | Region | Placement, other: Cell | Region | Placement) -> int:
    """Pixels that two rectangles have in common (both in pixels of the same wall or picture)."""
    across = min(one.x + one.w, other.x + other.w) - max(one.x, other.x)
    down = min(one.y + one.h, other.y + other.h) - max(one.y, other.y)
    return max(across, 0) * max(down, 0)


Segment = tuple[int, int, int]
"""Start, end (pixels of the wall), and which placements lie over it, as bits."""
Rectangle = tuple[int, int, int, int, int]
"""x, y, w, h and the number of a stack."""


def cells(
    walls: Mapping[str, Grid], arrangements: Mapping[str, Sequence[Placement]]
) -> tuple[tuple[Cell, ...], tuple[Stack, ...]]:
    """Cut every cabinet where an edge of a placement crosses it, and nowhere else.

    `arrangements` lists placements as they are painted: the topmost comes last. Cells come wall by
    wall and cabinet by cabinet (row by row), with cabinets called `wall/r1c1`; stacks are distinct
    and numbered as they are met. Raises InputError for a rectangle without area.
    """
    painted = [p for placements in arrangements.values() for p in placements]
    for placement in painted:
        if placement.w < 1 or placement.h < 1:
            raise refuse("arrangement", f"{placement} has no area", "at least 1 by 1 pixel")
    stacks = _Stacks(arrangements)
    found = [cell for name, grid in walls.items() for cell in _cut(name, grid, painted, stacks)]
    return tuple(found), stacks.distinct


class _Stacks:
    """Numbers the distinct stacks; a set of placements is known by its bits."""

    def __init__(self, arrangements: Mapping[str, Sequence[Placement]]) -> None:
        self._arrangements = arrangements
        self._by_bits: dict[int, int] = {}
        self._by_content: dict[tuple[tuple[Placement, ...], ...], int] = {}

    def number(self, bits: int) -> int:
        if bits not in self._by_bits:
            content = tuple(self._content(bits))
            self._by_bits[bits] = self._by_content.setdefault(content, len(self._by_content))
        return self._by_bits[bits]

    def _content(self, bits: int) -> Iterator[tuple[Placement, ...]]:
        for placements in self._arrangements.values():
            yield tuple(p for i, p in enumerate(placements) if bits >> i & 1)[::-1]
            bits >>= len(placements)

    @property
    def distinct(self) -> tuple[Stack, ...]:
        names = tuple(self._arrangements)
        return tuple(dict(zip(names, content, strict=True)) for content in self._by_content)


def _cut(name: str, grid: Grid, painted: list[Placement], stacks: _Stacks) -> Iterator[Cell]:
    across = [(p.x - grid.x, p.x + p.w - grid.x) for p in painted]
    down = [(p.y - grid.y, p.y + p.h - grid.y) for p in painted]
    columns = _segments(grid.columns, grid.cabinet_width, across)
    rows = _segments(grid.rows, grid.cabinet_height, down)
    for row, column in grid.places:
        called = cabinet_name(row, column, name)
        for x, y, w, h, stack in _parts(columns[column], rows[row], stacks):
            yield Cell(called, x, y, w, h, stack)


def _segments(count: int, size: int, spans: Sequence[tuple[int, int]]) -> list[list[Segment]]:
    """For each column (or row): its pieces between edges, with the spans that lie over each."""
    edges = sorted({edge for span in spans for edge in span if 0 < edge < count * size})
    cuts = sorted({*edges, *range(0, count * size + 1, size)})
    found: list[list[Segment]] = [[] for _ in range(count)]
    for start, end in pairwise(cuts):
        bits = sum(1 << i for i, (a, b) in enumerate(spans) if a <= start and end <= b)
        found[start // size].append((start, end, bits))
    return found


def _parts(across: list[Segment], down: list[Segment], stacks: _Stacks) -> list[Rectangle]:
    """One cabinet's rectangles: side by side ones of one stack are joined, then equal bands."""
    found: list[Rectangle] = []
    last: list[Rectangle] = []
    for top, bottom, bits in down:
        band = _band(across, top, bottom - top, bits, stacks)
        if [(x, w, s) for x, _, w, _, s in band] == [(x, w, s) for x, _, w, _, s in last]:
            band = [(x, y, w, h + bottom - top, s) for x, y, w, h, s in last]
            del found[-len(last) :]
        found += band
        last = band
    return found


def _band(across: list[Segment], y: int, h: int, bits: int, stacks: _Stacks) -> list[Rectangle]:
    found: list[Rectangle] = []
    for left, right, over in across:
        stack = stacks.number(over & bits)
        if found and found[-1][4] == stack:
            x, _, w, _, _ = found.pop()
            found.append((x, y, w + right - left, h, stack))
        else:
            found.append((left, y, right - left, h, stack))
    return found


def listed_cabinets(names: Iterable[Place], limit: int = 8) -> str:
    """Cabinets by name, the first few of them."""
    called = [cabinet_name(*place) for place in names]
    more = f" and {len(called) - limit} more" if len(called) > limit else ""
    return ", ".join(called[:limit]) + more
