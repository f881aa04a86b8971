"""What `staylit rehearse` does, apart from the command line: from plain values to a text.

In: the paths of a scenario, a drill (or a seed to draw one) and a script. Out: frozen `Made`.
Raises StaylitError.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sim.asked import Asked, Made, rig_for, variant_of, written
from sim.errors import nearest_name, refuse
from sim.practice.files import DrillFile
from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant

if TYPE_CHECKING:
    from sim.practice.acts import Act, Tongue
    from sim.practice.course import DrillPlan


@dataclass(frozen=True)
class Ready:
    """A drill that can begin: as written, the scenario, its topologies, what names mean."""

    file: DrillFile
    scenario: Scenario
    variants: tuple[Variant, ...]
    plan: DrillPlan
    tongue: Tongue


def ready(asked: Asked, drill: Path) -> Ready:
    """The drill of a file on its scenario. Raises InputError."""
    from sim.practice.files import read_drill

    scenario, file = load(asked.path), read_drill(drill)
    main = _variant(scenario, file, asked)
    return _ready(file, scenario, main, rig_for(scenario, main))


def ready_drawn(asked: Asked, seed: int, difficulty: str) -> Ready:
    """A drill drawn by likelihood and difficulty. Raises InputError where no fault is so."""
    from sim.practice.composing import Order, drill_file
    from sim.practice.desk import desk_of
    from sim.practice.drawing import LEVELS, drawn, pool_of
    from sim.practice.library import Library
    from sim.risk.hazards import hazards

    scenario = load(asked.path)
    main = variant_of(scenario, asked)
    rig = rig_for(scenario, main)
    library = Library(rig, desk_of(rig, scenario.terms.moving))
    found = hazards(
        rig, scenario.terms, rig.length, lambda strike: library.look(strike.faults).unseen
    )
    made = drawn(pool_of(library, found, LEVELS[difficulty]), library, seed)
    order = Order(asked.path.stem, main, seed, difficulty)
    return _ready(drill_file(made, order, scenario, rig), scenario, main, rig)


def _ready(file: DrillFile, scenario: Scenario, main: Variant, rig: Rig) -> Ready:
    from sim.practice.planning import plan_of_drill, tongue_of
    from sim.spoken import spoken
    from sim.study.study import rig_of

    names = spoken(rig)
    return Ready(
        file,
        scenario,
        tuple({**scenario.offered, main.group: main}.values()),
        plan_of_drill(file, scenario, rig_of(scenario, main)[0], rig, names),
        tongue_of(scenario, rig, names),
    )


def rehearse(asked: Asked, drill: Path, script: Path) -> Made:
    """A drill driven by a script of acts, and what came of it."""
    return scripted(ready(asked, drill), script, asked)


def scripted(begun: Ready, script: Path, asked: Asked) -> Made:
    """A drill that can begin, driven by a script of acts."""
    from sim.practice.acts import parse_acts
    from sim.practice.files import read_script

    return told(begun, parse_acts(read_script(script), begun.tongue), asked)


def told(begun: Ready, acts: Sequence[Act], asked: Asked) -> Made:
    """What came of a drill with these acts."""
    from sim.practice.review import review
    from sim.report.jsondoc import as_json
    from sim.report.rehearse_report import Rehearsed, rehearse_blocks, rehearse_document

    found = Rehearsed(begun.scenario, begun.variants, review(begun.plan, acts))
    if asked.format == "json":
        return Made(as_json(rehearse_document(found)))
    return Made(written(rehearse_blocks(found), asked))


def _variant(scenario: Scenario, file: DrillFile, asked: Asked) -> Variant:
    """The topology that the drill is for. Raises InputError with its place in the file."""
    meant = file.text("scenario")
    if meant and meant != asked.path.stem:
        found = f"the drill is for scenario {meant!r}, not {asked.path.stem!r}"
        raise refuse(file.where("scenario"), found, "a drill of this scenario")
    group = file.text("group") or scenario.groups[0]
    if group not in scenario.groups:
        near = nearest_name(group, scenario.groups)
        found = f"there is no wall group {group!r}"
        raise refuse(file.where("group"), found, ", ".join(scenario.groups), near)
    label = file.text("topology")
    labels = {variant.label: variant for variant in scenario.variants(group)}
    if label and label not in labels:
        near = nearest_name(label, labels)
        raise refuse(file.where("topology"), f"there is no {label!r}", "; ".join(labels), near)
    return labels[label] if label else scenario.offered[group]
