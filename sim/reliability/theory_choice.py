"""What a selector feeds, from which of its inputs are acceptable when.

In: instants in flicks, in order; whether its thing is up; which inputs are acceptable. Out: the
number of the input fed, or None while it feeds nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from sim.faults import Fault
from sim.reliability.theory_steps import NEVER, left


class Choice(NamedTuple):
    """What counts of a selector; times in flicks. `failing`: its changeovers all fail."""

    wait: int
    switch: int
    restore_after: int
    above: int
    restore: str
    locked_on: int
    failing: bool = False

    @property
    def automatic(self) -> bool:
        return self.restore in ("revertive", "non-revertive")


Turn = tuple[int, bool, int, int]
"""When, whether it begins (or ends), of which fault, and which input is chosen as it begins."""


def turns_of(faults: Sequence[Fault]) -> tuple[Turn, ...]:
    """What people did to a selector by mistake, in the order in which it counts."""
    moves = [f for f in faults if isinstance(f.choice, int)]
    turns = [(f.at, True, n, f.choice) for n, f in enumerate(moves) if isinstance(f.choice, int)]
    ends = [(f.until, False, n, 0) for n, f in enumerate(moves) if f.until is not None]
    return tuple(sorted([*turns, *ends]))


class Chooser:
    """One selector, walked through the change points of its inputs."""

    def __init__(self, choice: Choice, turns: Sequence[Turn] = ()) -> None:
        self.choice, self.turns = choice, turns
        self.on = False
        self.fed = 0
        self.target: int | None = None
        self.arrives = 0
        self.by_hand = False
        self.waits: int | None = None
        self.expired = self.failed = False
        self.pending: int | None = None
        self.since: list[int | None] = []
        self.leaves: dict[int, int] = {}
        self.wake = NEVER

    def settle(self, up: bool, fine: list[bool]) -> int:
        """Before time 0: on the first acceptable input."""
        self.on = up
        self.fed = next((k for k, good in enumerate(fine) if good), 0)
        self.expired = not any(fine)
        if self.choice.restore == "locked":
            self.fed = self.choice.locked_on
        self.since = [0 if good else None for good in fine]
        return self.fed

    def step(self, now: int, up: bool, fine: list[bool]) -> int | None:
        """The input fed from now on; None while switching or down."""
        if not up:
            self._lose()
            return None
        if self.on:
            pairs = zip(self.since, fine, strict=True)
            self.since = [(now if s is None else s) if good else None for s, good in pairs]
        else:
            self._rise(now, fine)
        self._people(now)
        self._land(now, fine)
        while self.target is None and self._move(now, fine):
            self._land(now, fine)
        self.wake = self._next(now)
        return self.fed if self.target is None else None

    def marks(self, now: int, limit: int) -> Any:
        ripe = [s if s is None else left(s + self.choice.restore_after, now, limit)
                for s in self.since]  # fmt: skip
        good = [s is None for s in self.since]
        lands = None if self.target is None else left(self.arrives, now, limit)
        waits = left(self.waits, now, limit), self.waits is None
        state = (self.on, self.fed, self.target, self.by_hand, self.expired, self.failed)
        return state, self.pending, lands, waits, tuple(ripe), tuple(good)

    def _lose(self) -> None:
        if self.on and not self.choice.automatic and self.target is not None:
            self.fed = self.target
        self.on = self.failed = False
        self.target = self.pending = self.waits = None
        self.wake = NEVER

    def _rise(self, now: int, fine: list[bool]) -> None:
        self.on, self.waits, self.expired = True, None, False
        self.since = [now if good else None for good in fine]
        if self.choice.automatic:
            self.fed = next((k for k, good in enumerate(fine) if good), 0)
            self.expired = not any(fine)

    def _people(self, now: int) -> None:
        """Wrong choices that begin or end now: the last one stands."""
        for at, begins, number, wanted in self.turns:
            if at != now or self.choice.restore == "locked":
                continue
            fed = self.fed if self.target is None else self.target
            if begins:
                self.leaves[number] = fed if self.pending is None else self.pending
                self.pending = wanted
            elif number in self.leaves:
                self.pending = self.leaves[number]

    def _land(self, now: int, fine: list[bool]) -> None:
        """A switching that ends now, then a choice that has waited for that."""
        if self.target is not None and now >= self.arrives:
            self._feed(now, fine, self.target)
        if self.target is None and self.pending is not None:
            wanted, self.pending = self.pending, None
            self.failed = self.expired = False
            self.waits = None
            if wanted == self.fed:
                self._afresh(now, fine)
            else:
                self._begin(now, wanted, by_hand=True)
                self._land(now, fine)

    def _feed(self, now: int, fine: list[bool], wanted: int) -> None:
        self.fed, self.target = wanted, None
        if self.by_hand:
            self._afresh(now, fine)
        self.by_hand = False

    def _afresh(self, now: int, fine: list[bool]) -> None:
        self.since = [now if good else None for good in fine]

    def _begin(self, now: int, wanted: int, by_hand: bool) -> None:
        self.target, self.arrives, self.by_hand = wanted, now + self.choice.switch, by_hand
        self.waits, self.expired = None, False

    def _move(self, now: int, fine: list[bool]) -> bool:
        """Whether it leaves its input by itself now."""
        if not self.choice.automatic or self.failed:
            return False
        wanted = self._wanted(now, fine)
        if wanted is None:
            return False
        if self.choice.failing:
            self.failed, self.waits = True, None
            return False
        self._begin(now, wanted, by_hand=False)
        return True

    def _wanted(self, now: int, fine: list[bool]) -> int | None:
        if fine[self.fed]:
            self.waits, self.expired = None, False
        else:
            if self.waits is None and not self.expired:
                self.waits = now + self.choice.wait
            if self.waits is not None and now >= self.waits:
                self.waits, self.expired = None, True
            if self.expired:
                found = next((k for k, good in enumerate(fine) if good), None)
                if found is not None:
                    return found
        return self._better(now)

    def _better(self, now: int) -> int | None:
        if self.choice.restore != "revertive":
            return None
        for k, since in enumerate(self.since[: self.fed]):
            if since is not None and now - since >= self.choice.restore_after:
                return k
        return None

    def _next(self, now: int) -> int:
        if self.target is not None:
            return self.arrives
        times = [] if self.waits is None else [self.waits]
        if self.choice.restore == "revertive" and not self.failed:
            better = (s for s in self.since[: self.fed] if s is not None)
            times += [t for s in better if (t := s + self.choice.restore_after) > now]
        return min(times, default=NEVER)
