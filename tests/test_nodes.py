"""What nodes send and remember (R5 to R7, R9 to R11), on rigs of a few nodes written by hand.

In: scripts in flicks. Out: the line of the one cabinet, exactly; what the run tells.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from sim.engine.nodes import GateState, LayerState, SyncState
from sim.engine.selector import State
from sim.engine.signal import Kept, cell_lines
from sim.faults import Action, Fault
from sim.rig.topology import Display, Merge, Select, Selector
from tests.handmade import HEAD
from tests.small_rigs import SPARE, following, gated, layer, line_of, played, small, told

# ---- stuck (R7)


def test_what_is_stuck_again_keeps_what_it_sent_then() -> None:
    events = [
        Fault("relay", "stuck", 10, 20),
        Fault("unit", "blanked", 25, 50),
        Fault("relay", "stuck", 30, 60),
    ]
    assert line_of(small(), events) == [(0, 6), (10, 4), (20, 6), (25, 1), (60, 6)]


def test_what_comes_up_stuck_keeps_that_it_sent_nothing() -> None:
    events = [Fault("relay", "stuck", 10, hard=True), Fault("relay", "dead", 20, 30)]
    assert line_of(small(), events) == [(0, 6), (10, 4), (20, 0)]


@pytest.mark.parametrize("at", [0, 1, 2, 3])
@pytest.mark.parametrize("thing", ["relay", "a"])
def test_what_is_stuck_from_the_first_flicks_keeps_the_picture_before(thing: str, at: int) -> None:
    assert line_of(small(), [Fault(thing, "stuck", at)])[-1] == (at, 4)


@pytest.mark.parametrize("when", [1, 2, 50])
def test_what_is_kept_has_the_arrangement_from_before_all_acts_of_the_instant(when: int) -> None:
    takes = [Action(when, "take", "unit", name) for name in ("second", "third")]
    trace = played(small(), [*takes, Fault("relay", "stuck", when)])
    ((_, first), (at, kept)) = trace.shown["a"]
    assert (first, at, kept) == ((6, HEAD), when, (4, Kept("show", (("camera", 4),))))
    assert [(at, picture.arrangement) for at, picture in trace.pictures[HEAD]] == [
        (0, "show"),
        (when, "third"),
    ]


def test_a_card_keeps_its_last_picture_for_its_time_and_says_when_it_ran_out() -> None:
    usual = small().nodes["a/card"]
    assert isinstance(usual, Display)
    rig = small(replace(usual, keeps_last="keeps"))
    trace = played(rig, [Fault("unit", "dead", 100, 200)], keeps=20)
    assert told(trace, "a/card") == [(120, "ran out", "")]
    assert line_of(rig, [Fault("unit", "dead", 100, 200)], keeps=20) == [
        (0, 6), (100, 4), (120, 0), (200, 6),
    ]  # fmt: skip
    short = played(rig, [Fault("unit", "dead", 100, 120)], keeps=20)
    assert told(short, "a/card") == [] and "keeps" in short.used


# ---- before time 0 (R5)

CHOICES = ("camera/out", "guest/out")


def test_a_layer_by_hand_of_a_dead_unit_stands_on_the_first_acceptable_input() -> None:
    """The guest counts as wrong here: its cap."""
    rig = small(layer("unit", CHOICES, restore="by-hand"))
    early = [Fault("camera", "dead", -1, 5), Fault("unit", "dead", -1, 10)]
    assert line_of(rig, early) == [(0, 0), (10, 3)]
    assert line_of(rig, early[1:]) == [(0, 0), (10, 6)]


def test_what_counts_too_little_here_is_not_acceptable_before_time_0_either() -> None:
    usual = layer("unit", CHOICES, restore="by-hand")
    picky = replace(usual, selector=replace(usual.selector, accepts_above=3))
    early = [Fault("camera", "dead", -1, 5), Fault("unit", "dead", -1, 10)]
    assert line_of(small(picky), early) == [(0, 0), (10, 6)]


def test_a_relay_by_hand_that_is_dead_stands_on_the_first_acceptable_input() -> None:
    chosen = Selector("way#choice", restore="by-hand", accepts_above=1)
    rig = small(Select(name="way", thing="relay", inputs=(HEAD, SPARE), selector=chosen))
    early = [Fault("unit", "blanked", -1, 5), Fault("relay", "dead", -1, 10)]
    later = Fault("unit", "dead", 20)
    assert line_of(rig, [*early, later]) == [(0, 0), (10, 6)]
    assert line_of(rig, [early[1], later]) == [(0, 0), (10, 6), (20, 0)]


def test_a_relay_that_is_not_by_hand_looks_afresh_when_it_comes_up() -> None:
    chosen = Selector("way#choice", restore="non-revertive")
    rig = small(Select(name="way", thing="relay", inputs=(HEAD, SPARE), selector=chosen))
    events = [Fault("unit", "dead", -1, 5), Fault("relay", "dead", -1, 10)]
    assert line_of(rig, [*events, Fault("spare", "dead", 20)]) == [(0, 0), (10, 6)]


# ---- layers (R10)


def test_a_layer_that_comes_up_without_a_source_has_nothing_to_freeze() -> None:
    rig = small(layer("unit", ("camera/out",), on_loss="frozen"))
    events = [Fault("camera", "dead", 5), Fault("unit", "dead", 10, 20)]
    assert line_of(rig, events) == [(0, 6), (5, 4), (10, 0)]


def test_a_seamless_pair_of_what_has_no_picture_hands_the_first_leg_on() -> None:
    rig = small(
        Merge(name="pair", thing="relay", inputs=("camera/out", "guest/out")),
        layer("unit", ("pair",)),
    )
    assert line_of(rig, [Fault("camera", "blanked", 10, 20)]) == [(0, 6), (10, 1), (20, 6)]
    assert line_of(rig, [Fault("camera", "dead", 10, 20)]) == [(0, 6)]


# ---- gates (R11)


def test_a_gate_opens_and_closes_after_its_times_and_says_so() -> None:
    trace = played(gated(), [Fault("unit", "dead", 100, 200)], notice=7, back=30)
    assert told(trace, "gate") == [(107, "gate opens", ""), (230, "gate closes", "")]
    assert {"notice", "back"} <= trace.used and "" not in trace.used
    (line,) = cell_lines(gated(), trace).values()
    assert line == [(0, 6), (100, 0), (107, 6)]


def test_a_black_forward_signal_keeps_a_gate_closed() -> None:
    trace = played(gated(), [Fault("unit", "blanked", 100, 200)], notice=7, back=30)
    assert told(trace, "gate") == []


def test_a_gate_that_comes_up_is_closed_and_waits_in_full() -> None:
    events = [Fault("unit", "dead", 100), Fault("gate", "dead", 150, 160)]
    assert line_of(gated(), events, notice=7, back=30) == [
        (0, 6), (100, 0), (107, 6), (150, 0), (167, 6),
    ]  # fmt: skip


# ---- references (R9)


def test_a_unit_without_its_reference_holds_over_unlocks_and_locks_again_and_says_so() -> None:
    events = [Fault("clock", "dead", 100, 300)]
    trace = played(following(), events, holdover=50, relock=20, glitch=3)
    assert told(trace, "unit/sync") == [
        (100, "holdover", ""), (150, "unlocked", ""), (300, "relocking", ""), (320, "glitch", ""),
        (323, "locked", ""),
    ]  # fmt: skip
    assert {"holdover", "relock", "glitch"} <= trace.used
    (line,) = cell_lines(following(), trace).values()
    assert line == [(0, 6), (150, 5), (320, 0), (323, 6)]
    assert trace.shown["a"][2] == (320, (0, None))


def test_a_reference_that_is_back_ends_the_holdover_and_the_next_one_runs_in_full() -> None:
    events = [Fault("clock", "dead", 100, 120), Fault("clock", "dead", 130, 300)]
    trace = played(following(), events, holdover=50, relock=1000, glitch=3)
    assert told(trace, "unit/sync") == [
        (100, "holdover", ""), (120, "locked", ""), (130, "holdover", ""), (180, "unlocked", ""),
        (300, "relocking", ""),
    ]  # fmt: skip


def test_a_reference_lost_in_the_glitch_leaves_the_unit_unlocked() -> None:
    events = [Fault("clock", "dead", 100, 300), Fault("clock", "dead", 322, 400)]
    trace = played(following(), events, holdover=50, relock=20, glitch=5)
    assert told(trace, "unit/sync")[3:] == [
        (320, "glitch", ""), (325, "unlocked", ""), (400, "relocking", ""), (420, "glitch", ""),
        (425, "locked", ""),
    ]  # fmt: skip


def test_a_black_reference_is_present() -> None:
    trace = played(following(), [Fault("clock", "blanked", 100, 300)], holdover=5, relock=2)
    assert told(trace, "unit/sync") == []


# ---- what is remembered


def test_marks_of_a_gate_count_times_from_now() -> None:
    assert GateState(True, True, 5).mark(10) == GateState(True, True, 1005).mark(1010)
    assert GateState(True, True, None).mark(10) == GateState(True, True, None).mark(99)
    kinds = [(True, True, 5), (False, True, 5), (True, False, 5), (True, True, 6)]
    marks = {GateState(*kind).mark(10) for kind in [*kinds, (True, True, None)]}
    assert len(marks) == 5


CHOOSER = State("revertive", alive=True, on=1, since=[4, 4])
MOVED = State("revertive", alive=True, on=1, since=[1004, 4])


@pytest.mark.parametrize("phase", ["holdover", "relocking", "glitch", "locked", "unlocked"])
def test_marks_of_a_sync_count_the_phases_that_end_from_now(phase: str) -> None:
    mark = SyncState(CHOOSER, phase, 5).mark(10)
    assert mark == SyncState(MOVED, phase, 1005).mark(1010)
    timed = phase in ("holdover", "relocking", "glitch")
    assert (mark != SyncState(CHOOSER, phase, 6).mark(10)) == timed
    assert mark != SyncState(CHOOSER, "", 5).mark(10)


def test_marks_of_a_layer_count_times_from_now() -> None:
    assert LayerState(CHOOSER, 4).mark(10) == LayerState(MOVED, 4).mark(1010)
    assert LayerState(CHOOSER, 4).mark(10) != LayerState(CHOOSER, None).mark(10)


def test_copies_are_equal_and_go_their_own_way() -> None:
    states: Mapping[str, GateState | SyncState | LayerState] = {
        "gate": GateState(True, True, 5),
        "sync": SyncState(CHOOSER, "holdover", 5),
        "layer": LayerState(CHOOSER, 4),
    }
    for state in states.values():
        twin = state.copied()
        assert twin == state and twin is not state
        if not isinstance(twin, GateState) and not isinstance(state, GateState):
            assert twin.chooser is not state.chooser
