"""What a scenario declares and no topology of any group uses.

In: a `Scenario`. Out: frozen findings, notes all.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from sim.limits.findings import Finding
from sim.rig.kit import Run
from sim.rig.plan import GroupPlan, ShowPlan
from sim.scenario.plan import group_plan, plan_of
from sim.scenario.scenario import Scenario


def idle_findings(scenario: Scenario) -> Iterator[Finding]:
    """Routes on which no cable lies, under any topology."""
    runs = chain(
        _runs(plan_of(scenario)),
        *(
            _cabling(group_plan(scenario, group, variant))
            for group in scenario.groups
            for variant in scenario.variants(group)
        ),
    )
    used = {route for run in runs for route in run.routes}
    for route in scenario.file.routes:
        if route not in used:
            text = "no cable lies on this route under any topology"
            todo = "name it where a cable lies on it (`cables`, `run`, `runs`), or leave it out"
            yield Finding("note", "route", f"route {route}", text, todo)


def _runs(show: ShowPlan) -> Iterator[Run]:
    for patterns in (*(s.runs for s in show.sources), *(r.runs for r in show.references)):
        yield from (run for _, run in patterns)
    yield from (control.run for control in show.controls)
    for group in show.groups:
        yield from _cabling(group)


def _cabling(group: GroupPlan) -> Iterator[Run]:
    own = group.cabling
    yield from (own.trunk_main, own.trunk_backup, own.head, own.tail, own.jumper)
    yield from (run for _, run in own.special)
