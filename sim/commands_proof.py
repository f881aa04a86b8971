"""What `staylit proof` does, apart from the command line: a test sheet, what a filled one shows.

In: the path of a scenario, of a filled sheet. Out: frozen `Made`, and the text of a file for
scenarios. Raises StaylitError.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from sim.asked import Asked, Made, groups_of, rig_for, variants_of, written
from sim.errors import refuse
from sim.harmless import visible
from sim.practice.protections import Protection
from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant


def proof(asked: Asked) -> Made:
    """The test sheet of a scenario's rig."""
    from sim.practice.testsheet import sheet
    from sim.report import sheet_report
    from sim.report.jsondoc import as_json
    from sim.risk.mending import place_of

    scenario, variants, rig = _rig(asked)
    routes = scenario.file.routes
    places = {name: place_of(thing, routes) for name, thing in rig.things.items()}
    reach = {name: place.reach for name, place in scenario.file.places.items()}
    made = sheet(rig, _wanted(asked), places)
    if asked.format == "json":
        return Made(as_json(sheet_report.document(made, variants, scenario)))
    if asked.format == "csv":
        return Made(sheet_report.csv(made))
    return Made(written(sheet_report.blocks(made, variants, scenario, reach), asked))


def proof_read(asked: Asked, sheet: Path, begins: str) -> tuple[Made, str]:
    """What a filled sheet shows; and the text of a file for scenarios."""
    from sim.practice.filled import Reader, filled
    from sim.practice.proof_text import proof_text
    from sim.practice.proving import by_name
    from sim.practice.proving import proof as proof_of
    from sim.practice.pulls import pulls
    from sim.reliability.records import table_text
    from sim.report import proof_report
    from sim.report.jsondoc import as_json

    scenario, variants, rig = _rig(asked)
    reader = Reader(by_name(pulls(rig)), _begins(begins), sheet.name)
    found = proof_of(rig, filled(table_text(sheet), reader), _wanted(asked))
    file = proof_text(found, visible(sheet.name))
    if asked.format == "json":
        return Made(as_json(proof_report.document(found, variants, scenario))), file
    if asked.format == "csv":
        return Made(proof_report.csv(found)), file
    return Made(written(proof_report.blocks(found, variants, scenario), asked)), file


def _rig(asked: Asked) -> tuple[Scenario, tuple[Variant, ...], Rig]:
    """The scenario, the topology of each group, their rig."""
    scenario = load(asked.path)
    groups_of(scenario, asked)
    chosen = variants_of(scenario, asked) if asked.topology else ()
    variants = tuple({**scenario.offered, **{v.group: v for v in chosen}}.values())
    return scenario, variants, rig_for(scenario, chosen[0] if chosen else variants[0])


def _wanted(asked: Asked) -> Callable[[Protection], bool]:
    """With a group only what protects its things, and what stands for the whole rig."""
    return lambda each: asked.group in ("", each.group) or not each.group


def _begins(said: str) -> datetime | None:
    if not said:
        return None
    where, allowed = f"--begins {said!r}", "a date and a time, as 2026-05-01 20:00"
    try:
        found = datetime.fromisoformat(said)
    except ValueError:
        raise refuse(where, "is no date and time", allowed, todo="write local time so") from None
    if found.tzinfo is not None or not re.search(r"\d:\d", said):
        raise refuse(where, "has a time zone, or no time of the day", allowed, todo="write it so")
    return found
