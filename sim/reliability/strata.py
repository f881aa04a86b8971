"""Means over strata, with their intervals.

In: what was seen in each stratum of shows, a two-sided level such as 0.95. Out: frozen `Estimate`s
in the unit of what was counted. What cannot be is a ValueError.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt

from sim.reliability.estimates import FEW, Estimate, clopper_pearson
from sim.reliability.quantiles import gamma_quantile, student_quantile, tail

VERY_FEW = 20
"""Up to so many shows of equal weight that differ, an interval holds the truth at least as often as
it says; with more, as often on average.
"""


@dataclass(frozen=True, slots=True)
class Stratum:
    """What was seen in one stratum: its probability, shows sampled (0: `mean` is exact), the mean
    and sample variance of one show's value, and the least and most that a show can have.

    `freedom`: degrees of freedom of the variance (0: one less than the shows). `above` and `below`:
    how many shows have more and less than most shows have; (0, 0) where nobody counted. `step`: how
    many times as much as one of these another show may count at most.
    """

    weight: float
    shows: int
    mean: float
    variance: float = 0.0
    least: float = 0.0
    most: float = inf
    freedom: float = 0.0
    above: float = 0
    below: float = 0
    step: float = 1.0

    @property
    def error(self) -> float:
        """What it adds to the standard error."""
        return self.weight * sqrt(self.variance / self.shows)

    @property
    def few(self) -> bool:
        """Whether only a few shows differ from the others."""
        return self.variance > 0 and 0 < self.above + self.below < FEW


def stratum(weight: float, values: Sequence[float], most: float, least: float = 0.0) -> Stratum:
    """A stratum from the values of its shows; the variance divides by one less than their number.

    Raises ValueError for fewer than two.
    """
    shows = len(values)
    if shows < 2:
        raise ValueError(f"{shows} shows in a stratum: at least two")
    mean = sum(values) / shows
    variance = sum((value - mean) ** 2 for value in values) / (shows - 1)
    return Stratum(weight, shows, mean, variance, least, most)


def weighted_mean(strata: Sequence[Stratum], level: float = 0.95) -> Estimate:
    """The mean over strata with Student's interval, Satterthwaite's degrees of freedom.

    A sampled stratum whose shows were all alike may hide others: it adds what shows at `least` or
    `most` would, seen in none (exact bound of a share). Raises ValueError where that has no end.
    Those of whose shows only a few differ are taken together, by how many these are (`_rare`).
    """
    value = sum(s.weight * s.mean for s in strata)
    sampled = [s for s in strata if s.shows]
    half = _student_half([s for s in sampled if s.variance > 0 and not s.few], level)
    parts = [_hidden(s, level) for s in sampled if s.variance == 0]
    parts.append(_rare([s for s in sampled if s.few], level))
    below = hypot(half, *(one[0] for one in parts))
    above = hypot(half, *(one[1] for one in parts))
    shows = sum(s.shows for s in strata)
    return Estimate(value, value - below, value + above, level, "strata, Student", shows)


def _student_half(strata: Sequence[Stratum], level: float) -> float:
    if not strata:
        return 0.0
    parts = [(s.error**2, s.freedom or s.shows - 1) for s in strata]
    total = sum(part for part, _ in parts)
    freedom = total**2 / sum(part**2 / free for part, free in parts)
    return student_quantile(1 - tail(level), freedom) * sqrt(total)


def _hidden(found: Stratum, level: float) -> tuple[float, float]:
    """How far shows that were not seen may pull the mean down and up."""
    if not isfinite(found.most):
        raise ValueError("all shows of a stratum alike: say the most that a show can have")
    unseen = found.weight * clopper_pearson(0, found.shows, level).high
    return unseen * (found.mean - found.least), unseen * (found.most - found.mean)


def _rare(strata: Sequence[Stratum], level: float) -> tuple[float, float]:
    """How far below and above the mean may lie where few shows differ: those that have more and
    those that have less as weighted sums of Poisson counts, their distances added in squares.
    """
    if not strata:
        return 0.0, 0.0
    each = [s.error / sqrt(s.above + s.below) for s in strata]
    step = max(one * max(s.step, 1.0) for one, s in zip(each, strata, strict=True))
    up = _reach([(one, s.above) for one, s in zip(each, strata, strict=True)], step, level)
    down = _reach([(one, s.below) for one, s in zip(each, strata, strict=True)], step, level)
    return hypot(up[0], down[1]), hypot(up[1], down[0])


def _reach(counts: Sequence[tuple[float, float]], step: float, level: float) -> tuple[float, float]:
    """How far a sum of Poisson counts, each with its weight, reaches below and above what was seen,
    if one count more adds `step` at most (the gamma interval of Fay and Feuer, Stat. Med. 16 (1997)
    791, from memory; of one count Garwood's). Where more than `VERY_FEW` of equal weight
    were seen, another one is of the mean weight (as Tiwari, Clegg and Zou 2006 have it, from
    memory), and each limit is half of it further in.
    """
    total = sum(weight * count for weight, count in counts)
    variance = sum(weight**2 * count for weight, count in counts)
    out, each = tail(level), variance / total if total else step
    if total > VERY_FEW * each:
        inward, outward, more = each / 2, each / 2, each**2 / 2
    else:
        inward, outward, more = 0.0, step, step**2
    low = _gamma(out, total + inward, variance + each * inward)
    return total - low, _gamma(1 - out, total + outward, variance + more) - total


def _gamma(p: float, mean: float, variance: float) -> float:
    """The quantile of the gamma law of this mean and variance."""
    return gamma_quantile(p, mean**2 / variance) * variance / mean if mean else 0.0
