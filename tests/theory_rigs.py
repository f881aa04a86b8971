"""Rigs of a few nodes whose dark times and cut sets plain arithmetic gives.

In: how many cabinets. Out: a frozen `Rig` with one group called wall, cells of one pixel, no
waits anywhere, and the names of the things that may fail.
"""

from __future__ import annotations

from collections.abc import Iterable

from sim.rig.topology import (
    Cabinet,
    Carrier,
    Cell,
    Display,
    Emit,
    Group,
    Layer,
    Merge,
    Node,
    Pass,
    Placement,
    Rig,
    Selector,
    Thing,
)

LENGTH = 720_000
PICTURE = Placement("picture", 0, 0, 100, 1)


def made(nodes: Iterable[Node], displays: list[str]) -> Rig:
    """A rig with a cabinet for each display; every node's thing needs no power."""
    head = [
        Emit(name="camera", thing="camera"),
        Layer(name="layer", thing="unit", inputs=("camera",), selector=Selector("l"),
              layer="picture"),
        Carrier(name="carrier", thing="unit", layers=("layer",), arrangement="show"),
    ]  # fmt: skip
    known = {node.name: node for node in (*head, *nodes)}
    names = [f"c{n}" for n in range(len(displays))]
    cabinets = {
        name: Cabinet(name, "wall", "wall", 0, n, (card,))
        for n, (name, card) in enumerate(zip(names, displays, strict=True))
    }
    group = Group(
        name="wall",
        topology="drawn",
        walls={"wall": (1, len(displays), 1, 1)},
        arrangements=("show",),
        stacks=({"show": (PICTURE,)},),
        cells=tuple(Cell(name, n, 0, 1, 1, 0) for n, name in enumerate(names)),
        carriers=("carrier",),
    )
    things = {node.thing: Thing(node.thing, "jumper") for node in known.values()}
    return Rig(1000, LENGTH, things, known, cabinets, {"wall": group}, {})


def chain(many: int, both_ends: bool = False) -> tuple[Rig, list[str]]:
    """Cabinets in a row behind one unit, fed from the head or from both ends; and its jumpers."""
    jumpers = [f"j{n}" for n in range(many + both_ends)]
    forward = _way("f", jumpers[:many], range(many))
    back = _way("r", jumpers[:0:-1], range(many - 1, -1, -1)) if both_ends else []
    shows: list[Node] = [
        Display(
            name=f"s{n}",
            thing=f"r{n}",
            inputs=(f"f{n}", f"r{n}") if both_ends else (f"f{n}",),
            selector=Selector(f"s{n}"),
        )
        for n in range(many)
    ]
    return made([*forward, *back, *shows], [f"s{n}" for n in range(many)]), jumpers


def _way(which: str, jumpers: list[str], receivers: Iterable[int]) -> list[Node]:
    """Pass nodes through a jumper and a receiver in turn."""
    nodes: list[Node] = []
    last = "carrier"
    for jumper, number in zip(jumpers, receivers, strict=True):
        nodes.append(Pass(name=f"{jumper}{which}", thing=jumper, inputs=(last,)))
        last = f"{which}{number}"
        nodes.append(Pass(name=last, thing=f"r{number}", inputs=(f"{jumper}{which}",)))
    return nodes


def bridge() -> tuple[Rig, list[str]]:
    """The bridge network: a cabinet that two ways reach, with a link across that works both ways.

    Merges choose without time and do not fail.
    """
    nodes: list[Node] = [
        Pass(name="sa", thing="sa", inputs=("carrier",)),
        Pass(name="sb", thing="sb", inputs=("carrier",)),
        Pass(name="ab", thing="ab", inputs=("sa",)),
        Pass(name="ba", thing="ab", inputs=("sb",)),
        Merge(name="a", thing="joiner", inputs=("sa", "ba")),
        Merge(name="b", thing="joiner", inputs=("sb", "ab")),
        Pass(name="at", thing="at", inputs=("a",)),
        Pass(name="bt", thing="bt", inputs=("b",)),
        Merge(name="t", thing="joiner", inputs=("at", "bt")),
        Display(name="show", thing="card", inputs=("t",), selector=Selector("show")),
    ]
    return made(nodes, ["show"]), ["sa", "sb", "ab", "at", "bt"]
