"""What protects a rig: everything that steps in by itself, or by hand, when something is lost.

In: a frozen `Rig`; the trace of a run of all of it. Out: frozen `Protection`s, and those of them
that the run made act. A card that keeps its last picture, and what a layer shows on loss, hide a
loss and replace nothing: they are no protections here.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

from sim.engine.signal import Trace
from sim.rig.topology import Carrier, Display, Gate, Layer, Merge, Node, Rig, Sync, selectors

KINDS: Mapping[str, str] = {
    "input": "takes another input",
    "source": "takes another source",
    "reference": "takes another reference",
    "return": "takes the return signal",
    "gate": "sends its return",
    "card": "shows the second card",
    "leg": "takes the second leg",
    "feed": "lives on one feed alone",
    "battery": "carries on when its own feed is lost",
    "holdover": "keeps in step without a reference",
}
"""Kinds of protections, as what they do."""


@dataclass(frozen=True, slots=True, order=True)
class Protection:
    """`kind`: a key of `KINDS`; `name`: a selector, gate, node, cabinet or thing; `by`: the input
    (a node) or feed (a thing) that stands in, if there is one; `thing`: where it is; `group`: of
    that thing; `hand`: a person must choose.
    """

    kind: str
    name: str
    by: str = ""
    thing: str = ""
    group: str = ""
    hand: bool = False


def protections(rig: Rig) -> tuple[Protection, ...]:
    """Every protection of a rig, in the order of its nodes, cabinets and things."""
    return (*_of_selectors(rig), *_of_nodes(rig), *_of_cards(rig), *_of_power(rig))


def _made(rig: Rig, kind: str, name: str, by: str, thing: str, hand: bool = False) -> Protection:
    return Protection(kind, name, by, thing, rig.things[thing].group, hand)


def _of_selectors(rig: Rig) -> Iterator[Protection]:
    """Each input after the first, of what is not locked."""
    kinds: Mapping[type[Node], str] = {Display: "return", Layer: "source", Sync: "reference"}
    for selector, node in selectors(rig):
        if selector.restore != "locked":
            kind, hand = kinds.get(type(node), "input"), selector.restore == "by-hand"
            for by in node.inputs[1:]:
                yield _made(rig, kind, selector.name, by, node.thing, hand)


def _of_nodes(rig: Rig) -> Iterator[Protection]:
    for node in rig.nodes.values():
        if isinstance(node, Gate):
            yield _made(rig, "gate", node.name, "", node.thing)
        elif isinstance(node, Merge):
            for by in node.inputs[1:]:
                yield _made(rig, "leg", node.name, by, node.thing)
        elif isinstance(node, Sync) and node.holdover and rig.timings[node.holdover].most:
            yield _made(rig, "holdover", node.name, "", node.thing)


def _of_cards(rig: Rig) -> Iterator[Protection]:
    for cabinet in rig.cabinets.values():
        for card in cabinet.cards[1:]:
            yield _made(rig, "card", cabinet.name, card, rig.nodes[card].thing)


def _of_power(rig: Rig) -> Iterator[Protection]:
    for thing in rig.things.values():
        if len(thing.powered_by) > 1:
            for feed in thing.powered_by:
                yield _made(rig, "feed", thing.name, feed, thing.name)
        if thing.hold_up and rig.timings[thing.hold_up].most:
            yield _made(rig, "battery", thing.name, "", thing.name)


# ---- what a run made act


@dataclass(frozen=True, slots=True)
class Seen:
    """What a run tells: selectors that came to feed an input, events by name, things that fell,
    nodes that ever sent something else, things that were switched off at their feed.
    """

    chose: frozenset[tuple[str, str]]
    events: frozenset[tuple[str, str]]
    fell: frozenset[str]
    altered: frozenset[str]
    unfed: frozenset[str]


def seen(trace: Trace, names: Collection[str], unfed: Collection[str] = ()) -> Seen:
    """What a trace of the whole rig tells. `names`: of the rig's nodes, in the engine's order."""
    order = list(names)
    return Seen(
        chose=frozenset((n.name, n.detail) for n in trace.notes if n.what == "on"),
        events=frozenset((n.name, n.what) for n in trace.notes),
        fell=frozenset(n.name for n in trace.notes if n.what == "down"),
        altered=frozenset(order[number] for number in trace.altered),
        unfed=frozenset(unfed),
    )


def acted(rig: Rig, each: Protection, told: Seen) -> bool:
    """Whether a run made this protection act."""
    if each.kind in ("input", "source", "reference", "return"):
        return (each.name, each.by) in told.chose
    return ACTED[each.kind](rig, each, told)


def _gate(rig: Rig, each: Protection, told: Seen) -> bool:
    return (each.name, "gate opens") in told.events


def _holdover(rig: Rig, each: Protection, told: Seen) -> bool:
    return (each.name, "holdover") in told.events


def _stands_in(first: str, each: Protection, told: Seen) -> bool:
    """The preferred one failed and this one went on undisturbed."""
    return first in told.altered and each.by not in told.altered


def _card(rig: Rig, each: Protection, told: Seen) -> bool:
    return _stands_in(rig.cabinets[each.name].cards[0], each, told)


def _leg(rig: Rig, each: Protection, told: Seen) -> bool:
    return _stands_in(rig.nodes[each.name].inputs[0], each, told)


def _feed(rig: Rig, each: Protection, told: Seen) -> bool:
    others = {*rig.things[each.name].powered_by} - {each.by}
    return others <= told.fell and told.fell.isdisjoint((each.by, each.name))


def _battery(rig: Rig, each: Protection, told: Seen) -> bool:
    feeds = rig.things[each.name].powered_by
    unfed = each.name in told.unfed or (bool(feeds) and told.fell.issuperset(feeds))
    return unfed and each.name not in told.fell


ACTED: Mapping[str, Callable[[Rig, Protection, Seen], bool]] = {
    "gate": _gate, "holdover": _holdover, "card": _card, "leg": _leg, "feed": _feed,
    "battery": _battery,
}  # fmt: skip


def above(node: Node) -> tuple[str, ...]:
    """The nodes that a node's picture or step comes from, whichever it has chosen."""
    if isinstance(node, Carrier):
        return node.reads
    return node.inputs
