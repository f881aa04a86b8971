"""What people wrote, made safe to show: on a terminal, in a message, in a cell of a spreadsheet.

In: any text. Out: a text in which nothing moves a cursor, turns the direction of writing, ends a
line that it should not, or is taken for a formula. What a format of its own needs beyond that
(Markdown, SVG, HTML) is done where that format is written.
"""

from __future__ import annotations

FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet takes a cell that begins so for; the wide forms count where they are typed."""
QUOTE = "'"


def harmless(text: str) -> str:
    """The text with everything that cannot be printed written out, such as `\\x1b`; lines stay."""
    return text if text.isprintable() else "".join(map(_shown, text))


def visible(text: str) -> str:
    """The same on one line: the end of a line is written out too."""
    return text if text.isprintable() else harmless(text).replace("\n", "\\n")


def _shown(char: str) -> str:
    return char if char.isprintable() or char == "\n" else ascii(char)[1:-1]


def cell(text: str) -> str:
    """A text for a table that a spreadsheet may open: what would be a formula gets a quote."""
    shown = harmless(text)
    return f"{QUOTE}{shown}" if shown.lstrip(f"{QUOTE} ").startswith(FORMULA) else shown


def uncell(text: str) -> str:
    """What `cell` made such a text from."""
    quoted = text.startswith(QUOTE) and cell(text[1:]) == text
    return text[1:] if quoted else text
