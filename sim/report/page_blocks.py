"""Blocks as what a page's template writes: sections with anchors, tables with names, parts.

In: blocks. Out: frozen `Section`s of `Part`s, in which every text is plain text. A run of letters
without a space is cut short, and so is a text of more than a page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from sim.report.blocks import Block, Heading, Lines, Para, Points, Table
from sim.report.text import PIECE
from sim.report.words import harmless

LONGEST_WORD, LONGEST_TEXT = 400, 20_000
"""Characters of a run without a space, of a text; what is longer is cut, and shows it."""
SHORT, LONGEST_PIECE = 10, 24
"""Characters of a word that stays whole, and of a piece of one that may be broken anywhere."""
BRIEF = 300
"""Characters of a text in a chart."""
LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
NOT_IN_ANCHORS = re.compile(r"[^a-z0-9]+")
LONGEST_ANCHOR = 60
SHORT = 16
"""Paragraphs, points and rows of a section that is not cut by the end of a page."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: its lines, each in the pieces between which it may be broken, and whether it is a
    number.
    """

    lines: tuple[tuple[str, ...], ...]
    number: bool = False

    @property
    def empty(self) -> bool:
        return self.lines == (("",),)

    @property
    def looks(self) -> str:
        """Its classes; what consists of dots is a blank to write in."""
        words = (word for line in self.lines for piece in line for word in piece.split(" "))
        long = any(len(word) > LONGEST_PIECE for word in words)
        text = "".join(piece for line in self.lines for piece in line)
        blank = len(text) > 3 and not text.strip(".")
        return " ".join(["number"] * self.number + ["long"] * long + ["blank"] * blank)


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a section. `kind`: para, warning, points, lines or table; `name`: of a table."""

    kind: str
    texts: tuple[str, ...] = ()
    name: str = ""
    head: tuple[Cell, ...] = ()
    rows: tuple[tuple[Cell, ...], ...] = ()
    ruled: bool = False


@dataclass(slots=True)
class _Section:
    level: int
    title: str
    ident: str
    parts: list[Part] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading (level 2 to 4) with all that stands under it; `ident`: its anchor."""

    level: int
    title: str
    ident: str
    parts: tuple[Part, ...]

    @property
    def short(self) -> bool:
        """Whether it is kept whole on paper: a step of a sheet, a small table."""
        return sum(len(part.texts) + len(part.rows) for part in self.parts) <= SHORT


def shown(text: str) -> str:
    """A text as a page shows it: nothing that cannot be printed, nothing without end."""
    short = text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT]}\u2026"
    return LONG_WORD.sub(lambda found: f"{found[0][:LONGEST_WORD]}\u2026", harmless(short))


def brief(text: str) -> str:
    """A text as a chart shows it."""
    return harmless(text[:BRIEF])


def anchor(title: str, taken: Iterable[str] = ()) -> str:
    """An anchor for a heading, not among those taken: `part-how-likely`."""
    made = NOT_IN_ANCHORS.sub("-", title[:LONGEST_ANCHOR].lower()).strip("-")
    first = f"part-{made or 'of-the-report'}"
    names = {*taken}
    others = (f"{first}-{number}" for number in range(2, len(names) + 3))
    return next(name for name in (first, *others) if name not in names)


def sections(
    blocks: Iterable[Block], deeper: int = 0, others: Iterable[str] = ()
) -> tuple[Section, ...]:
    """The sections of a report; what stands before its first heading has the title "".

    `deeper`: by so many levels headings stand lower than the report has them; `others`: anchors
    that are taken.
    """
    made: list[_Section] = []
    taken = {*others}
    for block in blocks:
        if isinstance(block, Heading) or not made:
            title = shown(block.text) if isinstance(block, Heading) else ""
            level = block.level + deeper if isinstance(block, Heading) else 2
            made.append(_Section(level, title, anchor(title, taken)))
            taken.add(made[-1].ident)
        if not isinstance(block, Heading):
            made[-1].parts += _parts(block, made[-1])
    return tuple(Section(each.level, each.title, each.ident, (*each.parts,)) for each in made)


def _parts(block: Block, within: _Section) -> Iterator[Part]:
    tables = sum(part.kind == "table" for part in within.parts)
    name = within.title + f", table {tables + 1}" * (tables > 0)
    made = part_of(block, name)
    if made.texts or made.head:
        yield made


def part_of(block: Block, name: str = "") -> Part:
    """One block; `name`: of its table. Raises TypeError for a heading."""
    if isinstance(block, Para):
        return Part("warning" if block.warning else "para", (shown(block.text),))
    if isinstance(block, Points):
        return Part("points", tuple(map(shown, block.texts)))
    if isinstance(block, Lines):
        return Part("lines", tuple(harmless(line).rstrip() for line in block.texts), name=name)
    if isinstance(block, Table):
        return _table(block, name)
    raise TypeError("a heading begins a section")


def _table(table: Table, name: str) -> Part:
    head = _row(table.head, table)
    rows = tuple(_row(row, table) for row in table.rows)
    return Part("table", name=shown(name) or "Table", head=head, rows=rows, ruled=table.ruled)


def _row(cells: Iterable[str], table: Table) -> tuple[Cell, ...]:
    return tuple(
        Cell(tuple(_pieces(shown(line)) for line in cell.split("\n")), place in table.right)
        for place, cell in enumerate(cells)
    )


def _pieces(line: str) -> tuple[str, ...]:
    """A line in pieces: long names may be broken after their . / _ -, figures nowhere."""
    made = [""]
    for number, word in enumerate(line.split(" ")):
        parts = PIECE.findall(word) if len(word) > SHORT else [word]
        made[-1] += " " * (number > 0) + parts[0]
        made += parts[1:]
    return tuple(made)
