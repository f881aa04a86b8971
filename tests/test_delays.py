"""Delays along paths, against a sum over every path counted one by one, and by hand."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.limits.alignment import delay_findings, neighbour_gap, wall_gaps
from sim.limits.delays import (
    MOST_WAYS,
    cabinet_span,
    cabinet_ways,
    cable_delays,
    cell_spans,
    jumps,
    layer_delays,
    path_text,
    ways,
)
from sim.limits.seamless import choosers, legs, seamless_problems
from sim.rig.kit import Run, cable_delay
from sim.rig.patterns import build
from sim.rig.topology import Merge, Rig, Select, Selector
from sim.rig.validator import validate
from tests.plans import FIBRE, FRAME, KITS, RECEIVER, RELAY, banks, main
from tests.rigs import Builder

ONE_WALL = ("single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays")
HOP = RECEIVER.hop
MAIN = cable_delay(FIBRE, Run((), Fraction(1200)))
BACKUP = cable_delay(FIBRE, Run((), Fraction(1500)))


def paths(rig: Rig, name: str) -> Iterator[tuple[str, Fraction]]:
    """Every path to a node, one by one: where it begins and what it adds up to."""
    node = rig.nodes[name]
    if not node.inputs:
        yield name, node.delay
    for other in node.inputs:
        for origin, delay in paths(rig, other):
            yield origin, delay + node.delay


def with_delays(rig: Rig, rng: Random) -> Rig:
    """The same rig with a small delay at every node."""
    nodes = {n: replace(node, delay=Fraction(rng.randint(0, 3))) for n, node in rig.nodes.items()}
    return replace(rig, nodes=nodes)


@settings(max_examples=60)
@given(st.randoms(use_true_random=False))
def test_delays_against_enumeration(rng: Random) -> None:
    rig = with_delays(Builder(rng).build(), rng)
    made = ways(rig)
    assert not made.capped
    for name in rig.nodes:
        found = [(way.origin, way.delay) for way in made.at[name]]
        every = list(paths(rig, name))
        assert found[0] == every[0], "the usual path feeds every first input"
        assert len(found) == len(set(found))
        assert set(found) == set(every)


@settings(max_examples=40)
@given(st.randoms(use_true_random=False))
def test_a_way_adds_up_along_the_inputs_that_it_names(rng: Random) -> None:
    rig = with_delays(Builder(rng).build(), rng)
    for name, found in ways(rig).at.items():
        for way in found:
            at, delay, picks = name, Fraction(0), dict(way.picks)
            while (node := rig.nodes[at]).inputs:
                delay += node.delay
                at = node.inputs[picks.pop(at, 0)]
            assert (at, delay + node.delay, picks) == (way.origin, way.delay, {})


def test_a_relay_pair_by_hand() -> None:
    """Unit one frame; 1.2 km to the heads, 1.5 km to the tails; chains of three receivers.

    Each of them adds a hop to what it passes on, and nothing to what it shows.
    """
    rig = build(main("relay-pair"))
    made = ways(rig)
    for row in range(3):
        forward = FRAME + MAIN + row * HOP
        back = FRAME + BACKUP + (2 - row) * HOP
        assert [way.delay for way in cabinet_ways(rig, made, f"main/r{row + 1}c1")] == [
            forward,
            back,
        ]


def test_four_paths_of_crossed_relays_are_named() -> None:
    rig = build(main("crossed-relays"))
    found = cabinet_ways(rig, ways(rig), "main/r1c1")
    assert [path_text(rig, way) for way in found] == [
        "main/relay-main on main/trunk-main-a-1, forward",
        "main/relay-main on main/trunk-main-b-1, forward",
        "main/relay-backup on main/trunk-backup-a-1, return",
        "main/relay-backup on main/trunk-backup-b-1, return",
    ]
    assert [way.origin for way in found] == ["main/unit-a#out", "main/unit-b#out"] * 2
    single = build(main("single-feed"))
    (only,) = cabinet_ways(single, ways(single), "main/r1c1")
    assert path_text(single, only) == "the only path"


def test_two_cards_have_the_ways_of_both_chains() -> None:
    rig = build(main("relay-pair", options={"cards": 2}))
    found = cabinet_ways(rig, ways(rig), "main/r1c1")
    assert [path_text(rig, way) for way in found] == ["card 1", "card 2"]
    (jump,) = (j for j in jumps(rig, ways(rig)) if j.selector == "main/r1c1")
    assert jump.flicks == found[1].delay - found[0].delay == BACKUP - MAIN + 2 * HOP


def test_the_source_s_own_way_is_counted_for_what_a_cell_shows() -> None:
    plan = main("single-feed")
    late = replace(plan.sources[0], kit=replace(plan.sources[0].kit, delay=Fraction(3 * FRAME)))
    rig = build(replace(plan, sources=(late, *plan.sources[1:])))
    made = ways(rig)
    assert layer_delays(rig, made, "main/unit-a#out", "camera") == (3 * FRAME, 0)
    assert layer_delays(rig, made, "main/unit-a#out", "") == (0,)
    below = FRAME + MAIN
    spans = dict(zip(rig.groups["main"].cells, cell_spans(rig, made, "main"), strict=True))
    for cell, span in spans.items():
        if cell.cabinet == "main/r1c1":
            inset = rig.groups["main"].stacks[cell.stack]["show"][0].layer == "inset"
            usual = below + (0 if inset else 3 * FRAME)
            assert (span.usual, span.least) == (usual, below)
            assert span.most == usual


def test_the_jump_of_a_receiver_and_its_whole_frames() -> None:
    slow = replace(FIBRE, delay=Fraction(FRAME) * 3 / 2)
    plan = main("relay-pair", own_kits=(("trunk-backup-*", slow),))
    rig = build(plan)
    jump = next(j for j in jumps(rig, ways(rig)) if j.selector == "main/r2c1/receiver#screen")
    assert jump.flicks == Fraction(FRAME) * 3 / 2 + BACKUP - MAIN
    assert jump.frames == jump.flicks / FRAME
    assert (jump.fewest, jump.most, jump.layer) == (1, 2, "")
    (told,) = (f for f in delay_findings(rig) if f.kind == "jump" and "receiving card" in f.text)
    assert told.severity == "warning"
    assert "later: 1 to 2 frames shown again" in told.text


def test_a_jump_back_leaves_frames_out() -> None:
    slow = replace(FIBRE, delay=Fraction(2 * FRAME))
    rig = build(main("relay-pair", own_kits=(("trunk-main-*", slow),)))
    jump = next(j for j in jumps(rig, ways(rig)) if j.selector == "main/r1c1/receiver#screen")
    assert jump.flicks == BACKUP - MAIN - 2 * FRAME + 2 * HOP
    assert (jump.fewest, jump.most) == (-2, -1)
    (told,) = (f for f in delay_findings(rig) if f.kind == "jump")
    assert "earlier: 1 to 2 frames left out" in told.text


def test_a_jump_between_two_processors_counts_their_sources_layer_by_layer() -> None:
    plan = main("two-unit")
    camera, *others = plan.sources
    runs = (("main/unit-b", Run((), Fraction(100))),)
    wired = replace(camera, cable=replace(camera.cable, index=Fraction("1.5")), runs=runs)
    rig = build(replace(plan, sources=(wired, *others)))
    more = cable_delay(wired.cable, runs[0][1])
    found = [j for j in jumps(rig, ways(rig)) if j.selector == "main/r2c1/receiver#screen"]
    assert {j.layer: j.flicks for j in found} == {
        "camera": BACKUP - MAIN + more,
        "inset": BACKUP - MAIN,
    }


def test_mirrored_walls_on_trunks_of_other_lengths_are_apart() -> None:
    """Left on 1.2 km, right on 9 km of fibre."""
    plan = banks("mirrored")
    (group,) = plan.groups
    far = Run(("south",), Fraction(9000))
    cabling = replace(group.cabling, special=(("right/trunk-main-*", far),))
    rig = build(replace(plan, groups=(replace(group, cabling=cabling),)))
    (gap,) = wall_gaps(rig, ways(rig), "banks")
    assert (gap.one, gap.other) == ("left", "right")
    assert gap.usual == gap.most == cable_delay(FIBRE, far) - MAIN
    (told,) = (f for f in delay_findings(rig) if f.text.startswith("walls that show the same"))
    assert (told.severity, told.values["usual, flicks"]) == ("note", gap.usual)


def test_mirrored_walls_that_are_a_frame_apart_are_a_warning() -> None:
    slow = replace(FIBRE, delay=Fraction(FRAME))
    rig = build(banks("mirrored", own_kits=(("right/trunk-*", slow),)))
    (told,) = (f for f in delay_findings(rig) if f.kind == "misalignment" and "walls" in f.text)
    assert told.severity == "warning"


def test_the_gap_by_other_paths_counts_the_backup_of_one_wall() -> None:
    rig = build(banks("mirrored-guarded"))
    (gap,) = wall_gaps(rig, ways(rig), "banks")
    assert gap.usual == 0
    assert gap.most == BACKUP - MAIN + HOP, "one wall's head on its return, the other forward"


def test_walls_of_different_grids_are_held_against_each_other_as_a_whole() -> None:
    plan = banks("mirrored")
    (group,) = plan.groups
    left, right = group.walls
    lone = replace(right, rows=1, chains=(((0, 0),), ((0, 1),)), power_chains=(((0, 0), (0, 1)),))
    rig = build(replace(plan, groups=(replace(group, walls=(left, lone)),)))
    (gap,) = wall_gaps(rig, ways(rig), "banks")
    assert gap.usual == HOP, "the second row of the left wall is one hop behind"


def test_walls_that_are_not_mirrored_have_no_gap() -> None:
    rig = build(banks("single-feed", mirrored=False))
    assert wall_gaps(rig, ways(rig), "banks") == ()


def test_neighbours_differ_by_where_they_lie_on_their_chains() -> None:
    """One chain down, the next one up: at the edge they are two hops apart (chains of three)."""
    plan = main("single-feed", 3, 2)
    (group,) = plan.groups
    (screen,) = group.walls
    down, up = screen.chains
    turned = replace(screen, chains=(down, up[::-1]))
    rig = build(replace(plan, groups=(replace(group, walls=(turned,)),)))
    gap = neighbour_gap(rig, ways(rig), "main", "screen")
    assert gap is not None
    assert (gap.one, gap.other, gap.usual) == ("main/r1c1", "main/r1c2", 2 * HOP)
    lone = build(main("single-feed", 1, 1))
    assert neighbour_gap(lone, ways(lone), "main", "screen") is None


def test_every_fibre_has_its_delay() -> None:
    rows = {
        name: (metres, flicks) for name, metres, flicks in cable_delays(build(main("relay-pair")))
    }
    assert rows == {
        "main/trunk-main-1": (1200, MAIN),
        "main/trunk-backup-1": (1500, BACKUP),
    }


@pytest.mark.parametrize("topology", ONE_WALL)
def test_the_span_of_every_cabinet_against_enumeration(topology: str) -> None:
    rig = build(main(topology))
    made = ways(rig)
    for name, cabinet in rig.cabinets.items():
        every = [delay for card in cabinet.cards for _, delay in paths(rig, card)]
        span = cabinet_span(rig, made, name)
        assert (span.usual, span.least, span.most) == (every[0], min(every), max(every))


def ladder(steps: int) -> Rig:
    """A rig in which each of `steps` relays doubles the delays: 2 to the power of steps."""
    rig = build(main("single-feed", 1, 1))
    nodes = dict(rig.nodes)
    head = "main/relay-main#bank 1"
    last = head
    for step in range(steps):
        legs_ = []
        for side in (0, 1):
            leg = f"leg {step} {side}"
            delay = Fraction(side << step)
            nodes[leg] = replace(
                rig.nodes["main/trunk-main-1>"], name=leg, inputs=(last,), delay=delay
            )
            legs_.append(leg)
        last = f"step {step}"
        nodes[last] = Select(
            name=last, thing="main/relay-main", inputs=tuple(legs_), selector=Selector(last)
        )
    port = nodes["main/port-main-1>"]
    nodes[port.name] = replace(port, inputs=(last,))
    return validate(replace(rig, nodes=nodes))


def test_absurdly_many_paths_keep_the_usual_one_the_least_and_the_most() -> None:
    rig = ladder(12)
    made = ways(rig)
    assert made.capped
    assert all(len(found) <= MOST_WAYS for found in made.at.values())
    span = cabinet_span(rig, made, "main/r1c1")
    start = FRAME + MAIN
    assert (span.usual, span.least, span.most) == (start, start, start + 2**12 - 1)
    (told,) = (f for f in delay_findings(rig) if f.subject == "rig" and f.kind == "delay")
    assert "least and most hold" in told.text


def test_a_wall_of_16_by_9_takes_under_a_tenth_of_a_second() -> None:
    rig = build(main("crossed-relays", 9, 16))

    def seconds() -> float:
        start = time.process_time()
        made = ways(rig)
        list(jumps(rig, made))
        cell_spans(rig, made, "main")
        return time.process_time() - start

    assert min(seconds() for _ in range(3)) < 0.1


# ---- seamless pairs ------------------------------------------------------------------------------


def paired(buffer: int, topology: str = "relay-pair") -> Rig:
    limits = replace(RELAY.limits, buffer=buffer)
    kits = {**KITS, "relay": replace(RELAY, limits=limits)}
    return build(main(topology, kits=kits, options={"seamless": True}))


def test_a_seamless_pair_wants_a_buffer_for_its_path_difference() -> None:
    """1.2 and 1.5 km: 300 m of fibre apart."""
    apart = BACKUP - MAIN
    assert seamless_problems(paired(int(apart) + 1)) == ()
    found = seamless_problems(paired(int(apart)))
    assert {f.subject for f in found} == {"main/relay-main", "main/relay-backup"}
    assert {f.severity for f in found} == {"serious"}
    assert {f.values["difference, flicks"] for f in found} == {apart}
    assert "differ by up to 1.47 µs, and its buffer evens out 1.47 µs" in found[0].text


def test_each_pair_of_crossed_relays_is_judged() -> None:
    assert len(seamless_problems(paired(0, "crossed-relays"))) == 4
    assert seamless_problems(paired(FRAME, "crossed-relays")) == ()


def nested(shared: bool, late: Fraction) -> Rig:
    """A pair below selectors whose second input is late: one above both legs, or one in each."""
    rig = build(main("relay-pair", options={"seamless": True}))
    pair = next(n for n in rig.nodes.values() if isinstance(n, Merge) and "main#" in n.name)
    nodes = dict(rig.nodes)
    trunk = nodes[pair.inputs[0]]
    slow = replace(trunk, name="slow", delay=late)
    quick = replace(trunk, name="quick", delay=Fraction(0))
    nodes |= {"slow": slow, "quick": quick}
    for number, leg in enumerate(pair.inputs):
        name = "above" if shared else f"above {number}"
        nodes[name] = Select(
            name=name, thing="main/relay-backup", inputs=("quick", "slow"), selector=Selector(name)
        )
        nodes[leg] = replace(nodes[leg], inputs=(name,))
    nodes[pair.name] = replace(pair, buffer=FRAME)
    return validate(replace(rig, nodes=nodes))


def test_a_selector_above_both_legs_makes_no_difference() -> None:
    late = Fraction(2 * FRAME)
    assert seamless_problems(nested(True, late)) == ()
    (found,) = seamless_problems(nested(False, late))
    assert found.values["difference, flicks"] == late + BACKUP - MAIN
    assert found.values["buffer, flicks"] == FRAME
    assert seamless_problems(nested(False, Fraction(FRAME) - (BACKUP - MAIN))) == ()


def test_a_choice_above_a_second_input_is_followed_too() -> None:
    """The late way itself may come by one that is later still."""
    rig = nested(False, Fraction(FRAME))
    slow, quick = rig.nodes["slow"], rig.nodes["quick"]
    later = replace(quick, name="later", delay=Fraction(5 * FRAME))
    again = replace(quick, name="again")
    top = Select(
        name="top", thing="main/relay-main", inputs=("again", "later"), selector=Selector("top")
    )
    more = {"top": top, "later": later, "again": again, "slow": replace(slow, inputs=("top",))}
    (found,) = seamless_problems(validate(replace(rig, nodes={**rig.nodes, **more})))
    assert found.values["difference, flicks"] == 6 * FRAME + BACKUP - MAIN


def test_a_pair_of_two_senders_is_refused() -> None:
    rig = build(main("crossed-relays", options={"seamless": True}))
    pair = next(n for n in rig.nodes.values() if isinstance(n, Merge))
    other = next(n for n in rig.nodes.values() if isinstance(n, Merge) and n.inputs != pair.inputs
                 and rig.nodes[n.inputs[0]].inputs != rig.nodes[pair.inputs[0]].inputs)  # fmt: skip
    mixed = replace(pair, inputs=(pair.inputs[0], other.inputs[1]))
    found = seamless_problems(replace(rig, nodes={**rig.nodes, pair.name: mixed}))
    (told,) = (f for f in found if "two senders" in f.text)
    assert "main/unit-a and main/unit-b" in told.text


def test_legs_are_followed_by_the_choice_named() -> None:
    rig = nested(False, Fraction(FRAME))
    pair = next(n for n in rig.nodes.values() if isinstance(n, Merge) and "main#" in n.name)
    above = choosers(rig, pair)
    assert above == {"above 0": 2, "above 1": 2}
    late = legs(rig, pair, {"above 0": 1, "above 1": 0})
    assert late.delays[0] - late.delays[1] == FRAME + MAIN - BACKUP
    assert late.senders == ("main/unit-a#out",) * 2


def test_a_pair_under_too_many_choices_is_refused() -> None:
    rig = ladder(14)
    pair = Merge(
        name="pair", thing="main/relay-main", inputs=("leg 13 0", "leg 13 1"), buffer=1 << 40
    )
    (found,) = seamless_problems(replace(rig, nodes={**rig.nodes, "pair": pair}))
    assert "can stand in 8192 ways, too many to follow" in found.text
