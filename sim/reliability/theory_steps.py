"""Functions of time that stand still between steps, and small machines that turn some into another.

In: times in flicks. Out: frozen `Steps`. The first step stands at -1: what held before time 0. What
comes and goes for ever has a period instead of endless steps: it is walked until it repeats.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from math import lcm
from typing import Any, NamedTuple, Protocol

NEVER = 1 << 62
BEFORE = -1
"""The time of the step that says what held before time 0."""


class Steps(NamedTuple):
    """A function of time: `values[n]` from `times[n]` (flicks) on; the first time is `BEFORE`.

    With a `period` (flicks) it repeats: from `start` on the value at t + period is that at t, and
    the steps before start + period say it all.
    """

    times: tuple[int, ...]
    values: tuple[Any, ...]
    start: int = 0
    period: int = 0


def constant(value: Any) -> Steps:
    """Always the same."""
    return Steps((BEFORE,), (value,))


def switched(at: int, until: int | None) -> Steps:
    """True from `at` until `until` (None: for ever); a negative `at` is before time 0."""
    steps = [(BEFORE, at < 0)] + ([(at, True)] if at >= 0 else [])
    if until is not None:
        steps.append((max(until, 0), False))
    return _made(steps)


def flapping(at: int, until: int | None, period: int, off: int) -> Steps:
    """True on [at + n period, at + n period + off) while before `until` (None: for ever)."""
    if until is None:
        return Steps((BEFORE, at, at + off), (False, True, False), at, period)
    spans = ((t, min(t + off, until)) for t in range(at, until, period))
    return _made([(BEFORE, False), *(step for a, b in spans for step in ((a, True), (b, False)))])


def _made(steps: Sequence[tuple[int, Any]]) -> Steps:
    """Steps in order of time; of several at one time the last counts."""
    last = dict(steps)
    return tidy(list(last), list(last.values()))


def tidy(times: Sequence[int], values: Sequence[Any], start: int = 0, period: int = 0) -> Steps:
    """Without steps that change nothing; without a period in which nothing happens."""
    kept = [n for n in range(len(times)) if not n or values[n] != values[n - 1]]
    if not period or times[kept[-1]] <= start:
        start = period = 0
    return Steps(tuple(times[n] for n in kept), tuple(values[n] for n in kept), start, period)


def value_at(steps: Steps, at: int) -> Any:
    """The value at a time of 0 or more."""
    if steps.period and at >= steps.start + steps.period:
        at = steps.start + (at - steps.start) % steps.period
    return steps.values[bisect_right(steps.times, at) - 1]


def just_before(steps: Steps, at: int) -> Any:
    """The value on the interval that ends at a time."""
    if steps.period and at > steps.start + steps.period:
        at = steps.start + (at - steps.start - 1) % steps.period + 1
    return steps.values[max(bisect_left(steps.times, at) - 1, 0)]


def endless(steps: Steps) -> Iterator[tuple[int, Any]]:
    """All steps after the first, repetitions included; ends with one at `NEVER`."""
    yield from zip(steps.times[1:], steps.values[1:], strict=True)
    if steps.period:
        first = value_at(steps, steps.start)
        later = [(t, v) for t, v in zip(*steps[:2], strict=True) if t > steps.start]
        base = 0
        while True:
            base += steps.period
            yield steps.start + base, first
            for at, value in later:
                yield at + base, value
    yield NEVER, None


def left(end: int | None, now: int, limit: int) -> int | None:
    """What is left of a timer; None if it does not run or ends after all that counts."""
    return None if end is None or end >= limit else max(end - now, 0)


class Machine(Protocol):
    """What makes one function of others. `wake`: when it wants to be looked at again."""

    wake: int

    def settle(self, values: list[Any]) -> Any:
        """What held before time 0."""

    def step(self, now: int, values: list[Any]) -> Any:
        """What holds from now on."""

    def marks(self, now: int, limit: int) -> Any:
        """All that it remembers, times relative to now: equal marks have equal futures."""


def walk(
    inputs: Sequence[Steps],
    machine: Machine,
    limit: int,
    alarms: Sequence[int] = (),
    beside: Sequence[Steps] = (),
) -> Steps:
    """What a machine makes of its inputs, up to a time or until it repeats itself.

    `alarms`: further times at which to look; `beside`: what the machine reads by itself.
    """
    ways = [endless(steps) for steps in inputs]
    coming = [next(way) for way in ways]
    values = [steps.values[0] for steps in inputs]
    bells = iter([*sorted({t for t in alarms if t >= 0}), NEVER])
    bell = next(bells)
    check, period = _checks([*inputs, *beside], alarms)
    seen: dict[Any, int] = {}
    times, outs = [BEFORE], [machine.settle(values)]
    while True:
        now = min(machine.wake, bell, *[step[0] for step in coming])
        while check <= min(now, limit):
            key = (machine.marks(check, limit), tuple(values), outs[-1])
            if key in seen:
                return tidy(times, outs, seen[key], check - seen[key])
            seen[key] = check
            check += period
        if now >= limit:
            return tidy(times, outs)
        if bell == now:
            bell = next(bells)
        for number, (at, value) in enumerate(coming):
            if at == now:
                values[number] = value
                coming[number] = next(ways[number])
        out = machine.step(now, values)
        if out != outs[-1]:
            times.append(now)
            outs.append(out)


def _checks(inputs: Sequence[Steps], alarms: Sequence[int]) -> tuple[int, int]:
    """The first time from which all inputs repeat, and after how long; `NEVER` if none does."""
    periods = [steps.period for steps in inputs if steps.period]
    if not periods:
        return NEVER, 0
    calm = [steps.start if steps.period else steps.times[-1] + 1 for steps in inputs]
    return max([0, *calm, *(alarm + 1 for alarm in alarms)]), lcm(*periods)


class Joined:
    """A machine without memory: a plain function of its inputs."""

    __slots__ = ("of", "wake")

    def __init__(self, of: Any) -> None:
        self.of = of
        self.wake = NEVER

    def settle(self, values: list[Any]) -> Any:
        return self.of(*values)

    def step(self, _now: int, values: list[Any]) -> Any:
        return self.of(*values)

    def marks(self, _now: int, _limit: int) -> None:
        return None
