"""Selectors one instant at a time, as rule R8 has it; marks, copies and what being content means."""

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
