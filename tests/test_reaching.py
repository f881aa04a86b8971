"""How likely risks bring a night of each severity: against counting, against chances known.

In: profiles written by hand, a small rig with and without a contract. Out: chances equal to those
of plain counting over all instants, and to the chances of clauses and whole walls.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import cache
from math import exp
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.risk.bands import by_kind, kind_of
from sim.risk.bench import Alone
from sim.risk.curve import exceedance
from sim.risk.hazards import Hazard, position
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling, alone
from sim.risk.profile import Profile
from sim.risk.reaching import (
    Joint,
    _guilty,
    alone_reaching,
    chances,
    left_enough,
    struck_by,
    time_to,
)
from sim.risk.setting import setting
from sim.risk.streams import Floats
from sim.scenario.loader import scenario_from
from sim.study.strikes import HOUR

FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
CONTRACT = """
contract:
  fee: 100 000 EUR
  clauses:
    - name: dark
      state: dark
      over: 10 %
      of: wall
      steps: [{for: 5 s, pays: 10 %}, {for: 240 s, pays: 60 %}]
"""
SHOW = 200
EVEN = Hazard("at any time alike", (), 0.1)


def counted(made: Profile, dark: int) -> float:
    """The part of all instants of a short show after which so much darkness follows."""
    areas = [areas_at(made, flick) for flick in range(SHOW)]
    sums = np.cumsum(areas)
    return sum(sums[SHOW - at - 1] >= dark for at in range(SHOW)) / SHOW


def areas_at(made: Profile, flick: int) -> int:
    if made.repeat is not None:
        first, second = made.repeat
        flick = flick if flick < second else first + (flick - first) % (second - first)
    return [areas[0] for at, areas in made.steps if at <= flick][-1]


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    cuts = sorted(draw(st.sets(st.integers(1, 90), max_size=4)))
    areas = draw(st.lists(st.integers(0, 3), min_size=len(cuts) + 1, max_size=len(cuts) + 1))
    steps = tuple((at, (area, area, area)) for at, area in zip([0, *cuts], areas, strict=True))
    if draw(st.booleans()):
        return Profile(steps, 0)
    first = draw(st.integers(0, 60))
    return Profile(steps, 0, (first, draw(st.integers(max(first, *cuts, 1) + 1, 120))))


@given(profiles(), st.integers(1, 300))
def test_enough_left_of_the_show_against_counting(made: Profile, dark: int) -> None:
    """Within the one instant that counting by whole flicks leaves open."""
    found = left_enough(EVEN, time_to(made, dark), SHOW)
    assert found == pytest.approx(counted(made, dark), abs=1 / SHOW + 1e-9)


def test_counting_notices_another_amount() -> None:
    made = Profile(((0, (1, 1, 1)),), 0)
    found = left_enough(EVEN, time_to(made, 50), SHOW)
    assert found == 0.75
    assert abs(found - counted(made, 60)) > 2 / SHOW


@pytest.mark.parametrize(("shape", "age"), [(1.0, 0.0), (2.0, 0.0), (0.5, 10.0), (3.0, 500.0)])
def test_the_chance_of_a_strike_by_a_flick_is_what_strike_times_invert(
    shape: float, age: float
) -> None:
    of, length = replace(EVEN, shape=shape, age=age), 3 * HOUR
    for u in (0.0, 0.001, 0.25, 0.5, 0.999):
        assert struck_by(of, position(of, u, length), length) == pytest.approx(u, abs=1e-9)
    assert struck_by(of, length, length) == 1


# ---- a small rig ---------------------------------------------------------------------------------


@cache
def sampled(more: str = "") -> Sampling:
    scenario = scenario_from(FIRST.read_text(encoding="utf-8") + more, "first.yaml")
    of = setting(scenario, "panel", scenario.variants("panel"))
    return sample(Alone(of.fields, of.union), Effort(1, 1000))


def by_kinds(made: Sampling, topology: int, fee: Decimal | None) -> dict[str, Floats]:
    local = made.fields[topology].local
    kinds = {
        f"{kind[0]} {kind[1]}, {kind[2]}": [n for n in places if local[n] >= 0]
        for kind, places in by_kind(made.union.hazards).items()
    }
    known = {kind: places for kind, places in kinds.items() if places}
    return dict(zip(known, chances(made, topology, fee, list(known.values())), strict=True))


def place_of(made: Sampling, name: str) -> int:
    return next(
        n for n, h in enumerate(made.union.hazards)
        if f"{kind_of(h)[0]} {kind_of(h)[1]}, {kind_of(h)[2]}" == name
    )  # fmt: skip


def test_a_dead_player_is_catastrophic_in_the_first_half_of_ten_minutes() -> None:
    """It darkens everything to the end: 300 s are left in half of the show, 30 s in 95 % of it.

    The mean over its strikes is 300 wall-seconds too, as if every strike were catastrophic.
    """
    made = sampled()
    number = place_of(made, "player dead, item")
    given_ = alone_reaching(made, 0, None)[number]
    assert given_[:3] == pytest.approx([1 - 300 / 600, 1 - 30 / 600, 1 - 3 / 600], rel=1e-9)
    assert alone(made, 0)[number, 2] == pytest.approx(300, rel=1e-3)
    mass = made.union.hazards[number].mass
    found = by_kinds(made, 0, None)["player dead, item"]
    assert found[0] == pytest.approx(1 - exp(-mass / 2), rel=1e-9)
    assert found[0] < 0.6 * (1 - exp(-mass))


@pytest.mark.parametrize("topology", range(5))
def test_risks_together_make_the_chance_of_a_loss(topology: int) -> None:
    """Above 5 % of the fee is the clause's first step, above half its second. Each show in which
    one is due has a risk behind it, and no risk brings more of them than there are.
    """
    made = sampled(CONTRACT)
    curve = dict(exceedance(made, topology))
    found = np.array(list(by_kinds(made, topology, Decimal(100_000)).values()))
    for severity, loss in ((0, Decimal(10_000)), (1, Decimal(0))):
        whole = curve[loss]
        assert found[:, severity].max() <= whole
        assert found[:, severity].sum() >= whole * (1 - 1e-3)
    assert (np.diff(found, axis=1) >= 0).all()


def test_what_nobody_sees_alone_has_its_part_with_others() -> None:
    """A dead backup route does no harm alone; the chances without shows of several miss it."""
    made = sampled()
    name = "trunk-backup cut, never tested"
    assert not alone_reaching(made, 0, None)[place_of(made, name)].any()
    assert by_kinds(made, 0, None)[name][0] > 0
    single = Sampling(made.union, made.fields, made.piles[:1], 0.0, made.exacts)
    assert by_kinds(single, 0, None)[name][0] == 0


def test_who_only_stood_by_has_no_part() -> None:
    every = (True,) * 4
    pair, three = Joint(0.5, frozenset({1, 2}), every), Joint(0.25, frozenset({1, 2, 3}), every)
    strange = Joint(0.125, frozenset({1, 4, 5}), every)
    found = dict(_guilty([pair, three, strange], 0))
    assert found == {
        0.5: frozenset({1, 2}), 0.25: frozenset({1, 2}), 0.125: frozenset({1, 4, 5}),
    }  # fmt: skip
    assert dict(_guilty([three], 0)) == {0.25: frozenset({1, 2, 3})}
