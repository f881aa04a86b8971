"""What `staylit diagnose` does, apart from the command line: from plain values to a text.

In: the path of a scenario, what was seen and reported, for how long. Out: frozen `Made`. Raises
StaylitError.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.asked import Asked, Made, rig_for, variant_of, written
from sim.errors import refuse
from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario
from sim.timebase import parse_time

START = "start"
"""In the place of a time: it has been so since the show began."""


def diagnose(asked: Asked, seen: Sequence[str], reports: Sequence[str], since: str) -> Made:
    """What may have failed, from what is seen."""
    from sim.practice.desk import desk_of
    from sim.practice.diagnosis import diagnose as diagnosis_of
    from sim.practice.evidence import evidence
    from sim.practice.library import Library
    from sim.report import diagnose_report
    from sim.report.jsondoc import as_json
    from sim.risk.hazards import hazards

    scenario = load(asked.path)
    main = variant_of(scenario, asked)
    rig = rig_for(scenario, main)
    desk = desk_of(rig, scenario.terms.moving)
    items = evidence(seen, reports, desk)
    stood = _since(since, scenario)
    library = Library(rig, desk)
    found = hazards(
        rig, scenario.terms, rig.length, lambda strike: library.look(strike.faults).unseen
    )
    made = diagnosis_of(library, found, items, stood, _reach(scenario, rig))
    if asked.format == "json":
        return Made(as_json(diagnose_report.document(made, main, scenario)))
    if asked.format == "csv":
        return Made(diagnose_report.csv(made))
    return Made(written(diagnose_report.blocks(made, main, scenario), asked))


def _since(said: str, scenario: Scenario) -> int | None:
    """For how many flicks it has looked so; None: for long."""
    from sim.practice.causes import FROM_START

    if said in ("", START):
        return FROM_START if said else None
    where = f"--since {said!r}"
    flicks = parse_time(said, scenario.rate, where)
    if flicks >= scenario.length:
        todo = f"say --since {START} for what has been so since the show began"
        raise refuse(where, "is longer than the show", "a time within the show", todo=todo)
    return flicks


def _reach(scenario: Scenario, rig: Rig) -> Mapping[str, str]:
    """When somebody can get at each thing; one whose place nobody named says so."""
    from sim.risk.mending import place_of

    reach = {name: place.reach for name, place in scenario.file.places.items()}
    routes = scenario.file.routes
    placed = {name: place_of(thing, routes) for name, thing in rig.things.items()}
    return {name: reach.get(place, "place not stated") for name, place in placed.items()}
