"""Rates and chances from what was seen: published examples, theory, fits to an error factor."""

from __future__ import annotations

from math import exp, log, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.reliability.estimates import garwood, garwood_at_most
from sim.reliability.posterior import (
    JEFFREYS_CHANCE,
    JEFFREYS_RATE,
    BetaChance,
    GammaRate,
    after_demands,
    after_hours,
    believed,
    error_factor,
    gamma_like,
    gamma_of,
    lognormal_of,
    spread_of,
    survival,
    survival_at_mean,
)


def printed(value: float, *, digits: int) -> object:
    """This value to so many significant digits."""
    return pytest.approx(value, rel=0.5 * 10 ** (1 - digits))


# ---- published examples --------------------------------------------------------------------------
# NASA/SP-2009-569 (its own text read). Some figures that it prints are wrong; these are recomputed.


def test_a_rate_from_records_against_published() -> None:
    # Source: NASA/SP-2009-569 sec. 4.2.2.1: Gamma(1.6, 365 000 h), no failure in 4 800 h.
    known = after_hours(GammaRate(1.6, 365_000), 0, 4_800)
    found = believed(known, 0.9)
    assert found.value == printed(4.327e-6, digits=4)
    assert found.low == printed(5.627e-7, digits=4)
    assert found.high == printed(1.1031e-5, digits=5)
    assert survival_at_mean(known, 1000) == pytest.approx(0.995683, abs=5e-7)
    assert survival(known, 1000) == pytest.approx(0.995688, abs=5e-7)


def test_a_rate_from_times_against_published() -> None:
    # Source: NASA/SP-2009-569 sec. 4.2.3.1: Gamma(8.6, 13 147 181 h).
    found = believed(GammaRate(8.6, 13_147_181), 0.9)
    assert found.value == printed(6.541e-7, digits=4)
    assert found.low == printed(3.352e-7, digits=4)
    assert found.high == printed(1.0589e-6, digits=5)


def test_a_changeover_failure_probability_against_published() -> None:
    # Source: NASA/SP-2009-569 sec. 4.2.1.1: Beta(1.24, 189 075), 2 failures in 285 demands.
    found = believed(after_demands(BetaChance(1.24, 189_075), 2, 285), 0.9)
    assert found.value == printed(1.711e-5, digits=4)
    assert found.low == printed(4.980e-6, digits=4)
    assert found.high == printed(3.513e-5, digits=4)


# ---- updating ------------------------------------------------------------------------------------

hours = st.floats(0.1, 1e7)
few = st.integers(0, 40)


@given(few, hours, few, hours)
def test_learning_in_two_steps_is_learning_at_once(a: int, t: float, b: int, u: float) -> None:
    twice = after_hours(after_hours(JEFFREYS_RATE, a, t), b, u)
    once = after_hours(JEFFREYS_RATE, a + b, t + u)
    assert twice.shape == once.shape and twice.hours == pytest.approx(once.hours)


@given(few, few, few, few)
def test_demands_in_two_steps_are_demands_at_once(a: int, b: int, c: int, d: int) -> None:
    twice = after_demands(after_demands(JEFFREYS_CHANCE, a, a + b), c, c + d)
    assert twice == after_demands(JEFFREYS_CHANCE, a + c, a + b + c + d)


def test_failed_and_worked_demands_add_to_what_was_known() -> None:
    assert after_demands(JEFFREYS_CHANCE, 2, 10) == BetaChance(2.5, 8.5)
    assert after_hours(JEFFREYS_RATE, 2, 10) == GammaRate(2.5, 10.0)


@given(few, hours)
def test_jeffreys_lies_inside_the_exact_interval(failures: int, over: float) -> None:
    """Its limits are gamma quantiles of half a failure less and half more than the exact ones."""
    found = believed(after_hours(JEFFREYS_RATE, failures, over), 0.9)
    exact = garwood(failures, over, 0.9)
    assert found.low < found.value < found.high
    assert exact.low < found.low and found.high < exact.high


@given(few, hours)
def test_a_failure_more_raises_and_an_hour_more_lowers(failures: int, over: float) -> None:
    less = believed(after_hours(JEFFREYS_RATE, failures, over))
    more = believed(after_hours(JEFFREYS_RATE, failures + 1, over))
    longer = believed(after_hours(JEFFREYS_RATE, failures, 2 * over))
    assert less.low < more.low and less.high < more.high
    assert longer.low < less.low and longer.high < less.high


def test_no_failure_is_an_upper_bound_not_a_rate_of_zero() -> None:
    found = believed(after_hours(JEFFREYS_RATE, 0, 1000))
    assert 0 < found.low < found.value < found.high < garwood_at_most(0, 1000).high
    assert believed(after_demands(JEFFREYS_CHANCE, 0, 100)).value == pytest.approx(0.5 / 101)


def test_before_any_hours_nothing_is_known_of_a_rate() -> None:
    assert JEFFREYS_RATE.mean == float("inf") == JEFFREYS_RATE.percentile(0.05)
    assert survival(JEFFREYS_RATE, 1) == 0
    assert survival(JEFFREYS_RATE, 0) == 1


@given(st.floats(0.5, 50), st.floats(1e-3, 1e6), st.floats(1e-3, 1e4))
def test_survival_against_theory(shape: float, mean: float, over: float) -> None:
    """(b / (b + t))^a, and never below the value at the mean (Jensen)."""
    known = GammaRate(shape, shape * mean)
    theory = (known.hours / (known.hours + over)) ** shape
    assert survival(known, over) == pytest.approx(theory, rel=1e-9)
    assert survival(known, over) >= survival_at_mean(known, over) * (1 - 1e-12)


# ---- error factors -------------------------------------------------------------------------------

factors = st.floats(1.05, 100)
means = st.floats(1e-9, 1.0)


@given(means, factors)
def test_both_fits_have_the_mean_and_the_error_factor_asked_for(mean: float, ef: float) -> None:
    for fitted in (lognormal_of(mean, ef), gamma_of(mean, ef)):
        assert fitted.mean == pytest.approx(mean)
        assert error_factor(fitted) == pytest.approx(ef, rel=1e-6)


def test_a_lognormal_against_theory() -> None:
    """Error factor 10: sigma = ln 10 / 1.644854, mean over median = exp(sigma^2 / 2) = 2.664."""
    found = lognormal_of(1e-5, 10)
    assert found.sigma == pytest.approx(log(10) / 1.6448536, rel=1e-7)
    assert found.mean / found.median == pytest.approx(2.664, abs=5e-4)
    assert found.percentile(0.95) / found.percentile(0.05) == pytest.approx(100)


@given(means, st.floats(1.05, 20))
def test_the_gamma_of_the_same_variance_against_theory(mean: float, ef: float) -> None:
    """Variance over squared mean: exp(sigma^2) - 1 for a lognormal, 1 / shape for a gamma."""
    stated = lognormal_of(mean, ef)
    fitted = gamma_like(stated)
    assert fitted.mean == pytest.approx(mean)
    assert spread_of(fitted) == pytest.approx(sqrt(exp(stated.sigma**2) - 1))


def test_the_two_gamma_fits_are_not_the_same() -> None:
    assert gamma_of(1e-5, 10).shape > 2 * gamma_like(lognormal_of(1e-5, 10)).shape


def test_an_error_factor_of_one_is_hardly_any_doubt() -> None:
    assert lognormal_of(1e-5, 1).percentile(0.95) == pytest.approx(1e-5)
    found = believed(gamma_of(1e-5, 1))
    assert (found.low, found.high) == pytest.approx((1e-5, 1e-5), rel=2e-4)
    with pytest.raises(ValueError, match="variance"):
        gamma_like(lognormal_of(1e-5, 1))


@pytest.mark.parametrize("fit", [lognormal_of, gamma_of])
@pytest.mark.parametrize(
    ("mean", "factor", "says"),
    [(1e-5, 0.9, "an error factor of 0.9"), (-1e-5, 3, "a rate of -1e-05"), (0, 3, "a rate of 0"),
     (1e-5, float("nan"), "an error factor of nan"), (float("inf"), 3, "a rate of inf")],
)  # fmt: skip
def test_a_stated_rate_that_cannot_be_is_refused(fit, mean, factor, says) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError) as raised:
        fit(mean, factor, "show.yaml:9: rates")
    (problem,) = raised.value.problems
    assert problem.where == "show.yaml:9: rates"
    assert problem.found.startswith(says) and problem.allowed and problem.todo


def test_counts_that_cannot_be_are_refused() -> None:
    for wrong in (
        lambda: after_hours(JEFFREYS_RATE, -1, 1),
        lambda: after_hours(JEFFREYS_RATE, 1, -1),
        lambda: after_demands(JEFFREYS_CHANCE, 2, 1),
    ):
        with pytest.raises(ValueError, match="none"):
            wrong()
