"""Seeded draws: streams by name, Poisson counts, uniform positions; shows by number of faults.

In: seeds, names, masses (mean strikes a show). Out: counts held to scipy's laws, each beside a
biased stream that fails the same check.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from hashlib import blake2b

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, chisquare, expon, kstest, poisson

from sim.risk.hazards import Hazard
from sim.risk.shows import Show, Union, beyond, natural, union_of, with_faults
from sim.risk.shows import poisson as chance_of
from sim.risk.streams import DRAWS, Arrivals, Floats, arrivals, stream

SEED = 20
FAR_OUT = 1e-4
"""A check fails where chance alone would give what is seen in less than 1 of 10 000 seeds."""
MASSES = {"one": 0.3, "two": 0.1, "three": 0.6}


def hazard(key: str, mass: float) -> Hazard:
    return Hazard(key, (), mass)


def union(**masses: float) -> Union:
    return Union(tuple(hazard(key, mass) for key, mass in masses.items()))


def same(one: Arrivals, other: Arrivals) -> bool:
    return np.array_equal(one.shows, other.shows) and np.array_equal(one.draws, other.draws)


# ---- streams of their own ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["one", "two", "\x1f", "\u00e9"])
def test_a_stream_is_that_of_philox_with_its_key(name: str) -> None:
    """By numpy's own way to give a key, worked out here."""
    key = int.from_bytes(blake2b(f"7\x1f{name}".encode(), digest_size=16).digest(), "big")
    expected = np.random.Generator(np.random.Philox(key=key))
    assert stream(7, name).random(100).tolist() == expected.random(100).tolist()
    assert stream(8, name).random(100).tolist() != expected.random(100).tolist()


def test_every_name_and_seed_has_a_stream_of_its_own() -> None:
    named = [stream(*names).random(4).tolist() for names in NAMES]
    assert len({tuple(each) for each in named}) == len(NAMES)
    assert named == [stream(*names).random(4).tolist() for names in NAMES]


NAMES: tuple[tuple[int, *tuple[str | int, ...]], ...] = (
    (1, "a"), (2, "a"), (1, "b"), (1, "a", "gaps"), (1, "agaps"), (1, "a", 1), (11, "a"), (1, 1),
)  # fmt: skip


def test_streams_of_two_names_are_unrelated_against_theory() -> None:
    """The correlation of independent series lies within five standard errors, 1/sqrt(n)."""
    one, two = (stream(SEED, name).random(40_000) for name in ("one", "two"))
    assert abs(np.corrcoef(one, two)[0, 1]) < 5 / 200
    assert not abs(np.corrcoef(one, 0.95 * two + 0.05 * one)[0, 1]) < 5 / 200


@given(st.integers(1, 400), st.integers(0, 400), st.floats(0.01, 2.0))
def test_a_longer_series_begins_with_the_shorter(shows: int, more: int, mass: float) -> None:
    short, long = (arrivals(SEED, "one", mass, count) for count in (shows, shows + more))
    inside = long.shows < shows
    assert same(short, Arrivals(long.shows[inside], long.draws[inside]))
    assert (np.diff(long.shows) >= 0).all()


def test_another_hazard_changes_nothing() -> None:
    """The strikes of the first two are the same, whatever stands before, between or after them."""
    few, many = union(one=0.3, two=0.1), union(new=0.5, one=0.3, newer=0.2, two=0.1, last=1.0)
    alone, beside = (by_hazard(each, SEED, 2000) for each in (few, many))
    assert {key: beside[key] for key in alone} == alone
    assert by_hazard(few, SEED + 1, 2000) != alone


def by_hazard(of: Union, seed: int, shows: int) -> dict[str, list[tuple[float, ...]]]:
    found: dict[str, list[tuple[float, ...]]] = {}
    for show in natural(of, seed, shows):
        for blow in show:
            found.setdefault(of.hazards[blow.hazard].key, []).append(blow.draws)
    return found


def test_a_pace_changes_only_how_many_strike_in_a_show() -> None:
    """Twice as fast: what struck in shows 2n and 2n + 1 strikes in show n, with the same draws."""
    usual = arrivals(SEED, "one", 0.3, 4000)
    fast = arrivals(SEED, "one", 0.3, 2000, pace=2.0)
    assert same(fast, Arrivals(usual.shows // 2, usual.draws))


# ---- laws ----------------------------------------------------------------------------------------


def counts(of: Arrivals, shows: int) -> list[int]:
    """How many shows have 0, 1, 2, 3, and 4 strikes or more."""
    each = np.minimum(np.bincount(of.shows, minlength=shows), 4)
    return np.bincount(each, minlength=5).tolist()


def poisson_fits(of: Arrivals, mass: float, shows: int) -> bool:
    """Pearson's test of the counts against scipy's Poisson law."""
    law = [*poisson.pmf(range(4), mass), poisson.sf(3, mass)]
    return bool(chisquare(counts(of, shows), shows * np.array(law)).pvalue > FAR_OUT)


@pytest.mark.parametrize("mass", [0.02, 0.3, 1.7])
def test_strikes_in_a_show_are_poisson_against_theory(mass: float) -> None:
    shows = 100_000
    assert poisson_fits(arrivals(SEED, "one", mass, shows), mass, shows)


@pytest.mark.parametrize("mass", [0.3, 1.7])
def test_the_check_of_counts_fails_for_biased_strikes(mass: float) -> None:
    """6 % too many, and as many as there should be but never two in one show."""
    shows = 100_000
    assert not poisson_fits(arrivals(SEED, "one", mass * 1.06, shows), mass, shows)
    even = np.unique(arrivals(SEED, "one", mass, shows).shows)
    assert not poisson_fits(Arrivals(even, np.zeros((len(even), DRAWS))), mass, shows)


BIASES: dict[str, Callable[[Floats], Floats]] = {
    "late": lambda u: u**0.94,
    "early": lambda u: u**1.06,
    "never at first": lambda u: 0.01 + 0.99 * u,
    "in steps": lambda u: np.floor(u * 50) / 50,
}


def uniform_fits(draws: Floats) -> bool:
    """Kolmogorov and Smirnov's test against scipy's uniform law."""
    return bool(kstest(draws, "uniform").pvalue > FAR_OUT)


@pytest.mark.parametrize("column", range(DRAWS))
def test_every_draw_is_uniform_against_theory(column: int) -> None:
    found = arrivals(SEED, "one", 0.5, 100_000)
    assert uniform_fits(found.draws[:, column])


@pytest.mark.parametrize("bias", BIASES)
def test_the_check_of_draws_fails_for_biased_ones(bias: str) -> None:
    found = arrivals(SEED, "one", 0.5, 100_000)
    assert not uniform_fits(BIASES[bias](found.draws[:, 0]))


def test_the_draws_of_a_strike_are_unrelated_against_theory() -> None:
    draws = arrivals(SEED, "one", 0.5, 100_000).draws
    apart = np.abs(np.corrcoef(draws.T) - np.eye(DRAWS))
    assert apart.max() < 5 / len(draws) ** 0.5


def test_times_between_strikes_are_exponential_against_theory() -> None:
    """In a pace at which a show is a moment, gaps between struck shows are exponential."""
    gaps = np.diff(arrivals(SEED, "one", 1.0, 2_000_000, pace=0.005).shows) * 0.005
    assert kstest(gaps, expon.cdf).pvalue > FAR_OUT
    assert not kstest(gaps**1.15, expon.cdf).pvalue > FAR_OUT


# ---- shows by their number of faults -------------------------------------------------------------


@given(st.integers(0, 40), st.floats(1e-6, 30.0))
def test_chances_of_strata_against_scipy(number: int, mean: float) -> None:
    assert chance_of(number, mean) == pytest.approx(poisson.pmf(number, mean), rel=1e-9)
    assert beyond(number, mean) == pytest.approx(poisson.sf(number, mean), rel=1e-9, abs=1e-280)


@pytest.mark.parametrize("faults", [1, 2, 4])
def test_more_shows_with_so_many_faults_begin_with_the_fewer(faults: int) -> None:
    of = union(**MASSES)
    few, many = (with_faults(of, SEED, faults, count) for count in (30, 700))
    assert many[:30] == few and len(many) == 700
    assert {len(show) for show in many} == {faults}


def firsts(shows: list[Show]) -> int:
    return sum(blow.hazard == 0 for show in shows for blow in show)


def binomial_fits(hits: int, count: int, chance: float) -> bool:
    return bool(min(binom.cdf(hits, count, chance), binom.sf(hits - 1, count, chance)) > FAR_OUT)


@pytest.mark.parametrize("faults", [1, 2, 3, 5])
def test_which_hazards_strike_does_not_depend_on_how_many_against_theory(faults: int) -> None:
    """Given n strikes, those of one hazard are binomial by its part of the mass (0.3 of 1)."""
    shows = with_faults(union(**MASSES), SEED, faults, 20_000)
    assert binomial_fits(firsts(shows), 20_000 * faults, 0.3)
    assert not binomial_fits(firsts(shows), 20_000 * faults, 0.32)
    both = Counter(sum(blow.hazard == 0 for blow in show) for show in shows)
    expected = 20_000 * binom.pmf(range(faults + 1), faults, 0.3)
    assert chisquare([both[n] for n in range(faults + 1)], expected).pvalue > FAR_OUT


@pytest.mark.parametrize("faults", [1, 3])
def test_positions_in_shows_of_so_many_faults_are_uniform_against_theory(faults: int) -> None:
    shows = with_faults(union(**MASSES), SEED, faults, 20_000)
    draws = np.array([blow.draws for show in shows for blow in show])
    assert uniform_fits(draws[:, 0]) and uniform_fits(draws[:, 3])
    assert not uniform_fits(BIASES["late"](draws[:, 0]))


def test_plain_shows_are_struck_as_often_as_they_should_against_theory() -> None:
    of = union(**MASSES)
    shows = natural(of, SEED, 50_000)
    assert binomial_fits(len(shows), 50_000, 1 - np.exp(-1.0))
    singles = sum(len(show) == 1 for show in shows)
    assert binomial_fits(singles, 50_000, np.exp(-1.0))
    assert not binomial_fits(singles, 50_000, 1.05 * np.exp(-1.0))


def test_what_two_topologies_share_strikes_both_alike() -> None:
    """The union holds each hazard once; the same name with another mass is another hazard."""
    one = [hazard("a", 0.5), hazard("b", 0.2)]
    two = [hazard("b", 0.2), hazard("a", 0.6), hazard("c", 0.1)]
    of = union_of([one, two])
    assert [(h.key, h.mass) for h in of.hazards] == [
        ("a", 0.5), ("b", 0.2), ("a", 0.6), ("c", 0.1),
    ]  # fmt: skip
    assert of.mass == pytest.approx(1.4)
