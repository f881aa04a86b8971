"""The hand-over: what runs on which leg, what is degraded, which spares there are, and places.

In: a `Site`, faults that are there already (of negative time), what was tested, breaks. Out: a
frozen `Handover`. It is the rig as it stands when all has settled, at typical timings; what nobody
has tested is named: a backup that was never tried is no backup.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

from sim.engine.live import Live
from sim.engine.settling import Base
from sim.faults import Fault, Script
from sim.practice.desk import UNITS
from sim.practice.moments import moment_of
from sim.practice.remedies import Site
from sim.practice.symptoms import symptoms
from sim.rig.terms import Terms
from sim.rig.topology import (
    Carrier,
    Display,
    Emit,
    Layer,
    Merge,
    Node,
    Select,
    Sync,
    Thing,
    corner,
)
from sim.scenario.scenario import Stretch
from sim.timebase import FLICKS

SETTLED = 3600 * FLICKS
"""By then what is wrong from before the show has settled."""
WALL, LAYER, REFERENCE = "wall", "layer", "reference"


@dataclass(frozen=True, slots=True)
class Leg:
    """`of` a wall, a layer or a reference of a unit: `count` of them run `by` these things, from
    the source on; `waiting`: other ways that bring something valid now, `lost`: that bring nothing.
    """

    kind: str
    of: str
    group: str
    count: int
    by: tuple[str, ...]
    waiting: int
    lost: int


@dataclass(frozen=True, slots=True)
class Stock:
    """Spares of a type: how many, for how many such things in the rig."""

    name: str
    count: int
    fitted: int


@dataclass(frozen=True, slots=True)
class Spot:
    """A place: when it can be reached ("" not stated), and the types that stand there, counted."""

    name: str
    reach: str
    things: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Handover:
    """`degraded`: what has failed already, `seen`: what shows of it, as reports and alarms say;
    `untested`: backups that nobody has tried, `tested`: with flicks before the show; `control`: the
    control link; `technicians`; `breaks`.
    """

    legs: tuple[Leg, ...]
    degraded: tuple[str, ...]
    seen: tuple[str, ...]
    tested: tuple[tuple[tuple[str, ...], int], ...]
    untested: tuple[str, ...]
    stocks: tuple[Stock, ...]
    places: tuple[Spot, ...]
    technicians: int
    control: str
    breaks: tuple[Stretch, ...]


def handover(
    site: Site, terms: Terms, breaks: Sequence[Stretch], groups: Sequence[str],
    faults: Sequence[Fault] = (),
) -> Handover:  # fmt: skip
    """The rig as it stands with these faults."""
    until = min(SETTLED, site.rig.length)
    base = Base(replace(site.rig, length=until), corner(site.rig, "typical"))
    live = Live(base, Script(tuple(faults)), until)
    live.go(until - 1)
    shown = symptoms(site.desk, moment_of(live.run, site.desk, until - 1))
    seen = (
        *(f"{p.name} {state}" for p in shown.places for state in p.states if p.states),
        *(alarm.text for alarm in shown.alarms),
    )
    return Handover(
        legs=tuple(leg for name in groups for leg in _legs(live, site, name)),
        degraded=tuple(f"{fault.thing} {fault.mode}" for fault in faults),
        seen=tuple(dict.fromkeys(seen)),
        tested=tuple(_tested(site, terms)),
        untested=tuple(_untested(site, terms, groups)),
        stocks=tuple(_stocks(site)),
        places=tuple(_spots(site)),
        technicians=site.crew.technicians if site.crew else 0,
        control=site.control,
        breaks=tuple(breaks),
    )


# ---- legs ----------------------------------------------------------------------------------------


def _legs(live: Live, site: Site, group: str) -> Iterator[Leg]:
    nodes = site.rig.nodes
    found: Counter[tuple[str, str, tuple[str, ...], int, int]] = Counter()
    for cabinet in site.rig.cabinets.values():
        card = nodes[cabinet.cards[0]]
        if cabinet.wall in site.rig.groups[group].walls:
            found[(WALL, cabinet.wall, *_way(live, site, card))] += 1
    for name in site.rig.groups[group].carriers:
        carrier = nodes[name]
        assert isinstance(carrier, Carrier)
        for each in (*carrier.layers, *([carrier.sync] if carrier.sync else [])):
            kind = REFERENCE if isinstance(nodes[each], Sync) else LAYER
            found[(kind, _called(each, nodes[each]), *_way(live, site, nodes[each]))] += 1
    for (kind, of, by, waiting, lost), count in found.items():
        yield Leg(kind, of, group, count, by, waiting, lost)


def _called(name: str, node: Node) -> str:
    selector = getattr(node, "selector", None)
    return selector.name if selector is not None and selector.name else name


def _way(live: Live, site: Site, node: Node) -> tuple[tuple[str, ...], int, int]:
    """The units (or sources) that a node is fed by, from the source on (none: nothing arrives); its
    other inputs that bring something valid, and those that bring nothing.
    """
    others = [name for name in node.inputs if name != _fed(live, node)]
    valid = [name for name in others if _valid(live, name)]
    by = dict.fromkeys(reversed([*_back(live, site, node)])) if _valid(live, node.name) else {}
    return tuple(by), len(valid), len(others) - len(valid)


def _back(live: Live, site: Site, node: Node) -> Iterator[str]:
    """The things that count on the way back to where the signal comes from."""
    begun = node
    while True:
        thing = site.rig.things[node.thing]
        inner = isinstance(begun, Layer | Sync) and node is begun
        if not inner and _counts(thing):
            yield thing.name
        fed = _fed(live, node)
        if isinstance(node, Carrier | Emit) or not fed:
            return
        node = site.rig.nodes[fed]


def _counts(thing: Thing) -> bool:
    return thing.family in (*UNITS, "source", "reference")


def _fed(live: Live, node: Node) -> str:
    """The input that a node takes now ("" none)."""
    if not node.inputs or not live.is_up(node.thing):
        return next(iter(node.inputs), "")
    if isinstance(node, Merge):
        return next((name for name in node.inputs if _valid(live, name)), node.inputs[0])
    if isinstance(node, Select | Display | Layer | Sync) and len(node.inputs) > 1:
        return node.inputs[max(live.chooser(node.selector.name).on, 0)]
    return node.inputs[0]


def _valid(live: Live, name: str) -> bool:
    value = live.run.board.value[live.run.wiring.node_number[name]]
    return bool(value[0] if isinstance(value, tuple) else value)


# ---- spares, places, tests -----------------------------------------------------------------------


def _stocks(site: Site) -> Iterator[Stock]:
    things = site.rig.things.values()
    fitted = Counter(name for thing in things for name in {thing.kit, thing.family} if name)
    for name, count in (site.crew.spares if site.crew else {}).items():
        yield Stock(name, count, fitted[name])


def _spots(site: Site) -> Iterator[Spot]:
    of: dict[str, Counter[str]] = {}
    for name, thing in site.rig.things.items():
        of.setdefault(site.places.get(name, ""), Counter())[thing.kit or thing.family] += 1
    for place in sorted(of, key=lambda each: (not each, each)):
        yield Spot(place, site.reach.get(place, ""), tuple(sorted(of[place].items())))


def _tested(site: Site, terms: Terms) -> Iterator[tuple[tuple[str, ...], int]]:
    """Things of the rig that were tested, units first, by how many flicks before the show."""
    units, found = set(site.desk.units), dict[int, list[str]]()
    for name in sorted(site.rig.things, key=lambda each: each not in units):
        known = next((t for t in terms.tested if fnmatchcase(name, t.things)), None)
        if known is not None and known.before is not None:
            found.setdefault(known.before, []).append(name)
    yield from ((tuple(names), before) for before, names in sorted(found.items()))


def _untested(site: Site, terms: Terms, groups: Sequence[str]) -> Iterator[str]:
    """Backups that nobody has tried: what was never tested, units on no cabinet's first way."""
    yield from (tested.things for tested in terms.tested if tested.before is None)
    first = {thing for name in groups for thing in _first_way(site, name)}
    for name in site.desk.units:
        thing = site.rig.things[name]
        known = next((t for t in terms.tested if fnmatchcase(name, t.things)), None)
        if thing.group in groups and name not in first and (known is None or known.before is None):
            yield name


def _first_way(site: Site, group: str) -> Iterator[str]:
    """The units by which the cabinets of a group are fed with nothing wrong."""
    nodes = site.rig.nodes
    for cabinet in site.rig.cabinets.values():
        if cabinet.wall in site.rig.groups[group].walls:
            node = nodes[cabinet.cards[0]]
            while not isinstance(node, Carrier) and node.inputs:
                node = nodes[node.inputs[0]]
                yield node.thing
