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

from sim.rig.topology import Carrier, Emit, Merge, Node, Rig, Selector
from sim.rig.validator import rank

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
    """What comes to nodes: as it was, but for some of them ("": nothing any more)."""

    def __init__(self, before: Mapping[str, str], changed: Mapping[str, str]) -> None:
        self.before, self.changed = before, changed

    def __getitem__(self, name: str) -> str:
        found = self.changed.get(name)
        found = self.before.get(name, "") if found is None else found
        if not found:
            raise KeyError(name)
        return found

    def __iter__(self) -> Iterator[str]:
        yield from (name for name in self.before if self.changed.get(name, name))
        yield from (n for n, origin in self.changed.items() if origin and n not in self.before)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class Ways:
    """The graph of one rig, asked again and again; nodes by their number in its order."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.place = rank(rig)
        self.order = tuple(self.place)
        nodes = [rig.nodes[name] for name in self.order]
        self.takes = [_takes(node) for node in nodes]
        self.inputs = [tuple([self.place[name] for name in node.inputs]) for node in nodes]

    @cached_property
    def hanging(self) -> dict[str, list[str]]:
        """For each thing those that it powers, alone or with others, if they go down with it."""
        found: dict[str, list[str]] = {}
        for name in filter(lambda each: _hangs(self.rig, each), self.rig.things):
            for feed in self.rig.things[name].powered_by:
                found.setdefault(feed, []).append(name)
        return found

    @cached_property
    def origins(self) -> list[int]:
        """The node whose signal comes to each with nothing down; NONE: nothing comes to it."""
        found: list[int] = []
        for number in range(len(self.order)):
            found.append(self._origin(number, {}, found))
        return found

    @cached_property
    def quiet(self) -> dict[str, str]:
        """What comes to nodes with nothing down."""
        order = self.order
        return {order[n]: order[origin] for n, origin in enumerate(self.origins) if origin >= 0}

    @cached_property
    def readers(self) -> list[tuple[int, ...]]:
        """For each node those that read it."""
        found: list[list[int]] = [[] for _ in self.order]
        for number, name in enumerate(self.order):
            for other in self.rig.nodes[name].reads:
                found[self.place[other]].append(number)
        return [tuple(of) for of in found]

    @cached_property
    def nodes_of(self) -> dict[str, list[str]]:
        """The nodes of each thing."""
        found: dict[str, list[str]] = {}
        for node in self.rig.nodes.values():
            found.setdefault(node.thing, []).append(node.name)
        return found

    def without(self, struck: Iterable[str]) -> Survival:
        """What is left when these things, and all that they alone power, are down."""
        down = self._down(struck)
        hit = {self.place[name] for thing in down for name in self.nodes_of.get(thing, ())}
        origins, readers = self.origins, self.readers
        changed: dict[int, int] = {}
        todo = sorted(hit)
        while todo:
            number = heappop(todo)
            origin = NONE if number in hit else self._origin(number, changed, origins)
            if number not in changed and origin != origins[number]:
                changed[number] = origin
                for reader in readers[number]:
                    heappush(todo, reader)
        named = {self.order[n]: self.order[of] if of >= 0 else "" for n, of in changed.items()}
        return Survival(frozenset(down), Feeds(self.quiet, named), frozenset(named))

    def _origin(self, number: int, changed: Mapping[int, int], before: Sequence[int]) -> int:
        """The node whose signal comes to one that is not down."""
        takes, inputs = self.takes[number], self.inputs[number]
        if takes == ITSELF:
            return number
        for other in inputs if takes == ANY else inputs[takes : takes + 1]:
            origin = changed[other] if other in changed else before[other]
            if origin >= 0:
                return origin
        return NONE

    def _down(self, struck: Iterable[str]) -> set[str]:
        down = set(struck)
        todo = list(down)
        while todo:
            for name in self.hanging.get(todo.pop(), ()):
                if name not in down and down.issuperset(self.rig.things[name].powered_by):
                    down.add(name)
                    todo.append(name)
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

    def above(self, nodes: Collection[str]) -> frozenset[str]:
        """These nodes and all that they read, directly or through others."""
        found, todo = set(nodes), list(nodes)
        while todo:
            for name in self.rig.nodes[todo.pop()].reads:
                if name not in found:
                    found.add(name)
                    todo.append(name)
        return frozenset(found)

    def below(self, nodes: Iterable[str]) -> list[str]:
        """What reads these nodes, directly or through others, up to the processors and cabinets."""
        found: set[int] = set()
        todo = [self.place[name] for name in nodes]
        while todo:
            for number in self.readers[todo.pop()]:
                if number not in found and not self._sends(number):
                    found.add(number)
                    todo.append(number)
        return [self.order[number] for number in sorted(found)]

    def _sends(self, number: int) -> bool:
        return isinstance(self.rig.nodes[self.order[number]], Carrier)

    def _sorted(self, things: set[str]) -> tuple[str, ...]:
        first = {t: min(self.place[n] for n in self.nodes_of[t]) for t in things}
        return tuple(sorted(things, key=lambda t: (first[t], t)))


def _hangs(rig: Rig, name: str) -> bool:
    """Whether a thing goes down with what powers it within the show."""
    thing = rig.things[name]
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
