"""From a scenario file to a scenario and its plan: what is said, what is assumed, what is built.

In: the shipped scenarios, a busy designer's file, small texts. Out: values in flicks, pixels,
metres; assumptions with grade and source; a plan that the builder accepts.
"""

from __future__ import annotations

import json
import time
from dataclasses import FrozenInstanceError
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.rig.figures import PLACEHOLDER, TRADE, UNKNOWN
from sim.rig.patterns import build
from sim.rig.plan import Choice, Placement
from sim.rig.refusals import cannot
from sim.rig.validator import validate
from sim.scenario.assumed import ONE_ROUTE, unsaid
from sim.scenario.loader import load, read, read_text, scenario_from
from sim.scenario.plan import plan_of
from sim.scenario.scenario import Scenario
from sim.scenario.schema import PATH, schema, schema_text
from sim.scenario.starter import new_file
from sim.timebase import FLICKS, GRADES
from tests.test_mistakes import BASE

SCENARIOS = Path(__file__).parents[1] / "scenarios"
NAMES = ("first", "river", "studio", "atrium")

BUSY = """\
show: {title: Square, rate: 59.94, length: 3 h}
walls:
  main: {grid: 16 x 9, pixels: 240 x 240 px, chains: by column, circuits: [A, B]}
routes: {north: 300 m, south: 340 m, left: 20 m, right: 25 m}
circuits: [A, B]
groups:
  main:
    cables: {trunk_main: north, trunk_backup: south, heads: left, tails: right}
    power: {unit-a: A, relay-main: A, relay-backup: B}
    offered: relay-pair
    against: [single-feed, two-unit, crossed-relays]
limits:
  - {any: single fault, state: dark, over: 10 %, of: wall, for: 30 frames}
"""


def shipped(name: str) -> Scenario:
    """One of the scenarios that come with the program."""
    return load(SCENARIOS / f"{name}.yaml")


# A busy designer's file


def test_a_busy_designers_file_is_about_fifteen_lines_and_builds() -> None:
    assert len(BUSY.splitlines()) <= 15
    scenario = scenario_from(BUSY)
    for variant in scenario.variants("main"):
        plan = plan_of(scenario, {"main": variant})
        assert cannot(plan, "main") == ()
        rig = build(plan)
        validate(rig)
        assert len(rig.cabinets) == 144


def test_what_the_file_says_is_taken_exactly() -> None:
    scenario = scenario_from(BUSY)
    group = plan_of(scenario).groups[0]
    assert scenario.rate.per_second == Fraction(60000, 1001)
    assert scenario.length == 3 * 3600 * FLICKS
    assert group.cabling.trunk_backup.length == 340
    assert group.cabling.tail.routes == ("right",)
    assert (group.walls[0].rows, group.walls[0].columns) == (9, 16)
    assert len(group.walls[0].chains) == 16
    limit = scenario.limits[0]
    assert (limit.any, limit.state, limit.over, limit.of) == (
        "single fault", "dark", Fraction(1, 10), "wall",
    )  # fmt: skip
    assert (limit.time, limit.frames) == (30 * scenario.rate.frame, 30)
    assert limit.label == (
        "no single fault makes more than 10 % of the wall dark for more than 30 frames"
    )


def test_every_default_is_an_assumption_with_grade_and_source() -> None:
    scenario = scenario_from(BUSY)
    assert len(set(scenario.assumptions)) == len(scenario.assumptions)
    for assumed in scenario.assumptions:
        assert assumed.path and assumed.what and assumed.value
        assert assumed.grade in GRADES
        assert assumed.source
    for kit in plan_of(scenario).groups[0].kits.values():
        for key in kit.timings:
            assert len(unsaid(scenario.assumptions, f"equipment.{kit.name}.{key}")) == 1, key


def test_what_is_said_is_no_assumption() -> None:
    said = "equipment: {receiving card: {timings: {detect: 2 frames, switch: 0.5 frames}}}\n"
    before, after = scenario_from(BUSY).assumptions, scenario_from(BUSY + said).assumptions
    gone = {assumed.path for assumed in before} - {assumed.path for assumed in after}
    assert gone == {"equipment.receiving card.detect", "equipment.receiving card.switch"}


def test_grid_pixels_rate_distances_and_money_are_never_assumed() -> None:
    assumed = scenario_from(BUSY).assumptions
    for path in ("walls.main.grid", "walls.main.pixels", "show.rate"):
        assert not unsaid(assumed, path)
    assert not unsaid(assumed, "groups.main.cables.trunk_main")
    assert "price" not in " ".join(each.path for each in assumed)
    needed = ("grid: 16 x 9, ", "pixels: 240 x 240 px, ", "rate: 59.94, ", "trunk_main: north, ")
    for said in needed:
        with pytest.raises(InputError, match="is missing"):
            scenario_from(BUSY.replace(said, ""))
    assert all(kit.price is None for kit in plan_of(scenario_from(BUSY)).groups[0].kits.values())


NO_ROUTE = f"{ONE_ROUTE}; give it one"
UNSAID = [
    (", circuits: [A, B]}", "}", "walls.main.circuits", "A"),
    ("relay-main: A, relay-backup: B", "relay-main: A", "groups.main.power.relay-backup", "A"),
    (", tails: right", "", "groups.main.cables.tails", "that of the cables to the heads"),
    ("trunk_backup: south, ", "", "groups.main.cables.trunk_backup", "that of the main trunks"),
    (
        "heads: left, tails: right",
        "heads: 20 m",
        "groups.main.cables.heads",
        f"{ONE_ROUTE}; give it one",
    ),
]


@pytest.mark.parametrize(("old", "new", "path", "value"), UNSAID, ids=[u[2] for u in UNSAID])
def test_what_is_not_said_is_taken_the_unfavourable_way(
    old: str, new: str, path: str, value: str
) -> None:
    assert BUSY.count(old) == 1
    (found,) = unsaid(scenario_from(BUSY.replace(old, new)).assumptions, path)
    assert (found.value, found.grade, found.source) == (value, "guess", UNKNOWN)


def test_cables_on_no_named_route_lie_on_one_and_the_same() -> None:
    text = BUSY.replace("trunk_main: north", "trunk_main: 300 m")
    text = text.replace("trunk_backup: south", "trunk_backup: 340 m")
    cabling = plan_of(scenario_from(text)).groups[0].cabling
    assert cabling.trunk_main.routes == cabling.trunk_backup.routes == ("unnamed route",)
    assert (cabling.trunk_main.length, cabling.trunk_backup.length) == (300, 340)


def test_without_circuits_everything_hangs_on_one() -> None:
    text = BUSY.replace(", circuits: [A, B]}", "}").replace("circuits: [A, B]\n", "")
    text = text.replace("    power: {unit-a: A, relay-main: A, relay-backup: B}\n", "")
    plan = plan_of(scenario_from(text))
    assert [circuit.name for circuit in plan.circuits] == ["unnamed circuit"]
    rig = build(plan)
    validate(rig)
    for family in ("processor", "relay", "source"):
        feeds = {thing.powered_by for thing in rig.things.values() if thing.family == family}
        assert feeds == {("unnamed circuit",)}


def test_a_second_unit_takes_its_sources_through_the_first_unless_said() -> None:
    scenario = scenario_from(BUSY)
    assert plan_of(scenario).sources[0].second == "loop-through"
    assert plan_of(scenario).groups[0].kits["unit"].loop_through == "active"
    none = scenario_from(BUSY + "equipment: {scaling unit: {loop_through: none}}\n")
    assert plan_of(none).sources[0].second == "distributor"


def test_sources_of_an_assumption_are_of_the_known_kinds() -> None:
    standards = ("INF-", "ITU-T", "IEEE", "common practice", "Fiber")
    kinds = (PLACEHOLDER, TRADE, UNKNOWN, *standards, "the usual", "that of the walls")
    for name in NAMES:
        for assumed in shipped(name).assumptions:
            assert assumed.source.startswith(kinds), assumed


# Values


def test_equipment_of_ones_own_goes_before_what_it_is_like() -> None:
    scenario = scenario_from(BASE)
    kit = plan_of(scenario).groups[0].kits["unit"]
    assert kit.name == "big unit"
    assert kit.limits.ports == 24
    assert kit.delay == scenario.rate.frame
    assert kit.drift == 5
    assert kit.price == 4000
    assert kit.timings["start"].least == 20 * FLICKS
    assert scenario.currency == "EUR"


def test_a_period_may_be_given_as_time_or_as_time_code() -> None:
    text = BASE.replace("from: 30 min, to: 40 min", "from: 20:30:00:00, to: 40 min")
    assert scenario_from(text).breaks == scenario_from(BASE).breaks
    assert scenario_from(BASE).breaks[0].begin == 1800 * FLICKS


def test_a_hold_up_shelters_and_a_circuit_has_parents() -> None:
    circuit = plan_of(scenario_from(BASE)).circuits[1]
    assert circuit.hold_up is not None
    assert circuit.hold_up.shelters
    assert circuit.powered_by == ("A",)


def test_a_picture_over_four_links_is_four_layers() -> None:
    group = plan_of(scenario_from(BASE)).groups[0]
    assert [(layer.name, layer.choices) for layer in group.layers][1:] == [
        (f"full {n}", (Choice("player", n),)) for n in (1, 2, 3, 4)
    ]
    usual = group.arrangements[0]
    assert usual.name == "usual"
    assert usual.placements == (
        Placement("inset", 100, 0, 200, 100),
        Placement("full 1", 0, 0, 200, 150),
        Placement("full 2", 200, 0, 200, 150),
        Placement("full 3", 0, 150, 200, 150),
        Placement("full 4", 200, 150, 200, 150),
    )


@settings(max_examples=25)
@given(st.integers(1, 12), st.integers(1, 5000), st.integers(1, 3000))
def test_columns_of_a_picture_cover_it_without_gap_or_overlap(links: int, w: int, h: int) -> None:
    assume(links <= 4 * w)
    split = "whole" if links == 1 else "columns"
    text = BASE.replace("links: 4, split: quadrants", f"links: {links}, split: {split}")
    text = text.replace("pixels: 100 x 100 px", f"pixels: {w} x {h} px")
    text = text.replace('at: "100, 0", size: 200 x 100 px', 'at: "0, 0", size: 1 x 1 px')
    placed = plan_of(scenario_from(text)).groups[0].arrangements[1].placements
    edges = [0, *(p.x + p.w for p in placed)]
    assert [p.x for p in placed] == edges[:-1]
    assert edges[-1] == 4 * w
    assert {(p.y, p.h) for p in placed} == {(0, 3 * h)}


def test_the_first_arrangement_is_the_intended_one_and_its_first_layer_the_topmost() -> None:
    group = plan_of(shipped("river")).groups[0]
    assert group.arrangements[0].name == "race"
    assert [p.layer for p in group.arrangements[0].placements] == ["results", "camera", "programme"]


def test_regions_in_cabinets_and_in_pixels() -> None:
    regions = {region.name: region for region in plan_of(shipped("river")).groups[0].regions}
    strip, middle = regions["results strip"], regions["middle"]
    assert (strip.x, strip.y, strip.w, strip.h) == (0, 7 * 240, 3840, 480)
    assert (middle.x, middle.y, middle.w, middle.h) == (960, 540, 1920, 1080)


def test_a_variant_is_named_by_what_is_varied_on_it() -> None:
    text = BASE.replace(
        "[single-feed, mirrored-guarded]",
        "[{topology: mirrored, routes: diverse, returns: gated, cards: 2, seamless: on},"
        " single-feed]",
    )
    labels = [variant.label for variant in scenario_from(text).variants("sides")]
    assert labels == [
        "mirrored",
        "mirrored, diverse routes, two cards, seamless, gated returns",
        "single-feed",
    ]


def test_the_offered_topology_comes_first_and_is_what_is_planned() -> None:
    scenario = shipped("river")
    assert [variant.offered for variant in scenario.variants("banks")] == [True, False, False]
    plan = plan_of(scenario, {"banks": scenario.variants("banks")[2]})
    assert [group.topology for group in plan.groups] == ["crossed-relays", "mirrored-guarded"]


def test_an_unknown_group_has_no_variants_and_no_plan() -> None:
    scenario = shipped("river")
    with pytest.raises(KeyError):
        scenario.variants("mian")
    with pytest.raises(InputError, match="unknown group 'mian'"):
        plan_of(scenario, {"mian": scenario.variants("main")[0]})


def test_a_scenario_is_frozen() -> None:
    scenario = scenario_from(BASE)
    with pytest.raises(FrozenInstanceError):
        scenario.title = "other"  # type: ignore[misc]
    with pytest.raises(ValueError, match="frozen"):
        scenario.file.show.title = "other"  # type: ignore[misc]


def test_the_same_text_gives_the_same_scenario_and_plan() -> None:
    assert scenario_from(BASE) == scenario_from(BASE)
    assert plan_of(scenario_from(BASE)) == plan_of(scenario_from(BASE))


# The shipped scenarios


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_scenario_builds_with_every_variant(name: str) -> None:
    scenario = shipped(name)
    for group in scenario.groups:
        for variant in scenario.variants(group):
            plan = plan_of(scenario, {group: variant})
            if not cannot(plan, group):
                validate(build(plan))


@pytest.mark.parametrize("name", NAMES)
def test_what_is_offered_can_be_built(name: str) -> None:
    scenario = shipped(name)
    plan = plan_of(scenario)
    assert [cannot(plan, group) for group in scenario.groups] == [()] * len(scenario.groups)


def built(scenario: Scenario, group: str) -> dict[str, bool]:
    """Whether each variant of a group can be built, by its label."""
    return {
        variant.label: not cannot(plan_of(scenario, {group: variant}), group)
        for variant in scenario.variants(group)
    }


def test_the_river_has_what_it_promises() -> None:
    scenario = shipped("river")
    main, banks = plan_of(scenario).groups
    assert scenario.rate.label == "59.94"
    assert scenario.length == 3 * 3600 * FLICKS
    (wall,) = main.walls
    assert (wall.columns, wall.rows, wall.cabinet_width, wall.cabinet_height) == (16, 9, 240, 240)
    assert (wall.columns * wall.cabinet_width, wall.rows * wall.cabinet_height) == (3840, 2160)
    assert main.cabling.trunk_main.length == 1200
    assert banks.mirrored
    assert len(banks.walls) == 2
    assert {"camera", "results"} <= {layer.name for layer in main.layers}


def test_all_sixteen_ports_are_taken_so_that_the_river_has_no_return_loop() -> None:
    scenario = shipped("river")
    assert plan_of(scenario).groups[0].kits["unit"].limits.ports == 16
    assert len(plan_of(scenario).groups[0].walls[0].chains) == 16
    found = built(scenario, "main")
    assert [label for label, yes in found.items() if not yes] == ["return-loop"]
    assert {"single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays"} <= set(found)
    return_loop = next(v for v in scenario.variants("main") if v.label == "return-loop")
    reasons = " ".join(cannot(plan_of(scenario, {"main": return_loop}), "main"))
    assert "port" in reasons


def test_the_banks_are_compared_over_three_topologies() -> None:
    assert built(shipped("river"), "banks") == {
        "mirrored": True, "single-feed": True, "mirrored-guarded": True,
    }  # fmt: skip


def test_the_studio_has_free_ports_and_a_picture_in_quadrants() -> None:
    scenario = shipped("studio")
    assert scenario.rate.label == "50"
    assert all(built(scenario, "backdrop").values())
    group = plan_of(scenario).groups[0]
    assert [layer.name for layer in group.layers] == [f"graphics {n}" for n in (1, 2, 3, 4)]
    assert group.kits["unit"].limits.line_width == 512
    assert len(group.references) == 2
    # 512 pixels of a line of 1024 pixels, of which 768 make a frame
    assert group.kits["unit"].delay == Fraction(512, 1024 * 768) * scenario.rate.frame


def test_the_atrium_runs_day_and_night() -> None:
    scenario = shipped("atrium")
    assert scenario.length == 30 * 86400 * FLICKS
    assert [a.name for a in plan_of(scenario).groups[0].arrangements] == ["day", "night"]
    assert built(scenario, "hall")["own, one relay on two routes"]


def test_the_first_scenario_is_two_by_two() -> None:
    wall = plan_of(shipped("first")).groups[0].walls[0]
    assert (wall.rows, wall.columns) == (2, 2)


def test_the_river_loads_within_its_time() -> None:
    """0.4 s of processor time, the best of three."""
    path, taken = SCENARIOS / "river.yaml", []
    for _ in range(3):
        begin = time.process_time()
        load(path)
        taken.append(time.process_time() - begin)
    assert min(taken) < 0.4


def test_a_wall_of_a_hundred_thousand_cabinets_is_taken() -> None:
    text = BUSY.replace("grid: 16 x 9", "grid: 400 x 250")
    assert plan_of(scenario_from(text)).groups[0].walls[0].columns == 400


# The starter file


@given(st.integers(1, 40), st.integers(1, 40), st.text(min_size=1, max_size=20))
def test_a_starter_file_loads_whatever_the_grid(rows: int, columns: int, title: str) -> None:
    assume(title.isprintable() and title.strip())
    scenario = scenario_from(new_file(rows, columns, title=title))
    plan = plan_of(scenario)
    wall = plan.groups[0].walls[0]
    assert (wall.rows, wall.columns) == (rows, columns)
    assert cannot(plan, "main") == ()
    assert scenario.title == title.strip()


def test_a_starter_file_is_short_and_explains_itself() -> None:
    lines = new_file(9, 16, rate="59.94", length="3 h", distance="1.2 km").splitlines()
    said = [line for line in lines if line.strip() and not line.lstrip().startswith("#")]
    assert len(said) <= 22
    assert sum("#" in line for line in lines) >= 8
    scenario = scenario_from("\n".join(lines))
    assert plan_of(scenario).groups[0].cabling.trunk_main.length == 1200
    assert len(scenario.variants("main")) == 5


# The schema for editors


def test_the_schema_is_fresh() -> None:
    assert PATH.read_text(encoding="utf-8") == schema_text(), (
        "run: python -c 'from sim.scenario.schema import write_schema; write_schema()'"
    )


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text()))


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_scenario_fits_the_schema(name: str) -> None:
    tree = read(read_text(SCENARIOS / f"{name}.yaml")).tree
    jsonschema.Draft202012Validator(schema()).validate(tree)


@pytest.mark.parametrize("text", [BUSY, BASE, new_file(9, 16)], ids=["busy", "base", "new"])
def test_other_good_files_fit_the_schema(text: str) -> None:
    jsonschema.Draft202012Validator(schema()).validate(read(text).tree)


MISFITS = [
    ("  rate: 50\n", ""),
    ("supplier: venue", "supplier: venu"),
    ("links: 4", "linked: 4"),
    ("mirrored: yes", "mirrored: maybe"),
    ("offered: mirrored\n", "offered: {routes: shared}\n"),
    ("state: dark", "state: off"),
]


@pytest.mark.parametrize(("old", "new"), MISFITS, ids=[m[1] or m[0] for m in MISFITS])
def test_the_schema_refuses_what_the_loader_refuses(old: str, new: str) -> None:
    text = BASE.replace(old, new)
    with pytest.raises(InputError):
        scenario_from(text)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema()).validate(read(text).tree)
