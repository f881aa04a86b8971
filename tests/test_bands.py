"""What nobody knows: rates drawn from their ranges, shows weighed anew, what moves the answer most.

In: rigs by hand whose chances are known for any rates. Out: values weighed anew against a sampling
with other rates and against theory; bands against scipy's lognormal law; sways by hand.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import exp, log, sqrt

import numpy as np
import pytest
from scipy.stats import lognorm, norm, triang

from sim.risk import bands as bands_file
from sim.risk.bands import bands, factors, guessed, kind_of, reweighed, sways, unknowns
from sim.risk.bench import Alone
from sim.risk.hazards import Hazard
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling
from sim.risk.shows import union_of
from tests.handmade import HEAD, column, dead, field_of, handmade

STUDIES = 20_000
MASSES = {"left": 0.5, "right": 0.6, "both": 0.1}
EDGE = float(norm.ppf(0.95))


def of_ways(masses: dict[str, float], seed: int = 3, **more: object) -> Sampling:
    """Two ways to a cabinet, and a link for both."""
    links = [
        ("left", "left", (HEAD,)),
        ("right", "right", (HEAD,)),
        ("both", "both", ("left", "right")),
    ]
    hazards = [dead(name, mass, **more) for name, mass in masses.items()]
    return of_hazards(links, "both", hazards, seed)


def of_hazards(links: list, end: str, hazards: list[Hazard], seed: int = 3) -> Sampling:
    field = field_of(handmade(links, {"a": (end,)}), hazards)
    return sample(Alone([field], union_of([hazards])), Effort(seed, 3000, 1e-6))


def of_chain(*hazards: Hazard) -> Sampling:
    """Links one after the other, one for each hazard; any of them darkens the cabinet."""
    names = [h.strikes[0].where for h in hazards]
    links = [(n, n, (names[k - 1] if k else HEAD,)) for k, n in enumerate(names)]
    return of_hazards(links, names[-1], list(hazards))


def dark(masses: dict[str, float], times: float = 1.0) -> float:
    left, right, both = (1 - exp(-times * mass) for mass in masses.values())
    return 1 - (1 - both) * (1 - left * right)


def mean_of(made: Sampling, key: str) -> float:
    return made.mean(0, column(made.fields[0], key))


# ---- weighed anew --------------------------------------------------------------------------------


def test_factors_of_one_give_every_value_back() -> None:
    made = of_ways(MASSES)
    found = reweighed(made, 0, np.ones((2, 3)))
    means = [made.mean(0, value) for value in range(len(made.fields[0].values))]
    assert found.tolist() == [pytest.approx(means, rel=1e-12)] * 2


@cache
def many() -> tuple[Sampling, ...]:
    return tuple(of_ways(MASSES, seed) for seed in range(12))


def weighed(by: tuple[float, float, float], key: str) -> tuple[float, float]:
    """Mean and standard error over twelve seeds of a value weighed anew."""
    each = [reweighed(made, 0, np.array([by]))[0, column(made.fields[0], key)] for made in many()]
    return float(np.mean(each)), float(np.std(each, ddof=1)) / sqrt(len(each))


BY = [(2.0, 2.0, 2.0), (0.5, 0.5, 0.5), (2.0, 0.3, 1.0), (1.0, 1.0, 1.5)]


@pytest.mark.parametrize("by", BY)
def test_other_rates_against_theory(by: tuple[float, float, float]) -> None:
    other = {name: mass * f for (name, mass), f in zip(MASSES.items(), by, strict=True)}
    found, error = weighed(by, "dark")
    assert abs(found - dark(other)) < 5 * error + 1e-4
    assert abs(found - dark(other, 1.15)) > 5 * error + 1e-4  # rates a seventh higher are noticed


def test_doubled_rates_are_as_a_sampling_with_doubled_rates() -> None:
    doubled = of_ways({name: 2 * mass for name, mass in MASSES.items()}, 40)
    for key in ("dark", "dark time", "frames"):
        found, error = weighed((2.0, 2.0, 2.0), key)
        value = column(doubled.fields[0], key)
        apart = sqrt(error**2 + doubled.error(0, value) ** 2)
        assert abs(found - doubled.mean(0, value)) < 5 * apart + 1e-4 * found
        assert abs(mean_of(many()[0], key) - doubled.mean(0, value)) > 5 * apart


def test_other_rates_of_single_faults_are_exact() -> None:
    """Of one thing that dies in the show, dark is 1 - exp(-mass), whatever its factor."""
    made = of_chain(dead("one", 0.01))
    by = np.array([[0.1], [1.0], [3.0]])
    expected = [1 - exp(-0.01 * f) for f in by[:, 0]]
    assert reweighed(made, 0, by)[:, 1] == pytest.approx(expected, rel=1e-5)


# ---- what is known or unknown together -----------------------------------------------------------


def test_hazards_of_one_kind_are_unknown_together() -> None:
    """Role, mode and cause; of a shared cause its own name."""
    one, two, other = dead("one", 0.1), dead("two", 0.1), dead("three", 0.1)
    same = replace(two, strikes=(replace(two.strikes[0], role="one"),))
    shared = replace(other, cause="shared cause")
    found = unknowns((one, same, other, shared, replace(one, cause="person")))
    assert [unknown.places for unknown in found] == [(0, 1), (2,), (3,), (4,)]
    assert found[0].name == "one dead (item)" and kind_of(shared) == (
        "three dead",
        "",
        "shared cause",
    )
    drawn = factors(found, 5, 1)
    assert (drawn[:, 0] == drawn[:, 1]).all() and (drawn[:, 0] != drawn[:, 2]).all()
    assert abs(np.corrcoef(np.log(drawn[:, 0]), np.log(drawn[:, 2]))[0, 1]) < 5 / sqrt(len(drawn))


def test_factors_are_lognormal_with_mean_one_against_theory(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The error factor is the 95th percentile over the median; the rate is the mean."""
    monkeypatch.setattr(bands_file, "STUDIES", STUDIES)
    drawn = factors(unknowns((dead("one", 0.1, error_factor=3.0),)), 1, 1)[:, 0]
    assert abs(drawn.mean() - 1) < 5 * drawn.std() / sqrt(STUDIES)
    assert abs(np.log(drawn).std() - log(3) / EDGE) < 5 * log(3) / EDGE / sqrt(2 * STUDIES)
    assert not abs(np.exp(np.log(drawn) + 0.05).mean() - 1) < 5 * drawn.std() / sqrt(STUDIES)
    assert (factors(unknowns((dead("one", 0.1, error_factor=1.0),)), 1, 1) == 1).all()


# ---- bands ---------------------------------------------------------------------------------------


def within(found: float, law: object, p: float, scale: float) -> bool:
    """Whether a percentile of `STUDIES` draws is within five of its standard errors."""
    expected = law.ppf(p)  # type: ignore[attr-defined]
    error = sqrt(p * (1 - p) / STUDIES) / law.pdf(expected)  # type: ignore[attr-defined]
    return bool(abs(found / scale - expected) < 5 * error)


def law_of(factor: float) -> object:
    sigma = log(factor) / EDGE
    return lognorm(s=sigma, scale=exp(-(sigma**2) / 2))


def test_the_band_of_a_single_hazard_against_scipy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Dark time of a rare fault goes with its rate: half of the show, by the lognormal law."""
    monkeypatch.setattr(bands_file, "STUDIES", STUDIES)
    made = of_chain(dead("one", 1e-6, error_factor=5.0))
    low, high = bands(made, 0)[column(made.fields[0], "dark time")]
    assert within(low, law_of(5.0), 0.05, 1e-6 * 500) and within(
        high, law_of(5.0), 0.95, 1e-6 * 500
    )
    assert not within(low, law_of(8.0), 0.05, 1e-6 * 500)
    assert not within(high, law_of(8.0), 0.95, 1e-6 * 500)


def test_the_ends_of_a_band_are_good_to_about_two_in_a_hundred() -> None:
    """Over eight seeds; with the 400 draws of a rough look they are not."""
    made = of_ways(MASSES, error_factor=5.0)

    def spread() -> float:
        ends = np.array([bands(replace(made, seed=seed), 0) for seed in range(8)])
        return float((ends.std(axis=0, ddof=1) / ends.mean(axis=0)).max())

    assert spread() < 0.02
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bands_file, "STUDIES", 400)
        assert spread() > 0.02


def test_a_band_of_timings_alone_against_scipy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rates known exactly; with timings at their least a third of the dark time, twice at most:
    triangular about the typical.
    """
    monkeypatch.setattr(bands_file, "STUDIES", STUDIES)
    made = of_chain(dead("one", 1e-6, error_factor=1.0))
    typical = reweighed(made, 0, np.ones((1, 1)))[0]
    low, high = bands(made, 0, (typical / 3, typical * 2))[2]
    where = triang(c=0.5, loc=-1, scale=2)
    assert within(1 + (low / typical[2] - 1) / (2 / 3), triang(c=0.5, loc=0, scale=2), 0.05, 1.0)
    assert within(high / typical[2] - 1, where, 0.95, 1.0)
    assert bands(made, 0)[2] == pytest.approx((typical[2], typical[2]))


def test_a_band_stays_within_what_can_be() -> None:
    made = of_ways({"left": 1.0, "right": 1.0, "both": 1.5}, error_factor=10.0)
    for (low, high), value in zip(bands(made, 0), made.fields[0].values, strict=True):
        assert 0 <= low <= high <= value.most


# ---- what moves the answer most ------------------------------------------------------------------


def test_sways_by_hand() -> None:
    """Each rate by itself at its 5th and 95th percentile: mean / exp(sigma^2 / 2) over and times
    its error factor; the widest first.
    """
    one, two = (
        dead("one", 1e-6, error_factor=3.0, source="said"),
        dead("two", 4e-6, error_factor=5.0),
    )
    made = of_chain(one, two)
    wide, narrow = sways(made, 0, column(made.fields[0], "dark time"))
    assert (wide.name, narrow.name, narrow.source) == ("two dead (item)", "one dead (item)", "said")
    for sway, moved, still, factor in ((wide, 4e-6, 1e-6, 5.0), (narrow, 1e-6, 4e-6, 3.0)):
        median = moved * exp(-((log(factor) / EDGE) ** 2) / 2)
        assert sway.low == pytest.approx(500 * (still + median / factor), rel=1e-5)
        assert sway.high == pytest.approx(500 * (still + median * factor), rel=1e-5)


def test_timings_sway_from_their_least_to_their_most() -> None:
    made = of_chain(dead("one", 1e-6, error_factor=1.0))
    value = column(made.fields[0], "dark time")
    ends = (np.full(6, 9e-4), np.full(6, 2e-4))
    (found,) = sways(made, 0, value, ends)  # what is known exactly sways nothing
    assert (found.name, found.low, found.high) == ("all timings, least to most", 2e-4, 9e-4)


def test_what_rests_on_placeholders_by_hand() -> None:
    """By what single faults do: three of four strikes here are guesses; of nothing, all of it."""
    made = of_chain(dead("one", 0.001, guessed=False), dead("two", 0.003))
    found = guessed(made, 0)
    assert found[column(made.fields[0], "dark time")] == pytest.approx(0.75)
    assert guessed(of_ways({"left": 0.1, "right": 0.1, "both": 1e-12}, guessed=False), 0)[0] == 0.0
