"""A wall as a picture: a faint grid of cabinets and the chains through it.

In: a wall's grid, its chains, numbers of the circuits that feed each cabinet. Out: SVG elements and
their size in pixels. A chain is a thin line with a dot at the head, a bar at the tail, and its
name at the head only. The wall is drawn as its picture lies, r1c1 at the top left.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from sim.report import svg
from sim.report.ways import ChainLine
from sim.rig.wall import Place, cabinet_name

LEAST_WIDE, LEAST_TALL, MOST_TALL = 56.0, 50.0, 96.0
HEAD = 44.0
"""Pixels above the grid, for the wall's name and the column numbers."""
SIDE = 34.0
"""Pixels left of the grid, for the row numbers."""
MOST_TITLE = 210.0
"""Pixels that a wall's name may take."""
PAD = 5.0
LANE = 14.0
"""Pixels between the chains of a cabinet's cards."""


@dataclass(frozen=True, slots=True)
class WallView:
    """What is drawn of one wall. `cabinet`: pixels (width, height); `marked`: heavier outlines;
    `names` of its cabinets.
    """

    title: str
    about: str
    rows: int
    columns: int
    cabinet: tuple[int, int]
    chains: tuple[ChainLine, ...]
    numbers: Mapping[Place, str]
    marked: frozenset[Place] = frozenset()
    names: Mapping[Place, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Face:
    """A wall's scale: pixels of the drawing for one cabinet, and how many cards each has."""

    wide: float
    tall: float
    lanes: int

    def corner(self, place: Place) -> tuple[float, float]:
        return SIDE + place[1] * self.wide, HEAD + place[0] * self.tall

    def centre(self, place: Place, lane: int) -> tuple[float, float]:
        x, y = self.corner(place)
        shift = (lane - (self.lanes - 1) / 2) * LANE
        return x + self.wide / 2 + shift, y + self.tall / 2 + shift


def face(view: WallView) -> Face:
    """Cabinets wide enough for their texts, in the real ones' shape as far as texts allow."""
    lanes = 1 + max((chain.card for chain in view.chains), default=0)
    numbers = max((svg.width(text, svg.SMALL) for text in view.numbers.values()), default=0)
    names = max((svg.width(called(chain), svg.SMALL) for chain in view.chains), default=0)
    beside = 2 * (numbers + PAD + 4 + (lanes - 1) * LANE / 2)
    both = names + numbers + 3 * PAD if _tops(view) & _feet(view) else names + 2 * PAD
    wide = max(LEAST_WIDE, beside, both)
    shape = wide * view.cabinet[1] / view.cabinet[0]
    least = LEAST_TALL + (lanes - 1) * LANE
    return Face(float(round(wide)), float(round(min(max(shape, least), MOST_TALL))), lanes)


def _heading(view: WallView) -> tuple[str, str]:
    """The wall's name and what it is, cut to their room; their element keeps them whole."""
    title = svg.shorten(view.title, MOST_TITLE, svg.NAME, bold=True)
    return title, svg.shorten(view.about, 2 * MOST_TITLE, svg.SMALL)


def called(chain: ChainLine) -> str:
    """A chain's name as it fits a cabinet."""
    return svg.shorten(chain.name, 110, svg.SMALL)


def told(chain: ChainLine) -> str:
    """A chain in words, for who cannot see it."""
    first, last = (cabinet_name(*chain.places[end]) for end in (0, -1))
    back = f", returned into its tail by {chain.tail}" if chain.tail else ""
    return f"{chain.name}: from {first} to {last}, fed at its head by {chain.head}{back}"


def wall_size(view: WallView) -> tuple[float, float]:
    """Pixels (width, height) of the whole drawing of a wall."""
    scale = face(view)
    title, about = _heading(view)
    texts = svg.width(title, svg.NAME, bold=True) + 16 + svg.width(about, svg.SMALL)
    return SIDE + max(view.columns * scale.wide, texts) + 2, HEAD + view.rows * scale.tall + 4


def draw_wall(view: WallView) -> Iterator[str]:
    """The elements of a wall, with its top left corner at (0, 0)."""
    scale = face(view)
    title, about = _heading(view)
    after = SIDE + svg.width(title, svg.NAME, bold=True) + 16
    words = svg.text(SIDE, 14, title, svg.NAME, "ink bold"), svg.text(after, 14, about, look="dim")
    yield svg.together(words, f"{view.title}: {view.about}")
    yield from _grid(view, scale)
    yield from _numbers(view, scale)
    for chain in view.chains:
        yield svg.together(_chain(chain, scale), told(chain))


def _grid(view: WallView, scale: Face) -> Iterator[str]:
    for column in range(view.columns):
        x, y = scale.corner((0, column))
        yield svg.text(x + scale.wide / 2, y - 8, f"c{column + 1}", look="dim", anchor="middle")
    for row in range(view.rows):
        x, y = scale.corner((row, 0))
        yield svg.text(x - 6, y + scale.tall / 2 + 4, f"r{row + 1}", look="dim", anchor="end")
    for row in range(view.rows):
        for column in range(view.columns):
            corner = scale.corner((row, column))
            named = view.names.get((row, column), cabinet_name(row, column))
            yield svg.rect(*corner, scale.wide, scale.tall, "grid", cabinet=named)
    for place in sorted(view.marked):
        x, y = scale.corner(place)
        yield svg.rect(x + 2, y + 2, scale.wide - 4, scale.tall - 4, "mark")


def _numbers(view: WallView, scale: Face) -> Iterator[str]:
    """Circuits at the foot of each cabinet; at the top where only the foot holds a name."""
    moved = _feet(view) - _tops(view)
    for place, numbers in view.numbers.items():
        x, y = scale.corner(place)
        base = y + 14 if place in moved else y + scale.tall - 5
        yield svg.text(x + scale.wide - PAD, base, numbers, look="dim", anchor="end")


def _at_foot(chain: ChainLine) -> bool:
    """Whether a chain's name stands at the foot of its first cabinet: away from its own line.

    Chains of second cards run lower in a cabinet, so their names stand there if they can.
    """
    fall = chain.places[1][0] - chain.places[0][0] if len(chain.places) > 1 else 0
    return fall < 0 or (fall == 0 and chain.card > 0)


def _feet(view: WallView) -> set[Place]:
    return {chain.places[0] for chain in view.chains if _at_foot(chain)}


def _tops(view: WallView) -> set[Place]:
    return {chain.places[0] for chain in view.chains if not _at_foot(chain)}


def _chain(chain: ChainLine, scale: Face) -> Iterator[str]:
    points = [scale.centre(place, chain.card) for place in chain.places]
    if len(points) == 1:
        (x, y) = points[0]
        points = [(x - 10, y), (x + 10, y)]
    yield svg.line(points)
    yield svg.dot(*points[0])
    yield svg.line(_bar(points[-2], points[-1]), "line")
    x, y = scale.corner(chain.places[0])
    base = y + scale.tall - 5 if _at_foot(chain) else y + 14
    yield svg.text(x + PAD, base, called(chain))


def _bar(before: tuple[float, float], end: tuple[float, float]) -> list[tuple[float, float]]:
    """A short line across the end of another."""
    (x, y), level = end, abs(end[0] - before[0]) > abs(end[1] - before[1])
    return [(x, y - 6), (x, y + 6)] if level else [(x - 6, y), (x + 6, y)]
