"""Time that runs by itself in a drill: real time, or so many times faster.

In: how many times faster, a clock and a sleep (given from outside, so that tests need not wait).
Out: a frozen `Pace`; the time that somebody thought as an act that can be written.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from sim.timebase import FLICKS


@dataclass(frozen=True, slots=True)
class Pace:
    """`times`: as fast as in reality; `clock` tells seconds that only rise; `sleep` waits for so
    many; `tick`: while nothing is said, somebody looks up every so many seconds (None: never).
    """

    times: float
    clock: Callable[[], float]
    sleep: Callable[[float], None]
    tick: float | None = None

    def pass_by(self, flicks: int) -> None:
        """Let a time of the drill pass."""
        self.sleep(flicks / FLICKS / self.times)

    def since(self, begun: float) -> str:
        """What passed in the drill since the clock told `begun`, as an act to the millisecond; ""
        if nothing did.
        """
        thousandths = round((self.clock() - begun) * self.times * 1000)
        return f"wait {thousandths / 1000:.3f} s" if thousandths > 0 else ""


def real(times: float, tick: float | None = None) -> Pace:
    """By the clock of the machine."""
    return Pace(times, time.monotonic, time.sleep, tick)
