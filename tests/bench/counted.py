"""What a run means through SimPy with no shortcut, counted; and a bare SimPy loop of that size.

In: a settled base, a script, an end in flicks; lists of flicks. Out: `Counted`, the flicks of all
that happens in a run; `bare`, which makes one environment for each list and in it, one after the
other, one time-out for each flick, and does nothing else.

Counted are

- faults: every event of the script, among them each going and coming back of a loose contact;
- timer expiries: every place looked at because a time was up that it had asked for before;
- signal updates: every node and every cabinet whose value changes at an instant (a card that shows
  its own kept picture changes its cabinet, and is not counted beside it).

Not counted are looks that change nothing, pictures noted down and the start of a process.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, ClassVar
from unittest.mock import patch

from simpy import Environment
from simpy.events import Event

import sim.engine.run
from sim.engine.run import Due, Run


class Counted(Run):
    """A run that notes the flick of all that is counted. `made`: all such runs."""

    made: ClassVar[list[Counted]] = []

    def __init__(self, *given: Any, **named: Any) -> None:
        self.instants: list[int] = []
        self.kinds: Counter[str] = Counter()
        self.made.append(self)
        super().__init__(*given, **named)

    def _note(self, kind: str) -> None:
        self.kinds[kind] += 1
        self.instants.append(self.now)

    def at(self, when: int, rank: int, work: Callable[[], None]) -> None:
        def noted() -> None:
            self._note("fault")
            work()

        super().at(when, rank, noted)

    def look(self, rank: int, when: int, work: Callable[[Due], None], number: int) -> None:
        def noted(due: Due) -> None:
            self._note("timer")
            work(due)

        super().look(rank, when, noted if when > self.now else work, number)

    def _node(self, due: Due) -> None:
        number = due.number
        before = self.board.value[number]
        super()._node(due)
        if self.board.value[number] != before:
            self._note("signal")

    def _cabinet(self, due: Due) -> None:
        number = due.number
        before = self.shown[number][-1]
        super()._cabinet(due)
        if self.shown[number][-1][1] != before[1]:
            self._note("signal")

    def let_go(self) -> None:
        kept = self.instants, self.kinds
        super().let_go()
        self.instants, self.kinds = kept


@contextmanager
def counting() -> Iterator[list[Counted]]:
    """Have every run of the engine counted, whoever starts it."""
    Counted.made = []
    with patch.object(sim.engine.run, "Run", Counted):
        yield Counted.made


def waits(instants: Iterable[int]) -> list[int]:
    """From one flick to the next, the first from 0."""
    ordered = sorted(instants)
    return [b - a for a, b in zip([0, *ordered], ordered, strict=False)]


def bare(delays: Iterable[Iterable[int]]) -> int:
    """The bare loop; how many time-outs it made."""
    return sum(_loop(of) for of in delays)


def _loop(delays: Iterable[int]) -> int:
    env = Environment()
    made = env.process(_process(env, delays))
    env.run()
    return int(made.value)


def _process(env: Environment, delays: Iterable[int]) -> Generator[Event, None, int]:
    made = 0
    for made, delay in enumerate(delays, 1):  # noqa: B007
        yield env.timeout(delay)
    return made
