"""Tables of a run by node number, which go on from settled ones and leave those untouched.

In: settled tables. Out: tables that hold what a run has touched.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


class Memory(dict[int, Any]):
    """What nodes remember; a run starts from a settled memory and copies a node's part when it
    first asks for it.
    """

    def __init__(self, settled: Mapping[int, Any] | None = None) -> None:
        super().__init__()
        self.settled: Mapping[int, Any] = settled or {}

    def __missing__(self, number: int) -> Any:
        twin = self.settled[number].copied()
        self[number] = twin
        return twin

    def has(self, number: int) -> bool:
        return number in self or number in self.settled

    def onward(self) -> Memory:
        """A memory that goes on from all of this one, which holds it as settled from then on."""
        if self:
            self.settled = {**self.settled, **self}
            self.clear()
        return Memory(self.settled)


class Overlay(dict[int, Any]):
    """A table of a run on a small part of a large rig: it holds what was touched, and all else
    comes from a settled table, which nobody changes any more.
    """

    def __init__(self, settled: Table, touched: Mapping[int, Any] | None = None) -> None:
        super().__init__(touched or {})
        self.settled = settled

    def __missing__(self, number: int) -> Any:
        found = self[number] = self.settled[number]
        return found


Table = list[Any] | Overlay
"""Something for each node, by number."""
SMALL = 32
"""A run on less than one in so many of the nodes of a rig does not copy the tables of all."""


def is_small(part: int, whole: int) -> bool:
    """Whether a run on so many nodes, of so many, is better off with overlays."""
    return part * SMALL < whole


def copied(table: Table, small: bool) -> Table:
    """A table that goes on from a settled one; `small`: the run touches little of it."""
    if isinstance(table, Overlay):
        return Overlay(table.settled, table)
    return Overlay(table) if small else table[:]
