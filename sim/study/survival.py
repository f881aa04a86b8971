"""What of a rig still leads anywhere when some things are down: reachability, no time, no engine.

In: a `Rig`, things that are down. Out: a frozen `Survival`: the nodes that something still comes
to, what each cabinet is then fed from, and where the ways are broken. An automatic choice takes
any input that is left; one set by hand, or locked, stays where it was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from heapq import heapify, heappop, heappush

from sim.rig.topology import Carrier, Emit, Merge, Node, Rig, Selector
from sim.rig.validator import rank

HELD = frozenset({"by-hand", "locked"})


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

    def __init__(self, before: Mapping[str, str]) -> None:
        self.before = before
        self.changed: dict[str, str] = {}

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
    """The graph of one rig, in order, asked again and again."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        place = rank(rig)
        self.order = sorted(place, key=place.__getitem__)
        self.place = place

    @cached_property
    def hanging(self) -> dict[str, list[str]]:
        """For each thing those that it powers, alone or with others, if they go down with it."""
        found: dict[str, list[str]] = {}
        for name in filter(lambda each: _hangs(self.rig, each), self.rig.things):
            for feed in self.rig.things[name].powered_by:
                found.setdefault(feed, []).append(name)
        return found

    @cached_property
    def quiet(self) -> dict[str, str]:
        """What comes to nodes with nothing down."""
        feeds: dict[str, str] = {}
        for name in self.order:
            if origin := _origin(self.rig.nodes[name], feeds):
                feeds[name] = origin
        return feeds

    @cached_property
    def readers(self) -> dict[str, list[str]]:
        """For each node those that read it."""
        found: dict[str, list[str]] = {}
        for node in self.rig.nodes.values():
            for other in node.reads:
                found.setdefault(other, []).append(node.name)
        return found

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
        feeds = Feeds(self.quiet)
        todo = [(self.place[name], name) for thing in down for name in self.nodes_of.get(thing, ())]
        heapify(todo)
        while todo:
            name = heappop(todo)[1]
            node = self.rig.nodes[name]
            origin = "" if node.thing in down else _origin(node, feeds)
            if name not in feeds.changed and origin != self.quiet.get(name, ""):
                feeds.changed[name] = origin
                for reader in self.readers.get(name, ()):
                    heappush(todo, (self.place[reader], reader))
        return Survival(frozenset(down), feeds, frozenset(feeds.changed))

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
        found: dict[str, None] = {}
        todo = list(nodes)
        while todo:
            for name in self.readers.get(todo.pop(), ()):
                if name not in found and not isinstance(self.rig.nodes[name], Carrier):
                    found[name] = None
                    todo.append(name)
        return sorted(found, key=self.place.__getitem__)

    def _sorted(self, things: set[str]) -> tuple[str, ...]:
        first = {t: min(self.place[n] for n in self.nodes_of[t]) for t in things}
        return tuple(sorted(things, key=lambda t: (first[t], t)))


def _hangs(rig: Rig, name: str) -> bool:
    """Whether a thing goes down with what powers it within the show."""
    thing = rig.things[name]
    holds = rig.timings[thing.hold_up].typical if thing.hold_up else 0
    return bool(thing.powered_by) and holds < max(rig.length, 1)


def _origin(node: Node, feeds: Mapping[str, str]) -> str:
    """What a node that is not down holds the signal of; "": nothing comes to it."""
    return node.name if isinstance(node, Emit | Carrier) else _fed(node, feeds)


def _fed(node: Node, feeds: Mapping[str, str]) -> str:
    """What comes to a node by the input that it chooses among those that are left."""
    selector: Selector | None = getattr(node, "selector", None)
    if selector is not None and selector.restore in HELD:
        return feeds.get(node.inputs[_held_on(node)], "")
    if selector is None and not isinstance(node, Merge):
        return feeds.get(node.inputs[0], "")
    return next((feeds[i] for i in node.inputs if i in feeds), "")


def _held_on(node: Node) -> int:
    selector: Selector | None = getattr(node, "selector", None)
    return selector.locked_on if selector is not None and selector.restore == "locked" else 0


def _selector_name(node: Node) -> str:
    selector: Selector | None = getattr(node, "selector", None)
    return selector.name if selector is not None else node.name
