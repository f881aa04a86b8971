"""What a rig is made of, for prices and for telling one topology's extra units from another's.

In: a `ShowPlan` and its built `Rig`. Out: a frozen `Bill`: things of each kind and kit, metres of
cable, people. Prices are exact, in the show's currency; a kit whose price nobody gave is named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from sim.rig.plan import GroupPlan, Kit, ShowPlan
from sim.rig.topology import Rig, Thing

CABLES = frozenset({"fibre", "copper", "jumper"})


@dataclass(frozen=True, slots=True)
class Bill:
    """Counts by kit and by family, cable metres by kit, people, the price of what has one.

    `unpriced` names the kits that have no price, so that `price` leaves them out.
    """

    kits: Mapping[str, int]
    families: Mapping[str, int]
    metres: Mapping[str, Fraction]
    crew: int
    price: Fraction
    unpriced: tuple[str, ...]


def bill(show: ShowPlan, rig: Rig, group: str = "") -> Bill:
    """What the rig needs, or what one group of it does: its own things, and of those that no group
    owns (sources, references, distributors, their cables) all that lead to it.
    """
    leading = _leading(rig, group)
    things = [t for t in rig.things.values() if t.kit and (group in ("", t.group) or t in leading)]
    kits = {kit.name: kit for kit in all_kits(show)}
    metres: dict[str, Fraction] = {}
    for thing in things:
        if thing.family in CABLES:
            metres[thing.kit] = metres.get(thing.kit, Fraction(0)) + thing.length
    used = Counter(thing.kit for thing in things)
    return Bill(
        kits=dict(used),
        families=dict(Counter(thing.family for thing in things)),
        metres=metres,
        crew=sum(kits[name].crew * count for name, count in used.items()),
        price=sum((_price(kits[thing.kit], thing) for thing in things), Fraction(0)),
        unpriced=tuple(sorted(name for name in used if _unpriced(kits[name]))),
    )


def _leading(rig: Rig, group: str) -> list[Thing]:
    """The things of no group from which a signal comes to the group."""
    todo = [name for name, node in rig.nodes.items() if rig.things[node.thing].group == group]
    seen = set(todo)
    while todo:
        fresh = [name for name in rig.nodes[todo.pop()].reads if name not in seen]
        seen.update(fresh)
        todo += fresh
    names = dict.fromkeys(rig.nodes[name].thing for name in rig.nodes if name in seen)
    return [rig.things[name] for name in names if not rig.things[name].group]


def extra(more: Bill, less: Bill) -> dict[str, int]:
    """What `more` has beyond `less` (negative: short of it), by kit, where they differ."""
    names = sorted({*more.kits, *less.kits})
    found = {name: more.kits.get(name, 0) - less.kits.get(name, 0) for name in names}
    return {name: count for name, count in found.items() if count}


def all_kits(show: ShowPlan) -> Iterator[Kit]:
    """Every equipment type that a plan names."""
    for group in show.groups:
        yield from _group_kits(group)
    for source in show.sources:
        yield from (source.kit, source.cable)
        if source.distributor is not None:
            yield source.distributor
    for reference in show.references:
        yield from (reference.kit, reference.cable)


def _group_kits(group: GroupPlan) -> Iterator[Kit]:
    yield from group.kits.values()
    yield from (kit for _, kit in group.own_kits)


def _unpriced(kit: Kit) -> bool:
    return kit.price is None and kit.price_per_metre is None


def _price(kit: Kit, thing: Thing) -> Fraction:
    return (kit.price or Fraction(0)) + (kit.price_per_metre or Fraction(0)) * thing.length
