"""That a comparison is never silent on a rig that cannot work, and names one gravest fault.

In: small scenarios written to files, rows changed by hand. Out: studies and texts.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from sim.limits.findings import Finding
from sim.limits.trunk_ways import trunk_findings
from sim.report import lead, text
from sim.report.compare_report import compare_blocks
from sim.report.differences import CROSSED, different_blocks
from sim.report.faults_report import faults_blocks
from sim.report.jsondoc import compare_document
from sim.report.reasonwords import because
from sim.report.rowtext import by_role
from sim.report.tables import compare_csv
from sim.scenario.loader import load
from sim.scenario.plan import plan_of
from sim.scenario.scenario import Scenario
from sim.study.checkup import check
from sim.study.rows import FaultRow, gravest
from sim.study.study import Comparison, compare, study
from tests.regenerate import _compared

SMALL = """
show: {title: Small, rate: 50, length: 10 min}
walls:
  main: {grid: 2 x 2, pixels: 960 x 960 px, chains: by column, circuits: [A]}
routes: {north: 300 m}
circuits: [A]
groups:
  main:
    cables: {trunk_main: north}
    offered: relay-pair
    against: [single-feed]
"""
NONE, ALL = (Fraction(0), Fraction(0)), (Fraction(1), Fraction(1))


def small(folder: Path, *changes: tuple[str, str]) -> Scenario:
    written = SMALL
    for old, new in changes:
        assert old in written
        written = written.replace(old, new)
    path = folder / "small.yaml"
    path.write_text(written, encoding="utf-8")
    return load(path)


def compared(scenario: Scenario) -> Comparison:
    variants = scenario.variants("main")
    return compare(scenario, "main", [study(scenario, variant) for variant in variants])


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ((), "carry 1 843 200 pixels"),
        ((("960 x 960", "96 x 96"), ("300 m", "200 km")), "dB"),
    ],
)
def test_what_ports_or_fibre_cannot_carry_cannot_be_built(
    tmp_path: Path, changes: tuple[tuple[str, str], ...], reason: str
) -> None:
    scenario = small(tmp_path, *changes)
    one = compared(scenario)
    assert not one.buildable
    assert all(reason in " ".join(each.reasons) for each in one.studies)
    shown = text.as_text(compare_blocks([one], scenario))
    assert shown.count("cannot be built") > 2
    assert "cannot be built" in text.as_text(faults_blocks([one.offered], scenario))
    told = check(scenario)
    assert any(f.severity == "serious" and reason in f.text for f in told.findings)


def test_what_can_be_carried_can_be_built(tmp_path: Path) -> None:
    one = compared(small(tmp_path, ("960 x 960", "96 x 96")))
    assert len(one.buildable) == 2
    assert not any(each.serious for each in one.studies)


def test_other_serious_findings_are_named_wherever_a_topology_is_judged() -> None:
    found = _compared("first")
    group = found.groups[0]
    bad = Finding("serious", "reference", "panel/screen", "its units are not in step", "do it")
    studies = (replace(group.studies[0], serious=(bad,)), *group.studies[1:])
    one = replace(group, studies=studies)
    assert "stand against relay-pair (1)" in lead.lead(one)[0]
    assert "Serious findings" not in lead.lead(group)[0]
    shown = " ".join(text.as_text(compare_blocks([one], found.scenario)).split())
    assert "relay-pair (offered) (1 serious)" in shown
    assert "serious, relay-pair: panel/screen: its units are not in step." in shown
    first, second, *_ = compare_document([one], found.scenario)["groups"][0]["topologies"]
    assert [each["text"] for each in first["serious_findings"]] == [bad.text]
    assert second["serious_findings"] == []
    assert json.dumps(first)
    assert bad.text in compare_csv([one])
    told = " ".join(text.as_text(faults_blocks(studies[:1], found.scenario)).split())
    assert "WARNING. Serious finding of `staylit check`: panel/screen" in told


def test_the_gravest_is_dark_for_certain_and_does_not_come_back() -> None:
    """Alike lost: dark for certain first, then most dark, then what stays before what flaps."""
    maybe = (Fraction(0), Fraction(1))
    sure = gravest(ALL, (ALL, NONE, NONE, NONE, NONE), "dead")
    flaps = gravest(ALL, (ALL, NONE, NONE, NONE, NONE), "flapping")
    either = gravest(ALL, (maybe, NONE, NONE, maybe, NONE), "dead")
    frozen = gravest(ALL, (NONE, NONE, NONE, ALL, NONE), "dead")
    assert sure > flaps > either > frozen


@pytest.mark.parametrize("name", ["first", "studio"])
def test_compare_and_check_name_one_gravest_fault(name: str) -> None:
    found = check(load(f"scenarios/{name}.yaml"))
    for group in found.groups:
        variant = next(s for s in (study(found.scenario, group.variant),))
        worst, told = variant.left_out, group.left_out
        assert worst is not None
        assert told is not None
        assert worst.gravity == told.gravity
    assert found.groups


def flapping(row: FaultRow, least: Fraction) -> FaultRow:
    return replace(row, role="trunk-x", mode="flapping", valid=False, verdict="lasting",
                   lasting=(least, Fraction(1)))  # fmt: skip


def test_lead_and_table_agree_on_what_takes_the_whole_picture() -> None:
    found = _compared("first")
    group = found.groups[0]
    row = group.studies[0].rows[0]
    for least, mark in ((Fraction(1), ""), (Fraction(0), " with some timings")):
        own = replace(group.studies[0], rows=(flapping(row, least),))
        one = compare(found.scenario, group.group, [own, replace(group.studies[1], rows=())])
        assert by_role(own.spoilers(False)) == [f"trunk-x (flapping{mark})"]
        said = lead.lead(one)[1]
        assert f"whole picture: relay-pair (1{mark}); none in single-feed." in said


# ---- tables on short lines, counts, crossed trunks


def test_names_are_not_broken_on_80_columns_and_regions_give_way() -> None:
    found = _compared("river")
    shown = text.as_text(faults_blocks([found.groups[0].offered], found.scenario), 80)
    assert "trunk-main-a flapping" in shown
    assert not [line for line in shown.splitlines() if re.match(r".*\w[-/](  |$)", line)]
    head = next(line for line in shown.splitlines() if line.startswith("fault "))
    assert "regions" not in head
    wide = text.as_text(faults_blocks([found.groups[0].offered], found.scenario), 140)
    assert "regions" in next(line for line in wide.splitlines() if line.startswith("fault "))


def test_reasons_of_unlike_faults_span_their_cabinets() -> None:
    told = check(load("scenarios/river.yaml"), "main")
    point = next(p for g in told.groups for p in g.points if p.name == "power/jumper dead")
    (reason,) = point.reasons
    assert 0 < reason.fewest < reason.cabinets
    assert f"powers {reason.fewest} to {reason.cabinets} cabinets" in because(point)


def test_check_says_which_trunks_lie_on_which_way_where_they_are_crossed() -> None:
    scenario = load("scenarios/river.yaml")
    by_topology = {v.topology: v for v in scenario.variants("main")}
    for topology, many in (("crossed-relays", 1), ("two-unit", 0), ("relay-pair", 0)):
        plan = plan_of(scenario, {"main": by_topology[topology]})
        notes = [f for f in trunk_findings(plan) if f.subject == "main"]
        assert len(notes) == many
    assert "those of unit-b on" in next(iter(trunk_findings(plan_of(scenario)))).text


def test_a_comparison_with_crossed_relays_says_why_they_may_blink_longer() -> None:
    found = _compared("river")
    shown = " ".join(text.as_text(compare_blocks(found.groups, found.scenario)).split())
    assert "In crossed-relays each scaling unit's trunks lie on one way" in shown
    only = [s for s in found.groups[0].studies if s.variant.topology != "crossed-relays"]
    less = compare(found.scenario, "main", only)
    assert CROSSED not in " ".join(str(block) for block in different_blocks(less))


def test_a_cable_without_a_named_route_is_an_assumption(tmp_path: Path) -> None:
    sources = ("groups:", "sources: {picture: {kit: media computer, run: 5 m}}\ngroups:")
    told = small(tmp_path, sources).assumptions
    (row,) = [each for each in told if each.path == "sources.picture.run.over"]
    assert "all cables without a named one count as one" in row.what
