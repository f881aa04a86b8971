"""Routes that are cut, pictures that come back: what a shared route takes, how often it blinks.

In: small plans, small scenario texts. Out: exact pixels, lines (flicks, quality) and frames.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from sim.faults import Fault, Quality
from sim.rig.patterns import build
from sim.rig.plan import Chooser, Run, ShowPlan
from sim.scenario.loader import scenario_from
from sim.scenario.plan import plan_of
from sim.study.ledger import over_phase
from sim.timebase import FLICKS
from tests.labs import full_run, laboratory, lines_of, lost_cabinets, rig_of, strike_on, timed
from tests.plans import FRAME, PIXELS, group, main, show, wall

LIT, DARK, FROZEN = int(Quality.GOOD), int(Quality.ABSENT), int(Quality.FROZEN)

# ---- routes


def route_area(plan: ShowPlan, route: str) -> int:
    """Pixels not lit, lasting, after everything on a route is cut."""
    lab = laboratory(plan)
    return lab.outcome(strike_on(lab.rig, f"route {route}", "cut")).typical.area(0)


@pytest.mark.parametrize("topology", ["relay-pair", "two-unit", "crossed-relays"])
def test_a_route_with_both_trunks_of_a_pair_is_a_single_point_and_separate_ones_are_not(
    topology: str,
) -> None:
    whole = 3 * 4 * PIXELS**2
    assert route_area(main(topology, options={"routes": "shared"}), "north") == whole
    assert route_area(main(topology), "north") == route_area(main(topology), "south") == 0


def test_a_trunk_on_two_routes_goes_with_either() -> None:
    plan = main("relay-pair")
    base = plan.groups[0]
    both = Run(("south", "north"), Fraction(1500))
    cabling = replace(base.cabling, trunk_backup=both)
    plan = replace(plan, groups=(replace(base, cabling=cabling),))
    whole = 3 * 4 * PIXELS**2
    assert (route_area(plan, "north"), route_area(plan, "south")) == (whole, 0)


UNNAMED = """\
show: {title: Yard, rate: 50, length: 1 h}
walls:
  main: {grid: 2 x 2, pixels: 100 x 100 px, chains: by column, circuits: [A]}
circuits: [A, B]
groups:
  main:
    cables: {trunk_main: 300 m, trunk_backup: 340 m, heads: 20 m, tails: 25 m}
    power: {unit-a: A, relay-main: A, relay-backup: B}
    offered: relay-pair
"""


def test_unnamed_routes_count_as_one() -> None:
    rig = build(plan_of(scenario_from(UNNAMED)))
    trunks = [thing for thing in rig.things.values() if thing.family == "fibre"]
    assert len(trunks) == 2
    (route,) = {route for trunk in trunks for route in trunk.routes}
    cut = strike_on(rig, f"route {route}", "cut")
    assert {"main/trunk-main-1", "main/trunk-backup-1"} <= set(cut.struck)
    assert lost_cabinets(rig, cut.faults) == set(rig.cabinets)
    given, said = "trunk_main: 300 m, trunk_backup: 340 m", "trunk_main: n, trunk_backup: s"
    named = UNNAMED.replace(given, said)
    named = named.replace("circuits: [A, B]", "routes: {n: 300 m, s: 340 m}\ncircuits: [A, B]")
    rig = build(plan_of(scenario_from(named)))
    for route in ("n", "s"):
        assert lost_cabinets(rig, strike_on(rig, f"route {route}", "cut").faults) == set()


# ---- returns: how often a repaired fault blinks


def blinks(restore: str, **more: Any) -> set[tuple[tuple[int, int], ...]]:
    """The lines of all cells when the main trunk is cut from 1 s to 3 s."""
    kits = timed("receiver", detect=2 * FRAME, switch=FRAME, wait_to_restore=30 * FRAME, **more)
    kits = {**kits, "receiver": replace(kits["receiver"], picks=Chooser(restore))}
    rig = rig_of(show(group(wall(3, 4), topology="relay-pair", kits=kits)))
    cut = Fault("main/trunk-main-1", "cut", FLICKS, 3 * FLICKS)
    return set(lines_of(rig, full_run(rig, [cut]), "main").values())


def test_revertive_selectors_blink_twice_and_non_revertive_ones_once() -> None:
    first = ((0, LIT), (FLICKS, DARK), (FLICKS + 3 * FRAME, LIT))
    back = 3 * FLICKS + 30 * FRAME
    assert blinks("non-revertive") == {first}
    assert blinks("revertive") == {(*first, (back, DARK), (back + FRAME, LIT))}


def test_a_last_picture_kept_for_less_than_the_switch_does_not_hide_the_second_blink() -> None:
    half = FRAME // 2
    back = 3 * FLICKS + 30 * FRAME
    shown = (
        (0, LIT), (FLICKS, FROZEN), (FLICKS + half, DARK), (FLICKS + 3 * FRAME, LIT),
        (back, FROZEN), (back + half, DARK), (back + FRAME, LIT),
    )  # fmt: skip
    assert blinks("revertive", keeps_last=half) == {shown}
    assert blinks("non-revertive", keeps_last=half) == {shown[:4]}


@pytest.mark.parametrize("more", [0, 1])
def test_a_fault_that_with_its_start_is_shorter_than_the_wait_causes_no_switch(
    more: int,
) -> None:
    """Cut for half a frame, link training for one: it costs both; the wait is two frames.

    Exactly two frames are still no switch: what returns as a wait ends has returned.
    """
    kits = timed("trunk", start=FRAME + more * FRAME // 2)
    rig = rig_of(main("relay-pair", kits=kits))
    trace = full_run(rig, [Fault("main/trunk-main-1", "cut", 0, FRAME // 2)])
    end = 3 * FRAME // 2 + more * FRAME // 2
    assert set(lines_of(rig, trace, "main").values()) == {((0, DARK), (end, LIT))}
    assert {note.what for note in trace.notes} >= {"lost", "recovered"}
    assert "switching" not in {note.what for note in trace.notes}
    count = over_phase(((0, DARK), (end, LIT)), FRAME)
    assert (count.least.dark, count.most.dark) == (2, 3)


def test_a_fault_that_with_its_start_outlasts_the_wait_by_one_flick_switches() -> None:
    kits = {**timed("receiver", wait_to_restore=30 * FRAME)}
    kits["trunk"] = timed("trunk", start=3 * FRAME // 2 + 1)["trunk"]
    rig = rig_of(main("relay-pair", kits=kits))
    trace = full_run(rig, [Fault("main/trunk-main-1", "cut", 0, FRAME // 2)])
    first = {line[:2] for line in lines_of(rig, trace, "main").values()}
    assert first == {((0, DARK), (3 * FRAME, LIT))}
    assert "switching" in {note.what for note in trace.notes}
