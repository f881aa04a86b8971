"""What the audience sees of one fault: a blink's frames and what lasts, against plain counting.

In: profiles written by hand, with 10 flicks to the frame and 100 pixels. Out: sights that agree
with counting frames at every phase; a real rig, where both stand apart.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.risk.bench import Alone
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling
from sim.risk.profile import Profile
from sim.risk.recovery import by_itself, recoveries, sight, single_points
from sim.risk.setting import setting
from sim.risk.sight import UNSEEN, Sight, ended, sight_of
from sim.scenario.loader import scenario_from

FRAME, WHOLE = 10, 100
NONE, ALL, HALF, TORN = (0, 0, 0), (100, 100, 100), (50, 50, 50), (0, 100, 0)
FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
MORE = """
together:
  - name: a dip of the hall
    mode: tripped
    things: [wall power, desk power]
    for: 2 s
    rate: 1 % per show
"""


def seen(*steps: tuple[int, tuple[int, ...]], repeat: tuple[int, int] | None = None) -> Sight:
    return sight_of(Profile(steps, steps[-1][0], repeat), WHOLE, FRAME)


def touched(spans: list[tuple[int, int]]) -> tuple[int, int]:
    """Least and most frames that these spans touch, by putting the fault at every phase."""
    counts = [
        len({flick // FRAME for a, b in spans for flick in range(phase + a, phase + b)})
        for phase in range(FRAME)
    ]
    return min(counts), max(counts)


@given(st.integers(0, 40), st.integers(1, 40), st.integers(1, 40), st.integers(1, 40))
def test_frames_of_a_blink_against_enumeration(a: int, one: int, gap: int, two: int) -> None:
    edges = [a, a + one, a + one + gap, a + one + gap + two]
    found = seen((0, NONE), (edges[0], ALL), (edges[1], NONE), (edges[2], HALF), (edges[3], NONE))
    assert found.frames == touched([(edges[0], edges[1]), (edges[2], edges[3])])
    assert (found.blink, found.blink_dark, found.lasting) == (1, True, False)
    assert found.time == edges[3] - edges[0]


def test_frames_of_other_spans_are_noticed() -> None:
    """That the check can fail: a span a frame longer is another number of frames."""
    assert touched([(0, 30)]) != touched([(0, 40)])
    assert seen((0, ALL), (30, NONE)).frames != touched([(0, 40)])


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        ([(0, NONE)], UNSEEN),
        ([(0, ALL)], Sight(dark=Fraction(1))),
        ([(0, TORN)], Sight(spoilt=Fraction(1))),
        ([(0, HALF), (5, (50, 75, 50))], Sight(Fraction(1, 2), Fraction(1, 4))),
        (
            [(0, ALL), (25, HALF)],
            Sight(Fraction(1, 2), blink=Fraction(1), blink_dark=True, frames=(3, 4), time=25),
        ),
        ([(0, HALF), (25, ALL)], Sight(Fraction(1))),
        ([(0, TORN), (25, NONE)], Sight(blink=Fraction(1), frames=(3, 4), time=25)),
    ],
)
def test_what_lasts_is_no_blink_and_a_blink_does_not_last(
    steps: list[tuple[int, tuple[int, ...]]], found: Sight
) -> None:
    assert seen(*steps) == found


def test_what_comes_and_goes_lasts_in_turns() -> None:
    found = seen((0, ALL), (10, NONE), (20, ALL), (30, NONE), repeat=(20, 40))
    assert (found.dark, found.turns, found.blink) == (1, True, 0)
    first = seen((0, ALL), (10, HALF), (20, NONE), (30, HALF), repeat=(20, 40))
    assert (first.dark, first.turns, first.blink, first.time) == (Fraction(1, 2), True, 1, 10)


def test_what_ends_of_itself_is_judged_after_its_end() -> None:
    """A cut of 100 flicks with a start of 30: dark for 130, then nothing lasts."""
    made = ended(Profile(((0, ALL),), 0), Profile(((0, ALL), (30, NONE)), 30), 100)
    found = sight_of(made, WHOLE, FRAME)
    assert (found.lasting, found.blink, found.time) == (False, 1, 130)
    assert found.frames == touched([(0, 130)])


# ---- on a real rig -------------------------------------------------------------------------------


@cache
def sampled() -> Sampling:
    scenario = scenario_from(FIRST.read_text(encoding="utf-8") + MORE, "first.yaml")
    of = setting(scenario, "panel", scenario.variants("panel"))
    return sample(Alone(of.fields, of.union), Effort(1, 1))


def sight_named(label: str, key: str) -> Sight:
    field = next(f for f in sampled().fields if f.label == label)
    numbers = [n for n, hazard in enumerate(field.scenes.hazards) if hazard.key == key]
    return sight(field, numbers[0])


def test_a_cut_trunk_blinks_with_a_backup_relay_and_lasts_without() -> None:
    keys = [h.key for h in sampled().fields[0].scenes.hazards if "trunk-main" in h.key]
    cut = next(key for key in keys if key.endswith("cut"))
    backed, bare = sight_named("relay-pair", cut), sight_named("single-feed", cut)
    assert (backed.lasting, backed.blink) == (False, 1)
    assert 0 < backed.frames[0] <= backed.frames[1] <= backed.frames[0] + 1
    assert (bare.dark, bare.blink) == (1, 0)


def test_a_dip_that_ends_is_no_single_point_but_has_the_longest_recovery() -> None:
    """All restarts after it; the source takes longest, and the wall is dark until it is back."""
    assert "wall power tripped" in single_points(sampled(), 0)
    assert not [name for name in single_points(sampled(), 0) if "dip" in name]
    name, lasts = recoveries(sampled(), 0)[0]
    field = sampled().fields[0]
    number = next(n for n, h in enumerate(field.scenes.hazards) if "dip" in h.key)
    made = by_itself(field, number)
    assert made is not None
    assert "dip" in name and lasts == made.steps[-1][0]
