"""What hangs on one thing and why, what nobody misses, and how `check` tells it.

In: small plans, the shipped scenarios. Out: single points with their reasons, worked out by hand.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from sim.errors import InputError
from sim.faults import Fault
from sim.limits.findings import SEVERITIES
from sim.report import check_report
from sim.report.reasonwords import because
from sim.rig.kit import Chooser, Run
from sim.rig.plan import Cabling, Choice, CircuitPlan, LayerPlan, ShowPlan
from sim.scenario.loader import load, scenario_from
from sim.study.checkup import Checkup, check
from sim.study.contingency import singles
from sim.study.hangs import dormant, handed_on
from sim.study.latent import latents
from sim.study.points import SinglePoint, single_points
from sim.study.reasons import Reason, Reasons
from sim.study.strikes import strikes
from sim.study.survival import Ways
from tests.labs import laboratory, lost_cabinets, plan_for, rig_of
from tests.plans import KITS, UNIT, group, main, show, source, wall

ONE_FEED = (("*", ("house-1",)),)
SILENT = frozenset({"dead", "cut", "tripped"})


def all_points(plan: ShowPlan) -> tuple[SinglePoint, ...]:
    """Single points and spoilers of the first group of a plan."""
    lab = laboratory(plan)
    found = single_points(lab, singles(lab, strikes(lab.rig)), Reasons(lab.rig, lab.group))
    return (*found[0], *found[1])


def points_of(plan: ShowPlan) -> dict[str, SinglePoint]:
    """What leaves cells dark, by name."""
    return {point.name: point for point in all_points(plan) if point.dark[1]}


def whole(points: dict[str, SinglePoint]) -> set[str]:
    """The names of those that darken everything."""
    return {name for name, point in points.items() if point.dark == (1, 1)}


def on_its_own(topology: str, **more: Any) -> ShowPlan:
    """A plan whose cabinets and relays hang on two circuits of which none is the unit's."""
    plan = plan_for(
        topology, powered=(("unit-*", ("desk",)), ("*", ("house-1", "house-2"))), **more
    )
    return replace(plan, circuits=(*plan.circuits, CircuitPlan("desk")))


# ---- relay-pair: what is a single point, what is not


def test_the_scaling_unit_of_a_relay_pair_is_named_and_why() -> None:
    point = points_of(main("relay-pair"))["unit-a dead"]
    assert point.dark == (1, 1)
    assert point.severity == "serious"
    assert point.whole == ("screen",)
    assert point.reasons == (Reason("way", ("unit-a",), (), 12, ("screen",)),)
    assert because(point) == "every way from the sources to the wall screen runs through it"


def test_its_circuit_is_one_too_if_it_has_one_only() -> None:
    point = points_of(on_its_own("relay-pair"))["desk tripped"]
    assert point.dark == (1, 1)
    assert because(point) == (
        "every way from the sources to the wall screen runs through scaling unit A, which hangs on "
        "it"
    )
    assert "desk tripped" not in points_of(main("relay-pair")), "two circuits: neither is"


def test_its_source_is_one_for_the_cells_of_its_layer() -> None:
    layers = (
        LayerPlan("camera", (Choice("cam"),)),
        LayerPlan("inset", (Choice("results"),), on_loss="black"),
    )
    points = points_of(main("relay-pair", layers=layers))
    inset = Fraction(5 * 5, 12 * 10 * 10)
    assert points["cam dead"].dark == (1 - inset, 1 - inset)
    assert points["results dead"].dark == (inset, inset)
    assert points["cam dead"].reasons == (Reason("layer", ("cam",), ("unit-a", "camera")),)
    assert "no changeover further down is triggered" in because(points["cam dead"])


def test_relays_trunks_and_ports_of_a_relay_pair_are_none_by_dead_or_cut() -> None:
    points = points_of(on_its_own("relay-pair"))
    silent = {p.role for p in points.values() if p.mode in ("dead", "cut")}
    assert not {r for r in silent if r.startswith(("relay", "trunk", "port", "head", "tail"))}
    assert {"unit-a", "receiver", "supply"} <= silent


def test_a_blanked_relay_is_one_because_receivers_take_any_valid_signal() -> None:
    points = points_of(main("relay-pair"))
    point = points["relay-main blanked"]
    assert (point.valid, point.dark) == (True, (1, 1))
    assert point.reasons == (Reason("valid", ("receiver#screen",), quality="black"),)
    assert because(point) == (
        "what arrives is valid, but black, and input of the receiving card takes anything that "
        "arrives"
    )
    assert "relay-backup blanked" not in points


def test_receivers_that_refuse_black_move_and_the_blanked_relay_is_none() -> None:
    card = replace(KITS["receiver"], picks=Chooser(accepts_above=1))
    points = points_of(main("relay-pair", kits={**KITS, "receiver": card}))
    assert "relay-main blanked" not in points
    point = points["unit-a blanked"]
    assert point.reasons == (Reason("valid", (), ("receiver#screen",), quality="black"),)


def test_a_stuck_unit_spoils_everything_without_darkness() -> None:
    found = {point.name: point for point in all_points(main("crossed-relays"))}
    point = found["unit-a stuck"]
    assert (point.dark, point.lost, point.states) == ((0, 0), (1, 1), ("frozen",))
    (reason,) = point.reasons
    assert reason.kind == "valid"
    assert set(reason.names) == {"relay-main#bank", "relay-backup#bank", "receiver#screen"}


# ---- mirrored, chains, routes


def test_in_mirrored_each_relay_is_one_of_its_own_wall() -> None:
    points = points_of(on_its_own("mirrored"))
    for name in ("left", "right"):
        point = points[f"{name}/relay-main dead"]
        assert point.dark == (Fraction(1, 2), Fraction(1, 2))
        assert point.whole == (name,)
        assert point.severity == "serious"
        assert point.reasons == (Reason("way", (f"{name}/relay-main",), (), 4, (name,)),)
    assert {"unit-a dead", "desk tripped"} <= whole(points)
    guarded = points_of(on_its_own("mirrored-guarded"))
    assert not any("relay" in name and "dead" in name for name in guarded)


def routed(main_run: str, backup_run: str) -> ShowPlan:
    """A relay pair whose trunks lie on these routes."""
    cabling = Cabling(trunk_main=Run((main_run,)), trunk_backup=Run((backup_run,)))
    return on_its_own("relay-pair", cabling=cabling)


def test_a_route_with_both_trunks_is_one_and_separate_routes_are_not() -> None:
    shared = points_of(routed("tower", "tower"))["route tower cut"]
    assert shared.dark == (1, 1)
    assert shared.reasons == (Reason("way", ("trunk-main", "trunk-backup"), (), 12, ("screen",)),)
    assert because(shared) == (
        "all ways from the sources to the wall screen run through trunk-main and trunk-backup, "
        "which lie on it"
    )
    apart = points_of(routed("tower", "roof"))
    assert not {name for name in apart if name.startswith("route ")}


SHORT = """
show: {title: short, rate: 50, length: 10 min}
walls: {panel: {grid: 2 x 2, pixels: 10 x 10 px, chains: by column, circuits: [house]}}
circuits: {desk: {}, house: {}}
routes: {a: {length: 9 m}, b: {length: 9 m}, c: {length: 1 m}, d: {length: 1 m}}
groups: {panel: {power: {unit-*: desk}, offered: relay-pair, cables: {CABLES}}}
"""
UNNAMED = "trunk_main: {length: 40 m}, trunk_backup: {length: 50 m}"
NAMED = "trunk_main: a, trunk_backup: b, heads: c, tails: d"


def unnamed_cut(cables: str) -> SinglePoint:
    (found,) = check(scenario_from(SHORT.replace("CABLES", cables))).groups
    return next(p for p in found.points if p.name == "route unnamed route cut")


def test_unnamed_routes_count_as_one() -> None:
    point = unnamed_cut(UNNAMED)
    assert point.dark == (1, 1)
    (way, *_) = point.reasons
    assert way.kind == "way"
    assert {"trunk-main", "trunk-backup"} <= set(way.names)
    assert {r.kind for r in unnamed_cut(NAMED).reasons} == {"layer"}, "only the source's cable"


def test_a_single_feed_hangs_on_every_piece_of_its_way() -> None:
    points = points_of(on_its_own("single-feed"))
    assert {"unit-a dead", "relay-main dead", "trunk-main cut", "desk tripped"} <= whole(points)
    port = points["port-main dead"]
    assert (port.count, port.dark) == (4, (Fraction(1, 4), Fraction(1, 4)))
    jumper = points["jumper dead"]
    assert jumper.dark == (Fraction(1, 12), Fraction(2, 12)), "what is behind it"


def test_a_dead_supply_is_told_as_power_and_a_dead_receiver_as_the_card() -> None:
    points = points_of(on_its_own("relay-pair"))
    assert [r.kind for r in points["receiver dead"].reasons] == ["card"]
    assert [r.kind for r in points["supply dead"].reasons] == ["power"]
    assert points["receiver dead"].severity == "note", "one cabinet"
    head = points["power/head dead"]
    assert (head.count, head.severity, head.dark[1]) == (3, "warning", Fraction(1, 3))


def test_a_choice_that_is_set_by_hand_is_named() -> None:
    unit = replace(UNIT, picks=Chooser(restore="by-hand"))
    plan = main("relay-pair", kits={**KITS, "unit": unit})
    point = points_of(plan)["cam dead"]
    assert point.reasons == (
        Reason("layer held", ("unit-a#layer camera",), ("unit-a", "camera"), lost=("cam",)),
    )
    assert "is set by hand: it stays until somebody acts" in because(point)
    assert "cam dead" not in points_of(main("relay-pair")), "by itself it moves to spare-cam"
    more = tuple(
        replace(point.reasons[0], names=(f"unit-a#layer {name}",), about=("unit-a", name))
        for name in ("camera", "title", "clock", "logo")
    )
    assert because(replace(point, reasons=more[:2])).endswith(
        "input of layer camera of unit-a and input of layer title of unit-a are set by hand: each "
        "stays until somebody acts; the unit goes on sending meanwhile"
    )
    assert because(replace(point, reasons=more)).count("set by hand") == 1


# ---- loop-throughs


def looped(kind: str) -> ShowPlan:
    unit = replace(UNIT, loop_through=kind)
    first = group(wall(3, 4), topology="two-unit", kits={**KITS, "unit": unit})
    sources = tuple(source(name, second="loop-through") for name in ("cam", "spare-cam", "results"))
    return show(first, sources=sources)


def test_a_unit_behind_an_active_loop_through_dies_with_the_first() -> None:
    rig = rig_of(looped("active"))
    (handed,) = handed_on(rig, rig.groups["main"])
    assert (handed.first, handed.second) == ("main/unit-a", "main/unit-b")
    assert set(handed.layers) == {"camera", "inset"}
    assert not handed.spare
    assert not handed_on(rig_of(looped("passive")), rig.groups["main"])
    point = points_of(looped("active"))["unit-a dead"]
    assert "loop" in {reason.kind for reason in point.reasons}
    assert "active and dies with it" in because(point)
    assert "unit-a dead" not in points_of(looped("passive"))


# ---- structure against the engine


@pytest.mark.parametrize(
    "topology", ["single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays"]
)
def test_cabinets_without_a_way_are_dark_against_the_engine(topology: str) -> None:
    """Whatever reachability gives up as lost, the run leaves not lit; and nothing besides is dark
    for want of a way.
    """
    rig = rig_of(on_its_own(topology, rows=2, columns=2))
    ways = Ways(rig)
    for thing in rig.things.values():
        if not SILENT & set(thing.modes):
            continue
        mode = next(m for m in thing.modes if m in SILENT)
        alive = ways.without((thing.name,)).alive
        cut_off = {c.name for c in rig.cabinets.values() if not alive.intersection(c.cards)}
        assert cut_off <= lost_cabinets(rig, [Fault(thing.name, mode, 0)]), thing.name


@pytest.mark.parametrize("name", ["first", "studio", "atrium"])
def test_every_single_point_of_the_shipped_scenarios_has_a_reason(name: str) -> None:
    scenario = load(f"scenarios/{name}.yaml")
    for of in scenario.groups:
        for variant in scenario.variants(of):
            for found in check(scenario, of, variant).groups:
                told = (*found.points, *found.spoilers)
                assert found.reasons or told
                assert all(p.reasons for p in told)
                kinds = {r.kind for p in told for r in p.reasons}
                assert "unexplained" not in kinds, variant.label


# ---- latent protections


def test_backups_that_nobody_misses_are_named_with_what_brings_them_out() -> None:
    lab = laboratory(main("relay-pair"))
    found = dormant(lab, latents(lab, singles(lab, strikes(lab.rig))))
    row = next(d for d in found if (d.role, d.mode) == ("relay-backup", "dead"))
    assert (row.where, row.monitored) == (("main/relay-backup",), False)
    assert row.together > row.alone
    ports = next(d for d in found if (d.role, d.mode) == ("port-backup", "dead"))
    assert len(ports.where) == 4


def test_a_monitored_backup_is_told_apart() -> None:
    watched = replace(KITS["relay"], monitored=True)
    lab = laboratory(main("relay-pair", kits={**KITS, "relay": watched}))
    found = dormant(lab, latents(lab, singles(lab, strikes(lab.rig))))
    assert {d.monitored for d in found if d.role == "relay-backup"} == {True}
    assert {d.monitored for d in found if d.role == "trunk-backup"} == {False}
    assert [d.monitored for d in found] == sorted(d.monitored for d in found)


# ---- the whole check


@pytest.fixture(scope="module", name="first")
def _first() -> Checkup:
    return check(load("scenarios/first.yaml"))


@pytest.fixture(scope="module", name="studio")
def _studio() -> Checkup:
    return check(load("scenarios/studio.yaml"))


def test_first_names_what_darkens_everything(first: Checkup) -> None:
    (found,) = first.groups
    points = {point.name: point for point in found.points}
    assert {
        "unit-a dead", "desk power tripped", "player dead", "relay-main blanked", "unit-a blanked",
        "player blanked", "wall power tripped", "route desk cut",
    } <= whole(points)  # fmt: skip
    assert not {"relay-main dead", "trunk-main cut", "port-main dead"} & set(points)
    assert len(first.assumptions) == len(first.scenario.assumptions) > 0


def test_studio_has_delays_jumps_and_free_ports(studio: Checkup) -> None:
    (found,) = studio.groups
    assert found.delay is not None
    assert found.delay.usual[0] <= found.delay.usual[1] <= found.delay.any[1]
    assert {leap.role for leap in found.leaps} >= {"receiver#screen"}
    ports = next(row for row in studio.outlets if row.what == "port")
    assert (ports.used, ports.has, ports.free, ports.returns) == (16, 16, 0, 8)


def test_findings_and_points_come_by_severity(first: Checkup, studio: Checkup) -> None:
    for checkup in (first, studio):
        for found in (checkup.findings, *(g.points for g in checkup.groups)):
            order = [SEVERITIES.index(each.severity) for each in found]
            assert order == sorted(order)


def test_a_limit_that_is_broken_is_a_serious_finding(first: Checkup) -> None:
    told = next(f for f in first.findings if f.kind == "limit")
    assert told.severity == "serious"
    assert "not met" in told.text


def test_what_cannot_be_built_is_told_and_nothing_else() -> None:
    scenario = load("scenarios/river.yaml")
    variant = next(v for v in scenario.variants("main") if v.topology == "return-loop")
    found = check(scenario, "main", variant)
    assert found.groups[0].reasons
    assert not found.groups[0].points
    assert found.findings[0].severity == "serious"
    assert "Cannot be built" in check_report.text(found)


def test_an_unknown_group_is_refused_with_the_nearest() -> None:
    with pytest.raises(InputError, match="nearest: panel"):
        check(load("scenarios/first.yaml"), "pannel")


# ---- reports


def test_text_fits_and_names_the_parts(first: Checkup, studio: Checkup) -> None:
    for checkup in (first, studio):
        for width in (80, 100):
            text = check_report.text(checkup, width)
            assert max(map(len, text.splitlines())) <= width
        for part in ("Single points", "Assumptions", "Cautions", "Limits", "Delay"):
            assert part in text
        for assumption in checkup.assumptions:
            assert assumption.path in text.replace("\n", "") or len(assumption.path) > 20


def test_first_in_words(first: Checkup) -> None:
    text = " ".join(check_report.text(first).split())
    assert (
        "scaling unit A dead, flapping: 100 % dark, because every way from the sources to the wall "
        "panel runs through it"
    ) in text
    assert "test the real backup before the show" in text


def test_the_document_has_a_format_and_all_of_it(first: Checkup) -> None:
    made = json.loads(json.dumps(check_report.document(first), allow_nan=False))
    assert made["format"] == "staylit-check 1"
    assert len(made["assumptions"]) == len(first.assumptions)
    (told,) = made["groups"]
    unit = next(p for p in told["points"] if (p["role"], p["mode"]) == ("unit-a", "dead"))
    assert unit["dark"] == ["1", "1"]
    assert unit["reasons"][0]["kind"] == "way"


def test_csv_has_one_line_for_each(first: Checkup) -> None:
    lines = list(csv.DictReader(io.StringIO(check_report.csv(first))))
    (found,) = first.groups
    kinds = [line["kind"] for line in lines]
    assert kinds.count("single point") == len(found.points)
    assert kinds.count("latent") == len(found.dormant)
    assert kinds.count("assumption") == len(first.assumptions)


def test_markdown_and_text_are_the_same_twice(first: Checkup) -> None:
    again = check(first.scenario)
    assert check_report.markdown(again) == check_report.markdown(first)
    assert check_report.text(again) == check_report.text(first)
