"""Protections that race: whose order depends on where in their ranges the timings lie.

In: a `Rig` and the notes of one run. Out: frozen `Race`s. Two selectors race if both noticed a
loss at the same instant (or one of them makes it, by switching), one lies behind the other, and the
time until the one behind leaves its input may be shorter or longer than the time the one before
needs to bring the picture back. What a unit takes for its layers races with nothing below the unit:
selectors there judge the carrier.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sim.engine.signal import Note
from sim.rig.topology import Carrier, Rig, Selector, selectors


@dataclass(frozen=True, slots=True)
class Race:
    """The selector before, the one behind it, and the two spans in flicks that overlap."""

    before: str
    behind: str
    restores: tuple[int, int]
    waits: tuple[int, int]


class Ladder:
    """Which selectors of a rig stand before which, asked again and again."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.by_name = {selector.name: (selector, node.name) for selector, node in selectors(rig)}
        self.above: dict[str, set[str]] = {}
        self.raced: dict[tuple[tuple[str, str], ...], list[Race]] = {}

    def before(self, name: str, others: Mapping[str, Sequence[str]]) -> list[str]:
        """Of some selectors (by their nodes) those whose signal can come to this one."""
        node = self.by_name[name][1]
        if node not in self.above:
            self.above[node] = _above(self.rig, node)
        known = self.above[node] & others.keys()
        return [other for of in known for other in others[of] if other != name]

    def races(self, notes: Sequence[Note]) -> tuple[Race, ...]:
        """The races of a run, one for each pair of timings that race."""
        events: dict[int, dict[str, str]] = {}
        for note in notes:
            if note.what in ("lost", "switching") and note.name in self.by_name:
                events.setdefault(note.at, {}).setdefault(note.name, note.what)
        found: dict[tuple[object, ...], Race] = {}
        for together in events.values():
            key = tuple(together.items())
            if key not in self.raced:
                self.raced[key] = list(self._among(together))
            for race in self.raced[key]:
                found.setdefault((race.restores, race.waits), race)
        return tuple(found.values())

    def slowest(self, notes: Sequence[Note]) -> int:
        """Flicks: waits and switches, each at its most, of all kinds of selectors that acted."""
        kinds = {
            (of.detect, of.hold_off, of.switch)
            for note in notes
            if note.name in self.by_name
            for of in [self.by_name[note.name][0]]
        }
        return sum(self.rig.timings[key].most for kind in kinds for key in kind if key)

    def _among(self, events: Mapping[str, str]) -> Iterator[Race]:
        nodes: dict[str, list[str]] = {}
        for name in events:
            nodes.setdefault(self.by_name[name][1], []).append(name)
        order = {name: place for place, name in enumerate(events)}
        for behind in (name for name, what in events.items() if what == "lost"):
            for before in sorted(self.before(behind, nodes), key=order.__getitem__):
                restores = self._restores(before, events[before])
                waits = self._span(behind)
                if restores[0] < waits[1] and waits[0] < restores[1]:
                    yield Race(before, behind, restores, waits)

    def _restores(self, name: str, what: str) -> tuple[int, int]:
        """How long the one before leaves the one behind without a picture."""
        switch = self.by_name[name][0].switch
        timing = self.rig.timings.get(switch)
        gap = (timing.least, timing.most) if timing else (0, 0)
        waits = self._span(name) if what == "lost" else (0, 0)
        return gap[0] + waits[0], gap[1] + waits[1]

    def _span(self, name: str) -> tuple[int, int]:
        selector: Selector = self.by_name[name][0]
        keys = (selector.detect, selector.hold_off)
        timings = [self.rig.timings[key] for key in keys if key]
        return sum(t.least for t in timings), sum(t.most for t in timings)


def _above(rig: Rig, name: str) -> set[str]:
    """All nodes that a node's signal can come through."""
    found: set[str] = set()
    waiting = [name]
    while waiting:
        node = rig.nodes[waiting.pop()]
        above = (node.sync,) if isinstance(node, Carrier) else node.inputs
        waiting += [other for other in above if other and other not in found]
        found.update(other for other in above if other)
    return found
