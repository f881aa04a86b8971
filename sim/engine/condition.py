"""How one thing fares: whole or not, powered or not, starting, kept up by a hold-up, sick.

In: the faults that hold on it now, whether it is powered now. Out: its `Condition` moved on to
this instant, and when it must be looked at again. Rules R3 and R4 of DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field

from sim.faults import ENDED_BY_RESTART, SOFT_CAPS, Fault, Quality
from sim.rig.topology import Thing

GOOD = int(Quality.GOOD)
CORRUPT = int(Quality.CORRUPT)
LIMIT_ABOVE_MARGIN = 1000
"""Thousandths of a dB beyond the margin up to which a fibre is corrupt and not yet dead."""
DEADLY = frozenset({"dead", "cut", "tripped"})

Later = Callable[[int], None]
Use = Callable[[str], int]
"""Gives the value of a timing key in flicks, and takes note that it mattered."""


@dataclass(slots=True)
class Condition:
    """`faults`: those that hold, by number in the script; `off`: those flapping ones that are in
    their off part.
    """

    thing: Thing
    up: bool = True
    cap: int = GOOD
    stuck: bool = False
    faults: dict[int, Fault] = field(default_factory=dict)
    off: set[int] = field(default_factory=set)
    restarted: bool = False
    started: int | None = None
    unfed: int | None = None

    @property
    def faultless(self) -> bool:
        """Whether nothing that is struck limits it (a light too weak without any fault does)."""
        return not self.faults and self.thing.margin >= 0

    @property
    def alive(self) -> bool:
        if self.faultless:
            return not self.off
        return not (self.off or any(f.mode in DEADLY for f in self.faults.values()) or self._dim)

    @property
    def _loss(self) -> int:
        return sum(f.loss for f in self.faults.values() if f.mode == "attenuated")

    @property
    def _dim(self) -> bool:
        return self._loss > self.thing.margin + LIMIT_ABOVE_MARGIN

    def cap_for(self, feels: frozenset[str]) -> int:
        """The cap of a node that feels only some of what its thing has; a dim fibre is corrupt."""
        caps = [
            int(SOFT_CAPS[f.mode])
            for f in self.faults.values()
            if f.mode in feels & SOFT_CAPS.keys()
        ]
        if "corrupt" in feels and self._loss > self.thing.margin:
            caps.append(CORRUPT)
        return min(caps, default=GOOD)

    def sicken(self) -> None:
        """Work out what its soft faults leave of a signal."""
        if self.faultless:
            self.cap, self.stuck = GOOD, False
            return
        caps = [SOFT_CAPS[f.mode] for f in self.faults.values() if f.mode in SOFT_CAPS]
        if self._loss > self.thing.margin:
            caps.append(Quality.CORRUPT)
        self.cap = int(min(caps, default=Quality.GOOD))
        self.stuck = any(f.mode in ("stuck", "drops") for f in self.faults.values())


def settle(condition: Condition, powered: bool) -> None:
    """Before time 0 there is no start and no hold-up: up if whole and powered."""
    if not powered:
        _restart_cures(condition)
    condition.sicken()
    condition.up = condition.alive and powered


def work_out(condition: Condition, now: int, powered: bool, use: Use, later: Later) -> None:
    """Move a thing on to `now`. `use` gives a timing in flicks, `later` hears when to look."""
    restarted, condition.restarted = condition.restarted, False
    live = condition.alive and powered
    if not powered or (restarted and live):
        _restart_cures(condition)
    condition.sicken()
    if not live:
        _fall(condition, now, use, later)
    elif restarted and use(condition.thing.start):
        condition.up, condition.started = False, now
        later(now + use(condition.thing.start))
    else:
        _rise(condition, now, use, later)


def _restart_cures(condition: Condition) -> None:
    cured = [n for n, f in condition.faults.items() if f.mode in ENDED_BY_RESTART and not f.hard]
    for number in cured:
        del condition.faults[number]


def _fall(condition: Condition, now: int, use: Use, later: Later) -> None:
    condition.started = None
    if not condition.up:
        return
    hold = use(condition.thing.hold_up)
    if condition.unfed is None:
        condition.unfed = now
    if now - condition.unfed >= hold:
        condition.up, condition.unfed = False, None
    else:
        later(condition.unfed + hold)


def _rise(condition: Condition, now: int, use: Use, later: Later) -> None:
    condition.unfed = None
    if condition.up:
        return
    start = use(condition.thing.start)
    if condition.started is None:
        condition.started = now
    if now - condition.started >= start:
        condition.up, condition.started = True, None
    else:
        later(condition.started + start)


def ask_again(condition: Condition, values: Mapping[str, int], later: Later) -> None:
    """Tell `later` what the thing is still waiting for."""
    if condition.unfed is not None:
        later(condition.unfed + values[condition.thing.hold_up])
    if condition.started is not None:
        later(condition.started + values[condition.thing.start])


def mark(condition: Condition, now: int, held: bool = False) -> Hashable:
    """All that its future depends on, with times counted from `now`; of what is held up not the
    time that is left.
    """
    unfed = None if held else condition.unfed
    times = tuple(t if t is None else t - now for t in (condition.started, unfed))
    return (condition.up, tuple(condition.faults), tuple(condition.off), *times)


def powered(feeds: Iterable[bool]) -> bool:
    """Whether a thing is powered, from whether each of what powers it is up; nothing named: it
    needs no power.
    """
    states = list(feeds)
    return not states or any(states)
