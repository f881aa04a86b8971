"""Selectors at one instant after another, by rule R8; their marks, copies, and being content."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import pytest

from sim.engine.selector import Instant, Order, State, Times, content, lose, next_look, work_out

TIMES = Times(wait=4, switch=10, restore=20)


def work(
    state: State, now: int, good: Sequence[bool], *orders: Order, times: Times = TIMES
) -> list[tuple[str, int]]:
    """Work a selector out at one flick; what it told."""
    told: list[tuple[str, int]] = []
    tell = lambda what, choice: told.append((what, choice))  # noqa: E731
    work_out(state, Instant(now, good, times, state.mode, lambda: False, tell), orders, 0)
    return told


def settled(mode: str, on: int = 0) -> State:
    return State(mode, alive=True, on=on, since=[0, 0, 0])


SWITCHING = State(
    "revertive", alive=True, on=2, to=1, end=30, by_hand_switch=True, since=[5, None, 7], pending=0
)
WAITING = State("revertive", alive=True, on=2, wait_end=13, since=[5, 9, None])


def later(state: State, flicks: int) -> State:
    """The same, with everything so much later."""
    wait = None if state.wait_end is None else state.wait_end + flicks
    since = [at if at is None else at + flicks for at in state.since]
    return replace(state, end=state.end + flicks, wait_end=wait, since=since)


@pytest.mark.parametrize("state", [SWITCHING, WAITING])
def test_a_mark_counts_times_from_now(state: State) -> None:
    assert later(state, 1000).mark(1010) == state.mark(10)
    assert state.mark(11) != state.mark(10)


@pytest.mark.parametrize(
    ("state", "change"),
    [
        (SWITCHING, {"mode": "by-hand"}),
        (SWITCHING, {"alive": False}),
        (SWITCHING, {"on": 0}),
        (SWITCHING, {"to": 0}),
        (SWITCHING, {"end": 31}),
        (replace(SWITCHING, to=0), {"end": 31}),
        (SWITCHING, {"by_hand_switch": False}),
        (replace(SWITCHING, to=0), {"by_hand_switch": False}),
        (SWITCHING, {"failed": True}),
        (SWITCHING, {"pending": 2}),
        (SWITCHING, {"since": [6, None, 7]}),
        (replace(SWITCHING, on=0), {"since": [6, None, 7]}),
        (replace(SWITCHING, on=1, to=-1), {"since": [6, None, 7]}),
        (WAITING, {"wait_end": 14}),
        (WAITING, {"wait_end": None}),
        (WAITING, {"expired": True}),
    ],
)
def test_what_its_future_depends_on_changes_its_mark(state: State, change: dict[str, Any]) -> None:
    assert replace(state, **change).mark(10) != state.mark(10)


@pytest.mark.parametrize(
    ("state", "change"),
    [
        (SWITCHING, {"since": [5, None, 8]}),
        (replace(SWITCHING, mode="non-revertive"), {"since": [1, 2, 3]}),
        (replace(SWITCHING, failed=True), {"since": [1, 2, 3]}),
        (WAITING, {"end": 99}),
        (WAITING, {"by_hand_switch": True}),
        (replace(WAITING, expired=True), {"wait_end": 14}),
    ],
)
def test_what_is_over_does_not_change_its_mark(state: State, change: dict[str, Any]) -> None:
    assert replace(state, **change).mark(10) == state.mark(10)


def test_a_copy_is_equal_and_goes_its_own_way() -> None:
    names = {field.name for field in fields(State)}
    full = State("by-hand", True, 2, 1, 30, True, 40, True, True, 0, [5, None], {3: 1})
    twin = full.copied()
    assert all(getattr(twin, name) == getattr(full, name) for name in names)
    twin.since[0], twin.left[3] = 9, 0
    assert (full.since, full.left) == ([5, None], {3: 1})


@pytest.mark.parametrize("to", [0, 1])
def test_what_is_lost_while_switching_stands_on_the_input_switched_to(to: int) -> None:
    state = State("by-hand", True, 2, to, 30, True, 13, True, True, 1, [None, 5, 7])
    lose(state)
    stood = State("by-hand", on=to)
    assert state.mark(10) == stood.mark(10)
    assert (state.wait_end, next_look(state, TIMES)) == (None, next_look(stood, TIMES))


AT_REST = State("revertive", alive=True, on=0)


def test_one_that_feeds_its_first_input_at_rest_is_content() -> None:
    assert content(AT_REST) is True


@pytest.mark.parametrize(
    "change",
    [
        {"alive": False},
        {"on": 1},
        {"to": 0},
        {"to": 1},
        {"wait_end": 5},
        {"pending": 1},
        {"expired": True},
    ],
)
def test_one_with_something_before_it_is_not_content(change: dict[str, Any]) -> None:
    assert not content(replace(AT_REST, **change))


def test_one_that_had_given_up_waits_in_full_after_its_input_was_back() -> None:
    state = State("non-revertive")
    work(state, 0, [False, False])
    assert state.expired
    assert work(state, 5, [True, False]) == []
    assert work(state, 6, [False, True]) == [("lost", 0)]
    assert (state.fed, next_look(state, TIMES)) == (0, 10)


@pytest.mark.parametrize("to", [0, 1])
def test_a_choice_waits_for_the_end_of_the_switching_and_the_last_one_wins(to: int) -> None:
    state = settled("by-hand", on=2)
    good = [True, True, True]
    work(state, 0, good, Order("choose", to))
    assert work(state, 5, good, Order("choose", 1 - to), Order("choose", 2)) == []
    assert (state.to, next_look(state, TIMES)) == (to, 10)
    assert work(state, 10, good) == [("on", to), ("switching", 2)]
    assert (state.fed, next_look(state, TIMES)) == (-1, 20)


def test_a_lock_given_survives_a_restart_where_it_was_given() -> None:
    state = settled("non-revertive")
    work(state, 0, [True, True], Order("lock"))
    lose(state)
    tell = lambda what, choice: None  # noqa: E731
    work_out(state, Instant(9, [True, True], TIMES, "locked", lambda: False, tell), (), 1)
    assert (state.mode, state.fed) == ("locked", 0)


@pytest.mark.parametrize("first", [0, 1])
def test_what_comes_up_on_an_acceptable_input_waits_in_full_when_it_is_lost(first: int) -> None:
    state = State("non-revertive")
    good = [n == first for n in range(3)]
    assert work(state, 0, good) == []
    assert state.fed == first and next_look(state, TIMES) > 1000
    assert work(state, 5, [False, False, True]) == [("lost", first)]
    assert (state.fed, next_look(state, TIMES)) == (first, 9)
    assert work(state, 9, [False, False, True]) == [("switching", 2)]


def test_a_lock_clears_the_wait_and_the_failure_and_an_unlock_begins_afresh() -> None:
    state = settled("non-revertive")
    lost = [False, True, True]
    work(state, 0, lost)
    state.failed = True
    work(state, 2, lost, Order("lock"))
    assert state.mark(2) == State("locked", alive=True, on=0).mark(2)
    work(state, 50, lost)
    assert (state.fed, next_look(state, TIMES) > 1000) == (0, True)
    assert unlock(state, 60, lost, "non-revertive") == [("lost", 0)]
    assert (state.mode, state.fed, next_look(state, TIMES)) == ("non-revertive", 0, 64)
    assert work(state, 64, lost) == [("switching", 1)]


def unlock(state: State, now: int, good: Sequence[bool], declared: str) -> list[tuple[str, int]]:
    told: list[tuple[str, int]] = []
    tell = lambda what, choice: told.append((what, choice))  # noqa: E731
    work_out(state, Instant(now, good, TIMES, declared, lambda: False, tell), [Order("unlock")], 0)
    return told


@pytest.mark.parametrize(
    ("declared", "mode"),
    [
        ("locked", "revertive"),
        ("revertive", "revertive"),
        ("non-revertive", "non-revertive"),
        ("by-hand", "by-hand"),
    ],
)
def test_an_unlock_leaves_it_as_it_was_declared_and_restores_a_full_wait_later(
    declared: str, mode: str
) -> None:
    state = settled("locked", on=1)
    unlock(state, 60, [True, True], declared)
    assert (state.mode, state.since, state.failed) == (mode, [60, 60], False)
    assert next_look(state, TIMES) == 80 or mode != "revertive"


def test_an_unlock_of_what_is_not_locked_does_nothing() -> None:
    state = settled("revertive", on=1)
    unlock(state, 10, [True, True, True], "non-revertive")
    assert (state.mode, state.since) == ("revertive", [0, 0, 0])


@pytest.mark.parametrize("to", [0, 1])
def test_what_was_moved_goes_back_to_what_it_was_switching_to_or_had_pending(to: int) -> None:
    good = [True, True, True]
    state = settled("by-hand", on=2)
    work(state, 0, good, Order("choose", to))
    work(state, 5, good, Order("moved", 2, fault=7))
    assert state.left == {7: to}
    work(state, 6, good, Order("moved", 1 - to, fault=8))
    assert state.left == {7: to, 8: 2}
    work(state, 7, good, Order("left", fault=8))
    assert (state.pending, state.left) == (2, {7: to})
    work(state, 8, good, Order("left", fault=99))
    assert state.pending == 2


def test_nothing_is_told_where_nothing_happens() -> None:
    state = settled("non-revertive", on=1)
    assert work(state, 5, [True, True, True]) == []
    assert work(state, 6, [True, False, True]) == [("lost", 1)]
    assert work(state, 7, [True, True, True]) == [("recovered", 1)]
    assert work(state, 8, [True, True, True]) == []


def test_after_switching_it_is_as_one_that_stood_there_all_along() -> None:
    state = settled("by-hand")
    work(state, 0, [True, True, True], Order("choose", 1))
    work(state, 10, [True, True, True])
    assert state.mark(10) == State("by-hand", alive=True, on=1).mark(10)
    assert state.since == [10, 10, 10]


def test_a_changeover_that_fails_is_told_once_and_waits_for_an_operator() -> None:
    state = settled("non-revertive")
    told: list[tuple[str, int]] = []
    tell = lambda what, choice: told.append((what, choice))  # noqa: E731

    def failing(now: int, good: Sequence[bool], *orders: Order) -> None:
        work_out(state, Instant(now, good, TIMES, state.mode, lambda: True, tell), orders, 0)

    lost = [False, True, True]
    failing(0, lost)
    failing(4, lost)
    assert told == [("lost", 0), ("failed", 1)] and state.failed and state.fed == 0
    stood = State("non-revertive", alive=True, on=0, failed=True)
    assert state.mark(4) == stood.mark(4)
    failing(50, lost)
    assert len(told) == 2
    failing(60, lost, Order("choose", 2))
    assert (told[2:], state.to, state.failed) == ([("switching", 2)], 2, False)


def test_a_switch_of_its_own_leaves_the_wait_to_restore_running() -> None:
    """Since it became acceptable, while it was switching: not since the switch ended."""
    state = settled("revertive")
    work(state, 0, [False, True])
    work(state, 4, [False, True])
    work(state, 8, [True, True])
    assert work(state, 14, [True, True]) == [("on", 1)]
    assert next_look(state, TIMES) == 28
    assert work(state, 28, [True, True]) == [("switching", 0)]
    assert work(state, 38, [True, True]) == [("on", 0)]
