"""Nights gathered from the simulation, held to the simulation's own means."""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from math import exp, fsum

import numpy as np
import pytest

from sim.rig.terms import ClauseTerms, Contract, Step, Terms
from sim.risk.bench import Alone
from sim.risk.curve import exceedance
from sim.risk.dues import Dues, dues_of, loss_of
from sim.risk.economics import worst_of
from sim.risk.field import Field, localised
from sim.risk.gathered import alone_of, left_out, nights_of
from sim.risk.hazards import Hazard
from sim.risk.montecarlo import Effort, sample
from sim.risk.nights import Night, tally
from sim.risk.piles import EXACT, Sampling
from sim.risk.scenes import Scenes
from sim.risk.shows import union_of
from sim.risk.stretches import Gauge
from sim.risk.values import columns_of, pairs_of, table, values_of
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import long, rig_of
from tests.plans import FRAME

SECONDS = 240
CONTRACT = Contract(
    "EUR",
    Decimal(1000),
    (
        ClauseTerms(
            "a third dark", "dark", "group", Fraction(1, 3),
            (Step(FLICKS, Fraction(1, 10)), Step(60 * FLICKS, Fraction(1, 2))),
        ),
        ClauseTerms(
            "any wall spoilt", "not lit", "wall", Fraction(1, 10), (Step(0, Fraction(1, 8)),)
        ),
    ),
)  # fmt: skip
TERMS = Terms(contract=CONTRACT)
SINGLE, PAIR = 0, 1


def scenes_of(topology: str) -> tuple[Scenes, Gauge]:
    rig = rig_of(long(topology, SECONDS))
    known = [strike for strike in strikes(rig) if strike.mode not in ("flapping", "drops")]
    few = [Hazard(s.name, (s,), 0.0001 * (1 + n % 3)) for n, s in enumerate(known)]
    few[1] = replace(few[1], early=True)
    few[2] = replace(few[2], shape=2.0)  # no closed form
    of = Scenes(rig, next(iter(rig.groups)), few, TERMS)
    return of, Gauge(of.asked, FRAME, rig.length // FRAME * FRAME)


@cache
def sampled(budget: int = 1000) -> Sampling:
    made = [scenes_of(topology) for topology in ("single-feed", "relay-pair")]
    union = union_of(scenes.hazards for scenes, _ in made)
    fields = [
        Field(
            "", scenes, gauge, values_of(gauge, TERMS), TERMS, localised(union, scenes),
            _place(gauge.length), lambda struck, blows: struck,
        )
        for scenes, gauge in made
    ]  # fmt: skip
    return sample(Alone(fields, union), Effort(budget=budget))


def _place(length: int) -> Callable[[int, float], int]:
    return lambda number, uniform: int(uniform * length)


def mean_of(made: Sampling, topology: int, key: str) -> float:
    """Each stratum's chance times the mean of its shows, by the simulation's tables of values."""
    field, total = made.fields[topology], 0.0
    for pile in made.piles:
        known = pile.faults == 1
        values = pile.tables[topology] if known else field.table(pile.rows[topology])
        shares = pile.shares / pile.shares.sum()  # of drawn shows they miss 1 by chance
        total += pile.chance * float((shares @ values)[column(made, topology, key)])
    return total


def column(made: Sampling, topology: int, key: str) -> int:
    return next(n for n, v in enumerate(made.fields[topology].values) if v.key == key)


def dues(made: Sampling, topology: int) -> Dues:
    return dues_of(CONTRACT, pairs_of(made.fields[topology].gauge.asked))


@pytest.mark.parametrize("topology", [SINGLE, PAIR])
def test_gathered_nights_have_the_means_of_the_simulation(topology: int) -> None:
    """Expected loss, dark time and every step's chance, by two ways: exact sums over nights here,
    matrix products over strata there.
    """
    made = sampled()
    assert any(pile.method == EXACT for pile in made.piles)
    assert {pile.method for pile in made.piles} > {EXACT}
    found = tally(nights_of(made, topology), dues(made, topology))
    loss, dark = (mean_of(made, topology, k) for k in ("loss", "dark time"))
    assert loss > 0 and dark > 0
    assert float(found.expected) == pytest.approx(loss, rel=1e-9)
    assert found.dark == pytest.approx(dark, rel=1e-9)
    nights = list(nights_of(made, topology))
    for clause, time in ((0, 0), (0, 1), (1, 0)):
        key = f"clause {clause + 1} step {time + 1}"
        over = CONTRACT.clauses[clause].steps[time].time
        hit = fsum(n.weight for n in nights if _longest(made, topology, n, clause) > over)
        assert hit == pytest.approx(mean_of(made, topology, key), rel=1e-9)


def _longest(made: Sampling, topology: int, night: Night, clause: int) -> int:
    pairs = pairs_of(made.fields[topology].gauge.asked)
    return max(t for t, (c, _) in zip(night.longest, pairs, strict=True) if c == clause)


def test_without_the_nights_of_single_faults_the_means_are_missed() -> None:
    """The check above can fail: nights that leave one stratum out have other means."""
    made = sampled()
    short = replace(made, piles=tuple(pile for pile in made.piles if pile.method != EXACT))
    found = tally(nights_of(short, SINGLE), dues(made, SINGLE))
    loss = mean_of(made, SINGLE, "loss")
    assert float(found.expected) < 0.9 * loss
    assert left_out(short) > 0.05 > left_out(made)


@pytest.mark.parametrize("topology", [SINGLE, PAIR])
def test_the_night_without_a_fault_has_its_poisson_chance(topology: int) -> None:
    made = sampled()
    first, *others = nights_of(made, topology)
    assert first.weight == pytest.approx(exp(-made.union.mass), rel=1e-9)
    assert not first.culprits and not any(first.longest)
    assert fsum([first.weight, *(night.weight for night in others)]) == pytest.approx(1, abs=1e-12)
    assert left_out(made) == pytest.approx(made.rest, abs=1e-14)


def test_who_does_not_stand_in_the_topology_is_no_culprit() -> None:
    made = sampled()
    for topology in (SINGLE, PAIR):
        local = made.fields[topology].local
        named = {place for night in nights_of(made, topology) for place in night.culprits}
        assert all(local[place] >= 0 for place in named)
        assert len(named) < len(made.union.hazards)


def test_losses_of_a_simulated_group_hold_together() -> None:
    made = sampled()
    for topology in (SINGLE, PAIR):
        due = dues(made, topology)
        found = tally(nights_of(made, topology), due)
        alone = alone_of(nights_of(made, topology), due)
        assert worst_of(found, alone)[0] == max(found.by_loss) >= max(alone.values())
        assert exceedance(made, topology)[0][1] <= 1 - exp(-made.union.mass) + 1e-12


def test_the_most_that_a_hazard_alone_costs_is_that_of_a_strike_at_the_start() -> None:
    """A dead source darkens everything: half the fee and an eighth, whoever strikes when."""
    made = sampled()
    alone = alone_of(nights_of(made, SINGLE), dues(made, SINGLE))
    assert max(alone.values()) == 625
    assert set(alone.values()) > {Decimal(0), Decimal(625)}


def test_alone_is_what_struck_alone() -> None:
    made = sampled()
    due = dues(made, SINGLE)
    brief, long_, longest = (tuple(n * FLICKS for _ in due.asked) for n in (0, 2, 61))
    nights = [Night(0.1, long_, (7,)), Night(0.1, brief, (7,)), Night(0.1, longest, (7, 8))]
    assert alone_of(nights, due) == {7: loss_of(due, long_)}
    assert 0 < loss_of(due, long_) < loss_of(due, longest)


def test_what_cannot_touch_the_group_is_no_culprit() -> None:
    made = sampled()
    field = made.fields[SINGLE]
    blind = copy(field.scenes)
    blind.concerned = [number != 3 for number in range(len(blind.hazards))]
    away = field.local.index(3)
    apart = replace(made, fields=(replace(field, scenes=blind), made.fields[PAIR]))
    with_others = [
        [n for n in nights_of(each, SINGLE) if away in n.culprits and len(n.culprits) > 1]
        for each in (made, apart)
    ]
    assert with_others[0] and not with_others[1]


def test_harm_done_in_mending_what_cannot_be_seen_is_put_down_to_what_was_mended() -> None:
    made = sampled()
    field = made.fields[SINGLE]
    blind = copy(field.scenes)
    blind.concerned = [False] * len(blind.hazards)
    apart = replace(made, fields=(replace(field, scenes=blind), made.fields[PAIR]))
    drawn = [n for n in nights_of(apart, SINGLE) if n.dark]
    assert drawn and all(night.culprits for night in drawn)
    assert any(not night.culprits for night in nights_of(apart, SINGLE) if not any(night.longest))


@pytest.mark.parametrize("topology", [SINGLE, PAIR])
def test_the_loss_in_the_tables_is_what_is_due(topology: int) -> None:
    """Of every drawn show: the simulation's float column against exact dues."""
    made = sampled()
    field, due = made.fields[topology], dues(made, topology)
    at = columns_of(field.gauge.asked)
    rows = [row for pile in made.piles if not pile.exact for row in pile.rows[topology].tolist()]
    exact = [loss_of(due, [int(row[column]) for column in at]) for row in rows]
    assert field.table(np.array(rows))[:, -1].tolist() == [float(loss) for loss in exact]
    assert len(set(exact)) > 2


def test_a_due_of_a_third_is_whole_coins_in_the_tables_too() -> None:
    """100 EUR, a third of it: 33.33 EUR, not a third of a coin more."""
    made = sampled()
    step = Step(0, Fraction(1, 3))
    clauses = tuple(replace(clause, steps=(step,)) for clause in CONTRACT.clauses)
    contract = replace(CONTRACT, fee=Decimal(100), clauses=clauses)
    field = made.fields[SINGLE]
    row = np.zeros((1, field.gauge.size))
    row[0, columns_of(field.gauge.asked)[0]] = 5 * FLICKS
    assert table(row, field.values, field.gauge, contract)[0, -1] == 33.33
