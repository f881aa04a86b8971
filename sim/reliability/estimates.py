"""Estimates with their intervals: shares of shows, rates of events.

In: counts (of shows, events, hours) and a two-sided level such as 0.95. Out: frozen `Estimate`s in
the unit of what was counted. Nothing seen gives an upper bound, never a zero width. A count that
cannot be is a ValueError: it is the caller's mistake, no person wrote it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal
from math import hypot, inf, sqrt

from sim.reliability.quantiles import (
    beta_quantile,
    chi_square_quantile,
    gamma_quantile,
    normal_quantile,
    poisson_up_to,
    tail,
)

FEW = 50
"""With fewer hits or misses than this a share gets the exact interval, which covers rare ones."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its interval at a two-sided `level`, how it was got, and from how many shows.

    `shows` is 0 where the value rests on no shows (records, theory). An exact value is its own
    interval.
    """

    value: float
    low: float
    high: float
    level: float
    method: str
    shows: int = 0

    @property
    def exact(self) -> bool:
        return self.low == self.value == self.high

    @property
    def bound_only(self) -> bool:
        """Whether nothing was seen, so that only `high` says anything."""
        return self.value == 0 and self.high > 0


def exactly(value: float, level: float = 0.95, method: str = "exact") -> Estimate:
    """A value without doubt."""
    return Estimate(value, value, value, level, method)


# ---- shares --------------------------------------------------------------------------------------


def share(hits: int, shows: int, level: float = 0.95) -> Estimate:
    """The interval that the program uses for a share: exact where few were seen, else Wilson's.

    Wilson's alone covers a rare event in as few as 84 of 100 cases, and in under 94 up to some
    fifty hits.
    """
    few = min(hits, shows - hits) < FEW
    return clopper_pearson(hits, shows, level) if few else wilson(hits, shows, level)


def wilson(hits: int, shows: int, level: float = 0.95) -> Estimate:
    """The score interval of a share (Wilson 1927; Newcombe, Stat. Med. 17 (1998) 857, method 3)."""
    value = _counted(hits, shows)
    square = normal_quantile(1 - tail(level)) ** 2
    middle = (hits + square / 2) / (shows + square)
    half = sqrt(square * (hits * (shows - hits) / shows + square / 4)) / (shows + square)
    low = middle - half if hits else 0.0
    high = middle + half if hits < shows else 1.0
    return Estimate(value, low, high, level, "Wilson", shows)


def clopper_pearson(hits: int, shows: int, level: float = 0.95) -> Estimate:
    """The exact interval of a share (Clopper and Pearson 1934), by beta quantiles."""
    value, out = _counted(hits, shows), tail(level)
    low = beta_quantile(out, hits, shows - hits + 1) if hits else 0.0
    high = beta_quantile(1 - out, hits + 1, shows - hits) if hits < shows else 1.0
    return Estimate(value, low, high, level, "Clopper-Pearson", shows)


def share_at_most(hits: int, shows: int, level: float = 0.95) -> Estimate:
    """The exact one-sided upper bound of a share; `low` is 0."""
    value = _counted(hits, shows)
    high = beta_quantile(level, hits + 1, shows - hits) if hits < shows else 1.0
    return Estimate(value, 0.0, high, level, "Clopper-Pearson, one-sided", shows)


def _counted(hits: int, shows: int) -> float:
    if not 0 <= hits <= shows or shows < 1:
        raise ValueError(f"{hits} of {shows} shows: from none to all of at least one")
    return hits / shows


def difference(first: Estimate, second: Estimate) -> Estimate:
    """First less second, of independent estimates.

    For Wilson intervals: method 10 of Newcombe, Stat. Med. 17 (1998) 873.
    """
    return combination([(1.0, first), (-1.0, second)], "difference, squares added")


def combination(parts: Sequence[tuple[float, Estimate]], method: str) -> Estimate:
    """The weighted sum of independent estimates; distances to each limit add in squares.

    This is method 10 of Newcombe (1998) for any weights (Zou and Donner 2008, value from memory).
    Exact parts add no width. Raises ValueError where the levels differ.
    """
    levels = {part.level for _, part in parts}
    if len(levels) != 1:
        raise ValueError(f"levels {sorted(levels)}: one for all parts")
    value = sum(weight * part.value for weight, part in parts)
    below = hypot(*(_reach(weight, part)[0] for weight, part in parts))
    above = hypot(*(_reach(weight, part)[1] for weight, part in parts))
    shows = sum(part.shows for _, part in parts)
    return Estimate(value, value - below, value + above, levels.pop(), method, shows)


def _reach(weight: float, part: Estimate) -> tuple[float, float]:
    """How far a weighted part reaches below and above its value."""
    ends = sorted((weight * part.low, weight * part.high))
    return weight * part.value - ends[0], ends[1] - weight * part.value


def weighted_share(strata: Iterable[tuple[float, int, int]], level: float = 0.95) -> Estimate:
    """The share over strata, each (its probability, hits, shows sampled in it); see `share`.

    A stratum without a hit still widens the interval upward.
    """
    parts = [(weight, share(hits, shows, level)) for weight, hits, shows in strata]
    return combination(parts, "strata, squares added")


# ---- rates ---------------------------------------------------------------------------------------


def garwood(events: int, exposure: float = 1.0, level: float = 0.95) -> Estimate:
    """The exact interval of a Poisson rate per unit of exposure (Garwood, Biometrika 28 (1936))."""
    _exposed(events, exposure)
    out = tail(level)
    low = gamma_quantile(out, events) / exposure if events else 0.0
    high = gamma_quantile(1 - out, events + 1) / exposure
    return Estimate(events / exposure, low, high, level, "Garwood")


def garwood_at_most(events: int, exposure: float = 1.0, level: float = 0.95) -> Estimate:
    """The exact one-sided upper bound of a Poisson rate (Garwood 1936); `low` is 0."""
    _exposed(events, exposure)
    tail(level)
    high = gamma_quantile(level, events + 1) / exposure
    return Estimate(events / exposure, 0.0, high, level, "Garwood, one-sided")


def mtbf(hours: float, failures: int, level: float = 0.9, at_failure: bool = False) -> Estimate:
    """Mean hours between failures, by chi-square (NIST/SEMATECH e-Handbook 8.4.5.1).

    The watch ended at a chosen time, or, with `at_failure`, at the last failure. Without failures
    value and `high` are infinite and `low` is a bound.
    """
    _exposed(failures, hours)
    if at_failure and not failures:
        raise ValueError("a watch that ended at a failure has at least one")
    out = tail(level)
    low = 2 * hours / chi_square_quantile(1 - out, 2 * failures + (0 if at_failure else 2))
    value = hours / failures if failures else inf
    high = 2 * hours / chi_square_quantile(out, 2 * failures) if failures else inf
    return Estimate(value, low, high, level, "chi-square")


def _exposed(events: int, exposure: float) -> None:
    if events < 0 or not 0 < exposure < inf:
        raise ValueError(f"{events} events in {exposure!r}: at least none, in more than nothing")


def spares_for(mean: float, confidence: float) -> int:
    """The fewest spares that last with this confidence, the failures being Poisson of this mean."""
    if not (0 <= mean < inf and 0 < confidence < 1):
        raise ValueError(f"mean {mean!r}, confidence {confidence!r}: 0 or more; between 0 and 1")
    spares = 0
    while poisson_up_to(spares, mean) < confidence:
        spares += 1
    return spares


# ---- for people ----------------------------------------------------------------------------------


def one_in(found: Estimate) -> str:
    """A probability as `1 in 1 200 (1 in 900 to 1 in 1 700, 95 %)`; the band is rounded outward.

    Nothing seen reads `fewer than 1 in 400 (none seen, 95 %)`. Only an exact value is `never`.
    """
    level = f"{100 * found.level:g} %"
    if found.exact:
        return f"{_odds(found.value, ROUND_HALF_EVEN) if found.value else 'never'} (exact)"
    if found.bound_only:
        return f"fewer than {_odds(found.high, ROUND_FLOOR)} (none seen, {level})"
    often = _odds(found.high, ROUND_FLOOR)
    if found.low <= 0:
        return f"{_odds(found.value, ROUND_HALF_EVEN)} (at most {often}, {level})"
    rarely = _odds(found.low, ROUND_CEILING)
    return f"{_odds(found.value, ROUND_HALF_EVEN)} ({often} to {rarely}, {level})"


def _odds(probability: float, rounding: str) -> str:
    """`1 in N`, N to two digits; a probability above 1 counts as 1."""
    number = 1 / Decimal(repr(float(min(probability, 1.0))))
    shown = Context(prec=2, rounding=rounding).create_decimal(number)
    if shown == 1:
        return "1 in 1" if number == 1 or rounding == ROUND_FLOOR else "nearly 1 in 1"
    return f"1 in {shown:.1f}" if shown < 10 else f"1 in {int(shown):,}".replace(",", " ")
