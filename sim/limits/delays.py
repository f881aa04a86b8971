"""Latency: how late the picture is by each path, and what moves when a selector changes path.

In: a built `Rig`, each of whose nodes adds an exact delay in flicks. Out: `Ways` (the distinct
delays at every node), spans for cabinets and cells, jumps at selectors, all exact. Delay moves
no fault in time.

Work is shared along the graph: a node's delays are those of its inputs and its own. Where more
than MOST_WAYS differ, only the usual one, the least and the most are kept, and the node is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor

from sim.rig.once import once
from sim.rig.topology import Carrier, Display, Layer, Node, Rig, Sync
from sim.rig.validator import rank

MOST_WAYS = 64


@dataclass(frozen=True, slots=True)
class Way:
    """A path to a node: its delay in flicks, the source or carrier it begins at, and what each
    selector on it must feed, as (node, number of the input from 0)."""

    delay: Fraction
    origin: str
    picks: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Ways:
    """For each node its ways, the usual one first. Below carriers they begin at a carrier.

    `capped`: nodes at which ways were left out; `spans`: those of the cells of groups, and `jumps`,
    once they were asked for; `steps`: what moves (flicks, frames, layer) between two origins that
    are so far apart.
    """

    at: Mapping[str, tuple[Way, ...]]
    capped: tuple[str, ...] = ()
    spans: dict[str, tuple[Span, ...]] = field(default_factory=dict, compare=False)
    jumps: list[Jump] = field(default_factory=list, compare=False)
    steps: dict[tuple[str, str, int, int], list[tuple[Fraction, Fraction, str]]] = field(
        default_factory=dict, compare=False
    )


@dataclass(frozen=True, slots=True)
class Span:
    """Delays in flicks: by the path that is fed first, the least and the most of all paths."""

    usual: Fraction
    least: Fraction
    most: Fraction


@dataclass(frozen=True, slots=True)
class Jump:
    """What moves when `selector` goes from its first input to input `to`.

    `flicks` more than 0: the picture comes later (frames repeat); less: earlier (frames are left
    out). `layer` is set where the two pictures come from two processors and layers differ.
    """

    selector: str
    to: int
    flicks: Fraction
    frames: Fraction
    layer: str = ""

    @property
    def fewest(self) -> int:
        """Whole frames, rounded down."""
        return floor(self.frames)

    @property
    def most(self) -> int:
        """Whole frames, rounded up."""
        return ceil(self.frames)


@once
def ways(rig: Rig) -> Ways:
    """Every node's ways. Raises graphlib.CycleError if the rig feeds itself."""
    found: dict[str, tuple[Way, ...]] = {}
    capped: list[str] = []
    sums = Sums()
    for name in rank(rig):
        node = rig.nodes[name]
        made = _through(node, found, sums)
        if len(made) > MOST_WAYS:
            made = _ends(made)
            capped.append(name)
        found[name] = made
    return Ways(found, tuple(capped))


class Sums:
    """Sums of delays (flicks), equal ones as one object: a rig has many nodes and few delays."""

    def __init__(self) -> None:
        self.known: dict[tuple[int, int], Fraction] = {}
        self.sums: dict[tuple[int, int], Fraction] = {}

    def one(self, delay: Fraction) -> Fraction:
        """The object that stands for this delay."""
        return self.known.setdefault((delay.numerator, delay.denominator), delay)

    def add(self, one: Fraction, other: Fraction) -> Fraction:
        """The sum of two that stand for theirs (and so are never gone)."""
        key = (id(one), id(other))
        found = self.sums.get(key)
        if found is None:
            found = self.sums[key] = self.one(one + other)
        return found


def _through(node: Node, found: Mapping[str, tuple[Way, ...]], sums: Sums) -> tuple[Way, ...]:
    more = sums.one(node.delay)
    if not node.inputs:
        return (Way(more, node.name),)
    if len(node.inputs) == 1:
        before = found[node.inputs[0]]
        if not more:
            return before
        return tuple([Way(sums.add(way.delay, more), way.origin, way.picks) for way in before])
    made: dict[tuple[str, int], Way] = {}
    for number, other in enumerate(node.inputs):
        for way in found[other]:
            delay = sums.add(way.delay, more)
            if (way.origin, id(delay)) not in made:
                picks = (*way.picks, (node.name, number))
                made[way.origin, id(delay)] = Way(delay, way.origin, picks)
    return tuple(made.values())


def _ends(many: Sequence[Way]) -> tuple[Way, ...]:
    """The usual way, and the least and the most of each origin."""
    kept = {many[0]: None}
    for origin in dict.fromkeys(way.origin for way in many):
        its = [way for way in many if way.origin == origin]
        kept[min(its, key=_delay)] = None
        kept[max(its, key=_delay)] = None
    return tuple(kept)


def _delay(way: Way) -> Fraction:
    return way.delay


def _span(all_ways: Iterable[Fraction]) -> Span:
    delays = tuple(all_ways)
    if not delays:
        raise ValueError("no way leads there")
    return Span(delays[0], min(delays), max(delays))


def cabinet_ways(rig: Rig, made: Ways, cabinet: str) -> tuple[Way, ...]:
    """The ways from carriers to a cabinet; with two cards the first card's come first."""
    cards = rig.cabinets[cabinet].cards
    if len(cards) == 1:
        return made.at[cards[0]]
    return tuple(
        Way(way.delay, way.origin, (*way.picks, (cabinet, number)))
        for number, card in enumerate(cards)
        for way in made.at[card]
    )


def layer_delays(rig: Rig, made: Ways, carrier: str, layer: str) -> tuple[Fraction, ...]:
    """Delays from sources to a layer of a carrier's processor; the background has one, 0."""
    node = rig.nodes[carrier]
    for name in node.layers if isinstance(node, Carrier) else ():
        part = rig.nodes[name]
        if isinstance(part, Layer) and part.layer == layer:
            return tuple(way.delay for way in made.at[name])
    return (Fraction(0),)


def cabinet_span(rig: Rig, made: Ways, cabinet: str, layer: str = "") -> Span:
    """Delays from the sources of a layer ("": from the processors) to a cabinet.

    Raises ValueError where no way leads there.
    """
    return _span(
        way.delay + above
        for way in cabinet_ways(rig, made, cabinet)
        for above in layer_delays(rig, made, way.origin, layer)
    )


def cell_spans(rig: Rig, made: Ways, group: str) -> tuple[Span, ...]:
    """For each cell of a group the delays of what the intended arrangement shows there.

    Raises ValueError where no way leads to a cabinet.
    """
    if group not in made.spans:
        made.spans[group] = tuple(_cell_spans(rig, made, group))
    return made.spans[group]


def _cell_spans(rig: Rig, made: Ways, group: str) -> Iterator[Span]:
    plan = rig.groups[group]
    tops = [next(iter(stack[plan.arrangements[0]]), None) for stack in plan.stacks]
    known: dict[tuple[str, str], Span] = {}
    for cell in plan.cells:
        top = tops[cell.stack]
        key = (cell.cabinet, top.layer if top else "")
        if key not in known:
            known[key] = cabinet_span(rig, made, *key)
        yield known[key]


def jumps(rig: Rig, made: Ways) -> Sequence[Jump]:
    """What moves at each selector, seamless pair and two-card cabinet, on the usual paths above."""
    if not made.jumps:
        made.jumps.extend(_all_jumps(rig, made))
    return made.jumps


def _all_jumps(rig: Rig, made: Ways) -> Iterator[Jump]:
    for node in rig.nodes.values():
        if len(node.inputs) > 1 and not isinstance(node, Sync):
            yield from _jumps(rig, made, node.name, node.inputs)
    for cabinet in rig.cabinets.values():
        if len(cabinet.cards) > 1:
            yield from _jumps(rig, made, cabinet.name, cabinet.cards)


def _jumps(rig: Rig, made: Ways, name: str, inputs: tuple[str, ...]) -> Iterator[Jump]:
    first = made.at[inputs[0]][0]
    for number, other in enumerate(inputs[1:], 1):
        second = made.at[other][0]
        below = second.delay - first.delay
        key = (first.origin, second.origin, below.numerator, below.denominator)
        if key not in made.steps:
            above = _above(rig, made, first, second)
            steps = {below + more: layer for more, layer in above}
            made.steps[key] = [(step, step / rig.frame, layer) for step, layer in steps.items()]
        found = made.steps[key]
        for step, frames, layer in found:
            yield Jump(name, number, step, frames, layer if len(found) > 1 else "")


def _above(rig: Rig, made: Ways, one: Way, other: Way) -> Iterator[tuple[Fraction, str]]:
    """By how much layers come later at the other way's processor."""
    node = rig.nodes[one.origin]
    layers = node.layers if isinstance(node, Carrier) and one.origin != other.origin else ()
    if not layers:
        yield Fraction(0), ""
    for name in layers:
        layer = getattr(rig.nodes[name], "layer", "")
        here, there = (layer_delays(rig, made, way.origin, layer)[0] for way in (one, other))
        yield there - here, layer


def path_text(rig: Rig, way: Way) -> str:
    """A way as people say it: which input each selector on it feeds, from the source on."""
    return ", ".join(_pick(rig, name, number) for name, number in way.picks) or "the only path"


def _pick(rig: Rig, name: str, number: int) -> str:
    if name in rig.cabinets:
        return f"card {number + 1}"
    node = rig.nodes[name]
    if isinstance(node, Display):
        return ("forward", "return")[number]
    return f"{node.thing} on {rig.nodes[node.inputs[number]].thing}"


def cable_delays(rig: Rig) -> Iterator[tuple[str, Fraction, Fraction]]:
    """Every fibre as (thing, metres, flicks that it adds)."""
    for node in rig.nodes.values():
        thing = rig.things[node.thing]
        if thing.family == "fibre":
            yield thing.name, thing.length, node.delay
