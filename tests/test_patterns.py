"""The topologies as graphs: who feeds whom, what is a dominator of a cell, what is one thing.

In: small plans. Out: hand-written expectations; dominators as networkx finds them in the graph in
which the nodes of one thing are joined (the definition is Lengauer and Tarjan 1979, from memory).
"""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction
from typing import Any

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.faults import SOFT, Quality
from sim.rig.forms import FORMS
from sim.rig.patterns import build
from sim.rig.plan import Choice, ControlPlan, Form, LayerPlan, Limits, Options, Run, ShowPlan
from sim.rig.topology import (
    PASSING,
    Carrier,
    Display,
    Emit,
    Gate,
    Layer,
    Merge,
    Pass,
    Rig,
    Select,
    Sync,
)
from sim.rig.validator import validate
from sim.timebase import FLICKS, fixed
from tests.plans import COPPER, FRAME, KITS, RELAY, UNIT, banks, group, main, show, source, wall

ONE_WALL = ("single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays")
MIRRORED = ("mirrored", "mirrored-guarded")


def rig_of(plan: ShowPlan) -> Rig:
    return validate(build(plan))


def joined(rig: Rig) -> Any:
    """Things and cabinets below one root above all processors; the nodes of a thing are one."""
    made = nx.DiGraph()
    for node in rig.nodes.values():
        if isinstance(node, Carrier):
            made.add_edge("root", node.thing)
        elif not isinstance(node, Layer | Sync | Emit):
            made.add_edges_from((rig.nodes[i].thing, node.thing) for i in node.inputs)
    for cabinet in rig.cabinets.values():
        made.add_edges_from(
            (rig.nodes[card].thing, f"cabinet {cabinet.name}") for card in cabinet.cards
        )
    made.remove_edges_from(list(nx.selfloop_edges(made)))
    return made


def single_points(rig: Rig, cabinet: str) -> set[str]:
    """The things that every way from the processors to a cabinet runs through."""
    over = nx.immediate_dominators(joined(rig), "root")
    found, at = set(), over[f"cabinet {cabinet}"]
    while at != "root":
        found.add(at)
        at = over[at]
    return found


def fed(rig: Rig, cabinet: str, gone: set[str]) -> bool:
    """Whether a cabinet is still reached from a processor without the things in `gone`.

    Node by node: where a relay has several banks, joining its nodes would let one bank's trunk
    seem to feed the ports of another.
    """
    todo, seen = list(rig.cabinets[cabinet].cards), set[str]()
    while todo:
        node = rig.nodes[todo.pop()]
        if node.thing not in gone and node.name not in seen:
            seen.add(node.name)
            todo += node.inputs
    return any(isinstance(rig.nodes[name], Carrier) for name in seen)


def reads_of(rig: Rig, node: str) -> tuple[str, ...]:
    return rig.nodes[node].inputs


def test_single_feed_reaches_a_cabinet_by_one_way_only() -> None:
    rig = rig_of(main("single-feed"))
    assert single_points(rig, "main/r2c3") == {
        "main/unit-a",
        "main/trunk-main-1",
        "main/relay-main",
        "main/port-main-3",
        "main/chain-3/head",
        "main/r1c3/receiver",
        "main/chain-3/jumper-2",
        "main/r2c3/receiver",
    }


def test_single_feed_within_reach_of_copper_has_no_relay() -> None:
    rig = rig_of(main("single-feed", reaches=True))
    assert not [t for t in rig.things.values() if t.family in ("relay", "fibre")]
    assert reads_of(rig, "main/port-a-3>") == ("main/unit-a#out",)
    assert reads_of(rig, "main/chain-3/head>") == ("main/port-a-3>",)
    assert "main/port-a-3<" not in rig.nodes


@pytest.mark.parametrize("reaches", [False, True])
def test_return_loop_leaves_only_what_both_ends_share(reaches: bool) -> None:
    rig = rig_of(main("return-loop", reaches=reaches))
    shared = set() if reaches else {"main/trunk-main-1", "main/relay-main"}
    assert single_points(rig, "main/r2c3") == {"main/unit-a", "main/r2c3/receiver"} | shared
    side = "a" if reaches else "main"
    assert reads_of(rig, "main/chain-3/tail<") == (f"main/port-{side}-7<",)
    assert reads_of(rig, f"main/port-{side}-7>") == ("main/chain-3/tail>",)


@pytest.mark.parametrize("reaches", [False, True])
def test_two_units_leave_only_the_receiver(reaches: bool) -> None:
    rig = rig_of(main("two-unit", reaches=reaches))
    assert single_points(rig, "main/r2c3") == {"main/r2c3/receiver"}
    assert rig.groups["main"].carriers == ("main/unit-a#out", "main/unit-b#out")
    if reaches:
        assert reads_of(rig, "main/port-b-3<") == ("main/unit-b#out",)
    else:
        assert reads_of(rig, "main/relay-backup#bank 1") == ("main/trunk-backup-1>",)
        assert reads_of(rig, "main/trunk-backup-1>") == ("main/unit-b#out",)


def test_relay_pair_leaves_the_unit_and_the_receiver() -> None:
    rig = rig_of(main("relay-pair"))
    for row in (1, 2, 3):
        here = {"main/unit-a", f"main/r{row}c1/receiver"}
        assert single_points(rig, f"main/r{row}c1") == here


def test_crossed_relays_leave_only_the_receiver() -> None:
    rig = rig_of(main("crossed-relays"))
    assert single_points(rig, "main/r2c3") == {"main/r2c3/receiver"}
    for side in ("main", "backup"):
        bank = rig.nodes[f"main/relay-{side}#bank 1"]
        assert isinstance(bank, Select)
        assert bank.inputs == (f"main/trunk-{side}-a-1>", f"main/trunk-{side}-b-1>")
        assert bank.thing == f"main/relay-{side}"
    assert reads_of(rig, "main/trunk-backup-b-1>") == ("main/unit-b#out",)


def test_mirrored_walls_each_have_a_relay_of_their_own() -> None:
    rig = rig_of(banks("mirrored"))
    for side, other in (("left", "right"), ("right", "left")):
        points = single_points(rig, f"banks/{side}/r1c2")
        assert points == {
            "banks/unit-a",
            f"banks/{side}/trunk-main-1",
            f"banks/{side}/relay-main",
            f"banks/{side}/port-main-2",
            f"banks/{side}/chain-2/head",
            f"banks/{side}/r1c2/receiver",
        }
        assert fed(rig, f"banks/{other}/r1c2", {f"banks/{side}/relay-main"})


def test_mirrored_guarded_leaves_the_unit_and_the_receiver() -> None:
    rig = rig_of(banks("mirrored-guarded"))
    for side in ("left", "right"):
        points = single_points(rig, f"banks/{side}/r2c1")
        assert points == {"banks/unit-a", f"banks/{side}/r2c1/receiver"}


def test_one_relay_feeds_all_walls_of_a_group() -> None:
    rig = rig_of(banks("single-feed"))
    assert [t.name for t in rig.things.values() if t.family == "relay"] == ["banks/relay-main"]
    assert reads_of(rig, "banks/right/chain-1/head>") == ("banks/port-main-3>",)


def test_a_receiver_hears_both_neighbours_and_passes_both_ways() -> None:
    rig = rig_of(main("relay-pair"))
    assert reads_of(rig, "main/r2c1/receiver#screen") == (
        "main/chain-1/jumper-2>",
        "main/chain-1/jumper-3<",
    )
    assert reads_of(rig, "main/r1c1/receiver#screen")[0] == "main/chain-1/head>"
    assert reads_of(rig, "main/r3c1/receiver#screen")[1] == "main/chain-1/tail<"
    nodes = [n for n in rig.nodes.values() if n.thing == "main/r2c1/receiver"]
    assert {n.name[-1]: n.feels for n in nodes if isinstance(n, Pass)} == {
        ">": PASSING,
        "<": PASSING,
    }
    assert [n.feels for n in nodes if isinstance(n, Display)] == [SOFT]


@pytest.mark.parametrize("topology", ["return-loop", "relay-pair"])
def test_a_gated_return_watches_the_tail_and_belongs_to_its_sender(topology: str) -> None:
    rig = rig_of(main(topology, options={"returns": "gated"}))
    sender, port = ("main", 6) if topology == "return-loop" else ("backup", 2)
    gate = rig.nodes[reads_of(rig, f"main/port-{sender}-{port}<")[0]]
    assert isinstance(gate, Gate)
    assert gate.thing == f"main/relay-{sender}"
    assert gate.inputs == (f"main/relay-{sender}#bank 1",)
    assert gate.watch == f"main/port-{sender}-{port}>"
    assert rig.timings[gate.notice].typical == 4 * FRAME
    assert rig.timings[gate.wait_to_restore].typical == 8 * FRAME


def test_a_standing_return_has_no_gate() -> None:
    rig = rig_of(main("relay-pair"))
    assert not [n for n in rig.nodes.values() if isinstance(n, Gate)]
    assert reads_of(rig, "main/port-backup-2<") == ("main/relay-backup#bank 1",)


@pytest.mark.parametrize(
    ("topology", "second"),
    [("single-feed", "main-5"), ("return-loop", "main-5"), ("relay-pair", "backup-1")],
)
def test_second_cards_hang_on_a_chain_of_their_own_from_the_other_end(
    topology: str, second: str
) -> None:
    rig = rig_of(main(topology, options={"cards": 2}))
    assert rig.cabinets["main/r1c1"].cards == (
        "main/r1c1/receiver#screen",
        "main/r1c1/receiver-b#screen",
    )
    assert reads_of(rig, "main/r3c1/receiver-b#screen") == ("main/chain-1-b/head>",)
    assert reads_of(rig, "main/chain-1-b/head>") == (f"main/port-{second}>",)
    assert reads_of(rig, "main/r1c1/receiver-b#screen") == ("main/chain-1-b/jumper-3>",)
    supply = ("main/r1c1/supply",)
    assert rig.things["main/r1c1/receiver"].powered_by == supply
    assert rig.things["main/r1c1/receiver-b"].powered_by == supply
    assert "main/r1c1/receiver" not in single_points(rig, "main/r1c1")


def test_a_seamless_pair_merges_two_trunks_of_one_unit_on_two_routes() -> None:
    rig = rig_of(main("relay-pair", options={"seamless": True}))
    merge = rig.nodes["main/relay-main#bank 1"]
    assert isinstance(merge, Merge)
    assert merge.inputs == ("main/trunk-main-1>", "main/trunk-main-spare-1>")
    assert {reads_of(rig, leg) for leg in merge.inputs} == {("main/unit-a#out",)}
    assert merge.buffer == FRAME
    routes = {n: rig.things[f"main/trunk-{n}-1"].routes for n in ("main", "main-spare")}
    assert routes == {"main": ("north",), "main-spare": ("south",)}
    assert rig.things["main/trunk-backup-1"].routes == ("south",)


def test_crossed_seamless_relays_choose_between_pairs() -> None:
    rig = rig_of(main("crossed-relays", options={"seamless": True}))
    bank = rig.nodes["main/relay-main#bank 1"]
    assert isinstance(bank, Select)
    pairs = [rig.nodes[name] for name in bank.inputs]
    assert [(type(p), p.inputs, p.feels) for p in pairs] == [
        (Merge, ("main/trunk-main-a-1>", "main/trunk-main-a-spare-1>"), frozenset()),
        (Merge, ("main/trunk-main-b-1>", "main/trunk-main-b-spare-1>"), frozenset()),
    ]


def test_a_trunk_carries_eight_ports_and_the_next_one_the_rest() -> None:
    rig = rig_of(main("relay-pair", 1, 9))
    assert reads_of(rig, "main/port-main-8>") == ("main/relay-main#bank 1",)
    assert reads_of(rig, "main/port-main-9>") == ("main/relay-main#bank 2",)
    assert reads_of(rig, "main/relay-backup#bank 2") == ("main/trunk-backup-2>",)
    plain = rig_of(main("single-feed", 1, 9))
    assert not fed(plain, "main/r1c9", {"main/trunk-main-2"})
    assert fed(plain, "main/r1c8", {"main/trunk-main-2"})
    assert fed(plain, "main/r1c9", {"main/trunk-main-1"})


@pytest.mark.parametrize("topology", ONE_WALL)
@pytest.mark.parametrize("returns", ["standing", "gated"])
def test_dominators_are_what_cuts_a_cabinet_off_when_it_is_removed(
    topology: str, returns: str
) -> None:
    plan = main(topology, 3, 2, options={"returns": returns} if topology != "single-feed" else {})
    rig = rig_of(plan)
    for name in rig.cabinets:
        removed = {thing for thing in rig.things if not fed(rig, name, {thing})}
        assert single_points(rig, name) == removed


def _on_route(rig: Rig, route: str) -> set[str]:
    return {t.name for t in rig.things.values() if route in t.routes}


@pytest.mark.parametrize("topology", ["two-unit", "relay-pair", "crossed-relays"])
def test_one_route_is_a_single_point_only_where_routes_are_shared(topology: str) -> None:
    apart = rig_of(main(topology))
    assert fed(apart, "main/r2c3", _on_route(apart, "north"))
    assert fed(apart, "main/r2c3", _on_route(apart, "south"))
    together = rig_of(main(topology, options={"routes": "shared"}))
    assert not fed(together, "main/r2c3", _on_route(together, "north"))
    assert not _on_route(together, "south")


def test_crossed_relays_take_each_unit_on_a_route_of_its_own() -> None:
    rig = rig_of(main("crossed-relays"))
    assert _on_route(rig, "north") == {"main/trunk-main-a-1", "main/trunk-backup-a-1"}


def test_power_runs_down_a_chain_of_its_own_that_crosses_the_data() -> None:
    rig = rig_of(main("relay-pair"))
    feed = {name: thing.powered_by for name, thing in rig.things.items()}
    assert feed["main/power-1/head"] == ("house-1", "house-2")
    assert feed["main/power-2/head"] == ("house-2", "house-1")
    assert feed["main/power-1/jumper-2"] == ("main/power-1/head",)
    assert feed["main/power-1/jumper-3"] == ("main/power-1/jumper-2",)
    assert feed["main/r1c1/supply"] == ("main/power-1/head",)
    assert feed["main/r1c3/supply"] == ("main/power-1/jumper-3",)
    assert feed["main/r1c3/receiver"] == ("main/r1c3/supply",)
    assert feed["main/relay-main"] == ("house-2", "house-1")
    assert feed["main/port-main-1"] == ()


def test_single_power_takes_the_first_circuit_only() -> None:
    rig = rig_of(main("relay-pair", options={"power": "single"}))
    assert rig.things["main/unit-a"].powered_by == ("house-1",)
    assert rig.things["main/relay-main"].powered_by == ("house-2",)
    assert rig.things["main/power-2/head"].powered_by == ("house-2",)


def test_cabinets_off_every_power_chain_hang_on_the_first_circuit() -> None:
    bare = replace(wall(2, 2), power_chains=())
    rig = rig_of(show(group(bare)))
    assert rig.things["main/r2c2/supply"].powered_by == ("house-1", "house-2")


@pytest.mark.parametrize(("option", "count"), [("one", 1), ("given", 2), ("two", 2)])
def test_a_unit_follows_its_references_in_order(option: str, count: int) -> None:
    rig = rig_of(main("two-unit", options={"references": option}))
    sync = rig.nodes["main/unit-b#sync"]
    assert isinstance(sync, Sync)
    wanted = ("sync-1/to-main/unit-b>", "sync-2/to-main/unit-b>")
    assert sync.inputs == wanted[:count]
    carrier = rig.nodes["main/unit-b#out"]
    assert isinstance(carrier, Carrier) and carrier.sync == sync.name
    assert reads_of(rig, sync.inputs[0]) == ("sync-1#out",)


def test_a_unit_without_reference_has_no_sync() -> None:
    rig = rig_of(main("relay-pair", references=()))
    carrier = rig.nodes["main/unit-a#out"]
    assert isinstance(carrier, Carrier) and carrier.sync == ""


def _layer(rig: Rig, name: str) -> Layer:
    node = rig.nodes[name]
    assert isinstance(node, Layer)
    return node


@pytest.mark.parametrize("same", [False, True])
def test_a_fallback_is_at_best_wrong_unless_it_shows_the_same_picture(same: bool) -> None:
    layers = (
        LayerPlan("camera", (Choice("cam"), Choice("spare-cam", same_picture=same))),
        LayerPlan("inset", (Choice("results"),)),
    )
    rig = rig_of(main("relay-pair", layers=layers))
    layer = _layer(rig, "main/unit-a#layer camera")
    assert layer.inputs == ("cam/to-main/unit-a>", "spare-cam/to-main/unit-a>")
    assert layer.caps == (Quality.GOOD, Quality.GOOD if same else Quality.WRONG)
    none = rig_of(main("relay-pair", layers=layers, options={"fallback": "none"}))
    assert _layer(none, "main/unit-a#layer camera").inputs == ("cam/to-main/unit-a>",)


def test_layers_take_their_loss_from_the_plan_or_from_the_unit() -> None:
    rig = rig_of(main("relay-pair"))
    assert _layer(rig, "main/unit-a#layer camera").on_loss == "black"
    assert _layer(rig, "main/unit-a#layer inset").on_loss == "uncovered"
    carrier = rig.nodes["main/unit-a#out"]
    assert isinstance(carrier, Carrier)
    assert carrier.layers == ("main/unit-a#layer camera", "main/unit-a#layer inset")
    assert carrier.arrangement == "show"


def two_units(**how: Any) -> Rig:
    """A camera that reaches the second unit in the way that `how` says."""
    kit = how.pop("kit", UNIT)
    plan = main(
        "two-unit", kits={**KITS, "unit": kit}, layers=(LayerPlan("camera", (Choice("cam"),)),),
        arrangements=(group(wall(1, 1)).arrangements[1],),
    )  # fmt: skip
    return rig_of(replace(plan, sources=(source("cam", **how), source("cam-b"))))


def _above(rig: Rig, node: str) -> set[str]:
    """The things above a node."""
    made = nx.DiGraph()
    made.add_edges_from((i, n.name) for n in rig.nodes.values() for i in n.inputs)
    return {rig.nodes[other].thing for other in nx.ancestors(made, node)}


def test_a_distributor_feeds_both_units_and_is_there_only_if_there_are_two() -> None:
    rig = two_units(second="distributor")
    for unit in ("a", "b"):
        (link,) = reads_of(rig, f"main/unit-{unit}#layer camera")
        assert link == f"cam/to-main/unit-{unit}>"
        assert reads_of(rig, link) == ("cam/distributor#1",)
    assert reads_of(rig, "cam/distributor#1") == ("cam/to-distributor>",)
    assert "cam/distributor" not in rig_of(main("relay-pair")).things


@pytest.mark.parametrize("same", [False, True])
def test_a_second_unit_may_have_a_source_of_its_own(same: bool) -> None:
    rig = two_units(second="own", own="cam-b", own_same=same)
    assert _above(rig, "main/unit-b#layer camera") == {"cam-b", "cam-b/to-main/unit-b"}
    cap = Quality.GOOD if same else Quality.WRONG
    assert _layer(rig, "main/unit-b#layer camera").caps == (cap,)
    assert _layer(rig, "main/unit-a#layer camera").caps == (Quality.GOOD,)


@pytest.mark.parametrize("kind", ["passive", "active"])
def test_a_loop_through_dies_with_the_first_unit_only_if_it_is_active(kind: str) -> None:
    rig = two_units(second="loop-through", kit=replace(UNIT, loop_through=kind))
    above = _above(rig, "main/unit-b#layer camera")
    assert above - {"main/unit-a"} == {"cam", "cam/to-main/unit-a", "cam/loop-to-main/unit-b"}
    assert ("main/unit-a" in above) == (kind == "active")
    if kind == "active":
        loop = rig.nodes["main/unit-a#loop cam"]
        assert isinstance(loop, Pass) and loop.feels == frozenset()


def test_a_source_over_four_links_is_one_thing_with_four_cables() -> None:
    names = tuple(f"quarter-{n}" for n in range(1, 5))
    layers = tuple(LayerPlan(name, (Choice("cam", n),)) for n, name in enumerate(names, 1))
    plan = main("two-unit", layers=layers, arrangements=(group(wall(1, 1)).arrangements[0],))
    plan = replace(plan, sources=(source("cam", links=4),))
    (only,) = plan.groups
    empty = replace(only, arrangements=(replace(only.arrangements[0], placements=()),))
    rig = rig_of(replace(plan, groups=(empty,)))
    assert reads_of(rig, "main/unit-b#layer quarter-3") == ("cam/to-main/unit-b/3>",)
    assert reads_of(rig, "cam/to-main/unit-b/3>") == ("cam/distributor#3",)
    assert [n.name for n in rig.nodes.values() if isinstance(n, Emit) and n.thing == "cam"] == [
        "cam#out"
    ]


OWN = Form(
    "own",
    units=("unit-a", "unit-b"),
    relays=(
        ("relay-change", ("unit-a", "unit-b")),
        ("relay-left", ("relay-change",)),
        ("relay-right", ("unit-b", "unit-a")),
    ),
    heads=(("chain-[12]", "relay-left"), ("*", "relay-right")),
    tails=(("chain-1", "relay-right"),),
)


def test_a_topology_written_node_by_node() -> None:
    rig = rig_of(main("own", form=OWN))
    assert reads_of(rig, "main/trunk-left-1>") == ("main/relay-change#bank 1",)
    assert reads_of(rig, "main/relay-change#bank 1") == (
        "main/trunk-change-a-1>",
        "main/trunk-change-b-1>",
    )
    assert reads_of(rig, "main/chain-2/head>") == ("main/port-left-2>",)
    assert reads_of(rig, "main/port-right-1>") == ("main/relay-right#bank 1",)
    assert single_points(rig, "main/r1c1") == {"main/r1c1/receiver"}
    assert "main/relay-change" in single_points(rig, "main/r1c2")
    assert "main/chain-2/tail" not in rig.things


def test_a_form_that_edits_a_known_one_takes_its_place() -> None:
    edited = replace(FORMS["relay-pair"], tails=(("chain-4", "relay-backup"),))
    rig = rig_of(main("relay-pair", form=edited))
    assert "main/relay-main" in single_points(rig, "main/r2c1")
    assert "main/relay-main" not in single_points(rig, "main/r2c4")


def test_groups_may_share_a_unit_and_its_ports_are_counted_on() -> None:
    one = group(wall(1, 2), reaches=True)
    two = group(wall(1, 2), name="side", reaches=True, shared={"unit-a": "main/unit-a"})
    rig = rig_of(show(one, two))
    assert [t.name for t in rig.things.values() if t.family == "processor"] == ["main/unit-a"]
    assert reads_of(rig, "side/chain-1/head>") == ("main/port-a-3>",)
    assert rig.groups["main"].carriers == rig.groups["side"].carriers == ("main/unit-a#out",)


def test_a_shared_unit_sends_each_group_its_own_picture() -> None:
    one = group(wall(1, 2))
    other = (LayerPlan("camera", (Choice("results"),)), LayerPlan("inset", (Choice("cam"),)))
    two = group(wall(1, 2), name="side", shared={"unit-a": "main/unit-a"}, layers=other)
    rig = rig_of(show(one, two))
    assert rig.groups["side"].carriers == ("main/unit-a#out side",)
    assert reads_of(rig, "side/trunk-main-1>") == ("main/unit-a#out side",)
    assert reads_of(rig, "main/unit-a#layer camera side") == ("results/to-main/unit-a>",)


def test_timings_are_shared_by_a_kit_unless_a_thing_has_its_own() -> None:
    own = {"main/relay-backup": {"start": fixed(7), "switch": fixed(9)}}
    rig = rig_of(replace(main("crossed-relays"), own_timings=own))
    assert rig.things["main/relay-main"].start == "fibre box.start"
    assert rig.things["main/relay-backup"].start == "main/relay-backup.start"
    choose = rig.nodes["main/relay-backup#bank 1"]
    assert isinstance(choose, Select)
    assert rig.timings[choose.selector.switch].typical == 9
    assert rig.timings[choose.selector.detect].typical == FRAME
    assert choose.selector.hold_off == ""
    assert rig.timings["fibre box.start"].typical == 300 * FRAME
    assert rig.timings["house-2.hold_up"].typical == FLICKS
    assert rig.things["house-1"].hold_up == ""


def test_two_kits_of_one_name_with_different_timings_are_refused() -> None:
    twin = replace(RELAY, timings={"start": fixed(1)})
    with pytest.raises(InputError, match=r"fibre box\.start"):
        build(main("relay-pair", own_kits=(("relay-backup", twin),)))


def test_things_say_what_they_are_made_of_and_where_they_lie() -> None:
    plan = main(
        "relay-pair",
        places=(("*/receiver", "flown"), ("relay-*", "tower")),
        suppliers=(("trunk-*", "venue"),),
    )
    rig = rig_of(plan)
    trunk = rig.things["main/trunk-backup-1"]
    assert (trunk.routes, trunk.length, trunk.supplier) == (("south",), Fraction(1500), "venue")
    assert trunk.margin == 6200 - 600 - 1000
    assert rig.things["main/r1c1/receiver"].place == "flown"
    assert rig.things["main/relay-main"].place == "tower"
    assert rig.things["main/chain-1/tail"].length == 20
    special = replace(plan.groups[0].cabling, special=(("trunk-main-*", Run(("roof",))),))
    (only,) = plan.groups
    other = rig_of(replace(plan, groups=(replace(only, cabling=special),)))
    assert other.things["main/trunk-main-1"].routes == ("roof",)


def test_fibre_adds_its_index_times_its_length() -> None:
    """1.2 km of index 1.4676 (ITU-T G.652 type fibre, value from memory): 4.8954 us a km."""
    rig = rig_of(main("relay-pair"))
    delay = rig.nodes["main/trunk-main-1>"].delay
    assert delay == Fraction("1.4676") * 1200 * FLICKS / 299_792_458
    assert round(delay / FLICKS * 10**6 / Fraction("1.2"), 4) == Fraction("4.8954")
    assert rig.nodes["main/unit-a#out"].delay == FRAME
    assert rig.nodes["main/r1c1/receiver>"].delay == 100
    assert rig.nodes["main/r1c1/receiver#screen"].delay == 0


def test_a_control_link_is_a_thing_without_a_node() -> None:
    plan = replace(main("relay-pair"), controls=(ControlPlan("desk line", Run(("north",))),))
    rig = rig_of(plan)
    assert "desk line" in _on_route(rig, "north")
    assert not [n for n in rig.nodes.values() if n.thing == "desk line"]


def test_cells_are_cut_at_the_inset_and_its_edge_lies_on_top() -> None:
    (plan,) = main("relay-pair", 2, 2).groups
    cells = rig_of(show(plan)).groups["main"].cells
    stacks = rig_of(show(plan)).groups["main"].stacks
    assert sum(cell.area for cell in cells) == 400
    corner = next(cell for cell in cells if cell.cabinet == "main/r1c1" and cell.x == cell.y == 0)
    assert (corner.w, corner.h) == (5, 5)
    assert [p.layer for p in stacks[corner.stack]["show"]] == ["inset", "camera"]
    assert [p.layer for p in stacks[corner.stack]["all"]] == ["camera"]


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
@pytest.mark.parametrize("walls", ["one", "two"])
def test_every_cabinet_of_every_topology_is_reached(topology: str, walls: str) -> None:
    rig = rig_of((main if walls == "one" else banks)(topology))
    assert len(rig.cabinets) == (12 if walls == "one" else 8)
    assert all(fed(rig, name, set()) for name in rig.cabinets)


@st.composite
def shows(draw: st.DrawFn) -> ShowPlan:
    options = Options(
        routes=draw(st.sampled_from(("given", "shared", "diverse"))),
        power=draw(st.sampled_from(("given", "single", "double"))),
        references=draw(st.sampled_from(("given", "one", "two"))),
        fallback=draw(st.sampled_from(("given", "none", "some"))),
        cards=draw(st.integers(1, 2)),
        seamless=draw(st.booleans()),
        returns=draw(st.sampled_from(("standing", "gated"))),
    )
    rows, columns = draw(st.integers(1, 3)), draw(st.integers(1, 4))
    names = draw(st.sampled_from((("screen",), ("left", "right"))))
    relay = replace(RELAY, limits=Limits(ports_per_trunk=draw(st.integers(1, 3))))
    plan = group(
        *(wall(rows, columns, name) for name in names),
        topology=draw(st.sampled_from(tuple(FORMS))),
        options=options,
        reaches=draw(st.booleans()),
        kits={**KITS, "relay": relay},
    )
    how = draw(st.sampled_from(("distributor", "loop-through")))
    made = tuple(source(n, second=how) for n in ("cam", "spare-cam", "results"))
    return show(plan, sources=made)


@given(shows())
def test_whatever_is_asked_for_the_graph_is_sound_and_complete(plan: ShowPlan) -> None:
    rig = rig_of(plan)
    (only,) = plan.groups
    assert all(fed(rig, name, set()) for name in rig.cabinets)
    assert all(len(c.cards) == only.options.cards for c in rig.cabinets.values())
    assert build(plan) == rig
    cabinets = sum(w.rows * w.columns for w in only.walls)
    jumpers = (cabinets - sum(w.columns for w in only.walls)) * only.options.cards
    assert sum(t.family == "jumper" for t in rig.things.values()) == jumpers
    assert sum(t.family == "receiver" for t in rig.things.values()) == cabinets * only.options.cards


def test_a_wall_of_16_by_9_is_built_in_no_time() -> None:
    plan = show(group(wall(9, 16), topology="crossed-relays"))
    took = []
    for _ in range(5):
        start = time.process_time()
        build(plan)
        took.append(time.process_time() - start)
    assert min(took) < 0.06


def test_copper_is_what_reaches_from_a_port() -> None:
    rig = rig_of(main("relay-pair"))
    kits = {t.name: t.kit for t in rig.things.values() if t.family == "copper"}
    assert kits["main/chain-1/head"] == COPPER.name
