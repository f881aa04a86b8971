"""Every assumption is printed at the place where it can be said, with a value that can be said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from sim.rig.topology import Rig
from sim.scenario.kits import Assumption
from sim.scenario.loader import load, scenario_from
from sim.scenario.scenario import Scenario
from sim.scenario.starter import new_file
from sim.study.study import rig_of
from sim.timebase import Timing

BARE = """\
show: {title: Bare, rate: 50, length: 1 h}
walls: {main: {grid: 3 x 2, pixels: 100 x 100 px, chains: {way: by column, start: bottom left}}}
groups: {main: {cables: {trunk_main: 40 m}, offered: relay-pair, against: [return-loop, two-unit]}}
"""
"""Nothing is said that need not be."""
SHORT = """\
show: {title: Short, rate: 50, length: 1 h}
walls:
  main: {grid: 2 x 2, pixels: 100 x 100 px, chains: [[r1c1, r2c1], [r1c2, r2c2]]}
circuits: [A, "B & C"]
routes: {north: 40 m, south: 30 m, edge: 3 m}
equipment: {own unit: {like: scaling unit, on_loss: frozen, monitored: yes, optics: {}}}
sources: {camera: {run: 20 m}, player: {kit: camera, circuits: A}}
references: {clock: {run: {length: 3 m, splices: 2}}}
groups:
  main:
    layers: {camera: camera, over: {from: player, at: "10, 10", size: 20 x 20 px}}
    kits: {unit: own unit}
    cables: {trunk_main: [north, south], tails: {length: 5 m, connectors: 4}}
    power: {unit-*: A}
    offered: two-unit
    against: [relay-pair, {topology: relay-pair, power: double}]
"""
"""Bare texts where mappings may stand, lists where several may."""
NAMED = {name: Path(f"scenarios/{name}.yaml") for name in ("first", "river", "studio", "atrium")}
TEXTS = {"bare": BARE, "short": SHORT, "starter": new_file(2, 3)}
FILLS = {"run": "length", "cables": "length", "layers": "from"}
"""What a bare text at a key, or within it, stands for."""


def text_of(name: str) -> str:
    return TEXTS[name] if name in TEXTS else NAMED[name].read_text(encoding="utf-8")


def steps(tree: Any, path: str) -> list[str]:
    """The keys of a path: names may hold points, so the longest name that is there is meant."""
    found: list[str] = []
    rest = path
    while rest:
        known = tree if isinstance(tree, dict | list) else {}
        fits = [
            name for name in known if isinstance(name, str) and f"{rest}.".startswith(f"{name}.")
        ]
        step = max(fits, key=len, default=rest.partition(".")[0])
        found.append(step)
        tree = tree.get(step) if isinstance(tree, dict) else None
        rest = rest[len(step) + 1 :]
    return found


def written(tree: dict[str, Any], assumed: Assumption) -> None:
    """Put the printed value at the printed place, as a person would."""
    here, above = tree, ""
    *before, last = steps(tree, assumed.path)
    for step in before:
        if isinstance(here.get(step), list) and all(isinstance(n, str) for n in here[step]):
            here[step] = {n: {} for n in here[step]} if step == "circuits" else {"over": here[step]}
        if isinstance(here.get(step), str):
            here[step] = {FILLS.get(step) or FILLS[above]: here[step]}
        here, above = here.setdefault(step, {}), step
    here[last] = yaml.load(assumed.value, Loader=yaml.BaseLoader)


def read(tree: dict[str, Any]) -> Scenario:
    return scenario_from(yaml.safe_dump(tree, sort_keys=False, default_style='"'))


def tree_of(name: str) -> dict[str, Any]:
    made: dict[str, Any] = yaml.load(text_of(name), Loader=yaml.BaseLoader)
    return made


def bare(value: Any) -> Any:
    """A value without where its timings are from."""
    if isinstance(value, Timing):
        return replace(value, grade="", source="")
    if is_dataclass(value):
        return tuple(bare(getattr(value, field.name)) for field in fields(value))
    if isinstance(value, dict):
        return {key: bare(each) for key, each in value.items()}
    return tuple(map(bare, value)) if isinstance(value, tuple | list) else value


def rigs(scenario: Scenario) -> Iterator[Any]:
    """Every rig that can be built."""
    for group in scenario.groups:
        for variant in scenario.variants(group):
            _, rig, reasons = rig_of(scenario, variant)
            yield bare(rig and holding(rig)), reasons


def holding(rig: Rig) -> Rig:
    """A rig without hold-ups of no time, which say the same as none."""
    nothing = {
        key for key, timing in rig.timings.items() if key.endswith(".hold_up") and not timing.most
    }
    things = {
        name: replace(thing, hold_up="" if thing.hold_up in nothing else thing.hold_up)
        for name, thing in rig.things.items()
    }
    timings = {key: timing for key, timing in rig.timings.items() if key not in nothing}
    return replace(rig, things=things, timings=timings)


@pytest.mark.parametrize("name", [*TEXTS, *NAMED])
def test_every_assumption_can_be_said_where_and_as_it_is_printed(name: str) -> None:
    before = read(tree_of(name)).assumptions
    assert len(before) > 10
    for assumed in before:
        tree = tree_of(name)
        written(tree, assumed)
        after = read(tree).assumptions
        assert assumed.path not in {each.path for each in after}
        assert len(after) < len(before), assumed


@pytest.mark.parametrize("name", TEXTS)
def test_saying_what_is_assumed_changes_nothing(name: str) -> None:
    usual = list(rigs(read(tree_of(name))))
    for assumed in read(tree_of(name)).assumptions:
        tree = tree_of(name)
        written(tree, assumed)
        assert list(rigs(read(tree))) == usual, assumed


@pytest.mark.parametrize("name", [*TEXTS, *NAMED])
def test_saying_all_that_is_assumed_leaves_nothing_assumed_and_changes_nothing(name: str) -> None:
    scenario = load(NAMED[name]) if name in NAMED else scenario_from(TEXTS[name])
    tree = tree_of(name)
    for assumed in scenario.assumptions:
        written(tree, assumed)
    said = read(tree)
    assert said.assumptions == ()
    assert list(rigs(said)) == list(rigs(scenario))
