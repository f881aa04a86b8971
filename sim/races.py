"""Protections that race: whose order depends on where in their ranges the timings lie.

In: a `Rig` and the notes of one run. Out: frozen `Race`s. Two selectors race if both noticed a
loss at the same instant, one lies behind the other, and the time until the one behind leaves its
input may be shorter or longer than the time the one before needs to bring the picture back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sim.signal import Note
from sim.topology import Rig, Selector, selectors


@dataclass(frozen=True, slots=True)
class Race:
    """The selector before, the one behind it, and the two spans in flicks that overlap."""

    before: str
    behind: str
    restores: tuple[int, int]
    waits: tuple[int, int]


def races(rig: Rig, notes: Sequence[Note]) -> tuple[Race, ...]:
    """The races of a run, one for each pair of timings that race."""
    lost: dict[int, list[str]] = {}
    for note in notes:
        if note.what == "lost":
            lost.setdefault(note.at, []).append(note.name)
    found: dict[tuple[object, ...], Race] = {}
    by_name = {selector.name: (selector, node.name) for selector, node in selectors(rig)}
    for together in lost.values():
        for race in _among(rig, together, by_name):
            found.setdefault((race.restores, race.waits), race)
    return tuple(found.values())


def _among(
    rig: Rig, names: Sequence[str], by_name: Mapping[str, tuple[Selector, str]]
) -> Iterable[Race]:
    if len(names) < 2:
        return
    behind_of = {name: _above(rig, by_name[name][1]) for name in names}
    for behind in names:
        for before in names:
            if before == behind or by_name[before][1] not in behind_of[behind]:
                continue
            restores = _span(rig, by_name[before][0], switching=True)
            waits = _span(rig, by_name[behind][0], switching=False)
            if restores[0] < waits[1] and waits[0] < restores[1]:
                yield Race(before, behind, restores, waits)


def _span(rig: Rig, selector: Selector, switching: bool) -> tuple[int, int]:
    keys = [selector.detect, selector.hold_off, *([selector.switch] if switching else [])]
    timings = [rig.timings[key] for key in keys if key]
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
