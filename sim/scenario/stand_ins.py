"""Names that nobody declares and yet may be written, and words that are meant by others.

In: a section and the names that it declares, or a word. Out: the one name more that may stand
there, or the word that is meant.
"""

from __future__ import annotations

from collections.abc import Collection

UNNAMED = "unnamed route"
"""The route of all cables without a named one."""
MAINS = "unnamed circuit"
"""What powers everything where no circuit is declared."""
PICTURE = "picture"
"""The source where none is declared, and the layer that shows it."""
FREE = "none"
"""Says that a group has no reference, where nothing said would be an assumption."""


COMMON = {"black": "dark", "blank": "dark", "stuck": "frozen", "torn": "corrupt", "stale": "wrong"}
"""What people may call a state, and the word for it here."""


def meant(said: str, words: Collection[str]) -> str:
    """The word that somebody means who says another one; empty if none is known."""
    found = COMMON.get(said.lower(), "")
    return found if found in words else ""


def stand_in(section: str, declared: Collection[str]) -> str:
    """The name that may stand there undeclared; empty if there is none."""
    if section == "routes":
        return UNNAMED
    return "" if declared else {"circuits": MAINS, "sources": PICTURE}.get(section, "")
