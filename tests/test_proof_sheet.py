"""Test sheets: every protection of a topology acts, in as few pulls as can be.

Whether a protection acts is asked of the engine while something is pulled, with hold-ups as they
are, not of the code that chose the pulls.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path
from random import Random

import pytest

from sim.asked import rig_for
from sim.engine.live import Live
from sim.engine.settling import Base
from sim.practice.filming import Walls, parted, time_at
from sim.practice.meter import BACK, PULLED, Meter
from sim.practice.protections import Protection
from sim.practice.pulls import Bench, Pull, pulls
from sim.practice.testsheet import Sheet, Step, sheet
from sim.rig.topology import Rig, corner, selectors
from sim.scenario.loader import load, scenario_from
from sim.study.outcome import CORNERS
from sim.timebase import FLICKS

SCENARIOS = Path(__file__).parents[1] / "scenarios"
STEPS = {
    ("first", "panel", "relay-pair"): 1,
    ("first", "panel", "single-feed"): 0,
    ("first", "panel", "return-loop"): 2,
    ("first", "panel", "two-unit"): 1,
    ("first", "panel", "crossed-relays"): 2,
    ("river", "main", "crossed-relays"): 5,
    ("river", "main", "single-feed"): 3,
    ("river", "main", "two-unit"): 4,
    ("river", "main", "relay-pair"): 4,
    ("river", "main", "relay-pair, one route"): 4,
    ("river", "main", "relay-pair, gated returns"): 4,
    ("river", "banks", "mirrored"): 5,
    ("river", "banks", "single-feed"): 5,
    ("river", "banks", "mirrored-guarded"): 7,
    ("studio", "backdrop", "two-unit"): 5,
    ("studio", "backdrop", "single-feed, two cards"): 11,
    ("studio", "backdrop", "return-loop, gated returns"): 11,
}
"""Steps of each sheet; return-loop of river cannot be built."""
CASES = pytest.mark.parametrize("case", STEPS, ids=" ".join)


@cache
def made(case: tuple[str, str, str]) -> tuple[Rig, Sheet]:
    name, group, label = case
    scenario = load(SCENARIOS / f"{name}.yaml")
    variant = next(v for v in scenario.variants(group) if v.label == label)
    rig = rig_for(scenario, variant)
    return rig, sheet(rig)


def done(rig: Rig, step: Step, which: str) -> Live:
    """The rig as the step begins, with its own hold-ups but where the output is cut off."""
    values = corner(rig, which) | ({step.pull.flat: 0} if step.pull.flat else {})
    return Live(Base(rig, values), step.pull.script(step.hold), 3600 * FLICKS)


def never(rig: Rig, step: Step, which: str, asked: list[Protection]) -> list[Protection]:
    """Those of the protections that stand in at no instant while something is pulled."""
    last = (step.hold or 20 * FLICKS) - 1
    told = done(rig, step, which)
    told.go(last)
    instants = {note.at for note in told.so_far().notes if note.at < last} | {last}
    live = done(rig, step, which)
    for instant in sorted(instants):
        live.go(instant)
        asked = [each for each in asked if not stands(rig, live, each)]
    return asked


def stands(rig: Rig, live: Live, each: Protection) -> bool:
    """Whether a protection has taken over, as the rig stands."""
    said = {(note.name, note.what) for note in live.so_far().notes}
    if each.kind == "holdover":
        return (each.name, "holdover") in said
    if each.kind == "gate":
        return (each.name, "gate opens") in said
    if each.kind == "feed":
        others = {*rig.things[each.name].powered_by} - {each.by}
        return live.is_up(each.name) and live.is_up(each.by) and not any(map(live.is_up, others))
    if each.kind == "battery":
        return live.is_up(each.name) and not any(map(live.is_up, rig.things[each.name].powered_by))
    if each.kind == "card":
        shown = live.so_far().shown[each.name][-1][1]
        first = rig.nodes[rig.cabinets[each.name].cards[0]]
        chain = live.run.board.value[live.run.wiring.node_number[first.name]]
        return shown[0] == 6 and isinstance(shown[1], str) and chain[0] == 0
    node = next(node for selector, node in selectors(rig) if selector.name == each.name)
    return node.inputs[live.chooser(each.name).on] == each.by


@CASES
def test_every_protection_acts_in_the_step_that_tries_it(case: tuple[str, str, str]) -> None:
    rig, found = made(case)
    tried = {each for step in found.steps for each in step.acts}
    assert not found.picked.out
    assert tried == {*found.protections}
    for step in found.steps:
        sure = [each for each in step.acts if each not in found.picked.perhaps]
        for which in CORNERS:
            assert never(rig, step, which, sure) == []
    for each in found.picked.perhaps:
        step = next(step for step in found.steps if each in step.acts)
        assert never(rig, step, "typical", [each]) == []


@CASES
def test_the_number_of_pulls_equals_the_lower_bound(case: tuple[str, str, str]) -> None:
    rig, found = made(case)
    assert len(found.steps) == found.picked.bound == STEPS[case]
    apart = found.picked.apart
    assert len(apart) == STEPS[case]
    bench = Bench(rig)
    acts = [bench.acts(pull) for pull in pulls(rig)]
    assert not any({one, other} <= of for of in acts for one, other in combinations(apart, 2))


@CASES
def test_no_step_of_a_sheet_can_be_left_out(case: tuple[str, str, str]) -> None:
    _, found = made(case)
    for left_out in found.steps:
        rest = {each for step in found.steps if step is not left_out for each in step.acts}
        assert rest < {*found.protections}


def test_what_is_left_out_of_a_sheet_is_not_tried() -> None:
    rig, found = made(("river", "main", "crossed-relays"))
    banks = sheet(rig, lambda each: each.group == "banks")
    assert {each.group for each in banks.protections} == {"banks"}
    assert len(banks.steps) < len(found.steps)


def test_steps_go_from_safe_hands_to_power_and_last_until_all_has_settled() -> None:
    rig, found = made(("river", "main", "crossed-relays"))
    ranks = [step.pull.rank for step in found.steps]
    assert ranks == sorted(ranks)
    bench = Bench(rig)
    for step in found.steps:
        if step.hold is not None and not step.latest:
            for which in CORNERS:
                lasting = bench.play(step.pull, corner(rig, which))
                assert max(note.at for note in lasting.notes) < step.hold
    battery = next(step for step in found.steps if step.pull.on == "shore A")
    assert battery.hold == 60 * FLICKS
    assert battery.latest == 150 * FLICKS
    assert 2 * battery.latest <= rig.timings["cabin battery.hold_up"].least


def test_every_step_ends_with_the_rig_as_it_was_or_says_what_to_choose() -> None:
    text = (SCENARIOS / "studio.yaml").read_text(encoding="utf-8")
    scenario = scenario_from(text)
    rig = rig_for(scenario, scenario.offered["backdrop"])
    for step in sheet(rig).steps:
        live = done(rig, step, "typical")
        live.go(3000 * FLICKS)
        left = [s.name for s, n in selectors(rig) if n.inputs and live.chooser(s.name).on > 0]
        assert tuple(left) == step.by_hand
    assert any(step.by_hand for step in sheet(rig).steps)


def test_a_meter_on_part_of_the_rig_equals_the_whole_rig() -> None:
    draw = Random(3)
    for case in (
        ("river", "main", "relay-pair, gated returns"),
        ("studio", "backdrop", "two-unit"),
    ):
        rig, found = made(case)
        bench, walls = Bench(rig), Walls(rig)
        for step in found.steps:
            values = {key: draw.randint(t.least, t.most) for key, t in rig.timings.items()}
            line = walls.lines(bench.play(step.pull, values, step.hold))[step.filmed.target]
            pulled, back, before = parted(line, step.hold)
            parts = {PULLED: pulled, BACK: ((0, before), *back)}
            for phase, part in parts.items():
                meter = Meter(bench, walls, step, phase)
                assert meter(values) == time_at(part, meter.quality)


def test_frames_of_a_pull_equal_those_counted_by_hand() -> None:
    # first, relay-pair: notice 2 frames, switch half a frame, last picture kept for 1 frame: dark
    # for 1.5 frames, which touch 2 or 3 (ceil(d/F) and one more), 2.5 on average.
    _, found = made(("first", "panel", "relay-pair"))
    (step,) = found.steps
    assert step.pull == Pull("unplug", "panel/trunk-main-1", "cut", 2)
    assert step.filmed.pulled is not None
    assert (step.filmed.pulled.least, step.filmed.pulled.most) == (2, 3)
    assert abs(step.filmed.pulled.typical - 2.5) < 1e-6
    assert (step.filmed.target, step.filmed.state, step.filmed.part) == ("panel", "dark", 1)
    assert step.filmed.back == (0, 0, 0)
    assert "panel/relay-backup" in step.relied
    assert "panel/trunk-main-1" not in step.relied
