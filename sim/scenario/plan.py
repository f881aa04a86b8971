"""From a scenario and a topology for each wall group to the plan of one rig.

In: a frozen `Scenario` and the chosen `Variant`s. Out: a `ShowPlan` in which nothing is unknown:
flicks, metres, exact flicks of delay. What the file does not say is taken as `assumptions` list it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from sim.errors import nearest_name, refuse
from sim.rig.equipment import USUAL
from sim.rig.kit import Kit, Patterns, Run
from sim.rig.placeholders import doubt
from sim.rig.plan import (
    ArrangementPlan,
    Cabling,
    CircuitPlan,
    ControlPlan,
    GroupPlan,
    ReferencePlan,
    Region,
    ShowPlan,
    SourcePlan,
)
from sim.rig.rates import OwnRate, chance_to_rate
from sim.scenario.assumed import GROUP_ROLES, second_of
from sim.scenario.content import region_pixels
from sim.scenario.entries import FeedEntry, SourceEntry
from sim.scenario.kits import Raster, kit_of, sheltered
from sim.scenario.models import ScenarioFile
from sim.scenario.scenario import Scenario, Variant
from sim.scenario.shape import (
    arrangements_of,
    circuits_or_first,
    layer_plans,
    picture_of,
    run_of,
    wall_plan,
    walls_of,
)
from sim.scenario.stand_ins import MAINS, PICTURE, UNNAMED
from sim.timebase import FLICKS

HOUR = 3600 * FLICKS


def plan_of(scenario: Scenario, choices: Mapping[str, Variant] | None = None) -> ShowPlan:
    """The plan with these topologies; a group without a choice has the one offered.

    Raises InputError if `choices` names a group that is not there.
    """
    chosen = {**scenario.offered, **(choices or {})}
    for group in chosen:
        if group not in scenario.groups:
            near = nearest_name(group, scenario.groups)
            raise refuse("choices", f"unknown group {group!r}", ", ".join(scenario.groups), near)
    file = scenario.file
    return ShowPlan(
        frame=scenario.rate.frame,
        length=scenario.length,
        groups=tuple(group_plan(scenario, name, chosen[name]) for name in scenario.groups),
        sources=_sources(scenario),
        references=tuple(_reference(scenario, name) for name in file.references),
        circuits=_circuits(file),
        controls=tuple(
            ControlPlan(name, run_of(file, entry.run), entry.supplier or "us", entry.monitored)
            for name, entry in file.controls.items()
        ),
        own_timings={
            thing: {key: sheltered(key, value) for key, value in timings.items()}
            for thing, timings in file.timings.items()
        },
        measured=scenario.proved.timings,
        rates=tuple(_own_rates(scenario)),
        routes={name: entry.length for name, entry in file.routes.items()},
    )


def _own_rates(scenario: Scenario) -> Iterator[OwnRate]:
    """Rates as stated, then as learned; a chance in a show as a rate over this one's length."""
    hours = scenario.length / HOUR
    for entry in scenario.file.rates:
        yield OwnRate(
            mode=entry.mode,
            value=entry.rate.per_hour(hours),
            things=entry.things or "",
            kit=entry.kit or "",
            family=entry.family or "",
            per_km=entry.rate.per == "km",
            error_factor=entry.error_factor or doubt(entry.source),
            source=entry.source,
            per=entry.per,
            shape=entry.shape,
            age=entry.age / HOUR,
        )
    for own in scenario.learned:
        shown = own.per == "show"
        yield replace(own, per="hour", value=chance_to_rate(own.value, hours)) if shown else own


def _kit(scenario: Scenario, name: str, raster: Raster) -> Kit:
    return kit_of(name, scenario.file.equipment, scenario.rate, raster)


def _raster(scenario: Scenario) -> Raster:
    return picture_of(scenario.file, scenario.groups[0])


def group_plan(scenario: Scenario, name: str, variant: Variant) -> GroupPlan:
    """The plan of one group with one of its topologies. Raises KeyError."""
    file, raster = scenario.file, picture_of(scenario.file, name)
    entry = file.groups[name]
    rest = ("*", circuits_or_first(file, ()))
    return GroupPlan(
        name=name,
        walls=tuple(wall_plan(file, name, wall) for wall in walls_of(file, name)),
        layers=layer_plans(file, name),
        arrangements=tuple(ArrangementPlan(k, v) for k, v in arrangements_of(file, name).items()),
        kits={r: _kit(scenario, entry.kits.get(r, USUAL[r]), raster) for r in GROUP_ROLES},
        topology=variant.topology,
        form=variant.form,
        options=variant.options,
        mirrored=entry.mirrored,
        reaches=entry.copper,
        cabling=_cabling(file, name),
        own_kits=tuple((p, _kit(scenario, k, raster)) for p, k in entry.own_kits.items()),
        powered=(*entry.power.items(), rest),
        places=tuple(entry.places.items()),
        suppliers=(*entry.suppliers.items(), ("*", "us")),
        references=entry.references or (),
        own_references=tuple(entry.own_references.items()),
        shared=entry.shared,
        regions=_regions(file, name),
        audience=_audience(file, name),
    )


def _cabling(file: ScenarioFile, group: str) -> Cabling:
    """An unsaid way is that of its counterpart, so that one cut takes both; jumpers lie behind the
    wall, on no route unless one is named.
    """
    cables = file.groups[group].cables
    main, heads = run_of(file, cables.trunk_main), run_of(file, cables.heads or cables.tails)
    return Cabling(
        trunk_main=main,
        trunk_backup=run_of(file, cables.trunk_backup) if cables.trunk_backup else main,
        head=heads,
        tail=run_of(file, cables.tails) if cables.tails else heads,
        jumper=replace(run_of(file, cables.jumpers), routes=cables.jumpers.over)
        if cables.jumpers
        else Run(),
        special=tuple((pattern, run_of(file, run)) for pattern, run in cables.special.items()),
    )


def _regions(file: ScenarioFile, group: str) -> tuple[Region, ...]:
    walls = walls_of(file, group)
    found = []
    for name, region in file.regions.items():
        pixels = region_pixels(region, file.walls[region.wall].pixels)
        if region.wall in walls and pixels:
            found.append(Region(name, region.wall, *pixels))
    return tuple(found)


def _audience(file: ScenarioFile, group: str) -> dict[str, tuple[str, ...]]:
    walls = walls_of(file, group)
    seen = {name: tuple(w for w in sees if w in walls) for name, sees in file.audience.items()}
    return {name: sees for name, sees in seen.items() if sees}


def _sources(scenario: Scenario) -> tuple[SourcePlan, ...]:
    entries = scenario.file.sources or {PICTURE: SourceEntry()}
    return tuple(_source(scenario, name, entry) for name, entry in entries.items())


def _source(scenario: Scenario, name: str, entry: SourceEntry) -> SourcePlan:
    file, raster = scenario.file, _raster(scenario)
    return SourcePlan(
        name=name,
        kit=_kit(scenario, entry.kit or USUAL["source"], raster),
        cable=_kit(scenario, entry.cable or USUAL["source cable"], raster),
        frame=(entry.rate or scenario.rate).frame,
        links=entry.links or 1,
        circuits=circuits_or_first(file, entry.circuits),
        second=second_of(file, entry),
        distributor=_kit(scenario, entry.distributor or USUAL["distributor"], raster),
        distributor_circuits=circuits_or_first(file, entry.distributor_circuits),
        own=entry.own or "",
        own_same=bool(entry.own_same),
        runs=_runs(file, entry),
        supplier=entry.supplier or "us",
        place=entry.place or "",
    )


def _reference(scenario: Scenario, name: str) -> ReferencePlan:
    entry, raster = scenario.file.references[name], _raster(scenario)
    return ReferencePlan(
        name=name,
        kit=_kit(scenario, entry.kit or USUAL["reference"], raster),
        cable=_kit(scenario, entry.cable or USUAL["reference cable"], raster),
        circuits=circuits_or_first(scenario.file, entry.circuits),
        runs=_runs(scenario.file, entry),
        supplier=entry.supplier or "us",
        place=entry.place or "",
    )


def _runs(file: ScenarioFile, entry: FeedEntry) -> Patterns[Run]:
    own = tuple((pattern, run_of(file, run)) for pattern, run in entry.runs.items())
    return (*own, ("*", run_of(file, entry.run)))


def _circuits(file: ScenarioFile) -> tuple[CircuitPlan, ...]:
    made = tuple(
        CircuitPlan(
            name=name,
            powered_by=entry.fed_by,
            hold_up=replace(entry.hold_up, shelters=True) if entry.hold_up else None,
            start=entry.start,
            supplier=entry.supplier or "us",
            place=entry.place or "",
        )
        for name, entry in file.circuits.items()
    )
    return made or (CircuitPlan(MAINS, supplier="us"),)


__all__ = ["MAINS", "UNNAMED", "group_plan", "plan_of"]
