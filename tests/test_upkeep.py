"""Units that fail and are mended, simulated: published figures and Markov chains, within five
standard errors; and for each figure simulations that are wrong on purpose, which must miss it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from math import exp, log
from statistics import stdev

import pytest
from scipy import stats

from sim.reliability.markov import (
    Move,
    StateModel,
    down_after,
    how_often,
    mean_time_to_failure,
    steady,
    unavailability,
    waiting,
    working_after,
)
from sim.reliability.repairable import single, units, with_coverage
from sim.rig.terms import Law
from sim.risk import upkeep
from sim.risk.plants import Plant, uniforms, units_of
from sim.risk.upkeep import HOUR, Found, Upkeep, lives, long_run, mean_of, share_over

SEED = 20
FAILS, MENDS = 1e-3, 0.1
"""Per hour: the example of units with lambda 1e-3 and mu 0.1."""


def exponential(rate: float) -> Law:
    return Law("exponential", round(HOUR / rate))


def plant(
    count: int,
    crews: int,
    fails: float = FAILS,
    mends: float = MENDS,
    needed: int = 1,
    running: int | None = None,
    covered: float = 1.0,
) -> Plant:
    return Plant(count, fails, exponential(mends), crews, needed, running, covered)


def holds(found: Found, expected: float) -> bool:
    """Within five standard errors."""
    return abs(found.value - expected) <= 5 * found.error


SLOWER = {"mends": exponential(0.8 * MENDS)}
"""Repair at 0.8 of the rate."""
ONE_CREW, TWO_CREWS = {"crews": 1}, {"crews": 2}
NO_STANDBY, ALL_COVERED = {"running": None}, {"covered": 1.0}
WRONG = dict[str, object]


@dataclass(frozen=True)
class Row:
    """What is measured, on which plant; the printed figure and the one of the Markov chain, which
    must agree to `digits`, half of the last one printed; what makes the plant wrong, so that the
    figure is missed.
    """

    name: str
    plant: Plant
    measure: Callable[[Plant], Found]
    printed: float
    theory: float
    digits: float
    wrong: tuple[WRONG, ...]


# ---- what is measured ----------------------------------------------------------------------------


@cache
def once_lived(it: Plant, count: int) -> tuple[float, ...]:
    return lives(it, count, SEED)


@cache
def once_run(it: Plant, cycles: int) -> Upkeep:
    return long_run(it, cycles, SEED)


def mean_life(count: int) -> Callable[[Plant], Found]:
    return lambda it: mean_of(once_lived(it, count))


def survival(hours: float) -> Callable[[Plant], Found]:
    return lambda it: share_over(once_lived(it, 20_000), hours)


def in_the_long_run(cycles: int, of: Callable[[Upkeep], Found]) -> Callable[[Plant], Found]:
    return lambda it: of(once_run(it, cycles))


def available(found: Upkeep) -> Found:
    return Found(1 - found.unavailable.value, found.unavailable.error)


def down_at(hours: float, count: int) -> Callable[[Plant], Found]:
    return lambda it: upkeep.down_after(it, hours, count, SEED)


# ---- the figures ---------------------------------------------------------------------------------


def _mean_life(model: StateModel) -> float:
    return float(mean_time_to_failure(model))


def _available(model: StateModel) -> float:
    return 1 - float(unavailability(model))


def _two(crews: int, running: int | None = None, covered: float = 1.0) -> StateModel:
    return with_coverage(units(2, crews, FAILS, MENDS, running=running), covered, 1.0)


# Source: MIL-HDBK-338B, IEC 61165 (formulas from memory); solved as Markov chain, exact.
MENDED = [
    Row("mean life, active", plant(2, 1), mean_life(1000), 51_500,
        _mean_life(_two(1)), 1e-6, (SLOWER,)),
    Row("mean life, standby", plant(2, 1, running=1), mean_life(1000), 102_000,
        _mean_life(_two(1, 1)), 1e-6, (SLOWER, NO_STANDBY)),
    Row("availability, one crew", plant(2, 1), in_the_long_run(60_000, available),
        0.999803960008, _available(_two(1)), 1e-12, (SLOWER, TWO_CREWS)),
    Row("availability, two crews", plant(2, 2), in_the_long_run(60_000, available),
        0.999901970395, _available(_two(2)), 1e-12, (SLOWER, ONE_CREW)),
    Row("availability, standby", plant(2, 1, running=1), in_the_long_run(60_000, available),
        0.999900999900, _available(_two(1, 1)), 1e-12, (SLOWER, NO_STANDBY)),
    Row("availability, single", plant(1, 1), in_the_long_run(20_000, available),
        0.990099010, _available(single(FAILS, MENDS)), 5e-10, (SLOWER,)),
]  # fmt: skip

# Source: Bouricius et al. 1969 (idea from memory); exact.
COVERED = [
    Row(f"mean life, coverage {covered}", plant(2, 1, covered=covered), mean_life(count), hours,
        _mean_life(_two(1, covered=covered)), 5e-4, wrong)
    for covered, hours, count, wrong in [
        (0.99, 25_745.0, 1000, (ALL_COVERED, {"covered": 0.97})),
        (0.95, 8_575.0, 1000, ({"covered": 0.99},)),
        (0.90, 4_672.727, 1000, ({"covered": 0.95},)),
    ]
]  # fmt: skip

# Source: Winston, Operations Research (data from memory), exact: p0 = 40000/64663,
# L = 30055/64663, W = 3.074575 days. "Hours" are days here.
FIVE = plant(5, 2, 1 / 30, 1 / 3)
CHAIN = units(5, 2, 1 / 30, 1 / 3)
LONG = float(waiting(CHAIN, {f"{k} down": k for k in range(6)}))
SLOW = {"mends": exponential(0.8 / 3)}
AWAY = LONG / ((5 - LONG) / 30)
REPAIRMEN = [
    Row("repairmen: none away", FIVE, in_the_long_run(20_000, lambda it: it.all_up),
        40_000 / 64_663, float(steady(CHAIN)["0 down"]), 1e-12, (SLOW,)),
    Row("repairmen: away", FIVE, in_the_long_run(20_000, lambda it: it.units_down),
        0.464794, LONG, 5e-7, (SLOW,)),
    Row("repairmen: days away", FIVE, in_the_long_run(20_000, lambda it: it.away),
        3.074575, AWAY, 5e-7, (SLOW,)),
    Row("repairmen: days waiting", FIVE, in_the_long_run(20_000, lambda it: it.waiting),
        0.074575, AWAY - 3, 5e-7, (SLOW, {"crews": 3}, ONE_CREW)),
]  # fmt: skip

# Source: IEC 61165: U(t) = L/(L+M) (1 - e^-(L+M)t).
TRANSIENT = [
    Row(f"down after {hours} h", plant(1, 1), down_at(hours, count), printed,
        down_after(single(FAILS, MENDS), hours), digits, (SLOWER, {"fails": 1.2 * FAILS}))
    for hours, count, printed, digits in [
        (1, 40_000, 9.5116e-4, 5e-9), (10, 10_000, 6.29486e-3, 5e-9)]
]  # fmt: skip

# Source: MIL-HDBK-338B (formulas from memory), exact; cold standby also Reliability Toolkit:
# Commercial Practices (secondary source read). Time in units of 1/lambda.
ONCE = 1.0
FASTER = {"fails": 1.2}
UNMENDED = [
    *(Row(f"mean life, {needed} of {count}", plant(count, 0, ONCE, needed=needed),
          mean_life(20_000), printed, _mean_life(units(count, 0, 1.0, 0.0, needed)), 5e-10,
          (FASTER, {"units": count + 1}))
      for count, needed, printed in [(2, 1, 1.5), (3, 1, 11 / 6), (3, 2, 5 / 6)]),
    Row("two survive 1", plant(2, 0, ONCE), survival(1), 0.600423599,
        working_after(units(2, 0, 1.0, 0.0), 1), 5e-10, (FASTER, {"units": 3})),
    Row("cold standby survives 1", plant(2, 0, ONCE, running=1), survival(1), 0.735758882,
        working_after(units(2, 0, 1.0, 0.0, running=1), 1), 5e-10, (FASTER, NO_STANDBY)),
    Row("switch 0.9 survives 1", plant(2, 0, ONCE, running=1, covered=0.9), survival(1),
        0.698970938, working_after(with_coverage(units(2, 0, 1.0, 0.0, running=1), 0.9, 0.0), 1),
        5e-10, (FASTER, ALL_COVERED)),
    Row("cold standby, mean life", plant(2, 0, ONCE, running=1), mean_life(20_000), 2.0,
        _mean_life(units(2, 0, 1.0, 0.0, running=1)), 5e-10, (FASTER, NO_STANDBY)),
]  # fmt: skip

# Two crews, coverage 0.9 in the long run: what was not taken over is down until that unit is
# mended. Written out as a chain by hand; no figure was printed anywhere.
C, L, M = 0.9, FAILS, MENDS
BY_HAND = StateModel(
    ("none", "one", "one lost", "both", "both, one lost"),
    (
        Move("none", "one", 2 * L * C), Move("none", "one lost", 2 * L * (1 - C)),
        Move("one", "none", M), Move("one", "both", L),
        Move("one lost", "none", M), Move("one lost", "both, one lost", L),
        Move("both", "one", 2 * M),
        Move("both, one lost", "one", M), Move("both, one lost", "one lost", M),
    ),
    frozenset({"none", "one"}),
)  # fmt: skip
LOST = Row("availability, coverage 0.9", plant(2, 2, covered=C), in_the_long_run(20_000, available),
           _available(BY_HAND), _available(BY_HAND), 1e-12,
           (SLOWER, ALL_COVERED, {"covered": 0.95}))  # fmt: skip

ROWS = [*MENDED, *COVERED, *REPAIRMEN, *TRANSIENT, *UNMENDED, LOST]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_the_simulation_against_published(row: Row) -> None:
    assert row.theory == pytest.approx(row.printed, abs=row.digits)
    found = row.measure(row.plant)
    assert found.error > 0
    assert holds(found, row.printed)
    assert holds(found, row.theory)


WRONGS = [(row, wrong) for row in ROWS for wrong in row.wrong]


@pytest.mark.parametrize(
    ("row", "wrong"), WRONGS, ids=[f"{row.name}: {next(iter(wrong))}" for row, wrong in WRONGS]
)
def test_a_simulation_made_wrong_misses_the_published_figure(row: Row, wrong: WRONG) -> None:
    assert not holds(row.measure(replace(row.plant, **wrong)), row.printed)


# ---- what the simulation itself promises ---------------------------------------------------------


SIGMA = log(3) / float(stats.norm.ppf(0.95))
MEDIAN = exp(-(SIGMA**2) / 2)
"""Of a lognormal time of mean 1 whose 95th percentile is three times the median."""


@pytest.mark.parametrize(
    ("law", "slower"),
    [
        (Law("fixed", 10 * HOUR), Law("fixed", 13 * HOUR)),
        (Law("uniform", 0, 20 * HOUR), Law("uniform", 6 * HOUR, 20 * HOUR)),
        (
            Law("triangular", 0, 21 * HOUR, 9 * HOUR),
            Law("triangular", 9 * HOUR, 21 * HOUR, 9 * HOUR),
        ),
        (
            Law("lognormal", round(10 * HOUR * MEDIAN), factor=3.0),
            Law("lognormal", round(13 * HOUR * MEDIAN), factor=3.0),
        ),
    ],
    ids=lambda law: law.kind,
)
def test_of_a_repair_law_the_mean_alone_counts_against_theory(law: Law, slower: Law) -> None:
    """One unit: share down = mean repair / (mean repair + mean life), whatever the law."""
    share = 10 / (10 + 1 / FAILS)
    assert holds(long_run(Plant(1, FAILS, law, 1), 4_000, SEED).unavailable, share)
    assert not holds(long_run(Plant(1, FAILS, slower, 1), 4_000, SEED).unavailable, share)


def test_standard_errors_are_neither_too_small_nor_too_large() -> None:
    """(estimate - truth) / error of 300 long runs spreads by 1, known to 1 / sqrt(600) = 0.041."""
    it = plant(2, 1, fails=20 * FAILS)
    share = float(unavailability(units(2, 1, 20 * FAILS, MENDS)))
    found = [long_run(it, 150, seed).unavailable for seed in range(300)]
    spread = stdev((one.value - share) / one.error for one in found)
    assert abs(spread - 1) < 5 * 0.041
    assert abs(spread / 0.7 - 1) > 5 * 0.041  # errors that are stated as 0.7 of what they are


def test_failures_of_the_plant_are_counted_once_each_against_theory() -> None:
    """Two of three: a third failure while it is down is no new one. The count is near Poisson."""
    it = plant(3, 1, fails=20 * FAILS, needed=2)
    often = float(how_often(units(3, 1, 20 * FAILS, MENDS, needed=2), "1 down", "2 down"))
    for true, fails in ((True, it.fails), (False, 0.8 * it.fails)):
        found = long_run(replace(it, fails=fails), 10_000, SEED)
        assert holds(Found(found.failures, found.failures**0.5), often * found.hours) == true


def test_what_a_long_run_adds_up_fits_together() -> None:
    found = once_run(FIVE, 20_000)
    assert found.cycles == 20_000
    assert found.unavailable.value == pytest.approx(found.down / found.hours, rel=1e-12)
    # Little's law holds exactly over whole cycles: units away = failures per hour x time away.
    often = found.unit_failures / found.hours
    assert found.units_down.value == pytest.approx(often * found.away.value, rel=1e-9)


def test_cold_standby_lives_are_the_units_lives_one_after_the_other() -> None:
    it = plant(2, 0, running=1)
    first, second = units_of(it, SEED)
    sums = [(first.life() + second.life()) / HOUR for _ in range(50)]
    assert list(lives(it, 50, SEED)) == sums


def test_uniform_numbers_are_uniform_and_streams_differ() -> None:
    """Kolmogorov and Smirnov's test by scipy; numbers squared fail it."""
    stream = uniforms(SEED, "unit 1: life")
    numbers = [next(stream) for _ in range(5_000)]
    assert stats.kstest(numbers, "uniform").pvalue > 1e-4
    assert stats.kstest([u * u for u in numbers], "uniform").pvalue < 1e-4
    others = [uniforms(SEED, "unit 2: life"), uniforms(SEED + 1, "unit 1: life")]
    assert all([next(other) for _ in range(3)] != numbers[:3] for other in others)
    again = uniforms(SEED, "unit 1: life")
    assert [next(again) for _ in range(5_000)] == numbers


def test_another_unit_or_crew_leaves_a_units_draws_alone() -> None:
    small, large = units_of(plant(1, 1), SEED), units_of(plant(4, 3, covered=0.5), SEED)
    for one, other in zip(small, large, strict=False):
        assert [one.life() for _ in range(9)] == [other.life() for _ in range(9)]
        assert [one.repair() for _ in range(9)] == [other.repair() for _ in range(9)]
    assert large[0].life() != large[1].life()


def test_the_same_seed_gives_the_same_run() -> None:
    assert long_run(FIVE, 50, 3) == long_run(FIVE, 50, 3) != long_run(FIVE, 50, 4)
    assert lives(FIVE, 1, 3) == lives(FIVE, 1, 3) != lives(FIVE, 1, 4)


@pytest.mark.parametrize(
    "wrong",
    [
        {"units": 0},
        {"needed": 3},
        {"needed": 0},
        {"running": 3},
        {"running": 0},
        {"crews": -1},
        {"fails": 0.0},
        {"fails": float("nan")},
        {"covered": 1.1},
    ],
    ids=str,
)
def test_a_plant_that_cannot_be_is_refused(wrong: WRONG) -> None:
    with pytest.raises(ValueError, match="Plant"):
        replace(plant(2, 1), **wrong)


def test_a_long_run_needs_a_crew_and_cycles() -> None:
    for it, cycles in ((plant(2, 0), 10), (plant(2, 1), 1)):
        with pytest.raises(ValueError, match="at least"):
            long_run(it, cycles, SEED)
