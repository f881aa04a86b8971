"""What `staylit rehearse` does, apart from the command line: from plain values to a text.

In: the paths of a scenario, a drill and a script. Out: frozen `Made`. Raises StaylitError.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sim.asked import Asked, Made, rig_for, written
from sim.errors import nearest_name, refuse
from sim.practice.files import DrillFile
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant

if TYPE_CHECKING:
    from sim.practice.acts import Act, Tongue
    from sim.practice.course import DrillPlan


@dataclass(frozen=True)
class Ready:
    """A drill that can begin: the scenario, its topologies, what names mean; the trainer's own
    `script` if one lies beside the drill.
    """

    scenario: Scenario
    variants: tuple[Variant, ...]
    plan: DrillPlan
    tongue: Tongue
    script: Path | None = None


def ready(asked: Asked, drill: Path) -> Ready:
    """The drill of a file on its scenario. Raises InputError."""
    from sim.practice.files import read_drill
    from sim.practice.planning import plan_of_drill, tongue_of
    from sim.spoken import spoken
    from sim.study.study import rig_of

    scenario, file = load(asked.path), read_drill(drill)
    main = _variant(scenario, file, asked)
    rig = rig_for(scenario, main)
    names = spoken(rig)
    return Ready(
        scenario,
        tuple({**scenario.offered, main.group: main}.values()),
        plan_of_drill(file, scenario, rig_of(scenario, main)[0], rig, names),
        tongue_of(scenario, rig, names),
        beside if (beside := drill.with_suffix(".script.yaml")).is_file() else None,
    )


def rehearse(asked: Asked, drill: Path, script: Path, best: bool = False) -> Made:
    """A drill driven by a script of acts, and what came of it; `best`: against the best course."""
    from sim.practice.acts import parse_acts
    from sim.practice.files import read_script

    begun = ready(asked, drill)
    return told(begun, parse_acts(read_script(script), begun.tongue), asked, best)


def told(begun: Ready, acts: Sequence[Act], asked: Asked, best: bool = False) -> Made:
    """What came of a drill with these acts; `best`: against the best course that is found."""
    from sim.practice.best import best as search
    from sim.practice.review import review
    from sim.report.jsondoc import as_json
    from sim.report.rehearse_report import Rehearsed, rehearse_blocks, rehearse_document

    top = search(begun.plan, (acts, *_by_the_trainer(begun))) if best else None
    found = Rehearsed(begun.scenario, begun.variants, review(begun.plan, acts), top)
    if asked.format == "json":
        return Made(as_json(rehearse_document(found)))
    return Made(written(rehearse_blocks(found), asked))


def _by_the_trainer(begun: Ready) -> list[tuple[Act, ...]]:
    from sim.practice.acts import parse_acts
    from sim.practice.files import read_script

    return [parse_acts(read_script(begun.script), begun.tongue)] if begun.script else []


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
