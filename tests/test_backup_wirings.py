"""What each topology must show: frames of a changeover, single points, what is cut off, routes.

In: small plans, and a wall of 16 by 9. Out: exact frames, cabinets and pixels, worked out by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import pytest

from sim.faults import Fault, Quality
from sim.rig.plan import Choice, Chooser, CircuitPlan, LayerPlan, ShowPlan
from sim.rig.topology import Rig
from sim.study.contingency import Laboratory
from sim.study.ledger import Frames, frames_by_state, over_phase
from sim.study.strikes import strikes
from tests.labs import (
    MIRRORED,
    ONE_WALL,
    cabinets_by_end,
    effect_areas,
    full_run,
    laboratory,
    lines_of,
    lost_cabinets,
    plan_for,
    rig_of,
    strike_on,
    timed,
)
from tests.plans import FRAME, KITS, PIXELS, RELAY, main

LIT, DARK, FROZEN = int(Quality.GOOD), int(Quality.ABSENT), int(Quality.FROZEN)


# ---- a changeover in frames: wait 2 frames, switch in half a frame


def changeover(keeps_last: int = 0, rows: int = 3, columns: int = 4) -> Laboratory:
    card = timed("receiver", detect=2 * FRAME, switch=FRAME // 2, keeps_last=keeps_last)
    return laboratory(main("relay-pair", rows, columns, kits=card))


def test_a_main_trunk_cut_costs_every_cell_3_to_4_frames_and_3_and_a_half_on_average() -> None:
    lab = changeover()
    effect = lab.effect(strike_on(lab.rig, "main/trunk-main-1", "cut").faults, "typical")
    line = ((0, DARK), (5 * FRAME // 2, LIT))
    assert effect_areas(effect) == {(line, "screen"): lab.canvas.area}
    count = over_phase(line, FRAME)
    assert (count.least.dark, count.most.dark) == (3, 4)
    assert count.mean.dark == Fraction(5, 2) + 1 - Fraction(1, FRAME)
    assert abs(count.mean.dark - Fraction(7, 2)) < Fraction(1, 10**6)
    assert lab.outcome(strike_on(lab.rig, "main/trunk-main-1", "cut")).frames() == (3, 4)


def test_over_a_continuous_phase_two_frames_and_a_half_cost_3_and_a_half_against_theory() -> None:
    """At phase p (in frames) the outage [p, p + 5/2) touches ceil(p + 5/2) - floor(p) frames.

    That is 3 for p in [0, 1/2] and 4 for p in (1/2, 1), so the mean is 3/2 + 4/2. The mean over n
    equal steps of phase, from 0 on, is 1/n less: the 1/F that the whole flicks of a frame cost.
    """
    d = Fraction(5, 2)
    assert 3 * Fraction(1, 2) + 4 * Fraction(1, 2) == d + 1 == Fraction(7, 2)
    for n in (10, 16, 1000):
        steps = [Fraction(k, n) for k in range(n)]
        costs = [-(-(p + d) // 1) - p // 1 for p in steps]
        assert {c for p, c in zip(steps, costs, strict=True) if p <= Fraction(1, 2)} == {3}
        assert {c for p, c in zip(steps, costs, strict=True) if p > Fraction(1, 2)} == {4}
        line = ((0, DARK), (n * 5 // 2, LIT))
        assert Fraction(sum(costs), n) == over_phase(line, n).mean.dark == d + 1 - Fraction(1, n)


PHASES = (0, 1, FRAME // 2 - 1, FRAME // 2, FRAME // 2 + 1, FRAME - 1)


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("keeps_last", [0, FRAME])
def test_frames_counted_in_the_show_agree_at_each_phase(phase: int, keeps_last: int) -> None:
    rig = changeover(keeps_last).rig
    cut = Fault("main/trunk-main-1", "cut", 7 * FRAME + phase)
    lines = lines_of(rig, full_run(rig, [cut]), "main")
    counts = {frames_by_state(line, FRAME, rig.length) for line in lines.values()}
    lost = 3 if phase <= FRAME // 2 else 4
    frozen = 1 if keeps_last else 0
    assert counts == {Frames(dark=lost - frozen, frozen=frozen, lit=600 - lost)}


def test_with_a_picture_kept_for_a_frame_exactly_one_is_frozen_and_the_rest_dark() -> None:
    lab = changeover(keeps_last=FRAME)
    outcome = lab.outcome(strike_on(lab.rig, "main/trunk-main-1", "cut"))
    line = ((0, FROZEN), (FRAME, DARK), (5 * FRAME // 2, LIT))
    assert effect_areas(outcome.typical) == {(line, "screen"): lab.canvas.area}
    count = over_phase(line, FRAME)
    assert count.least == Frames(dark=2, frozen=1)
    assert count.most == Frames(dark=3, frozen=1)
    assert outcome.lost_frames() == (3, 4) and outcome.verdict == "blink"


def test_on_16_by_9_each_main_trunk_costs_the_eight_chains_behind_it_and_no_other() -> None:
    lab = changeover(rows=9, columns=16)
    behind = {"main/trunk-main-1": range(8), "main/trunk-main-2": range(8, 16)}
    for trunk, columns in behind.items():
        trace = full_run(lab.rig, [Fault(trunk, "cut", 0)])
        blinks = {
            name for name, shown in trace.shown.items() if [s[0] for _, s in shown] == [0, LIT]
        }
        assert blinks == {f"main/r{r + 1}c{c + 1}" for r in range(9) for c in columns}
        effect = lab.effect(strike_on(lab.rig, trunk, "cut").faults, "typical")
        assert effect.lost(lasting=False) * 2 == lab.canvas.area
        assert effect.worst is not None and effect.worst.most.dark == 4


# ---- single points


def plain_layers(plan: ShowPlan) -> ShowPlan:
    """Each layer from one source, black on loss."""
    groups = tuple(
        replace(
            each,
            layers=(
                LayerPlan("camera", (Choice("cam"),), on_loss="black"),
                LayerPlan("inset", (Choice("results"),), on_loss="black"),
            ),
            powered=(
                ("unit-*", ("desk",)), ("*relay-main", ("house-1",)),
                ("*relay-backup", ("house-2",)),
            ),
        )
        for each in plan.groups
    )  # fmt: skip
    return replace(plan, groups=groups, circuits=(*plan.circuits, CircuitPlan("desk")))


def darkening(lab: Laboratory, modes: Iterable[str]) -> dict[str, int]:
    """Things, routes and circuits of which a fault leaves pixels dark, lasting: how many."""
    outcomes = [lab.outcome(s) for s in strikes(lab.rig) if s.mode in modes]
    areas = {o.strike.where: o.typical.area(0) for o in outcomes}
    return {where: area for where, area in areas.items() if area}


def test_relay_pair_has_the_unit_its_only_circuit_and_the_sources_as_single_points() -> None:
    lab = laboratory(plain_layers(main("relay-pair")))
    found = darkening(lab, ("dead", "cut", "tripped"))
    whole, inset = lab.canvas.area, (PIXELS // 2) ** 2
    far = {w: a for w, a in found.items() if not w.startswith(("main/r", "main/power"))}
    feeds = {"cam": whole - inset, "results": inset}
    cables = {f"{source}/to-main/unit-a": area for source, area in feeds.items()}
    both_sources = {"house-1": whole}
    assert far == {"main/unit-a": whole, "desk": whole, **feeds, **cables, **both_sources}
    for r in range(1, 4):
        for c in range(1, 5):
            assert found[f"main/r{r}c{c}/receiver"] == PIXELS**2


def test_a_second_circuit_ends_that_and_a_relay_circuit_alone_darkens_nothing() -> None:
    plan = plain_layers(main("relay-pair"))
    two = (("unit-*", ("desk", "house-1")), *plan.groups[0].powered[1:])
    sources = tuple(replace(s, circuits=()) for s in plan.sources)
    plan = replace(plan, groups=(replace(plan.groups[0], powered=two),), sources=sources)
    assert not darkening(laboratory(plan), ("tripped",))


def test_relays_trunks_and_ports_of_a_relay_pair_are_no_single_points_by_loss() -> None:
    lab = laboratory(plain_layers(main("relay-pair")))
    lost = [
        s for s in strikes(lab.rig)
        if s.mode in ("dead", "cut") and lab.rig.things.get(s.where) is not None
        and lab.rig.things[s.where].family in ("relay", "fibre", "port", "copper", "jumper")
        and s.where.startswith("main/")
    ]  # fmt: skip
    assert {lab.rig.things[s.where].family for s in lost} == {
        "relay", "fibre", "port", "copper", "jumper",
    }  # fmt: skip
    assert {lab.outcome(s).verdict for s in lost} == {"blink", "unseen"}


def test_a_blanked_main_relay_is_a_single_point_though_a_dead_one_is_none() -> None:
    lab = laboratory(plain_layers(main("relay-pair")))
    blanked = lab.outcome(strike_on(lab.rig, "main/relay-main", "blanked"))
    assert blanked.typical.area(0) == lab.canvas.area
    assert blanked.strike.valid and blanked.verdict == "lasting"
    dead = lab.outcome(strike_on(lab.rig, "main/relay-main", "dead"))
    assert dead.typical.area(0) == 0 and not dead.strike.valid


def test_in_mirrored_each_relay_is_a_single_point_of_its_own_wall() -> None:
    lab = laboratory(plain_layers(plan_for("mirrored")))
    one = lab.canvas.area // 2
    for side, other in (("left", "right"), ("right", "left")):
        for mode, reaches in (("dead", True), ("blanked", True), ("stuck", False)):
            strike = strike_on(lab.rig, f"banks/{side}/relay-main", mode)
            lasting = lab.outcome(strike).typical.lasting
            assert lasting[side][0] == (one if reaches else 0)
            assert sum(lasting[side]) == one
            assert not any(lasting[other])
    unit = lab.outcome(strike_on(lab.rig, "banks/unit-a", "dead")).typical
    assert unit.area(0) == lab.canvas.area
    desk = lab.outcome(strike_on(lab.rig, "desk", "tripped")).typical
    assert desk.area(0) == lab.canvas.area
    camera = lab.outcome(strike_on(lab.rig, "cam", "dead")).typical
    assert camera.area(0) == lab.canvas.area - 2 * (PIXELS // 2) ** 2


# ---- chains


def test_in_a_return_loop_a_dead_jumper_leaves_nothing_lasting() -> None:
    lab = laboratory(main("return-loop", 4, 2))
    jumpers = [s for s in strikes(lab.rig) if s.role == "jumper" and s.mode == "dead"]
    assert len(jumpers) == 2 * 3
    assert {lab.outcome(s).verdict for s in jumpers} == {"blink"}
    assert all(lab.outcome(s).typical.lost() == 0 for s in jumpers)


def test_in_a_return_loop_a_dead_receiver_leaves_exactly_its_own_cabinet() -> None:
    rig = rig_of(main("return-loop", 4, 2))
    for name in rig.cabinets:
        assert lost_cabinets(rig, [Fault(f"{name}/receiver", "dead", 0)]) == {name}


def test_in_a_return_loop_two_dead_jumpers_leave_exactly_the_cabinets_between_them() -> None:
    rig = rig_of(main("return-loop", 5, 2))
    for one in range(2, 6):
        for other in range(one + 1, 6):
            faults = [Fault(f"main/chain-2/jumper-{n}", "dead", 0) for n in (one, other)]
            between = {f"main/r{row}c2" for row in range(one, other)}
            assert lost_cabinets(rig, faults) == between


def test_an_open_chain_of_20_loses_10_and_a_half_cabinets_to_one_break_of_its_20_links() -> None:
    """(n + 1) / 2 (plain arithmetic): 20 after the first link, 1 after the last."""
    rig = rig_of(main("single-feed", 20, 1))
    links = ["main/chain-1/head", *(f"main/chain-1/jumper-{n}" for n in range(2, 21))]
    broken = [len(lost_cabinets(rig, [Fault(link, _mode(rig, link), 0)])) for link in links]
    assert broken == list(range(20, 0, -1))
    assert Fraction(sum(broken), len(links)) == Fraction(21, 2)


def _mode(rig: Rig, thing: str) -> str:
    return "cut" if "cut" in rig.things[thing].modes else "dead"


# ---- valid but wrong


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
@pytest.mark.parametrize(
    ("mode", "state"), [("stuck", "frozen"), ("blanked", "dark"), ("stale", "wrong")]
)
def test_a_stuck_blanked_or_stale_unit_defeats_every_topology(
    topology: str, mode: str, state: str
) -> None:
    lab = laboratory(plan_for(topology))
    strike = strike_on(lab.rig, f"{lab.group.name}/unit-a", mode)
    outcome = lab.outcome(strike)
    number = ("dark", "corrupt", "wrong", "frozen").index(state)
    assert outcome.typical.area(number) == lab.canvas.area
    assert outcome.verdict == "lasting" and strike.valid


def test_crossed_relays_that_accept_black_only_as_a_loss_save_a_blanked_unit() -> None:
    picky = replace(RELAY, picks=Chooser(accepts_above=int(Quality.BLACK)))
    lab = laboratory(main("crossed-relays", kits={**KITS, "relay": picky}))
    verdicts = {
        mode: lab.outcome(strike_on(lab.rig, "main/unit-a", mode)).verdict
        for mode in ("blanked", "stale", "stuck", "dead")
    }
    assert verdicts == {
        "blanked": "blink", "stale": "lasting", "stuck": "lasting", "dead": "blink",
    }  # fmt: skip


def test_quiet_rigs_stay_lit() -> None:
    """Nothing above would mean anything if a rig without a fault showed something else."""
    for topology in (*ONE_WALL, *MIRRORED):
        lab = laboratory(plan_for(topology))
        assert set(map(frozenset, cabinets_by_end(lab.rig, [], lab.group.name).values())) == {
            frozenset({LIT})
        }
