"""What lines mean: areas by state, lasting and ever, regions, the mean dark time of a fault.

In: small lines and small rigs. Out: against plain counting and exact integration.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import gcd

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.engine.run import run
from sim.engine.signal import cell_lines
from sim.faults import STATE_NAMES, Fault, Quality, Script
from sim.rig.topology import corner
from sim.rig.wall import Region
from sim.study.contingency import Laboratory
from sim.study.effects import LIT, STATES, Canvas, read, state_of
from sim.study.ledger import expected_dark, touched_by_drops
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import full_run, laboratory, lines_of, plan_for, rig_of
from tests.plans import FRAME, PIXELS, main

REGIONS = (
    Region("middle", "screen", 5, 5, 20, 10), Region("corner", "screen", 0, 0, 3, 3),
    Region("whole", "screen", 0, 0, 40, 30),
)  # fmt: skip


def test_states_are_those_of_the_qualities() -> None:
    assert [(*STATES, "lit")[state_of(q)] for q in Quality] == list(STATE_NAMES)
    assert state_of(LIT) == 5


def test_a_canvas_holds_every_pixel_once() -> None:
    rig = rig_of(main("relay-pair", regions=REGIONS))
    canvas = Canvas(rig, rig.groups["main"])
    assert canvas.area == canvas.walls["screen"] == 3 * 4 * PIXELS**2
    assert canvas.regions == {"middle": 200, "corner": 9, "whole": 1200}


@pytest.mark.parametrize("topology", ["single-feed", "relay-pair", "mirrored"])
def test_areas_of_every_strike_against_enumeration_of_cells(topology: str) -> None:
    regions = () if topology == "mirrored" else REGIONS
    lab = laboratory(plan_for(topology, regions=regions))
    of = lab.group
    for strike in strikes(lab.rig):
        trace = full_run(lab.rig, strike.faults)
        if trace.repeat:
            continue
        ever: Counter[tuple[str, int]] = Counter()
        last: Counter[tuple[str, int]] = Counter()
        touched = set()
        for number, line in lines_of(lab.rig, trace, of.name).items():
            cell = of.cells[number]
            wall = lab.rig.cabinets[cell.cabinet].wall
            ever[wall, state_of(min(q for _, q in line))] += cell.area
            last[wall, state_of(line[-1][1])] += cell.area
            if min(q for _, q in line) < LIT:
                touched |= {r.name for r in of.regions if _meets(r, cell)}
        effect = lab.effect(strike.faults, "typical")
        for wall in of.walls:
            assert effect.ever[wall] == tuple(ever[wall, s] for s in range(5)), strike.name
            assert effect.lasting[wall] == tuple(last[wall, s] for s in range(5)), strike.name
        assert set(effect.regions) == touched
        assert effect.lost() == sum(a for (_, s), a in last.items() if s < 5)


def _meets(region: Region, cell: object) -> bool:
    x, y, w, h = (getattr(cell, name) for name in "xywh")
    across = range(max(x, region.x), min(x + w, region.x + region.w))
    down = range(max(y, region.y), min(y + h, region.y + region.h))
    return bool(across) and bool(down)


LENGTH = 50
LINES = st.lists(
    st.tuples(st.integers(1, 60), st.integers(0, 6)), max_size=6, unique_by=lambda s: s[0]
).flatmap(lambda steps: st.integers(0, 6).map(lambda q: ((0, q), *sorted(steps))))


@given(LINES)
def test_mean_dark_time_of_a_fault_against_theory(line: tuple[tuple[int, int], ...]) -> None:
    """The closed form of the ledger, exact; the fault is uniform in the show."""
    exact = expected_dark(line, LENGTH)
    assert abs(read(line, FRAME, LENGTH).dark_time - float(exact)) < 1e-9


REPEATING = (LINES, st.integers(0, 12), st.integers(1, 20))


@given(*REPEATING)
def test_mean_dark_time_of_a_line_that_repeats_to_the_end_against_theory(
    line: tuple[tuple[int, int], ...], first: int, period: int
) -> None:
    """Whole turns from `first` to the end of the show."""
    turns = max(1, (LENGTH - first) // period)
    check_repeating(line, first, period, first + turns * period)


@given(*REPEATING)
def test_mean_dark_time_of_a_line_whose_last_turn_the_end_cuts_short_against_theory(
    line: tuple[tuple[int, int], ...], first: int, period: int
) -> None:
    check_repeating(line, first, period, LENGTH)


def check_repeating(
    line: tuple[tuple[int, int], ...], first: int, period: int, length: int
) -> None:
    """The same line written out to the end of the show."""
    second = first + period
    line = tuple(step for step in line if step[0] < second)
    part = [(at, q) for at, q in line if first < at]
    start = [q for at, q in line if at <= first][-1]
    whole = [step for step in line if step[0] <= first]
    for turn in range(length // period + 2):
        shift = turn * period
        if turn:
            whole.append((first + shift, start))
        whole += [(at + shift, q) for at, q in part]
    exact = expected_dark(whole, length)
    found = read(line, FRAME, length, (first, second)).dark_time
    assert abs(found - float(exact)) < 1e-9


def test_dark_time_of_a_flapping_trunk_against_a_run_without_shortcut() -> None:
    lab = laboratory(main("relay-pair"))
    for period in (FLICKS, 2 * FLICKS, 3 * FLICKS):
        fault = Fault("main/trunk-main-1", "flapping", 0, period=period, off=period // 2)
        effect = lab.effect([fault], "typical")
        assert effect.repeat
        trace = run(lab.rig, Script((fault,)), corner(lab.rig, "typical"), lab.rig.length)
        exact = sum(
            expected_dark(line, lab.rig.length) * lab.group.cells[number].area
            for (_, number), line in cell_lines(lab.rig, trace).items()
        )
        assert abs(effect.dark_time / float(exact) - 1) < 1e-12


def test_dark_time_is_area_times_half_the_show_for_what_lasts() -> None:
    """A fault uniform in the show that darkens everything to its end: on average for half of it."""
    lab = laboratory(main("single-feed"))
    effect = lab.effect([Fault("main/trunk-main-1", "cut", 0)], "typical")
    assert effect.dark_time == lab.canvas.area * Fraction(lab.rig.length, 2)


def test_the_worst_cell_is_the_one_that_loses_most_frames() -> None:
    lab = laboratory(main("single-feed", regions=REGIONS))
    both = [
        Fault("main/chain-1/head", "cut", 0, 2 * FRAME),
        Fault("main/r1c2/receiver", "blanked", 0, 7 * FRAME),
    ]
    worst = lab.effect(both, "typical").worst
    assert worst is not None and (worst.least.dark, worst.most.dark) == (7, 8)


@pytest.mark.parametrize(("rate", "lost"), [("50", 1), ("50", 2), ("25", 1), ("30", 3), ("100", 1)])
def test_a_sources_lost_frames_are_counted_over_both_grids_as_the_engine_shows_them(
    rate: str, lost: int
) -> None:
    """Engine runs at instants all over the common period of both grids, frames counted on the
    wall's grid, against the least and most that the effect says.
    """
    own = FLICKS // int(rate)
    plan = main("single-feed", 1, 1)
    rig = rig_of(replace(plan, sources=tuple(replace(s, frame=own) for s in plan.sources)))
    common = own * FRAME // gcd(own, FRAME)
    step = gcd(own, FRAME) // 4
    seen = set()
    for at in range(0, common, step):
        trace = full_run(rig, [Fault("cam", "drops", at, frames=lost)])
        out = {
            frame
            for line in lines_of(rig, trace, "main").values()
            for (a, q), (b, _) in pairwise([*line, (rig.length, 6)])
            if q < 6
            for frame in range(a // FRAME, -(-b // FRAME))
        }
        seen.add(len(out))
    worst = Laboratory(rig, "main").effect([Fault("cam", "drops", 0, frames=lost)], "typical").worst
    assert worst is not None
    assert worst.lost == (min(seen), max(seen))
    assert worst.lost == touched_by_drops(FRAME, own, lost)
