"""Blocks as plain text that fits a given width, in a look of our own: thin rules, no colours.

In: blocks, a width in characters. Out: text, no line longer than the width (but `Lines`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

import tabulate as tabulated

from sim.report.blocks import Block, Heading, Lines, Para, Points, Table
from sim.report.words import harmless

LEAST_WIDTH = 60
GAP = 2
LOOK = "simple"
tabulated.MIN_PADDING = 0


def as_text(blocks: Iterable[Block], width: int = 100) -> str:
    """The report as text; blocks are set apart by an empty line."""
    parts = ["\n".join(_lines(block, max(width, LEAST_WIDTH))) for block in blocks]
    return "\n\n".join(part for part in parts if part) + "\n"


def _lines(block: Block, width: int) -> list[str]:
    if isinstance(block, Heading):
        mark = "=" if block.level == 1 else "-"
        lines = wrap(harmless(block.text), width)
        return [*lines, mark * max(map(len, lines))]
    if isinstance(block, Para):
        lead = "WARNING. " if block.warning else ""
        return wrap(lead + harmless(block.text), width)
    if isinstance(block, Points):
        return [line for text in block.texts for line in _point(harmless(text), width)]
    if isinstance(block, Lines):
        return [harmless(line).rstrip() for line in block.texts]
    return list(_table(block, width))


def _point(text: str, width: int) -> list[str]:
    return wrap(text, width, initial_indent="- ", subsequent_indent="  ")


def _table(table: Table, width: int) -> Iterator[str]:
    """The table, dealt out to several if its columns do not fit side by side."""
    for number, columns in enumerate(_dealt(table, width)):
        if number:
            yield ""
        yield from _one(table, columns, width)


def _dealt(table: Table, width: int) -> list[list[int]]:
    rest = list(range(1, len(table.head)))
    if not table.least or not rest:
        return [[0, *rest]]
    first = min(_natural(table, 0), width // 4)
    per = max(1, (width - first) // (table.least + GAP))
    tables = -(-len(rest) // per)
    even = -(-len(rest) // tables)
    return [[0, *rest[i : i + even]] for i in range(0, len(rest), even)]


def _natural(table: Table, column: int) -> int:
    cells = [table.head[column], *(row[column] for row in table.rows)]
    return max(len(line) for cell in cells for line in [*cell.split("\n"), ""])


def _one(table: Table, columns: Sequence[int], width: int) -> list[str]:
    widths = fitted([_natural(table, c) for c in columns], width - GAP * (len(columns) - 1))
    head = [_wrapped(table.head[c], w) for c, w in zip(columns, widths, strict=True)]
    rows: list[list[str] | str] = []
    for number, row in enumerate(table.rows):
        if table.ruled and number:
            rows.append(["-" * w for w in widths])
        rows.append([_wrapped(row[c], w) for c, w in zip(columns, widths, strict=True)])
    align = ["right" if c in table.right else "left" for c in columns]
    made = tabulated.tabulate(rows, head, tablefmt=LOOK, disable_numparse=True, colalign=align)
    return [line.rstrip() for line in made.splitlines()]


def fitted(natural: Sequence[int], room: int) -> list[int]:
    """Widths of columns within `room` characters: the widest give way first."""
    widths = [max(w, 1) for w in natural]
    while sum(widths) > room and max(widths) > 4:
        widest = max(range(len(widths)), key=lambda i: widths[i])
        widths[widest] -= 1
    return widths


def _wrapped(cell: str, width: int) -> str:
    lines = [wrap(harmless(line), width) or [""] for line in cell.split("\n")]
    return "\n".join(line for of in lines for line in of)
