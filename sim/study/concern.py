"""On what a wall group hangs: the things and selectors whose failure can touch its picture.

In: a `Wiring`, a `Group`. Out: names.
"""

from __future__ import annotations

from sim.engine.wiring import Wiring
from sim.rig.topology import Group


def above(wiring: Wiring, group: Group) -> frozenset[str]:
    """The names of all things and selectors on which the group's cards, its carriers and their
    layers hang.
    """
    nodes, things = set(_own(wiring, group)), set[int]()
    for number in range(len(wiring.nodes) - 1, -1, -1):
        if number in nodes:
            nodes.update(wiring.inputs[number])
            things.add(wiring.thing_of[number])
    for number in range(len(wiring.things) - 1, -1, -1):
        if number in things:
            things.update(wiring.powered_by[number])
    selectors = {name for name, node in wiring.selector_node.items() if node in nodes}
    return frozenset({*(wiring.things[number].name for number in things), *selectors})


def _own(wiring: Wiring, group: Group) -> frozenset[int]:
    """The nodes that show or make the group's picture: its cards, its carriers and their layers."""
    cards = [
        card
        for number, name in wiring.cabinets.items()
        if wiring.rig.cabinets[name].group == group.name
        for card in wiring.cards_of[number]
    ]
    carriers = [wiring.node_number[name] for name in group.carriers]
    return frozenset([*cards, *carriers, *(n for c in carriers for n in wiring.layers_of[c])])
