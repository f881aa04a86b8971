"""Where the items of a drawing stand: columns from left to right, order, heights, lines between.

In: items as sizes in pixels with the least column of each, and edges. Out: a `Plan`: the left,
top and column of every item and the points of every edge, in pixels. The same input gives the same
plan. Lines run level or upright; each upright part has a track of its own in the gap.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sim.report.ranks import Edge, Size, columns

Point = tuple[float, float]
Key = str | tuple[str, str, int]
"""An item, or the place where an edge crosses a column: its two ends and the column."""

Hop = tuple[Key, Key]
End = tuple[Key, Key, bool]
"""A hop and whether its arriving end is meant."""

APART = 16.0
"""Least pixels between two items of a column."""
STEP = 14.0
"""Pixels between two lines that end at one side of an item."""
TRACK = 9.0
"""Pixels between two upright lines in a gap."""
MARGIN = 16.0
"""Pixels between an item and the nearest track."""
CLOSE = 7.0
"""Pixels between two level lines that the eye can tell apart."""
SWEEPS = 12


@dataclass(frozen=True, slots=True)
class Plan:
    """`axis`, `tall`, `column` of items, `left` and `wide` of columns, `points` of edges.

    `left_out`: edges that would run backwards. `height`: pixels from 0 to the lowest item.
    """

    axis: Mapping[str, float]
    tall: Mapping[str, float]
    column: Mapping[str, int]
    left: Sequence[float]
    wide: Sequence[float]
    points: Mapping[Edge, tuple[Point, ...]]
    left_out: tuple[Edge, ...]
    height: float


def plan(sizes: Mapping[str, Size], edges: Iterable[Edge], tall: float = 0) -> Plan:
    """Lay everything out; `tall` pixels are kept free at the top of each column."""
    return _Layout(sizes, edges).plan(tall)


def settle(wanted: Sequence[float], apart: Sequence[float]) -> list[float]:
    """Places as near to the wanted ones (least squares) as the distances between them allow.

    `apart[i]`: the least distance from place i to place i + 1.
    """
    offsets = [0.0]
    for gap in apart:
        offsets.append(offsets[-1] + gap)
    pools: list[tuple[float, int]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        total, many = want - offset, 1
        while pools and pools[-1][0] / pools[-1][1] > total / many:
            before, count = pools.pop()
            total, many = total + before, many + count
        pools.append((total, many))
    flat = [total / many for total, many in pools for _ in range(many)]
    return [place + offset for place, offset in zip(flat, offsets, strict=True)]


class _Layout:
    """One layout in the making; nothing of it is handed on but the plan."""

    def __init__(self, sizes: Mapping[str, Size], edges: Iterable[Edge]) -> None:
        wanted = [*edges]
        self.column, self.left_out = columns(sizes, wanted)
        self.size: dict[Key, Size] = dict(sizes.items())
        self.ways = {e: self.way(*e) for e in wanted if e not in self.left_out}
        self.hops = [hop for way in self.ways.values() for hop in pairwise(way)]
        self.rows: list[list[Key]] = [[] for _ in range(max(self.column.values(), default=-1) + 1)]
        for item in sizes:
            self.rows[self.column[item]].append(item)
        for way in self.ways.values():
            for key in way[1:-1]:
                self.rows[self.place(key)].append(key)
        self.above: dict[Key, list[Key]] = {key: [] for key in self.size}
        self.below: dict[Key, list[Key]] = {key: [] for key in self.size}
        for one, other in self.hops:
            self.above[other].append(one)
            self.below[one].append(other)
        self.order()
        self.axis: dict[Key, float] = {}
        self.heights()

    def place(self, key: Key) -> int:
        return self.column[key] if isinstance(key, str) else key[2]

    def way(self, one: str, other: str) -> list[Key]:
        """An edge as steps from column to column."""
        between: list[Key] = [
            (one, other, rank) for rank in range(self.column[one] + 1, self.column[other])
        ]
        for key in between:
            self.size[key] = Size(0, 4, 4, 0, spread=False)
        return [one, *between, other]

    def order(self) -> None:
        """Order within columns by the mean place of the neighbours; the fewest crossings win."""
        best, fewest = [list(row) for row in self.rows], self.crossings()
        for sweep in range(SWEEPS):
            forth = sweep % 2 == 0
            near = self.above if forth else self.below
            for row in self.rows if forth else self.rows[::-1]:
                index = {key: number for line in self.rows for number, key in enumerate(line)}
                row.sort(key=lambda key: _mean([index[n] for n in near[key]], index[key]))
            if (found := self.crossings()) < fewest:
                best, fewest = [list(row) for row in self.rows], found
        self.rows = best

    def crossings(self) -> int:
        index = {key: number for row in self.rows for number, key in enumerate(row)}
        by_gap: dict[int, list[tuple[int, int]]] = {}
        for one, other in self.hops:
            by_gap.setdefault(self.place(one), []).append((index[one], index[other]))
        return sum(
            (a[0] - b[0]) * (a[1] - b[1]) < 0
            for gap in by_gap.values()
            for number, a in enumerate(gap)
            for b in gap[:number]
        )

    def heights(self) -> None:
        for row in self.rows:
            self.stack(row, [0.0] * len(row))
        for sweep in range(SWEEPS):
            forth = sweep % 2 == 0
            near = self.above if forth else self.below
            for row in self.rows if forth else self.rows[::-1]:
                ends = self.ends()
                self.stack(row, [self.wanted(key, near, ends, forth) for key in row])
        top = min((self.axis[key] - self.size[key].up for key in self.size), default=0)
        self.axis = {key: float(round(axis - top)) for key, axis in self.axis.items()}

    def wanted(
        self, key: Key, near: Mapping[Key, list[Key]], ends: Mapping[End, float],
        forth: bool,
    ) -> float:  # fmt: skip
        """Where an item's axis makes its lines level, on average."""
        shifts = []
        for other in near[key]:
            hop = (other, key) if forth else (key, other)
            shifts.append(ends[(*hop, not forth)] - ends[(*hop, forth)])
        return self.axis[key] + _mean(shifts, 0)

    def stack(self, row: Sequence[Key], wanted: Sequence[float]) -> None:
        sizes = [self.size[key] for key in row]
        apart = [a.down + APART + b.up for a, b in pairwise(sizes)]
        self.axis.update(zip(row, settle(wanted, apart) if row else [], strict=True))

    def ends(self) -> dict[End, float]:
        """The height at which each hop leaves (False) and arrives (True)."""
        found: dict[End, float] = {}
        for key in self.size:
            for other, height in self.fan(key, {o: self.axis[o] for o in self.below[key]}):
                found[key, other, False] = height
        for key in self.size:
            for other, height in self.fan(key, {o: found[o, key, False] for o in self.above[key]}):
                found[other, key, True] = height
        return found

    def fan(self, key: Key, aims: Mapping[Key, float]) -> Iterator[tuple[Key, float]]:
        """Heights of lines at one side of an item, near to where they come from or go to."""
        axis, size, others = self.axis[key], self.size[key], sorted(aims, key=lambda o: aims[o])
        if not size.spread or not aims:
            yield from ((other, axis) for other in others)
            return
        low, high = axis - size.up + STEP / 2, axis + size.down - STEP / 2
        last = len(others) - 1
        step = min(STEP, (high - low) / max(last, 1))
        heights = settle([aims[other] for other in others], [step] * last)
        for number, (other, height) in enumerate(zip(others, heights, strict=True)):
            yield other, min(max(height, low + number * step), high - (last - number) * step)

    def level(self, ends: dict[End, float]) -> None:
        """Take out steps too small to mean anything, where a unit's side has room for it."""
        for one, other in self.hops:
            leaves, arrives = ends[one, other, False], ends[one, other, True]
            if abs(leaves - arrives) < CLOSE:
                if self.holds(one, arrives):
                    ends[one, other, False] = arrives
                elif self.holds(other, leaves):
                    ends[one, other, True] = leaves

    def holds(self, key: Key, height: float) -> bool:
        axis, size = self.axis[key], self.size[key]
        return size.spread and axis - size.up + 3 <= height <= axis + size.down - 3

    def plan(self, tall: float) -> Plan:
        self.axis = {key: axis + tall for key, axis in self.axis.items()}
        ends = {end: float(round(height)) for end, height in self.ends().items()}
        self.level(ends)
        self.part(ends)
        tracks = self.tracks(ends)
        wide = [max((self.size[key].wide for key in row), default=0) for row in self.rows]
        left, at = [], 0.0
        for rank, each in enumerate(wide):
            left.append(at)
            gap = sum(1 for one, other in tracks if self.place(one) == rank)
            at += each + 2 * MARGIN + max(gap - 1, 0) * TRACK
        right = [x + w for x, w in zip(left, wide, strict=True)]
        return Plan(
            axis={key: axis for key, axis in self.axis.items() if isinstance(key, str)},
            tall={k: s.up + s.down for k, s in self.size.items() if isinstance(k, str)},
            column=self.column,
            left=left,
            wide=wide,
            points={
                e: tuple(self.points(w, ends, tracks, left, right)) for e, w in self.ways.items()
            },
            left_out=tuple(self.left_out),
            height=max((self.axis[key] + self.size[key].down for key in self.size), default=tall),
        )

    def tracks(self, ends: Mapping[End, float]) -> dict[Hop, int]:
        """The number of each upright line within its gap; a level hop has none."""
        found: dict[Hop, int] = {}
        for rank in range(len(self.rows)):
            hops = [hop for hop in self.hops if self.place(hop[0]) == rank]
            heights = {hop: (ends[(*hop, False)], ends[(*hop, True)]) for hop in hops}
            bent = {hop: pair for hop, pair in heights.items() if pair[0] != pair[1]}
            found |= {hop: number for number, hop in enumerate(_in_tracks(bent))}
        return found

    def part(self, ends: dict[End, float]) -> None:
        """Move apart level lines that no order of tracks keeps from lying on each other."""
        tracks = self.tracks(ends)
        for one, other in [(a, b) for a in tracks for b in tracks if a[0] != b[0]]:
            near = abs(ends[(*one, False)] - ends[(*other, True)]) < CLOSE
            if near and self.place(one[0]) == self.place(other[0]) and tracks[one] > tracks[other]:
                free = self.free(ends, other[1], ends[(*one, False)])
                ends[(*other, True)] = ends[(*other, True)] if free is None else free

    def free(self, ends: Mapping[End, float], key: Key, height: float) -> float | None:
        """The height nearest to the given one at which another line may arrive at a unit."""
        beside = [ends[(*hop, arrives)] for hop in self.hops for arrives in (False, True)
                  if self.place(hop[1]) == self.place(key)]  # fmt: skip
        for shift in range(int(CLOSE), int(4 * CLOSE)):
            for at in (height - shift, height + shift):
                if self.holds(key, at) and all(abs(at - other) >= CLOSE - 1 for other in beside):
                    return at
        return None

    def points(
        self, way: Sequence[Key], ends: Mapping[End, float],
        tracks: Mapping[Hop, int], left: Sequence[float], right: Sequence[float],
    ) -> list[Point]:  # fmt: skip
        found: list[Point] = []
        for one, other in pairwise(way):
            rank = self.place(one)
            leaves, arrives = ends[one, other, False], ends[one, other, True]
            found.append((right[rank], leaves))
            if (one, other) in tracks:
                x = right[rank] + MARGIN + TRACK * tracks[one, other]
                found += [(x, leaves), (x, arrives)]
            found.append((left[rank + 1], arrives))
        return found


def _in_tracks(heights: Mapping[Hop, tuple[float, float]]) -> list[Hop]:
    """Hops, the leftmost track first.

    Falling lines: the lowest start is the leftmost; rising ones the other way: so no two of one
    kind cross without need. Where one leaves at about the height at which another arrives, it
    comes first, so that their level parts do not lie on each other.
    """
    rising = sorted((hop for hop, (a, b) in heights.items() if b < a), key=lambda h: heights[h])
    falling = sorted((hop for hop, (a, b) in heights.items() if b > a), key=lambda h: heights[h])
    left, found = [*rising, *falling[::-1]], []
    while left:
        free = [hop for hop in left if not any(_first(heights, o, hop) for o in left if o != hop)]
        found.append((free or left)[0])
        left.remove(found[-1])
    return found


def _first(heights: Mapping[Hop, tuple[float, float]], one: Hop, other: Hop) -> bool:
    return abs(heights[one][0] - heights[other][1]) < CLOSE


def _mean(values: Sequence[float], otherwise: float) -> float:
    return sum(values) / len(values) if values else otherwise
