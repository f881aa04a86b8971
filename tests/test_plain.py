"""Plain sampling: estimates against the strata and against theory, the same on any processes.

Sources: the binomial law of a share (any textbook); the chance of two given independent Poisson
events, 1 - exp(-m) each, by hand. Each check is also run on a biased version, which must fail it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from math import expm1, inf, sqrt
from pathlib import Path

import numpy as np
import pytest

from sim.processes import local
from sim.risk import plain
from sim.risk.asked import RiskAsked
from sim.risk.bench import Alone, bench
from sim.risk.plain import Plain, batches, drawn, estimate, gain, plainly, struck_chance
from sim.risk.results import RiskStudy, Sampling
from sim.risk.setting import Setting, setting
from sim.risk.study import risk_of
from sim.risk.values import CHANCE
from sim.scenario.loader import load

ROOT = Path(__file__).parents[1]
SHOWS = 20_000
NAMED = "a whole wall dark for more than 1 s"


@cache
def small() -> Setting:
    scenario = load(ROOT / "scenarios" / "first.yaml")
    variants = [v for v in scenario.variants("panel") if v.label in ("single-feed", "relay-pair")]
    return setting(scenario, "panel", variants)


@cache
def sampled() -> Plain:
    return plainly(Alone(small().fields, small().union), 1, SHOWS, 0)


@cache
def twin() -> RiskStudy:
    scenario = load(ROOT / "scenarios" / "twin.yaml")
    return risk_of(scenario, "main", RiskAsked(plain=True, shows=3000, workers=1))


@cache
def by_strata() -> RiskStudy:
    scenario = load(ROOT / "scenarios" / "first.yaml")
    return risk_of(scenario, "panel", RiskAsked(topology="single-feed", shows=4000, workers=1))


# ---- estimates


def off(found: Plain) -> Iterator[float]:
    """By how many standard errors of plain sampling its chances miss those of the strata."""
    figures = {figure.key: figure for figure in by_strata().topologies[0].figures}
    labels = [field.label for field in small().fields]
    place = labels.index("single-feed")
    for column, value in enumerate(found.values[place]):
        if value.kind != CHANCE:
            continue
        strata = figures[value.key].found.value
        within = strata / found.struck
        error = found.struck * sqrt(within * (1 - within) / found.shows)
        yield abs(estimate(found, place, column).value - strata) / error


def test_plain_chances_are_those_of_the_strata() -> None:
    missed = list(off(sampled()))
    assert len(missed) >= 3 and max(missed) < 5
    biased = replace(sampled(), struck=sampled().struck * 2)
    assert max(off(biased)) > 5, "twice as many shows with a fault must be noticed"


def test_the_chance_of_a_fault_is_exact() -> None:
    union = small().union
    assert struck_chance(union) == pytest.approx(1 - np.exp(-union.mass), rel=1e-9)
    assert sampled().struck == struck_chance(union)
    assert all(drawn(union, each) for each in batches(1, 100, 0))


def test_an_interval_is_no_wider_than_that_of_a_share_of_all_shows() -> None:
    found = sampled()
    for column, value in enumerate(found.values[0]):
        if value.kind == CHANCE:
            part = estimate(found, 0, column).value
            everything = sqrt(part * (1 - part) * found.struck / found.shows)
            assert plain.error(found, 0, column) <= everything * (1 + 1e-3)


def test_nothing_seen_is_an_upper_bound() -> None:
    found = sampled()
    assert found.sums is not None
    none = replace(found, sums=replace(found.sums, sums=found.sums.sums * 0.0))
    shown = estimate(none, 0, 0)
    assert (shown.value, shown.low) == (0.0, 0.0)
    # the exact bound of 0 of n, two-sided 95 %: 1 - 0.025 ** (1 / n) (Clopper and Pearson 1934)
    assert shown.high == pytest.approx(found.struck * (1 - 0.025 ** (1 / SHOWS)), rel=1e-9)


# ---- batches and processes


def test_processes_change_nothing() -> None:
    with local(2) as who, bench(small().known, small(), "small", who) as work:
        two = plainly(work, 1, SHOWS, 0)
    one = sampled()
    assert one.sums is not None and two.sums is not None
    for name in ("sums", "squares", "more", "more_squares"):
        assert np.array_equal(getattr(one.sums, name), getattr(two.sums, name)), name
    other = plainly(Alone(small().fields, small().union), 2, SHOWS, 0)
    assert other.sums is not None
    assert not np.array_equal(one.sums.sums, other.sums.sums), "another seed, other shows"


@pytest.mark.parametrize("shows", [1, 999, 1000, 16_001, 1_000_000])
def test_batches_are_all_shows_and_bounded(shows: int) -> None:
    cut = batches(1, shows, 0)
    assert sum(batch.count for batch in cut) == shows
    assert all(0 < batch.count <= plain.BATCH for batch in cut)
    assert [batch.number for batch in cut] == list(range(len(cut)))


def test_no_two_batches_are_alike() -> None:
    first, second = (drawn(small().union, each) for each in batches(1, 2000, 0))
    assert len(first) == len(second) == 1000 and first != second
    assert all(first) and all(second), "no empty show"


def test_an_interruption_keeps_what_was_added_up() -> None:
    class Cut(Alone):
        def each(self, task, of):  # type: ignore[no-untyped-def]
            yield task.does(self, of[0])
            raise KeyboardInterrupt

    found = plainly(Cut(small().fields, small().union), 1, SHOWS, 0)
    assert (found.finished, found.shows) == (False, batches(1, SHOWS, 0)[0].count)
    whole, cut = estimate(sampled(), 0, 0), estimate(found, 0, 0)
    assert cut.high - cut.low > whole.high - whole.low


# ---- both ways


def both(study: RiskStudy, what: str) -> Sampling:
    (found,) = (each for each in study.samplings if each.what == what)
    return found


def test_strata_need_ten_thousand_times_less_for_what_two_faults_must_do() -> None:
    found = both(twin(), NAMED)
    assert found.by_theory, "plain sampling does not see it"
    assert found.gain >= 10_000
    variances, seconds = found.variance, found.seconds
    assert found.gain == pytest.approx(
        variances[1] * seconds[1] / (variances[0] * seconds[0]), rel=1e-9
    )


def test_the_variance_of_plain_sampling_is_that_of_a_share() -> None:
    """p (1 - p / s) s / n for n shows with a fault, of which a part p / s has it; p by hand.

    Either unit or its way, with the other unit or its way; either relay or the way of its heads or
    tails, with the other: eight pairs of hazards, each of 3 h at 1e-5 per hour, all of which are
    there for longer than a second but for those in the last seconds (some thousandths).
    """
    found = both(twin(), NAMED)
    alone = -expm1(-3e-5)
    by_hand = 8 * alone**2
    scenario = load(ROOT / "scenarios" / "twin.yaml")
    struck = struck_chance(setting(scenario, "main", scenario.variants("main")).union)
    expected = by_hand * (struck - by_hand) / found.shows[1]
    assert found.variance[1] == pytest.approx(expected, rel=0.1)
    assert 1e-9 < by_hand < 1e-8, "a few in 10^9 shows"


def test_gain_is_about_equal_processor_time() -> None:
    assert gain((2.0, 8.0), (1.0, 3.0)) == 12.0
    assert gain((0.0, 8.0), (1.0, 3.0)) == inf


def test_only_stated_rates_count_in_the_example() -> None:
    scenario = load(ROOT / "scenarios" / "twin.yaml")
    of = setting(scenario, "main", scenario.variants("main"))
    (field,) = of.fields
    assert {hazard.cause for hazard in of.union.hazards} == {"item"}
    assert not any(hazard.guessed or hazard.early for hazard in of.union.hazards)
    assert {strike.mode for h in of.union.hazards for strike in h.strikes} == {"dead", "cut"}
    assert {round(hazard.mass, 12) for hazard in of.union.hazards} == {3e-5}
    wall = [value.key.startswith("wall") for value in field.values].index(True)
    alone = [field.exact(number) for number in range(len(of.union.hazards))]
    assert all(one is not None and one.means[wall] == 0 for one in alone), "no one fault does it"
    terms = replace(scenario.terms, stated_only=False)
    every = setting(replace(scenario, terms=terms), "main", scenario.variants("main"))
    assert any(hazard.guessed for hazard in every.union.hazards)
    assert every.union.mass > 10 * of.union.mass, "placeholders fill in again"
