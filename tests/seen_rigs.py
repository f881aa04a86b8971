"""What tests of practice share: rigs of the shipped scenarios, and what is seen of them.

In: names of scenarios, groups, topologies; scripts. Out: settled rigs with their desks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from sim.engine.settling import Base
from sim.faults import Fault, Script
from sim.practice.desk import Desk, desk_of
from sim.practice.moments import Moment, moment_under
from sim.practice.symptoms import Symptoms, symptoms
from sim.rig.topology import Rig, corner
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario
from sim.study.study import rig_of
from sim.timebase import FLICKS

SCENARIOS = Path(__file__).parents[1] / "scenarios"


@dataclass(frozen=True)
class Stage:
    """A rig that can be looked at."""

    scenario: Scenario
    rig: Rig
    base: Base
    desk: Desk

    def moment(self, *faults: Fault, at: int = 20, failing: tuple[str, ...] = ()) -> Moment:
        """How it stands so many seconds after the show began."""
        script = Script(faults, failing=frozenset(failing))
        return moment_under(self.base, self.desk, script, at * FLICKS)

    def seen(self, *faults: Fault, at: int = 20, failing: tuple[str, ...] = ()) -> Symptoms:
        return symptoms(self.desk, self.moment(*faults, at=at, failing=failing))


@cache
def scenario_of(name: str) -> Scenario:
    return load(SCENARIOS / f"{name}.yaml")


@cache
def stage(name: str, group: str = "", label: str = "") -> Stage:
    """A topology of a group; without a label the one offered, without a group the first."""
    scenario = scenario_of(name)
    group = group or scenario.groups[0]
    variants = {variant.label: variant for variant in scenario.variants(group)}
    variant = variants[label] if label else scenario.offered[group]
    _, rig, reasons = rig_of(scenario, variant)
    assert rig is not None, reasons
    base = Base(rig, corner(rig, "typical"))
    return Stage(scenario, rig, base, desk_of(rig, scenario.terms.moving))


def buildable(name: str) -> Iterator[tuple[str, str, str]]:
    """(scenario, group, label) of every topology that can be built."""
    scenario = scenario_of(name)
    for group in scenario.groups:
        for variant in scenario.variants(group):
            if rig_of(scenario, variant)[1] is not None:
                yield name, group, variant.label
