"""How shows are shared out among numbers of faults: budgets, first looks, what is told apart.

In: rigs by hand and samplings made of a few shows. Out: counts, exactly.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.errors import InputError
from sim.risk import montecarlo
from sim.risk.bench import Alone
from sim.risk.field import Field
from sim.risk.montecarlo import (
    ANY_PILOT,
    BATCH,
    COUNTED,
    FEW_PAIRS,
    LEAST,
    PILOT,
    USUAL,
    Effort,
    doubt,
    sample,
)
from sim.risk.piles import ANY, EACH_TWO, EXACT, SAMPLED, Pile, Sampling
from sim.risk.piling import ones
from sim.risk.shows import Union, union_of
from tests.handmade import HEAD, dead, field_of, handmade

PAIR = 2


def links(count: int, mass: float = 0.4) -> tuple[Field, Union]:
    """Links in a row to one cabinet, each with one hazard."""
    names = [f"link-{n}" for n in range(count)]
    chain = [(n, n, (before,)) for n, before in zip(names, [HEAD, *names], strict=False)]
    hazards = [dead(name, mass / count) for name in names]
    return field_of(handmade(chain, {"a": (names[-1],)}), hazards), union_of([hazards])


FIELD, UNION = links(3)
SIZE = len(FIELD.values)
WORK = Alone([FIELD], UNION)


def pile(faults: int, values: list[float], method: str = SAMPLED, **more: object) -> Pile:
    """`values`: of each show in every column."""
    table = np.array(values)[:, None].repeat(SIZE, axis=1)
    shares = np.full(len(values), 1 / len(values))
    shows = tuple(() for _ in values)
    made = Pile(faults, 0.1, 0.1, method, shows, shares, (table,), (table,), (table,))
    return replace(made, **more)  # type: ignore[arg-type]


def of(*piles: Pile) -> Sampling:
    return Sampling(UNION, (FIELD,), piles, 0.0)


# ---- budgets


def test_the_first_look_is_longest_at_two_faults() -> None:
    assert [montecarlo._first(n) for n in (2, 3, 9)] == [5 * PILOT, PILOT, PILOT]


@pytest.mark.parametrize(("pairs", "each"), [(1, 1000), (6, 166), (400, 2), (501, 2), (0, 1000)])
def test_the_first_look_at_pairs_is_shared_among_them(pairs: int, each: int) -> None:
    assert montecarlo._of_pair(pairs) == each


def test_the_least_is_every_first_look_and_what_counts_after_it() -> None:
    several = UNION.most - 2
    assert several > 2
    rest = several * (PILOT + COUNTED)
    assert montecarlo._least(UNION, few=False) == 5 * PILOT + COUNTED + rest
    assert montecarlo._least(UNION, few=True) == 6 * 166 + rest


def test_of_shows_of_many_faults_the_least_is_a_first_few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(montecarlo, "MOST_STRATA", UNION.most)
    assert montecarlo._least(UNION, few=True) > ANY_PILOT
    monkeypatch.setattr(montecarlo, "MOST_STRATA", UNION.most - 1)
    assert montecarlo._least(UNION, few=True) == ANY_PILOT


@pytest.mark.parametrize(
    ("hazards", "budget", "few"),
    [
        (3, 0, True),
        (32, 0, True),
        (33, 0, False),
        (33, 1495, False),
        (33, 1496, True),
        (154, None, True),
        (155, None, False),
    ],
)
def test_pairs_are_told_apart_where_they_are_few(
    hazards: int, budget: int | None, few: bool
) -> None:
    """At least two shows each: of 32 hazards 528 pairs take 1 056 of the 1 100 of any first look,
    of 33 the 561 pairs take 1 122, three quarters of 1 496.
    """
    _, union = links(hazards)
    assert 154 * 155 // 2 < FEW_PAIRS < 155 * 156 // 2
    assert montecarlo._few(union, Effort(budget=budget)) is few


def test_a_budget_that_nobody_stated_is_what_is_usual_beyond_the_least() -> None:
    made = of(pile(1, [0.0] * 7))
    least = montecarlo._least(UNION, True)
    assert montecarlo._enough(WORK, Effort(budget=None), made, True).budget == least + 7 + USUAL


def test_a_budget_below_the_least_is_refused_with_all_that_it_is_made_of() -> None:
    least = montecarlo._least(UNION, True)
    effort = Effort(budget=least + 6, refuses=True)
    made = of(pile(1, [0.0] * 7))
    with pytest.raises(InputError) as told:
        montecarlo._enough(WORK, effort, made, True)
    (problem,) = told.value.problems
    assert (problem.where, problem.found) == ("--shows", str(least + 6))
    assert problem.allowed == (
        f"at least {least + 7} here: 7 for hazards that are mended or age, "
        f"{least} to look at several faults"
    )
    assert problem.todo == "ask for more, or leave --shows out"
    assert montecarlo._enough(WORK, replace(effort, budget=least + 7), made, True).budget
    lenient = replace(effort, refuses=False)
    assert montecarlo._enough(WORK, lenient, made, True) == lenient


def test_a_refusal_without_single_shows_does_not_speak_of_them() -> None:
    with pytest.raises(InputError) as told:
        montecarlo._enough(WORK, Effort(budget=1, refuses=True), of(), True)
    (problem,) = told.value.problems
    least = montecarlo._least(UNION, True)
    assert problem.allowed == f"at least {least} here: {least} to look at several faults"


# ---- more shows


def wanted(
    monkeypatch: pytest.MonkeyPatch, needs: dict[int, float], worked: int, budget: int | None
) -> dict[int, int]:
    monkeypatch.setattr(montecarlo, "_needs", lambda made, effort: needs)
    return montecarlo._wanted(of(pile(2, [0.0] * worked)), Effort(budget=budget))


def test_shows_go_where_the_variance_is(monkeypatch: pytest.MonkeyPatch) -> None:
    shared = wanted(monkeypatch, {2: 3.0, 3: 1.0, 4: 0.0}, 100, 100 + BATCH)
    assert shared == {2: 750, 3: 250}
    half = wanted(monkeypatch, {2: 3.0, 3: 1.0}, 4000, 100_000)
    assert half == {2: 1500, 3: 500}
    left = wanted(monkeypatch, {2: 3.0, 3: 1.0}, 4000, 4200)
    assert left == {2: 150, 3: 50}


def test_few_shows_more_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    assert wanted(monkeypatch, {2: 1.0, 3: 1.0}, 100, 100 + 2 * LEAST) == {2: LEAST, 3: LEAST}
    assert wanted(monkeypatch, {2: 1.0, 3: 1.0}, 100, 99 + 2 * LEAST) == {}
    assert wanted(monkeypatch, {2: 1.0}, 100, 100) == {}
    assert wanted(monkeypatch, {2: 1.0}, 100, None) == {}
    assert wanted(monkeypatch, {2: 0.0}, 100, 9000) == {}


def test_each_show_of_many_faults_takes_a_hundred_of_a_budget(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(montecarlo, "_needs", lambda made, effort: {ANY: 1.0})
    made = of(pile(ANY, [0.0] * 20))
    assert montecarlo._wanted(made, Effort(budget=5099)) == {ANY: 30}
    assert montecarlo._wanted(made, Effort(budget=2000)) == {}


def test_shows_of_a_group_stand_together_the_fresh_ones_last() -> None:
    assert montecarlo._in_groups((2, 1), (1, 2)).tolist() == [0, 1, 3, 2, 4, 5]
    assert montecarlo._in_groups((1, 0, 0), (0, 2, 1)).tolist() == [0, 1, 2, 3]


def test_numbers_of_faults_are_told_apart_up_to_the_most_that_there_may_be(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(montecarlo, "MOST_STRATA", UNION.most)
    made = sample(WORK, Effort(3, 0))
    assert {pile.faults for pile in made.piles} == set(range(1, UNION.most + 1))


def test_single_faults_without_a_closed_form_are_drawn_by_the_seed() -> None:
    """What ends beyond the end of the show has none."""
    chain = [("link", "link", (HEAD,))]
    hazards = [dead("link", 0.4, lasts=10**15)]
    field, union = field_of(handmade(chain, {"a": ("link",)}), hazards), union_of([hazards])
    drawn = []
    for seed in (3, 4):
        work, nothing = Alone([field], union), Sampling(union, (field,), (), 0.0)
        first, *_ = montecarlo._singles(work, Effort(seed), nothing)
        (alone,) = ones(work, seed, first.exacts)
        assert first.piles[0].shows == alone.shows
        drawn.append(alone.shows)
    assert drawn[0] != drawn[1]


# ---- doubt


def test_the_doubt_of_a_mean_counts_one_show_more_like_the_farthest() -> None:
    """Four shows, of which one has 4: variance 4, and a deviation of 3 in one of four."""
    made = of(pile(3, [0.0, 0.0, 0.0, 4.0]))
    variance = 4.0 + 3.0**2 / 4
    assert doubt(made, 0, 0) == pytest.approx((0.1**2 * variance / 4) ** 0.5)
    assert doubt(of(pile(1, [1.0], EXACT)), 0, 0) == 0.0
    both = of(*made.piles, *made.piles)
    assert doubt(both, 0, 0) == pytest.approx(2**0.5 * doubt(made, 0, 0))


def test_where_all_shows_were_alike_the_next_may_have_all_there_is() -> None:
    made = of(pile(3, [1.0] * 5))
    for place, value in enumerate(FIELD.values):
        assert doubt(made, 0, place) == pytest.approx((0.1**2 * value.most**2 / 5 / 5) ** 0.5)


def test_alike_is_meant_of_each_value_by_itself() -> None:
    table = np.arange(1.0, SIZE + 1).repeat(5).reshape(SIZE, 5).T
    made = of(pile(3, [1.0] * 5, tables=(table,)))
    for place, value in enumerate(FIELD.values):
        assert doubt(made, 0, place) == pytest.approx(0.1 * value.most / 5)


def test_where_all_later_shows_were_alike_the_first_look_is_no_comfort() -> None:
    """Three shows of a first look, of which one has 4, then four that are alike: of each an equal
    share. The variance of one show is then 16 / 7, from the three alone.
    """
    values = [0.0, 0.0, 4.0, 1.0, 1.0, 1.0, 1.0]
    made = of(pile(3, values, groups=(3, 2, 2), ratios=(1.0,) * 7))
    for place, value in enumerate(FIELD.values):
        variance = 16 / 7 + value.most**2 / 7
        assert doubt(made, 0, place) == pytest.approx((0.1**2 * variance / 7) ** 0.5)


def test_pairs_whose_shows_were_alike_may_hide_their_part() -> None:
    shows = [1.0, 1.0, 0.0, 3.0]
    pairs = pile(PAIR, shows, EACH_TWO, groups=(2, 2))
    most = np.array([value.most for value in FIELD.values])
    spread = 4.5 / 4**2 * 2 * 4
    found = [doubt(of(pairs), 0, place) ** 2 for place in range(SIZE)]
    hidden = (most / 4) ** 2 * 4
    assert found == pytest.approx(0.1**2 * (spread + hidden) / 4)


def test_shows_are_needed_most_where_the_doubt_is_largest_against_its_value() -> None:
    doubtful, sure = pile(3, [0.0, 0.0, 0.0, 4.0]), pile(4, [1.0, 1.1, 1.0, 1.1])
    made = of(pile(1, [1.0], EXACT), doubtful, sure)
    needs = montecarlo._needs(made, Effort(precision=1e-6))
    assert list(needs) == [3, 4] and needs[3] > needs[4] > 0
    mean = made.mean(0, 0)
    assert mean == pytest.approx(0.1 * (1.0 + 1.0 + 1.05))
    assert needs[3] == pytest.approx(0.1 * (4.0 + 9 / 4) ** 0.5 / mean)
    assert montecarlo._needs(made, Effort(precision=10.0)) == {3: 0.0, 4: 0.0}
    nowhere = Effort(precision=1e-6, keys=("nothing",))
    assert montecarlo._needs(made, nowhere) == {3: 0.0, 4: 0.0}
    assert montecarlo._needs(of(pile(PAIR, [0.0, 4.0])), Effort(precision=1e-6))[PAIR] > 0
    key = FIELD.values[0].key
    assert montecarlo._needs(made, Effort(precision=1e-6, keys=(key,))) == pytest.approx(needs)


def test_single_faults_are_worked_out_whatever_the_budget() -> None:
    known = list(montecarlo._singles(WORK, Effort(budget=None), replace(of(), untold=0.1)))
    assert known[-1].untold == 0.0 and [pile.method for pile in known[-1].piles] == [EXACT]
    assert all(each is not None for each in known[-1].exacts[0])
