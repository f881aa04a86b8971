"""The chain of equipment as a picture: units as rectangles, links as lines with names.

In: a `Scheme` and where its items stand. Out: SVG elements, from sources on the left to walls on
the right. A backup is dashed; what takes the whole picture has a heavy outline. Sizes are pixels.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from sim.report import svg
from sim.report.layering import APART, STEP, Plan
from sim.report.ranks import Size
from sim.report.scheme import MARK, WORDS, Item, Scheme

MOST_NAME = 210.0
"""Pixels that a name may take; the rest is cut out of its middle (its element keeps it whole)."""
LINE = 15.0
PAD = 10.0
INSET = 6.0
BEND = 5.0
GROWING = ("processor", "relay", "wall")


def _title(item: Item) -> str:
    return svg.shorten(item.title, MOST_NAME, svg.NAME, bold=not item.is_link)


def _lines(item: Item) -> list[str]:
    return [line for text in item.lines for line in _fitting(text)]


def _fitting(text: str) -> list[str]:
    """A text cut to its room; the faults of a mark are all written out, on several lines."""
    if MARK not in text:
        return [svg.shorten(text, MOST_NAME, svg.SMALL)]
    words = [svg.shorten(word, MOST_NAME, svg.SMALL) for word in text.split()]
    return [*svg.wrap(words, MOST_NAME, svg.SMALL)]


def _heading(family: str) -> str:
    return WORDS[family][1]


def top(made: Scheme) -> float:
    """Pixels above each column, for the names of what stands in it."""
    families: dict[int, set[str]] = {}
    for item in made.items.values():
        families.setdefault(item.least, set()).add(item.family)
    return LINE * max((len(found) for found in families.values()), default=0) + PAD


def sizes(made: Scheme) -> dict[str, Size]:
    """What each item takes; units are as tall as what they feed, so that lines run level."""
    plain = {key: _size(made, key) for key in made.items}
    return {key: _grown(made, key, plain) for key in plain}


def _size(made: Scheme, key: str) -> Size:
    item = made.items[key]
    texts = [svg.width(text, svg.SMALL) for text in (*_lines(item), _heading(item.family))]
    wide = max(svg.width(_title(item), svg.NAME, bold=not item.is_link), *texts)
    if item.is_link:
        return Size(wide + 2 * INSET, LINE + 4, LINE * len(_lines(item)) + 3, item.least, False)
    many = max(sum(edge[side] == key for edge in made.edges) for side in (0, 1))
    tall = max(LINE * (1 + len(_lines(item))) + PAD, STEP * many + PAD)
    return Size(wide + 2 * PAD, tall / 2, tall / 2, item.least, True)


def _grown(made: Scheme, key: str, plain: Mapping[str, Size]) -> Size:
    if made.items[key].family not in GROWING:
        return plain[key]
    after = [plain[other] for one, other in made.edges if one == key]
    before = [plain[one] for one, other in made.edges if other == key]
    half = max(plain[key].up, *(_reach(near) / 2 for near in (before, after)))
    return replace(plain[key], up=half, down=half)


def _reach(near: list[Size]) -> float:
    """Pixels from the axis of the first to that of the last, stacked, and a little more."""
    if len(near) < 2:
        return 0
    whole = sum(size.up + size.down + APART for size in near) - APART
    return whole - near[0].up - near[-1].down + 2 * STEP


def draw_equipment(made: Scheme, laid: Plan) -> Iterator[str]:
    """The chain of equipment from left to right; `data-item` counts the items of the scheme."""
    yield from _headings(made, laid)
    for edge, points in laid.points.items():
        yield svg.bent(points, BEND, "line dash" if made.edges[edge] else "line")
    for number, item in enumerate(made.items.values()):
        told = f"{item.title}: {', '.join(item.names)}"
        yield svg.together(_item(item, laid), told, item=number)


def _headings(made: Scheme, laid: Plan) -> Iterator[str]:
    """Over each column what stands in it."""
    found: dict[int, dict[str, None]] = {}
    for key, column in laid.column.items():
        found.setdefault(column, {})[_heading(made.items[key].family)] = None
    for column, names in sorted(found.items()):
        for number, name in enumerate(names):
            yield svg.text(laid.left[column], LINE * number, name, look="dim")


def _item(item: Item, laid: Plan) -> Iterator[str]:
    column = laid.column[item.key]
    left, wide, axis = laid.left[column], laid.wide[column], laid.axis[item.key]
    return _link(item, left, wide, axis) if item.is_link else _box(item, left, wide, laid)


def _link(item: Item, left: float, wide: float, axis: float) -> Iterator[str]:
    """A link: its name on its line, the rest below."""
    look = "line dash" if item.backup else "line"
    yield svg.line([(left, axis), (left + wide, axis)], f"{look} strong" if item.single else look)
    yield svg.text(left + INSET, axis - 5, _title(item), svg.NAME)
    for number, text in enumerate(_lines(item)):
        yield svg.text(left + INSET, axis + 14 + LINE * number, text, look="dim")


def _box(item: Item, left: float, wide: float, laid: Plan) -> Iterator[str]:
    tall, axis = laid.tall[item.key], laid.axis[item.key]
    yield svg.rect(left, axis - tall / 2, wide, tall, "heavy" if item.single else "box")
    base = axis - LINE * (1 + len(_lines(item))) / 2 + 12
    yield svg.text(left + PAD, base, _title(item), svg.NAME, "ink bold")
    for number, text in enumerate(_lines(item), 1):
        yield svg.text(left + PAD, base + LINE * number, text, look="dim")
