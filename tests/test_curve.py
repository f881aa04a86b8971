"""Who has which part of a figure, and how often more than a loss is lost: held to the figures.

In: small rigs with a contract, sampled. Out: parts that add up, chances that the clauses have.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from sim.rig import terms
from sim.risk.asked import RiskAsked
from sim.risk.bench import Alone
from sim.risk.curve import attributed, exceedance, once_in
from sim.risk.figures import NOTICED, TOPOLOGY
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling
from sim.risk.promised import judged
from sim.risk.register import backings
from sim.risk.results import RiskStudy
from sim.risk.setting import setting
from sim.risk.study import risk_of
from sim.risk.topology_risk import alike as alike_of
from sim.scenario.loader import scenario_from
from sim.scenario.scenario import Scenario
from sim.study.promises import NOT
from sim.study.study import study as compared
from sim.timebase import FLICKS

APART = ("single-feed", "crossed-relays")
FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
CONTRACT = """
contract:
  fee: 100 000 EUR
  cap: 60 000 EUR
  clauses:
    - name: dark
      state: dark
      over: 10 %
      of: wall
      steps: [{for: 5 s, pays: 10 %}, {for: 240 s, pays: 40 %}]
crew: {technicians: 1, spares: {receiving card: 3}}
"""


@cache
def scenario() -> Scenario:
    return scenario_from(FIRST.read_text(encoding="utf-8") + CONTRACT, "first.yaml")


@cache
def sampled() -> Sampling:
    of = setting(scenario(), "panel", scenario().variants("panel"))
    return sample(Alone(of.fields, of.union), Effort(1, 1000))


@cache
def study() -> RiskStudy:
    return risk_of(scenario(), "panel", RiskAsked(shows=5000, workers=1))


@pytest.mark.parametrize("topology", range(5))
def test_the_parts_of_all_hazards_add_up_to_every_figure(topology: int) -> None:
    made = sampled()
    sums = attributed(made, topology).sum(axis=0)
    for place, _ in enumerate(made.fields[topology].values):
        assert sums[place] == pytest.approx(made.mean(topology, place), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("topology", range(5))
def test_the_curve_has_the_chances_of_the_clause(topology: int) -> None:
    """One clause of two steps: a loss above 0 is its first step, one above 10 000 its second."""
    made = sampled()
    keys = [value.key for value in made.fields[topology].values]
    curve = dict(exceedance(made, topology))
    steps = [made.mean(topology, keys.index(f"clause 1 step {n}")) for n in (1, 2)]
    assert curve[Decimal(0)] == pytest.approx(steps[0], rel=1e-9)
    assert curve[Decimal(10_000)] == pytest.approx(steps[1], rel=1e-9)
    assert curve[Decimal(40_000)] == 0
    assert steps[0] > steps[1] > 0
    mean = 10_000 * steps[0] + 30_000 * steps[1]
    assert made.mean(topology, keys.index("loss")) == pytest.approx(mean, rel=1e-9)


def test_rare_losses_are_read_off_the_curve() -> None:
    curve = ((Decimal(0), 0.02), (Decimal(5), 0.01), (Decimal(7), 0.0))
    assert [once_in(n, curve) for n in (10, 100, 1000)] == [Decimal(0), Decimal(5), Decimal(7)]


def test_suppliers_and_risks_add_up_to_the_expected_loss_and_the_dark_time() -> None:
    for one in study().topologies:
        assert one.loss_expected is not None
        dark = one.figure("dark time")
        assert dark is not None
        parts = [(loss, dark) for _, loss, dark in one.by_supplier]
        rows = [(row.loss or Decimal(0), row.dark) for row in one.rows]
        for each in (parts, rows):
            loss = float(sum(loss for loss, _ in each))
            assert loss == pytest.approx(one.loss_expected.found.value, rel=1e-4)
            assert sum(time for _, time in each) == pytest.approx(dark.found.value, rel=1e-4)


def test_the_causes_of_each_topology_add_up_to_its_faults_a_show() -> None:
    for one in study().topologies:
        assert sum(mass for _, mass in one.causes) == pytest.approx(one.faults_per_show, rel=1e-12)
    of = setting(scenario(), "panel", scenario().variants("panel"))
    for one, stage in zip(study().topologies, of.stages, strict=True):
        assert {cause for cause, _ in one.causes} == {hazard.cause for hazard in stage.hazards}


def test_spares_are_told_of_every_type_in_the_rig_also_of_those_that_nobody_carries() -> None:
    of = setting(scenario(), "panel", scenario().variants("panel"))
    kits = [thing.kit for thing in of.stages[0].rig.things.values() if thing.kit]
    shown = {each.what: each for each in study().spare_shares}
    assert {kit: kits.count(kit) for kit in kits} == {k: s.installed for k, s in shown.items()}
    assert {what: each.carried for what, each in shown.items() if each.carried} == {
        "receiving card": 3
    }
    assert study().spare_shares[0].share == Fraction(3, kits.count("receiving card"))
    assert {what for what, _, _ in study().spares} <= set(shown)


def test_what_leads_is_the_likeliest_then_the_gravest() -> None:
    """By likelihood: any defect, any dark frame. By gravity: a minute of a whole wall, four minutes
    of darkness (40 % of the fee), five seconds (10 %).
    """
    for one in study().topologies:
        assert one.leading == ("defect", "wall 1 min", "clause 1 step 2", "clause 1 step 1")
        chances = [f.found.value for f in one.figures if f.kind == "chance"]
        assert max(chances) == next(f.found.value for f in one.figures if f.key == "defect")


def test_topologies_are_alike_where_the_difference_may_be_nothing() -> None:
    """Both ways alike, and as the differences to the topology offered say."""
    alike = {one.variant.label: set(one.alike) for one in study().topologies}
    assert all((b in alike[a]) == (a in alike[b]) for a in alike for b in alike if a != b)
    paired = {p.label: p.found for p in study().paired if p.key == "loss"}
    near = {label for label, found in paired.items() if found.low <= 0 <= found.high}
    assert alike["relay-pair"] == near


def test_more_shows_tell_topologies_apart() -> None:
    """Without a contract, by dark time, with shows enough: crossed relays have least."""
    bare = scenario_from(FIRST.read_text(encoding="utf-8"), "first.yaml")
    of = setting(bare, "panel", [v for v in bare.variants("panel") if v.label in APART])
    made = sample(Alone(of.fields, of.union), Effort(1, 6000))
    single = [field.label for field in made.fields].index("single-feed")
    assert alike_of(made, single) == ()
    few = sample(Alone(of.fields, of.union), Effort(1, 200))
    assert alike_of(few, single)


def test_keys_and_names_have_times_that_people_read() -> None:
    figures = {figure.key: figure.name for figure in study().topologies[0].figures}
    assert figures["wall 1 min"] == "a whole wall dark for more than 1 min"
    assert figures["clause 1 step 2"] == "dark: more than 4 min"
    assert not [
        key for key in figures if any(len(word) > 4 for word in key.split() if word.isdigit())
    ]


def test_another_topology_is_said_to_help_only_where_the_same_shows_tell_it() -> None:
    paired = {each.label: each.found for each in study().paired if each.key == "loss"}
    named = [h.what for h in study().offered.helps if h.kind == TOPOLOGY]
    assert all(paired[name].high < 0 for name in named if name in paired)


def test_limits_are_judged_as_compare_judges_them_where_what_is_offered_was_studied() -> None:
    found = judged(study(), scenario(), "panel")
    assert found.verdicts == compared(scenario(), scenario().offered["panel"]).verdicts
    assert [each.verdict for each in found.verdicts] == [NOT] and found.unmet
    others = tuple(one for one in study().topologies if not one.variant.offered)
    assert not judged(replace(study(), topologies=others), scenario(), "panel").verdicts


def test_timings_are_stated_or_assumed_and_all_things_can_be_reached_at_some_time() -> None:
    rig = setting(scenario(), "panel", scenario().variants("panel")).stages[0].rig
    one = study().offered
    stated = {key for key, _ in one.timings}
    assumed = {
        each.path.removeprefix("equipment.").replace(".timings.", ".")
        for each in study().assumed if ".timings." in each.path
    }  # fmt: skip
    assert stated.isdisjoint(assumed) and set(rig.timings) <= stated | assumed
    assert dict(one.timings) == {key: rig.timings[key] for key in stated}
    assert sum(count for _, count in one.reach) == len(rig.things)
    assert [what for what, _ in one.notices] == list(NOTICED)


def test_what_was_tested_and_what_nobody_spoke_of_are_told_apart() -> None:
    of = setting(scenario(), "panel", scenario().variants("panel"))
    here = of.stages[0].hazards
    silent = backings(replace(of.scenario.terms, tested=()), here)
    assert [each.stated for each in silent] == [False]
    assert "trunk-backup" in silent[0].things
    day = 24 * 3600 * FLICKS
    tested = (
        terms.Tested("*trunk-backup*", day, "a sheet"),
        terms.Tested("*unit-z*"),
        terms.Tested("*"),
    )
    said = backings(replace(of.scenario.terms, tested=tested[:2]), here)
    assert [(each.things, each.before, each.there) for each in said[:2]] == [
        (("*trunk-backup*",), day, True), (("*unit-z*",), None, False),
    ]  # fmt: skip
    away = set(silent[0].things) - set(said[2].things)
    assert away == {"trunk-backup", "route right hand"}, "a test of the trunk is one of its route"
    assert all(each.stated for each in backings(replace(of.scenario.terms, tested=tested), here))
