"""Intervals of shares, differences, means and rates: published figures, theory, exact coverage.

Figures carry their source and what it is worth; their tolerance is half of the last printed digit.
Coverage is worked out exactly, by summing binomial or Poisson terms; each such check is shown to
fail for an interval that is known to be bad.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from math import comb, exp, fsum, inf, lgamma, log, sqrt
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.reliability.estimates import (
    Estimate,
    clopper_pearson,
    combination,
    difference,
    exactly,
    garwood,
    garwood_at_most,
    mtbf,
    one_in,
    share,
    share_at_most,
    spares_for,
    weighted_share,
    wilson,
)
from sim.reliability.quantiles import (
    beta_quantile,
    chi_square_quantile,
    gamma_quantile,
    normal_quantile,
    student_quantile,
)
from sim.reliability.strata import Stratum, stratum, weighted_mean

levels = st.sampled_from((0.5, 0.8, 0.9, 0.95, 0.99))
counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def ends(found: Estimate) -> tuple[float, float]:
    return found.low, found.high


def near(*values: float, digits: int) -> object:
    """These values to so many printed decimals."""
    return pytest.approx(values, abs=0.5 * 10**-digits, rel=0)


# ---- published figures ---------------------------------------------------------------------------


# Source: Newcombe, Statistics in Medicine 17 (1998) 857, Table I (secondary source read).
@pytest.mark.parametrize(
    ("hits", "shows", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_against_published(hits: int, shows: int, low: float, high: float) -> None:
    assert ends(wilson(hits, shows)) == near(low, high, digits=4)


# Source: the same table (value from memory).
@pytest.mark.parametrize(
    ("hits", "shows", "low", "high"), [(81, 263, 0.2527, 0.3676), (0, 20, 0.0, 0.1684)]
)
def test_clopper_pearson_against_published(hits: int, shows: int, low: float, high: float) -> None:
    assert ends(clopper_pearson(hits, shows)) == near(low, high, digits=4)


def test_a_difference_of_shares_against_published() -> None:
    # Source: Newcombe, Statistics in Medicine 17 (1998) 873, method 10 (secondary source read).
    found = difference(wilson(56, 70), wilson(48, 80))
    assert found.value == pytest.approx(56 / 70 - 48 / 80)
    assert ends(found) == near(0.0524, 0.3339, digits=4)


# Source: Garwood, Biometrika 28 (1936) (secondary source read).
@pytest.mark.parametrize(
    ("events", "low", "high"),
    [(0, 0.0, 3.68888), (1, 0.02532, 5.57164), (10, 4.79539, 18.39036)],
)
def test_garwood_against_published(events: int, low: float, high: float) -> None:
    assert ends(garwood(events)) == near(low, high, digits=5)


def test_garwood_one_sided_against_published() -> None:
    # Source: Garwood, Biometrika 28 (1936) (secondary source read).
    assert ends(garwood_at_most(0)) == near(0.0, 2.995732, digits=6)


def test_mtbf_bounds_against_published() -> None:
    # Source: NIST/SEMATECH e-Handbook 8.4.5.1 (formula read; data from memory).
    found = mtbf(800, 2, 0.9)
    assert found.value == 400
    assert ends(found) == near(127.069, 2251.229, digits=3)


def test_an_upper_mtbf_limit_is_not_the_misprint() -> None:
    # A well-known textbook prints 103.52 for 10 failures in 500 h; recomputed: 104.27.
    assert mtbf(500, 10, 0.95).high == pytest.approx(104.27, abs=0.005)


def test_chi_square_of_90_against_published() -> None:
    # Source: RIAC Desk Reference (its own text read): 45 failures, 80 %, 90 degrees of freedom.
    found = chi_square_quantile(0.1, 90), chi_square_quantile(0.9, 90)
    assert found == near(73.2911, 107.5650, digits=4)
    watched = mtbf(1000, 45, 0.8, at_failure=True)
    assert ends(watched) == pytest.approx((2000 / 107.5650, 2000 / 73.2911), rel=1e-6)


# Source: Poisson tables (exact): smallest s with P(Poisson(m) <= s) >= 0.95.
@pytest.mark.parametrize(("mean", "spares"), [(1, 3), (2, 5), (5, 9), (0, 0)])
def test_spares_against_published(mean: float, spares: int) -> None:
    assert spares_for(mean, 0.95) == spares


@given(st.floats(0.01, 60), st.floats(0.5, 0.9999))
def test_spares_against_enumeration(mean: float, confidence: float) -> None:
    spares = spares_for(mean, confidence)
    enough = fsum(poisson(k, mean) for k in range(spares + 1))
    fewer = fsum(poisson(k, mean) for k in range(spares))
    assert enough >= confidence - 1e-12
    assert fewer < confidence + 1e-12


# ---- quantiles -----------------------------------------------------------------------------------


def binomial(hits: int, shows: int, p: float) -> float:
    return comb(shows, hits) * p**hits * (1 - p) ** (shows - hits)


def poisson(events: int, mean: float) -> float:
    return exp(events * log(mean) - mean - lgamma(events + 1)) if mean else float(events == 0)


@given(counts, levels)
def test_clopper_pearson_against_enumeration(count: tuple[int, int], level: float) -> None:
    """At each limit the tail beyond what was seen has just the probability left out."""
    hits, shows = count
    found, out = clopper_pearson(hits, shows, level), (1 - level) / 2
    if hits:
        tail = fsum(binomial(k, shows, found.low) for k in range(hits, shows + 1))
        assert tail == pytest.approx(out, rel=1e-8)
    if hits < shows:
        tail = fsum(binomial(k, shows, found.high) for k in range(hits + 1))
        assert tail == pytest.approx(out, rel=1e-8)


@given(st.integers(0, 300), st.floats(0.01, 1e6), levels)
def test_garwood_against_enumeration(events: int, exposure: float, level: float) -> None:
    found, out = garwood(events, exposure, level), (1 - level) / 2
    high = fsum(poisson(k, found.high * exposure) for k in range(events + 1))
    assert high == pytest.approx(out, rel=1e-8)
    if events:
        low = fsum(poisson(k, found.low * exposure) for k in range(events))
        assert 1 - low == pytest.approx(out, rel=1e-7)


@given(counts, levels)
def test_one_sided_share_against_enumeration(count: tuple[int, int], level: float) -> None:
    hits, shows = count
    high = share_at_most(hits, shows, level).high
    if hits < shows:
        tail = fsum(binomial(k, shows, high) for k in range(hits + 1))
        assert tail == pytest.approx(1 - level, rel=1e-8)
    else:
        assert high == 1


def test_quantiles_against_theory() -> None:
    assert normal_quantile(0.975) == pytest.approx(1.959963985, abs=5e-10)  # normal tables
    assert gamma_quantile(0.3, 1) == pytest.approx(-log(0.7))  # exponential
    assert beta_quantile(0.3, 2, 1) == pytest.approx(sqrt(0.3))  # cdf x^2
    assert student_quantile(0.75, 1) == pytest.approx(1)  # Cauchy
    assert student_quantile(0.975, 10) == pytest.approx(2.228, abs=5e-4)  # tables, from memory


# ---- what holds for every interval ---------------------------------------------------------------


@given(counts, levels)
def test_an_interval_of_a_share_holds_its_value_and_stays_a_share(
    count: tuple[int, int], level: float
) -> None:
    for made in (wilson, clopper_pearson, share):
        found = made(*count, level)
        assert 0 <= found.low <= found.value <= found.high <= 1
        assert found.low < found.high
        assert (found.low == 0) == (count[0] == 0)
        assert (found.high == 1) == (count[0] == count[1])


@given(counts)
def test_more_confidence_is_wider(count: tuple[int, int]) -> None:
    for made in (wilson, clopper_pearson, share):
        narrow, wide = made(*count, 0.8), made(*count, 0.95)
        assert wide.low <= narrow.low and narrow.high <= wide.high
        assert wide.high - wide.low > narrow.high - narrow.low


@given(st.integers(2, 400).flatmap(lambda n: st.tuples(st.integers(1, n), st.just(n))))
def test_one_hit_more_moves_both_limits_up(count: tuple[int, int]) -> None:
    hits, shows = count
    for made in (wilson, clopper_pearson):
        less, more = made(hits - 1, shows), made(hits, shows)
        assert less.low < more.low and less.high < more.high


@given(counts, levels)
def test_the_exact_interval_mirrors_hits_and_misses(count: tuple[int, int], level: float) -> None:
    hits, shows = count
    for made in (wilson, clopper_pearson, share):
        there, back = made(hits, shows, level), made(shows - hits, shows, level)
        assert ends(there) == pytest.approx((1 - back.high, 1 - back.low), abs=1e-12)


@given(st.integers(1, 10**9))
def test_nothing_seen_is_an_upper_bound_never_zero(shows: int) -> None:
    for made in (wilson, clopper_pearson, share, share_at_most):
        found = made(0, shows)
        assert found.bound_only and not found.exact
        assert 2.9 / (shows + 4) < found.high
    assert garwood(0, shows).bound_only
    assert weighted_share([(0.5, 0, shows), (0.1, 0, shows)]).bound_only


@given(counts, counts)
def test_a_difference_the_other_way_round_is_the_negative(
    one: tuple[int, int], two: tuple[int, int]
) -> None:
    there, back = difference(wilson(*one), wilson(*two)), difference(wilson(*two), wilson(*one))
    assert there.value == pytest.approx(-back.value)
    assert ends(there) == pytest.approx((-back.high, -back.low))
    assert -1 <= there.low <= there.value <= there.high <= 1


@given(st.integers(0, 50), st.floats(1, 1e6), levels)
def test_an_mtbf_is_the_inverse_of_the_rate(failures: int, hours: float, level: float) -> None:
    found, rate = mtbf(hours, failures, level), garwood(failures, hours, level)
    assert found.low == pytest.approx(1 / rate.high)
    assert found.high == (pytest.approx(1 / rate.low) if failures else inf)
    assert found.low < found.value <= found.high


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: wilson(3, 2),
        lambda: wilson(-1, 2),
        lambda: clopper_pearson(0, 0),
        lambda: share(1, 2, level=1.0),
        lambda: share_at_most(1, 0),
        lambda: garwood(-1, 1.0),
        lambda: garwood(1, 0.0),
        lambda: garwood_at_most(0, inf),
        lambda: garwood_at_most(0, 1.0, 1.5),
        lambda: mtbf(10, 0, at_failure=True),
        lambda: mtbf(0, 1),
        lambda: spares_for(1, 1.0),
        lambda: spares_for(-1, 0.9),
        lambda: stratum(1.0, [1.0], 2.0),
        lambda: difference(wilson(1, 2, 0.9), wilson(1, 2, 0.95)),
        lambda: weighted_mean([Stratum(1.0, 10, 2.0)]),
    ],
)
def test_what_cannot_be_is_refused(wrong: Callable[[], Estimate]) -> None:
    with pytest.raises(ValueError, match=r"\S"):
        wrong()


# ---- coverage, exactly ---------------------------------------------------------------------------

Made = Callable[[int, int], Estimate]


def coverage(made: Made, shows: int, p: float) -> float:
    """The exact probability that the interval of what is seen holds the true share."""
    kept = _all_ends(made, shows)
    return fsum(binomial(k, shows, p) for k, (low, high) in enumerate(kept) if low <= p <= high)


@cache
def _all_ends(made: Made, shows: int) -> list[tuple[float, float]]:
    return [ends(made(k, shows)) for k in range(shows + 1)]


def textbook(hits: int, shows: int) -> Estimate:
    """The interval of the value plus or minus its standard error: known to be bad when rare."""
    p = hits / shows
    half = 1.96 * sqrt(p * (1 - p) / shows)
    return Estimate(p, p - half, p + half, 0.95, "biased", shows)


RARE = [0.02 * step / 100 for step in range(1, 150, 3)]
USUAL = [0.05 + 0.45 * step / 40 for step in range(41)]


@pytest.mark.parametrize("shows", [30, 200, 500])
def test_rare_shares_are_covered_in_at_least_94_of_100_against_enumeration(shows: int) -> None:
    assert min(coverage(share, shows, p) for p in RARE) >= 0.94


def test_usual_shares_are_covered_in_94_to_96_of_100_on_average_against_enumeration() -> None:
    covered = [coverage(share, 800, p) for p in USUAL]
    assert min(covered) >= 0.94
    assert 0.94 <= fsum(covered) / len(covered) <= 0.96


def test_the_coverage_check_fails_for_bad_intervals() -> None:
    assert min(coverage(textbook, 200, p) for p in RARE) < 0.94
    assert min(coverage(wilson, 200, p) for p in RARE) < 0.94  # what `share` is there for
    half_as_sure = [coverage(_at_90, 800, p) for p in USUAL]
    assert not 0.94 <= fsum(half_as_sure) / len(half_as_sure) <= 0.96


def _at_90(hits: int, shows: int) -> Estimate:
    return share(hits, shows, 0.9)


@pytest.mark.parametrize("mean", [0.05, 0.5, 1.7, 4.0, 12.5])
def test_rates_are_covered_in_at_least_95_of_100_against_enumeration(mean: float) -> None:
    found = [(k, garwood(k)) for k in range(80)]
    assert fsum(poisson(k, mean) for k, it in found if it.low <= mean <= it.high) >= 0.95
    one_sided = [(k, garwood_at_most(k)) for k in range(80)]
    assert fsum(poisson(k, mean) for k, it in one_sided if mean <= it.high) >= 0.95


def strata_coverage(made: Callable[..., Estimate], p: float, q: float) -> float:
    """Exact coverage over two strata of 40 and 25 shows with weights 0.7 and 0.2."""
    true = 0.7 * p + 0.2 * q
    found = (
        (binomial(i, 40, p) * binomial(j, 25, q), made([(0.7, i, 40), (0.2, j, 25)]))
        for i in range(41)
        for j in range(26)
    )
    return fsum(chance for chance, it in found if it.low <= true <= it.high)


STRATA = [(0.01, 0.02), (0.05, 0.3), (0.3, 0.001), (0.5, 0.5)]


@pytest.mark.parametrize(("p", "q"), STRATA)
def test_shares_over_strata_are_covered_against_enumeration(p: float, q: float) -> None:
    assert strata_coverage(weighted_share, p, q) >= 0.94


def test_the_strata_check_fails_for_an_interval_that_forgets_a_stratum() -> None:
    def forgetful(strata: list[tuple[float, int, int]]) -> Estimate:
        return weighted_share(strata[:1])

    assert min(strata_coverage(forgetful, p, q) for p, q in STRATA) < 0.94


# ---- combinations and means ----------------------------------------------------------------------


def test_an_exact_part_adds_no_width() -> None:
    sampled = wilson(3, 50)
    both = combination([(0.2, sampled), (0.8, exactly(0.5))], "sum")
    assert both.value == pytest.approx(0.2 * 3 / 50 + 0.4)
    assert both.high - both.low == pytest.approx(0.2 * (sampled.high - sampled.low))


def test_one_stratum_of_all_shows_is_the_plain_share() -> None:
    assert ends(weighted_share([(1.0, 7, 90)])) == pytest.approx(ends(share(7, 90)))


def test_a_mean_of_one_stratum_against_theory() -> None:
    """Student's interval: mean +- t s / sqrt(n), t of 9 degrees of freedom from tables (memory)."""
    values = [float(k) for k in range(10)]
    found = weighted_mean([stratum(1.0, values, most=100)])
    half = 2.262157 * sqrt(82.5 / 9) / sqrt(10)
    assert found.value == 4.5
    assert ends(found) == pytest.approx((4.5 - half, 4.5 + half), rel=1e-6)


def test_two_strata_against_theory() -> None:
    """Welch and Satterthwaite: variances 4/8 and 9/5 give 0.7^2.. freedom as the formula says."""
    strata = [Stratum(0.75, 8, 1.0, 4.0), Stratum(0.25, 5, 3.0, 9.0)]
    a, b = 0.5625 * 4 / 8, 0.0625 * 9 / 5
    freedom = (a + b) ** 2 / (a**2 / 7 + b**2 / 4)
    half = student_quantile(0.975, freedom) * sqrt(a + b)
    found = weighted_mean(strata)
    assert found.value == 1.5
    assert found.shows == 13
    assert ends(found) == pytest.approx((1.5 - half, 1.5 + half))


def test_a_stratum_of_shows_all_alike_is_a_bound_not_a_certainty() -> None:
    found = weighted_mean([Stratum(0.9, 0, 0.0), Stratum(0.1, 100, 0.0, most=60.0)])
    assert found.bound_only
    assert found.high == pytest.approx(0.1 * 60 * clopper_pearson(0, 100).high)
    assert weighted_mean([Stratum(0.9, 0, 2.0)]).exact
    unseen = 0.1 * clopper_pearson(0, 100).high
    alike = weighted_mean([Stratum(0.1, 100, 5.0, least=2.0, most=60.0)])
    assert ends(alike) == pytest.approx((0.5 - unseen * 3, 0.5 + unseen * 55))


def test_means_over_strata_cover_the_truth_in_94_to_96_of_100() -> None:
    covered = mean_coverage(1.0)
    assert 0.94 <= covered <= 0.96
    assert not 0.94 <= mean_coverage(1.1) <= 0.96  # a simulation biased by a tenth is noticed


def mean_coverage(bias: float) -> float:
    """How often 2 000 estimates of two strata, uniform in 0..1 and 0..4, hold the truth; seed 7."""
    draw, held, true = Random(7), 0, 0.6 * 0.5 + 0.3 * 2.0
    for _ in range(2000):
        one = stratum(0.6, [draw.random() * bias for _ in range(30)], most=1)
        two = stratum(0.3, [4 * draw.random() * bias for _ in range(50)], most=4)
        found = weighted_mean([one, two])
        held += found.low <= true <= found.high
    return held / 2000


# ---- for people ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (Estimate(1 / 1234, 1 / 1620, 1 / 941, 0.95, ""),
         "1 in 1 200 (1 in 940 to 1 in 1 700, 95 %)"),
        (Estimate(0.0, 0.0, 0.1611, 0.95, ""), "fewer than 1 in 6.2 (none seen, 95 %)"),
        (Estimate(0.5, -0.1, 0.995, 0.9, ""), "1 in 2.0 (at most 1 in 1, 90 %)"),
        (Estimate(0.99, 0.9, 1.0, 0.9, ""), "nearly 1 in 1 (1 in 1 to 1 in 1.2, 90 %)"),
        (Estimate(3e-9, 2e-9, 4e-9, 0.95, ""),
         "1 in 330 000 000 (1 in 250 000 000 to 1 in 500 000 000, 95 %)"),
        (exactly(0.0), "never (exact)"),
        (exactly(1.0), "1 in 1 (exact)"),
        (exactly(0.04), "1 in 25 (exact)"),
    ],
)  # fmt: skip
def test_a_probability_for_people(found: Estimate, text: str) -> None:
    assert one_in(found) == text


@given(st.integers(1, 10**7).flatmap(lambda n: st.tuples(st.integers(0, min(n, 900)), st.just(n))))
def test_the_shown_band_holds_the_interval(count: tuple[int, int]) -> None:
    found = share(*count)
    text = one_in(found).replace(" ", "")
    shown = [float(part) for part in _numbers(text)]
    if found.bound_only:
        assert found.high <= 1 / shown[0] * (1 + 1e-12)
        return
    often, rarely = shown[-2:]
    assert 1 / rarely <= found.low * (1 + 1e-12)
    assert found.high <= 1 / often * (1 + 1e-12)
    assert 1 / often <= found.high * 1.12  # two digits: no more than a tenth is given away


def _numbers(text: str) -> list[str]:
    marks = text.replace("to", " ").replace("(", " ").replace(",", " ")
    return [part[3:] for part in marks.replace("1in", " 1in").split() if part.startswith("1in")]
