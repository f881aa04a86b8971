"""What an engineer is told before a drill begins: nothing of its faults.

In: a `DrillPlan`, the topologies, the scenario, the width of a line. Out: lines of text: the goal,
places and when they are reached, breaks, spares, free ports, units, from where they are commanded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.practice.course import DrillPlan
from sim.practice.desk import UNITS
from sim.report.inject_report import moment
from sim.report.rehearse_report import GOALS
from sim.report.situation import within
from sim.report.words import counted, harmless, listed
from sim.scenario.scenario import Scenario, Variant


def briefing_lines(
    plan: DrillPlan, variants: Sequence[Variant], scenario: Scenario, width: int = 100
) -> Iterator[str]:
    """Everything that is known to whoever sits down at the desk."""
    for line in _lines(plan, variants, scenario):
        yield from within(harmless(line), width)


def _lines(plan: DrillPlan, variants: Sequence[Variant], scenario: Scenario) -> Iterator[str]:
    made = ", ".join(f"{each.group}: {each.label}" for each in variants)
    yield f"{scenario.title}; {made}."
    yield f"Goal: {GOALS[plan.goal]}, by {moment(plan.until, scenario)}."
    if plan.goal == "critical":
        yield f"Critical: {_spans(plan.critical, scenario)}."
    things = plan.rig.things.values()
    yield f"Units: {listed(thing.name for thing in things if thing.family in UNITS)}."
    yield f"Arrangements: {_arrangements(plan)}."
    places = listed(f"{name} ({when})" for name, when in plan.reach.items())
    yield f"Places: {places or 'none named'}."
    breaks = tuple((each.begin, each.end) for each in plan.breaks)
    yield f"Breaks: {_spans(breaks, scenario) or 'none planned; one can be called'}."
    yield f"Spares: {_stock(plan)}."
    free = [f"{counted(count, 'port')} on {name}" for name, count in plan.free.items() if count]
    yield f"Free: {listed(free) or 'no port'}."
    control = plan.crew.control if plan.crew else ""
    afar = f"to scaling units, while {control} is up" if control else "none"
    yield f"Commands from afar: {afar}."


def _spans(spans: Sequence[tuple[int, int]], scenario: Scenario) -> str:
    return listed(f"{moment(begin, scenario)} to {moment(end, scenario)}" for begin, end in spans)


def _stock(plan: DrillPlan) -> str:
    spares = plan.crew.spares if plan.crew else {}
    return listed(f"{count} x {name}" for name, count in spares.items()) or "none"


def _arrangements(plan: DrillPlan) -> str:
    own = {
        name: [each for each in group.arrangements if each not in plan.fades]
        for name, group in plan.rig.groups.items()
    }
    return "; ".join(f"{name}: {listed(of)}, the first one meant" for name, of in own.items())
