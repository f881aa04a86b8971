"""Means over strata in which few shows differ from the others: coverage against enumeration.

In: shows worth 0 or 1 (or -1, 0, 1), every possible count weighed with scipy's exact chance of it.
Out: how often the interval holds the mean; an interval without the count is shown to fail.
"""

from __future__ import annotations

from math import sqrt

import pytest
from scipy.stats import binom, multinomial

from sim.reliability.strata import Stratum, weighted_mean

RARE = (0.0005, 0.002, 0.01, 0.03, 0.1)


def seen(shows: int, above: int, below: int = 0, counted: bool = True) -> Stratum:
    """So many shows worth 1, so many worth -1, all others nothing."""
    mean = (above - below) / shows
    variance = ((above + below) / shows - mean**2) * shows / (shows - 1)
    known = (above, below) if counted else (0, 0)
    return Stratum(0.3, shows, mean, variance, -1.0, 1.0, 0.0, *known)


def coverage(p: float, shows: int = 300, counted: bool = True) -> float:
    """The chance that the interval holds the mean, over every number of shows that differ."""
    held = 0.0
    for hits in range(int(binom.isf(1e-12, shows, p)) + 2):
        found = weighted_mean([seen(shows, hits, 0, counted)])
        held += binom.pmf(hits, shows, p) * (found.low <= 0.3 * p <= found.high)
    return held


@pytest.mark.parametrize("p", RARE)
def test_rare_shows_are_covered_in_at_least_94_of_100_against_enumeration(p: float) -> None:
    assert coverage(p) >= 0.94


def test_the_coverage_check_fails_where_nobody_counts() -> None:
    assert min(coverage(p, counted=False) for p in RARE) < 0.90


@pytest.mark.parametrize("p", [0.002, 0.01, 0.05])
def test_rare_shows_of_either_sign_are_covered_against_enumeration(p: float) -> None:
    """One in three of those that differ is worth -1."""
    shows, up, down, held = 200, 2 * p / 3, p / 3, 0.0
    for above in range(int(binom.isf(1e-9, shows, up)) + 2):
        for below in range(int(binom.isf(1e-9, shows, down)) + 2):
            counts = [above, below, shows - above - below]
            found = weighted_mean([seen(shows, above, below)])
            inside = found.low <= 0.3 * (up - down) <= found.high
            held += multinomial.pmf(counts, shows, [up, down, 1 - p]) * inside
    assert held >= 0.94


def test_many_that_differ_are_student_s() -> None:
    """Half of them: the interval of the normal law, within what Student's adds for 999 degrees."""
    found = weighted_mean([seen(1000, 500)])
    assert found.high - found.value == pytest.approx(0.3 * 1.96 * sqrt(0.25 / 1000), rel=3e-3)


def test_fewer_degrees_of_freedom_are_wider() -> None:
    few, many = (weighted_mean([Stratum(1.0, 1000, 1.0, 1.0, freedom=f)]) for f in (2.0, 999.0))
    # Student's 97.5th percentile at 2 degrees of freedom: 4.302653 (any table of the law)
    assert few.high - 1 == pytest.approx(4.302653 / sqrt(1000), rel=1e-6)
    assert many.high - 1 < few.high - 1
