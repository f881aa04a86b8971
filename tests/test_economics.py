"""From weighted shows to money: means, rare losses, whose doing, exact and in any order."""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.faults import Fault
from sim.reliability import money
from sim.rig.terms import ClauseTerms, Contract, Step
from sim.rig.topology import Rig, Thing
from sim.risk.dues import dues_of
from sim.risk.economics import (
    Night,
    by_hazard,
    by_supplier,
    exceedance,
    exceeded_once_in,
    guessed_share,
    losses_of,
    split,
    suppliers_of,
    tally,
)
from sim.risk.hazards import Hazard
from sim.risk.sums import GRAINS, WHOLE, apportioned, in_grains, parts_of
from sim.study.strikes import Strike
from sim.timebase import FLICKS

S = FLICKS


def hazard(key: str, mass: float = 0.1, guessed: bool = True, cause: str = "item") -> Hazard:
    return Hazard(key, (), mass, cause, guessed=guessed)


# ---- an evening worked out by hand ---------------------------------------------------------------
# Fee 40 000 EUR. Dark over 5 s: 15 % = 6 000, over 30 s: 50 % = 20 000. Still over 60 s: 750.
# The insurer bears what exceeds 1 000, up to 10 000.
#
# struck        weight   dark, still   loss     loss x weight   insurer's   x weight
# nothing       0.9      0             0        0               0           0
# unit          0.05     10 s          6 000    300             5 000       250
# circuit       0.03     0, 61 s       750      22.5            0           0
# unit+circuit  0.0125   31 s, 70 s    20 750   259.375         10 000      125
# unit+relay    0.0075   120 s         20 000   150             10 000      75
# sum           1                               731.875                     450

CONTRACT = Contract(
    "EUR",
    Decimal(40000),
    (
        ClauseTerms("dark", "dark", "group", Fraction(1, 10),
                    (Step(5 * S, Fraction(3, 20)), Step(30 * S, Fraction(1, 2)))),
        ClauseTerms("still", "frozen", "group", Fraction(1, 2),
                    (Step(60 * S, amount=Decimal(750)),), "make-good"),
    ),
    deductible=Decimal(1000),
    cover=Decimal(10000),
)  # fmt: skip
DUES = dues_of(CONTRACT, ((0, "group"), (1, "group")))
UNIT, CIRCUIT, RELAY = 0, 1, 2
HAZARDS = (
    hazard("unit dead", guessed=False),
    hazard("circuit tripped"),
    hazard("relay dead", cause="never tested"),
)
NIGHTS = (
    Night(0.9, (0, 0)),
    Night(0.05, (10 * S, 0), (UNIT,), 10.0),
    Night(0.03, (0, 61 * S), (CIRCUIT,)),
    Night(0.0125, (31 * S, 70 * S), (CIRCUIT, UNIT), 31.0),
    Night(0.0075, (120 * S, 0), (UNIT, RELAY), 120.0),
)
OWNERS = (("us",), ("venue",), ("us",))


def test_the_evening_worked_out_by_hand() -> None:
    found = losses_of(tally(NIGHTS, DUES), HAZARDS, CONTRACT, {})
    assert (found.currency, found.expected) == ("EUR", Decimal("731.875"))
    assert (found.insurer, found.owner) == (Decimal(450), Decimal("281.875"))
    # Guessed are circuit and relay: (22.5 + 259.375 / 2 + 150 / 2) / 731.875.
    assert found.guessed == pytest.approx(227.1875 / 731.875, rel=1e-12)


def test_the_exceedance_curve_worked_out_by_hand() -> None:
    rungs = exceedance(tally(NIGHTS, DUES))
    assert [rung.loss for rung in rungs] == [0, 750, 6000, 20000, 20750]
    assert [rung.more for rung in rungs] == pytest.approx([0.1, 0.07, 0.02, 0.0125, 0], abs=1e-15)
    assert [r.at_least for r in rungs] == pytest.approx([1, 0.1, 0.07, 0.02, 0.0125], abs=1e-15)
    # P(loss > 750) = 0.07 is over 1/20, P(loss > 6000) = 0.02 is not.
    assert exceeded_once_in(20, rungs) == 6000
    assert exceeded_once_in(5, rungs) == 0
    assert exceeded_once_in(10, rungs) == 0
    assert exceeded_once_in(70, rungs) == 20000
    assert exceeded_once_in(100, rungs) == 20750


def test_whose_doing_worked_out_by_hand() -> None:
    parts = by_hazard(tally(NIGHTS, DUES), HAZARDS)
    # unit: 300 + 259.375 / 2 + 150 / 2; circuit: 22.5 + 259.375 / 2; relay: 150 / 2.
    assert [part.loss for part in parts] == [
        Decimal("504.6875"), Decimal("152.1875"), Decimal(75),
    ]  # fmt: skip
    # unit: 0.05 x 10 + 0.0125 x 31 / 2 + 0.0075 x 120 / 2, and so on.
    assert [part.dark for part in parts] == pytest.approx([1.14375, 0.19375, 0.45], rel=1e-12)
    assert [part.guessed for part in parts] == [0.0, 1.0, 1.0]
    ours, venues = by_supplier(tally(NIGHTS, DUES), HAZARDS, OWNERS)
    assert (ours.name, ours.loss) == ("us", Decimal("579.6875"))
    assert (venues.name, venues.loss) == ("venue", Decimal("152.1875"))
    assert ours.guessed == pytest.approx(75 / 579.6875, rel=1e-12)
    assert venues.guessed == 1


def test_a_hazard_of_two_suppliers_is_halved_and_one_of_none_is_not_said() -> None:
    owners = (("us", "venue"), (), ("us",))
    found = {p.name: p.loss for p in by_supplier(tally(NIGHTS, DUES), HAZARDS, owners)}
    assert found == {
        "": Decimal("152.1875"),
        "us": Decimal("327.34375"),  # 504.6875 / 2 + 75
        "venue": Decimal("252.34375"),
    }


def test_what_strikes_twice_in_a_night_counts_once() -> None:
    nights = [Night(0.5, (31 * S, 0), (UNIT, CIRCUIT, UNIT), 8.0), Night(0.5, (0, 0))]
    found = by_hazard(tally(nights, DUES), HAZARDS)
    assert [part.loss for part in found] == [5000, 5000, 0]
    assert [part.dark for part in found] == [2, 2, 0]


def test_the_dearest_supplier_comes_first_without_a_contract_the_darkest() -> None:
    owners = (("venue",), ("us",), ("broadcaster",))
    for dues in (DUES, None):
        found = by_supplier(tally(NIGHTS, dues), HAZARDS, owners)
        names = ["venue", "us", "broadcaster"] if dues else ["venue", "broadcaster", "us"]
        assert [part.name for part in found] == names


def test_without_a_contract_there_is_darkness_but_no_money() -> None:
    found = tally(NIGHTS, None)
    assert [part.loss for part in by_hazard(found, HAZARDS)] == [None] * 3
    ours, venues = by_supplier(found, HAZARDS, OWNERS)
    assert (ours.loss, ours.name, venues.name) == (None, "us", "venue")
    assert found.dark == pytest.approx(0.5 + 0.3875 + 0.9, rel=1e-12)
    assert ours.guessed == pytest.approx(0.45 / (1.14375 + 0.45), rel=1e-12)


# ---- worst foreseeable ---------------------------------------------------------------------------


def test_the_worst_is_the_largest_of_any_night_seen_or_of_any_single_fault() -> None:
    found = tally(NIGHTS, DUES)
    of = [losses_of(found, HAZARDS, CONTRACT, alone) for alone in (
        {UNIT: Decimal(6000)},
        {UNIT: Decimal(40000), RELAY: Decimal(0)},
        {UNIT: Decimal(20750), CIRCUIT: Decimal(20750)},
    )]  # fmt: skip
    assert (of[0].worst, of[0].worst_by) == (20750, ("unit dead", "circuit tripped"))
    assert (of[1].worst, of[1].worst_by) == (40000, ("unit dead",))
    assert (of[2].worst, of[2].worst_by) == (20750, ("unit dead",))


def test_of_nights_that_cost_the_same_the_one_with_the_fewest_faults_is_named() -> None:
    nights = [Night(0.5, (31 * S, 0), (CIRCUIT, RELAY)), Night(0.25, (99 * S, 0), (RELAY,)),
              Night(0.25, (32 * S, 0), (UNIT, RELAY))]  # fmt: skip
    assert losses_of(tally(nights, DUES), HAZARDS, CONTRACT, {}).worst_by == ("relay dead",)


def test_where_nothing_is_lost_nobody_did_it_and_masses_say_what_is_guessed() -> None:
    found = losses_of(tally([Night(1.0, (0, 0))], DUES), HAZARDS, CONTRACT, {UNIT: Decimal(0)})
    assert (found.expected, found.worst, found.worst_by) == (0, 0, ())
    assert (found.once_in_100, found.once_in_1000) == (0, 0)
    assert found.guessed == pytest.approx(2 / 3)
    assert guessed_share([], []) == 0


# ---- against others ------------------------------------------------------------------------------

nights_of = st.lists(
    st.tuples(
        st.integers(0, 64),
        st.tuples(st.integers(0, 40), st.integers(0, 70)),
        st.sets(st.integers(0, 3), min_size=1),
        st.integers(0, 500),
    ),
    max_size=12,
)
FOUR = (*HAZARDS, hazard("jumper dead", 0.4, guessed=False))
Drawn = list[tuple[int, tuple[int, int], set[int], int]]


def made(drawn: Drawn) -> list[Night]:
    """Nights of weight n/1024, and one without a fault for what is left."""
    nights = [
        Night(n / 1024, (dark * S, still * S), tuple(who), area / 8)
        for n, (dark, still), who, area in drawn
    ]
    return [*nights, Night(1 - sum(n for n, *_ in drawn) / 1024, (0, 0))]


def loss_by_eye(dark: int, still: int) -> int:
    return (20000 if dark > 30 else 6000 if dark > 5 else 0) + (750 if still > 60 else 0)


@given(nights_of)
def test_the_expected_loss_against_enumeration(drawn: Drawn) -> None:
    exact = sum((Fraction(n, 1024) * loss_by_eye(*length) for n, length, *_ in drawn), Fraction(0))
    found = tally(made(drawn), DUES)
    assert found.expected == exact
    assert losses_of(found, FOUR, CONTRACT, {}).expected == in_grains(exact)
    by_money = money.expected(
        [(n / 1024, money.Money(Decimal(loss_by_eye(*length)), "EUR")) for n, length, *_ in drawn],
        "EUR",
    )
    assert in_grains(Fraction(by_money.amount)) == in_grains(exact)


def quantile_of_numpy(drawn: Drawn, level: float) -> float:
    """numpy's weighted quantile: the smallest x with P(loss <= x) >= level."""
    nights = [(n, loss_by_eye(*length)) for n, length, *_ in drawn if n]
    nights.append((1024 - sum(n for n, _ in nights), 0))
    weights, losses = np.array(nights, dtype=float).T
    return float(np.quantile(losses, level, method="inverted_cdf", weights=weights))


@given(nights_of, st.sampled_from([2, 8, 32, 128, 512]))
def test_rare_losses_against_numpy(drawn: Drawn, shows: int) -> None:
    rungs = exceedance(tally(made(drawn), DUES))
    assert exceeded_once_in(shows, rungs) == quantile_of_numpy(drawn, 1 - 1 / shows)


def test_the_reference_tells_at_least_from_more() -> None:
    """A rare loss taken by the chance of at least so much is another one."""
    drawn: Drawn = [(8, (10, 0), {0}, 0), (8, (40, 0), {0}, 0)]
    rungs = exceedance(tally(made(drawn), DUES))
    wrong = next((rung.loss for rung in rungs if rung.at_least <= 1 / 128), None)
    assert wrong == 20000
    assert quantile_of_numpy(drawn, 1 - 1 / 128) == 6000 == exceeded_once_in(128, rungs)


def test_ten_nights_of_a_thousandth_make_one_in_a_hundred() -> None:
    ten = [Night(0.001, (31 * S, 0), (UNIT,), float(n)) for n in range(10)]
    found = losses_of(tally([Night(0.99, (0, 0)), *ten], DUES), HAZARDS, CONTRACT, {})
    assert (found.once_in_100, found.once_in_1000) == (0, 20000)


# ---- what always holds ---------------------------------------------------------------------------


@given(nights_of)
def test_the_curve_falls_as_losses_rise(drawn: Drawn) -> None:
    rungs = exceedance(tally(made(drawn), DUES))
    assert [r.loss for r in rungs] == sorted({r.loss for r in rungs})
    assert rungs[0].loss == 0 and rungs[0].at_least == 1 and rungs[-1].more == 0
    for rung, worse in pairwise(rungs):
        assert rung.at_least >= rung.more == worse.at_least
    area = sum((worse.loss - rung.loss) * Decimal(rung.more) for rung, worse in pairwise(rungs))
    assert Fraction(area) == tally(made(drawn), DUES).expected, "the area under it is the mean"


owners_of = st.lists(
    st.lists(st.sampled_from(["us", "venue", "broadcaster"]), unique=True, max_size=3).map(tuple),
    min_size=4,
    max_size=4,
)


@given(nights_of, owners_of)
def test_what_is_split_adds_up_exactly(drawn: Drawn, owners: list[tuple[str, ...]]) -> None:
    found = tally(made(drawn), DUES)
    exact = split(found, 4)
    assert sum(exact.money) == found.expected
    assert float(sum(exact.dark)) == found.dark
    whole = losses_of(found, FOUR, CONTRACT, {}).expected
    for parts in (by_hazard(found, FOUR), by_supplier(found, FOUR, owners)):
        assert sum(part.loss or Decimal(0) for part in parts) == whole
        assert all(part.loss is not None and part.loss >= 0 for part in parts)
        assert all(0 <= part.guessed <= 1 for part in parts)


@given(nights_of)
def test_the_insurers_and_the_owners_part_are_the_loss(drawn: Drawn) -> None:
    found = losses_of(tally(made(drawn), DUES), FOUR, CONTRACT, {})
    assert found.insurer + found.owner == found.expected
    assert 0 <= found.insurer <= min(found.expected, Decimal(10000))
    assert found.once_in_100 <= found.once_in_1000 <= found.worst <= CONTRACT.fee


def awkward(seed: int) -> list[Night]:
    """Two thousand nights whose weights are no round numbers of two."""
    draw = random.Random(seed)
    weights = [10 ** draw.uniform(-12, 0) for _ in range(2000)]
    return [
        Night(weight / sum(weights), (draw.randrange(40) * S, draw.randrange(90) * S),
              tuple(draw.sample(range(4), draw.randint(1, 4))), draw.uniform(0, 900))
        for weight in weights
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_the_nights_does_not_matter(seed: int) -> None:
    nights = awkward(seed)
    first = tally(nights, DUES)
    random.Random(seed + 100).shuffle(nights)
    second = tally(nights, DUES)
    assert first == second
    assert by_hazard(first, FOUR) == by_hazard(second, FOUR)
    assert losses_of(first, FOUR, CONTRACT, {}) == losses_of(second, FOUR, CONTRACT, {})
    assert list(first.by_culprits) == list(second.by_culprits)


def test_a_plain_sum_of_floats_does_depend_on_the_order() -> None:
    """So that the check above could fail."""
    nights = awkward(0)
    forward = sum(night.weight * night.dark for night in nights)
    assert forward != sum(night.weight * night.dark for night in reversed(nights))


@pytest.mark.parametrize("weight", [1e-9, 3e-20, 1e-40, 0.1])
def test_small_weights_are_exact(weight: float) -> None:
    assert Fraction(parts_of(weight), WHOLE) == Fraction(weight)


def test_a_mean_far_below_a_coin_is_kept() -> None:
    found = tally([Night(1 - 1e-9, (0, 0)), Night(1e-9, (31 * S, 0), (UNIT,))], DUES)
    assert losses_of(found, HAZARDS, CONTRACT, {}).expected == Decimal("0.00002")


@pytest.mark.parametrize(
    ("nights", "match"),
    [
        ([Night(0.5, (0, 0))], "weights sum"),
        ([Night(1.0, (0, 0)), Night(0.001, (0, 0), (UNIT,))], "weights sum"),
        ([Night(1.5, (0, 0)), Night(-0.5, (0, 0))], "weight -0.5"),
        ([Night(float("nan"), (0, 0))], "weight nan"),
        ([Night(1.0, (31 * S, 0))], "has a cause"),
        ([Night(1.0, (0, 0), (), 1.0)], "has a cause"),
    ],
)
def test_nights_that_cannot_be_are_refused(nights: list[Night], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        tally(nights, DUES)


# ---- rounding ------------------------------------------------------------------------------------


def test_thirds_are_shared_out_to_the_last_grain() -> None:
    third = Fraction(1, 3)
    parts = apportioned([third, third, third], Decimal(1))
    assert parts == (Decimal("0.333333334"), Decimal("0.333333333"), Decimal("0.333333333"))
    with pytest.raises(ValueError, match="adding up"):
        apportioned([third], Decimal(1))
    with pytest.raises(ValueError, match="from 0 up"):
        apportioned([Fraction(2), Fraction(-1)], Decimal(1))


@given(st.lists(st.fractions(0, 10**6), max_size=8))
def test_parts_are_never_a_grain_off(parts: Sequence[Fraction]) -> None:
    total = in_grains(sum(parts, Fraction(0)))
    shared = apportioned(parts, total)
    assert sum(shared) == total
    assert all(
        abs(Fraction(s) - p) < Fraction(1, GRAINS) for s, p in zip(shared, parts, strict=True)
    )


@pytest.mark.parametrize(
    ("exact", "text"),
    [("5e-10", "0"), ("15e-10", "2E-9"), ("4000", "4000"), ("0.80", "0.8"), ("-0.5", "-0.5"),
     ("123456789012345678.000000001", "123456789012345678.000000001")],
)  # fmt: skip
def test_amounts_are_rounded_to_grains_half_to_even(exact: str, text: str) -> None:
    assert str(in_grains(Fraction(exact))) == text


# ---- suppliers -----------------------------------------------------------------------------------

THINGS = {
    "unit": Thing("unit", "processor", supplier="us"),
    "feed": Thing("feed", "circuit", supplier="venue"),
    "line": Thing("line", "fibre", supplier="us"),
    "loan": Thing("loan", "fibre"),
}
RIG = Rig(1, 1, THINGS, {}, {}, {}, {})


def strike(*things: str, supplier: str = "") -> Strike:
    faults = tuple(Fault(thing, "dead", 0) for thing in things)
    return Strike(things[0], "dead", faults, "role", supplier=supplier)


def test_the_suppliers_of_what_a_hazard_strikes() -> None:
    both = Hazard("route", (strike("unit", "line"), strike("feed")), 0.1)
    assert suppliers_of(both, RIG) == ("us", "venue")
    assert suppliers_of(Hazard("h", (strike("loan"),), 0.1), RIG) == ()
    assert suppliers_of(Hazard("h", (strike("loan", supplier="lender"),), 0.1), RIG) == ("lender",)
    assert suppliers_of(Hazard("h", (), 0.1, failing=("feed#bank 1",)), RIG) == ("venue",)
