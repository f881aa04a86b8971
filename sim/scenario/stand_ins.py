"""Names that may be written although nobody declares them: what stands where nothing is said.

In: a section and the names that it declares. Out: the one name more that may stand there.
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


def stand_in(section: str, declared: Collection[str]) -> str:
    """The name that may stand there undeclared; empty if there is none."""
    if section == "routes":
        return UNNAMED
    return "" if declared else {"circuits": MAINS, "sources": PICTURE}.get(section, "")
