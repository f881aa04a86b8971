"""Markov chains: published figures and closed forms, and two other ways to the same figures."""

from __future__ import annotations

from fractions import Fraction
from math import exp, expm1, inf
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from sim.reliability.markov import (
    Move,
    StateModel,
    after,
    availability,
    down_after,
    generator,
    how_often,
    mean_time_to_failure,
    steady,
    unavailability,
    waiting,
    without_return,
    working_after,
)
from sim.reliability.repairable import single, units, with_coverage

FAILS, MENDS = Fraction(1, 1000), Fraction(1, 10)
"""Per hour: the example of two units, lambda 1e-3 and mu 0.1."""


# ---- without repair ------------------------------------------------------------------------------


# Source: MIL-HDBK-338B (formulas from memory); exact arithmetic. In units of 1/lambda.
@pytest.mark.parametrize(
    ("count", "needed", "mean"),
    [(2, 1, Fraction(3, 2)), (3, 1, Fraction(11, 6)), (3, 2, Fraction(5, 6))],
)
def test_mean_time_of_parallel_units_against_published(
    count: int, needed: int, mean: Fraction
) -> None:
    model = units(count, 0, Fraction(1, 50), Fraction(0), needed)
    assert mean_time_to_failure(model) == 50 * mean


def test_two_in_parallel_at_one_mean_life_against_published() -> None:
    # Source: MIL-HDBK-338B (formula from memory), exact: 2 e^-1 - e^-2.
    assert working_after(units(2, 0, 0.02, 0.0), 50) == pytest.approx(0.600423599, abs=5e-10)


def test_cold_standby_against_published() -> None:
    # Source: MIL-HDBK-338B; Reliability Toolkit: Commercial Practices (secondary source read).
    model = units(2, 0, Fraction(1, 50), Fraction(0), running=1)
    assert working_after(model, 50) == pytest.approx(0.735758882, abs=5e-10)
    assert mean_time_to_failure(model) == 100


def test_cold_standby_whose_switch_may_fail_against_published() -> None:
    # Source: as above, switch success 0.9: e^-x (1 + 0.9 x) at x = 1.
    model = with_coverage(units(2, 0, 0.02, 0.0, running=1), 0.9, 0.0)
    assert working_after(model, 50) == pytest.approx(0.698970938, abs=5e-10)


@given(st.floats(0.01, 5), st.floats(0, 1))
def test_cold_standby_against_theory(x: float, success: float) -> None:
    """e^-x (1 + p x), see above."""
    model = with_coverage(units(2, 0, 1.0, 0.0, running=1), success, 0.0)
    assert working_after(model, x) == pytest.approx(exp(-x) * (1 + success * x), rel=1e-12)


# ---- with repair ---------------------------------------------------------------------------------


# Source: MIL-HDBK-338B, IEC 61165 (formulas from memory); solved as Markov chain, exact.
@pytest.mark.parametrize(
    ("crews", "running", "hours"), [(1, None, 51_500), (1, 1, 102_000), (2, None, 51_500)]
)
def test_two_mended_units_mean_time_against_published(
    crews: int, running: int | None, hours: int
) -> None:
    model = units(2, crews, FAILS, MENDS, running=running)
    assert mean_time_to_failure(model) == hours


# Source: as above, with r = lambda / mu = 1/100: (1 + 2 r) / (1 + 2 r + 2 r^2) for one crew,
# (1 + 2 r) / (1 + r)^2 for two, (1 + r) / (1 + r + r^2) standing by. The last printed digit of
# the third, 0.999900999900, is cut off, not rounded: it is held to the eleven before it.
@pytest.mark.parametrize(
    ("crews", "running", "exact", "printed", "digits"),
    [
        (1, None, Fraction(10_200, 10_202), 0.999803960008, 12),
        (2, None, Fraction(10_200, 10_201), 0.999901970395, 12),
        (1, 1, Fraction(10_100, 10_101), 0.99990099990, 11),
    ],
    ids=["one crew", "two crews", "standby"],
)
def test_two_mended_units_availability_against_published(
    crews: int, running: int | None, exact: Fraction, printed: float, digits: int
) -> None:
    found = availability(units(2, crews, FAILS, MENDS, running=running))
    assert found == exact
    assert unavailability(units(2, crews, FAILS, MENDS, running=running)) == 1 - exact
    assert availability(units(2, crews, 1e-3, 0.1, running=running)) == pytest.approx(
        printed, abs=0.5 * 10**-digits
    )


def test_one_unit_against_published() -> None:
    # Source: as above: mu / (lambda + mu).
    assert availability(single(1e-3, 0.1)) == pytest.approx(0.990099010, abs=5e-10)
    assert unavailability(single(FAILS, MENDS)) == Fraction(1, 101)


# Source: Bouricius et al. 1969 (idea from memory); exact.
@pytest.mark.parametrize(
    ("covered", "hours", "digits"),
    [("1", 51_500, 0), ("0.99", 25_745.0, 1), ("0.95", 8_575.0, 1), ("0.90", 4_672.727, 3)],
)
def test_imperfect_coverage_against_published(covered: str, hours: float, digits: int) -> None:
    model = with_coverage(units(2, 1, FAILS, MENDS), Fraction(covered), MENDS)
    assert float(mean_time_to_failure(model)) == pytest.approx(hours, abs=0.5 * 10**-digits)


# Source: IEC 61165: U(t) = L / (L + M) (1 - e^-(L + M) t), lambda 1e-3, mu 0.1; exact.
@pytest.mark.parametrize(("hours", "down"), [(1, 9.5116e-4), (10, 6.29486e-3)])
def test_one_unit_transient_against_published(hours: float, down: float) -> None:
    found = down_after(single(1e-3, 0.1), hours)
    assert found == pytest.approx(down, rel=1e-5)
    assert found == pytest.approx(1e-3 / 0.101 * -expm1(-0.101 * hours), rel=1e-12)


def test_five_machines_and_two_repairmen_against_published() -> None:
    # Source: Winston, Operations Research (data from memory); exact. Per day.
    model = units(5, 2, Fraction(1, 30), Fraction(1, 3))
    worth = {f"{k} down": k for k in range(6)}
    down = waiting(model, worth)
    assert steady(model)["0 down"] == Fraction(40_000, 64_663)
    assert down == Fraction(30_055, 64_663)
    often = sum(how_often(model, f"{k} down", f"{k + 1} down") for k in range(5))
    assert float(down) == pytest.approx(0.464794, abs=5e-7)
    assert float(down / often) == pytest.approx(3.074575, abs=5e-7)  # Little: W = L / rate


def test_a_failure_not_taken_over_is_down_until_somebody_acts() -> None:
    """Of 2 first failures per 1 000 h half are lost, each for 1/4 h: 1/1000 x 1/4 of the time."""
    model = with_coverage(units(2, 2, FAILS, MENDS), Fraction(1, 2), Fraction(4))
    lost = steady(model)["1 down, not taken over"]
    assert lost == steady(model)["0 down"] * Fraction(1, 1000) / 4
    assert unavailability(model) > unavailability(units(2, 2, FAILS, MENDS))


# ---- other ways to the same figures --------------------------------------------------------------


@st.composite
def models(draw: st.DrawFn) -> StateModel:
    """Two to six states, all of which reach one another round a ring; some of them work."""
    size = draw(st.integers(2, 6))
    rates = st.floats(1e-4, 10)
    ring = [(i, (i + 1) % size) for i in range(size)]
    more = draw(st.lists(st.tuples(st.integers(0, size - 1), st.integers(0, size - 1)), max_size=8))
    moves = tuple(Move(f"s{i}", f"s{j}", draw(rates)) for i, j in ring + more)
    working = draw(st.integers(1, size - 1))
    names = tuple(f"s{i}" for i in range(size))
    return StateModel(names, moves, frozenset(names[:working]))


def matrix(model: StateModel) -> np.ndarray:
    return np.array(generator(model), dtype=float)


@given(models())
def test_a_generator_row_sums_to_nothing(model: StateModel) -> None:
    assert matrix(model).sum(axis=1) == pytest.approx(0, abs=1e-12)
    assert (matrix(model) - np.diag(np.diag(matrix(model))) >= 0).all()


@given(models())
def test_the_steady_state_against_theory(model: StateModel) -> None:
    """pi Q = 0, sum pi = 1, by numpy's least squares."""
    q = matrix(model)
    system = np.vstack([q.T, np.ones(len(q))])
    solved = np.linalg.lstsq(system, np.array([0.0] * len(q) + [1.0]), rcond=None)[0]
    assert list(steady(model).values()) == pytest.approx(list(solved), abs=1e-9)


@given(models(), st.floats(0, 50))
def test_the_transient_against_theory(model: StateModel, hours: float) -> None:
    """First row of exp(Q t), by scipy's matrix exponential."""
    found = after(model, hours)
    assert list(found.values()) == pytest.approx(list(expm(matrix(model) * hours)[0]), abs=1e-10)
    assert sum(found.values()) == pytest.approx(1)


@given(models())
def test_the_mean_time_against_theory(model: StateModel) -> None:
    """The first entry of -Q_ww^-1 1 over the working states, by numpy's linear solve."""
    working = len(model.working)
    inner = matrix(model)[:working, :working]
    solved = np.linalg.solve(-inner, np.ones(working))
    assert mean_time_to_failure(model) == pytest.approx(solved[0], rel=1e-7)


@given(models())
def test_after_a_long_time_the_transient_is_the_steady_state(model: StateModel) -> None:
    found, long_run = after(model, 1e9), steady(model)
    assert all(found[s] == pytest.approx(long_run[s], rel=1e-9) for s in model.states)


@given(models(), st.floats(0, 20), st.floats(0, 20))
@settings(max_examples=30)
def test_never_failed_yet_only_falls(model: StateModel, one: float, two: float) -> None:
    once = without_return(model)
    early, late = working_after(once, min(one, two)), working_after(once, max(one, two))
    assert late <= early + 1e-12
    assert working_after(once, max(one, two)) <= working_after(model, max(one, two)) + 1e-12


def test_small_unavailabilities_keep_their_digits() -> None:
    """Two crews: units independent, so U = (lambda / (lambda + mu))^2, here about 1e-18."""
    model = units(2, 2, 1e-9, 1.0)
    assert unavailability(model) == pytest.approx((1e-9 / (1 + 1e-9)) ** 2, rel=1e-12)
    assert down_after(model, 3.0) == pytest.approx(
        (1e-9 / (1 + 1e-9) * -expm1(-3 * (1 + 1e-9))) ** 2, rel=1e-12
    )


# ---- against a simulation, which can fail --------------------------------------------------------


def simulated_mean(bias: float, runs: int = 4000) -> tuple[float, float]:
    """Mean and standard error of the time to failure of two units, one crew, seed 3."""
    draw, times = Random(3), []
    for _ in range(runs):
        down, now = 0, 0.0
        while down < 2:
            fails, mends = (2 - down) * 0.1 * bias, min(down, 1) * 0.5
            now += draw.expovariate(fails + mends)
            down += 1 if draw.random() * (fails + mends) < fails else -1
        times.append(now)
    return float(np.mean(times)), float(np.std(times) / runs**0.5)


def test_the_mean_time_against_a_simulation_that_can_fail() -> None:
    theory = mean_time_to_failure(units(2, 1, 0.1, 0.5))
    mean, error = simulated_mean(1.0)
    assert abs(mean - theory) < 5 * error
    mean, error = simulated_mean(1.2)  # deliberately biased: must be noticed
    assert abs(mean - theory) > 5 * error


# ---- what cannot be ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: StateModel((), (), frozenset()), "at least one"),
        (lambda: StateModel(("a", "a"), (), frozenset()), "each once"),
        (lambda: StateModel(("a",), (Move("a", "b", 1.0),), frozenset()), "unknown states"),
        (lambda: StateModel(("a",), (Move("a", "a", -1.0),), frozenset()), "rates"),
        (lambda: StateModel(("a",), (Move("a", "a", float("nan")),), frozenset()), "rates"),
        (lambda: units(2, 1, 1.0, 1.0, needed=3), "3 needed"),
        (lambda: units(2, 1, 1.0, 1.0, running=0), "0 running"),
        (lambda: with_coverage(single(1.0, 1.0), 1.1, 1.0), "coverage"),
        (lambda: after(single(1.0, 1.0), -1), "0 or more"),
        (lambda: after(single(1.0, 1.0), inf), "finite"),
        (lambda: mean_time_to_failure(single(0.0, 1.0)), "nothing leads"),
    ],
)
def test_what_cannot_be_is_refused(wrong, says: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=says):
        wrong()


def test_a_chain_that_may_end_in_two_ways_has_no_steady_state() -> None:
    moves = (Move("a", "b", 1.0), Move("a", "c", 2.0))
    with pytest.raises(ValueError, match="different sets"):
        steady(StateModel(("a", "b", "c"), moves, frozenset("a")))


def test_a_start_that_does_not_work_has_no_time_to_failure() -> None:
    model = StateModel(("a", "b"), (Move("a", "b", 1.0),), frozenset("b"))
    with pytest.raises(ValueError, match="does not work"):
        mean_time_to_failure(model)


def test_states_left_for_ever_have_no_share_of_the_time() -> None:
    moves = (Move("new", "up", 1.0), Move("up", "down", 1.0), Move("down", "up", 3.0))
    found = steady(StateModel(("new", "up", "down"), moves, frozenset(("new", "up"))))
    assert found == pytest.approx({"new": 0, "up": 0.75, "down": 0.25})
