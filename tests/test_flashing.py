"""Flashes within a second: stretches in which at least a quarter of the area is dark, and that end.

In: lines (flicks, quality) with areas. Out: the greatest number in any second, against a count of
every one. More than three in a second are too many (WCAG 2.3.1, ITU-R BT.1702; value from memory).
"""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sim.faults import Fault, Script
from sim.study.flashing import MOST, flashes
from sim.study.injection import inject
from sim.study.rows import rows
from sim.study.strikes import Strike
from sim.timebase import FLICKS
from tests.labs import laboratory, rig_of
from tests.plans import main

Line = tuple[tuple[int, int], ...]
TENTH = FLICKS // 10


def blinking(times: int, period: int = 2 * TENTH, first: int = 0) -> Line:
    """Dark for the first half of each period, then lit."""
    steps = [(first + n * period + half, q) for n in range(times) for half, q in (
        (0, 0), (period // 2, 6))]  # fmt: skip
    return tuple(steps) if first == 0 else ((0, 6), *steps)


def counted(lines: list[tuple[Line, int]], area: int) -> int:
    """Every instant looked at one by one."""
    instants = sorted({at for line, _ in lines for at, _ in line})
    begins, since = [], None
    for at in instants:
        dark = sum(a for line, a in lines if [q for t, q in line if t <= at][-1] <= 1)
        if 4 * dark >= area and since is None:
            since = at
        elif 4 * dark < area and since is not None:
            begins.append(since)
            since = None
    return max((sum(a <= b < a + FLICKS for b in begins) for a in begins), default=0)


def test_five_blinks_in_a_second_are_five_flashes() -> None:
    assert flashes([(blinking(5), 100)], 100) == 5 > MOST
    assert flashes([(blinking(5, first=7 * FLICKS), 100)], 100) == 5
    assert flashes([(blinking(20), 100)], 100) == 5


def test_a_quarter_of_the_area_counts_and_less_does_not() -> None:
    quiet: Line = ((0, 6),)
    assert flashes([(blinking(5), 25), (quiet, 75)], 100) == 5
    assert flashes([(blinking(5), 24), (quiet, 76)], 100) == 0


def test_a_flash_is_one_that_comes_back() -> None:
    assert flashes([((*blinking(4), (9 * TENTH, 0)), 100)], 100) == 4


def test_parts_that_go_dark_in_turn_flash_as_often_as_the_whole() -> None:
    """Four quarters, each dark once, one after another: four stretches in a second."""
    lines = [(((0, 6), (n * 2 * TENTH + 1, 0), (n * 2 * TENTH + TENTH, 6)), 25) for n in range(4)]
    assert counted(lines, 100) == 4
    assert flashes(lines, 100) == 4


STEPS = st.lists(
    st.tuples(st.integers(0, 30), st.sampled_from([0, 1, 2, 6])), min_size=1, max_size=12,
    unique_by=lambda step: step[0],
)  # fmt: skip


def _line(steps: list[tuple[int, int]]) -> Line:
    ordered = [(at * TENTH, q) for at, q in sorted(steps)]
    return ((0, ordered[0][1]), *ordered[1:])


@given(st.lists(st.tuples(STEPS.map(_line), st.integers(1, 40)), min_size=1, max_size=4))
def test_a_warning_is_given_exactly_when_it_is_due_against_enumeration(
    lines: list[tuple[Line, int]],
) -> None:
    area = sum(area for _, area in lines)
    found, wanted = flashes(lines, area), counted(lines, area)
    assert (found > MOST) == (wanted > MOST)
    if wanted > MOST:
        assert found == wanted


def test_a_flapping_trunk_that_flashes_is_told() -> None:
    rig = rig_of(main("single-feed"))
    for tenths, expected in ((2, 5), (5, 2), (3, 4)):
        flap = Fault("main/trunk-main-1", "flapping", 0, period=tenths * TENTH, off=TENTH)
        assert inject(rig, Script((flap,))).flashes == expected
    still = inject(rig, Script((Fault("main/trunk-main-1", "cut", 0),)))
    assert still.flashes == 0


def test_a_row_of_a_flapping_fault_knows_how_often_it_flashes_in_a_second() -> None:
    """A run that stops when the rig repeats itself holds only one turn of it."""
    lab = laboratory(main("single-feed"))
    flap = Fault("main/trunk-main-1", "flapping", 0, period=2 * TENTH, off=TENTH)
    outcome = lab.outcome(Strike("main/trunk-main-1", "flapping", (flap,), "trunk"))
    (row,) = rows([outcome], lab.canvas.area, lab.rig.length, lab.rig.timings)
    assert row.flashes == 5
