"""What is there to be looked at in a rig: its units with ports and inputs, links, control links.

In: a frozen `Rig`. Out: a frozen `Desk`, names only. A *unit* is a processor or a relay unit; the
*far end* of a port is the receiver (or other thing) that its cable leads to.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from sim.faults import CABLES, PICTURE_CABLES
from sim.rig.topology import Rig, Sync
from sim.study.effects import Canvas, Patch

UNITS = ("processor", "relay")
Spot = tuple[str, int]
"""A cabinet and the number of a stack: all that lies there looks alike."""
PICTURE, REFERENCE = "input", "reference input"


@dataclass(frozen=True, slots=True)
class Port:
    """A copper output of a unit; `way`: its cable, if any, and the thing at the far end."""

    name: str
    unit: str
    way: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Input:
    """What a unit takes in: the thing that feeds it, by which nodes; `kind`: of picture or sync."""

    name: str
    unit: str
    kind: str
    nodes: tuple[str, ...]


@dataclass(frozen=True)
class Desk:
    """All that can be looked at. `links`: with the nodes that pass through each; `patches`: of
    each spot; `still`: spots where the intended picture does not move, so that nobody sees it
    freeze.
    """

    rig: Rig
    units: tuple[str, ...]
    ports: tuple[Port, ...]
    inputs: tuple[Input, ...]
    links: Mapping[str, tuple[str, ...]]
    controls: tuple[str, ...]
    canvases: Mapping[str, Canvas]
    patches: Mapping[Spot, Patch]
    still: frozenset[Spot] = frozenset()


def desk_of(rig: Rig, moving: Mapping[str, frozenset[str]] | None = None) -> Desk:
    """The desk of a rig. `moving`: for each group the layers that move (missing: all do)."""
    of = {family: _of(rig, family) for family in (*UNITS, "port", "control-link")}
    units = (*of["processor"], *of["relay"])
    beside = _beside(rig)
    canvases = {name: Canvas(rig, group) for name, group in rig.groups.items()}
    return Desk(
        rig=rig,
        units=units,
        ports=tuple(port for name in of["port"] for port in _ports(rig, beside, name)),
        inputs=tuple(_inputs(rig, frozenset(units))),
        links={name: _nodes(rig, name) for name in rig.things if _is_link(rig, name)},
        controls=of["control-link"],
        canvases=canvases,
        patches={(p.cabinet, p.stack): p for canvas in canvases.values() for p in _all(canvas)},
        still=frozenset(_still(canvases.values(), moving or {})),
    )


def _of(rig: Rig, family: str) -> tuple[str, ...]:
    return tuple(thing.name for thing in rig.things.values() if thing.family == family)


def _is_link(rig: Rig, name: str) -> bool:
    """A cable that carries pictures, and tells whether anything arrives at its end: a fibre, and
    whatever else is monitored.
    """
    family = rig.things[name].family
    return family == "fibre" or (family in PICTURE_CABLES and rig.things[name].monitored)


def _nodes(rig: Rig, thing: str) -> tuple[str, ...]:
    return tuple(node.name for node in rig.nodes.values() if node.thing == thing)


def _beside(rig: Rig) -> dict[str, dict[str, None]]:
    """For each thing those that it is plugged to, whichever way signals go."""
    found: dict[str, dict[str, None]] = {name: {} for name in rig.things}
    for node in rig.nodes.values():
        for feeding in node.reads:
            other = rig.nodes[feeding].thing
            if other != node.thing:
                found[node.thing][other] = None
                found[other][node.thing] = None
    return found


def _ports(rig: Rig, beside: Mapping[str, Mapping[str, None]], name: str) -> Iterator[Port]:
    family = {other: rig.things[other].family for other in beside[name]}
    unit = next((other for other in family if family[other] in UNITS), None)
    cable = next((other for other in family if family[other] in CABLES), None)
    if unit is None:
        return
    others = beside[cable] if cable else {o: None for o in family if family[o] not in UNITS}
    far = next((other for other in others if other not in (name, unit)), None)
    yield Port(name, unit, tuple(each for each in (cable, far) if each))


def _inputs(rig: Rig, units: frozenset[str]) -> Iterator[Input]:
    found: dict[tuple[str, str, str], dict[str, None]] = {}
    for node in rig.nodes.values():
        if node.thing not in units:
            continue
        kind = REFERENCE if isinstance(node, Sync) else PICTURE
        for feeding in node.inputs:
            other = rig.things[rig.nodes[feeding].thing]
            if other.name != node.thing and other.family != "port":
                found.setdefault((node.thing, other.name, kind), {})[feeding] = None
    for (unit, name, kind), nodes in found.items():
        yield Input(name, unit, kind, tuple(nodes))


def _all(canvas: Canvas) -> Iterator[Patch]:
    return (patch for patches in canvas.patches.values() for patch in patches)


def _still(canvases: Iterable[Canvas], moving: Mapping[str, frozenset[str]]) -> Iterator[Spot]:
    """Spots of groups that say what moves, where nothing that moves lies on top as intended."""
    for canvas in canvases:
        group = canvas.group
        for patch in _all(canvas) if group.name in moving else ():
            placed = group.stacks[patch.stack][group.arrangements[0]]
            if not placed or placed[0].layer not in moving[group.name]:
                yield patch.cabinet, patch.stack
