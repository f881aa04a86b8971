"""Money: exact, one currency, written and read; steps of clauses, deductible and cap."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.reliability.money import (
    MINOR,
    Clause,
    Cover,
    Money,
    Step,
    capped,
    check_steps,
    covered,
    due,
    expected,
    kept,
    nothing,
    parse_money,
    total,
)


def eur(amount: str) -> Money:
    return Money(Decimal(amount), "EUR")


cents = st.integers(0, 10**12).map(lambda n: Money(Decimal(n).scaleb(-2), "EUR"))

# ---- amounts -------------------------------------------------------------------------------------


def test_tenths_add_up_exactly() -> None:
    assert total([eur("0.10")] * 3, "EUR") == eur("0.30")
    assert eur("1.00") - eur("0.90") == eur("0.10")
    assert eur("30000") * Fraction(3, 20) == eur("4500")
    assert total([], "EUR") == nothing("EUR") == eur("0")


@given(st.lists(cents, max_size=20))
def test_a_sum_does_not_depend_on_the_order(amounts: list[Money]) -> None:
    assert total(amounts, "EUR") == total(reversed(amounts), "EUR")
    assert total(amounts, "EUR").amount * 100 == sum(int(a.amount * 100) for a in amounts)


def test_currencies_are_never_mixed() -> None:
    francs = Money(Decimal(5), "CHF")
    for mixed in (
        lambda: eur("1") + francs,
        lambda: eur("1") - francs,
        lambda: eur("1") < francs,
        lambda: eur("1") <= francs,
        lambda: total([eur("1"), francs], "EUR"),
        lambda: covered(francs, Cover(eur("1"))),
    ):
        with pytest.raises(ValueError, match="one currency"):
            mixed()


def test_a_float_is_no_amount() -> None:
    with pytest.raises(TypeError, match="Decimal"):
        Money(0.1, "EUR")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="times"):
        eur("1") * 0.1  # type: ignore[operator]
    for amount, code in (("NaN", "EUR"), ("Infinity", "EUR"), ("1", "XXX"), ("1", "")):
        with pytest.raises(ValueError, match="ISO 4217"):
            Money(Decimal(amount), code)


@pytest.mark.parametrize(
    ("money", "text"),
    [
        (eur("12500"), "12 500 EUR"),
        (eur("12500.5"), "12 500.50 EUR"),
        (eur("0.125"), "0.12 EUR"),
        (eur("0.135"), "0.14 EUR"),
        (eur("-0.001"), "0 EUR"),
        (eur("-1234.5"), "-1 234.50 EUR"),
        (Money(Decimal("1234.6"), "JPY"), "1 235 JPY"),
        (Money(Decimal("1.2345"), "BHD"), "1.234 BHD"),
    ],
)
def test_money_is_shown_to_the_smallest_coin(money: Money, text: str) -> None:
    assert str(money) == text


@given(st.integers(0, 10**14), st.sampled_from(sorted(MINOR)))
def test_what_is_shown_reads_back(coins: int, code: str) -> None:
    money = Money(Decimal(coins).scaleb(-MINOR[code]), code)
    assert parse_money(str(money), "fee") == money


@pytest.mark.parametrize(
    ("text", "found", "near"),
    [
        ("12500", "has no currency", ""),
        ("12500 EURO", "has an unknown currency 'EURO'", "EUR"),
        ("12500 eur", "has an unknown currency 'eur'", "EUR"),
        ("EUR", "is not an amount of money", ""),
        ("-5 EUR", "is not an amount of money", ""),
        ("1,50 EUR", "is not an amount of money", ""),
        ("1e5 EUR", "is not an amount of money", ""),
        ("12 50 EUR", "is not an amount of money", ""),
        ("nan EUR", "is not an amount of money", ""),
        ("", "is not an amount of money", ""),
        ("1234567890123456789 EUR", "is not an amount of money", ""),
        ("1.005 EUR", "is finer than the smallest coin", ""),
        ("10.5 JPY", "is finer than the smallest coin", ""),
    ],
)
def test_money_written_wrong_has_one_clear_message(text: str, found: str, near: str) -> None:
    with pytest.raises(InputError) as raised:
        parse_money(text, "show.yaml:4: fee")
    (problem,) = raised.value.problems
    assert problem.where == "show.yaml:4: fee"
    assert problem.found.endswith(found)
    assert problem.nearest == near
    assert problem.allowed and problem.todo


# ---- expected losses -----------------------------------------------------------------------------


def test_an_expected_loss_against_theory() -> None:
    losses = [(0.5, eur("100")), (0.125, eur("8")), (0.0, eur("1000000"))]
    assert expected(losses, "EUR") == eur("51")
    assert expected([], "JPY") == nothing("JPY")


@given(st.lists(st.tuples(st.floats(0, 1), cents), max_size=8))
def test_an_expected_loss_is_never_above_the_sum(losses: list[tuple[float, Money]]) -> None:
    assert nothing("EUR") <= expected(losses, "EUR") <= total((m for _, m in losses), "EUR")


# ---- clauses -------------------------------------------------------------------------------------

FIVE, THIRTY = Fraction(5), Fraction(30)
DARK = Clause(
    "main wall dark in one go, seconds",
    (Step(THIRTY, Fraction(1, 2)), Step(FIVE, Fraction(3, 20)), Step(Fraction(120), Fraction(1))),
)
FEE = eur("40000")


@pytest.mark.parametrize(
    ("seconds", "share"),
    [("0", "0"), ("5", "0"), ("5.0001", "0.15"), ("30", "0.15"), ("31", "0.5"), ("9999", "1")],
)
def test_only_the_highest_step_reached_is_due(seconds: str, share: str) -> None:
    assert due(DARK, Fraction(seconds), FEE) == FEE * Decimal(share)


def test_a_step_may_cost_a_fixed_amount() -> None:
    clause = Clause("make-good", (Step(Fraction(0), amount=eur("750")),))
    assert due(clause, Fraction(1), FEE) == eur("750")
    assert due(clause, Fraction(0), FEE) == nothing("EUR")


@given(st.fractions(0, 200), st.fractions(0, 200))
def test_longer_never_costs_less(one: Fraction, two: Fraction) -> None:
    assert due(DARK, min(one, two), FEE) <= due(DARK, max(one, two), FEE)


def test_good_steps_pass() -> None:
    check_steps(DARK, "EUR", "clauses[1]")
    check_steps(Clause("fixed", (Step(FIVE, amount=eur("1")),)), "EUR", "clauses[2]")


@pytest.mark.parametrize(
    "steps",
    [
        (),
        (Step(FIVE, Fraction(1, 2)), Step(FIVE, Fraction(1))),
        (Step(FIVE, Fraction(1, 2)), Step(THIRTY, Fraction(1, 4))),
        (Step(FIVE, Fraction(3, 2)),),
        (Step(FIVE, Fraction(-1, 2)),),
        (Step(Fraction(-1), Fraction(1, 2)),),
        (Step(FIVE, amount=Money(Decimal(1), "USD")),),
        (Step(FIVE, amount=eur("-1")),),
        (Step(FIVE, amount=eur("2")), Step(THIRTY, amount=eur("1"))),
    ],
)
def test_steps_that_cannot_be_are_refused(steps: tuple[Step, ...]) -> None:
    with pytest.raises(InputError) as raised:
        check_steps(Clause("dark", steps), "EUR", "show.yaml:8: clauses[1]")
    (problem,) = raised.value.problems
    assert problem.where == "show.yaml:8: clauses[1]"
    assert "'dark'" in problem.found and problem.allowed and problem.todo


# ---- deductible and cap --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("loss", "paid", "left"),
    [("0", "0", "0"), ("1000", "0", "1000"), ("1500", "500", "1000"), ("6000", "5000", "1000"),
     ("9000", "5000", "4000")],
)  # fmt: skip
def test_the_cover_pays_beyond_the_deductible_up_to_the_cap(
    loss: str, paid: str, left: str
) -> None:
    cover = Cover(eur("1000"), eur("5000"))
    assert covered(eur(loss), cover) == eur(paid)
    assert kept(eur(loss), cover) == eur(left)


@given(cents, cents, st.none() | cents)
def test_what_is_paid_and_what_is_kept_are_the_loss(
    loss: Money, deductible: Money, cap: Money | None
) -> None:
    cover = Cover(deductible, cap)
    assert covered(loss, cover) + kept(loss, cover) == loss
    assert nothing("EUR") <= covered(loss, cover) <= (loss if cap is None else min(loss, cap))
    assert min(loss, deductible) <= kept(loss, cover)


def test_all_dues_together_are_held_to_the_cap() -> None:
    assert capped([eur("10"), eur("20")], eur("25")) == eur("25")
    assert capped([eur("10")], eur("25")) == eur("10")
