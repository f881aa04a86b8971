"""The rig graph as integers: things in the order of power, nodes in the order of signals.

In: a checked `Rig`. Out: a frozen `Wiring` of tuples indexed by those integers. A node stands
after all that it reads and a thing after all that powers it, so that working through them by
number once is working out one instant.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sim.rig.topology import Carrier, Node, Rig, Thing
from sim.rig.validator import power_rank, rank

Ints = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Wiring:
    """All tuples are indexed by the number of a thing, node or cabinet.

    `readers`: who must look again when a node's signal changes.
    """

    rig: Rig
    things: tuple[Thing, ...]
    nodes: tuple[Node, ...]
    thing_number: Mapping[str, int]
    node_number: Mapping[str, int]
    powered_by: tuple[Ints, ...]
    powers: tuple[Ints, ...]
    thing_of: Ints
    nodes_of: tuple[Ints, ...]
    inputs: tuple[Ints, ...]
    readers: tuple[Ints, ...]
    layers_of: Mapping[int, Ints]
    carriers_of: Mapping[int, Ints]
    cabinets: Mapping[int, str]
    cards_of: Mapping[int, Ints]
    cabinets_of: Mapping[int, Ints]
    selector_node: Mapping[str, int]


def wire(rig: Rig) -> Wiring:
    """Number the rig. Raises graphlib.CycleError if it feeds itself."""
    thing_number, node_number = power_rank(rig), rank(rig)
    ordered = tuple(rig.nodes[name] for name in node_number)
    powered_by = tuple(_numbers(rig.things[name].powered_by, thing_number) for name in thing_number)
    thing_of = tuple(thing_number[node.thing] for node in ordered)
    inputs = tuple(_numbers(_signals(node), node_number) for node in ordered)
    layers_of = {
        node_number[node.name]: _numbers(node.layers, node_number)
        for node in ordered
        if isinstance(node, Carrier)
    }
    cabinets = dict(enumerate(rig.cabinets))
    cards_of = {c: _numbers(rig.cabinets[name].cards, node_number) for c, name in cabinets.items()}
    return Wiring(
        rig=rig,
        things=tuple(rig.things[name] for name in thing_number),
        nodes=ordered,
        thing_number=thing_number,
        node_number=node_number,
        powered_by=powered_by,
        powers=_turned(powered_by, len(thing_number)),
        thing_of=thing_of,
        nodes_of=_turned(((thing,) for thing in thing_of), len(thing_number)),
        inputs=inputs,
        readers=_turned(inputs, len(node_number)),
        layers_of=layers_of,
        carriers_of=_carriers_of(layers_of),
        cabinets=cabinets,
        cards_of=cards_of,
        cabinets_of={card: (number,) for number, cards in cards_of.items() for card in cards},
        selector_node={
            selector.name: number
            for number, node in enumerate(ordered)
            if (selector := getattr(node, "selector", None)) is not None
        },
    )


def _signals(node: Node) -> tuple[str, ...]:
    """What a node looks at to work out its own signal: a carrier looks at its sync, never at its
    layers.
    """
    if isinstance(node, Carrier):
        return (node.sync,) if node.sync else ()
    return node.reads


def _numbers(names: Iterable[str], number: Mapping[str, int]) -> Ints:
    return tuple([number[name] for name in names])


def _turned(pointers: Iterable[Ints], size: int) -> tuple[Ints, ...]:
    """Who points at each number, in ascending order."""
    back: list[list[int]] = [[] for _ in range(size)]
    for origin, targets in enumerate(pointers):
        for target in targets:
            back[target].append(origin)
    return tuple(tuple(origins) for origins in back)


def _carriers_of(layers_of: Mapping[int, Ints]) -> dict[int, Ints]:
    """For each layer node the carriers whose picture holds it."""
    found: dict[int, list[int]] = {}
    for carrier, layers in layers_of.items():
        for layer in layers:
            found.setdefault(layer, []).append(carrier)
    return {layer: tuple(carriers) for layer, carriers in found.items()}
