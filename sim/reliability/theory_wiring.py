"""A rig made ready for theory: its graph in order, what counts of each node, numbered functions.

In: a frozen `Rig`, one value in flicks for each timing key. Out: what `theory_rig` works on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from graphlib import TopologicalSorter
from typing import Any

from sim.reliability.theory_choice import Choice
from sim.reliability.theory_nodes import Recipe
from sim.reliability.theory_steps import Joined, Steps, walk
from sim.reliability.theory_things import Make, mask_of
from sim.rig.topology import Carrier, Layer, Node, Rig, selectors


@dataclass(slots=True)
class Found:
    """What is other than with no fault, by number of the function: things, nodes, the pictures of
    carriers, what cabinets show. And what was looked at: things, each with its condition and when
    what powers it is up; nodes.
    """

    things: dict[str, int] = field(default_factory=dict)
    nodes: dict[str, int] = field(default_factory=dict)
    pictures: dict[str, int] = field(default_factory=dict)
    cabinets: dict[str, int] = field(default_factory=dict)
    met_things: dict[str, tuple[int, tuple[int, ...]]] = field(default_factory=dict)
    met_nodes: set[str] = field(default_factory=set)


TIMES = {
    "Sync": ("holdover", "relock", "relock_glitch"),
    "Display": ("keeps_last",),
    "Gate": ("notice", "wait_to_restore"),
}


class Wired:
    """A rig in the order of its graph, with its timings; all functions found so far, by number.

    They are worked out up to `limit` flicks (None: the length of the show).
    """

    def __init__(self, rig: Rig, values: Mapping[str, int], limit: int | None = None) -> None:
        self.rig, self.limit = rig, rig.length if limit is None else limit
        self.time = {"": 0, **values}
        self.numbers: dict[Steps, int] = {}
        self.steps: list[Steps] = []
        self.known: dict[Any, int] = {}
        self._order()
        self._recipes()

    # ---- the rig, made ready ----------------------------------------------------------------

    def _order(self) -> None:
        rig = self.rig
        self.powers: dict[str, list[str]] = defaultdict(list)
        for thing in rig.things.values():
            for above in thing.powered_by:
                self.powers[above].append(thing.name)
        graph = {name: thing.powered_by for name, thing in rig.things.items()}
        self.thing_rank = {n: k for k, n in enumerate(TopologicalSorter(graph).static_order())}
        reads = {name: node.reads for name, node in rig.nodes.items()}
        self.node_rank = {n: k for k, n in enumerate(TopologicalSorter(reads).static_order())}
        self.nodes_in_order = list(self.node_rank)
        self.readers: dict[str, list[str]] = defaultdict(list)
        self.nodes_of: dict[str, list[str]] = defaultdict(list)
        for node in rig.nodes.values():
            self.nodes_of[node.thing].append(node.name)
            for other in dict.fromkeys(node.reads):
                self.readers[other].append(node.name)
        self.cabinets_of: dict[str, list[str]] = defaultdict(list)
        for cabinet in rig.cabinets.values():
            for card in cabinet.cards:
                self.cabinets_of[card].append(cabinet.name)

    def _recipes(self) -> None:
        rig, time = self.rig, self.time
        self.make = {
            t.name: Make(t.family == "circuit", time[t.start], time[t.hold_up], t.margin)
            for t in rig.things.values()
        }
        self.recipe = {node.name: self._recipe(node) for node in rig.nodes.values()}
        self.chooses = {selector.name: node.name for selector, node in selectors(rig)}
        self.layer_names = {
            node.name: tuple(self._layer(name).layer for name in node.layers)
            for node in rig.nodes.values()
            if isinstance(node, Carrier)
        }
        self.carriers_of_layer: dict[str, list[str]] = defaultdict(list)
        for name, node in rig.nodes.items():
            if isinstance(node, Carrier):
                for layer in node.layers:
                    self.carriers_of_layer[layer].append(name)

    def _layer(self, name: str) -> Layer:
        node = self.rig.nodes[name]
        assert isinstance(node, Layer)
        return node

    def _recipe(self, node: Node) -> Recipe:
        kind = type(node).__name__
        return Recipe(
            kind=kind,
            feels=mask_of(node.feels),
            choice=self._choice(node),
            times=tuple(self.time[getattr(node, key)] for key in TIMES.get(kind, ())),
            caps=getattr(node, "caps", ()),
            on_loss=getattr(node, "on_loss", ""),
            name=node.name if kind == "Carrier" else "",
        )

    def _choice(self, node: Node) -> Choice | None:
        it = getattr(node, "selector", None)
        if it is None:
            return None
        time = self.time
        locked = it.locked_on if it.restore == "locked" else 0
        return Choice(
            wait=time[it.detect] + time[it.hold_off],
            switch=time[it.switch],
            restore_after=time[it.wait_to_restore],
            above=int(it.accepts_above),
            restore=it.restore,
            locked_on=locked,
        )

    # ---- numbered functions -----------------------------------------------------------------

    def number(self, steps: Steps) -> int:
        """The number of a function; equal ones have the same."""
        found = self.numbers.get(steps)
        if found is None:
            found = self.numbers[steps] = len(self.steps)
            self.steps.append(steps)
        return found

    def joined(self, key: Any, inputs: Sequence[int], of: Callable[..., Any]) -> int:
        """A plain function of some functions of time; equal keys stand for the same one."""
        whole = (key, *inputs)
        if whole not in self.known:
            steps = [self.steps[n] for n in inputs]
            self.known[whole] = self.number(walk(steps, Joined(of), self.limit))
        return self.known[whole]
