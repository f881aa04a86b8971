"""The rig graph of one topology: things that fail, nodes that pass signals on, cabinets and cells.

In: frozen values built by `patterns` or by hand. Out: a checked, frozen `Rig`, its graph as
networkx sees it, and the audit format (node-link JSON). Times are named: a node holds the key
of a timing, `Rig.timings` holds its range in flicks; one run uses one value for each key.
The rules that these values obey are written out in DEVELOPERS.md, "The rules made exact".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from typing import Any

from sim.faults import MODES, SOFT, Quality
from sim.timebase import Timing

ALL = SOFT
PASSING = frozenset({"corrupt", "stale"})
"""What a receiver's sickness does to the signals it passes on; the rest touches its own display only."""
NOTHING: frozenset[str] = frozenset()
UNCOVERED = 7
"""In a row of layer qualities: this layer is left out just now."""


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing that can fail. `start` and `hold_up` are timing keys ("" = 0); `margin` is thousandths of a dB.

    `powered_by`: names of the things that power it; it lives while any of them is up; empty: needs no power.
    `family` is the catalogue kind (a key of `faults.MODES`); `kit` the equipment type it belongs to.
    """

    name: str
    family: str
    start: str = ""
    powered_by: tuple[str, ...] = ()
    hold_up: str = ""
    margin: int = 0
    routes: tuple[str, ...] = ()
    length: Fraction = Fraction(0)
    kit: str = ""
    supplier: str = ""
    place: str = ""
    monitored: bool = False
    group: str = ""

    @property
    def modes(self) -> tuple[str, ...]:
        return MODES[self.family]


@dataclass(frozen=True, slots=True)
class Selector:
    """How a node chooses among its inputs. The four times are timing keys ("" = 0). `name` is what people call it."""

    name: str
    detect: str = ""
    hold_off: str = ""
    switch: str = ""
    wait_to_restore: str = ""
    accepts_above: int = Quality.ABSENT
    restore: str = "revertive"
    locked_on: int = 0


RESTORES = ("revertive", "non-revertive", "by-hand", "locked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A place that a signal passes. `feels`: the soft modes of its thing that limit it (dead and starting always do).

    `delay` is what it adds, in flicks (exact).
    """

    name: str
    thing: str
    inputs: tuple[str, ...] = ()
    feels: frozenset[str] = ALL
    delay: Fraction = Fraction(0)

    @property
    def reads(self) -> tuple[str, ...]:
        """All nodes whose signals this one looks at."""
        return self.inputs


@dataclass(frozen=True, slots=True, kw_only=True)
class Emit(Node):
    """A source or a reference. `frame`: the length of its own frames in flicks (0: it has none)."""

    frame: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass(Node):
    """Hands its one input on: link, port, jumper, receiver, distributor, loop-through."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Select(Node):
    """A relay or another unit that chooses one of its inputs."""

    selector: Selector


@dataclass(frozen=True, slots=True, kw_only=True)
class Merge(Node):
    """A seamless pair: the first leg, or the second while that is absent. `buffer` is flicks of path difference."""

    buffer: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate(Node):
    """A gated return: sends its input only while it knows that the forward signal does not reach `watch`. Two timing keys."""

    watch: str
    notice: str = ""
    wait_to_restore: str = ""
    feels: frozenset[str] = NOTHING

    @property
    def reads(self) -> tuple[str, ...]:
        return (*self.inputs, self.watch)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sync(Node):
    """How a processor follows its references (its inputs). Three timing keys and a drift in parts per million."""

    selector: Selector
    holdover: str = ""
    relock: str = ""
    relock_glitch: str = ""
    drift: Fraction = Fraction(10)
    feels: frozenset[str] = NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer(Node):
    """One layer of a processor: chooses a source. `caps[i]` is the best quality that input i can count as here."""

    selector: Selector
    layer: str
    on_loss: str = "black"
    caps: tuple[int, ...] = ()
    feels: frozenset[str] = NOTHING


ON_LOSS = ("black", "frozen", "card", "uncovered")


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier(Node):
    """What a processor sends: its own health and its `sync` (a Sync node, or "" if it follows none). `layers`: its Layer nodes."""

    sync: str = ""
    layers: tuple[str, ...] = ()
    arrangement: str = ""

    @property
    def reads(self) -> tuple[str, ...]:
        return (*self.layers, self.sync) if self.sync else self.layers


@dataclass(frozen=True, slots=True, kw_only=True)
class Display(Node):
    """What one receiving card shows: its own choice between forward and return. `keeps_last` is a timing key ("" = 0)."""

    selector: Selector
    keeps_last: str = ""


@dataclass(frozen=True, slots=True)
class Cabinet:
    """A cabinet and its cards (names of Display nodes, in the order in which it prefers them). row, column count from 0."""

    name: str
    group: str
    wall: str
    row: int
    column: int
    cards: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Placement:
    """A layer in a rectangle of the picture (pixels): what an arrangement shows there."""

    layer: str
    x: int
    y: int
    w: int
    h: int


Stack = Mapping[str, tuple[Placement, ...]]
"""For each arrangement, what lies over a cell, topmost first; the background lies below all."""


@dataclass(frozen=True, slots=True)
class Cell:
    """The smallest area with one cabinet and one stack of layers; its rectangle in wall pixels; `stack` counts into `Group.stacks`."""

    cabinet: str
    x: int
    y: int
    w: int
    h: int
    stack: int

    @property
    def area(self) -> int:
        return self.w * self.h


@dataclass(frozen=True, slots=True)
class Region:
    """A named rectangle of a wall (pixels), for reporting."""

    name: str
    wall: str
    x: int
    y: int
    w: int
    h: int


@dataclass(frozen=True, slots=True)
class Group:
    """Walls that are fed and backed up together. The first arrangement is the intended one.

    `walls` maps the name of a wall to (rows, columns, cabinet width, cabinet height);
    `audience` maps an audience area to the walls that it sees.
    """

    name: str
    topology: str
    walls: Mapping[str, tuple[int, int, int, int]]
    arrangements: tuple[str, ...]
    stacks: tuple[Stack, ...]
    cells: tuple[Cell, ...]
    carriers: tuple[str, ...] = ()
    mirrored: bool = False
    regions: tuple[Region, ...] = ()
    audience: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Rig:
    """The whole chain. All mappings are keyed by name; `frame` is the wall's frame length in flicks, `length` the show's."""

    frame: int
    length: int
    things: Mapping[str, Thing]
    nodes: Mapping[str, Node]
    cabinets: Mapping[str, Cabinet]
    groups: Mapping[str, Group]
    timings: Mapping[str, Timing]


def corner(rig: Rig, which: str) -> dict[str, int]:
    """One value in flicks for each timing key. `which`: all-least, typical or all-most.

    What shelters the picture (keeps_last, hold-up, holdover) stands at its greatest in
    all-least and at its least in all-most.
    """
    return {key: timing.at(which) for key, timing in rig.timings.items()}


def selectors(rig: Rig) -> Iterator[tuple[Selector, Node]]:
    """Every selector of the rig with the node it sits in."""
    for node in rig.nodes.values():
        selector = getattr(node, "selector", None)
        if selector is not None:
            yield selector, node


def reads(rig: Rig) -> Iterator[tuple[str, str]]:
    """Every pair (a node, a node that reads it)."""
    for node in rig.nodes.values():
        for other in node.reads:
            yield other, node.name


def graph(rig: Rig) -> Any:
    """The signal graph as a networkx DiGraph: a node for each `Node`, an edge to each one that reads it."""
    import networkx as nx

    made = nx.DiGraph()
    made.add_nodes_from(rig.nodes)
    made.add_edges_from(reads(rig))
    return made


def power_graph(rig: Rig) -> Any:
    """What powers what, as a networkx DiGraph over things."""
    import networkx as nx

    made = nx.DiGraph()
    made.add_nodes_from(rig.things)
    made.add_edges_from((feed, t.name) for t in rig.things.values() for feed in t.powered_by)
    return made


def audit(rig: Rig) -> dict[str, Any]:
    """The rig as plain JSON values: networkx node-link data with all that another program needs to simulate it afresh."""
    return {
        "format": "staylit-rig 1",
        "directed": True,
        "multigraph": False,
        "graph": {
            "flicks_per_second": 705_600_000,
            "frame": rig.frame,
            "length": rig.length,
            "timings": {key: asdict(timing) for key, timing in rig.timings.items()},
            "things": [_plain(thing) for thing in rig.things.values()],
            "cabinets": [_plain(cabinet) for cabinet in rig.cabinets.values()],
            "groups": [_plain(group) for group in rig.groups.values()],
        },
        "nodes": [_node(node) for node in rig.nodes.values()],
        "edges": [{"source": source, "target": target} for source, target in reads(rig)],
    }


def _node(node: Node) -> dict[str, Any]:
    plain = _plain(node)
    return {"id": plain.pop("name"), "kind": type(node).__name__.lower(), **plain}


def _plain(value: Any) -> Any:
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}
    return int(value) if isinstance(value, Quality) else value
