"""What tests of slips share: a scenario's rig with its hazards, its slips, trials on the whole rig.

In: names of scenarios that come with the program, or changed ones. Out: frozen `Book`s; what acts
come to, worked out by a drill on the whole rig and read cell by cell, not by `practice.trials`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

from sim.asked import rig_for
from sim.commands_slips import site_of
from sim.engine.signal import cell_lines
from sim.faults import Fault, Script
from sim.practice.acts import Act
from sim.practice.causes import Cause, singles
from sim.practice.course import DrillPlan
from sim.practice.drill import rehearsed
from sim.practice.library import Library
from sim.practice.planning import BEFORE
from sim.practice.remedies import Site
from sim.practice.slips import Slip, slips
from sim.practice.trials import LASTS, READING, SLOW_FLAP
from sim.rig.topology import Rig, corner
from sim.risk.hazards import Hazard, hazards
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Stretch
from sim.study.laboratory import Laboratory
from sim.timebase import FLICKS

SCENARIOS = Path(__file__).parents[1] / "scenarios"
DARK, CORRUPT, WRONG, FROZEN, UNLOCKED, LIT = range(6)


@dataclass(frozen=True)
class Book:
    """A rig and all that its slips are made of."""

    scenario: Scenario
    site: Site
    library: Library
    hazards: tuple[Hazard, ...]
    slips: tuple[Slip, ...]

    @property
    def rig(self) -> Rig:
        return self.site.rig

    def causes(self, name: str) -> list[Cause]:
        """All that looks like the fault of this name, the likeliest first."""
        every = list(singles(self.library, self.hazards))
        sign = next(cause.look.sign for cause in every if cause.name == name)
        alike = [cause for cause in every if cause.look.sign == sign]
        return sorted(alike, key=lambda cause: (-cause.weight, cause.name))


@cache
def book(name: str) -> Book:
    """The book of a scenario, with the topology offered."""
    return book_of(load(SCENARIOS / f"{name}.yaml"))


def book_of(scenario: Scenario) -> Book:
    """The book of a scenario that was loaded."""
    variant = scenario.offered[scenario.groups[0]]
    rig = rig_for(scenario, variant)
    site = site_of(scenario, variant, rig)
    library = Library(rig, site.desk)
    found = hazards(rig, scenario.terms, rig.length, lambda s: library.look(s.faults).unseen)
    made = slips(site, library, found, [Laboratory(rig, name) for name in rig.groups])
    return Book(scenario, site, library, found, made)


# ---- trials on the whole rig ---------------------------------------------------------------------


@dataclass(frozen=True)
class Outcome:
    """Flicks times pixels by state, in all and of the last turn of a loose contact; dark flicks by
    cell; whether it was done, and whether the rig is whole in the end.
    """

    lost: tuple[int, ...]
    left: tuple[int, ...]
    dark: tuple[int, ...]
    well: tuple[bool, ...]
    whole: bool


def whole_rig(book: Book, faults: Sequence[Fault], acts: Sequence[Act]) -> Outcome:
    """A drill on the whole rig with these acts."""
    plan = plan_of(book, faults)
    _, result = rehearsed(plan, acts)
    until, rig = plan.until, plan.rig
    moving = {name: book.scenario.terms.moving.get(name) for name in rig.groups}
    lost, left, dark = [0] * 6, [0] * 6, []
    lines = cell_lines(rig, result.trace)
    for (group, number), line in sorted(lines.items()):
        cell = rig.groups[group].cells[number]
        top = rig.groups[group].stacks[cell.stack][rig.groups[group].arrangements[0]]
        still = moving[group] is not None and (not top or top[0].layer not in moving[group])
        times = [0] * 6
        ends = [*(at for at, _ in line[1:]), until]
        for (at, quality), end in zip(line, ends, strict=True):
            state = max(int(quality), 1) - 1
            state = LIT if state == FROZEN and still else state
            times[state] += min(end, until) - min(at, until)
            lost[state] += cell.area * (min(end, until) - min(at, until))
            begun = max(at, until - SLOW_FLAP)
            left[state] += cell.area * max(min(end, until) - begun, 0)
        dark.append(times[DARK])
    well = tuple(each.well for each in result.done)
    return Outcome(tuple(lost[:5]), tuple(left[:5]), tuple(dark), well, result.whole[-1][1])


def plan_of(book: Book, faults: Sequence[Fault]) -> DrillPlan:
    """The drill in which an act is tried."""
    site, until = book.site, min(BEFORE + LASTS, book.rig.length)
    return DrillPlan(
        title="",
        rig=replace(book.rig, length=until),
        script=Script(tuple(map(_moved, faults))),
        values=corner(book.rig, "typical"),
        begin=min(BEFORE + READING, until - 1),
        place=site.at,
        crew=site.crew,
        places=site.places,
        reach={"": "always", **site.reach},
        breaks=(Stretch("", 0, until),),
        free=site.free,
        moving=book.scenario.terms.moving,
    )


def _moved(fault: Fault) -> Fault:
    until = None if fault.until is None else fault.until + BEFORE
    if fault.mode == "flapping":
        return replace(fault, at=BEFORE, period=SLOW_FLAP, off=SLOW_FLAP // 2)
    return replace(fault, at=BEFORE, until=until)


def wall_seconds(book: Book, by_state: Sequence[int]) -> Fraction:
    """Flicks times pixels as seconds of the whole picture of all walls."""
    area = sum(cell.area for group in book.rig.groups.values() for cell in group.cells)
    return Fraction(sum(by_state), area * FLICKS)
