"""What of a rig still leads anywhere when some things are down: reachability, no time, no engine.

In: a `Rig`, things that are down. Out: a frozen `Survival`: the nodes that something still comes
to, what each cabinet is then fed from, and where the ways are broken. An automatic choice takes
any input that is left; one set by hand, or locked, stays where it was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush

from sim.engine.wiring import Wiring, wire
from sim.rig.topology import Carrier, Emit, Merge, Node, Rig, Selector, Thing

HELD = frozenset({"by-hand", "locked"})

NONE, ITSELF, ANY = -1, -2, -1
"""No node; a node that sends by itself; one that takes any input that is left."""


@dataclass(frozen=True, slots=True)
class Break:
    """Where the ways to some nodes end: `front` the things that are down while something still
    comes to them, `held` the selectors that stay on an input that is lost beside one that is not.
    """

    front: tuple[str, ...]
    held: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Survival:
    """`down`: things. `feeds`: for each node to which something comes the carrier (or source) whose
    signal it holds, by the inputs that are then chosen; `changed`: the nodes for which that is
    not as it was with nothing down.
    """

    down: frozenset[str]
    feeds: Mapping[str, str]
    changed: frozenset[str]

    @property
    def alive(self) -> frozenset[str]:
        """The nodes that something comes to."""
        return frozenset(self.feeds)


class Feeds(Mapping[str, str]):
    """What comes to nodes: as with nothing down, but for some of them (NONE: nothing any more)."""

    def __init__(self, ways: Ways, changed: Mapping[int, int]) -> None:
        self.ways, self.changed = ways, changed

    def origin(self, number: int) -> int:
        """The node whose signal comes to one."""
        found = self.changed.get(number)
        return self.ways.origins[number] if found is None else found

    def __contains__(self, name: object) -> bool:
        number = self.ways.place.get(name)  # type: ignore[call-overload]
        return number is not None and self.origin(number) >= 0

    def __getitem__(self, name: str) -> str:
        origin = self.origin(self.ways.place[name])
        if origin < 0:
            raise KeyError(name)
        return self.ways.nodes[origin].name

    def __iter__(self) -> Iterator[str]:
        yield from (name for name, number in self.ways.place.items() if self.origin(number) >= 0)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class Ways:
    """The graph of one rig, asked again and again; inside by numbers, as of its wiring."""

    def __init__(self, rig: Rig, wiring: Wiring | None = None) -> None:
        """`wiring`: of this rig, if there is one already."""
        self.rig, self.wiring = rig, wiring or wire(rig)
        self.place, self.nodes = self.wiring.node_number, self.wiring.nodes
        self.takes = [_takes(node) for node in self.nodes]

    @cached_property
    def origins(self) -> list[int]:
        """The node whose signal comes to each with nothing down; NONE: nothing comes to it."""
        found: list[int] = []
        for number in range(len(self.nodes)):
            found.append(self._origin(number, {}, found))
        return found

    @property
    def quiet(self) -> Feeds:
        """What comes to nodes with nothing down."""
        return Feeds(self, {})

    def nodes_of(self, thing: str) -> list[str]:
        """The nodes of a thing."""
        number = self.wiring.thing_number[thing]
        return [self.nodes[node].name for node in self.wiring.nodes_of[number]]

    def without(self, struck: Iterable[str]) -> Survival:
        """What is left when these things, and all that they alone power, are down."""
        down = self._down(struck)
        numbers = [self.wiring.thing_number[thing] for thing in down]
        hit = {node for thing in numbers for node in self.wiring.nodes_of[thing]}
        origins, readers = self.origins, self.wiring.readers
        changed: dict[int, int] = {}
        todo = sorted(hit)
        while todo:
            number = heappop(todo)
            origin = NONE if number in hit else self._origin(number, changed, origins)
            if number not in changed and origin != origins[number]:
                changed[number] = origin
                for reader in readers[number]:
                    heappush(todo, reader)
        names = frozenset([self.nodes[number].name for number in changed])
        return Survival(frozenset(down), Feeds(self, changed), names)

    def _origin(self, number: int, changed: Mapping[int, int], before: Sequence[int]) -> int:
        """The node whose signal comes to one that is not down."""
        takes, inputs = self.takes[number], self.wiring.inputs[number]
        if takes == ITSELF:
            return number
        for other in inputs if takes == ANY else inputs[takes : takes + 1]:
            origin = changed[other] if other in changed else before[other]
            if origin >= 0:
                return origin
        return NONE

    def _down(self, struck: Iterable[str]) -> set[str]:
        wiring = self.wiring
        down = {name for name in struck if name in wiring.thing_number}
        todo = list(down)
        while todo:
            for number in wiring.powers[wiring.thing_number[todo.pop()]]:
                thing = wiring.things[number]
                hangs = thing.name not in down and down.issuperset(thing.powered_by)
                if hangs and _falls(self.rig, thing):
                    down.add(thing.name)
                    todo.append(thing.name)
        return down

    def broken(self, lost: Collection[str], left: Survival) -> Break:
        """Where the ways to these nodes, none of which is alive, end."""
        front: set[str] = set()
        held: set[str] = set()
        todo, seen = list(lost), set(lost)
        while todo:
            node = self.rig.nodes[todo.pop()]
            came = [i for i in node.inputs if i in left.feeds]
            if node.thing in left.down:
                if came or isinstance(node, Emit | Carrier):
                    front.add(node.thing)
                above = [] if isinstance(node, Carrier) else node.inputs
            elif came:
                held.add(_selector_name(node))
                above = [node.inputs[_held_on(node)]]
            else:
                above = node.inputs
            for other in above:
                if other not in left.feeds and other not in seen:
                    seen.add(other)
                    todo.append(other)
        return Break(self._sorted(front), tuple(sorted(held)))

    def above(self, names: Iterable[str]) -> Collection[int]:
        """The numbers of these nodes and of all that they read, directly or through others."""
        todo = [self.place[name] for name in names]
        found = set(todo)
        while todo:
            number = todo.pop()
            for other in (*self.wiring.inputs[number], *self.wiring.layers_of.get(number, ())):
                if other not in found:
                    found.add(other)
                    todo.append(other)
        return found

    def below(self, names: Iterable[str]) -> list[str]:
        """What reads these nodes, directly or through others, up to the processors and cabinets."""
        found: set[int] = set()
        todo = [self.place[name] for name in names]
        while todo:
            for number in self.wiring.readers[todo.pop()]:
                if number not in found and not isinstance(self.nodes[number], Carrier):
                    found.add(number)
                    todo.append(number)
        return [self.nodes[number].name for number in sorted(found)]

    def _sorted(self, things: set[str]) -> tuple[str, ...]:
        nodes, number = self.wiring.nodes_of, self.wiring.thing_number
        return tuple(sorted(things, key=lambda thing: (nodes[number[thing]][0], thing)))


def _falls(rig: Rig, thing: Thing) -> bool:
    """Whether a thing goes down with what powers it within the show."""
    holds = rig.timings[thing.hold_up].typical if thing.hold_up else 0
    return bool(thing.powered_by) and holds < max(rig.length, 1)


def _takes(node: Node) -> int:
    """Which of its inputs a node takes by itself."""
    selector: Selector | None = getattr(node, "selector", None)
    if isinstance(node, Emit | Carrier):
        return ITSELF
    if selector is None:
        return ANY if isinstance(node, Merge) else 0
    return _held_on(node) if selector.restore in HELD else ANY


def _held_on(node: Node) -> int:
    selector: Selector | None = getattr(node, "selector", None)
    return selector.locked_on if selector is not None and selector.restore == "locked" else 0


def _selector_name(node: Node) -> str:
    selector: Selector | None = getattr(node, "selector", None)
    return selector.name if selector is not None else node.name
