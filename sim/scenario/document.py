"""A file as read: mappings, lists and texts that know their lines.

In: what a reader builds up. Out: `Document`, which says where in the file any path stands.
Lines count from 1, list items are shown counted from 1.
"""

from __future__ import annotations

from sim.errors import Problem


class Text(str):
    """A scalar as written (letters with marks in their composed form), with its line."""

    line: int


class Row(list["Tree"]):
    """A list with the line it begins on."""

    line: int


class Table(dict[str, "Tree"]):
    """A mapping with the line it begins on and the line of each key."""

    line: int
    key_lines: dict[str, int]


Tree = Text | Row | Table
Where = tuple[str | int, ...]


class Document:
    """A file as read: `tree` holds texts only; `problems` what the reading itself refuses."""

    def __init__(self, name: str, tree: Tree, problems: tuple[Problem, ...]) -> None:
        self.name = name
        self.tree = tree
        self.problems = problems

    def where(self, path: Where) -> str:
        """`file:line: path` of a value, or of the nearest thing above it that was written."""
        here: Tree = self.tree
        line = here.line
        for number, step in enumerate(path):
            if isinstance(here, Table) and isinstance(step, str) and step in here:
                line, here = here.key_lines[step], here[step]
            elif isinstance(here, Row) and isinstance(step, int) and step < len(here):
                here = here[step]
                line = here.line
            else:
                return place(self.name, line, path[:number])
        return place(self.name, line, path)


def place(name: str, line: int, path: Where = ()) -> str:
    """How a place in a file is written: `river.yaml:12: walls.main.grid`."""
    steps = "".join(f"[{s + 1}]" if isinstance(s, int) else f".{s}" for s in path).lstrip(".")
    return f"{name}:{line}: {steps}" if steps else f"{name}:{line}"
