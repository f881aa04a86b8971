"""Whether the topology offered keeps the stated limits, as `compare` judges them by single faults.

In: a `RiskStudy`, its scenario and group. Out: the same study with a verdict on each limit.
"""

from __future__ import annotations

from dataclasses import replace

from sim.risk.results import RiskStudy
from sim.scenario.scenario import Scenario
from sim.study.contingency import Laboratory, singles
from sim.study.promises import verdicts
from sim.study.strikes import strikes
from sim.study.study import rig_of


def judged(study: RiskStudy, scenario: Scenario, group: str) -> RiskStudy:
    """Limits are judged only if the topology offered was studied and can be built."""
    offered = scenario.offered[group]
    there = any(each.variant == offered and not each.reasons for each in study.topologies)
    _, rig, _ = rig_of(scenario, offered) if there and scenario.limits else (None, None, ())
    if rig is None:
        return study
    laboratory = Laboratory(rig, group)
    found = verdicts(scenario.limits, laboratory.canvas, singles(laboratory, strikes(rig)))
    return replace(study, verdicts=found)
