"""The one validator of rig graphs: every builder's result, and every rig by hand, must pass it.

In: a `Rig`. Out: the same rig, or an `InputError` that holds every problem found. Also the rank
of nodes and things: each after all that it reads, or that powers it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from graphlib import CycleError

from sim.errors import InputError, Problem, nearest_name
from sim.faults import MODES, SOFT, Quality
from sim.order import in_order
from sim.rig.once import once
from sim.rig.topology import (
    NOTHING,
    ON_LOSS,
    PASSING,
    RESTORES,
    Carrier,
    Display,
    Emit,
    Gate,
    Group,
    Layer,
    Merge,
    Node,
    Pass,
    Rig,
    Select,
    Sync,
    Thing,
    selectors,
)

INPUTS: Mapping[type[Node], tuple[int, int]] = {
    Emit: (0, 0),
    Pass: (1, 1),
    Select: (1, 99),
    Merge: (2, 2),
    Gate: (1, 1),
    Sync: (1, 99),
    Layer: (1, 99),
    Carrier: (0, 0),
    Display: (1, 2),
}
"""Least and most inputs of each kind of node."""


def validate(rig: Rig) -> Rig:
    """The rig itself. Raises InputError with every problem found."""
    found = tuple(problems(rig))
    if found:
        raise InputError(found)
    return rig


def problems(rig: Rig) -> Iterator[Problem]:
    """Everything that is wrong with a rig; order is looked at only where all names resolve."""
    found = [problem for test in NAMES for problem in test(rig)]
    yield from found
    if not found:
        yield from _orders(rig)


@once
def rank(rig: Rig) -> Mapping[str, int]:
    """All nodes in an order in which each comes after all that it reads, with its place.

    Raises graphlib.CycleError if the graph has a cycle.
    """
    order = in_order({node.name: node.reads for node in rig.nodes.values()})
    return {name: place for place, name in enumerate(order)}


@once
def power_rank(rig: Rig) -> Mapping[str, int]:
    """All things, each after all that powers it, with its place. Raises graphlib.CycleError."""
    order = in_order({thing.name: thing.powered_by for thing in rig.things.values()})
    return {name: place for place, name in enumerate(order)}


def _unknown(where: str, what: str, name: str, known: Mapping[str, object]) -> Problem:
    return Problem(where, f"no {what} is called {name!r}", nearest=nearest_name(name, known))


def _things(rig: Rig) -> Iterator[Problem]:
    for name, thing in rig.things.items():
        if name != thing.name:
            yield Problem(name, f"is kept under another name than its own, {thing.name!r}")
        if thing.family not in MODES:
            yield _unknown(name, "family", thing.family, MODES)
        for feed in thing.powered_by:
            if feed not in rig.things:
                yield _unknown(name, "thing that powers it", feed, rig.things)
        yield from _thing(thing)


def _thing(thing: Thing) -> Iterator[Problem]:
    if len(set(thing.powered_by)) < len(thing.powered_by):
        yield Problem(thing.name, "is powered twice by one thing")
    if thing.hold_up and thing.family != "circuit":
        yield Problem(thing.name, "has a hold-up and is no circuit", "circuits only")
    if thing.margin < 0:
        yield Problem(thing.name, f"margin {thing.margin} thousandths of a dB", "0 or more")


def _nodes(rig: Rig) -> Iterator[Problem]:
    for name, node in rig.nodes.items():
        if name != node.name:
            yield Problem(name, f"is kept under another name than its own, {node.name!r}")
        if node.thing not in rig.things:
            yield _unknown(name, "thing", node.thing, rig.things)
        for other in node.reads:
            if other not in rig.nodes:
                yield _unknown(name, "node that it reads", other, rig.nodes)
        least, most = INPUTS[type(node)]
        if not least <= len(node.inputs) <= most:
            yield Problem(name, f"{len(node.inputs)} inputs", f"{least} to {most}")
        if len(set(node.inputs)) < len(node.inputs):
            yield Problem(name, "takes one input twice", "different inputs")


def _feels(rig: Rig) -> Iterator[Problem]:
    for name, node in rig.nodes.items():
        thing = rig.things.get(node.thing)
        allowed: frozenset[str] = SOFT
        if isinstance(node, Gate | Sync | Layer):
            allowed = NOTHING
        elif isinstance(node, Pass) and thing is not None and thing.family == "receiver":
            allowed = PASSING
        if not node.feels <= allowed:
            felt = ", ".join(sorted(node.feels - allowed))
            yield Problem(name, f"feels {felt}", ", ".join(sorted(allowed)) or "nothing")


def _selectors(rig: Rig) -> Iterator[Problem]:
    count = Counter(selector.name for selector, _ in selectors(rig))
    yield from (Problem(name, "two selectors have this name") for name in count if count[name] > 1)
    for selector, node in selectors(rig):
        if selector.restore not in RESTORES:
            yield Problem(selector.name, f"restore {selector.restore!r}", ", ".join(RESTORES))
        if not Quality.ABSENT <= selector.accepts_above < Quality.GOOD:
            yield Problem(selector.name, f"accepts above {selector.accepts_above}", "0 to 5")
        if not 0 <= selector.locked_on < max(1, len(node.inputs)):
            yield Problem(selector.name, f"is locked on input {selector.locked_on}, which it lacks")


def _timings(rig: Rig) -> Iterator[Problem]:
    for where, keys in _keys(rig):
        for key in keys:
            if key and key not in rig.timings:
                yield _unknown(where, "timing", key, rig.timings)
    for key, timing in rig.timings.items():
        if not 0 <= timing.least <= timing.typical <= timing.most:
            yield Problem(key, f"{timing.least}, {timing.typical}, {timing.most}", "in this order")
    for what, value in (("frame", rig.frame), ("length", rig.length)):
        if value <= 0:
            yield Problem(what, f"{value} flicks", "more than 0")


def _keys(rig: Rig) -> Iterator[tuple[str, tuple[str, ...]]]:
    for thing in rig.things.values():
        if thing.start or thing.hold_up:
            yield thing.name, (thing.start, thing.hold_up)
    for selector, node in selectors(rig):
        of = (selector.detect, selector.hold_off, selector.switch, selector.wait_to_restore)
        yield node.name, of
    for node in rig.nodes.values():
        if isinstance(node, Gate):
            yield node.name, (node.notice, node.wait_to_restore)
        elif isinstance(node, Sync):
            yield node.name, (node.holdover, node.relock, node.relock_glitch)
        elif isinstance(node, Display):
            yield node.name, (node.keeps_last,)


def _processors(rig: Rig) -> Iterator[Problem]:
    for name, node in rig.nodes.items():
        if isinstance(node, Layer):
            if len(node.caps) != len(node.inputs):
                yield Problem(name, f"{len(node.caps)} caps for {len(node.inputs)} inputs")
            if node.on_loss not in ON_LOSS:
                yield Problem(name, f"on loss {node.on_loss!r}", ", ".join(ON_LOSS))
        if isinstance(node, Carrier):
            yield from _carrier(rig, node)


def _carrier(rig: Rig, node: Carrier) -> Iterator[Problem]:
    for kind, names in ((Layer, node.layers), (Sync, (node.sync,) if node.sync else ())):
        for other in names:
            part = rig.nodes.get(other)
            if part is not None and (not isinstance(part, kind) or part.thing != node.thing):
                yield Problem(node.name, f"{other} is no {kind.__name__.lower()} of its own thing")


def _cabinets(rig: Rig) -> Iterator[Problem]:
    for name, cabinet in rig.cabinets.items():
        group = rig.groups.get(cabinet.group)
        if group is None or cabinet.wall not in group.walls:
            yield Problem(name, f"no wall is called {cabinet.group}/{cabinet.wall}")
        if not cabinet.cards:
            yield Problem(name, "has no receiving card", "one or two")
        for card in cabinet.cards:
            if not isinstance(rig.nodes.get(card), Display):
                yield Problem(name, f"its card {card!r} is no display")


def _groups(rig: Rig) -> Iterator[Problem]:
    for group in rig.groups.values():
        yield from _cells(rig, group)
        if not group.arrangements:
            yield Problem(group.name, "has no arrangement")
        for number, stack in enumerate(group.stacks):
            if set(stack) != set(group.arrangements):
                yield Problem(group.name, f"stack {number} is not given for each arrangement")
        for name in group.carriers:
            node = rig.nodes.get(name)
            if not isinstance(node, Carrier):
                yield Problem(group.name, f"{name!r} is no carrier")
            elif node.arrangement not in group.arrangements:
                yield Problem(name, f"takes {node.arrangement!r}, which {group.name} lacks")
            else:
                yield from _shown(rig, group, node)


def _shown(rig: Rig, group: Group, node: Carrier) -> Iterator[Problem]:
    parts = (rig.nodes.get(name) for name in node.layers)
    known = {part.layer for part in parts if isinstance(part, Layer)}
    placed = {p.layer for stack in group.stacks for over in stack.values() for p in over}
    for layer in sorted(placed - known):
        yield Problem(node.name, f"has no layer {layer!r}, which {group.name} shows")


def _cells(rig: Rig, group: Group) -> Iterator[Problem]:
    area: Counter[str] = Counter()
    for cell in group.cells:
        area[cell.cabinet] += cell.area
        if not 0 <= cell.stack < len(group.stacks):
            yield Problem(cell.cabinet, f"a cell has stack {cell.stack}, which {group.name} lacks")
    own = {n: c.wall for n, c in rig.cabinets.items() if c.group == group.name}
    for name in sorted({*area, *own}):
        _, _, width, height = group.walls.get(own.get(name, ""), (0, 0, 0, 0))
        if area[name] != width * height:
            yield Problem(name, f"its cells cover {area[name]} of {width * height} pixels")


NAMES: tuple[Callable[[Rig], Iterator[Problem]], ...] = (
    _things, _nodes, _feels, _selectors, _timings, _processors, _cabinets, _groups,
)  # fmt: skip


def _orders(rig: Rig) -> Iterator[Problem]:
    try:
        power_rank(rig)
    except CycleError as cycle:
        yield Problem("power", f"feeds itself: {' <- '.join(cycle.args[1])}")
    try:
        rank(rig)
    except CycleError as cycle:
        yield Problem("signal", f"feeds itself: {' <- '.join(cycle.args[1])}")
