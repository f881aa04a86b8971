"""Blocks as Markdown: tables with pipes, names escaped so that none of them means anything.

In: blocks. Out: text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from sim.report.blocks import Block, Heading, Lines, Para, Points, Table
from sim.report.words import harmless

ENTITY = re.compile(r"&(?=#?\w+;)")
"""What begins the name of a character, such as `&lt;`."""
SPECIAL = re.compile(r"([\\`*_\[\]<>|~])")


def as_markdown(blocks: Iterable[Block]) -> str:
    """The report as Markdown."""
    return "\n\n".join(part for part in map(_block, blocks) if part) + "\n"


def escaped(text: str) -> str:
    """A text in which nothing is markup."""
    shown = ENTITY.sub(r"\\&", SPECIAL.sub(r"\\\1", harmless(text)))
    return re.sub(r"^(\s*)([#+-]|\d+[.)])(?=\s)", r"\1\\\2", shown)


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        return f"{'#' * block.level} {escaped(block.text)}"
    if isinstance(block, Para):
        return ("**Warning.** " if block.warning else "") + escaped(block.text)
    if isinstance(block, Points):
        return "\n".join(f"- {escaped(text)}" for text in block.texts)
    if isinstance(block, Lines):
        return _as_they_stand([harmless(line).rstrip() for line in block.texts])
    return _table(block)


def _as_they_stand(lines: list[str]) -> str:
    """Lines within a fence that is longer than any that they may hold."""
    ticks = max((len(run) for line in lines for run in re.findall("`+", line)), default=0)
    fence = "`" * max(3, ticks + 1)
    return "\n".join([f"{fence}text", *lines, fence])


def _table(table: Table) -> str:
    marks = ["---:" if i in table.right else "---" for i in range(len(table.head))]
    rows = [_row(table.head), "| " + " | ".join(marks) + " |", *map(_row, table.rows)]
    return "\n".join(rows)


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(_cell(cell) for cell in cells) + " |"


def _cell(cell: str) -> str:
    return "<br>".join(escaped(line) for line in cell.split("\n"))
