"""What people wrote, made safe to show: on a terminal, in a message, in a cell of a spreadsheet.

In: any text. Out: a text in which nothing moves a cursor, turns the direction of writing, ends a
line that it should not, or is taken for a formula. What a format of its own needs beyond that
(Markdown, SVG, HTML) is done where that format is written.
"""

from __future__ import annotations

import re

FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet takes a cell that begins so for; the wide forms count where they are typed."""
QUOTE = "'"


CHOOSING = "\ufe00-\ufe0f\U000e0100-\U000e01ef"
"""Variation selectors: each chooses the look of what stands before it, if that has several."""
BLANK = "\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180d\u180f\u2800\u3164\uffa0\U0001d159"
"""What can be printed and leaves nothing, or a gap: what Unicode says may be ignored
(Default_Ignorable_Code_Point), an empty pattern of braille, a note without a head.
"""
UNSEEN = re.compile(f"[{BLANK}]|(?<![^\0-\x7f{BLANK}{CHOOSING}])[{CHOOSING}]")


def shows(text: str) -> bool:
    """Whether every character of a text of one line can be printed and leaves a mark or a space."""
    return text.isprintable() and (text.isascii() or not UNSEEN.search(text))


def harmless(text: str) -> str:
    """The text with everything that does not show written out, such as `\\x1b`; lines stay."""
    if shows(text):
        return text
    return UNSEEN.sub(lambda found: _escaped(found[0]), "".join(map(_shown, text)))


def visible(text: str) -> str:
    """The same on one line: the end of a line is written out too."""
    return text if shows(text) else harmless(text).replace("\n", "\\n")


def _shown(char: str) -> str:
    return char if char.isprintable() or char == "\n" else _escaped(char)


def _escaped(char: str) -> str:
    return ascii(char)[1:-1]


def cell(text: str) -> str:
    """A text for a table that a spreadsheet may open: what would be a formula gets a quote."""
    shown = harmless(text)
    return f"{QUOTE}{shown}" if shown.lstrip(f"{QUOTE} ").startswith(FORMULA) else shown


def uncell(text: str) -> str:
    """What `cell` made such a text from."""
    quoted = text.startswith(QUOTE) and cell(text[1:]) == text
    return text[1:] if quoted else text
