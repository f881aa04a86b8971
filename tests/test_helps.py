"""What helps most and what it costs: hand-worked savings, prices, spares, severities."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise, product
from math import prod

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sim.faults import Fault
from sim.reliability.riskmatrix import RISKS, STANDARD
from sim.rig.bill import Bill
from sim.rig.terms import ClauseTerms, Contract, Step
from sim.rig.topology import Rig, Thing
from sim.risk.dues import dues_of
from sim.risk.figures import SECOND_WAY, TEST, TOPOLOGY
from sim.risk.hazards import Hazard
from sim.risk.helps import (
    NOT_FOR_PENALTIES,
    UNKNOWN,
    YES,
    Guard,
    Option,
    guards_by_protection,
    guards_by_spare,
    guards_by_test,
    helps,
    moves,
    saved,
    touching,
    worth_of,
)
from sim.risk.nights import Night, tally
from sim.risk.prices import (
    Carried,
    kits_struck,
    outlay_of,
    price_between,
    price_of,
    spares_to_carry,
)
from sim.risk.severity import (
    DARK_AT_LEAST,
    LOSS_AT_LEAST,
    gravest,
    meanings,
    reached,
)
from sim.study.strikes import Strike
from sim.timebase import FLICKS

# ---- savings worked out by hand ------------------------------------------------------------------
# One clause: dark over 0 flicks: 750, over 1: 6 000, over 2: 20 000, over 3: 20 750.
#
# struck        weight   loss
# nothing       0.9      0
# unit          0.05     6 000
# circuit       0.03     750
# unit+circuit  0.0125   20 750
# unit+relay    0.0075   20 000

AMOUNTS = (750, 6000, 20000, 20750)
CLAUSE = ClauseTerms(
    "dark", "dark", "group", Fraction(0),
    tuple(Step(n, amount=Decimal(amount)) for n, amount in enumerate(AMOUNTS)),
)  # fmt: skip
DUES = dues_of(Contract("EUR", Decimal(40000), (CLAUSE,)), ((0, "group"),))
UNIT, CIRCUIT, RELAY = 0, 1, 2
FOUND = tally(
    [
        Night(0.9, (0,)),
        Night(0.05, (2,), (UNIT,), 10.0),
        Night(0.03, (1,), (CIRCUIT,)),
        Night(0.0125, (4,), (UNIT, CIRCUIT), 31.0),
        Night(0.0075, (3,), (UNIT, RELAY), 120.0),
    ],
    DUES,
)
IDLE = replace(FOUND, coins=0)
"""The same without a contract."""


def saves(*gone: int, spares: int | None = None) -> tuple[float, float]:
    money, dark = saved(FOUND, moves(touching(FOUND), Guard("", frozenset(gone), spares=spares)))
    return float(money), dark


def test_what_a_test_saves_worked_out_by_hand() -> None:
    """A night with the relay dead beforehand is held against those with the unit alone: it costs
    20 000 instead of 6 000, and 120 wall-seconds instead of 10.
    """
    assert saves(RELAY) == pytest.approx((0.0075 * 14000, 0.0075 * 110), rel=1e-12)


def test_what_a_protection_saves_worked_out_by_hand() -> None:
    """Alone: all of 6 000. With the circuit: 20 750 less the 750 of the circuit alone. With the
    relay, which was never seen alone: the half that is split off to the unit.
    """
    money = 0.05 * 6000 + 0.0125 * 20000 + 0.0075 * 10000
    dark = 0.05 * 10 + 0.0125 * 31 + 0.0075 * 60
    assert saves(UNIT) == pytest.approx((money, dark), rel=1e-12)


def test_what_makes_all_harmless_saves_all() -> None:
    assert saves(UNIT, CIRCUIT, RELAY) == pytest.approx((731.875, FOUND.dark), rel=1e-12)
    assert saves() == (0, 0)


def test_what_one_more_spare_saves_worked_out_by_hand() -> None:
    """Unit and circuit of one type, one in stock: only the night with both lacks a spare. Either
    may get it: 20 750 less 750, or less 6 000, half of each.
    """
    money = 0.0125 * (20750 - 750 + 20750 - 6000) / 2
    dark = 0.0125 * (31 + 31 - 10) / 2
    assert saves(UNIT, CIRCUIT, spares=1) == pytest.approx((money, dark), rel=1e-12)
    assert saves(UNIT, CIRCUIT, spares=2) == (0, 0)
    assert saves(RELAY, spares=0) == saves(RELAY)


def test_of_three_the_split_part_is_a_third_where_the_other_two_were_never_seen() -> None:
    found = tally([Night(0.5, (2,), (UNIT, CIRCUIT, RELAY), 9.0), Night(0.5, (0,))], DUES)
    guard = Guard("", frozenset({UNIT}))
    assert saved(found, moves(touching(found), guard)) == (Fraction(1000), 1.5)


def test_nothing_saves_less_than_nothing() -> None:
    """Where a second fault hides the first, taking it away would cost: nothing is saved."""
    nights = [Night(0.5, (4,), (UNIT,)), Night(0.5, (1,), (UNIT, CIRCUIT))]
    found = tally(nights, DUES)
    assert saved(found, moves(touching(found), Guard("", frozenset({CIRCUIT})))) == (0, 0)


masses = st.lists(st.integers(0, 16), min_size=4, max_size=4)
weights = st.lists(st.integers(0, 4), min_size=4, max_size=4)


@given(masses, weights, st.integers(0, 4), st.sets(st.integers(0, 3)))
def test_what_a_guard_saves_against_enumeration(
    odds: list[int], worse: list[int], pair: int, gone: set[int]
) -> None:
    """Four independent hazards of chance n/16; all sixteen nights are known. What is saved is the
    mean loss less the mean with those chances at 0.
    """

    def loss(struck: tuple[int, ...]) -> int:
        level = sum(worse[place] for place in struck) + (pair if {0, 1} <= set(struck) else 0)
        return ([0, *AMOUNTS] + [20750] * 20)[level]

    def nights(chances: list[Fraction]) -> list[tuple[Fraction, tuple[int, ...]]]:
        found = []
        for on in product((False, True), repeat=4):
            chance = prod((p if hit else 1 - p for p, hit in zip(chances, on, strict=True)))
            found.append((chance, tuple(place for place, hit in enumerate(on) if hit)))
        return found

    chances = [Fraction(n, 16) for n in odds]
    spared = [Fraction(0) if place in gone else p for place, p in enumerate(chances)]
    mean = sum(p * loss(struck) for p, struck in nights(chances))
    left = sum(p * loss(struck) for p, struck in nights(spared))
    levels = [0, *AMOUNTS]
    found = tally(
        [Night(float(p), (levels.index(loss(who)),), who) for p, who in nights(chances)], DUES
    )
    assert found.expected == mean
    if all(p < 1 for p in chances):  # else the nights to hold against never come
        assert saved(found, moves(touching(found), Guard("", frozenset(gone))))[0] == mean - left


# ---- candidates and their order ------------------------------------------------------------------


def hazard(key: str, role: str, cause: str = "item", mode: str = "dead", count: int = 1) -> Hazard:
    names = [f"{key}-{n}" for n in range(count)]
    faults = tuple(Fault(name, mode, 0) for name in names)
    return Hazard(key, (Strike(names[0], mode, faults, role),), 0.5, cause)


HAZARDS = (
    hazard("unit", "unit"),
    hazard("circuit", "circuit"),
    hazard("r", "relay", "never tested"),
)


def test_candidates_are_one_for_each_role_and_type() -> None:
    (test,) = guards_by_test(HAZARDS)
    assert (test.gone, test.price, test.spares) == ({RELAY}, None, None)
    assert (test.what, test.kind) == ("relay", TEST)
    assert {guard.kind for guard in guards_by_protection(HAZARDS)} == {SECOND_WAY}
    circuit, unit = guards_by_protection(HAZARDS, {"unit": Decimal(4000)})
    assert (circuit.gone, circuit.price) == ({CIRCUIT}, None)
    assert (unit.gone, unit.price) == ({UNIT}, 4000)
    pair = (*HAZARDS, hazard("unit-2", "unit"))
    assert [guard.many for guard in guards_by_protection(pair)] == [False, True]
    used = ({"big": 1}, {}, {"big": 2, "small": 1})
    big, small = guards_by_spare(used, {"big": 1}, {"small": Decimal(600)})
    assert (big.gone, big.spares, big.price) == ({UNIT, RELAY}, 1, None)
    assert (small.gone, small.spares, small.price) == ({RELAY}, 0, 600)


def test_what_saves_most_comes_first_with_its_worth() -> None:
    options = [
        Option("two units", Decimal("31.875"), 0.5, Decimal(9000)),
        Option("return lines", Decimal("131.875"), 0.5, Decimal(500)),
        Option("worse", Decimal(800), 5.0, Decimal(-100)),
        Option("unpriced", Decimal("31.875"), 0.5),
    ]
    found = helps(FOUND, options, guards_by_test(HAZARDS), shows=1)
    assert [(h.what, h.worth) for h in found] == [
        ("two units", NOT_FOR_PENALTIES),
        ("unpriced", UNKNOWN),
        ("return lines", YES),
        ("relay", UNKNOWN),
    ]
    assert [(h.kind, h.bound) for h in found] == [(TOPOLOGY, False)] * 3 + [(TEST, True)]
    assert [h.saves for h in found] == [700, 700, 600, 105]
    assert found[0].spares == pytest.approx(FOUND.dark - 0.5)
    assert [h.price for h in found] == [9000, None, 500, None]
    assert helps(FOUND, options, (), shows=13)[0].worth == YES  # 13 x 700 = 9 100
    assert helps(FOUND, options, (), shows=12)[0].worth == NOT_FOR_PENALTIES


def test_without_a_contract_what_spares_most_darkness_comes_first() -> None:
    options = [Option("a", None, 1.0, Decimal(5)), Option("b", None, 0.5, Decimal(50)),
               Option("c", None, 99.0, None)]  # fmt: skip
    found = helps(IDLE, options, guards_by_test(HAZARDS))
    # 1.7875 - 0.5; 0.0075 x 110; 1.7875 - 1.
    assert [h.spares for h in found] == pytest.approx([1.2875, 0.825, 0.7875], rel=1e-12)
    assert [h.what for h in found] == ["b", "relay", "a"]
    assert {h.saves for h in found} == {None}
    assert {h.worth for h in found} == {UNKNOWN}


@pytest.mark.parametrize(
    ("saves", "price", "shows", "worth"),
    [
        ("10", "9.99", 1, YES),
        ("10", "10", 1, NOT_FOR_PENALTIES),
        ("10", "99", 10, YES),
        ("0", "0", 1, NOT_FOR_PENALTIES),
        ("-1", "-5", 1, YES),
        (None, "5", 1, UNKNOWN),
        ("5", None, 1, UNKNOWN),
    ],
)
def test_worth_is_penalties_saved_against_the_price(
    saves: str | None, price: str | None, shows: int, worth: str
) -> None:
    parsed = [None if text is None else Decimal(text) for text in (saves, price)]
    assert worth_of(parsed[0], parsed[1], shows) == worth


def test_no_shows_are_refused() -> None:
    with pytest.raises(ValueError, match="0 shows"):
        helps(FOUND, (), (), shows=0)


# ---- prices --------------------------------------------------------------------------------------


def bill(price: str, unpriced: tuple[str, ...] = (), metres: int = 0, **kits: int) -> Bill:
    families = {"processor": 2, "relay": 1, "fibre": 5, "copper": 3, "jumper": 7}
    length = {"fibre": Fraction(metres)} if metres else {}
    return Bill(kits, families, length, 3, Fraction(price), unpriced)


def test_a_price_is_of_what_has_one() -> None:
    assert price_of(bill("8000.8", unit=2)) == Decimal("8000.8")
    assert price_of(bill("8000", ("camera",), unit=2, camera=1)) == 8000
    assert price_of(bill("0", ("unit",), unit=2)) is None
    assert price_of(bill("0", unit=2)) == 0


def test_a_difference_is_known_where_what_has_no_price_is_the_same() -> None:
    one = bill("4000", ("camera",), unit=1, camera=1)
    assert price_between(bill("8000", ("camera",), unit=2, camera=1), one) == 4000
    assert price_between(one, bill("8000", ("camera",), unit=2, camera=1)) == -4000
    assert price_between(bill("8000", ("camera",), unit=2, camera=2), one) is None
    assert price_between(bill("8000", ("camera", "relay"), unit=2, camera=1, relay=1), one) is None
    assert price_between(bill("0", ("unit",), unit=1), bill("0", ("unit",), unit=1)) is None
    short, long = (bill("4000", ("fibre",), m, unit=1, fibre=1) for m in (10, 20))
    assert price_between(short, long) is None
    assert price_between(short, short) == 0


def test_without_prices_units_fibres_and_crew_hours_are_shown() -> None:
    found = outlay_of(bill("0", unit=2), 2 * 3600 * FLICKS + 1800 * FLICKS)
    assert (found.units, found.fibres, found.crew_hours) == (3, 5, Fraction(15, 2))


# ---- spares --------------------------------------------------------------------------------------


# Source: Poisson tables: the smallest s with P(Poisson(m) <= s) >= 0.95 (exact).
@pytest.mark.parametrize(("mean", "spares"), [(1, 3), (2, 5), (5, 9)])
def test_spares_against_published(mean: int, spares: int) -> None:
    """Ten things of a type, each striking m / 1000 times in one of a hundred shows."""
    hazards = [replace(hazard(f"h{n}", "unit"), mass=mean / 1000) for n in range(10)]
    (found,) = spares_to_carry(hazards, [{"unit": 1}] * 10, 100, 0.95)
    assert found.mean == pytest.approx(mean, rel=1e-12)
    assert found.spares == spares
    (biased,) = spares_to_carry(hazards[:5], [{"unit": 1}] * 5, 100, 0.95)
    assert biased.spares != spares, "half of the things left out would be noticed"


@given(st.floats(0.001, 30), st.floats(0.01, 0.999))
def test_spares_against_scipy(mean: float, confidence: float) -> None:
    (found,) = spares_to_carry([replace(hazard("h", "unit"), mass=mean)], [{"u": 1}], 1, confidence)
    assert stats.poisson.cdf(found.spares, mean) >= confidence - 1e-12
    assert found.spares == 0 or stats.poisson.cdf(found.spares - 1, mean) < confidence + 1e-12


def test_spares_are_counted_by_type() -> None:
    hazards = [replace(each, mass=0.25) for each in HAZARDS]
    used = [{"unit": 2}, {}, {"unit": 1, "relay": 1}]
    # units: 0.25 x 2 x 8 shows, and 0.25 once for what was never tested; 4.25 lasts with 8.
    assert spares_to_carry(hazards, used, 8, 0.95) == (
        Carried("relay", 0.25, 1),
        Carried("unit", 4.25, 8),
    )
    assert spares_to_carry([replace(HAZARDS[0], mass=0.0)], [{"unit": 1}], 8, 0.95) == ()
    with pytest.raises(ValueError, match="0 shows"):
        spares_to_carry(hazards, used, 0, 0.95)
    with pytest.raises(ValueError, match="confidence"):
        spares_to_carry(hazards, used, 1, 1.0)


def test_a_spare_is_used_up_by_what_dies_or_is_cut_for_good() -> None:
    things = {
        "a-0": Thing("a-0", "processor", kit="unit"),
        "a-1": Thing("a-1", "processor", kit="unit"),
        "b-0": Thing("b-0", "fibre", kit="line"),
        "c-0": Thing("c-0", "circuit"),
    }
    rig = Rig(1, 1, things, {}, {}, {}, {})
    assert kits_struck(hazard("a", "", count=2), rig) == {"unit": 2}
    assert kits_struck(hazard("b", "", mode="cut"), rig) == {"line": 1}
    assert kits_struck(hazard("a", "", mode="restart"), rig) == {}
    assert kits_struck(hazard("c", "", mode="tripped"), rig) == {}
    brief = Strike("a-0", "dead", (Fault("a-0", "dead", 0, until=5),), "")
    assert kits_struck(Hazard("h", (brief,), 0.1), rig) == {}


# ---- severity ------------------------------------------------------------------------------------

FEE = Decimal(40000)


def severity_of(harm: float, money: bool) -> int:
    """The severity of one night in which something is seen."""
    return int(reached(np.array([harm]), np.array([True]), money)[0].argmax()) + 1


def severity_of_loss(loss: str) -> int:
    return severity_of(float(Decimal(loss)) / float(FEE), money=True)


@pytest.mark.parametrize(
    ("loss", "severity"),
    [("40000", 1), ("20000", 1), ("19999.99", 2), ("2000", 2), ("1999.99", 3), ("200", 3),
     ("199.99", 4), ("0", 4)],
)  # fmt: skip
def test_a_severity_is_a_share_of_the_fee(loss: str, severity: int) -> None:
    assert severity_of_loss(loss) == severity


@pytest.mark.parametrize(
    ("dark", "severity"), [(1e6, 1), (300, 1), (299.9, 2), (30, 2), (29.9, 3), (3, 3), (2.9, 4)]
)
def test_a_severity_of_darkness_is_wall_seconds(dark: float, severity: int) -> None:
    assert severity_of(dark, money=False) == severity


def test_a_severity_brings_all_that_are_less_and_nothing_seen_is_none() -> None:
    found = reached(np.array([31.0, 0.0, 0.0]), np.array([True, True, False]), money=False)
    assert found.tolist() == [[False, True, True, True], [False] * 3 + [True], [False] * 4]


@pytest.mark.parametrize(
    ("chances", "place"),
    [
        ((0.0, 0.0, 0.0, 0.0), (4, "")),
        ((2e-5, 5e-5, 5e-5, 5e-5), (1, "remote")),  # serious against medium
        ((1e-7, 5e-3, 5e-3, 5e-3), (2, "occasional")),  # medium, then serious
        ((0.0, 5e-7, 5e-7, 5e-7), (2, "improbable")),  # medium twice, as likely: the worse
        ((0.0, 0.0, 0.0, 0.3), (4, "frequent")),
        ((0.0, 0.0, 1e-9, 0.3), (4, "frequent")),  # medium both: the likelier
    ],
)
def test_a_risk_stands_where_the_matrix_finds_it_gravest(
    chances: tuple[float, ...], place: tuple[int, str]
) -> None:
    assert gravest(STANDARD, chances) == place


# Source: MIL-STD-882E Table I (value from memory): money thresholds a factor of ten apart, the
# worse class beginning at its threshold; its words, the worst first.
def test_thresholds_fall_by_tens_against_published() -> None:
    assert len(LOSS_AT_LEAST) == len(DARK_AT_LEAST) == len(STANDARD.severities) - 1
    for edges in (LOSS_AT_LEAST, DARK_AT_LEAST):
        assert [float(a / b) for a, b in pairwise(edges)] == [10, 10]
    worst, least = severity_of_loss(str(FEE)), severity_of(0.0, money=False)
    words = STANDARD.severities
    assert (words[worst - 1], words[least - 1]) == ("catastrophic", "negligible")


# Source: MIL-STD-882E Tables I to III (secondary source read).
@pytest.mark.parametrize(
    ("loss", "row"),
    [("30000", "H H H S M"), ("3000", "H H S M M"), ("300", "S S M M M"), ("30", "M M L L L")],
)
def test_losses_in_the_matrix_against_published(loss: str, row: str) -> None:
    severity = severity_of_loss(loss)
    found = [STANDARD.risk(severity, p) for p in (0.3, 0.03, 0.003, 0.00003, 1e-7)]
    assert found == [RISKS[letter] for letter in row.split()]


def test_severities_are_told_in_words() -> None:
    worst, *others = meanings(contract=True)
    assert (worst, others[-1]) == (
        "at least 50 % of the fee",
        "seen, but less than 0.5 % of the fee",
    )
    worst, *others = meanings(contract=False)
    assert worst == "at least 300 wall-seconds dark in one night"
    assert len(others) == len(STANDARD.severities) - 1
