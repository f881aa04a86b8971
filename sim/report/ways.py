"""Ways through a rig graph that drawings need: what is in use, what powers what, chains on walls.

In: a frozen `Rig`. Out: names of nodes, things and circuits, and the chains as places on a wall
(row and column, counted from 0, head first). Lengths are metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count

from sim.rig.topology import Cabinet, Carrier, Node, Pass, Rig, Thing
from sim.rig.wall import Place

Edge = tuple[str, str]
"""A node (or thing), and one that reads it."""
IN_WALL = ("receiver", "jumper")
"""Families whose things stand in a wall."""


SHORT = 3
"""Letters of a circuit's name that fit a cabinet."""


def numbers(rig: Rig) -> dict[str, str]:
    """A short sign for each circuit, in the order of the rig: its name, if short, else a number
    from 1 that is no other's name.
    """
    circuits = [name for name, thing in rig.things.items() if thing.family == "circuit"]
    free = (str(number) for number in count(1) if str(number) not in circuits)
    return {name: name if len(name) <= SHORT else next(free) for name in circuits}


def fed_by(rig: Rig, name: str) -> list[str]:
    """The circuits that power a thing, directly or through supplies, jumpers and units."""
    found: dict[str, None] = {}
    todo, seen = [*rig.things[name].powered_by], {name}
    while todo:
        at = todo.pop(0)
        if rig.things[at].family == "circuit":
            found[at] = None
        elif at not in seen:
            seen.add(at)
            todo += rig.things[at].powered_by
    return [*found]


def usual_edges(rig: Rig) -> set[Edge]:
    """Pairs of nodes that the picture takes while nothing has failed: first cards, first inputs."""
    found: set[Edge] = set()
    todo = [cabinet.cards[0] for cabinet in rig.cabinets.values() if cabinet.cards]
    seen = set(todo)
    while todo:
        node = rig.nodes[todo.pop()]
        for other in _usual(node):
            found.add((other, node.name))
            todo += [] if other in seen else [other]
            seen.add(other)
    return found


def _usual(node: Node) -> tuple[str, ...]:
    if isinstance(node, Carrier):
        return node.reads
    selector = getattr(node, "selector", None)
    first = selector.locked_on if selector is not None and selector.restore == "locked" else 0
    return node.inputs[first : first + 1]


def short(rig: Rig, name: str) -> str:
    """A name without the group's, where there is only one group."""
    if len(rig.groups) != 1:
        return name
    group = f"{next(iter(rig.groups))}/"
    return name.removeprefix(group).replace(f"/to-{group}", "/to-")


def show_length(thing: Thing) -> str:
    """`1.2 km`, `80 m`, or nothing for a link without length."""
    metres = float(thing.length)
    return f"{metres / 1000:.4g} km" if metres >= 1000 else f"{metres:.4g} m" if metres else ""


def behind_walls(rig: Rig) -> set[str]:
    """Nodes of receivers and jumpers, and all that comes after them."""
    families = {name: rig.things[node.thing].family for name, node in rig.nodes.items()}
    found = {name for name, family in families.items() if family in IN_WALL}
    readers: dict[str, list[str]] = {name: [] for name in rig.nodes}
    for node in rig.nodes.values():
        for other in node.inputs:
            readers[other].append(node.name)
    todo = [*found]
    while todo:
        fresh = [name for name in readers[todo.pop()] if name not in found]
        found.update(fresh)
        todo += fresh
    return found


@dataclass(frozen=True, slots=True)
class ChainLine:
    """A chain as drawn: its cabinets, head first; `card` counts a cabinet's cards from 0.

    `head` and `tail` are the things that feed its two ends (`tail` empty: it has no return).
    """

    name: str
    group: str
    wall: str
    card: int
    places: tuple[Place, ...]
    head: str
    tail: str


def chain_lines(rig: Rig) -> tuple[ChainLine, ...]:
    """Every chain, in the order in which the rig's cabinets are met."""
    met: dict[tuple[str, str, str, int], list[tuple[int, Cabinet]]] = {}
    for cabinet in rig.cabinets.values():
        for number, card in enumerate(cabinet.cards):
            first, receivers = _to_head(rig, card)
            key = (first, cabinet.group, cabinet.wall, number)
            met.setdefault(key, []).append((receivers, cabinet))
    return tuple(_chain(rig, key, found) for key, found in met.items())


def _to_head(rig: Rig, card: str) -> tuple[str, int]:
    """The node before a chain's first receiver, and how many receivers come before this card."""
    at, receivers, first = rig.nodes[card].inputs[0], 0, ""
    first = at
    while isinstance(node := rig.nodes[at], Pass) and _in_wall(rig, node):
        if rig.things[node.thing].family == "receiver":
            receivers += 1
            first = node.inputs[0]
        at = node.inputs[0]
    return first, receivers


def _in_wall(rig: Rig, node: Node) -> bool:
    return rig.things[node.thing].family in IN_WALL


def _chain(rig: Rig, key: tuple[str, str, str, int], found: list[tuple[int, Cabinet]]) -> ChainLine:
    first, group, wall, number = key
    in_order = [cabinet for _, cabinet in sorted(found, key=lambda pair: pair[0])]
    back = rig.nodes[in_order[-1].cards[number]].inputs[1:2]
    name = rig.nodes[first].thing
    for lead in (f"{group}/", f"{wall}/"):
        name = name.removeprefix(lead)
    return ChainLine(
        name=name.removesuffix("/head"),
        group=group,
        wall=wall,
        card=number,
        places=tuple((cabinet.row, cabinet.column) for cabinet in in_order),
        head=_feed(rig, first),
        tail=_feed(rig, back[0]) if back else "",
    )


def _feed(rig: Rig, at: str) -> str:
    """The first thing upstream that is neither a cable nor a jumper: a port, where there is one."""
    node = rig.nodes[at]
    while rig.things[node.thing].family in ("copper", "jumper") and node.inputs:
        node = rig.nodes[node.inputs[0]]
    return node.thing
