"""The acts by which a thing may be made well, whatever is wrong with it.

In: the name of a thing, its rig. Out: `Act`s, the quickest first. Whether there is a spare or a
free port, and whether it helps, is for others to say.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.faults import CABLES
from sim.practice.acts import Act
from sim.rig.topology import Rig


def mends(name: str, rig: Rig) -> Iterator[Act]:
    """None for what is no thing, such as a selector."""
    thing = rig.things.get(name)
    if thing is None:
        return
    if thing.family == "circuit" or "restart" in thing.modes:
        yield Act("restart", name)
    if thing.family in (*CABLES, "port"):
        yield Act("reseat", name)
    if thing.family == "port":
        yield Act("re-patch", name)
    if thing.family not in ("circuit", "port", "control-link"):
        yield Act("swap", name)
    if thing.family in ("receiver", "supply"):
        yield from (Act("bypass", cabinet) for cabinet in _cabinets(name, rig))


def _cabinets(name: str, rig: Rig) -> Iterator[str]:
    """The cabinet of a card or a supply."""
    for cabinet, of in rig.cabinets.items():
        cards = [rig.nodes[card].thing for card in of.cards]
        if name in cards or any(name in rig.things[card].powered_by for card in cards):
            yield cabinet
            return
