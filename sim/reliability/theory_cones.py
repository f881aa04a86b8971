"""What one cabinet hangs on, without names that only tell like cabinets apart.

In: a `Calculus`, a cabinet, what a blow changes. Out: `Cone`s with a code that is equal for
cabinets that hang on like things in the same way; for each blow a key that is equal for blows that
do the same to that cabinet. What only hands a signal on is known by the stretch that it lies in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sim.reliability.theory_blows import Struck
from sim.reliability.theory_rig import Calculus
from sim.rig.topology import Node, Pass

Key = frozenset[Any]


@dataclass(frozen=True, slots=True, eq=False)
class Cone:
    """All nodes that lead to a cabinet, with their things and what powers them.

    `places`: what stands for each thing in a key; `within`: names of all nodes and things; `bits`:
    one for each; `numbers`: of the nodes that are not merely part of a stretch.
    """

    cabinet: str
    cards: tuple[str, ...]
    code: Any
    places: Mapping[str, Any]
    numbers: Mapping[str, int]
    within: frozenset[str]
    node_bits: Mapping[str, int]
    thing_bits: Mapping[str, int]


def cone(on: Calculus, cabinet: str) -> Cone:
    """The cone of a cabinet."""
    return _Drawing(on, cabinet).drawn()


class _Drawing:
    """One cone while it is drawn."""

    def __init__(self, on: Calculus, cabinet: str) -> None:
        self.on, self.cabinet = on, cabinet
        self.cards = on.rig.cabinets[cabinet].cards
        self.nodes = self._above()
        self.things = self._powering()
        self.readers: dict[str, list[str]] = defaultdict(list)
        self.on_thing: dict[str, list[Node]] = defaultdict(list)
        for name in self.nodes:
            self.on_thing[on.rig.nodes[name].thing].append(on.rig.nodes[name])
            for other in dict.fromkeys(on.rig.nodes[name].reads):
                self.readers[other].append(name)
        self.powers = {above for name in self.things for above in on.rig.things[name].powered_by}
        self.numbers: dict[str, int] = {}
        standing = (thing for thing in self.on_thing if not self._simple(thing))
        self.called = {thing: number for number, thing in enumerate(standing)}

    def drawn(self) -> Cone:
        code = self._code()
        node_bits = {name: 1 << n for n, name in enumerate(self.nodes)}
        more = len(node_bits)
        thing_bits = {name: 1 << n + more for n, name in enumerate(self.things)}
        return Cone(
            cabinet=self.cabinet,
            cards=self.cards,
            code=code,
            places=dict(self._places()),
            numbers=self.numbers,
            within=frozenset([*self.nodes, *self.things]),
            node_bits=node_bits,
            thing_bits=thing_bits,
        )

    def _above(self) -> dict[str, None]:
        found: dict[str, None] = {}
        todo = list(self.cards)[::-1]
        while todo:
            name = todo.pop()
            if name not in found:
                found[name] = None
                todo += self.on.rig.nodes[name].reads[::-1]
        return found

    def _powering(self) -> dict[str, None]:
        found: dict[str, None] = {}
        todo = [self.on.rig.nodes[name].thing for name in self.nodes][::-1]
        while todo:
            name = todo.pop()
            if name not in found:
                found[name] = None
                todo += self.on.rig.things[name].powered_by
        return found

    def _in_stretch(self, name: str) -> bool:
        """Whether a node only hands on to one other."""
        return isinstance(self.on.rig.nodes[name], Pass) and len(self.readers[name]) == 1

    def _simple(self, thing: str) -> bool:
        """Whether a thing is nothing but one place in a stretch."""
        nodes = self.on_thing[thing]
        return len(nodes) == 1 and isinstance(nodes[0], Pass) and thing not in self.powers

    def _code(self) -> Any:
        """Cards first, each node with its recipe, its thing, and what it reads by which way."""
        todo, code = list(self.cards)[::-1], []
        for card in self.cards:
            self.numbers[card] = len(self.numbers)
        seen: set[str] = set()
        while todo:
            name = todo.pop()
            if name in seen:
                continue
            seen.add(name)
            node = self.on.rig.nodes[name]
            ways = [self._way(other) for other in node.reads]
            for end, _ in ways:
                self.numbers.setdefault(end, len(self.numbers))
            reads = tuple((self.numbers[end], way) for end, way in ways)
            more = self.on.layer_names.get(name, ()), getattr(node, "frame", 0)
            called = self.called.get(node.thing)
            code.append((self.numbers[name], self.on.recipe[name], called, reads, more))
            todo += [end for end, _ in ways][::-1]
        return tuple(code)

    def _way(self, name: str) -> tuple[str, tuple[int, ...]]:
        """Up a stretch to the node that it begins at; the things past that stand elsewhere too."""
        past = []
        while self._in_stretch(name):
            node = self.on.rig.nodes[name]
            if not self._simple(node.thing):
                past.append(self.called[node.thing])
            name = node.reads[0]
        return name, tuple(past)

    def _places(self) -> Iterator[tuple[str, Any]]:
        for thing in self.things:
            nodes = self.on_thing.get(thing, ())
            if nodes and self._simple(thing):
                yield thing, (*self._stretch(nodes[0].name), nodes[0].feels)
            elif nodes or len(self.on.rig.things[thing].powered_by) > 1:
                yield thing, self.called.get(thing, thing)

    def _stretch(self, name: str) -> tuple[int, int]:
        """The node that a stretch leads to, by number, and by which of its inputs."""
        while self._in_stretch(name):
            reader = self.readers[name][0]
            if not isinstance(self.on.rig.nodes[reader], Pass):
                return self.numbers[reader], self.on.rig.nodes[reader].reads.index(name)
            name = reader
        return self.numbers[name], -1


MORE_THAN_SEEN = frozenset({"moved", "drops", "restart", "attenuated"})
"""Modes that may do more to a thing on which something else lies than they show alone."""


def key_of(on: Calculus, seen: Cone, one: Struck) -> Key:
    """What a blow does to a cabinet, without names; empty: nothing."""
    met, quiet = one.found.met_things, on.quiet.things
    few, many = sorted((met, seen.places), key=len)
    parts: set[Any] = set()
    for thing in few:
        if thing in many:
            state, powers = met[thing]
            if state != quiet[thing] or len(powers) > 1:
                parts.add((seen.places[thing], state, powers))
    for fault in one.blow.faults:
        if fault.mode in MORE_THAN_SEEN:
            place = _place_of(on, seen, fault.thing, isinstance(fault.choice, int))
            parts |= {(place, replace(fault, thing=""))} if place is not None else set()
    for name in one.blow.failing:
        place = _place_of(on, seen, name, True)
        parts |= {(place, "failing")} if place is not None else set()
    return frozenset([*parts, one.blow.early]) if parts else frozenset()


def _place_of(on: Calculus, seen: Cone, name: str, selector: bool) -> Any:
    return seen.numbers.get(on.chooses[name]) if selector else seen.places.get(name)


def met_bits(seen: Cone, one: Struck) -> int:
    """The nodes and things of a cone that a blow makes one look at, as bits."""
    found, bits = one.found, 0
    if found.pictures or not found.met_nodes.isdisjoint(seen.cards):
        bits |= 1 << len(seen.node_bits) + len(seen.thing_bits)
    for looked, known in ((found.met_nodes, seen.node_bits), (found.met_things, seen.thing_bits)):
        few, many = sorted((looked, known), key=len)
        for name in few:
            if name in many:
                bits |= known[name]
    return bits
