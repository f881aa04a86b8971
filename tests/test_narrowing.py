"""Ranges narrowed by counts never lose what is true, and are exact where the sum is plain."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from sim.practice.narrowing import Count, Values, lasted, narrow
from sim.timebase import FLICKS, Timing

FRAME = FLICKS // 50
MS = FLICKS // 1000


def total(values: Values) -> int:
    """What a changeover costs: notice and switch, less what the last picture covers."""
    return max(0, values["detect"] + values["switch"] - values["keeps"])


def box(
    detect: tuple[int, int], switch: tuple[int, int], keeps: tuple[int, int]
) -> dict[str, Timing]:
    def timing(ends: tuple[int, int], shelters: bool = False) -> Timing:
        return Timing(ends[0] * MS, sum(ends) * MS // 2, ends[1] * MS, "guess", "", shelters)

    return {"detect": timing(detect), "switch": timing(switch), "keeps": timing(keeps, True)}


def shown(begin: int, length: int) -> tuple[int, int]:
    """The frames of the wall that an outage touches, counted one by one."""
    touched = [
        k for k in range((begin + length) // FRAME + 2)
        if max(begin, k * FRAME) < min(begin + length, (k + 1) * FRAME)
    ]  # fmt: skip
    return (touched[0] * FRAME, (touched[-1] + 1) * FRAME) if touched else (0, 0)


def filmed(begin: int, length: int, rate: Fraction, phase: Fraction) -> int:
    """The frames of a camera, one instant each, on which the wall is dark."""
    dark, light = shown(begin, length)
    step = FLICKS / rate
    count, number = 0, 0
    while (at := (phase + number) * step) < light:
        count += at >= dark
        number += 1
    return count


RANGE = st.tuples(st.integers(0, 400), st.integers(0, 400)).map(lambda p: (min(p), max(p)))


@settings(max_examples=200, deadline=None)
@given(RANGE, RANGE, RANGE, st.data())
def test_what_is_true_is_never_left_out(
    detect: tuple[int, int], switch: tuple[int, int], keeps: tuple[int, int], data: st.DataObject
) -> None:
    ranges = box(detect, switch, keeps)
    truth = {k: data.draw(st.integers(t.least, t.most)) for k, t in ranges.items()}
    rate = Fraction(data.draw(st.sampled_from([25, 50, 60, 120, 240])))
    begin = data.draw(st.integers(0, FRAME - 1))
    phase = Fraction(data.draw(st.integers(0, 999)), 1000)
    frames = filmed(begin, total(truth), rate, phase)
    made = narrow(ranges, [Count("step", frames, rate, 1, total, tuple(ranges))], FRAME)
    assert not made.clashes and not made.unused
    for key, timing in made.box.items():
        assert timing.least <= truth[key] <= timing.most
        assert ranges[key].least <= timing.least <= timing.most <= ranges[key].most


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 200), st.integers(1, 200)), min_size=1, max_size=4),
    st.sampled_from([25, 50, 60, 120, 240]),
    st.integers(0, FRAME - 1),
    st.integers(0, 999),
)
def test_what_comes_several_times_lasted_within_the_bounds(
    parts: list[tuple[int, int]], rate: int, begin: int, phase: int
) -> None:
    spans, at = [], begin
    for gap, length in parts:
        at += gap * MS
        spans.append((at, at + length * MS))
        at += length * MS
    touched = {k for a, b in spans for k in range(a // FRAME, -(-b // FRAME))}
    step = Fraction(FLICKS, rate)
    instants = (step * (Fraction(phase, 1000) + number) for number in range(int(at // step) + 9))
    frames = sum(int(instant // FRAME) in touched for instant in instants)
    least, most = lasted(frames, Fraction(rate), len(parts), FRAME)
    assert least <= sum(b - a for a, b in spans) <= most


def test_frames_become_times_as_by_hand() -> None:
    # 10 frames at 50: shown for more than 9 and less than 11 frames of the wall, so for 10; it
    # lasted more than 8 and at most 10 frames (touched frames: RFC 6414 sec. 3.6.2 and the phase).
    assert lasted(10, Fraction(50), 1, FRAME) == (8 * FRAME + 1, 10 * FRAME)
    # 7 frames at 25: more than 6 and less than 8 of its frames are 13, 14 or 15 of the wall's.
    assert lasted(7, Fraction(25), 1, FRAME) == (11 * FRAME + 1, 15 * FRAME)
    # None at 25: less than 2 of the wall's frames, so 1 at most.
    assert lasted(0, Fraction(25), 1, FRAME) == (0, FRAME)


def test_a_plain_sum_is_narrowed_as_by_hand() -> None:
    ranges = box((20, 2000), (10, 30), (0, 0))
    made = narrow(ranges, [Count("one", 10, Fraction(50), 1, total, tuple(ranges))], FRAME)
    detect = made.box["detect"]
    assert detect.least == 8 * FRAME + 1 - 30 * MS
    assert detect.most == 10 * FRAME - 10 * MS
    assert made.by == {"detect": ("one",)}
    assert made.box["switch"] == ranges["switch"]


def test_a_count_beyond_the_model_clashes_and_leaves_the_range() -> None:
    ranges = box((20, 40), (0, 0), (0, 0))
    made = narrow(ranges, [Count("one", 10, Fraction(50), 1, total, tuple(ranges))], FRAME)
    assert made.box == ranges
    assert [clash.labels for clash in made.clashes] == [("one",)]


def test_two_counts_that_contradict_each_other_both_narrow_nothing() -> None:
    ranges = box((20, 2000), (0, 0), (0, 0))
    counts = [Count(n, f, Fraction(50), 1, total, tuple(ranges)) for n, f in (("a", 10), ("b", 40))]
    made = narrow(ranges, counts, FRAME)
    assert made.box == ranges
    assert [set(clash.labels) for clash in made.clashes] == [{"a", "b"}]


def test_a_cost_that_falls_where_it_must_rise_is_not_used() -> None:
    ranges = box((20, 2000), (100, 100), (0, 0))

    def restart(values: Values) -> int:
        """A unit that is back after half a second: who is slower than that never leaves it."""
        quick = values["detect"] < FLICKS // 2
        return values["detect"] + values["switch"] if quick else FLICKS // 2

    made = narrow(ranges, [Count("one", 10, Fraction(50), 1, restart, tuple(ranges))], FRAME)
    assert made.unused == ("one",)
    assert made.box == ranges
