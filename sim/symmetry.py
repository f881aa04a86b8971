"""Which parts of a rig must behave alike under a fault: one of each kind is worked out for all.

In: a `Wiring`, its signals when nothing is wrong, the things and selectors that are struck.
Out: a `Cone`: the part of the rig that can notice, with what is alike merged, in the same shape
as a `Wiring`, so that the engine runs on it unawares. Two nodes are of one kind if their own
properties, the kinds of their things and the kinds of their inputs are the same: what a node
does depends on nothing else. Kinds are numbered across cones (`Kinds`), so that equal numbers
mean equal behaviour under equal faults wherever in the rig they stand.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from heapq import heappop, heappush
from typing import Any

from sim.topology import Carrier, Layer, Node, Pass, Rig, Selector, Thing
from sim.wiring import Ints, Wiring

OWN = {"name", "thing", "inputs", "watch", "layers", "sync", "delay"}
"""Fields of a node that say who it is or whom it reads, not how it behaves."""


class Kinds:
    """Numbers for kinds, given out as they are first met; one for each rig."""

    def __init__(self, wiring: Wiring) -> None:
        self.numbers: dict[Hashable, int] = {}
        self.node_traits = [self.of(_node_traits(node)) for node in wiring.nodes]
        self.thing_traits = [self.of((t.start, t.hold_up, t.margin)) for t in wiring.things]

    def of(self, recipe: Hashable) -> int:
        """The number of this recipe."""
        return self.numbers.setdefault(recipe, len(self.numbers))


def _node_traits(node: Node) -> Hashable:
    own = {field.name: getattr(node, field.name) for field in fields(node) if field.name not in OWN}
    selector = own.get("selector")
    if isinstance(selector, Selector):
        own["selector"] = tuple(getattr(selector, f.name) for f in fields(selector)[1:])
    who = node.name if isinstance(node, Carrier | Layer) else ""
    return (type(node).__name__, who, *sorted((key, _hashable(v)) for key, v in own.items()))


def _hashable(value: Any) -> str:
    return repr(sorted(value)) if isinstance(value, frozenset) else repr(value)


@dataclass(frozen=True, slots=True)
class Cone:
    """What can notice a strike, merged. The tables hold representatives only; see `Wiring` for
    their meaning.

    `members`: all nodes that can notice; `kind_of_cabinet`: for every cabinet that can notice, the
    number of its kind; `twin`: for each kind of cabinet the one that is worked out; `signature`: equal for cones that behave alike.
    """

    rig: Rig
    things: tuple[Thing, ...]
    nodes: tuple[Node, ...]
    thing_number: Mapping[str, int]
    node_number: Mapping[str, int]
    powered_by: Mapping[int, Ints]
    powers: Mapping[int, Ints]
    thing_of: Mapping[int, int]
    nodes_of: Mapping[int, Ints]
    inputs: Mapping[int, Ints]
    readers: Mapping[int, Ints]
    layers_of: Mapping[int, Ints]
    carriers_of: Mapping[int, Ints]
    cabinets: Mapping[int, str]
    cards_of: Mapping[int, Ints]
    cabinets_of: Mapping[int, Ints]
    selector_node: Mapping[str, int]
    kind_of_cabinet: Mapping[int, int]
    twin: Mapping[int, int]
    signature: frozenset[int]
    members: frozenset[int]


def cone(wiring: Wiring, kinds: Kinds, quiet: Sequence[Any], struck: Sequence[str]) -> Cone:
    """The merged part of the rig that can notice anything happening to `struck` (things or
    selectors, in the script's order).

    `quiet`: the signals when nothing is wrong, by node number.
    """
    hit_things = {
        wiring.thing_number[name]: place
        for place, name in enumerate(struck)
        if name in wiring.thing_number
    }
    hit_nodes = {
        wiring.selector_node[name]: place
        for place, name in enumerate(struck)
        if name in wiring.selector_node
    }
    thing_kind = _thing_kinds(wiring, kinds, hit_things)
    node_kind, stands_for = _node_kinds(wiring, kinds, quiet, thing_kind, hit_nodes)
    cabinet_kind = _cabinet_kinds(wiring, kinds, node_kind, quiet)
    return _assemble(wiring, thing_kind, node_kind, stands_for, cabinet_kind)


def _thing_kinds(wiring: Wiring, kinds: Kinds, hit: Mapping[int, int]) -> dict[int, int]:
    """Things that can notice: those struck, and those of which every feed can notice."""
    found: dict[int, int] = {}
    front = _Front(hit)
    for number in front:
        feeds = wiring.powered_by[number]
        if number not in hit and not all(feed in found for feed in feeds):
            continue
        if number not in hit and _only_hands_on(wiring, number):
            found[number] = found[feeds[0]]
            front.add(wiring.powers[number])
            continue
        fed_by = frozenset(found.get(feed, -1) for feed in feeds)
        recipe = ("thing", kinds.thing_traits[number], hit.get(number, -1), fed_by)
        found[number] = kinds.of(recipe)
        front.add(wiring.powers[number])
    return found


def _only_hands_on(wiring: Wiring, number: int) -> bool:
    """Whether a thing does nothing but power what hangs on it, the instant that it is powered
    itself.
    """
    thing = wiring.things[number]
    at_once = not thing.start and not thing.hold_up
    return at_once and len(thing.powered_by) == 1 and not wiring.nodes_of[number]


class _Front:
    """Numbers in ascending order, those too that are added on the way (always greater ones), each
    once.
    """

    def __init__(self, numbers: Iterable[int]) -> None:
        self.heap = sorted(set(numbers))
        self.known = set(self.heap)

    def add(self, numbers: Iterable[int]) -> None:
        for number in numbers:
            if number not in self.known:
                self.known.add(number)
                heappush(self.heap, number)

    def __iter__(self) -> Iterator[int]:
        while self.heap:
            yield heappop(self.heap)


def _node_kinds(
    wiring: Wiring,
    kinds: Kinds,
    quiet: Sequence[Any],
    thing_kind: Mapping[int, int],
    hit: Mapping[int, int],
) -> tuple[dict[int, int], dict[int, int]]:
    """For each node that can notice, its kind and the node that stands for it."""
    kind: dict[int, int] = {}
    stands_for: dict[int, int] = {}
    first: dict[int, int] = {}
    front = _Front({n for thing in thing_kind for n in wiring.nodes_of[thing]} | set(hit))
    for number in front:
        inputs = wiring.inputs[number]
        thing = thing_kind.get(wiring.thing_of[number], -1)
        front.add(wiring.readers[number])
        if thing < 0 and number not in hit and isinstance(wiring.nodes[number], Pass):
            kind[number], stands_for[number] = kind[inputs[0]], stands_for[inputs[0]]
            continue
        seen = tuple(kind[i] if i in kind else kinds.of(("quiet", quiet[i])) for i in inputs)
        recipe = ("node", kinds.node_traits[number], thing, hit.get(number, -1), seen)
        kind[number] = kinds.of(recipe)
        stands_for[number] = first.setdefault(kind[number], number)
    return kind, stands_for


def _cabinet_kinds(
    wiring: Wiring,
    kinds: Kinds,
    node_kind: Mapping[int, int],
    quiet: Sequence[Any],
) -> dict[int, int]:
    numbers = {c for node in node_kind for c in wiring.cabinets_of.get(node, ())}
    return {
        number: kinds.of(
            (
                "cabinet",
                tuple(
                    node_kind.get(card, ~kinds.of(("quiet", quiet[card])))
                    for card in wiring.cards_of[number]
                ),
            )
        )
        for number in sorted(numbers)
    }


def _assemble(
    wiring: Wiring,
    thing_kind: Mapping[int, int],
    node_kind: Mapping[int, int],
    stands_for: Mapping[int, int],
    cabinet_kind: Mapping[int, int],
) -> Cone:
    thing_for = _firsts(thing_kind)
    things = sorted(set(thing_for.values()))
    nodes = sorted(set(stands_for.values()))
    inputs = {n: tuple(stands_for.get(i, i) for i in wiring.inputs[n]) for n in nodes}
    thing_of = {n: thing_for.get(wiring.thing_of[n], wiring.thing_of[n]) for n in nodes}
    powered_by = {t: tuple(thing_for.get(f, f) for f in wiring.powered_by[t]) for t in things}
    layers_of = {
        carrier: tuple(stands_for.get(n, n) for n in layers)
        for carrier, layers in wiring.layers_of.items()
    }
    twin: dict[int, int] = {}
    for cabinet, kind in cabinet_kind.items():
        twin.setdefault(kind, cabinet)
    cards_of = {c: tuple(stands_for.get(n, n) for n in wiring.cards_of[c]) for c in twin.values()}
    return Cone(
        rig=wiring.rig,
        things=wiring.things,
        nodes=wiring.nodes,
        thing_number={wiring.things[t].name: t for t in things},
        node_number=wiring.node_number,
        powered_by=powered_by,
        powers=_turned(powered_by, things),
        thing_of=thing_of,
        nodes_of=_turned({n: (t,) for n, t in thing_of.items()}, things),
        inputs=inputs,
        readers=_turned(inputs, nodes),
        layers_of=layers_of,
        carriers_of=_turned(layers_of, {n for layers in layers_of.values() for n in layers}),
        cabinets={number: wiring.cabinets[number] for number in twin.values()},
        cards_of=cards_of,
        cabinets_of=_turned(cards_of, {card for cards in cards_of.values() for card in cards}),
        selector_node=wiring.selector_node,
        kind_of_cabinet=cabinet_kind,
        twin=twin,
        signature=frozenset({*thing_kind.values(), *node_kind.values(), *cabinet_kind.values()}),
        members=frozenset(node_kind),
    )


def _firsts(kind: Mapping[int, int]) -> dict[int, int]:
    """For each number the first one of its kind."""
    first: dict[int, int] = {}
    return {number: first.setdefault(k, number) for number, k in kind.items()}


def _turned(pointers: Mapping[int, Ints], targets: Collection[int]) -> dict[int, Ints]:
    back: dict[int, list[int]] = {target: [] for target in targets}
    for origin, pointed in pointers.items():
        for target in pointed:
            if target in back:
                back[target].append(origin)
    return {target: tuple(dict.fromkeys(origins)) for target, origins in back.items()}
