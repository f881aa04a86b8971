"""Units that run, fail and are mended, as a SimPy model with the crew discipline of shows.

In: a `Plant` (rates per hour, repair times as a law in flicks), each unit's draws. Out: a `Course`,
one run of it, step by step; what it adds up is in flicks. Technicians, turns and the clock (whole
flicks) are those of `response.Workshop`. Each unit draws from streams of its own, keyed by seed and
name, so that another unit or another crew leaves its lives and repairs alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from sim.rig.terms import Law
from sim.risk.laws import draw
from sim.risk.response import Steps, workshop
from sim.risk.streams import stream
from sim.timebase import to_flicks

BLOCK = 256
"""Uniform numbers drawn at a time."""


@dataclass(frozen=True, slots=True)
class Plant:
    """Alike units of which `needed` must work; each fails at `fails` per hour while it runs.

    `mends`: how long a repair takes; `crews`: technicians (0: nothing is mended); `running`: at
    most so many run, the others stand by and do not fail (None: all run); `covered`: the chance
    that a failure which the plant would survive is survived: else it is down until that unit is
    mended.
    """

    units: int
    fails: float
    mends: Law
    crews: int
    needed: int = 1
    running: int | None = None
    covered: float = 1.0

    def __post_init__(self) -> None:
        enough = self.running is None or self.needed <= self.running <= self.units
        if not (1 <= self.needed <= self.units and enough and self.crews >= 0):
            raise ValueError(f"{self}: units, needed, running or crews")
        if not (0 < self.fails < float("inf") and 0 <= self.covered <= 1):
            raise ValueError(f"{self}: fails above 0 and finite, covered from 0 to 1")


def uniforms(seed: int, name: str) -> Iterator[float]:
    """An endless stream of uniform numbers from 0 to below 1, by seed and name."""
    source = stream(seed, name)
    while True:
        yield from source.random(BLOCK).tolist()


@dataclass(frozen=True, slots=True)
class Unit:
    """What one unit draws; times in flicks."""

    rank: int
    life: Callable[[], int]
    repair: Callable[[], int]
    is_covered: Callable[[], bool]


def units_of(plant: Plant, seed: int) -> list[Unit]:
    """What each unit of a plant draws."""
    life = Law("exponential", to_flicks(3600 / plant.fails))
    return [_unit(plant, life, seed, number) for number in range(plant.units)]


def _unit(plant: Plant, life: Law, seed: int, number: int) -> Unit:
    lives, repairs, covers = (
        uniforms(seed, f"unit {number + 1}: {what}") for what in ("life", "repair", "cover")
    )
    return Unit(
        number,
        lambda: draw(life, next(lives)),
        lambda: draw(plant.mends, next(repairs)),
        lambda: plant.covered >= 1 or next(covers) < plant.covered,
    )


@dataclass(slots=True)
class Sums:
    """What adds up between two instants at which all units work; flicks, and unit failures."""

    length: int = 0
    down: int = 0
    all_up: int = 0
    unit_time: int = 0
    away: int = 0
    waiting: int = 0
    failures: int = 0


class Course:
    """One run of a plant, from all units working; what it adds up is in flicks.

    `firsts`: the first lives of units, by number, in place of drawn ones.
    """

    def __init__(self, plant: Plant, units: Sequence[Unit], firsts: Sequence[int] = ()) -> None:
        self.plant = plant
        self.shop = workshop(plant.crews)
        self.places = None if plant.running is None else self.shop.beside(plant.running)
        self.since = self.broken = self.failures = 0
        self.uncovered: set[int] = set()
        self.works = True
        self.sums = Sums()
        for unit in units:
            first = firsts[unit.rank] if unit.rank < len(firsts) else None
            self.shop.env.process(self._live(unit, first))

    def step(self) -> None:
        """Do what is due next."""
        self.shop.env.step()

    @property
    def now(self) -> int:
        return int(self.shop.env.now)

    def run(self, until: int) -> None:
        """Do all that is due up to a flick, that flick included."""
        while self.shop.env.peek() <= until:
            self.step()

    def _live(self, unit: Unit, first: int | None) -> Steps:
        """A unit runs, fails, is mended, for ever."""
        while True:
            yield from self._running(unit, first)
            first = None
            self._fails(unit)
            if not self.plant.crews:
                return
            failed = self.now
            yield from self.shop.attend(unit.rank, partial(self._repair, unit, failed))
            self._mended(unit, failed)

    def _running(self, unit: Unit, first: int | None) -> Steps:
        if self.places is None:
            yield self.shop.pause(unit.life() if first is None else first, unit.rank)
            return
        life = partial(_one, unit.life if first is None else lambda: first)
        yield from self.places.attend(unit.rank, life)

    def _repair(self, unit: Unit, failed: int, now: int) -> Iterator[int]:
        self.sums.waiting += now - failed
        yield unit.repair()

    def _fails(self, unit: Unit) -> None:
        self._pass()
        self.broken += 1
        self.sums.failures += 1
        survives = self.works and self._enough()
        if survives and not unit.is_covered():
            self.uncovered.add(unit.rank)
        self._judge()

    def _mended(self, unit: Unit, failed: int) -> None:
        self._pass()
        self.broken -= 1
        self.uncovered.discard(unit.rank)
        self.sums.away += self.now - failed
        self._judge()

    def _enough(self) -> bool:
        return self.plant.units - self.broken >= self.plant.needed

    def _judge(self) -> None:
        worked, self.works = self.works, self._enough() and not self.uncovered
        self.failures += worked and not self.works

    def _pass(self) -> None:
        """Add up the time since the last change."""
        past, self.since = self.now - self.since, self.now
        self.sums.length += past
        self.sums.down += 0 if self.works else past
        self.sums.all_up += 0 if self.broken else past
        self.sums.unit_time += self.broken * past


def _one(draw_it: Callable[[], int], now: int) -> Iterator[int]:
    """One part of work, drawn when it begins."""
    yield draw_it()
