"""The builder: a plan becomes the rig graph of the topologies that its groups have.

In: a frozen `ShowPlan` (times in flicks, lengths in metres). Out: a frozen `Rig`. There is one
builder for all topologies; each is a `Form` (see `forms`). `bill` counts what it made,
`refusals` says why it should not be built.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.rig.downstream import chain, relay
from sim.rig.draft import Draft, Site, banks_of, ports_of
from sim.rig.forms import layout, prefix
from sim.rig.mains import circuit, power_wall
from sim.rig.plan import ControlPlan, GroupPlan, ShowPlan, WallPlan
from sim.rig.topology import Cabinet, Group, Rig, Thing
from sim.rig.upstream import feeds, unit
from sim.rig.wall import Grid, cabinet_name, cells


def build(show: ShowPlan) -> Rig:
    """The rig of a plan.

    Raises KeyError if the plan names what it does not hold, InputError if two things have one
    name. What `refusals.cannot` gives a reason against may come out incomplete.
    """
    ports = ports_of(show)
    draft = Draft(show, ports, banks_of(show, ports))
    sites = [Site(draft, group, layout(group)) for group in show.groups]
    for plan in show.circuits:
        circuit(draft, plan)
    for control in show.controls:
        draft.add(_control(control))
    made = feeds(draft, sites)
    outs = {s.plan.name: {u: unit(s, made, u) for u in s.layout.units} for s in sites}
    for site in sites:
        for name in site.layout.relays:
            if name not in site.plan.shared:
                relay(site, outs[site.plan.name], name)
    cabinets: dict[str, Cabinet] = {}
    for site in sites:
        cabinets |= _cabinets(site, outs[site.plan.name])
    return Rig(
        frame=show.frame,
        length=show.length,
        things=draft.things,
        nodes=draft.nodes,
        cabinets=cabinets,
        groups={s.plan.name: _group(s.plan, outs[s.plan.name]) for s in sites},
        timings=draft.measured(),
        rates=show.rates,
        routes=show.routes,
    )


def _control(plan: ControlPlan) -> Thing:
    return Thing(
        name=plan.name,
        family="control-link",
        routes=plan.run.routes,
        length=plan.run.length,
        supplier=plan.supplier,
        monitored=plan.monitored,
    )


def _cabinets(site: Site, outs: Mapping[str, str]) -> dict[str, Cabinet]:
    """Power, chains and cabinets of a group, row by row."""
    plan = site.plan
    cards: dict[tuple[str, int, int], list[str]] = {}
    for wall in plan.walls:
        power_wall(site, wall)
    for made in site.layout.chains:
        for place, screen in chain(site, outs, made):
            cards.setdefault((made.wall, *place), []).append(screen)
    found = {}
    for wall in plan.walls:
        for row, column in _grid(wall).places:
            name = cabinet_name(row, column, stem(plan, wall))
            shown = tuple(cards.get((wall.name, row, column), ()))
            found[name] = Cabinet(name, plan.name, wall.name, row, column, shown)
    return found


def stem(group: GroupPlan, wall: WallPlan) -> str:
    """What stands before a wall's cabinets: `main`, or `banks/left` where there are several."""
    return f"{group.name}/{prefix(group, wall)}".rstrip("/")


def _grid(wall: WallPlan) -> Grid:
    return Grid(wall.rows, wall.columns, wall.cabinet_width, wall.cabinet_height, wall.x, wall.y)


def _group(plan: GroupPlan, outs: Mapping[str, str]) -> Group:
    found, stacks = cells(
        {stem(plan, wall): _grid(wall) for wall in plan.walls},
        {each.name: each.placements[::-1] for each in plan.arrangements},
    )
    return Group(
        name=plan.name,
        topology=plan.topology,
        walls={
            wall.name: (wall.rows, wall.columns, wall.cabinet_width, wall.cabinet_height)
            for wall in plan.walls
        },
        arrangements=tuple(each.name for each in plan.arrangements),
        stacks=stacks,
        cells=found,
        carriers=tuple(outs.values()),
        mirrored=plan.mirrored,
        regions=plan.regions,
        audience=plan.audience,
    )
