"""What a contract takes back: steps, cap, deductible and cover."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.reliability import money
from sim.rig.terms import ClauseTerms, Contract, Step
from sim.risk.dues import Dues, dues_of, insured, loss_of
from sim.timebase import FLICKS

S = FLICKS
DARK = ClauseTerms(
    "dark", "dark", "group", Fraction(1, 10),
    (Step(30 * S, Fraction(1, 2)), Step(5 * S, Fraction(3, 20))),
)  # fmt: skip
STILL = ClauseTerms(
    "still", "frozen", "wall", Fraction(1, 2), (Step(60 * S, amount=Decimal(750)),), "make-good"
)
CONTRACT = Contract(
    "EUR", Decimal(40000), (DARK, STILL), deductible=Decimal(1000), cover=Decimal(10000)
)
ANY = ClauseTerms("any", "dark", "group", Fraction(0), (Step(0, Fraction(1)),))
PAIRS = ((0, "group"), (1, "left"), (1, "right"))
DUES = dues_of(CONTRACT, PAIRS)


def loss(group: int, left: int = 0, right: int = 0, dues: Dues = DUES) -> Decimal:
    """Of so many whole seconds."""
    return loss_of(dues, (group * S, left * S, right * S))


# ---- what is due ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("group", "left", "right", "due"),
    [
        (0, 0, 0, 0),
        (5, 0, 0, 0),  # exactly as long as the step: not longer
        (6, 0, 0, 6000),  # 15 % of 40 000
        (30, 0, 0, 6000),
        (31, 0, 0, 20000),  # the highest step alone, not 6000 + 20 000
        (0, 61, 0, 750),
        (0, 60, 61, 750),  # the worse of two walls
        (0, 31, 40, 0),  # two walls are not added up
        (0, 61, 99, 750),  # each clause pays once
        (31, 61, 0, 20750),  # clauses add up
    ],
)
def test_a_clause_pays_the_highest_step_of_its_worst_target(
    group: int, left: int, right: int, due: int
) -> None:
    assert loss(group, left, right) == due


def test_a_flick_more_than_the_time_is_longer() -> None:
    assert loss_of(DUES, (5 * S, 0, 0)) == 0
    assert loss_of(DUES, (5 * S + 1, 0, 0)) == 6000


def test_all_dues_are_held_to_the_cap_else_to_the_fee() -> None:
    held = dues_of(replace(CONTRACT, cap=Decimal("20500.50")), PAIRS)
    assert loss(31, 61, dues=held) == Decimal("20500.50")
    assert loss(31, dues=held) == 20000
    twice = Contract("EUR", Decimal(100), (ANY, ANY))
    assert loss_of(dues_of(twice, ((0, "group"), (1, "group"))), (1, 1)) == 100


def test_a_due_is_rounded_to_the_smallest_coin_half_to_even() -> None:
    third = Step(0, Fraction(1, 3))
    for currency, fee, share, due in (
        ("EUR", "100", Fraction(1, 3), "33.33"),
        ("JPY", "100", Fraction(1, 3), "33"),
        ("BHD", "100", Fraction(1, 3), "33.333"),
        ("EUR", "0.25", Fraction(1, 2), "0.12"),  # 0.125
        ("EUR", "0.27", Fraction(1, 2), "0.14"),  # 0.135
    ):
        one = ClauseTerms("c", "dark", "group", Fraction(0), (replace(third, share=share),))
        contract = Contract(currency, Decimal(fee), (one,))
        found = loss_of(dues_of(contract, ((0, "group"),)), (1,))
        assert str(found) == due


def test_another_number_of_stretches_is_the_callers_mistake() -> None:
    with pytest.raises(ValueError, match="argument 2"):
        loss_of(DUES, (0, 0))


seconds = st.integers(0, 200)
lengths = st.tuples(seconds, seconds, seconds)


@given(lengths, lengths)
def test_longer_never_costs_less(one: tuple[int, int, int], two: tuple[int, int, int]) -> None:
    longer = tuple(map(max, one, two))
    assert loss(*one) <= loss(*longer)
    assert 0 <= loss(*longer) <= CONTRACT.fee


@given(lengths, st.integers(0, 50000))
def test_dues_against_the_clauses_of_the_reliability_room(
    found: tuple[int, int, int], cap: int
) -> None:
    """The same by `due` and `capped`, target by target: the dearest of a clause, then all."""
    fee, top = money.Money(Decimal(40000), "EUR"), money.Money(Decimal(cap), "EUR")
    dark = money.Clause(
        "dark", (money.Step(Fraction(5), Fraction(3, 20)), money.Step(Fraction(30), Fraction(1, 2)))
    )
    still = money.Clause(
        "still", (money.Step(Fraction(60), amount=money.Money(Decimal(750), "EUR")),)
    )
    group, left, right = (Fraction(n) for n in found)
    walls = max(money.due(still, left, fee), money.due(still, right, fee))
    expected = money.capped([money.due(dark, group, fee), walls], top)
    dues = dues_of(replace(CONTRACT, cap=Decimal(cap)), PAIRS)
    assert loss(*found, dues=dues) == expected.amount


# ---- who bears it --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gross", "paid"), [(0, 0), (1000, 0), (1001, 1), (6000, 5000), (11000, 10000), (40000, 10000)]
)
def test_the_insurer_bears_what_exceeds_the_deductible_up_to_the_cover(
    gross: int, paid: int
) -> None:
    assert insured(CONTRACT, Decimal(gross)) == paid


def test_without_cover_no_insurer_pays_and_without_deductible_from_the_first_coin() -> None:
    assert insured(replace(CONTRACT, cover=None), Decimal(6000)) == 0
    assert insured(replace(CONTRACT, deductible=None), Decimal(6000)) == 6000


@given(st.integers(0, 50000), st.integers(0, 50000), st.integers(0, 50000))
def test_the_insurers_part_lies_between_nothing_and_the_cover(
    gross: int, deductible: int, cover: int
) -> None:
    own = replace(CONTRACT, deductible=Decimal(deductible), cover=Decimal(cover))
    part = insured(own, Decimal(gross))
    assert 0 <= part <= min(cover, max(gross - deductible, 0))
    assert gross - part >= min(gross, deductible)
