"""Protections that race: whose order depends on where in their ranges the timings lie.

In: a `Rig` and the notes of one run. Out: frozen `Race`s. Two selectors race if both noticed a
loss at the same instant, one lies behind the other, and the time until the one behind leaves its
input may be shorter or longer than the time the one before needs to bring the picture back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.engine.signal import Note
from sim.rig.topology import Rig, Selector, selectors


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

    def behind(self, name: str, before: str) -> bool:
        """Whether what the selector `before` sends can come to the selector `name`."""
        node = self.by_name[name][1]
        if node not in self.above:
            self.above[node] = _above(self.rig, node)
        return self.by_name[before][1] in self.above[node]

    def races(self, notes: Sequence[Note]) -> tuple[Race, ...]:
        """The races of a run, one for each pair of timings that race."""
        lost: dict[int, list[str]] = {}
        for note in notes:
            if note.what == "lost":
                lost.setdefault(note.at, []).append(note.name)
        found: dict[tuple[object, ...], Race] = {}
        for together in lost.values():
            for race in self._among(together):
                found.setdefault((race.restores, race.waits), race)
        return tuple(found.values())

    def _among(self, names: Sequence[str]) -> Iterator[Race]:
        for behind in names:
            for before in names:
                if before == behind or not self.behind(behind, before):
                    continue
                restores = self._span(before, switching=True)
                waits = self._span(behind, switching=False)
                if restores[0] < waits[1] and waits[0] < restores[1]:
                    yield Race(before, behind, restores, waits)

    def _span(self, name: str, switching: bool) -> tuple[int, int]:
        selector: Selector = self.by_name[name][0]
        keys = [selector.detect, selector.hold_off, *([selector.switch] if switching else [])]
        timings = [self.rig.timings[key] for key in keys if key]
        return sum(t.least for t in timings), sum(t.most for t in timings)


def _above(rig: Rig, node: str) -> set[str]:
    """All nodes that a node's signal can come through."""
    found: set[str] = set()
    waiting = [node]
    while waiting:
        for above in rig.nodes[waiting.pop()].reads:
            if above not in found:
                found.add(above)
                waiting.append(above)
    return found
