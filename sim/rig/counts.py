"""How many ports, trunks and inputs the units and relays of a show need.

In: a `ShowPlan`. Out: whole numbers by the full name of a unit or relay.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from sim.rig.draft import banks_of, full_name, ports_of
from sim.rig.forms import Layout, ends, layout, strands
from sim.rig.plan import GroupPlan, ShowPlan
from sim.rig.upstream import all_choices


@dataclass(frozen=True)
class Needed:
    """What every unit and relay of a show needs: ports, trunks sent and taken in, source links."""

    ports: Counter[str]
    sent: Counter[str]
    taken: dict[str, int]
    links: dict[str, int]


def needed(show: ShowPlan) -> Needed:
    """All counts of a show. Raises KeyError for an unknown topology."""
    return Needed(ports_used(show), trunk_outputs(show), trunk_inputs(show), inputs_taken(show))


def ports_used(show: ShowPlan) -> Counter[str]:
    """Ports of every unit and relay by full name."""
    driven: Counter[str] = Counter()
    for group in show.groups:
        made = layout(group)
        parts = parts_sent(group, made)
        for unit in made.units:
            driven[full_name(group, unit)] += unit_ports(made, unit, parts)
    return Counter(sender for sender, _ in ports_of(show).values()) | driven


def parts_sent(group: GroupPlan, made: Layout) -> dict[str, Counter[str]]:
    """For each sender the parts of the picture that it sends, and on how many ports each."""
    found: dict[str, Counter[str]] = {}
    for sender, chain, _ in ends(made):
        part = chain.removesuffix("-b")
        name = part.rpartition("/")[2] if group.mirrored else part
        found.setdefault(sender, Counter())[name] += 1
    return found


def unit_ports(made: Layout, unit: str, sent: Mapping[str, Counter[str]]) -> int:
    """Ports that a unit must drive, on copper or through its trunks.

    Relays that carry the same part of the picture carry copies of the same ports; one relay, or
    the unit itself, that needs a part twice needs two ports for it.
    """
    fed = {unit}
    for relay, legs in made.relays.items():
        senders = {s for leg in legs for s in ((leg,) if isinstance(leg, str) else leg)}
        fed |= {relay} if senders & fed else set()
    needed: Counter[str] = Counter()
    for name in fed & sent.keys():
        needed |= sent[name]
    return needed.total()


def trunk_outputs(show: ShowPlan) -> Counter[str]:
    """Trunks that every unit and relay sends, by full name."""
    banks = banks_of(show, ports_of(show))
    outputs: Counter[str] = Counter()
    for each in show.groups:
        its = layout(each)
        for relay in (name for name in its.relays if name not in each.shared):
            for strand in strands(its, relay):
                outputs[full_name(each, strand.sender)] += banks[full_name(each, relay)]
    return outputs


def trunk_inputs(show: ShowPlan) -> dict[str, int]:
    """Trunks that every relay takes in, by full name."""
    banks = banks_of(show, ports_of(show))
    made = ((each, layout(each)) for each in show.groups)
    return {
        f"{each.name}/{relay}": banks[f"{each.name}/{relay}"] * len(strands(its, relay))
        for each, its in made
        for relay in its.relays
        if relay not in each.shared
    }


def inputs_taken(show: ShowPlan) -> dict[str, int]:
    """Source links that every unit takes in, by full name."""
    taken: dict[str, set[tuple[str, int]]] = {}
    for each in show.groups:
        for unit in layout(each).units:
            links = {(choice.source, choice.link) for choice in all_choices(each)}
            taken.setdefault(full_name(each, unit), set()).update(links)
    return {unit: len(links) for unit, links in taken.items()}
