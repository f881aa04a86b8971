"""Which trunks lie on which way, where relays choose between units that each have their own way.

In: a `ShowPlan`. Out: a note for each group in which a cut of one way takes one unit off every
relay, so that no relay keeps a trunk from it.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.limits.findings import Finding
from sim.rig.forms import Layout, layout, strands, trunk_run
from sim.rig.plan import GroupPlan, ShowPlan

Ways = dict[str, tuple[str, ...]]


def trunk_findings(show: ShowPlan) -> Iterator[Finding]:
    """One note for each such group."""
    for group in show.groups:
        found = unit_ways(group, layout(group))
        if found:
            said = "; ".join(f"those of {u} on {' and '.join(r)}" for u, r in found.items())
            first, way = next(iter(found.items()))
            text = (
                f"all trunks of one scaling unit lie on the same way ({said}): a cut of "
                f"{' or '.join(way)} takes {first} off every relay unit at once, so the picture "
                "is back only when the relay units have changed over, which may take longer than "
                "the receiving cards need to go to the other end of their chain"
            )
            todo = "nothing, if that is meant; else give single trunks their own way"
            yield Finding("note", "trunks", group.name, text, todo)


def unit_ways(group: GroupPlan, made: Layout) -> Ways:
    """The ways of each unit's trunks, if each relay takes several units and no two units share a
    way; else none.
    """
    ways: dict[str, dict[str, None]] = {}
    several = bool(made.relays)
    for relay in made.relays:
        found = strands(made, relay)
        several = several and len({strand.sender for strand in found}) > 1
        for strand in found:
            routes = trunk_run(group, strand, f"{strand.name}-1").routes
            ways.setdefault(strand.sender, {}).update(dict.fromkeys(routes))
    every = [route for of in ways.values() for route in of]
    if not several or len(made.relays) < 2 or len(every) != len(set(every)):
        return {}
    return {unit: tuple(of) for unit, of in ways.items()}
