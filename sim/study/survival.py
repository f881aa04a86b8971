"""What of a rig still leads anywhere when some things are down: reachability, no time, no engine.

In: a `Rig`, things that are down. Out: a frozen `Survival`: the nodes that something still comes
to, what each cabinet is then fed from, and where the ways are broken. An automatic choice takes
any input that is left; one set by hand, or locked, stays where it was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from sim.rig.topology import Carrier, Emit, Merge, Node, Rig, Selector
from sim.rig.validator import power_rank, rank

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
    """`down`: things. `alive`: nodes that something comes to. `feeds`: for each node alive the
    carrier (or source) whose signal it holds, by the inputs that are then chosen.
    """

    down: frozenset[str]
    alive: frozenset[str]
    feeds: Mapping[str, str]


class Ways:
    """The graph of one rig, in order, asked again and again."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        place = rank(rig)
        self.order = sorted(place, key=place.__getitem__)
        power = power_rank(rig)
        self.powered = [n for n in sorted(power, key=power.__getitem__) if _hangs(rig, n)]
        self.place = place

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
        down = set(struck)
        for name in self.powered:
            if down.issuperset(self.rig.things[name].powered_by):
                down.add(name)
        feeds: dict[str, str] = {}
        for name in self.order:
            node = self.rig.nodes[name]
            if node.thing not in down:
                origin = name if isinstance(node, Emit | Carrier) else _fed(node, feeds)
                if origin:
                    feeds[name] = origin
        return Survival(frozenset(down), frozenset(feeds), feeds)

    def broken(self, lost: Collection[str], left: Survival) -> Break:
        """Where the ways to these nodes, none of which is alive, end."""
        front: set[str] = set()
        held: set[str] = set()
        todo, seen = list(lost), set(lost)
        while todo:
            node = self.rig.nodes[todo.pop()]
            came = [i for i in node.inputs if i in left.alive]
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
                if other not in left.alive and other not in seen:
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
