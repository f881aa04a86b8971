"""What tests of whole rigs share: a laboratory for a plan, lines of cells, areas by line.

In: plans, rigs, faults. Out: laboratories, step functions (flicks, quality), pixel areas.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from sim.engine.run import run
from sim.engine.signal import Trace, cell_lines
from sim.faults import Fault, Script
from sim.rig.kit import Kit
from sim.rig.patterns import build
from sim.rig.plan import ShowPlan
from sim.rig.topology import Rig, corner
from sim.rig.validator import validate
from sim.study.contingency import Laboratory
from sim.study.effects import Effect, Line
from sim.study.strikes import Strike, strikes
from sim.timebase import FLICKS, fixed
from tests.plans import KITS, banks, main

LIT_LINE: Line = ((0, 6),)
ONE_WALL = ("single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays")
MIRRORED = ("mirrored", "mirrored-guarded")


def rig_of(plan: ShowPlan) -> Rig:
    """The checked rig of a plan."""
    return validate(build(plan))


def laboratory(plan: ShowPlan) -> Laboratory:
    """A laboratory for the first group of a plan."""
    return Laboratory(rig_of(plan), plan.groups[0].name)


def plan_for(topology: str, **more: Any) -> ShowPlan:
    """One wall of 3 by 4, or two mirrored ones of 2 by 2 where the topology is for such."""
    return banks(topology, **more) if topology in MIRRORED else main(topology, **more)


def long(topology: str, seconds: int = 60, **more: Any) -> ShowPlan:
    """The same over a minute, so that starts and holdovers end within the show."""
    return replace(plan_for(topology, **more), length=seconds * FLICKS)


def timed(role: str, **flicks: int) -> dict[str, Kit]:
    """The kits of `tests.plans` with other timings for one role."""
    kit = KITS[role]
    timings = {**kit.timings, **{name: fixed(value) for name, value in flicks.items()}}
    return {**KITS, role: replace(kit, timings=timings)}


def flaps(faults: Iterable[Fault]) -> bool:
    """Whether any of them comes and goes."""
    return any(fault.mode == "flapping" for fault in faults)


def full_run(rig: Rig, faults: Sequence[Fault], which: str = "typical") -> Trace:
    """The whole rig, nothing merged."""
    return run(rig, Script(tuple(faults)), corner(rig, which), rig.length, flaps(faults))


def lines_of(rig: Rig, trace: Trace, group: str) -> dict[int, Line]:
    """For each cell of a group, by number, its line."""
    return {n: tuple(line) for (g, n), line in cell_lines(rig, trace).items() if g == group}


def areas_by_line(rig: Rig, trace: Trace, group: str) -> dict[tuple[Line, str], int]:
    """Pixels of each wall by the line that they show, where that is not always lit."""
    areas: Counter[tuple[Line, str]] = Counter()
    for number, line in lines_of(rig, trace, group).items():
        cell = rig.groups[group].cells[number]
        if line != LIT_LINE:
            areas[line, rig.cabinets[cell.cabinet].wall] += cell.area
    return dict(areas)


def effect_areas(effect: Effect) -> dict[tuple[Line, str], int]:
    """The same from an effect."""
    areas: Counter[tuple[Line, str]] = Counter()
    for line, share in effect.lines:
        for wall, area in share.walls:
            areas[line, wall] += area
    return dict(areas)


def cabinets_by_end(rig: Rig, faults: Sequence[Fault], group: str = "main") -> dict[str, set[int]]:
    """For each cabinet the qualities of its cells at the end of a run."""
    found: dict[str, set[int]] = {}
    for number, line in lines_of(rig, full_run(rig, faults), group).items():
        found.setdefault(rig.groups[group].cells[number].cabinet, set()).add(line[-1][1])
    return found


def lost_cabinets(rig: Rig, faults: Sequence[Fault], group: str = "main") -> set[str]:
    """The cabinets that are not lit all over at the end of a run."""
    return {name for name, end in cabinets_by_end(rig, faults, group).items() if end != {6}}


def lit_everywhere(rig: Rig, trace: Trace) -> bool:
    """Whether every cell is lit all the time."""
    return all(tuple(line) == LIT_LINE for line in cell_lines(rig, trace).values())


def pixels_of(rig: Rig, trace: Trace, group: str, wall: str) -> Iterator[tuple[int, int, Line]]:
    """Every pixel of a wall with the line of its cell."""
    lines = lines_of(rig, trace, group)
    for number, cell in enumerate(rig.groups[group].cells):
        if rig.cabinets[cell.cabinet].wall == wall:
            for x in range(cell.x, cell.x + cell.w):
                for y in range(cell.y, cell.y + cell.h):
                    yield x, y, lines[number]


def strike_on(rig: Rig, where: str, mode: str) -> Strike:
    """The one strike of the catalogue at a place."""
    (found,) = [s for s in strikes(rig) if s.where == where and s.mode == mode]
    return found
