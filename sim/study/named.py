"""The notes of a run in which alike things were merged, told of everything by its own name.

In: a `Laboratory`, what a run came to (`Settled`), the part of the rig (`Reach`) that notices the
strike in question; the run may be that of another strike that looks alike. Out: `Note`s.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from sim.engine.signal import Note
from sim.engine.symmetry import Reach
from sim.study.laboratory import Laboratory
from sim.study.settled import Settled

OWN = ("fault", "repaired", "action")
"""What befalls a thing by itself, and not what hangs on it."""


class Bearer(NamedTuple):
    """Who bears a name: a thing, a node, or the selector in a node, by number."""

    sort: str
    number: int


class Members(NamedTuple):
    """Things and nodes of a part of a rig by their kinds."""

    things: Mapping[int, list[int]]
    nodes: Mapping[int, list[int]]


class Namer:
    """The names of one laboratory's rig."""

    def __init__(self, laboratory: Laboratory) -> None:
        wiring = self.wiring = laboratory.wiring
        self.hands_on = laboratory.kinds.hands_on
        self.bearers = {thing.name: Bearer("thing", n) for n, thing in enumerate(wiring.things)}
        self.bearers |= {name: Bearer("node", n) for name, n in wiring.node_number.items()}
        self.bearers |= {name: Bearer("choice", n) for name, n in wiring.selector_node.items()}
        self.choices = {number: name for name, number in wiring.selector_node.items()}
        self.known: dict[int, tuple[Reach, Members]] = {}

    def notes(self, found: Settled, part: Reach, struck: Collection[str]) -> tuple[Note, ...]:
        """Every note of the run, of all in this part that it stands for; what befell the things
        or selectors that are struck, of these alone.
        """
        members = self._members(part)
        every = ((n, each) for n in found.trace.notes for each in self._each(n, found, members))
        return tuple(each for note, each in every if note.what not in OWN or each.name in struck)

    def _members(self, part: Reach) -> Members:
        if id(part) not in self.known:
            made = Members(_by_kind(part.things), _by_kind(part.nodes))
            self.known[id(part)] = (part, made)
        return self.known[id(part)][1]

    def _each(self, note: Note, found: Settled, members: Members) -> Iterator[Note]:
        sort, number = self.bearers[note.name]
        if sort == "thing":
            for thing in members.things[found.part.things[number]]:
                yield replace(note, name=self.wiring.things[thing].name)
            return
        for node in members.nodes[found.part.nodes[number]]:
            if self.hands_on[node] or (sort == "choice" and node not in self.choices):
                continue
            name = self.choices[node] if sort == "choice" else self.wiring.nodes[node].name
            yield replace(note, name=name, detail=self._detail(note.detail, number, node))

    def _detail(self, detail: str, number: int, node: int) -> str:
        """The input concerned: the one in the same place."""
        inputs = self.wiring.nodes[number].inputs
        same = self.wiring.nodes[node].inputs
        return same[inputs.index(detail)] if detail in inputs else detail


def _by_kind(kinds: Mapping[int, int]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for number, kind in kinds.items():
        found.setdefault(kind, []).append(number)
    return found
