"""How long units that fail and are mended keep something going: simulation, to hold against theory.

In: a `Plant`, a seed. Out: frozen results in hours, with standard errors.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import expm1, log1p, sqrt

import numpy as np

from sim.risk.plants import Course, Plant, Sums, Unit, uniforms, units_of
from sim.timebase import FLICKS, to_flicks

HOUR = 3600 * FLICKS


@dataclass(frozen=True, slots=True)
class Found:
    """A mean and its standard error."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Upkeep:
    """A long run from all units working to all working, `cycles` times over.

    Hours: the whole, `down` of it with the plant not working; `failures` of the plant, and of
    units (`unit_failures`). Shares of time: `unavailable` (plant down), `all_up`. `units_down`:
    mean number; `away`: mean hours from a unit's failure until it is mended; `waiting`: of these
    until a technician is free.
    """

    hours: float
    cycles: int
    down: float
    failures: int
    unit_failures: int
    unavailable: Found
    all_up: Found
    units_down: Found
    away: Found
    waiting: Found


# ---- what is asked of it -------------------------------------------------------------------------


def lives(plant: Plant, count: int, seed: int) -> tuple[float, ...]:
    """Hours from all units working to the plant's first failure, `count` times over."""
    units = units_of(plant, seed)
    return tuple(_life(plant, units) for _ in range(count))


def _life(plant: Plant, units: Sequence[Unit]) -> float:
    course = Course(plant, units)
    while not course.failures:
        course.step()
    return course.now / HOUR


def mean_of(values: Sequence[float]) -> Found:
    """The mean of independent values, at least two."""
    array = np.asarray(values, dtype=float)
    return Found(float(array.mean()), float(array.std(ddof=1)) / sqrt(len(array)))


def share_over(values: Sequence[float], hours: float) -> Found:
    """The share of independent values beyond so many hours."""
    return mean_of([value > hours for value in values])


def down_after(plant: Plant, hours: float, count: int, seed: int) -> Found:
    """The chance that the plant does not work so many hours after all units did.

    Only runs in which some unit fails by then are simulated, `count` of them; that none fails has
    an exact chance, and then the plant works.
    """
    units, starts = units_of(plant, seed), uniforms(seed, "first failure")
    rate = plant.fails * (plant.running or plant.units)
    some = -expm1(-rate * hours)
    down = [_is_down(plant, units, starts, some, hours) for _ in range(count)]
    share = mean_of(down)
    return Found(some * share.value, some * share.error)


def _is_down(
    plant: Plant, units: Sequence[Unit], starts: Iterator[float], some: float, hours: float
) -> bool:
    """One run, its first failure before `hours`; the others' lives begin anew with it."""
    running = plant.running or plant.units
    at = to_flicks(-log1p(-next(starts) * some) / (plant.fails * running) * 3600)
    who = int(next(starts) * running)
    firsts = [at if unit.rank == who else at + unit.life() for unit in units[:running]]
    course = Course(plant, units, firsts)
    course.run(to_flicks(hours * 3600))
    return not course.works


def long_run(plant: Plant, cycles: int, seed: int) -> Upkeep:
    """A long run, of so many cycles (at least two): each ends when all units work again.

    Standard errors by the regenerative method (ratios of sums over independent cycles). Raises
    ValueError where nothing is mended.
    """
    if not plant.crews or cycles < 2:
        raise ValueError(f"{plant.crews} crews, {cycles} cycles: at least one, at least two")
    course, rows = Course(plant, units_of(plant, seed)), list[tuple[float, ...]]()
    while len(rows) < cycles:
        course.step()
        if course.sums.failures and not course.broken:
            rows.append(_row(course.sums))
            course.sums = Sums()
    return _summed(np.array(rows), course.failures)


def _row(sums: Sums) -> tuple[float, ...]:
    times = (sums.length, sums.down, sums.all_up, sums.unit_time, sums.away, sums.waiting)
    return (*(time / HOUR for time in times), float(sums.failures))


def _summed(rows: np.ndarray[tuple[int, int], np.dtype[np.float64]], failures: int) -> Upkeep:
    length, down, all_up, unit_time, away, waiting, unit_failures = rows.T
    return Upkeep(
        hours=float(length.sum()),
        cycles=len(length),
        down=float(down.sum()),
        failures=failures,
        unit_failures=int(unit_failures.sum()),
        unavailable=_ratio(down, length),
        all_up=_ratio(all_up, length),
        units_down=_ratio(unit_time, length),
        away=_ratio(away, unit_failures),
        waiting=_ratio(waiting, unit_failures),
    )


Column = np.ndarray[tuple[int], np.dtype[np.float64]]


def _ratio(above: Column, below: Column) -> Found:
    value = float(above.sum() / below.sum())
    spread = float(np.std(above - value * below, ddof=1))
    return Found(value, spread * sqrt(len(above)) / float(below.sum()))
