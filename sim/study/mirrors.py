"""Mirrored walls: a pixel of the picture is lost only where no wall that is looked at shows it lit.

In: a `Group` of mirrored walls and its patches; the lines that its patches show. Out: `Piece`s
(parts of the picture that lie in one patch on every wall), and a `View` for each set of walls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from sim.rig.topology import Group
from sim.study.effects import LIT, Line, Reading, View

PICTURE = "the picture"
"""The view of all walls of a group together."""
Spot = tuple[str, int]
"""A cabinet and a stack: all that lies there shows one line."""

Kind = int | str
"""What a cabinet shows: the number of a kind, or the carrier that it shows undisturbed."""
Cut = Mapping[int, Sequence[tuple[tuple[tuple[int, int], ...], int]]]
Together = Mapping[tuple[tuple[Kind, int], ...], int]


@dataclass(frozen=True, slots=True)
class Piece:
    """Pixels of the picture that lie in one spot on each wall, in the order of the walls."""

    spots: tuple[Spot, ...]
    area: int


def views_of(group: Group) -> dict[str, tuple[str, ...]]:
    """The sets of walls that are looked at together: the picture as a whole, and each audience
    area's.
    """
    if not group.mirrored:
        return {}
    seen = {
        name: tuple(w for w in walls if w in group.walls) for name, walls in group.audience.items()
    }
    return {PICTURE: tuple(group.walls), **{name: walls for name, walls in seen.items() if walls}}


def pieces(group: Group, wall_of: Mapping[str, str], walls: tuple[str, ...]) -> tuple[Piece, ...]:
    """The picture cut along the edges of the cells of all these walls, equal ones added up."""
    cells = {wall: [c for c in group.cells if wall_of[c.cabinet] == wall] for wall in walls}
    xs = sorted({x for of in cells.values() for c in of for x in (c.x, c.x + c.w)})
    ys = sorted({y for of in cells.values() for c in of for y in (c.y, c.y + c.h)})
    at_x = {x: i for i, x in enumerate(xs)}
    at_y = {y: i for i, y in enumerate(ys)}
    spots: dict[tuple[int, int], list[Spot]] = {}
    for of in cells.values():
        for cell in of:
            for i in range(at_x[cell.x], at_x[cell.x + cell.w]):
                for j in range(at_y[cell.y], at_y[cell.y + cell.h]):
                    spots.setdefault((i, j), []).append((cell.cabinet, cell.stack))
    areas: dict[tuple[Spot, ...], int] = {}
    for (i, j), there in spots.items():
        area = (xs[i + 1] - xs[i]) * (ys[j + 1] - ys[j])
        areas[tuple(there)] = areas.get(tuple(there), 0) + area
    return tuple(Piece(there, area) for there, area in areas.items())


def by_cabinet(cut: Iterable[Piece], number: Mapping[str, int]) -> Cut:
    """Pieces with their cabinets' numbers, by that of the cabinet on their first wall."""
    found: dict[int, list[tuple[tuple[tuple[int, int], ...], int]]] = {}
    for piece in cut:
        spots = tuple((number[cabinet], stack) for cabinet, stack in piece.spots)
        found.setdefault(spots[0][0], []).append((spots, piece.area))
    return found


def together(cut: Cut, kinds: Mapping[int, Kind], others: Mapping[int, Kind]) -> Together:
    """Areas (pixels) by what kinds of cabinet and stacks show them on each wall.

    `kinds` of the cabinets that matter, by number; `others`: of those that may matter beside them
    (else what one of those shows is left out).
    """
    areas: dict[tuple[tuple[Kind, int], ...], int] = {}
    for spots, area in chain.from_iterable(cut.get(n, ()) for n in (cut if others else kinds)):
        if not others and any(cabinet not in kinds for cabinet, _ in spots):
            continue
        shown = tuple((kinds[c] if c in kinds else others[c], stack) for c, stack in spots)
        areas[shown] = areas.get(shown, 0) + area
    return areas


def best_of(lines: Iterable[Line]) -> Line:
    """At each instant the best quality that any of the lines shows."""
    of = list(lines)
    found: list[tuple[int, int]] = []
    for at in sorted({at for line in of for at, _ in line}):
        best = max(next(q for start, q in reversed(line) if start <= at) for line in of)
        if not found or found[-1][1] != best:
            found.append((at, best))
    return tuple(found)


def view(grouped: Mapping[tuple[Line, ...], int], reader: Callable[[Line], Reading]) -> View:
    """A view from areas by the lines that their spots show."""
    lost: dict[Line, int] = {}
    for lines, area in grouped.items():
        best = best_of(lines)
        if best != ((0, LIT),):
            lost[best] = lost.get(best, 0) + area
    lasting, ever = [0] * 5, [0] * 5
    for line, area in lost.items():
        reading = reader(line)
        if reading.worst < 5:
            ever[reading.worst] += area
        if reading.last < 5:
            lasting[reading.last] += area
    return View(tuple(lost.items()), tuple(lasting), tuple(ever))
