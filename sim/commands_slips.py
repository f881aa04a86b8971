"""What `staylit slips` does, apart from the command line: from plain values to a text.

In: the path of a scenario, faults that are there already, the paper. Out: frozen `Made`. Raises
StaylitError.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sim.asked import Asked, Made, groups_of, rig_for, variants_of, written
from sim.errors import refuse
from sim.faults import Fault
from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant

if TYPE_CHECKING:
    from sim.practice.remedies import Site
    from sim.report.slips_report import Found


def slips(
    asked: Asked, degraded: Sequence[str], paper: str, told: Callable[[str], None] = lambda _: None
) -> Made:
    """Action slips, the never-do list and the hand-over."""
    from sim.report import slips_report
    from sim.report.jsondoc import as_json

    found = _found(asked, degraded, told)
    if asked.format == "json":
        return Made(as_json(slips_report.document(found)))
    if asked.page:
        from sim.report.slips_page import page

        return Made(page(found, paper))
    return Made(written(slips_report.blocks(found), asked))


def _found(asked: Asked, degraded: Sequence[str], told: Callable[[str], None]) -> Found:
    from sim.practice.handover import handover
    from sim.practice.library import Library
    from sim.practice.nevers import never_do
    from sim.practice.slips import slips as slips_of
    from sim.practice.trials import Bench
    from sim.report.slips_report import Found
    from sim.risk.hazards import hazards
    from sim.study.laboratory import Laboratory

    scenario = load(asked.path)
    main = _variant(scenario, asked)
    rig = rig_for(scenario, main)
    groups = (asked.group,) if asked.group else tuple(rig.groups)
    faults = _degraded(degraded, scenario, rig)
    site = site_of(scenario, main, rig)
    library = Library(rig, site.desk)
    found = hazards(
        rig, scenario.terms, rig.length, lambda strike: library.look(strike.faults).unseen
    )
    laboratories = [Laboratory(rig, name) for name in groups]
    variants = {**scenario.offered, main.group: main}
    return Found(
        scenario=scenario,
        variants=tuple(variants[name] for name in groups),
        rig=rig,
        slips=slips_of(site, library, found, laboratories, told),
        nevers=never_do(Bench(site), groups),
        handover=handover(site, scenario.terms, scenario.breaks, groups, faults),
    )


def site_of(scenario: Scenario, variant: Variant, rig: Rig) -> Site:
    """A rig with its places, spares and crew."""
    from sim.practice.desk import desk_of
    from sim.practice.planning import desk_place, free_ports, places_of
    from sim.practice.remedies import Site
    from sim.study.study import rig_of

    places = places_of(scenario, rig)
    return Site(
        rig=rig,
        desk=desk_of(rig, scenario.terms.moving),
        at=desk_place(places, rig),
        places=places,
        reach={name: place.reach for name, place in scenario.file.places.items()},
        free=free_ports(rig_of(scenario, variant)[0]),
        crew=scenario.terms.crew,
    )


def _variant(scenario: Scenario, asked: Asked) -> Variant:
    """The topology that the slips are for: the one asked for, else the first group's as offered."""
    chosen = variants_of(scenario, asked) if asked.topology else ()
    groups_of(scenario, asked)
    return chosen[0] if chosen else scenario.offered[asked.group or scenario.groups[0]]


def _degraded(texts: Sequence[str], scenario: Scenario, rig: Rig) -> tuple[Fault, ...]:
    """What has failed already; each is taken to have been so before the show."""
    from sim.spoken import spoken
    from sim.study.fault_text import parse_fault

    names, found = spoken(rig), list[Fault]()
    for text in texts:
        for fault in parse_fault(text, rig, scenario.rate, scenario.start, names):
            if fault.at >= 0 or fault.until is not None:
                raise refuse(
                    f"--degraded {text!r}", "is not there already, or ends",
                    'a fault such as "dead main/unit-b before the show"',
                )  # fmt: skip
            found.append(replace(fault))
    return tuple(found)
