"""What `staylit rehearse` does, apart from the command line: from plain values to a text.

In: the paths of a scenario, a drill (or a seed to draw one) and a script. Out: frozen `Made`.
Raises StaylitError.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
    from sim.practice.best import Best
    from sim.practice.course import DrillPlan
    from sim.practice.results import Entry, What


@dataclass(frozen=True)
class Ready:
    """A drill that can begin: as written, the scenario, its topologies, `main` the one of its
    group, what names mean; the trainer's own `script` if one lies beside the drill; whether the
    `best` course is looked for.
    """

    file: DrillFile
    main: Variant
    scenario: Scenario
    variants: tuple[Variant, ...]
    plan: DrillPlan
    tongue: Tongue
    script: Path | None = None
    best: bool = False


def ready(asked: Asked, drill: Path) -> Ready:
    """The drill of a file on its scenario. Raises InputError."""
    from sim.practice.files import read_drill

    scenario, file = load(asked.path), read_drill(drill)
    main = _variant(scenario, file, asked)
    beside = drill.with_suffix(".script.yaml")
    begun = _ready(file, scenario, main, rig_for(scenario, main))
    return replace(begun, script=beside if beside.is_file() else None)


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
        main,
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

    return told(begun, parse_acts(read_script(script), begun.tongue), asked)[0]


@dataclass(frozen=True)
class Results:
    """What an engineer's table of drills holds, and what to write of this drill."""

    what: What
    entries: tuple[Entry, ...]


def results_in(path: Path) -> tuple[Entry, ...]:
    """All drills in a table; none where there is no such file yet. Raises InputError."""
    from sim.practice.results import entries_of

    return entries_of(_text_of(path), str(path))


def _text_of(path: Path) -> str:
    from sim.scenario.files import read_text

    return read_text(path) if os.path.lexists(path) else ""


def add_result(path: Path, entry: Entry) -> None:
    """Put one line at the end of a table, whole or not at all. Raises InputError."""
    from sim.output import put_line
    from sim.practice.results import HEAD, entries_of, entry_line

    put_line(entry_line(entry), HEAD, str(path), lambda text: entries_of(text, str(path)))


def told(
    begun: Ready, acts: Sequence[Act], asked: Asked, kept: Results | None = None
) -> tuple[Made, Entry | None]:
    """What came of a drill with these acts; its line for a table of drills, if one is kept."""
    from sim.practice.advice import dues, phases
    from sim.practice.results import entry_of
    from sim.practice.review import review
    from sim.report.jsondoc import as_json
    from sim.report.rehearse_report import Rehearsed, rehearse_blocks, rehearse_document

    made = review(begun.plan, acts)
    entry = entry_of(made, kept.what) if kept else None
    entries = (*kept.entries, entry) if kept and entry else ()
    due = dues(entries, _masses(begun.scenario, begun.plan.rig)) if entries else ()
    top = _best(begun, acts) if begun.best else None
    aim = review(begun.plan, top.course.acts) if top else None
    found = Rehearsed(begun.scenario, begun.variants, made, top, phases(made, aim), due)
    if asked.format == "json":
        return Made(as_json(rehearse_document(found))), entry
    return Made(written(rehearse_blocks(found), asked)), entry


def _best(begun: Ready, acts: Sequence[Act]) -> Best:
    """The best course that is found, told of this one and of the trainer's."""
    from sim.practice.acts import parse_acts
    from sim.practice.best import best
    from sim.practice.files import read_script

    script = read_script(begun.script) if begun.script else ()
    return best(begun.plan, (acts, parse_acts(script, begun.tongue)))


def _masses(scenario: Scenario, rig: Rig) -> Mapping[str, float]:
    """How often each kind of fault strikes in a show."""
    from sim.practice.advice import masses_by_kind
    from sim.risk.hazards import hazards

    found = hazards(rig, scenario.terms, scenario.length, lambda strike: False)
    return masses_by_kind(rig, found)


def progress(asked: Asked, path: Path) -> Made:
    """How an engineer comes on, from a file of results. Raises InputError."""
    from sim.practice.advice import dues, standings
    from sim.practice.results import entries_of
    from sim.report.jsondoc import as_json
    from sim.report.practise_report import progress_blocks, progress_document
    from sim.scenario.files import read_text

    scenario = load(asked.path)
    entries = entries_of(read_text(path), str(path))
    masses = _masses(scenario, rig_for(scenario, variant_of(scenario, asked)))
    due, found = dues(entries, masses), standings(entries)
    if asked.format == "json":
        return Made(as_json(progress_document(found, due)))
    return Made(written(progress_blocks(scenario, found, due), asked))


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
