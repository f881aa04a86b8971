"""One selector at one instant: what it feeds, what it waits for, when it must be looked at again.

In: the qualities of its inputs now, its times in flicks (`Times`), its state (mutable, held by
the engine alone). Out: the state moved on to this instant. The steps are those of rule R8 in
DEVELOPERS.md, in that order.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

AUTOMATIC = ("revertive", "non-revertive")
NEVER = 1 << 62


class Times(NamedTuple):
    """The times of a selector in flicks: until it leaves a lost input, to switch, until it
    restores.
    """

    wait: int
    switch: int
    restore: int


class Order(NamedTuple):
    """What somebody does to a selector at this instant: choose, lock, unlock, moved (choose), left
    (undo a moved).
    """

    do: str
    choice: int = -1
    fault: int = -1


@dataclass(slots=True)
class State:
    """`on` is fed; `to` is being switched to (-1: none) until `end`; `wait_end` of a running wait;
    `since` when each input became acceptable.
    """

    mode: str
    alive: bool = False
    on: int = -1
    to: int = -1
    end: int = 0
    by_hand_switch: bool = False
    wait_end: int | None = None
    expired: bool = False
    failed: bool = False
    pending: int | None = None
    since: list[int | None] = field(default_factory=list)
    left: dict[int, int] = field(default_factory=dict)

    def copied(self) -> State:
        return State(
            self.mode, self.alive, self.on, self.to, self.end, self.by_hand_switch,
            self.wait_end, self.expired, self.failed, self.pending, self.since[:], self.left.copy(),
        )  # fmt: skip

    def mark(self, now: int) -> Hashable:
        """All that its future depends on, with times counted from `now`. Only what restores asks
        since when an input has been acceptable; by the time any other does, it starts afresh.
        """
        preferred = self.since[: max(self.on, self.to)] if self.restores else []
        since = tuple(s if s is None else s - now for s in preferred)
        waits = None if self.wait_end is None or self.expired else self.wait_end - now
        end = self.end - now if self.to >= 0 else 0
        flags = (self.alive, self.expired, self.failed, self.by_hand_switch and self.to >= 0)
        return (self.mode, self.on, self.to, end, waits, self.pending, since, flags)

    @property
    def restores(self) -> bool:
        """Whether it goes back by itself to what it prefers."""
        return self.alive and self.mode == "revertive" and not self.failed

    @property
    def automatic(self) -> bool:
        return self.mode in AUTOMATIC and not self.failed

    @property
    def fed(self) -> int:
        """The input whose signal is handed on, or -1 while switching."""
        return -1 if self.to >= 0 else self.on


Tell = Callable[[str, int], None]
"""Told what the selector did, and which input it concerns."""


class Instant(NamedTuple):
    """What one working-out of a selector sees: now, which inputs are acceptable, its times, its
    declared mode, whether a demand fails, whom to tell.
    """

    now: int
    acceptable: Sequence[bool]
    times: Times
    declared: str
    fails: Callable[[], bool]
    tell: Tell


def lose(state: State) -> None:
    """Its node stopped living: automatic selectors have no state; the others remember where they
    are.
    """
    if state.to >= 0:
        state.on = state.to
    state.alive, state.to, state.pending = False, -1, None
    state.wait_end, state.expired, state.failed = None, False, False


def content(state: State) -> bool:
    """Whether it feeds its first input and neither waits, switches nor is asked to: with that input
    acceptable, working it out then only notes since when the others are.
    """
    at_rest = state.to < 0 and state.wait_end is None and state.pending is None
    return state.on == 0 and state.alive and at_rest and not state.expired


def note_since(state: State, acceptable: Sequence[bool], now: int) -> None:
    """Note since when each input has been acceptable, up to this instant."""
    since = state.since
    for number, good in enumerate(acceptable):
        if not good:
            since[number] = None
        elif since[number] is None:
            since[number] = now


def work_out(state: State, instant: Instant, orders: Sequence[Order], locked_on: int) -> None:
    """Move the state on to this instant."""
    if not state.alive:
        _come_up(state, instant, locked_on)
    note_since(state, instant.acceptable, instant.now)
    for order in orders:
        _obey(state, order, instant)
    if state.to >= 0 and instant.now >= state.end:
        _end_switch(state, instant)
    if state.to < 0 and state.pending is not None:
        _begin_choice(state, instant)
    while state.to < 0 and state.automatic:
        target = _after_loss(state, instant)
        if target < 0:
            target = _restorable(state, instant)
        if target < 0:
            return
        _demand(state, target, instant)


def next_look(state: State, times: Times) -> int:
    """The flick at which this selector must be worked out again if nothing else happens (NEVER if
    it need not).
    """
    if state.to >= 0:
        return state.end
    due = NEVER if state.wait_end is None or state.expired else state.wait_end
    if state.automatic and state.mode == "revertive":
        waits = [s + times.restore for s in state.since[: state.on] if s is not None]
        due = min([due, *waits])
    return due


def _come_up(state: State, instant: Instant, locked_on: int) -> None:
    first = _first(instant.acceptable)
    state.since = [None] * len(instant.acceptable)
    if state.mode == "locked" and state.on < 0:
        state.on = locked_on
    elif state.mode in AUTOMATIC or state.on < 0:
        state.on = max(first, 0)
    state.alive, state.expired = True, first < 0 and state.automatic


def _afresh(state: State, instant: Instant) -> None:
    state.since = [instant.now if good else None for good in instant.acceptable]


def _obey(state: State, order: Order, instant: Instant) -> None:
    if order.do == "lock":
        state.mode, state.pending, state.failed = "locked", None, False
        state.wait_end, state.expired = None, False
    elif order.do == "unlock":
        if state.mode == "locked":
            state.mode = "revertive" if instant.declared == "locked" else instant.declared
            state.wait_end, state.expired = None, False
            _afresh(state, instant)
    elif state.mode != "locked":
        _ask(state, order)


def _ask(state: State, order: Order) -> None:
    """A choice, to be begun as soon as no switching is under way."""
    current = state.to if state.to >= 0 else state.on
    if order.do == "moved":
        state.left[order.fault] = current if state.pending is None else state.pending
    if order.do == "left":
        if order.fault in state.left:
            state.pending = state.left.pop(order.fault)
        return
    state.pending = order.choice


def _end_switch(state: State, instant: Instant) -> None:
    state.on, state.to = state.to, -1
    instant.tell("on", state.on)
    if state.by_hand_switch:
        _afresh(state, instant)


def _begin_choice(state: State, instant: Instant) -> None:
    target = state.pending
    assert target is not None
    state.pending = None
    state.failed, state.wait_end, state.expired = False, None, False
    if target == state.on:
        _afresh(state, instant)
    else:
        _move(state, target, instant, by_hand=True)


def _after_loss(state: State, instant: Instant) -> int:
    """Step 2: the input to move to because the fed one is lost and the wait is over; -1 if none."""
    if instant.acceptable[state.on]:
        if state.wait_end is not None and not state.expired:
            instant.tell("recovered", state.on)
        state.wait_end, state.expired = None, False
        return -1
    if state.wait_end is None and not state.expired:
        state.wait_end = instant.now + instant.times.wait
        instant.tell("lost", state.on)
    if state.wait_end is not None and instant.now >= state.wait_end:
        state.expired = True
    return _first(instant.acceptable) if state.expired else -1


def _restorable(state: State, instant: Instant) -> int:
    """Step 3: the first preferred input whose wait-to-restore has run out; -1 if none."""
    if state.mode != "revertive":
        return -1
    for number in range(state.on):
        since = state.since[number]
        if since is not None and instant.now - since >= instant.times.restore:
            return number
    return -1


def _demand(state: State, target: int, instant: Instant) -> None:
    if instant.fails():
        state.failed, state.wait_end, state.expired = True, None, False
        instant.tell("failed", target)
    else:
        _move(state, target, instant, by_hand=False)


def _move(state: State, target: int, instant: Instant, by_hand: bool) -> None:
    state.wait_end, state.expired = None, False
    state.to, state.end, state.by_hand_switch = target, instant.now + instant.times.switch, by_hand
    instant.tell("switching", target)
    if instant.times.switch == 0:
        _end_switch(state, instant)


def _first(acceptable: Sequence[bool]) -> int:
    return next((number for number, good in enumerate(acceptable) if good), -1)
