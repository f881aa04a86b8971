"""The rig graph of one topology: things that fail, nodes that pass signals on, cabinets and cells.

In: frozen values built by `patterns` or by hand. Out: a frozen `Rig` and its graph as networkx
sees it (`audit` writes it as JSON). Times are named: a node holds the key of a timing,
`Rig.timings` holds its range in flicks; one run uses one value for each key.
The rules that these values obey are written out in DEVELOPERS.md, "The rules made exact".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from sim.faults import MODES, SOFT, Quality
from sim.rig.rates import OwnRate
from sim.rig.wall import Cell, Placement, Region, Stack
from sim.timebase import Timing

__all__ = [
    "ALL", "NOTHING", "ON_LOSS", "PASSING", "RESTORES", "UNCOVERED", "Cabinet", "Carrier", "Cell",
    "Display", "Emit", "Gate", "Group", "Layer", "Merge", "Node", "Pass", "Placement", "Region",
    "Rig", "Select", "Selector", "Stack", "Sync", "Thing", "corner", "graph",
    "reads", "selectors",
]  # fmt: skip

ALL = SOFT
PASSING = frozenset({"corrupt", "stale"})
"""What of a receiver's sickness touches the signals it passes on; the rest its own display only."""
NOTHING: frozenset[str] = frozenset()
UNCOVERED = 7
"""In a row of layer qualities: this layer is left out just now."""


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing that can fail. `family` is the catalogue kind (a key of `faults.MODES`).

    `start` and `hold_up` are timing keys ("" = 0); `margin` is thousandths of a dB; `length` in m.
    `powered_by`: it lives while any of these things is up; empty: needs no power. `kit`: its type.
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
    """How a node chooses among its inputs. `name` is what people call it; the times are keys."""

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
    """A place that a signal passes.

    `feels`: the soft modes of its thing that limit it (dead and starting always do).

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
    """A seamless pair: the first leg, or the second while that is absent. `buffer` in flicks."""

    buffer: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate(Node):
    """A gated return: sends while it knows that nothing reaches `watch`. Two timing keys."""

    watch: str
    notice: str = ""
    wait_to_restore: str = ""
    feels: frozenset[str] = NOTHING

    @property
    def reads(self) -> tuple[str, ...]:
        return (*self.inputs, self.watch)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sync(Node):
    """How a processor follows its references. Three timing keys; drift in parts per million."""

    selector: Selector
    holdover: str = ""
    relock: str = ""
    relock_glitch: str = ""
    drift: Fraction = Fraction(10)
    feels: frozenset[str] = NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer(Node):
    """One layer of a processor. `caps[i]` is the best quality that input i can count as here."""

    selector: Selector
    layer: str
    on_loss: str = "black"
    caps: tuple[int, ...] = ()
    feels: frozenset[str] = NOTHING


ON_LOSS = ("black", "frozen", "card", "uncovered")


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier(Node):
    """What a processor sends: its own health and its `sync` ("" if it follows no reference)."""

    sync: str = ""
    layers: tuple[str, ...] = ()
    arrangement: str = ""

    @property
    def reads(self) -> tuple[str, ...]:
        return (*self.layers, self.sync) if self.sync else self.layers


@dataclass(frozen=True, slots=True, kw_only=True)
class Display(Node):
    """What a card shows: its choice of forward or return. `keeps_last` is a timing key ("" = 0)."""

    selector: Selector
    keeps_last: str = ""


@dataclass(frozen=True, slots=True)
class Cabinet:
    """A cabinet and its cards (Display nodes, the preferred first); row, column count from 0."""

    name: str
    group: str
    wall: str
    row: int
    column: int
    cards: tuple[str, ...]


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


@dataclass(frozen=True, slots=True, weakref_slot=True)
class Rig:
    """The whole chain; mappings are keyed by name. A frame's and the show's length in flicks;
    those of routes, where they are known, in metres.
    """

    frame: int
    length: int
    things: Mapping[str, Thing]
    nodes: Mapping[str, Node]
    cabinets: Mapping[str, Cabinet]
    groups: Mapping[str, Group]
    timings: Mapping[str, Timing]
    rates: tuple[OwnRate, ...] = ()
    routes: Mapping[str, Fraction] = field(default_factory=dict)


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
    """The signal graph as a networkx DiGraph: an edge to each node from all that it reads."""
    import networkx as nx

    made = nx.DiGraph()
    made.add_nodes_from(rig.nodes)
    made.add_edges_from(reads(rig))
    return made
