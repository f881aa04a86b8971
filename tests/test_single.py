"""Single faults summed over all instants of a show, against many shows measured one by one.

In: step functions made by hypothesis, in shows of few flicks, with every step at an even flick.
Out: values equal to the mean over strikes at all odd flicks: all that is asked of a show is linear
in the strike time between two even flicks, so that the middle stands for all between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given

from sim.rig.terms import ClauseTerms, Contract, Step, Terms
from sim.risk.profile import Profile
from sim.risk.single import Single, already, single
from sim.risk.streams import Floats
from sim.risk.stretches import Gauge, measured, parts_of
from sim.risk.values import Value, table, values_of, wall_key
from tests.steps import Piece, counted, gauge_of, gauges, profiles, turning, written_out

STEPS = (Step(0, Fraction(1, 10)), Step(6, Fraction(1, 4)), Step(20, Fraction(1, 2)))
CONTRACT = Contract(
    "EUR", Decimal(1000), (ClauseTerms("any defect", "not lit", "group", Fraction(0), STEPS),)
)
TERMS = Terms(contract=CONTRACT, longest=(0, 4, 16))
FRAMES = 5
AREAS = (2, 3, 4)
"""Which values are areas by time; the fifth counts frames; all others are chances or losses."""


def values(gauge: Gauge) -> tuple[Value, ...]:
    return values_of(gauge, TERMS)


def found(made: Profile, gauge: Gauge) -> Single:
    return single(made, gauge, values(gauge), CONTRACT)


def doubled(made: Profile) -> Profile:
    """Every time twice as long, so that all steps are at even flicks."""
    steps = tuple((2 * at, areas) for at, areas in made.steps)
    repeat = made.repeat and (2 * made.repeat[0], 2 * made.repeat[1])
    return Profile(steps, 2 * made.settled, repeat)


def double(gauge: Gauge) -> Gauge:
    moments = tuple((2 * at, weight) for at, weight in gauge.moments)
    return Gauge(gauge.asked, 2 * gauge.frame, 2 * gauge.length, moments)


def mean_of(rows: Sequence[Sequence[float]], gauge: Gauge) -> Floats:
    made: Floats = table(np.array(rows), values(gauge), gauge, CONTRACT).mean(axis=0)
    return made


def over_all(made: Profile, gauge: Gauge) -> Floats:
    """Means over strikes at all odd flicks, each show counted flick by flick."""
    full = written_out(made, gauge.length)
    begins = range(1, gauge.length, 2)
    return mean_of([counted([[(at, full)]], gauge) for at in begins], gauge)


def alike(one: Sequence[float], other: Floats, runs: int, gauge: Gauge) -> None:
    """All but frames to the last bits; frames within half a frame of the whole show for each run
    of something dark, for the strikes before the first whole frame.
    """
    first, second = list(one), other.tolist()
    frames = first.pop(FRAMES), second.pop(FRAMES)
    assert first == pytest.approx(second, rel=1e-9, abs=1e-20)
    assert frames[0] == pytest.approx(frames[1], abs=runs * gauge.frame / gauge.length)


# ---- any time alike ------------------------------------------------------------------------------


@given(profiles(12), gauges(6))
def test_a_fault_over_all_strike_times_against_enumeration(made: Profile, gauge: Gauge) -> None:
    wide, slow = double(gauge), doubled(made)
    alike(found(slow, wide).means, over_all(slow, wide), len(made.steps), wide)


@given(turning(8), gauges(6))
def test_a_loose_contact_over_all_strike_times_against_enumeration(
    made: Profile, gauge: Gauge
) -> None:
    wide, slow = double(gauge), doubled(made)
    runs = len(made.steps) * (2 + wide.length // 2)
    alike(found(slow, wide).means, over_all(slow, wide), runs, wide)


@given(profiles(12), gauges(6))
def test_nights_are_all_shows_by_what_they_come_to(made: Profile, gauge: Gauge) -> None:
    """Their chances add up to one, and chances and losses are sums over them."""
    wide, slow = double(gauge), doubled(made)
    of = found(slow, wide)
    chances = np.array([chance for chance, _ in of.nights])
    assert chances.sum() == pytest.approx(1.0, rel=1e-12)
    summed = chances @ table(np.array([r for _, r in of.nights]), values(wide), wide, CONTRACT)
    exact = [n for n, _ in enumerate(summed) if n not in (*AREAS, FRAMES)]
    assert [of.means[n] for n in exact] == pytest.approx(summed[exact].tolist(), rel=1e-12)


# ---- by hand -------------------------------------------------------------------------------------

DARK = Profile(((0, (8, 8, 4, 4)),), 0)
LATE = Profile(((0, (0, 0, 0, 0)), (30, (4, 4, 0, 4)), (50, (0, 0, 0, 0))), 50)
"""The wall of four pixels, half of the group, dark from 30 to 50 flicks after the strike."""
SHOW = gauge_of(5, 40)
"""Two hundred flicks."""


def by_key(of: Single, gauge: Gauge) -> dict[str, float]:
    return {v.key: mean for v, mean in zip(values(gauge), of.means, strict=True)}


def test_dark_to_the_end_by_hand() -> None:
    """Dark for what is left: on average half of the show; over 16 flicks in 184 of 200 cases."""
    of = by_key(found(DARK, SHOW), SHOW)
    assert of["dark"] == of["defect"] == 1.0
    assert of[wall_key(16)] == pytest.approx(184 / 200, rel=1e-12)
    assert of["clause 1 step 3"] == pytest.approx(180 / 200, rel=1e-12)
    assert of["loss"] == pytest.approx((100 * 6 + 250 * 14 + 500 * 180) / 200, rel=1e-12)
    assert of["frames"] == pytest.approx(np.mean([40 - t // 5 for t in range(200)]), rel=1e-12)


def test_dark_for_a_while_by_hand() -> None:
    """It begins to be dark in 170 of 200 cases; then 20 flicks, fewer in the last 20 of them."""
    of = by_key(found(LATE, SHOW), SHOW)
    assert of["dark"] == pytest.approx(170 / 200, rel=1e-12)
    assert of[wall_key(4)] == pytest.approx(166 / 200, rel=1e-12)
    assert of[wall_key(16)] == pytest.approx(154 / 200, rel=1e-12)
    assert of["clause 1 step 3"] == 0.0
    dark = (150 * 20 + 20 * 10) / 200
    assert of["dark time"] * FLICKS_OF_THE_GROUP == pytest.approx(4 * dark, rel=1e-12)


FLICKS_OF_THE_GROUP = 8 * 705_600_000


def test_critical_moments_by_hand() -> None:
    """Dark to the end: the flick t is dark with chance t/200, and counts threefold from 100 on."""
    gauge = gauge_of(5, 40, ((0, 1.0), (100, 3.0), (150, 1.0)))
    of = by_key(found(DARK, gauge), gauge)
    expected = 8 * (200 / 2 + 2 * 50 * 125 / 200)
    assert of["critical"] * FLICKS_OF_THE_GROUP == pytest.approx(expected, rel=1e-12)


def test_a_dark_stretch_that_the_show_ends_has_half_a_frame_less_by_hand() -> None:
    """Every run touches its length in frames and one more; the end of the show is a frame's end."""
    frame, frames = 1000, 50
    gauge = gauge_of(frame, frames)
    blink = Profile(((0, (1, 1, 0, 0)), (frame // 4, (0, 0, 0, 0))), frame // 4)
    assert by_key(found(blink, gauge), gauge)["frames"] == pytest.approx(1.25, abs=0.01)
    assert by_key(found(DARK, gauge), gauge)["frames"] == pytest.approx(25.5, abs=0.01)
    twice = Profile((*blink.steps, (frame // 2, (1, 1, 0, 0)), (3 * frame // 4, (0, 0, 0, 0))), 750)
    assert by_key(found(twice, gauge), gauge)["frames"] == pytest.approx(1.75, abs=0.02)


# ---- there before the show -----------------------------------------------------------------------


@given(profiles(), gauges())
def test_what_was_there_before_goes_on_from_the_start(made: Profile, gauge: Gauge) -> None:
    of = already(made, gauge, values(gauge), CONTRACT)
    row = counted([[(0, made)]], gauge)
    assert list(of.means) == mean_of([row], gauge).tolist()
    assert of.nights == ((1.0, row),)


@given(turning(), gauges())
def test_a_loose_contact_from_before_goes_on_as_it_was(made: Profile, gauge: Gauge) -> None:
    of = already(made, gauge, values(gauge), CONTRACT)
    pieces: list[Piece] = [(0, made)]
    assert of.nights[0][1] == measured(parts_of(pieces, gauge), gauge)
    chances = [n for n, v in enumerate(values(gauge)) if n not in (*AREAS, FRAMES)]
    full = mean_of([counted([pieces], gauge)], gauge)
    assert [of.means[n] for n in chances] == full[chances].tolist()
