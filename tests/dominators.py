"""Single points by theory: dominators of the graph of things, removal and reachability.

In: a `Rig`. Out: for a cell, which things (or what powers them, or what lies on a route) leave it
not lit when they are gone. Only the graph is looked at: no signal, no time, no engine.

Joining the nodes of one thing into one graph node adds ways that no signal can go where a signal
would have to come in at one node of it and leave by another that the first does not feed: one
trunk bank of a relay then seems to feed the ports of another bank. `crossing` finds such things
(some of them add no way that matters); without any, ways between joined nodes are ways of signals.
Only what lies above the target is joined, so that a receiver does not turn a signal round.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import Any

import networkx as nx

from sim.faults import Quality
from sim.rig.topology import Carrier, Emit, Layer, Node, Rig, Sync
from sim.timebase import FOREVER

ROOT = "root"
TARGET = "target"


def down_with(rig: Rig, gone: Iterable[str]) -> set[str]:
    """What is down for good once `gone` is: all that is left without anything that powers it.

    A circuit that holds up for ever does not go down for want of power.
    """
    down = set(gone)
    while True:
        more = {
            t.name
            for t in rig.things.values()
            if t.name not in down and t.powered_by and set(t.powered_by) <= down
            and not _held_up(rig, t.hold_up)
        }  # fmt: skip
        if not more:
            return down
        down |= more


def _held_up(rig: Rig, key: str) -> bool:
    return bool(key) and rig.timings[key].typical >= FOREVER


def ways_in(node: Node) -> tuple[str, ...]:
    """The inputs by which a good picture can come: of a layer those that count as good there."""
    if not isinstance(node, Layer) or not node.caps:
        return node.inputs
    pairs = zip(node.inputs, node.caps, strict=True)
    return tuple(name for name, cap in pairs if cap == Quality.GOOD)


def muddled(node: Layer) -> bool:
    """Whether a good input comes after an acceptable one that counts as less.

    A layer moves to its first acceptable input, so such a good one helps only if the other falls
    together with those before it: no graph of ways says that.
    """
    caps = [cap for cap in node.caps if cap == Quality.GOOD or cap > node.selector.accepts_above]
    return caps != sorted(caps, key=lambda cap: cap != Quality.GOOD)


def above(rig: Rig, tops: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The nodes above some nodes, up to carriers or emitters, each with the inputs it has there."""
    found: dict[str, tuple[str, ...]] = {}
    todo = list(tops)
    while todo:
        name = todo.pop()
        if name not in found:
            node = rig.nodes[name]
            found[name] = () if isinstance(node, Carrier) else ways_in(node)
            todo += found[name]
    return found


def beginnings(rig: Rig, part: Collection[str]) -> set[str]:
    """The carriers or emitters in a part."""
    return {name for name in part if isinstance(rig.nodes[name], Carrier | Emit)}


def reached(rig: Rig, tops: Iterable[str], down: Collection[str]) -> set[str]:
    """The carriers or emitters from which some node of `tops` is still reached."""
    alive = [name for name in tops if rig.nodes[name].thing not in down]
    found, todo = set(alive), alive
    while todo:
        node = rig.nodes[todo.pop()]
        for name in () if isinstance(node, Carrier) else ways_in(node):
            if name not in found and rig.nodes[name].thing not in down:
                found.add(name)
                todo.append(name)
    return beginnings(rig, found)


def crossing(rig: Rig, tops: Collection[str]) -> set[str]:
    """Things where a joined node would let a signal in at one node and out at another unfed one."""
    part = above(rig, tops)
    readers: dict[str, set[str]] = {name: set() for name in part}
    for name, inputs in part.items():
        for read in inputs:
            readers[read].add(name)
    first, found = beginnings(rig, part), set()
    for thing in {rig.nodes[name].thing for name in part}:
        own = [name for name in part if rig.nodes[name].thing == thing]
        entries = [n for n in own if any(i not in own for i in part[n])]
        begin = [n for n in own if n in first]
        exits = [n for n in own if n in tops or any(r not in own for r in readers[n])]
        fed = [_fed_within(own, readers, [name]) for name in entries]
        fed += [_fed_within(own, readers, begin)] if begin else []
        if any(out not in each for each in fed for out in exits):
            found.add(thing)
    return found


def _fed_within(
    own: Collection[str], readers: dict[str, set[str]], first: Iterable[str]
) -> set[str]:
    found, todo = set(first), [*first]
    while todo:
        for reader in readers[todo.pop()]:
            if reader in own and reader not in found:
                found.add(reader)
                todo.append(reader)
    return found


def dominators(rig: Rig, tops: Collection[str]) -> set[str]:
    """The things that every way from one root above all beginnings to `tops` runs through."""
    part = above(rig, tops)
    made: Any = nx.DiGraph()
    made.add_edges_from((ROOT, rig.nodes[name].thing) for name in beginnings(rig, part))
    for name, inputs in part.items():
        made.add_edges_from((rig.nodes[i].thing, rig.nodes[name].thing) for i in inputs)
    made.add_edges_from((rig.nodes[top].thing, TARGET) for top in tops)
    made.remove_edges_from(list(nx.selfloop_edges(made)))
    over = nx.immediate_dominators(made, ROOT)
    found, at = set(), over[TARGET]
    while at != ROOT:
        found.add(at)
        at = over[at]
    return found


class Cell:
    """A cell with what feeds it: its cards, its layer at each carrier, their syncs."""

    def __init__(self, rig: Rig, group: str, number: int) -> None:
        self.rig = rig
        of = rig.groups[group]
        cell = of.cells[number]
        self.cards = rig.cabinets[cell.cabinet].cards
        stack = of.stacks[cell.stack][of.arrangements[0]]
        self.layer = stack[0].layer if stack else ""
        self.carriers = beginnings(rig, above(rig, self.cards))

    def needs(self, carrier: str) -> Iterator[str]:
        """What a carrier needs to show this cell well: its layer and its sync."""
        node = self.rig.nodes[carrier]
        assert isinstance(node, Carrier)
        for name in node.layers:
            layer = self.rig.nodes[name]
            if isinstance(layer, Layer) and layer.layer == self.layer:
                yield name
        sync = self.rig.nodes.get(node.sync)
        if isinstance(sync, Sync) and not _held_up(self.rig, sync.holdover):
            yield sync.name

    @property
    def muddled(self) -> bool:
        """Whether the order of some layer's inputs is beyond any graph."""
        layers = (self.rig.nodes[need] for c in self.carriers for need in self.needs(c))
        return any(isinstance(layer, Layer) and muddled(layer) for layer in layers)

    @property
    def crossing(self) -> set[str]:
        """Things that cannot be joined anywhere above this cell."""
        tops = [self.cards, *([n] for c in self.carriers for n in self.needs(c))]
        return {thing for of in tops for thing in crossing(self.rig, of)}

    def usual(self) -> list[str]:
        """The way that feeds it while nothing is wrong: first inputs, up to a carrier."""
        way = [self.cards[0]]
        while not isinstance(self.rig.nodes[way[-1]], Carrier):
            way.append(self.rig.nodes[way[-1]].inputs[0])
        return way

    def _judge(self, left: Collection[str], down: Collection[str], loses: set[str]) -> bool | None:
        """Whether it is lost, from the carriers that still reach it and those that lose it.

        While nothing on its usual way is down, it stays on its usual carrier. Else one of those
        that are left feeds it; if only some of them lose it, that depends on the selectors (None).
        """
        if not left:
            return True
        usual = self.usual()
        if not any(self.rig.nodes[name].thing in down for name in usual):
            return usual[-1] in loses
        lost = {carrier in loses for carrier in left}
        return lost.pop() if len(lost) == 1 else None

    def lost_by_removal(self, down: Collection[str]) -> bool | None:
        """Whether it is not lit once these things are gone."""
        left = reached(self.rig, self.cards, down)
        loses = {
            c for c in left if any(not reached(self.rig, [need], down) for need in self.needs(c))
        }
        return self._judge(left, down, loses)

    def lost_by_dominators(self) -> dict[str, bool | None]:
        """For every thing that passes a signal, whether it is a single point of this cell."""
        below = dominators(self.rig, self.cards)
        over = {
            c: {t for need in self.needs(c) for t in dominators(self.rig, [need])}
            for c in self.carriers
        }
        found: dict[str, bool | None] = {}
        for thing in {node.thing for node in self.rig.nodes.values()}:
            left = set() if thing in below else reached(self.rig, self.cards, {thing})
            loses = {c for c in left if thing in over[c]}
            found[thing] = self._judge(left, {thing}, loses)
        return found
