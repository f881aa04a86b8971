"""What three faults or more on one cabinet do beyond each by itself: by theory's own functions.

In: a `Calculus`, cabinets with their kinds of blows (masses: mean numbers a show). Out: `Rest`:
pixel-flicks a show with a standard error. Histories are drawn with a fixed seed: a cabinet by area,
how many blows strike it, which and when; what they come to is worked out whole, instant by instant.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import accumulate, pairwise
from math import exp, lcm, lgamma, log
from random import Random

from sim.reliability.theory_blows import Struck
from sim.reliability.theory_cells import Screen, whole_dark
from sim.reliability.theory_pairs import Cabinets
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_steps import Joined, Steps, walk
from sim.timebase import FLICKS

FEWEST = 3
"""Up to two faults are summed exactly."""
PILOT, BATCH = 120, 600


@dataclass(frozen=True, slots=True)
class Rest:
    """Mean and standard error, pixel-flicks a show; how many histories they are of."""

    dark: float
    error: float
    histories: int


@dataclass(frozen=True, slots=True)
class Care:
    """Until the standard error is at most a part of a figure, or so many histories."""

    part: float = 0.007
    most: int = 30_000
    seed: int = 1


@dataclass(slots=True)
class _Hit:
    """One cabinet: what strikes it, before the show and in it."""

    name: str
    pixels: int
    early: list[Struck] = field(default_factory=list)
    late: list[Struck] = field(default_factory=list)

    def masses(self) -> tuple[float, float]:
        return _mass(self.early), _mass(self.late)


def _mass(hits: Sequence[Struck]) -> float:
    return sum(hit.blow.mass for hit in hits)


@dataclass(slots=True)
class _Stratum:
    """Histories with so many late blows (`late`; `LATE`: so many or more), early ones to make at
    least three. `weight`: pixels times chance, of each cabinet up to and with it.
    """

    late: int
    ends: list[float]
    count: int = 0
    total: float = 0.0
    squares: float = 0.0

    @property
    def weight(self) -> float:
        return self.ends[-1] if self.ends else 0.0

    @property
    def variance(self) -> float:
        """Of one history; where all were alike, as if the next one were not."""
        mean = self.total / self.count
        spread = self.squares / self.count - mean * mean
        return spread * self.count / (self.count - 1) if spread > 0 else 1.0 / self.count**2

    def add(self, value: float) -> None:
        self.count += 1
        self.total += value
        self.squares += value * value


LATE = 2
"""So many late blows or more are one stratum."""


def rest_of(on: Calculus, screen: Screen, cabinets: Cabinets, known: float, care: Care) -> Rest:
    """All of a group's cabinets. `known`: what is dark without these, pixel-flicks."""
    hits = [_hit(screen, cabinets, name) for name in cabinets.kinds]
    strata = [_stratum(hits, late) for late in range(LATE + 1)]
    strata = [each for each in strata if each.weight > 0]
    drawing = _Drawing(on, screen, cabinets, hits, Random(care.seed))
    for each in strata:
        drawing.more(each, PILOT)
    while strata and (found := _summed(strata, on.rig.length)).histories < care.most:
        if found.error <= care.part * abs(known + found.dark):
            break
        needs = [each.weight * each.variance**0.5 for each in strata]
        for each, need in zip(strata, needs, strict=True):
            drawing.more(each, round(BATCH * need / sum(needs)))
    return _summed(strata, on.rig.length) if strata else Rest(0.0, 0.0, 0)


def _summed(strata: Sequence[_Stratum], length: int) -> Rest:
    dark = sum(each.weight * each.total / each.count for each in strata)
    square = sum(each.weight**2 * each.variance / each.count for each in strata)
    return Rest(dark * length, square**0.5 * length, sum(each.count for each in strata))


def _hit(screen: Screen, cabinets: Cabinets, name: str) -> _Hit:
    hit = _Hit(name, sum(screen.areas[patch].pixels for patch in screen.patches[name]))
    for kind in cabinets.kinds[name]:
        (hit.early if kind.early else hit.late).extend(kind.members)
    return hit


def _stratum(hits: Sequence[_Hit], late: int) -> _Stratum:
    return _Stratum(late, list(accumulate(hit.pixels * _chance(hit, late) for hit in hits)))


def _chance(hit: _Hit, late: int) -> float:
    """The chance of so many late blows (of the last stratum: or more), and three in all."""
    early, mean = hit.masses()
    return sum(p * _tail(early, FEWEST - n) for n, p in _counts(mean, late, late == LATE))


@cache
def _counts(mean: float, least: int, more: bool) -> tuple[tuple[int, float], ...]:
    """Numbers from `least` on with their Poisson chances; one only unless `more`."""
    last = int(mean + 12 * mean**0.5) + least + 20 if more else least
    return tuple((n, _poisson(n, mean)) for n in range(least, last + 1))


def _poisson(number: int, mean: float) -> float:
    return exp(number * log(mean) - mean - lgamma(number + 1)) if mean else float(number == 0)


@cache
def _tail(mean: float, least: int) -> float:
    """The chance of at least so many."""
    return sum(chance for _, chance in _counts(mean, max(least, 0), True))


class _Drawing:
    """Histories one by one; what is worked out for one is forgotten after it."""

    def __init__(
        self, on: Calculus, screen: Screen, cabinets: Cabinets, hits: Sequence[_Hit], rng: Random
    ) -> None:
        self.on, self.screen, self.cabinets, self.hits, self.rng = on, screen, cabinets, hits, rng
        self.ends = {
            (hit.name, early): list(accumulate(h.blow.mass for h in of))
            for hit in hits
            for early, of in ((True, hit.early), (False, hit.late))
        }

    def more(self, of: _Stratum, count: int) -> None:
        for _ in range(count):
            hit = self.hits[bisect_left(of.ends, self.rng.random() * of.weight)]
            of.add(self._beyond(hit, self._history(hit, of.late)))

    def _history(self, hit: _Hit, late: int) -> list[tuple[Struck, int]]:
        """What strikes, and when (flicks; early ones at 0)."""
        early, mean = hit.masses()
        chances = [(n, p * _tail(early, FEWEST - n)) for n, p in _counts(mean, late, late == LATE)]
        many = self._chosen(chances)
        before = self._chosen(list(_counts(early, max(FEWEST - many, 0), True)))
        length = self.on.rig.length
        struck = [(self._one(hit, True), 0) for _ in range(before)]
        return struck + [(self._one(hit, False), self.rng.randrange(length)) for _ in range(many)]

    def _chosen(self, chances: Sequence[tuple[int, float]]) -> int:
        ends = list(accumulate(chance for _, chance in chances))
        return chances[min(bisect_left(ends, self.rng.random() * ends[-1]), len(ends) - 1)][0]

    def _one(self, hit: _Hit, early: bool) -> Struck:
        ends, of = self.ends[hit.name, early], hit.early if early else hit.late
        return of[min(bisect_left(ends, self.rng.random() * ends[-1]), len(of) - 1)]

    def _beyond(self, hit: _Hit, history: Sequence[tuple[Struck, int]]) -> float:
        """The share of the show and of the cabinet that is dark beyond (or, below 0, short of)
        what each blow by itself makes dark.
        """
        clock = clock_of(history, self.on.rig.length)
        drawn = [(one, at) for (one, _), at in zip(history, clock.at, strict=True)]
        with forgetting(self.on, self.screen):
            faults = tuple(fault for one, at in drawn for fault in one.blow.at(at))
            failing = frozenset[str]().union(*(one.blow.failing for one, _ in drawn))
            within = self.cabinets.cones[hit.name].within
            found = self.on.under(faults, failing, within)
            total = 0.0
            for patch in self.screen.patches[hit.name]:
                area = self.screen.areas[patch]
                line = self.screen.darkness(self.screen.quality(found, hit.name, area.stack))
                total += area.pixels * self._more(self.on.steps[line], patch, drawn, clock)
            return total / hit.pixels

    def _more(
        self, line: Steps, patch: int, drawn: Sequence[tuple[Struck, int]], clock: Clock
    ) -> float:
        steps = self.on.steps
        alone = [shifted(steps[one.dark[patch]], at) for one, at in drawn if patch in one.dark]
        apart = clock.dark(walk(alone, Joined(_any), self.on.limit)) if alone else 0
        return (clock.dark(line) - apart) / self.on.rig.length


@dataclass(frozen=True, slots=True)
class Clock:
    """A history with its long calm times cut short, by whole turns of what comes and goes.

    `at`: when its blows strike then; `length`: of the show then; `cuts`: where something was cut
    out, and how much (flicks), in which all goes on as in the turn (`turn`) before.
    """

    at: tuple[int, ...]
    length: int
    turn: int
    cuts: tuple[tuple[int, int], ...]

    def dark(self, line: Steps) -> float:
        """How long it is dark in the whole show."""
        found = float(whole_dark(line, self.length))
        for at, extra in self.cuts:
            last = whole_dark(line, at) - whole_dark(line, at - self.turn)
            found += extra * last / self.turn
        return found


CALM = 180 * FLICKS
"""So much longer than it takes the blow before it, twice, to settle by itself a calm time stays."""


def clock_of(history: Sequence[tuple[Struck, int]], length: int) -> Clock:
    """Nothing is cut where nothing comes and goes."""
    loose = [f.period for one, _ in history for f in one.blow.faults if f.mode == "flapping"]
    if not loose:
        return Clock(tuple(at for _, at in history), length, FLICKS, ())
    turn = lcm(FLICKS, *loose)
    settled: dict[int, int] = {0: 0}
    for one, at in history:
        settled[at] = max(settled.get(at, 0), one.settled)
    known, gone, cuts = {0: 0}, 0, []
    for before, at in pairwise(sorted(settled)):
        stays = -(-(2 * settled[before] + CALM) // turn) * turn
        extra = max(at - before - stays, 0) // turn * turn
        gone += extra
        known[at] = at - gone
        cuts += [(at - gone, extra)] if extra else []
    return Clock(tuple(known[at] for _, at in history), length - gone, turn, tuple(cuts))


def _any(*dark: bool) -> bool:
    return any(dark)


def shifted(line: Steps, at: int) -> Steps:
    """A function of the time since a strike, of a strike at a flick; not so before it."""
    if not at:
        return line
    return Steps((-1, *(t + at for t in line.times[1:])), line.values, line.start + at, line.period)


class forgetting:  # noqa: N801
    """What a calculus works out within is forgotten after it."""

    def __init__(self, on: Calculus, screen: Screen) -> None:
        self.on, self.screen = on, screen
        self.sizes = len(on.known), len(on.steps), on.limit

    def __enter__(self) -> None:
        self.on.limit = self.on.rig.length

    def __exit__(self, *_: object) -> None:
        known, steps, self.on.limit = self.sizes
        while len(self.on.known) > known:
            self.on.known.popitem()
        while len(self.on.steps) > steps:
            del self.on.numbers[self.on.steps.pop()]
            self.screen.shows.pop(len(self.on.steps), None)
