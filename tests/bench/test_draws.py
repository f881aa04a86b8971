"""Strata against plain sampling at equal processor time: how many times the variance is.

In: `twin`, whose whole wall goes dark only if two faults of a few come together, and `first` with
two units, where plain sampling sees such shows. Out: the ratio of variances of that chance, each
times the processor time that it took, printed and held to its aim. Only shows with a fault are
drawn plainly, which is in its favour. In `twin` it sees no such show: there its variance is that of
a share of the chance that strata give, in as many shows (`sim/risk/plain.compared`;
tests/test_plain.py works it out by hand). In `first` both variances are those among seeds.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import mean, median, variance
from typing import Any

import pytest

from sim.risk.asked import RiskAsked
from sim.risk.plain import gain
from sim.risk.results import Sampling
from sim.risk.study import risk_of
from sim.scenario.loader import load
from sim.shipped import find
from tests.bench.conftest import Say

pytestmark = pytest.mark.benchmark(timer=time.process_time)

LEAST = 10_000
SEEDS = range(1, 13)
CHI_SQUARE = 26.757
"""With 11 degrees of freedom it is seldom (0.5 %) higher (any table)."""


@dataclass(frozen=True, slots=True)
class Case:
    """A chance of one topology, and how many shows with a fault are drawn plainly."""

    scenario: str
    group: str
    topology: str
    what: str
    shows: int


TWIN = Case("twin", "main", "", "a whole wall dark for more than 1 s", 3000)
FIRST = Case("first", "panel", "two-unit", "a whole wall dark for more than 10 s", 60_000)


def value(of: Case, seed: int, plain: bool) -> tuple[float, Sampling | None]:
    """The chance, by strata or plainly; then with both ways beside each other."""
    shows = of.shows if plain else None
    asked = RiskAsked(topology=of.topology, plain=plain, shows=shows, workers=1, seed=seed)
    study = risk_of(load(find(of.scenario)), of.group, asked)
    (figure,) = (f for f in study.topologies[0].figures if f.name == of.what)
    both = next((each for each in study.samplings if each.what == of.what), None)
    return figure.found.value, both


@pytest.mark.timeout(900)
def test_strata_against_plain_sampling_of_what_is_hardly_ever(benchmark: Any, say: Say) -> None:
    seeds, made = iter(SEEDS), list[Sampling]()

    def once() -> None:
        _, found = value(TWIN, next(seeds), plain=True)
        assert found is not None
        made.append(found)

    benchmark.pedantic(once, rounds=3)
    gains = [found.gain for found in made]
    say("strata", median(gains), f"{min(gains):.3g} to {max(gains):.3g} by seed")
    assert all(found.by_theory for found in made) and min(gains) >= LEAST


@pytest.mark.timeout(900)
def test_strata_against_plain_sampling_of_what_plain_sampling_sees(
    benchmark: Any, say: Say
) -> None:
    strata, plain, found = list[float](), list[float](), list[Sampling]()
    seeds = iter(SEEDS)

    def once() -> None:
        seed = next(seeds)
        strata.append(value(FIRST, seed, plain=False)[0])
        seen, both = value(FIRST, seed, plain=True)
        assert both is not None and not both.by_theory
        plain.append(seen)
        found.append(both)

    benchmark.pedantic(once, rounds=len(SEEDS))
    variances = variance(strata), variance(plain)
    seconds = _mean(f.seconds[0] for f in found), _mean(f.seconds[1] for f in found)
    told = _mean(f.variance[0] for f in found), _mean(f.variance[1] for f in found)
    say(
        "strata-seen", gain(variances, seconds),
        f"of a chance of {mean(strata):.3g}, plainly {mean(plain):.3g}; variances told "
        f"{told[0]:.3g} and {told[1]:.3g}, among {len(SEEDS)} seeds {variances[0]:.3g} and "
        f"{variances[1]:.3g}",
    )  # fmt: skip
    for seen_, told_ in zip(variances, told, strict=True):
        assert seen_ <= CHI_SQUARE / (len(SEEDS) - 1) * told_, "less exact than it says"
    assert gain(variances, seconds) > 1


def _mean(values: Iterable[float]) -> float:
    return mean(list(values))
