"""Whether a thing is up and which soft faults limit it, as one function of time.

In: when what powers it is up, its faults, its times in flicks. Out: `Steps` of (up, mask): the
mask holds the bits of soft faults in force, whether or not a node feels them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from sim.faults import ENDED_BY_RESTART, Fault, Quality
from sim.reliability.theory_steps import NEVER, Steps, flapping, left, switched, walk

BITS = {"stuck": 1, "blanked": 2, "corrupt": 4, "stale": 8, "unlocked": 16}
STUCK = BITS["stuck"]
LIMITS = {
    2: Quality.BLACK,
    4: Quality.CORRUPT,
    8: Quality.WRONG,
    16: Quality.UNLOCKED,
}
CAPS = tuple(
    int(min([Quality.GOOD, *(cap for bit, cap in LIMITS.items() if mask & bit)]))
    for mask in range(32)
)
"""The best quality that each mask leaves."""
HARMLESS = 1000
"""Thousandths of a dB beyond its margin at which a fibre still carries something, torn."""


def mask_of(modes: frozenset[str]) -> int:
    """The bits of some soft modes."""
    return sum(bit for mode, bit in BITS.items() if mode in modes)


class Make(NamedTuple):
    """What counts of a thing: times in flicks, the margin in thousandths of a dB."""

    circuit: bool
    start: int
    hold_up: int
    margin: int


def condition(
    make: Make, powers: Sequence[Steps], faults: Sequence[Fault], limit: int, frame: int = 0
) -> Steps:
    """(up, mask) of a thing under its faults; `frame`: of a source that loses some of its frames.

    Faults of selectors and arrangements are not asked about here.
    """
    lasting = [f for f in faults if f.mode not in ("restart", "moved", "drops")]
    lost = [f for f in faults if f.mode == "drops" and frame]
    restarts = {f.at for f in faults if f.mode == "restart"}
    machine = _Condition(make, len(powers), [*lasting, *lost], restarts)
    spans = [*(_in_force(f) for f in lasting), *(_lost(f, frame) for f in lost)]
    return walk([*powers, *spans], machine, limit, sorted(restarts))


def _in_force(fault: Fault) -> Steps:
    if fault.mode == "flapping":
        return flapping(fault.at, fault.until, fault.period, fault.off)
    return switched(fault.at, fault.until)


def _lost(fault: Fault, frame: int) -> Steps:
    return switched(fault.at, (fault.at // frame + fault.frames) * frame)


class _Condition:
    """Power, wholeness, start and hold-up of one thing; which soft faults a restart has ended."""

    def __init__(
        self, make: Make, powers: int, faults: Sequence[Fault], restarts: set[int]
    ) -> None:
        self.make, self.powers, self.faults, self.restarts = make, powers, faults, restarts
        self.up = False
        self.starts: int | None = None
        self.holds: int | None = None
        self.ended: frozenset[int] = frozenset()
        self.wake = NEVER

    def settle(self, values: list[Any]) -> tuple[bool, int]:
        powered, active = self._look(values)
        self.up = powered and self._whole(active)
        self._end(active, not powered)
        return self.up, self._mask(active)

    def step(self, now: int, values: list[Any]) -> tuple[bool, int]:
        powered, active = self._look(values)
        fine = powered and self._whole(active)
        again = fine and now in self.restarts
        self._end(active, again or not powered)
        if fine and self.holds is not None:
            self.holds = None
        if not fine:
            self._lose(now)
        elif again and self.make.start:
            self.up, self.starts = False, now + self.make.start
        elif not self.up:
            self.starts = now + self.make.start if self.starts is None else self.starts
            if now >= self.starts:
                self.up, self.starts = True, None
        self.wake = min(t for t in (self.starts, self.holds, NEVER) if t is not None)
        return self.up, self._mask(active)

    def marks(self, now: int, limit: int) -> Any:
        timers = left(self.starts, now, limit), left(self.holds, now, limit)
        return self.up, timers, self.starts is None, self.holds is None, self.ended

    def _look(self, values: list[Any]) -> tuple[bool, list[int]]:
        powered = not self.powers or any(values[: self.powers])
        return powered, [n for n, on in enumerate(values[self.powers :]) if on]

    def _lose(self, now: int) -> None:
        """Down at once; a circuit after its hold-up."""
        self.starts = None
        if self.up and self.make.circuit:
            self.holds = now + self.make.hold_up if self.holds is None else self.holds
            if now < self.holds:
                return
        self.up, self.holds = False, None

    def _whole(self, active: list[int]) -> bool:
        modes = {self.faults[n].mode for n in active}
        if modes & {"dead", "cut", "flapping", "tripped"}:
            return False
        return self._loss(active) <= self.make.margin + HARMLESS

    def _loss(self, active: list[int]) -> int:
        return sum(self.faults[n].loss for n in active if self.faults[n].mode == "attenuated")

    def _end(self, active: list[int], now: bool) -> None:
        if now:
            soft = (n for n in active if self.faults[n].mode in ENDED_BY_RESTART)
            self.ended |= {n for n in soft if not self.faults[n].hard}

    def _mask(self, active: list[int]) -> int:
        mask = BITS["corrupt"] if self._loss(active) > self.make.margin else 0
        for n in active:
            if n not in self.ended:
                mode = self.faults[n].mode
                mask |= STUCK if mode == "drops" else BITS.get(mode, 0)
        return mask
