"""What a drill came to: what was lost, when the picture and the redundancy were back.

In: a `DrillPlan`, the `Trace` of a drill. Out: wall-seconds that were not lit (exact: seconds for
which the whole picture of all groups would have been not lit), flicks from the first fault; None
where it did not come.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from sim.engine.signal import Trace
from sim.practice.course import DrillPlan
from sim.rig.topology import Rig
from sim.study.injection import lines_of, lost, unlit
from sim.timebase import FLICKS


def loss(rig: Rig, trace: Trace, begin: int = 0, end: int | None = None) -> Fraction:
    """Wall-seconds that are not lit in a run, or in a part of it (flicks)."""
    area = sum(cell.area for group in rig.groups.values() for cell in group.cells)
    return Fraction(sum(unlit(rig, trace, begin, end).values()), area * FLICKS)


def strayed_in(plan: DrillPlan, trace: Trace) -> int:
    """Flicks for which a group was meant to show another arrangement than the planned one, its
    first; added up over groups.
    """
    found = 0
    for name, line in trace.wanted.items():
        planned = plan.rig.groups[name].arrangements[0]
        ends = [*(at for at, _ in line[1:]), plan.until]
        found += sum(
            min(end, plan.until) - max(at, 0)
            for (at, meant), end in zip(line, ends, strict=True)
            if meant != planned
        )
    return found


def critical_held(plan: DrillPlan, trace: Trace) -> bool:
    """Whether the picture was whole through all critical moments."""
    return not any(loss(plan.rig, trace, *moment) for moment in plan.critical)


def whole_picture_at(plan: DrillPlan, trace: Trace) -> int | None:
    """From the first fault to the last change into a whole picture; 0 if nothing ever showed."""
    lines = lines_of(plan.rig, trace)
    if any(lost(line[-1][1]) for line in lines):
        return None
    changed = max((at for line in lines for at, _ in line), default=0)
    return max(changed - plan.struck, 0)


def redundancy_at(plan: DrillPlan, whole: Sequence[tuple[int, bool]]) -> int | None:
    """From the first fault to full redundancy that lasts."""
    at, stands = whole[-1]
    return max(at - plan.struck, 0) if stands else None
