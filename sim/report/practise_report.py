"""What to practise next, and progress over several drills, told for people.

In: frozen `Phase`s, `Standing`s, `Due`s. Out: blocks, and parts of a JSON document.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from sim.practice.advice import PHASES, Due, Phase, Standing, slowest
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.words import harmless, share
from sim.scenario.scenario import Scenario
from sim.timebase import Rate, show_time

HINT = {
    PHASES[0]: "watch, and look at reports and alarms sooner",
    PHASES[1]: "decide sooner what helps first: the test that splits the suspects best, then act",
    PHASES[2]: "bring the picture back by the shortest way before the cause is looked for",
    PHASES[3]: "do not stop at the picture: a rig on its last backup is not mended",
}
"""What to do about a slow part."""
NEW = "not practised yet"


def practise_next(
    phases: Sequence[Phase], dues: Sequence[Due], rate: Rate, best: bool
) -> Iterator[Block]:
    """The section at the end of a drill's report; nothing where nothing is known. `best`: the
    phases are held against the best course found.
    """
    if phases:
        yield Heading("What to practise next")
        yield Points((_phase(phases, rate, best), *(_due(each, rate) for each in dues)))


def _phase(phases: Sequence[Phase], rate: Rate, best: bool) -> str:
    worst = slowest(phases)
    if worst is None:
        return "No part of this drill took longer than it had to."
    took, spare = show_time(worst.took, rate), show_time(worst.spare, rate)
    less = f"{spare} less in the best course found, which knows the causes at once"
    idle = (
        f"{spare} of it neither acts that helped nor the way to one (looking and asking are none)"
    )
    came = f"it took {took}, {less if best else idle}"
    said = came if worst.came else f"it had not ended after {took}"
    return f"Of this drill, the way {worst.name}: {said}. Next time: {HINT[worst.name]}."


def _due(due: Due, rate: Rate) -> str:
    how = NEW if due.new else _middle(due.middle, rate)
    part = share(Fraction(due.part).limit_denominator(10**6))
    return f"{harmless(due.kind)}: {how}; {part} of what strikes in a show of this rig"


def _middle(middle: int | None, rate: Rate) -> str:
    if middle is None:
        return "no right act in most of its drills"
    return f"the first right act after {show_time(middle, rate)} (median)"


def practise_document(phases: Sequence[Phase], dues: Sequence[Due]) -> dict[str, Any]:
    """The same as data; times in flicks."""
    worst = slowest(phases) if phases else None
    return {
        "phases": [
            {"name": each.name, "took": each.took, "needed": each.needed, "came": each.came}
            for each in phases
        ],
        "slowest_phase": worst.name if worst else None,
        "practise_next": [_due_document(each) for each in dues],
    }


def _due_document(due: Due) -> dict[str, Any]:
    return {"kind": due.kind, "part": due.part, "new": due.new, "median_right": due.middle}


# ---- over several drills -------------------------------------------------------------------------


def progress_blocks(scenario: Scenario, found: Sequence[Standing], dues: Sequence[Due]) -> Blocks:
    """Progress over drills."""
    rate = scenario.rate
    blocks: list[Block] = [Heading(f"{scenario.title}: progress over drills", 1)]
    if found:
        head = ("kind of fault", "drills", "goal reached", "first right act after", "a drill")
        rows = tuple(_row(each, rate) for each in found)
        blocks.append(Table(head, rows, frozenset({1, 2})))
        blocks.append(
            Para(
                "First right act: how long after the fault, in the first and the last drill of the "
                "kind, and the median. A drill: by how much that time changed from one drill to "
                "the next (the slope of the least-squares line). Drills that were broken off are "
                "left out."
            )
        )
    else:
        blocks.append(Para("No drill was done to its end yet."))
    blocks += [Heading("What to practise next"), Points(tuple(_due(e, rate) for e in dues))]
    return (*blocks, Heading("Cautions"), CAUTIONS)


def _row(each: Standing, rate: Rate) -> tuple[str, ...]:
    first, last, middle = (_time(t, rate) for t in (each.rights[0], each.rights[-1], each.middle))
    slope = "-" if each.trend is None else _slope(each.trend, rate)
    times = f"{first}, {last}; median {middle}" if each.drills > 1 else first
    if not any(right is not None for right in each.rights):
        times = "in none of them" if each.drills > 1 else "none"
    return harmless(each.kind), str(each.drills), str(each.reached), times, slope


def _time(time: int | None, rate: Rate) -> str:
    return "none" if time is None else show_time(time, rate)


def _slope(slope: Fraction, rate: Rate) -> str:
    size = show_time(round(abs(slope)), rate)
    return f"{size} {'faster' if slope < 0 else 'slower'}" if slope else "no change"


def progress_document(found: Sequence[Standing], dues: Sequence[Due]) -> dict[str, Any]:
    """The same as data; times in flicks, the trend in flicks a drill (exact)."""
    return {
        "format": "staylit-progress 1",
        "cautions": [*CAUTIONS.texts],
        "kinds": [
            {
                "kind": each.kind,
                "drills": each.drills,
                "reached": each.reached,
                "right": list(each.rights),
                "median_right": each.middle,
                "trend": None if each.trend is None else str(each.trend),
            }
            for each in found
        ],
        "practise_next": [_due_document(each) for each in dues],
    }
