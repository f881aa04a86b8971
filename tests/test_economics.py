"""From weighted shows to money: means, rare losses, who bears them, exact and in any order."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
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
from sim.risk.curve import curve_of, once_in
from sim.risk.dues import dues_of, loss_of
from sim.risk.economics import borne, suppliers_of, worst_of
from sim.risk.hazards import Hazard
from sim.risk.nights import Night, tally
from sim.risk.sums import WHOLE, in_grains, parts_of
from sim.study.strikes import Strike
from sim.timebase import FLICKS

S = FLICKS


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
NIGHTS = (
    Night(0.9, (0, 0)),
    Night(0.05, (10 * S, 0), (UNIT,), 10.0),
    Night(0.03, (0, 61 * S), (CIRCUIT,)),
    Night(0.0125, (31 * S, 70 * S), (CIRCUIT, UNIT), 31.0),
    Night(0.0075, (120 * S, 0), (UNIT, RELAY), 120.0),
)


def curve(nights: Sequence[Night]) -> tuple[tuple[Decimal, float], ...]:
    return curve_of((night.weight, float(loss_of(DUES, night.longest))) for night in nights)


def test_the_evening_worked_out_by_hand() -> None:
    assert tally(NIGHTS, DUES).expected == pytest.approx(Fraction("731.875"), rel=1e-12)
    near = Decimal("1e-9")
    insurer, owner = borne(curve(NIGHTS), CONTRACT)
    assert insurer == pytest.approx(Decimal(450), rel=near)
    assert owner == pytest.approx(Decimal("281.875"), rel=near)
    free = replace(CONTRACT, deductible=None, cover=Decimal(40000))
    assert borne(curve(NIGHTS), free)[1] == 0
    assert borne(curve(NIGHTS), replace(CONTRACT, cover=None))[0] == 0


def test_the_exceedance_curve_worked_out_by_hand() -> None:
    found = curve(NIGHTS)
    assert [loss for loss, _ in found] == [0, 750, 6000, 20000, 20750]
    assert [more for _, more in found] == pytest.approx([0.1, 0.07, 0.02, 0.0125, 0], abs=1e-15)
    # P(loss > 750) = 0.07 is over 1/20, P(loss > 6000) = 0.02 is not.
    assert [once_in(n, found) for n in (5, 20, 70, 100)] == [0, 6000, 20000, 20750]


def test_without_a_contract_there_is_darkness_but_no_money() -> None:
    found = tally(NIGHTS, None)
    assert (found.expected, found.coins) == (0, 0)
    assert found.dark == pytest.approx(0.5 + 0.3875 + 0.9, rel=1e-12)


# ---- worst foreseeable ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("alone", "worst", "who"),
    [
        ({UNIT: 6000}, 20750, (UNIT, CIRCUIT)),
        ({UNIT: 40000, RELAY: 0}, 40000, (UNIT,)),
        ({UNIT: 20750, CIRCUIT: 20750}, 20750, (UNIT,)),
    ],
)
def test_the_worst_is_the_largest_of_any_night_seen_or_of_any_single_fault(
    alone: dict[int, int], worst: int, who: tuple[int, ...]
) -> None:
    costs = {place: Decimal(cost) for place, cost in alone.items()}
    assert worst_of(tally(NIGHTS, DUES), costs) == (worst, who)


def test_of_nights_that_cost_the_same_the_one_with_the_fewest_faults_is_named() -> None:
    nights = [Night(0.5, (31 * S, 0), (CIRCUIT, RELAY)), Night(0.25, (99 * S, 0), (RELAY,)),
              Night(0.25, (32 * S, 0), (UNIT, RELAY))]  # fmt: skip
    assert worst_of(tally(nights, DUES), {}) == (20000, (RELAY,))


def test_where_nothing_is_lost_nobody_did_it() -> None:
    found = tally([Night(1.0, (0, 0))], DUES)
    assert worst_of(found, {UNIT: Decimal(0)}) == (0, ())
    assert once_in(100, curve([Night(1.0, (0, 0))])) == 0


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
    assert tally(made(drawn), DUES).expected == exact
    by_money = money.expected(
        [(n / 1024, money.Money(Decimal(loss_by_eye(*length)), "EUR")) for n, length, *_ in drawn],
        "EUR",
    )
    assert in_grains(Fraction(by_money.amount)) == in_grains(exact)


@given(nights_of)
def test_the_insurers_part_against_enumeration(drawn: Drawn) -> None:
    parts = [(n, min(max(loss_by_eye(*length) - 1000, 0), 10000)) for n, length, *_ in drawn]
    exact = sum((Fraction(n, 1024) * part for n, part in parts), Fraction(0))
    insurer, owner = borne(curve(made(drawn)), CONTRACT)
    assert insurer == in_grains(exact)
    assert insurer + owner == in_grains(tally(made(drawn), DUES).expected)


def quantile_of_numpy(drawn: Drawn, level: float) -> float:
    """numpy's weighted quantile: the smallest x with P(loss <= x) >= level."""
    nights = [(n, loss_by_eye(*length)) for n, length, *_ in drawn if n]
    nights.append((1024 - sum(n for n, _ in nights), 0))
    weights, losses = np.array(nights, dtype=float).T
    return float(np.quantile(losses, level, method="inverted_cdf", weights=weights))


@given(nights_of, st.sampled_from([2, 8, 32, 128, 512]))
def test_rare_losses_against_numpy(drawn: Drawn, shows: int) -> None:
    assert once_in(shows, curve(made(drawn))) == quantile_of_numpy(drawn, 1 - 1 / shows)


def test_the_reference_tells_at_least_from_more() -> None:
    """A rare loss taken by the chance of at least so much is another one."""
    drawn: Drawn = [(8, (10, 0), {0}, 0), (8, (40, 0), {0}, 0)]
    found = curve(made(drawn))
    at_least = zip(found, [1.0, *(more for _, more in found)], strict=False)
    wrong = next((loss for (loss, _), least in at_least if least <= 1 / 128), None)
    assert wrong == 20000
    assert quantile_of_numpy(drawn, 1 - 1 / 128) == 6000 == once_in(128, found)


# ---- what always holds ---------------------------------------------------------------------------


@given(nights_of)
def test_the_curve_falls_as_losses_rise_and_the_area_under_it_is_the_mean(drawn: Drawn) -> None:
    found = curve(made(drawn))
    assert [loss for loss, _ in found] == sorted({loss for loss, _ in found})
    assert found[0][0] == 0 and found[-1][1] == 0
    assert all(more >= less for (_, more), (_, less) in pairwise(found))
    area = sum((worse[0] - one[0]) * Decimal(one[1]) for one, worse in pairwise(found))
    assert Fraction(area) == tally(made(drawn), DUES).expected


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
    assert in_grains(found.expected) == Decimal("0.00002")


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
