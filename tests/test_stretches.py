"""What a show comes to, against a plain count of every flick and frame (`tests.steps`).

In: step functions made by hypothesis, in shows of few flicks. Out: rows equal to the count, for
one part of a show and for several; what repeats itself equal to the same written out in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sim.risk.profile import Profile
from sim.risk.stretches import (
    ANY_DARK,
    DARK_TIME,
    DEFECTIVE,
    FRAMES,
    LONGEST,
    MOVING_DARK,
    WEIGHTED,
    Gauge,
    Part,
    Row,
    added,
    measured,
    moments,
    parts_of,
)
from tests.steps import (
    CHANNELS,
    Piece,
    areas_at,
    counted,
    gauge_of,
    gauges,
    laid_out,
    profiles,
    stories,
    turning,
    written_out,
)


def row_of(groups: Sequence[Sequence[Piece]], gauge: Gauge) -> Row:
    return measured(added([parts_of(group, gauge) for group in groups]), gauge)


# ---- one part of a show --------------------------------------------------------------------------


@given(st.data(), gauges())
def test_a_row_against_enumeration(data: st.DataObject, gauge: Gauge) -> None:
    pieces = data.draw(stories(profiles(), gauge.length))
    assert row_of([pieces], gauge) == counted([pieces], gauge)


@given(st.data(), gauges())
def test_several_unrelated_parts_against_enumeration(data: st.DataObject, gauge: Gauge) -> None:
    """Areas add up, frames and stretches are those of all together."""
    groups = data.draw(st.lists(stories(profiles(), gauge.length), min_size=2, max_size=4))
    assert row_of(groups, gauge) == counted(groups, gauge)


BLINK = Profile(((0, (2, 2, 0, 0)), (3, (0, 0, 0, 0))), 3)
WRONG_WAYS = {
    "an area": Profile(((0, (1, 2, 0, 0)), (3, (0, 0, 0, 0))), 3),
    "a flick longer": Profile(((0, (2, 2, 0, 0)), (4, (0, 0, 0, 0))), 4),
    "what moves": Profile(((0, (2, 2, 1, 0)), (3, (0, 0, 0, 0))), 3),
    "no defect": Profile(((0, (2, 0, 0, 0)), (3, (0, 0, 0, 0))), 3),
}


@pytest.mark.parametrize("wrong", WRONG_WAYS)
def test_the_count_tells_small_differences(wrong: str) -> None:
    gauge = gauge_of(4, 10)
    assert row_of([[(6, BLINK)]], gauge) == counted([[(6, BLINK)]], gauge)
    assert row_of([[(6, WRONG_WAYS[wrong])]], gauge) != counted([[(6, BLINK)]], gauge)


def test_a_blink_by_hand() -> None:
    """From flick 6 to 9 over two pixels, frames of four: it touches frames 1 and 2."""
    gauge = gauge_of(4, 10, ((0, 1.0), (8, 3.0)))
    row = row_of([[(6, BLINK)]], gauge)
    assert row == (1.0, 1.0, 6.0, 2 * (2 * 1.0 + 1 * 3.0), 0.0, 2.0, 3.0, 3.0, 0.0, 3.0)


def test_a_frame_with_two_blinks_counts_once() -> None:
    """Flicks 4, 6 and 9: frames 1 and 2, whether one part of the show or three."""
    one = Profile(((0, (1, 1, 0, 0)), (1, (0, 0, 0, 0))), 1)
    gauge = gauge_of(4, 5)
    apart = [[(4, one)], [(6, one)], [(9, one)]]
    together = [[(4, one), (6, one), (9, one)]]
    assert row_of(apart, gauge)[FRAMES] == row_of(together, gauge)[FRAMES] == 2.0


# ---- parts ---------------------------------------------------------------------------------------


def areas_of(parts: Sequence[Part], t: int) -> tuple[int, ...]:
    (found,) = [p.low for p in parts if p.begin <= t < p.end] or [(0,) * CHANNELS]
    return found


@given(st.data(), gauges(8))
def test_added_parts_are_sums_against_enumeration(data: st.DataObject, gauge: Gauge) -> None:
    groups = data.draw(st.lists(stories(profiles(), gauge.length), max_size=4))
    parts = added([parts_of(group, gauge) for group in groups])
    shown = [areas_of(parts, t) for t in range(gauge.length)]
    assert shown == laid_out(groups, gauge)
    assert all(p.begin < p.end and p.mean == p.low for p in parts)
    assert all(one.end <= other.begin for one, other in pairwise(parts))


@given(st.data(), gauges(8))
def test_the_order_of_unrelated_parts_does_not_matter(data: st.DataObject, gauge: Gauge) -> None:
    groups = data.draw(st.lists(stories(profiles(), gauge.length), min_size=2, max_size=3))
    assert row_of(groups, gauge) == row_of(groups[::-1], gauge)


# ---- moments -------------------------------------------------------------------------------------

SPANS = st.tuples(st.integers(0, 30), st.integers(1, 10), st.sampled_from([0.5, 1.0, 2.0, 8.0]))


@given(st.lists(SPANS, max_size=4), st.integers(0, 45), st.integers(0, 45))
def test_weights_of_moments_against_enumeration(
    spans: list[tuple[int, int, float]], one: int, other: int
) -> None:
    """Where moments overlap the greater weight counts; outside them one."""
    weights = [(begin, begin + long, weight) for begin, long, weight in spans]
    gauge = replace(gauge_of(1, 45), moments=moments(weights))
    begin, end = sorted((one, other))
    each = [max([w for b, e, w in weights if b <= t < e], default=1.0) for t in range(begin, end)]
    assert gauge.weight(begin, end) == sum(each)


def test_overlapping_moments_by_hand() -> None:
    assert moments(()) == ((0, 1.0),)
    assert moments(((5, 9, 2.0), (7, 12, 4.0))) == (
        (0, 1.0),
        (5, 2.0),
        (7, 4.0),
        (9, 4.0),
        (12, 1.0),
    )


# ---- what repeats itself -------------------------------------------------------------------------

EXACT = (DEFECTIVE, ANY_DARK, *range(LONGEST, LONGEST + 4))


@given(st.data(), gauges(40))
def test_what_repeats_itself_is_as_written_out(data: st.DataObject, gauge: Gauge) -> None:
    """Chances and longest stretches exactly, areas but for the last bits."""
    plain = replace(gauge, moments=((0, 1.0),))
    pieces = data.draw(stories(turning(), gauge.length))
    row, full = row_of([pieces], plain), counted([pieces], plain)
    assert [row[n] for n in EXACT] == [full[n] for n in EXACT]
    for number in (DARK_TIME, WEIGHTED, MOVING_DARK):
        assert row[number] == pytest.approx(full[number], rel=1e-12, abs=1e-9)
    again = row_of([[(at, written_out(made, 4 * gauge.length)) for at, made in pieces]], plain)
    if min(at for at, _ in pieces) >= 0:
        assert again == full


ACROSS = Profile(
    ((0, (0, 0, 0, 0)), (1, (2, 2, 0, 0)), (3, (0, 0, 0, 0)), (7, (2, 2, 0, 0))), 0, (0, 9)
)


@pytest.mark.parametrize("length", range(40, 70))
def test_a_stretch_across_two_turns_is_seen_wherever_the_show_ends(length: int) -> None:
    """Dark in flicks 1, 2, 7 and 8 of every nine; two in one go, whatever is left at the end."""
    across = replace(ACROSS, steps=((0, (2, 2, 0, 0)), (3, (0, 0, 0, 0)), (7, (2, 2, 0, 0))))
    gauge = gauge_of(1, length)
    for made in (ACROSS, across):
        assert row_of([[(0, made)]], gauge)[LONGEST] == counted([[(0, made)]], gauge)[LONGEST]


FLAP = Profile(((0, (4, 4, 0, 4)), (30, (0, 0, 0, 0))), 0, (0, 60))
BROKEN = Profile(((0, (4, 4, 0, 4)), (9, (2, 2, 0, 2)), (30, (0, 0, 0, 0))), 0, (0, 60))
QUICK = Profile(((0, (4, 4, 0, 4)), (2, (0, 0, 0, 0)), (4, (1, 1, 0, 0))), 0, (0, 31))
FIRST_LIT = Profile(((0, (0, 0, 0, 0)), (50, (4, 4, 0, 4)), (57, (0, 0, 0, 0))), 40, (40, 90))


@pytest.mark.parametrize("made", [FLAP, BROKEN, QUICK, FIRST_LIT])
def test_frames_of_what_repeats_itself_are_right_over_all_phases(made: Profile) -> None:
    """The mean over the phase of the first frame, within a frame of 300 at either end."""
    gauge = gauge_of(7, 300)
    shifts = range(0, 7 * 60, 1)
    rows = [row_of([[(at, made)]], gauge)[FRAMES] for at in shifts]
    full = [counted_frames(at, made, gauge) for at in shifts]
    assert sum(rows) / len(rows) == pytest.approx(sum(full) / len(full), abs=1.0)


def counted_frames(at: int, made: Profile, gauge: Gauge) -> int:
    pieces = [(at, written_out(made, gauge.length))]
    return len({t // gauge.frame for t in range(gauge.length) if areas_at(pieces, t)[0]})


@given(turning(), st.integers(-500, 100), gauges(60))
@example(Profile(((0, (1, 1, 0, 0)),), 0, (0, 1)), -17, gauge_of(1, 60))
def test_every_part_of_what_repeats_itself_has_areas(made: Profile, at: int, gauge: Gauge) -> None:
    parts = parts_of([(at, made)], gauge)
    assert all(len(p.mean) == len(p.low) == CHANNELS and 0 <= p.share <= 1 for p in parts)
    assert sum(p.end - p.begin for p in parts) == gauge.length - min(max(at, 0), gauge.length)
