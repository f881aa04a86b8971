"""Blocks as plain text that fits a given width, in a look of our own: thin rules, no colours.

In: blocks, a width in characters. Out: text, no line longer than the width (but `Lines`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

import tabulate as tabulated

from sim.report.blocks import Block, Heading, Lines, Para, Points, Table
from sim.report.words import harmless

LEAST_WIDTH = 60
NARROW = 90
"""On shorter lines spare columns are left out where a table would have to be wrapped."""
GAP = 2
LOOK = "simple"
INSIDE = r"(?<=\d) (?=\d{3}(?!\w))"
"""The space between the groups of digits of one number."""
SPACE = re.compile(rf"(?!{INSIDE}) +(?!%)")
GLUE = "\x00"
PIECE = re.compile(r".+?(?:[/_-](?=.)|(?<![\d.])\.(?=[^\d.])|$)")
"""What of a word may stand on a line of its own: a name breaks after . / _ -, a figure nowhere."""
tabulated.MIN_PADDING = 0


def as_text(blocks: Iterable[Block], width: int = 100) -> str:
    """The report as text; blocks are set apart by an empty line."""
    parts = ["\n".join(_lines(block, max(width, LEAST_WIDTH))) for block in blocks]
    return "\n\n".join(part for part in parts if part) + "\n"


def _lines(block: Block, width: int) -> list[str]:
    if isinstance(block, Heading):
        mark = "=" if block.level == 1 else "-"
        lines = wrap(harmless(block.text), width, break_on_hyphens=False)
        return [*lines, mark * max(map(len, lines))]
    if isinstance(block, Para):
        lead = "WARNING. " if block.warning else ""
        return _broken(lead + harmless(block.text), width)
    if isinstance(block, Points):
        return [line for text in block.texts for line in _point(harmless(text), width)]
    if isinstance(block, Lines):
        return [harmless(line).rstrip() for line in block.texts]
    return list(_table(block, width))


def _point(text: str, width: int) -> list[str]:
    return _broken(text, width, "- ", "  ")


def _broken(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """A text in lines, no number broken between its groups of digits."""
    glued = re.sub(INSIDE, GLUE, text)
    lines = wrap(glued, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    return [line.replace(GLUE, " ") for line in lines]


def _table(table: Table, width: int) -> Iterator[str]:
    """The table, dealt out to several if its columns do not fit side by side."""
    for number, columns in enumerate(_dealt(table, width)):
        if number:
            yield ""
        yield from _one(table, columns, width)


def _dealt(table: Table, width: int) -> list[list[int]]:
    rest = [c for c in range(1, len(table.head)) if c not in _left_out(table, width)]
    if not table.least or not rest:
        return [[0, *rest]]
    first = min(_natural(table, 0), width // 4)
    per = max(1, (width - first) // (table.least + GAP))
    tables = -(-len(rest) // per)
    even = -(-len(rest) // tables)
    return [[0, *rest[i : i + even]] for i in range(0, len(rest), even)]


def _left_out(table: Table, width: int) -> frozenset[int]:
    """The spare columns, if names would have to be broken with them, or lines are short."""
    columns = range(len(table.head))
    gaps = GAP * (len(columns) - 1)
    words = sum(_floor(_cells(table, c), whole=True) for c in columns) + gaps
    short = width < NARROW and sum(_natural(table, c) for c in columns) + gaps > width
    return table.spare if words > width or short else frozenset()


def _cells(table: Table, column: int) -> list[str]:
    return [table.head[column], *(row[column] for row in table.rows)]


def _natural(table: Table, column: int) -> int:
    return max(len(line) for cell in _cells(table, column) for line in [*cell.split("\n"), ""])


def _one(table: Table, columns: Sequence[int], width: int) -> list[str]:
    floors = [[_floor(_cells(table, c), whole) for c in columns] for whole in (True, False)]
    room = width - GAP * (len(columns) - 1)
    widths = fitted([_natural(table, c) for c in columns], room, *floors)
    head = [_wrapped(table.head[c], w) for c, w in zip(columns, widths, strict=True)]
    rows: list[list[str] | str] = []
    for number, row in enumerate(table.rows):
        if table.ruled and number:
            rows.append(["-" * w for w in widths])
        rows.append([_wrapped(row[c], w) for c, w in zip(columns, widths, strict=True)])
    align = ["right" if c in table.right else "left" for c in columns]
    made = tabulated.tabulate(rows, head, tablefmt=LOOK, disable_numparse=True, colalign=align)
    return [line.rstrip() for line in made.splitlines()]


def fitted(natural: Sequence[int], room: int, *floors: Sequence[int]) -> list[int]:
    """Widths of columns within `room` characters: the widest give way first, down to their first
    floors while that is enough, else to the next.
    """
    widths = [max(w, 1) for w in natural]
    for least in (*floors, [4] * len(widths)):
        able = [i for i, floor in enumerate(least) if widths[i] > floor]
        while sum(widths) > room and able:
            widths[max(able, key=lambda i: widths[i])] -= 1
            able = [i for i in able if widths[i] > least[i]]
    return widths


def _wrapped(cell: str, width: int) -> str:
    return "\n".join(part for line in cell.split("\n") for part in _filled(harmless(line), width))


def _filled(line: str, width: int) -> list[str]:
    """A line broken between words, else in names after their . / _ -, never before a %."""
    lines = [""]
    for word in SPACE.split(line):
        for number, piece in enumerate(_pieces(word, width)):
            gap = " " if lines[-1] and not number else ""
            if len(lines[-1] + gap + piece) <= width:
                lines[-1] += gap + piece
            else:
                lines.append(piece)
    return lines if lines[0] or len(lines) == 1 else lines[1:]


def _pieces(word: str, width: int) -> list[str]:
    if len(word) <= width:
        return [word]
    return [part[i : i + width] for part in PIECE.findall(word) for i in range(0, len(part), width)]


def _floor(cells: Iterable[str], whole: bool = False) -> int:
    """Characters of the longest piece of a name that should not be broken, or longest word."""
    words = (word for cell in cells for line in cell.split("\n") for word in SPACE.split(line))
    pieces = (p for w in words for p in ([harmless(w)] if whole else PIECE.findall(harmless(w))))
    return max(map(len, pieces), default=1)
