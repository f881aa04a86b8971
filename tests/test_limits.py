"""Static limits: each is met at its edge and broken one step beyond, on plans by hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.limits.alignment import delay_findings
from sim.limits.cables import fibres
from sim.limits.capacity import grave_findings
from sim.limits.findings import SEVERITIES, Finding, by_severity
from sim.limits.formulas import gigabit_pixels, port_pixels
from sim.limits.loads import Outlet, load_findings, numbers, outlets, port_loads
from sim.limits.static import cadence, limit_findings
from sim.rig.kit import Limits, Optics, Run
from sim.rig.patterns import build
from sim.rig.plan import Kit, ShowPlan
from sim.rig.refusals import cannot
from sim.rig.topology import Rig
from sim.timebase import RATES, rate
from tests.plans import (
    FIBRE,
    KITS,
    RELAY,
    UNIT,
    banks,
    group,
    main,
    show,
    source,
    wall,
)

ONE_WALL = ("single-feed", "relay-pair", "two-unit", "crossed-relays")


def limited(kit: Kit, **limits: Any) -> Kit:
    return replace(kit, limits=replace(kit.limits, **limits))


def found(plan: ShowPlan, kind: str, bits: int = 8) -> list[Finding]:
    return [each for each in limit_findings(plan, build(plan), bits) if each.kind == kind]


def texts(findings: Iterable[Finding]) -> list[str]:
    return [each.text for each in findings]


def with_group(plan: ShowPlan, **changes: Any) -> ShowPlan:
    """The plan with its first group changed."""
    first, *others = plan.groups
    return replace(plan, groups=(replace(first, **changes), *others))


# ---- findings ------------------------------------------------------------------------------------


def test_the_gravest_come_first_and_each_only_once() -> None:
    note, grave = Finding("note", "a", "x", "p"), Finding("serious", "b", "y", "q", "r")
    warning = Finding("warning", "c", "z", "s", figures=(("m", 5),))
    assert by_severity([note, grave, warning, note]) == (grave, warning, note)
    assert str(grave) == "serious: y: q. Do: r."
    assert str(note) == "note: x: p."
    assert warning.values == {"m": 5}


def test_a_sound_rig_has_nothing_but_notes() -> None:
    for topology in ONE_WALL:
        plan = main(topology)
        fed = tuple(replace(s, distributor_circuits=("house-1",)) for s in plan.sources)
        plan = replace(plan, sources=fed)
        assert {f.severity for f in limit_findings(plan, build(plan))} <= {"note"}


# ---- pixels, chains, columns ---------------------------------------------------------------------


def loaded(pixels: int | None, **cabinet: int) -> ShowPlan:
    """Chains of three cabinets of 10 by 10 pixels: 300 pixels a port."""
    screen = replace(wall(3, 4), **cabinet)
    kits = {**KITS, "unit": limited(UNIT, pixels=pixels)}
    return show(group(screen, topology="relay-pair", kits=kits))


def test_a_port_carries_what_is_stated_and_not_a_pixel_more() -> None:
    assert not found(loaded(300), "pixels")
    over = found(loaded(299), "pixels")
    assert len(over) == 2, "four heads of one relay, four tails of the other"
    assert {f.severity for f in over} == {"serious"}
    assert over[0].subject == "main/relay-main"
    assert over[0].text == (
        "ports 1 to 4 each carry 300 pixels to the head of main/chain-1, main/chain-2 and 2 more; "
        "at 60 frames a second and 8 bits a port can carry 299"
    )
    assert over[0].values == {
        "pixels": 300, "capacity, pixels": 299, "gigabit bound, pixels": 677_286,
    }  # fmt: skip


@pytest.mark.parametrize(("called", "bits", "stated"), [("50", 8, 250), ("60", 10, 375)])
def test_rate_and_depth_scale_what_a_port_carries(called: str, bits: int, stated: int) -> None:
    """Source: common practice, no source: 300 pixels at 50 Hz need 250 stated at 60; 10 bit 375."""
    frame = rate(called).frame
    assert not found(replace(loaded(stated), frame=frame), "pixels", bits)
    assert found(replace(loaded(stated - 1), frame=frame), "pixels", bits)


def test_the_smaller_of_unit_and_relay_counts() -> None:
    for unit, relay in ((300, 200), (200, 300)):
        kits = {**KITS, "unit": limited(UNIT, pixels=unit), "relay": limited(RELAY, pixels=relay)}
        plan = with_group(loaded(300), kits=kits)
        assert {load.capacity for load in port_loads(plan)} == {200}


def test_without_a_stated_figure_gigabit_ethernet_is_the_bound() -> None:
    """Source: IEEE 802.3, exact: 677 286 pixels of 24 bit at 60 Hz."""
    just = loaded(None, cabinet_width=1, cabinet_height=225_762)
    assert port_loads(just)[0].pixels == 677_286
    assert not found(just, "pixels")
    (first, *_) = found(loaded(None, cabinet_width=1, cabinet_height=225_763), "pixels")
    assert "can carry 677 286 (gigabit Ethernet at most 677 286)" in first.text


def test_a_claim_beyond_gigabit_is_a_warning() -> None:
    """Source: IEEE 802.3, exact."""
    assert not found(loaded(677_286), "pixels")
    (told,) = found(loaded(677_287), "pixels")
    assert (told.severity, told.subject) == ("warning", "main/unit-a")


@given(st.sampled_from(RATES), st.integers(1, 16), st.integers(1, 677_286))
def test_practice_never_promises_more_than_the_wire(called: Any, bits: int, stated: int) -> None:
    most = gigabit_pixels(called.per_second, bits)
    assert port_pixels(stated, called.per_second, bits) <= most


def test_a_chain_is_as_long_as_the_shortest_limit_on_its_way() -> None:
    kits = {**KITS, "unit": limited(UNIT, chain=4), "relay": limited(RELAY, chain=3)}
    assert not found(main("relay-pair", 3, 2, kits=kits), "chain")
    kits["relay"] = limited(RELAY, chain=2)
    over = found(main("relay-pair", 3, 2, kits=kits), "chain")
    assert texts(over)[:2] == [
        "has 3 cabinets; relay-main (its head) can take 2",
        "has 3 cabinets; relay-backup (its tail) can take 2",
    ]
    assert [f.subject for f in over] == ["main/chain-1, main/chain-2"] * 2
    kits = {**KITS, "receiver": limited(KITS["receiver"], chain=2)}
    assert (
        "its receivers (its head) can take 2"
        in found(main("single-feed", kits=kits), "chain")[0].text
    )


def test_columns_are_narrow_in_line_latency_mode_wherever_the_chain_turns() -> None:
    """A chain down one column and up the next is two cabinets of 10 pixels wide."""
    kits = {**KITS, "unit": limited(UNIT, line_width=20)}
    plan = main("relay-pair", 2, 2, kits=kits)
    (screen,) = plan.groups[0].walls
    turned = replace(screen, chains=(((0, 0), (1, 0), (1, 1), (0, 1)),))
    plan = with_group(plan, walls=(turned,))
    assert not found(plan, "width")
    tight = with_group(plan, kits={**KITS, "unit": limited(UNIT, line_width=19)})
    (told,) = found(tight, "width")
    assert (told.subject, told.severity) == ("main/chain-1", "serious")
    assert told.values == {"width, pixels": 20, "allowed, pixels": 19}
    assert "at most 1 abreast" in told.text
    apart = replace(screen, columns=3, chains=(((0, 0), (0, 2)), ((0, 1),)), rows=1)
    (told,) = found(with_group(plan, walls=(apart,)), "width")
    assert told.values["width, pixels"] == 30, "from the first column to the last, gap and all"
    assert not found(with_group(plan, kits=KITS), "width")


# ---- counts --------------------------------------------------------------------------------------


def test_what_is_used_and_free_by_unit() -> None:
    """Twelve chains: 12 ports, so 2 trunks to each relay; the tails return to relay-backup."""
    assert outlets(main("relay-pair", 2, 12)) == (
        Outlet("main/unit-a", "port", 12, 16),
        Outlet("main/unit-a", "trunk output", 4, 4),
        Outlet("main/unit-a", "input", 3, 4),
        Outlet("main/relay-main", "port", 12, 16),
        Outlet("main/relay-main", "trunk input", 2, 4),
        Outlet("main/relay-backup", "port", 12, 16, returns=12),
        Outlet("main/relay-backup", "trunk input", 2, 4),
    )
    assert [outlet.free for outlet in outlets(main("relay-pair", 2, 12))] == [4, 0, 1, 4, 2, 4, 2]


def test_a_return_loop_s_ports_are_half_returns() -> None:
    loop = {o.name: o for o in outlets(main("return-loop", 2, 9, reaches=True)) if o.what == "port"}
    assert loop == {"main/unit-a": Outlet("main/unit-a", "port", 18, 16, returns=9)}
    assert loop["main/unit-a"].free == -2


def test_a_unit_without_a_limit_has_no_number_free() -> None:
    kits = {**KITS, "unit": replace(UNIT, limits=Limits())}
    (port, *_) = outlets(main("single-feed", kits=kits))
    assert (port.has, port.free) == (None, None)


@pytest.mark.parametrize(
    ("topology", "columns"), [("return-loop", 9), ("crossed-relays", 17), ("relay-pair", 17)]
)
def test_what_cannot_be_built_is_serious_in_the_same_words(topology: str, columns: int) -> None:
    plan = main(topology, 1, columns)
    reasons = cannot(plan, "main")
    assert reasons
    told = found(plan, "build")
    assert texts(told) == [f"{topology} cannot be built: {reason}" for reason in reasons]
    assert {f.severity for f in told} == {"serious"}


@pytest.mark.parametrize("columns", range(1, 20))
def test_outlets_run_short_where_the_topology_cannot_be_built(columns: int) -> None:
    plan = main("relay-pair", 1, columns)
    short = any(o.free is not None and o.free < 0 for o in outlets(plan))
    assert short == bool(cannot(plan, "main")) == (columns > 16)


# ---- fibre and copper ----------------------------------------------------------------------------


def lit(length: int, **run: int) -> ShowPlan:
    """Fibre of 6.2 dB; 0.4 dB a km, 0.5 a connector, 0.1 a splice; main trunk only."""
    optics = Optics(budget=6200, per_km=400, per_connector=500, per_splice=100)
    plan = main("single-feed", kits={**KITS, "trunk": replace(FIBRE, optics=optics)})
    way = Run(("north",), Fraction(length), **run)
    return with_group(plan, cabling=replace(plan.groups[0].cabling, trunk_main=way))


@pytest.mark.parametrize(
    ("length", "connectors", "splices", "left"),
    [(1000, 2, 0, 4800), (10_000, 4, 2, 0), (10_001, 4, 2, -1), (0, 0, 0, 6200)],
)
def test_the_margin_of_a_fibre(length: int, connectors: int, splices: int, left: int) -> None:
    """By hand: 6.2 - 0.4 x km - 0.5 x connectors - 0.1 x splices, rounded to the worse side."""
    plan = lit(length, connectors=connectors, splices=splices)
    (fibre,) = fibres(plan, build(plan))
    assert (fibre.thing, fibre.margin) == ("main/trunk-main-1", left)


def test_a_fibre_without_margin_is_serious_and_a_thin_one_a_note() -> None:
    assert [f.severity for f in found(lit(10_001, connectors=4, splices=2), "optics")] == [
        "serious"
    ]
    assert [f.severity for f in found(lit(10_000, connectors=4, splices=2), "optics")] == ["note"]
    (thin,) = found(lit(5_500, connectors=2, splices=1), "optics")
    assert thin.values == {"margin, thousandths of a dB": 2900}
    assert "common practice, no source" in thin.text
    assert not found(lit(5_500, connectors=2), "optics"), "3 dB are left"


def test_fibres_of_one_kind_and_way_are_told_together() -> None:
    plan = main("relay-pair", 1, 16)
    run = Run(("north",), Fraction(6000))
    plan = with_group(plan, cabling=replace(plan.groups[0].cabling, trunk_main=run))
    (told,) = found(plan, "optics")
    assert told.subject == "main/trunk-main-1, main/trunk-main-2"


def test_a_source_s_fibre_has_a_margin_too() -> None:
    far = source("cam", cable=FIBRE, runs=(("main/*", Run((), Fraction(20_000))),), links=2)
    plan = main("single-feed")
    plan = replace(plan, sources=(far, *plan.sources[1:]))
    names = {f.thing: f.margin for f in fibres(plan, build(plan))}
    assert names["cam/to-main/unit-a/1"] == 6200 - 8000 - 1000
    assert "cam/to-main/unit-a/2" not in names, "no layer takes the second link"
    (told,) = found(plan, "optics")
    assert told.severity == "serious"


def test_copper_and_fibre_reach_so_far() -> None:
    kits = {**KITS, "jumper": limited(KITS["jumper"], reach=Fraction(2))}
    kits["trunk"] = limited(FIBRE, reach=Fraction(1200))
    plan = main("relay-pair", 2, 1, kits=kits)
    cabling = replace(plan.groups[0].cabling, jumper=Run((), Fraction(3)))
    over = found(with_group(plan, cabling=cabling), "reach")
    assert {f.subject: f.text for f in over} == {
        "main/chain-1/jumper-2": "jumper runs 3 m and reaches 2 m",
        "main/trunk-backup-1": "fibre runs 1500 m and reaches 1200 m",
    }


def test_copper_to_the_chains_is_told_once_by_what_cannot_be_built() -> None:
    plan = main("relay-pair", options={"cards": 2})
    cabling = replace(plan.groups[0].cabling, head=Run((), Fraction(101)))
    plan = with_group(plan, cabling=cabling)
    assert len(found(plan, "build")) == 1
    assert not found(plan, "reach")
    tails = replace(plan.groups[0].cabling, head=Run(), tail=Run((), Fraction(101)))
    over = found(with_group(plan, cabling=tails), "reach")
    assert [f.subject for f in over] == [f"main/chain-{n}-b/head" for n in range(1, 5)]


# ---- feed, power, references ---------------------------------------------------------------------


def judged(plan: ShowPlan, rig: Rig, kind: str) -> list[Finding]:
    return [f for f in limit_findings(plan, rig) if f.kind == kind]


def test_a_cabinet_without_a_way_from_a_processor_is_not_fed() -> None:
    plan = main("single-feed", 2, 2)
    rig = build(plan)
    first = rig.nodes["main/port-main-1>"]
    cut = {**rig.nodes, first.name: replace(first, inputs=("cam#out",))}
    (told,) = judged(plan, replace(rig, nodes=cut), "feed")
    assert told.text == "no picture leads to r1c1, r2c1"
    assert (told.severity, told.subject) == ("serious", "main/screen")
    assert not judged(plan, rig, "feed")


def test_a_cabinet_on_no_chain_is_told_of_and_delays_leave_its_group_out() -> None:
    plan = main("single-feed", 2, 2)
    screen = replace(plan.groups[0].walls[0], chains=(((0, 0), (1, 0)), ((0, 1),)))
    plan = with_group(plan, walls=(screen,))
    rig = build(plan)
    assert texts(judged(plan, rig, "feed")) == ["no picture leads to r2c2"]
    assert texts(judged(plan, rig, "build")) == [
        "single-feed cannot be built: r2c2 of screen is on no chain"
    ]
    assert not list(delay_findings(rig))


def test_what_hangs_on_no_circuit_is_told_by_kind() -> None:
    plan = main("single-feed", 2, 2)
    screen = replace(plan.groups[0].walls[0], circuits=())
    bare = with_group(plan, walls=(screen,), powered=())
    told = {f.text for f in found(bare, "power")}
    assert told == {
        "scaling unit without a circuit: main/unit-a; taken as always on",
        "relay unit without a circuit: main/relay-main; taken as always on",
        "power supply without a circuit: main/r1c1/supply, main/r1c2/supply, main/r2c1/supply "
        "and 1 more; taken as always on",
    }
    assert {f.severity for f in found(bare, "power")} == {"warning"}


def synced(*references: tuple[str, ...]) -> ShowPlan:
    units = (f"unit-{letter}" for letter in "ab")
    own = tuple(zip(units, references, strict=True))
    return main("two-unit", 2, 2, own_references=own, references=())


@pytest.mark.parametrize(
    ("a", "b", "severity", "said"),
    [
        (("sync-1",), ("sync-2",), "serious", "follow different references"),
        (("sync-1", "sync-2"), ("sync-2", "sync-1"), "serious", "sync-1, then sync-2"),
        (("sync-1",), (), "serious", "main/unit-b follows none"),
        (("sync-1",), ("sync-1", "sync-2"), "warning", "part when their first reference is lost"),
        ((), (), "warning", "follow no reference"),
    ],
)
def test_two_processors_on_one_wall_must_follow_one_reference(
    a: tuple[str, ...], b: tuple[str, ...], severity: str, said: str
) -> None:
    (told,) = found(synced(a, b), "reference")
    assert (told.severity, told.subject) == (severity, "main/screen")
    assert said in told.text


def test_processors_in_step_and_lone_ones_are_no_finding() -> None:
    both = ("sync-1", "sync-2")
    assert not found(synced(both, both), "reference")
    assert not found(main("relay-pair", references=()), "reference")


def test_a_seamless_pair_that_cannot_work_is_among_the_limits() -> None:
    kits = {**KITS, "relay": limited(RELAY, buffer=0)}
    plan = main("relay-pair", kits=kits, options={"seamless": True})
    assert [f.severity for f in found(plan, "seamless")] == ["serious", "serious"]
    assert not found(main("relay-pair", options={"seamless": True}), "seamless")


# ---- rates, circuits -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source_rate", "wall_rate", "said"),
    [
        ("50", "60", "of every 5 pictures 4 stand for 1 frame and 1 for 2 frames"),
        ("24", "60", "of every 2 pictures 1 stands for 2 frames and 1 for 3 frames"),
        ("30", "60", "each picture stands for 2 frames"),
        ("60", "50", "of every 6 pictures 1 is left out"),
        ("60", "24", "of every 5 pictures 3 are left out"),
        ("60", "59.94", "of every 1001 pictures 1 is left out"),
        ("50", "59.94", "of every 1001 pictures 802 stand for 1 frame and 199 for 2 frames"),
    ],
)
def test_how_a_source_of_another_rate_falls_on_the_wall(
    source_rate: str, wall_rate: str, said: str
) -> None:
    plan = replace(main("single-feed"), frame=rate(wall_rate).frame)
    same = tuple(replace(s, frame=plan.frame) for s in plan.sources)
    other = replace(same[0], frame=rate(source_rate).frame)
    (told,) = found(replace(plan, sources=(other, *same[1:])), "rate")
    assert (told.subject, told.severity) == ("cam", "note")
    assert told.text.endswith(said)
    assert not found(replace(plan, sources=same), "rate")


@given(st.sampled_from(RATES), st.sampled_from(RATES))
def test_the_cadence_against_enumeration(source_rate: Any, wall_rate: Any) -> None:
    """Count on how many wall frames each picture of one whole pattern is the newest one."""
    ratio = Fraction(source_rate.frame, wall_rate.frame)
    shown = [0] * ratio.denominator
    for frame in range(ratio.numerator):
        shown[frame * ratio.denominator // ratio.numerator] += 1
    counts = {times: shown.count(times) for times in sorted(set(shown))}
    if 0 in counts:
        assert cadence(ratio).startswith(f"of every {len(shown)} pictures {counts[0]} ")
    elif len(counts) == 1:
        assert cadence(ratio).startswith("each picture")
    else:
        (few, often), (many, seldom) = counts.items()
        assert many == few + 1
        assert cadence(ratio).startswith(f"of every {len(shown)} pictures {often} ")
        assert f" for {few} frame" in cadence(ratio)
        assert f"and {seldom} for {many} frame" in cadence(ratio)


def test_an_unused_source_of_another_rate_is_no_finding() -> None:
    plan = main("single-feed", options={"fallback": "none"})
    cam, spare, results = plan.sources
    other = replace(spare, frame=rate("50").frame)
    assert not found(replace(plan, sources=(cam, other, results)), "rate")


def test_cabinets_on_a_circuit_against_the_usual_breaker() -> None:
    """Source of 6 to 20 on a breaker: general trade knowledge, from memory."""
    small = main("single-feed", 2, 3)
    assert not found(small, "circuit"), "six go on one breaker in any case"
    (one, other) = found(main("single-feed", 9, 16), "circuit")
    assert (one.subject, other.subject) == ("house-1", "house-2")
    assert one.values == {"cabinets": 144, "fewest breakers": 8, "most breakers": 24}
    assert one.severity == "note"
    assert "No current is modelled" in one.text
    assert "qualified people" in one.todo
    assert "local codes" in one.todo


def test_cabinets_of_single_power_hang_on_one_circuit_each() -> None:
    told = found(main("single-feed", 4, 4, options={"power": "single"}), "circuit")
    assert {f.subject: f.values["cabinets"] for f in told} == {"house-1": 8, "house-2": 8}


@pytest.mark.parametrize("topology", ["mirrored", "mirrored-guarded", "single-feed"])
def test_every_finding_says_whom_it_is_about_and_how_grave_it_is(topology: str) -> None:
    plan = banks(topology)
    for each in limit_findings(plan, build(plan)):
        assert each.severity in SEVERITIES
        assert each.subject
        assert each.text
    assert not list(load_findings(plan))


# ---- what cannot be carried cannot be built ------------------------------------------------------


def test_runs_of_ports_are_folded() -> None:
    assert numbers([3, 1, 2, 4, 7, 9, 10]) == "1 to 4, 7, 9 and 10"


def test_what_cannot_be_carried_is_told_apart_from_what_cannot_work() -> None:
    plan = loaded(299)
    beyond, other = grave_findings(limit_findings(plan, build(plan), 8))
    assert {each.kind for each in beyond} == {"pixels"}
    assert not other
    plan = loaded(300)
    assert grave_findings(limit_findings(plan, build(plan), 8)) == ((), ())
