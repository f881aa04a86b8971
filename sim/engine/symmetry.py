"""Which parts of a rig must behave alike under a fault: one of each kind is worked out for all.

In: a `Wiring`, its signals when nothing is wrong, the things and selectors that are struck.
Out: a `Reach`, who can notice and of which kind; and from it a `Cone`: that part of the rig with
what is alike merged, in the shape of a `Wiring`, so that the engine runs on it unawares. Two nodes
are of one kind if their own
properties, the kinds of their things and the kinds of their inputs are the same: what a node
does depends on nothing else. Kinds are numbered across cones (`Kinds`), so that equal numbers
mean equal behaviour under equal faults wherever in the rig they stand.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from sim.engine.wiring import Ints, Wiring
from sim.rig.topology import Carrier, Layer, Node, Pass, Rig, Selector, Thing

OWN = {"name", "thing", "inputs", "watch", "layers", "sync", "delay"}
"""Fields of a node that say who it is or whom it reads, not how it behaves."""


NONE = (-1, -1)
"""Neither its thing nor it itself can notice what is struck, but by what it is fed."""


class Kinds:
    """Numbers for kinds, given out as they are first met; one for each rig.

    `quiet`: the signals when nothing is wrong, by node number.
    """

    def __init__(self, wiring: Wiring, quiet: Sequence[Any]) -> None:
        self.numbers: dict[Hashable, int] = {}
        self.node_traits = [self.of(_node_traits(node)) for node in wiring.nodes]
        self.thing_traits = [self.of(_thing_traits(wiring.rig, t)) for t in wiring.things]
        self.signals = quiet
        self.quiet = [self.of(("quiet", signal)) for signal in quiet]
        self.hands_on = [isinstance(node, Pass) for node in wiring.nodes]

    def of(self, recipe: Hashable) -> int:
        """The number of this recipe."""
        return self.numbers.setdefault(recipe, len(self.numbers))


def _thing_traits(rig: Rig, thing: Thing) -> Hashable:
    """A circuit that is never held up is like any other such, whatever its own timing is called."""
    hold_up = rig.timings.get(thing.hold_up)
    held = thing.hold_up if hold_up is None or hold_up.most else ""
    return thing.start, held, thing.margin


def _node_traits(node: Node) -> Hashable:
    kind = type(node)
    who = node.name if isinstance(node, Carrier | Layer) else ""
    selector = getattr(node, "selector", None)
    chooses = None if selector is None else tuple([getattr(selector, n) for n in _CHOOSES])
    return (kind, who, chooses, *[getattr(node, name) for name in _own_fields(kind)])


_CHOOSES = tuple(field.name for field in fields(Selector) if field.name != "name")


def _own_fields(kind: type[Node]) -> tuple[str, ...]:
    """The fields of a type of node that say how it behaves, but for its selector."""
    if kind not in _OWN:
        names = [field.name for field in fields(kind)]
        _OWN[kind] = tuple(name for name in names if name not in {*OWN, "selector"})
    return _OWN[kind]


_OWN: dict[type[Node], tuple[str, ...]] = {}


@dataclass(frozen=True, slots=True)
class Reach:
    """What can notice a strike, by kind: things, nodes and cabinets (numbers to kinds).

    `first`: the first node of each kind, which stands for all of it; `signature`: equal for strikes
    that do the same to like parts of the rig; `halved`: things of which some feeds can notice and
    some not.
    """

    things: Mapping[int, int]
    nodes: Mapping[int, int]
    first: Mapping[int, int]
    cabinets: Mapping[int, int]
    signature: frozenset[int]
    halved: frozenset[int]


@dataclass(frozen=True, slots=True)
class Cone:
    """What can notice a strike, merged, in the shape of a `Wiring` (see there for its tables).

    The tables hold representatives only. `twin`: for each kind of cabinet the one worked out.
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
    twin: Mapping[int, int]


def reach(wiring: Wiring, kinds: Kinds, struck: Sequence[str]) -> Reach:
    """What can notice anything that happens to `struck` (things, selectors; in script order)."""
    hit_things = _places(struck, wiring.thing_number)
    hit_nodes = _places(struck, wiring.selector_node)
    things, halved = _thing_kinds(wiring, kinds, hit_things)
    nodes, first = _node_kinds(wiring, kinds, things, hit_nodes)
    cabinets = _cabinet_kinds(wiring, kinds, nodes)
    signature = frozenset({*things.values(), *nodes.values(), *cabinets.values()})
    return Reach(things, nodes, first, cabinets, signature, halved)


def _places(struck: Sequence[str], numbers: Mapping[str, int]) -> dict[int, int]:
    return {numbers[name]: place for place, name in enumerate(struck) if name in numbers}


def _thing_kinds(
    wiring: Wiring, kinds: Kinds, hit: Mapping[int, int]
) -> tuple[dict[int, int], frozenset[int]]:
    """Things that can notice: those struck, and those of which every feed can notice."""
    found: dict[int, int] = {}
    halved = set()
    for number in _below(hit, wiring.powers):
        feeds = wiring.powered_by[number]
        noticing = [feed for feed in feeds if feed in found]
        if number not in hit and len(noticing) < len(feeds):
            halved.update([number] if noticing else [])
            continue
        if number not in hit and _only_hands_on(wiring, number):
            found[number] = found[feeds[0]]
            continue
        fed_by = frozenset(found.get(feed, -1) for feed in feeds)
        recipe = ("thing", kinds.thing_traits[number], hit.get(number, -1), fed_by)
        found[number] = kinds.of(recipe)
    return found, frozenset(halved)


def _below(first: Iterable[int], pointers: Sequence[Ints]) -> list[int]:
    """These numbers and all that they lead to, ascending (pointers lead to greater ones)."""
    found = set(first)
    waiting = [*found]
    while waiting:
        for number in pointers[waiting.pop()]:
            if number not in found:
                found.add(number)
                waiting.append(number)
    return sorted(found)


def _only_hands_on(wiring: Wiring, number: int) -> bool:
    """Whether a thing does nothing but power what hangs on it, the instant that it is powered
    itself.
    """
    thing = wiring.things[number]
    at_once = not thing.start and not thing.hold_up
    return at_once and len(thing.powered_by) == 1 and not wiring.nodes_of[number]


def _node_kinds(
    wiring: Wiring, kinds: Kinds, things: Mapping[int, int], hit: Mapping[int, int]
) -> tuple[dict[int, int], dict[int, int]]:
    """For each node that can notice, its kind; and the first node of each kind."""
    kind: dict[int, int] = {}
    first: dict[int, int] = {}
    all_inputs, thing_of, quiet = wiring.inputs, wiring.thing_of, kinds.quiet
    numbers, traits, hands_on = kinds.numbers, kinds.node_traits, kinds.hands_on
    begin = {*hit, *(node for thing in things for node in wiring.nodes_of[thing])}
    for number in _below(begin, wiring.readers):
        inputs = all_inputs[number]
        struck = number in begin
        if not struck and hands_on[number]:
            kind[number] = kind[inputs[0]]
            continue
        thing, place = (things.get(thing_of[number], -1), hit.get(number, -1)) if struck else NONE
        if len(inputs) == 1:
            above = inputs[0]
            seen: Ints = (kind[above] if above in kind else quiet[above],)
        else:
            seen = tuple([kind[i] if i in kind else quiet[i] for i in inputs])
        recipe = (traits[number], thing, place, seen)
        own = kind[number] = numbers.setdefault(recipe, len(numbers))
        first.setdefault(own, number)
    return kind, first


def _cabinet_kinds(wiring: Wiring, kinds: Kinds, nodes: Mapping[int, int]) -> dict[int, int]:
    cabinets_of, cards_of, quiet = wiring.cabinets_of, wiring.cards_of, kinds.quiet
    numbers = kinds.numbers
    found: dict[int, int] = {}
    for number in sorted({c for n in cabinets_of.keys() & nodes.keys() for c in cabinets_of[n]}):
        cards = [nodes[c] if c in nodes else ~quiet[c] for c in cards_of[number]]
        found[number] = numbers.setdefault(("cabinet", *cards), len(numbers))
    return found


def assemble(wiring: Wiring, part: Reach) -> Cone:
    """The merged part of the rig, ready to be run."""
    thing_for = _firsts(part.things)
    things = sorted(set(thing_for.values()))
    nodes = sorted(part.first.values())
    inputs = {n: _stood_for(wiring.inputs[n], part) for n in nodes}
    thing_of = {n: thing_for.get(wiring.thing_of[n], wiring.thing_of[n]) for n in nodes}
    powered_by = {t: _for(wiring.powered_by[t], thing_for) for t in things}
    layers_of = {c: _stood_for(layers, part) for c, layers in wiring.layers_of.items()}
    twin: dict[int, int] = {}
    for cabinet, kind in part.cabinets.items():
        twin.setdefault(kind, cabinet)
    cards_of = {c: _stood_for(wiring.cards_of[c], part) for c in twin.values()}
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
        twin=twin,
    )


def _stood_for(numbers: Ints, part: Reach) -> Ints:
    """Nodes, or those that stand for them."""
    kinds, first = part.nodes, part.first
    return tuple([first[kinds[n]] if n in kinds else n for n in numbers])


def _for(numbers: Ints, stands_for: Mapping[int, int]) -> Ints:
    return tuple([stands_for.get(n, n) for n in numbers])


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
