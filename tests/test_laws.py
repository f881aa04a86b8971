"""Random times: against scipy's distributions, and what cannot be."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sim.rig.terms import LAWS, Law
from sim.risk.laws import draw, mean, percentile
from sim.timebase import FLICKS, FOREVER

MINUTE = 60 * FLICKS
SPREAD = 3.0
P95 = float(stats.norm.ppf(0.95))

SHARES = st.floats(0, 1, exclude_max=True)
LOOK = [
    (Law("exponential", 7 * MINUTE), stats.expon(scale=7 * MINUTE)),
    (
        Law("lognormal", 7 * MINUTE, factor=SPREAD),
        stats.lognorm(log(SPREAD) / P95, scale=7 * MINUTE),
    ),
    (Law("uniform", 2 * MINUTE, 9 * MINUTE), stats.uniform(2 * MINUTE, 7 * MINUTE)),
    (
        Law("triangular", 2 * MINUTE, 9 * MINUTE, 3 * MINUTE),
        stats.triang(1 / 7, 2 * MINUTE, 7 * MINUTE),
    ),
    (
        Law("triangular", 2 * MINUTE, 9 * MINUTE, 9 * MINUTE),
        stats.triang(1, 2 * MINUTE, 7 * MINUTE),
    ),
]
"""A law, and scipy.stats' distribution of the same: another path to the same figures."""


@pytest.mark.parametrize(("law", "known"), LOOK, ids=lambda it: getattr(it, "kind", ""))
@given(u=SHARES)
def test_a_draw_is_the_percentile_against_scipy(law: Law, known: stats.rv_frozen, u: float) -> None:
    expected = float(known.ppf(u))
    assert draw(law, u) == pytest.approx(expected, rel=1e-9, abs=1)
    assert percentile(law, u) == draw(law, u)
    assert type(draw(law, u)) is int


@pytest.mark.parametrize(("law", "known"), LOOK, ids=lambda it: getattr(it, "kind", ""))
def test_the_mean_against_scipy(law: Law, known: stats.rv_frozen) -> None:
    assert mean(law) == pytest.approx(float(known.mean()), rel=1e-12)


def test_a_fixed_time_is_itself() -> None:
    assert draw(Law("fixed", 11), 0.99) == mean(Law("fixed", 11)) == 11


def test_the_factor_is_the_95th_percentile_over_the_median() -> None:
    law = Law("lognormal", 10 * MINUTE, factor=4.0)
    assert percentile(law, 0.5) == 10 * MINUTE
    assert percentile(law, 0.95) == pytest.approx(40 * MINUTE, abs=1)
    assert percentile(Law("lognormal", 10 * MINUTE), 0.95) == 10 * MINUTE


@given(st.sampled_from(LAWS), st.tuples(SHARES, SHARES))
def test_more_chance_is_never_less_time(kind: str, shares: tuple[float, float]) -> None:
    law = Law(kind, 5, 50, 20, 2.0)
    low, high = sorted(shares)
    assert draw(law, low) <= draw(law, high)


def test_ends_and_laws_without_width() -> None:
    assert draw(Law("uniform", 5, 5), 0.7) == draw(Law("triangular", 5, 5, 5), 0.7) == 5
    assert draw(Law("exponential", 5), 0.0) == draw(Law("lognormal", 5, factor=2.0), 0.0) == 0
    assert draw(Law("triangular", 5, 9, 5), 0.0) == 5
    assert draw(Law("lognormal", MINUTE, factor=1e300), 1 - 1e-16) == FOREVER


@pytest.mark.parametrize(
    ("law", "u", "message"),
    [
        (Law("lognormall", 5), 0.5, "nearest: lognormal"),
        (Law("fixed", -1), 0.5, "below 0"),
        (Law("uniform", 5, 4), 0.5, "least <= mostly"),
        (Law("triangular", 5, 9, 4), 0.5, "least <= mostly"),
        (Law("lognormal", 5, factor=0.9), 0.5, "factor 1 or more"),
        (Law("fixed", 5), 1.0, "from 0 to below 1"),
        (Law("fixed", 5), -0.1, "from 0 to below 1"),
    ],
)
def test_what_cannot_be_is_refused(law: Law, u: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        draw(law, u)
