"""The power side of a rig: circuits, power chains and the supplies of cabinets.

In: a `Draft` and its sites. Out: things added to the draft; no node, since power carries no signal.
A power chain starts with its lead ("power-1/head"); each cabinet's supply hangs on the piece that
comes before it, so that a dead piece takes every cabinet after it.
"""

from __future__ import annotations

from sim.rig.draft import Draft, Site, fed_by
from sim.rig.forms import prefix
from sim.rig.plan import CircuitPlan, Place, WallPlan
from sim.rig.topology import Thing
from sim.rig.wall import cabinet_name


def circuit(draft: Draft, plan: CircuitPlan) -> str:
    """Add a circuit; its name."""
    return draft.add(
        Thing(
            name=plan.name,
            family="circuit",
            start=draft.time(plan.name, "start", plan.start),
            powered_by=plan.powered_by,
            hold_up=draft.time(plan.name, "hold_up", plan.hold_up),
            supplier=plan.supplier,
            place=plan.place,
        )
    )


def power_wall(site: Site, wall: WallPlan) -> None:
    """Add a wall's power chains and supplies; what is on no chain hangs on the first circuit."""
    before = prefix(site.plan, wall)
    for number, places in enumerate(wall.power_chains):
        circuits = wall.circuits[number % len(wall.circuits)] if wall.circuits else ()
        _power_chain(site, f"{before}power-{number + 1}", before, places, circuits)
    chained = {place for places in wall.power_chains for place in places}
    circuits = fed_by(site.plan, wall.circuits[0] if wall.circuits else ())
    for row in range(wall.rows):
        for column in range(wall.columns):
            if (row, column) not in chained:
                _supply(site, before, (row, column), circuits)


def _power_chain(
    site: Site, name: str, before: str, places: tuple[Place, ...], circuits: tuple[str, ...]
) -> None:
    feed = fed_by(site.plan, circuits)
    for number, place in enumerate(places, 1):
        piece = f"{name}/head" if number == 1 else f"{name}/jumper-{number}"
        feed = (site.add(piece, "power-jumper", powered_by=feed),)
        _supply(site, before, place, feed)


def _supply(site: Site, before: str, place: Place, feed: tuple[str, ...]) -> None:
    site.add(f"{before}{cabinet_name(*place)}/supply", "supply", powered_by=feed)
