"""Whether a fault flashes: more than three flashes in a second over a quarter of the screen.

In: lines (flicks, quality) with areas in pixels. Out: the greatest number of flashes in a second.
A flash is a stretch in which at least a quarter of the area is dark and comes back. The limits of
ITU-R BT.1702 and WCAG 2.3.1 also assume a brightness that a bright wall exceeds.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from fractions import Fraction

from sim.study.effects import Line
from sim.study.promises import dark_stretches
from sim.timebase import FLICKS

QUARTER = Fraction(1, 4)
MOST = 3
"""Flashes in any one second that the limits allow (WCAG 2.3.1, ITU-R BT.1702)."""


def flashes(lines: Sequence[tuple[Line, int]], area: int) -> int:
    """The most flashes within any second: stretches dark over a quarter of `area` that end."""
    begins = [begin for begin, end in dark_stretches(lines, area * QUARTER) if end is not None]
    return max((_within(begins, i) for i in range(len(begins))), default=0)


def unrolled(line: Line, repeat: tuple[int, int] | None) -> Line:
    """A line that goes on as between the flicks of `repeat`, written out for two seconds more."""
    if repeat is None:
        return line
    first, second = repeat
    turn = [(at, quality) for at, quality in line if first <= at < second]
    turns = 2 * FLICKS // (second - first) + 2
    more = [(at + n * (second - first), q) for n in range(1, turns) for at, q in turn]
    return (*(step for step in line if step[0] < second), *more)


def _within(begins: Sequence[int], first: int) -> int:
    """How many of these, in order of time, lie within the second that this one begins."""
    return bisect_left(begins, begins[first] + FLICKS, first) - first
