"""Seamless pairs and split pictures: no frame lost to an absent leg, what still gets through.

In: small plans with two trunks to each relay; a source of four links. Out: exact areas, refusals
with their figures. Hitless merging: 0 lost on any single path fault (IEC 62439-3, SMPTE ST
2022-7; secondary source read).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from sim.faults import Fault, Quality
from sim.limits.seamless import seamless_problems
from sim.rig.plan import (
    ArrangementPlan,
    Choice,
    Form,
    LayerPlan,
    Limits,
    Placement,
    Run,
    ShowPlan,
)
from sim.rig.refusals import cannot
from sim.rig.topology import Merge, Rig
from sim.study.strikes import strikes
from sim.timebase import fibre_delay
from tests.labs import full_run, laboratory, lit_everywhere, pixels_of, rig_of, strike_on
from tests.plans import KITS, PIXELS, RELAY, group, main, show, source, wall

LEGS = ("main/trunk-main-1", "main/trunk-main-spare-1")
TOPOLOGIES = ("single-feed", "relay-pair", "two-unit", "crossed-relays")


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_no_single_fault_that_makes_one_leg_absent_loses_a_frame(topology: str) -> None:
    lab = laboratory(main(topology, options={"seamless": True}))
    legs = {
        lab.rig.nodes[leg].thing
        for node in lab.rig.nodes.values()
        if isinstance(node, Merge)
        for leg in node.inputs
    }
    assert len(legs) >= 2
    absent = [s for s in strikes(lab.rig) if s.where in legs and s.mode in ("cut", "flapping")]
    assert len(absent) == 2 * len(legs)
    assert {lab.outcome(s).verdict for s in absent} == {"unseen"}
    for leg in legs:
        beyond = lab.rig.things[leg].margin + 1001
        faults = [Fault(leg, "attenuated", 0, loss=beyond)]
        assert not lab.effect(faults, "typical").seen


def test_without_the_second_leg_the_same_cut_costs_frames() -> None:
    lab = laboratory(main("relay-pair"))
    assert lab.outcome(strike_on(lab.rig, LEGS[0], "cut")).verdict == "blink"


def test_a_pair_loses_nothing_to_one_leg_and_everything_to_both() -> None:
    lab = laboratory(main("single-feed", options={"seamless": True}))
    assert not lab.effect([Fault(LEGS[0], "cut", 0)], "typical").seen
    both = [Fault(leg, "cut", 0) for leg in LEGS]
    assert lab.effect(both, "typical").area(0) == lab.canvas.area


def test_a_valid_but_wrong_leg_gets_through_only_where_it_is_preferred() -> None:
    lab = laboratory(main("relay-pair", options={"seamless": True}))
    torn = lab.outcome(strike_on(lab.rig, LEGS[0], "corrupt"))
    assert torn.typical.area(1) == lab.canvas.area and torn.strike.valid
    dim = lab.outcome(strike_on(lab.rig, LEGS[0], "attenuated"))
    assert dim.typical.area(1) == lab.canvas.area and dim.strike.valid
    assert lab.outcome(strike_on(lab.rig, LEGS[1], "corrupt")).verdict == "unseen"


@pytest.mark.parametrize("mode", ["blanked", "stuck", "stale"])
def test_both_legs_carry_what_a_sick_sender_sends(mode: str) -> None:
    lab = laboratory(main("relay-pair", options={"seamless": True}))
    assert lab.outcome(strike_on(lab.rig, "main/unit-a", mode)).typical.lost() == lab.canvas.area


# ---- refused


def paired(buffer: int) -> ShowPlan:
    """Legs of 1 200 and 1 500 m of fibre that meet in a relay with this buffer (flicks)."""
    relay = replace(RELAY, limits=replace(RELAY.limits, buffer=buffer))
    return main("single-feed", options={"seamless": True}, kits={**KITS, "relay": relay})


def test_a_path_difference_beyond_the_buffer_is_refused_with_the_figures() -> None:
    apart = fibre_delay(Fraction(300), Fraction("1.4676"))
    fits = -(-apart // 1)
    assert not seamless_problems(rig_of(paired(fits)))
    (finding,) = seamless_problems(rig_of(paired(fits - 1)))
    assert dict(finding.figures) == {
        "difference, flicks": apart,
        "buffer, flicks": Fraction(fits - 1),
    }
    assert "1.47 µs" in finding.text and finding.todo


def two_senders(rig: Rig) -> Rig:
    """The second leg of the pair on the second unit."""
    spare = rig.nodes["main/trunk-main-spare-1>"]
    return replace(
        rig, nodes={**rig.nodes, spare.name: replace(spare, inputs=("main/unit-b#out",))}
    )


def test_legs_from_two_senders_are_refused_in_a_rig_and_in_a_plan() -> None:
    rig = rig_of(main("two-unit", options={"seamless": True}))
    assert not seamless_problems(rig)
    found = seamless_problems(two_senders(rig))
    assert any("main/unit-a and main/unit-b" in each.text for each in found)
    form = Form(
        "own", ("unit-a", "unit-b"), relays=(("relay-x", (("unit-a", "unit-b"),)),),
        heads=(("*", "relay-x"),),
    )  # fmt: skip
    plan = main("own", form=form)
    assert any("two senders, unit-a and unit-b" in reason for reason in cannot(plan, "main"))


# ---- a picture that comes over four links

HALF = 15
QUADRANTS = {
    1: (0, 0), 2: (HALF, 0), 3: (0, HALF), 4: (HALF, HALF),
}  # fmt: skip
"""The links of the source and the corners (pixels) of what they carry, on a wall of 30 by 30."""


def quartered(on_loss: str = "black") -> ShowPlan:
    layers = tuple(
        LayerPlan(f"quarter-{n}", (Choice("cam", n),), on_loss=on_loss) for n in QUADRANTS
    )
    places = tuple(Placement(f"quarter-{n}", x, y, HALF, HALF) for n, (x, y) in QUADRANTS.items())
    one = replace(
        group(wall(3, 3), topology="relay-pair"),
        layers=layers,
        arrangements=(ArrangementPlan("show", places),),
        kits={**KITS, "unit": replace(KITS["unit"], limits=Limits(inputs=8))},
    )
    return show(one, sources=(source("cam", links=4, runs=(("*", Run(("desk",))),)),))


@pytest.mark.parametrize("link", QUADRANTS)
def test_one_lost_quadrant_darkens_its_own_cells_only_to_the_pixel(link: int) -> None:
    rig = rig_of(quartered())
    assert PIXELS * 3 == 2 * HALF and HALF % PIXELS, "the cut runs through the middle of a cabinet"
    trace = full_run(rig, [Fault(f"cam/to-main/unit-a/{link}", "cut", 0)])
    pixels = list(pixels_of(rig, trace, "main", "screen"))
    x0, y0 = QUADRANTS[link]
    expected = {(x, y) for x in range(x0, x0 + HALF) for y in range(y0, y0 + HALF)}
    assert {(x, y) for x, y, line in pixels if line == ((0, int(Quality.BLACK)),)} == expected
    assert {line for x, y, line in pixels if (x, y) not in expected} == {((0, 6),)}
    assert len(pixels) == len({(x, y) for x, y, _ in pixels}) == 900


def test_the_whole_source_takes_all_four() -> None:
    lab = laboratory(quartered())
    assert lab.outcome(strike_on(lab.rig, "cam", "dead")).typical.area(0) == 900
    lost = lab.outcome(strike_on(lab.rig, "cam/to-main/unit-a/3", "cut")).typical
    assert lost.area(0) == lost.lost() == HALF**2
    dim = lab.outcome(strike_on(lab.rig, "cam/to-main/unit-a/3", "corrupt")).typical
    assert (dim.area(0), dim.area(1)) == (0, HALF**2)


def test_a_rig_of_four_links_is_lit_when_nothing_is_wrong() -> None:
    rig = rig_of(quartered())
    assert lit_everywhere(rig, full_run(rig, []))
