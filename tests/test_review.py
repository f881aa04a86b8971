"""What an act brought, how long things took: against counts by hand, and against doing nothing.

In: drills on small rigs. Out: reviews. Times of `tests.plans`: a relay starts in 5 s.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from sim.faults import Fault
from sim.practice.acts import Act
from sim.practice.outcome import loss
from sim.practice.review import Review, review
from sim.rig.topology import Rig
from sim.study.ledger import Line
from sim.timebase import FLICKS
from tests.labs import full_run, long, pixels_of, rig_of
from tests.test_drill import CROSSED, MINUTE, RELAYED, STUCK, plan_of

SECOND = FLICKS
WAIT = Act("wait", time=30 * SECOND)
SWAP = Act("swap", "main/relay-main")


def unlit_by_hand(line: Line, until: int) -> int:
    """Flicks not lit, step by step."""
    total, last = 0, (0, 6)
    for at, quality in [*line, (until, 6)]:
        if last[1] < 6:
            total += min(at, until) - last[0]
        last = (at, quality)
    return total


FAULTS = (
    (Fault("main/trunk-main-1", "cut", SECOND, 3 * SECOND),),
    (Fault("main/r1c1/receiver", "dead", 2 * SECOND), Fault("cam", "stale", 4 * SECOND)),
)


@pytest.mark.parametrize("faults", FAULTS)
def test_what_is_lost_is_counted_pixel_by_pixel(faults: tuple[Fault, ...]) -> None:
    rig: Rig = replace(RELAYED, length=20 * SECOND)
    trace = full_run(rig, faults)
    lines = [line for _, _, line in pixels_of(rig, trace, "main", "screen")]
    by_hand = Fraction(sum(unlit_by_hand(line, rig.length) for line in lines), len(lines) * FLICKS)
    assert loss(rig, trace) == by_hand
    assert by_hand > 0


def reviewed(*acts: Act, goal: str = "redundancy") -> Review:
    return review(plan_of(CROSSED, STUCK, goal=goal), acts)


def test_what_acts_saved_adds_up() -> None:
    found = reviewed(WAIT, Act("restart", "main/unit-a"), SWAP)
    assert found.lost_by_nothing - found.lost == sum(each.saved for each in found.effects)
    assert found.effects[0].saved == 0
    assert found.lost_by_nothing > 0


def test_a_right_act_saves_and_a_wrong_one_costs() -> None:
    wait, wrong, right = reviewed(WAIT, Act("restart", "main/relay-backup"), SWAP).effects
    assert wrong.saved <= 0 and not wrong.right("picture") and not wrong.right("redundancy")
    assert right.saved > 0 and right.right("picture")
    assert right.done.ended == (0,) and not wait.right("picture")


def test_how_long_it_took() -> None:
    """Fault at 20 s; waiting from 10 s to 40 s; swapped (20 s) at 60 s; 5 s to start."""
    found = reviewed(WAIT, SWAP)
    assert found.noticed == 20 * SECOND
    assert found.right == 40 * SECOND
    assert found.redundancy == 45 * SECOND
    assert found.reached
    nothing = reviewed(WAIT)
    assert (nothing.noticed, nothing.right, nothing.redundancy) == (None, None, None)
    assert not nothing.reached and nothing.picture is None


def test_a_picture_without_redundancy_is_not_the_goal() -> None:
    """A relay that is dead costs a blink; the picture is back, the rig stands on its backup."""
    plan = plan_of(CROSSED, Fault("main/relay-main", "dead", 20 * SECOND))
    found = review(plan, ())
    assert found.picture is not None and found.picture < MINUTE
    assert not found.reached
    assert review(replace(plan, goal="picture"), ()).reached


def test_nothing_lost_is_always_a_whole_picture() -> None:
    found = review(plan_of(rig_of(long("crossed-relays"))), ())
    assert (found.lost, found.picture, found.redundancy) == (0, 0, 0)
