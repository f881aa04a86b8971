"""Which column each item of a drawing stands in.

In: items with their sizes in pixels and the least column of each, and edges from left to right.
Out: a column for each item, counted from 0 without empty ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

Edge = tuple[str, str]
"""An item, and one to the right of it that it leads to."""


@dataclass(frozen=True, slots=True)
class Size:
    """What an item takes: pixels wide, above its axis and below it.

    `least`: its first column. `spread`: lines may end anywhere at its sides, not only on the axis.
    """

    wide: float
    up: float
    down: float
    least: int
    spread: bool


def columns(sizes: Mapping[str, Size], edges: Iterable[Edge]) -> tuple[dict[str, int], list[Edge]]:
    """The column of each item, and the edges that would run backwards.

    Items with the same least column share one, unless one of them leads to another.
    """
    after: dict[str, list[str]] = {key: [] for key in sizes}
    left_out = []
    for one, other in edges:
        if one in _reached(after, other):
            left_out.append((one, other))
        else:
            after[one].append(other)
    rank = {key: size.least for key, size in sizes.items()}
    _push(rank, after, [*sizes])
    for least in sorted({size.least for size in sizes.values()}):
        alike = [key for key, size in sizes.items() if size.least == least]
        if not any((_reached(after, key) - {key}) & {*alike} for key in alike):
            rank.update(dict.fromkeys(alike, max(rank[key] for key in alike)))
            _push(rank, after, alike)
    used = sorted(set(rank.values()))
    return {key: used.index(value) for key, value in rank.items()}, left_out


def _push(rank: dict[str, int], after: Mapping[str, Sequence[str]], moved: Iterable[str]) -> None:
    """Move all that comes after the moved items right of them."""
    todo = [*moved]
    while todo:
        at = todo.pop(0)
        for other in after[at]:
            if rank[other] <= rank[at]:
                rank[other] = rank[at] + 1
                todo.append(other)


def _reached(after: Mapping[str, Sequence[str]], start: str) -> set[str]:
    todo, seen = [start], {start}
    while todo:
        fresh = [other for other in after[todo.pop()] if other not in seen]
        seen.update(fresh)
        todo += fresh
    return seen
