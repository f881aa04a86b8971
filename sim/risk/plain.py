"""Plain sampling, to hold the strata against: shows as they come, the empty ones left out.

In: the work of some topologies, how many shows with at least one fault. Out: frozen sums over
them, estimates with intervals, and how both ways compare. Whether a show is empty has an exact
probability, so that an estimate is that of the shows with a fault, times their probability: never
wider than a share of all shows, the empty ones counted. Shows are drawn and worked out in batches
that are forgotten once they are added up; how they are cut does not depend on the processes.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import reduce
from math import expm1, inf, sqrt
from time import monotonic, process_time

import numpy as np

from sim import executing
from sim.executing import Json
from sim.reliability.estimates import Estimate, share
from sim.reliability.strata import Stratum, weighted_mean
from sim.risk.bench import Alone, Extra, Several, Topologies
from sim.risk.montecarlo import doubt
from sim.risk.parcels import table_read, table_said
from sim.risk.piles import Sampling as Strata
from sim.risk.results import Sampling
from sim.risk.shows import Show, Union, natural
from sim.risk.streams import Floats
from sim.risk.values import CHANCE, Value

BATCH = 50_000
LEAST, CUTS = 1000, 16
"""Shows in a batch: at most, at least, and into how many batches few shows are cut."""
SEEN = 20
"""A chance seen so often has a variance of its own; that of a rarer one comes from theory."""
Told = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Batch:
    """Shows to draw: the `number` of the batch names its streams. `main`: the topology that others
    are held against.
    """

    seed: int
    number: int
    count: int
    main: int


@dataclass(frozen=True, slots=True)
class Sums:
    """Over so many shows with a fault, by topology and value: sums, sums of squares, and the same
    of what each topology has more than the main one. `seconds`: of processor time.
    """

    shows: int
    sums: Floats
    squares: Floats
    more: Floats
    more_squares: Floats
    seconds: float

    def __add__(self, other: Sums) -> Sums:
        return Sums(
            self.shows + other.shows,
            self.sums + other.sums,
            self.squares + other.squares,
            self.more + other.more,
            self.more_squares + other.more_squares,
            self.seconds + other.seconds,
        )


@dataclass(frozen=True, slots=True)
class Plain:
    """What plain sampling found. `struck`: the exact probability of a show with a fault."""

    values: tuple[tuple[Value, ...], ...]
    struck: float
    sums: Sums | None
    finished: bool

    @property
    def shows(self) -> int:
        return self.sums.shows if self.sums else 0


def struck_chance(union: Union) -> float:
    """The exact probability that a show has at least one fault."""
    return -expm1(-union.mass)


def plainly(
    work: Alone | Several, seed: int, shows: int, main: int, told: Told = lambda label: None
) -> Plain:
    """So many shows with at least one fault. An interruption ends it early; what was added up
    until then counts.
    """
    found: list[Sums] = []
    begun, finished = monotonic(), True
    shape = len(work.fields), len(work.fields[0].values)
    plain = replace(SUMS, fits=lambda of, made: (made.shows, made.sums.shape) == (of.count, shape))
    try:
        for sums in work.each(Extra("plain", added_up, plain), batches(seed, shows, main)):
            found.append(sums)
            done = sum(each.shows for each in found)
            left = (monotonic() - begun) * (shows / done - 1)
            told(f"plainly, {done} of {shows} with a fault, {left:.0f} s left,")
    except KeyboardInterrupt:
        finished = False
    values = tuple(field.values for field in work.fields)
    sums_ = reduce(lambda one, other: one + other, found) if found else None
    return Plain(values, struck_chance(work.union), sums_, finished)


def batches(seed: int, shows: int, main: int) -> list[Batch]:
    """The same whatever the number of processes."""
    size = min(BATCH, max(LEAST, -(-shows // CUTS)))
    begins = range(0, shows, size)
    return [Batch(seed, n, min(size, shows - at), main) for n, at in enumerate(begins)]


def added_up(known: Topologies, of: Batch) -> Sums:
    """One batch, drawn, worked out for every topology, added up."""
    begun = process_time()
    shows = drawn(known.union, of)
    tables = np.array([field.table(field.rows(shows)) for field in known.fields])
    more = tables - tables[of.main]
    spent = process_time() - begun
    return Sums(
        len(shows), tables.sum(axis=1), (tables**2).sum(axis=1),
        more.sum(axis=1), (more**2).sum(axis=1), spent,
    )  # fmt: skip


def _said(of: Sums) -> Json:
    return [of.shows, of.seconds.hex(), *map(table_said, _tables(of))]


def _tables(of: Sums) -> tuple[Floats, ...]:
    return of.sums, of.squares, of.more, of.more_squares


def _read(said: Json) -> Sums:
    """Raises ValueError for what are no sums."""
    try:
        shows, seconds, *tables = said
        sums, squares, more, others = map(table_read, tables)
        found = Sums(int(shows), sums, squares, more, others, float.fromhex(seconds))
    except (TypeError, OverflowError) as error:
        raise ValueError("no sums") from error
    if found.shows < 1 or len({each.shape for each in _tables(found)}) > 1:
        raise ValueError("no sums of shows")
    return found


SUMS = executing.Plain(_said, _read)


def drawn(union: Union, of: Batch) -> list[Show]:
    """The first shows with a fault of an endless row of shows."""
    tries = int(of.count / struck_chance(union) * 1.02) + 100
    while True:
        found = natural(union, of.seed, tries, label=f"plain {of.number}")
        if len(found) >= of.count:
            return found[: of.count]
        tries *= 2


# ---- estimates -----------------------------------------------------------------------------------


def estimate(of: Plain, topology: int, value: int, level: float = 0.95) -> Estimate:
    """One value of one topology. Raises ValueError if nothing was worked out."""
    if of.sums is None:
        raise ValueError("no shows: nothing to estimate from")
    asked = of.values[topology][value]
    if asked.kind == CHANCE:
        found = share(int(of.sums.sums[topology, value]), of.shows, level)
        return replace(
            found,
            value=found.value * of.struck,
            low=found.low * of.struck,
            high=found.high * of.struck,
            method=f"plain, {found.method}",
        )
    mean, variance = _moments(of.sums.sums, of.sums.squares, topology, value, of.shows)
    return _mean(of, mean, variance, asked.most, 0.0, level)


def more(of: Plain, topology: int, value: int, level: float = 0.95) -> Estimate:
    """How much more of a value a topology has than the main one, in the same shows."""
    if of.sums is None:
        raise ValueError("no shows: nothing to estimate from")
    most = of.values[topology][value].most
    mean, variance = _moments(of.sums.more, of.sums.more_squares, topology, value, of.shows)
    found = _mean(of, mean, variance, most, -most, level)
    return replace(found, method="plain, paired")


def _mean(
    of: Plain, mean: float, variance: float, most: float, least: float, level: float
) -> Estimate:
    stratum = Stratum(of.struck, of.shows, mean, variance, least, most)
    return replace(weighted_mean([stratum], level), method="plain, Student")


def _moments(
    sums: Floats, squares: Floats, topology: int, value: int, shows: int
) -> tuple[float, float]:
    """Mean and variance of one show with a fault."""
    mean = float(sums[topology, value]) / shows
    square = float(squares[topology, value]) - shows * mean**2
    return mean, max(square, 0.0) / max(shows - 1, 1)


# ---- both ways -----------------------------------------------------------------------------------


def compared(strata: Strata, seconds: float, plain: Plain) -> Iterator[Sampling]:
    """Every chance of every topology both ways; `seconds` of processor time of the strata."""
    if plain.sums is None:
        return
    for topology, field in enumerate(strata.fields):
        for place, value in enumerate(field.values):
            mean = strata.mean(topology, place)
            if value.kind != CHANCE or mean <= 0:
                continue
            hits = int(plain.sums.sums[topology, place])
            part = hits / plain.shows if hits >= SEEN else min(mean / plain.struck, 1.0)
            variances = (
                (strata.error(topology, place) or doubt(strata, topology, place)) ** 2,
                plain.struck**2 * part * (1 - part) / plain.shows,
            )
            spent = (seconds, plain.sums.seconds)
            yield Sampling(
                field.label, value.name, (strata.shows, plain.shows), spent, variances,
                gain(variances, spent), by_theory=hits < SEEN,
            )  # fmt: skip


def gain(variances: tuple[float, float], seconds: tuple[float, float]) -> float:
    """How many times the second variance is the first at equal processor time."""
    first, second = (v * s for v, s in zip(variances, seconds, strict=True))
    return second / first if first else inf


def spent() -> float:
    """Seconds of processor time of this process and of those that it started and that ended."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def error(of: Plain, topology: int, value: int) -> float:
    """The standard error of an estimate, by what was seen."""
    if of.sums is None:
        return inf
    _, variance = _moments(of.sums.sums, of.sums.squares, topology, value, of.shows)
    return of.struck * sqrt(variance / of.shows)
