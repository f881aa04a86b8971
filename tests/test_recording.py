"""What a run leaves behind of pictures that cards keep; a rig of a few nodes, flicks throughout.

In: faults of a unit, and of others beside it. Out: what is pending at the end, and when a rig
stands as it stood a turn before.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.engine.run import run
from sim.engine.signal import Note
from sim.faults import Fault, Script
from sim.rig.topology import Display, Rig
from sim.timebase import FOREVER
from tests.small_rigs import END, played, small


def keeping() -> Rig:
    """A card that keeps its last picture."""
    usual = small().nodes["a/card"]
    assert isinstance(usual, Display)
    return small(replace(usual, keeps_last="keeps"))


@pytest.mark.parametrize("last", [500, 700])
@pytest.mark.parametrize(("keeps", "pending"), [(600, [1100]), (500, [1000]), (FOREVER, [])])
def test_a_picture_that_is_still_kept_at_the_end_is_pending_unless_for_ever(
    keeps: int, pending: list[int], last: int
) -> None:
    """Also where something else, which ends after the show, was the last that happened in it."""
    rig = keeping()
    events = [Fault("unit", "dead", 500), Fault("guest", "dead", last, END + 50)]
    trace = played(rig, events, keeps=keeps)
    assert trace.shown["a"][-1][1][0] == 4 and trace.last == last
    assert trace.pending == [Note(at, "a/card", "pending") for at in pending]


def test_a_picture_that_is_kept_for_ever_from_the_beginning_is_not_pending() -> None:
    events = [Fault("unit", "dead", 0), Fault("guest", "dead", 700, END + 50)]
    assert not played(keeping(), events, keeps=FOREVER).pending


@pytest.mark.parametrize("at", [0, 5])
def test_a_picture_that_is_kept_for_ever_comes_again(at: int) -> None:
    """However long ago it was taken."""
    script = Script((Fault("unit", "dead", at), Fault("guest", "flapping", 10, period=100, off=20)))
    assert run(keeping(), script, {"keeps": FOREVER}, END, repeats=True).repeat == (110, 210)
    assert run(keeping(), script, {"keeps": 300}, END, repeats=True).repeat == (310, 410)


def test_a_picture_that_is_kept_anew_each_turn_comes_again() -> None:
    """The first turn that is looked at begins while it is kept, for as long as a turn later."""
    faults = (
        Fault("unit", "flapping", 10, period=100, off=40),
        Fault("guest", "flapping", 30, period=100, off=20),
        Fault("spare", "blanked", 120),
    )
    trace = run(keeping(), Script(faults), {"keeps": 80}, END, repeats=True)
    assert trace.repeat == (130, 230)
