"""Intervals and frame counts, against sets, brute force over all phases, and published formulas."""

from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.faults import STATE_NAMES
from sim.intervals import Intervals, intervals
from sim.study.ledger import (
    Frames,
    expected_dark,
    frames_by_state,
    frames_in_states,
    outage_by_loss,
    outage_by_stamps,
    over_phase,
    over_phase_together,
    reversion_time,
    touched,
    touched_by_drops,
    worst_line,
)
from sim.timebase import FLICKS, parse_time, rate

SIXTY = rate("60")
F60 = SIXTY.frame
spans = st.lists(st.tuples(st.integers(-20, 20), st.integers(-20, 20)), max_size=6)
qualities = st.integers(0, 6)
gaps = st.lists(st.tuples(st.integers(1, 25), qualities), max_size=6)
frame_lengths = st.integers(1, 12)


@st.composite
def lines(draw):
    line, at = [(0, draw(qualities))], 0
    for gap, quality in draw(gaps):
        at += gap
        line.append((at, quality))
    return line


def numbers(pairs):
    return {n for start, end in pairs for n in range(start, end)}


# Intervals against Python's set


@given(spans)
def test_a_union_against_set(pairs):
    made = intervals(pairs)
    assert numbers(made) == numbers(pairs)
    assert made.total == len(numbers(pairs))
    assert all(a < b for a, b in made)
    assert all(one[1] < two[0] for one, two in zip(made.spans, made.spans[1:], strict=False))


@given(spans, spans)
def test_operations_against_set(one, other):
    left, right = intervals(one), intervals(other)
    assert numbers(left | right) == numbers(one) | numbers(other)
    assert numbers(left & right) == numbers(one) & numbers(other)
    assert numbers(left - right) == numbers(one) - numbers(other)
    for made in (left | right, left & right, left - right):
        assert made == intervals(made.spans)


@given(spans, st.integers(-25, 25))
def test_membership_against_set(pairs, number):
    assert (number in intervals(pairs)) == (number in numbers(pairs))
    assert bool(intervals(pairs)) == bool(numbers(pairs))


# One run


def quality_at(line, instant, before=6):
    return next((q for start, q in reversed(line) if start <= instant), before)


def slow_state(line, k, frame, shift=0, before=6):
    """The state of frame k, flick by flick."""
    flicks = range(k * frame - shift, (k + 1) * frame - shift)
    return STATE_NAMES[min(quality_at(line, t, before) for t in flicks)]


def slow_counts(states):
    found = list(states)
    return Frames(**{name: found.count(name) for name in Frames._fields})


@given(lines(), frame_lengths, st.integers(0, 150))
def test_frames_by_state_against_every_flick(line, frame, length):
    expected = slow_counts(slow_state(line, k, frame) for k in range(length // frame))
    assert frames_by_state(line, frame, length) == expected


@given(lines(), frame_lengths, st.integers(0, 150))
def test_numbers_of_frames_against_every_flick(line, frame, length):
    made = frames_in_states(line, frame, length)
    for k in range(length // frame):
        inside = [name for name, held in zip(Frames._fields, made, strict=True) if k in held]
        assert inside == [slow_state(line, k, frame)]
    assert sum(held.total for held in made) == length // frame


def test_what_is_left_of_the_last_frame_does_not_count():
    assert frames_by_state([(0, 6), (25, 0)], 10, 29) == Frames(lit=2)
    assert frames_by_state([(0, 6), (25, 0)], 10, 30) == Frames(dark=1, lit=2)


def test_absent_and_black_are_both_dark_and_a_frame_counts_once():
    assert frames_by_state([(0, 0), (3, 1), (6, 4), (7, 6)], 10, 20) == Frames(dark=1, lit=1)


@given(st.integers(0, 60), st.integers(0, 60), frame_lengths)
def test_touched_against_every_flick(start, end, frame):
    assert touched(start, end, frame) == len({t // frame for t in range(start, end)})


@given(st.lists(lines(), min_size=1, max_size=4), st.integers(0, 200))
def test_the_worst_line_against_every_flick(many, instant):
    assert quality_at(worst_line(many), instant) == min(quality_at(li, instant) for li in many)


# Over all phases


def changes(line, before):
    """The instants at which the quality changes."""
    return [t for t, q in line if q != quality_at(line, t - 1, before)]


def slow_phase(line, frame, shift, before):
    """Frames that touch the time from the first change to the last, flick by flick."""
    at = changes(line, before)
    window = sorted({(t + shift) // frame for t in range(at[0], at[-1])}) if at else []
    return slow_counts(slow_state(line, k, frame, shift, before) for k in window)


def check_phases(count, every):
    columns = list(zip(*every, strict=True))
    assert count.least == Frames(*map(min, columns))
    assert count.most == Frames(*map(max, columns))
    assert list(count.mean) == [Fraction(sum(c), len(c)) for c in columns]


@settings(deadline=None)
@given(lines(), frame_lengths, qualities)
def test_over_phase_against_every_phase(line, frame, before):
    every = [slow_phase(line, frame, shift, before) for shift in range(frame)]
    check_phases(over_phase(line, frame, before), every)


@settings(deadline=None)
@given(lines(), frame_lengths, qualities)
def test_all_states_add_up_to_the_frames_touched(line, frame, before):
    at = changes(line, before)
    ends = (at[0], at[-1]) if at else (0, 0)
    every = [touched(ends[0] + p, ends[1] + p, frame) for p in range(frame)]
    assert sum(over_phase(line, frame, before).mean) == Fraction(sum(every), frame)


@given(lines(), frame_lengths, st.integers(1, 40))
def test_waiting_before_a_fault_changes_no_count(line, frame, later):
    moved = [(0, 6), *((start + later, quality) for start, quality in line)]
    assert over_phase(moved, frame) == over_phase(line, frame)


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5), lines(), qualities), min_size=1, max_size=4),
       frame_lengths)  # fmt: skip
def test_several_lines_against_every_phase(many, frame):
    pairs = [(weight, line) for weight, line, _ in many]
    before = [q for _, _, q in many]
    made = over_phase_together(pairs, frame, before)
    totals = []
    for p in range(frame):
        each = [(weight, slow_phase(line, frame, p, b)) for weight, line, b in many]
        totals.append([sum(w * counts[i] for w, counts in each) for i in range(6)])
    check_phases(made.total, totals)
    worst = [(t, min(quality_at(li, t, b) for _, li, b in many)) for t in range(200)]
    check_phases(made.anywhere, [slow_phase(worst, frame, p, min(before)) for p in range(frame)])


def test_a_frame_in_which_several_are_dark_is_dark_once_anywhere():
    two = [(3, [(0, 0), (5, 6)]), (1, [(0, 6), (5, 0), (10, 6)])]
    made = over_phase_together(two, 10)
    assert (made.total.least.dark, made.total.most.dark) == (4, 7)
    assert (made.anywhere.least.dark, made.anywhere.most.dark) == (1, 2)
    assert made.total.mean.dark == 3 * Fraction(14, 10) + Fraction(14, 10)


def test_no_lines_cost_nothing():
    made = over_phase_together([], 10)
    assert made.total.most == made.anywhere.most == Frames()


def test_a_line_without_a_state_before_it_is_refused():
    with pytest.raises(ValueError, match="zip"):
        over_phase_together([(1, [(0, 0)]), (1, [(0, 0)])], 10, before=[6])


def test_a_line_without_a_beginning_is_refused_rather_than_lit():
    with pytest.raises(ValueError, match="zip"):
        frames_by_state([], 10, 100)


def test_what_only_settles_has_no_number_of_frames():
    assert over_phase([(0, 0)], 10).most == Frames()
    assert over_phase([(0, 6)], 10).most == Frames()


def test_many_flaps_are_counted_quickly_and_exactly():
    """Half of each second off, at 59.94: every break point is looked at, none of the flicks."""
    frame, half = rate("59.94").frame, FLICKS // 2
    line = [(n * half, 6 * (n % 2)) for n in range(2 * 3600)]
    count = over_phase(line, frame)
    assert count.mean.dark == 3600 * Fraction(half + frame - 1, frame)
    assert count.least.dark <= count.mean.dark <= count.most.dark


# Against published formulas


# Source: renewal argument (exact): mean T f + 1, least ceil(T f), most ceil(T f) + 1; whole T f:
# T f or T f + 1. Over the F flicks of a frame the mean is less by one flick: (d + F - 1) / F.
@pytest.mark.parametrize(
    "text", ["50 ms", "200 ms", "300 ms", "750 ms", "1 us", "2.5 frames", "1 s", "16.7 ms"]
)
@pytest.mark.parametrize("called", ["60", "59.94", "24"])
def test_an_outage_of_random_phase_against_theory(text, called):
    r = rate(called)
    outage, frame = parse_time(text, r), r.frame
    count = over_phase([(0, 0), (outage, 6)], frame)
    times = Fraction(outage, frame)
    assert (count.least.dark, count.most.dark) == (ceil(times), floor(times) + 1 + (times % 1 > 0))
    assert count.mean.dark == Fraction(outage + frame - 1, frame)
    assert times + 1 - count.mean.dark == Fraction(1, frame)


# Source: exact arithmetic (time x rate).
@pytest.mark.parametrize(
    ("text", "whole"), [("50 ms", 3), ("200 ms", 12), ("300 ms", 18), ("750 ms", 45)]
)
def test_whole_frame_times_at_60_hz(text, whole):
    outage = parse_time(text, SIXTY)
    count = over_phase([(0, 0), (outage, 6)], F60)
    assert (count.least.dark, count.most.dark) == (whole, whole + 1)
    assert frames_by_state([(0, 0), (outage, 6)], F60, FLICKS) == Frames(dark=whole, lit=60 - whole)


def test_waits_of_two_frames_and_a_switch_of_half_a_frame():
    """Three to four frames, 3.5 on average; a picture kept for one frame makes one frozen."""
    end = parse_time("2.5 frames", SIXTY)
    dark = over_phase([(0, 0), (end, 6)], F60)
    assert (dark.least.dark, dark.most.dark) == (3, 4)
    assert abs(dark.mean.dark - Fraction(7, 2)) < Fraction(1, 10**6)
    kept = over_phase([(0, 4), (F60, 0), (end, 6)], F60)
    assert (kept.least.frozen, kept.most.frozen) == (1, 1)
    assert (kept.least.dark, kept.most.dark) == (2, 3)


@pytest.mark.parametrize(("lost", "text"), [(3, "50 ms"), (30, "500 ms")])
def test_failover_time_from_frames_lost_against_published(lost, text):
    """Source: RFC 6414 sec. 3.6.2 (loss-derived method): lost / rate, at 60 Hz."""
    line = [(0, 6), (FLICKS, 0), (FLICKS + lost * F60, 6)]
    gone = frames_in_states(line, F60, 3 * FLICKS)[0]
    assert outage_by_loss(gone, F60) == parse_time(text, SIXTY)


@pytest.mark.parametrize("lost", [1, 3, 30])
@pytest.mark.parametrize("called", ["60", "59.94"])
def test_failover_time_from_time_stamps_against_published(lost, called):
    """Source: RFC 6414 sec. 3.6.1: on a regular stream one period more than from frames lost."""
    frame = rate(called).frame
    line = [(0, 6), (100 * frame + 7, 0), ((99 + lost) * frame + 8, 6)]
    gone = frames_in_states(line, frame, 200 * frame)[0]
    assert gone.total == lost
    good = [k for k in range(200) if k not in gone]
    first, last = min(k for k in good if k > 100), max(k for k in good if k < 100)
    assert outage_by_stamps(gone, frame) == (first - last) * frame
    assert outage_by_stamps(gone, frame) - outage_by_loss(gone, frame) == frame


def test_no_outage_takes_no_time():
    assert outage_by_stamps(Intervals(), F60) == outage_by_loss(Intervals(), F60) == 0


def test_reversion_time_against_published():
    """Source: RFC 6414: time of reversion minus time of restoration."""
    restored, wait, switch = 60 * FLICKS, 300 * FLICKS, F60 // 2
    back = restored + wait
    line = [(0, 6), (FLICKS, 0), (FLICKS + 3 * F60, 6), (back, 0), (back + switch, 6)]
    assert reversion_time(line, restored) == wait + switch
    assert reversion_time(line[:3], restored) == 0
    assert reversion_time([*line, (back + 2 * FLICKS, 6)], restored) == wait + switch


# Dark time of a fault at random in the show


@given(lines(), st.integers(1, 60))
def test_expected_dark_against_the_sum_over_strikes(line, length):
    """The dark time left is linear between whole flicks, so the middles give the exact mean."""
    total = Fraction(0)
    for left in range(length):
        dark = sum(quality_at(line, t) <= 1 for t in range(left))
        total += dark + Fraction(1, 2) * (quality_at(line, left) <= 1)
    assert expected_dark(line, length) == total / length


def test_a_fault_that_stays_dark_costs_half_the_show():
    assert expected_dark([(0, 0)], 3 * 3600 * FLICKS) == 3 * 1800 * FLICKS


@given(st.integers(0, 50), st.integers(1, 50), st.integers(1, 80))
def test_one_outage_against_the_formula(a, d, length):
    """Source: exact integral of max(0, min(b, s) - a) over s in (0, length)."""
    b = min(a + d, length)
    expected = Fraction((b - a) ** 2, 2) + (length - b) * (b - a) if a < length else 0
    assert expected_dark([(0, 6), (a, 0), (a + d, 6)] if a else [(0, 0), (d, 6)], length) == (
        Fraction(expected) / length
    )


def test_the_mean_of_a_show_without_dark_is_exact_too():
    assert isinstance(expected_dark([(0, 6)], 100), Fraction)
    assert expected_dark([(0, 6)], 100) == 0


def test_expected_time_of_other_states():
    line = [(0, 4), (10, 6)]
    assert expected_dark(line, 20) == 0
    assert expected_dark(line, 20, at_most=4) == Fraction(10 * 10, 2 * 20) + Fraction(10 * 10, 20)


@given(frame=st.integers(1, 24), source=st.integers(1, 24), lost=st.integers(1, 5))
def test_a_sources_lost_frames_against_every_instant_of_both_grids(frame, source, lost):
    """From its instant until the last of the lost frames of the source has ended, on the source's
    grid; counted on the wall's grid; both begin with the show.
    """
    counts = []
    for at in range(frame * source):
        end = (at // source + lost) * source
        counts.append(sum(k * frame < end and (k + 1) * frame > at for k in range(end + 1)))
    assert touched_by_drops(frame, source, lost) == (min(counts), max(counts))


def test_one_lost_frame_of_a_50_hz_source_on_a_wall_at_59_94():
    """Worked out by hand: the rest of one source frame of 20 ms lies in 1 or 2 frames of 16.68 ms,
    or in 3 where it begins just before one wall frame ends and ends just after another begins.
    """
    assert touched_by_drops(rate("59.94").frame, rate("50").frame, 1) == (1, 3)
    assert touched_by_drops(F60, F60, 1) == (1, 1)
    assert touched_by_drops(F60, 2 * F60, 1) == (1, 2)
