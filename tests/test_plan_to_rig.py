"""What a plan says of a thing is what the rig holds of it: power, frames, timings, runs, groups.

In: small plans with one value set. Out: the same value at its place in the rig.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from sim.faults import Quality
from sim.rig.kit import cable_delay, margin
from sim.rig.patterns import build
from sim.rig.plan import (
    Chooser,
    CircuitPlan,
    Form,
    Kit,
    Limits,
    Optics,
    Placement,
    ReferencePlan,
    Region,
    Run,
    ShowPlan,
)
from sim.rig.refusals import cannot
from sim.rig.topology import Display, Emit, Merge, Rig, Select, Sync
from sim.rig.validator import validate
from sim.timebase import FLICKS, fixed
from tests.plans import (
    COPPER,
    FRAME,
    GENERATOR,
    KITS,
    PIXELS,
    RECEIVER,
    RELAY,
    UNIT,
    banks,
    group,
    main,
    show,
    source,
    wall,
)


def rig_of(plan: ShowPlan) -> Rig:
    return validate(build(plan))


def test_second_cards_take_the_cables_of_the_tail() -> None:
    rig = rig_of(main("relay-pair", options={"cards": 2}))
    assert rig.things["main/chain-1/head"].length == 10
    assert rig.things["main/chain-1-b/head"].length == 20


def test_a_relay_delays_once_however_it_chooses() -> None:
    slow = replace(RELAY, delay=Fraction(77))
    rig = rig_of(main("crossed-relays", kits={**KITS, "relay": slow}, options={"seamless": True}))
    delays = {n.name: n.delay for n in rig.nodes.values() if n.thing == "main/relay-main"}
    assert delays == {
        "main/relay-main#bank 1": 77,
        "main/relay-main#bank 1 pair 1": 0,
        "main/relay-main#bank 1 pair 2": 0,
    }
    pair = rig_of(main("relay-pair", kits={**KITS, "relay": slow}, options={"seamless": True}))
    merge = pair.nodes["main/relay-main#bank 1"]
    assert isinstance(merge, Merge) and merge.delay == 77


def test_crossed_seamless_legs_lie_on_both_routes_at_each_unit() -> None:
    rig = rig_of(main("crossed-relays", options={"seamless": True}))
    routes = {
        name: rig.things[f"main/trunk-main-{name}-1"].routes[0]
        for name in ("a", "a-spare", "b", "b-spare")
    }
    assert routes == {"a": "north", "a-spare": "south", "b": "south", "b-spare": "north"}


def test_an_own_form_stays_as_written_where_copper_does_not_reach() -> None:
    form = Form("own", ("unit-a",), heads=(("*", "unit-a"),))
    rig = rig_of(main("own", form=form, reaches=False))
    assert not [t for t in rig.things.values() if t.family == "relay"]
    assert rig.nodes["main/port-a-1>"].inputs == ("main/unit-a#out",)


def test_two_alternative_trunks_from_one_unit_have_names_of_their_own() -> None:
    form = Form(
        "own", ("unit-a",), relays=(("relay-x", ("unit-a", "unit-a")),), heads=(("*", "relay-x"),)
    )
    rig = rig_of(main("own", form=form))
    bank = rig.nodes["main/relay-x#bank 1"]
    assert isinstance(bank, Select)
    assert bank.inputs == ("main/trunk-x-a-1>", "main/trunk-x-a2-1>")


def test_a_third_unit_takes_the_loop_through_of_the_second() -> None:
    form = Form(
        "own", ("unit-a", "unit-b", "unit-c"), heads=(("*", "unit-a"),), tails=(("*", "unit-c"),)
    )
    made = tuple(source(n, second="loop-through") for n in ("cam", "spare-cam", "results"))
    rig = rig_of(replace(main("own", form=form), sources=made))
    assert rig.nodes["cam/loop-to-main/unit-c>"].inputs == ("cam/loop-to-main/unit-b>",)
    assert rig.nodes["cam/loop-to-main/unit-b>"].inputs == ("cam/to-main/unit-a>",)


def test_a_run_that_is_too_long_has_no_margin_rather_than_less_than_none() -> None:
    weak = replace(KITS["trunk"], optics=Optics(budget=100, per_km=400))
    rig = rig_of(main("relay-pair", kits={**KITS, "trunk": weak}))
    assert rig.things["main/trunk-main-1"].margin == 0
    assert margin(weak, Run(length=Fraction(1200))) == 100 - 480


def test_the_margin_counts_length_connectors_and_splices_and_rounds_down() -> None:
    """8 km single mode: 13 - 8 x 0.5 - 7 x 0.5 = 5.5 dB left (published router hardware guide)."""
    kit = Kit("f", "fibre", optics=Optics(budget=13000, per_km=500, per_connector=500))
    assert margin(kit, Run(length=Fraction(8000), connectors=7)) == 5500
    spliced = replace(kit, optics=replace(kit.optics, per_splice=150))
    assert margin(spliced, Run(length=Fraction(8000), connectors=7, splices=2)) == 5200
    assert margin(kit, Run(length=Fraction(1), connectors=0)) == 12999


def test_a_cable_adds_its_own_delay_and_its_length() -> None:
    kit = Kit("f", "fibre", delay=Fraction(5), index=Fraction(3, 2))
    assert cable_delay(kit, Run(length=Fraction(299_792_458))) == 5 + FLICKS * Fraction(3, 2)


def test_a_unit_chooses_sources_and_references_by_settings_of_their_own() -> None:
    unit = replace(
        UNIT,
        timings={**UNIT.timings, "reference_switch": fixed(3), "reference_detect": fixed(4)},
        picks=Chooser("by-hand", Quality.BLACK),
        follows=Chooser("locked", Quality.ABSENT, 1),
    )
    rig = rig_of(main("relay-pair", kits={**KITS, "unit": unit}))
    sync = rig.nodes["main/unit-a#sync"]
    assert isinstance(sync, Sync)
    chosen = sync.selector
    assert (chosen.name, chosen.restore, chosen.locked_on) == ("main/unit-a#reference", "locked", 1)
    assert (rig.timings[chosen.switch].typical, rig.timings[chosen.detect].typical) == (3, 4)
    keys = (sync.holdover, sync.relock, sync.relock_glitch)
    assert [rig.timings[key].typical // FRAME for key in keys] == [900, 60, 1]
    layer: Any = rig.nodes["main/unit-a#layer camera"]
    assert (layer.selector.restore, layer.selector.accepts_above) == ("by-hand", Quality.BLACK)
    assert rig.timings[layer.selector.switch].typical == 2 * FRAME


def test_a_receiver_keeps_its_picture_for_the_time_of_its_kit() -> None:
    card = replace(RECEIVER, timings={**RECEIVER.timings, "keeps_last": fixed(11)})
    rig = rig_of(main("relay-pair", kits={**KITS, "receiver": card}))
    screen = rig.nodes["main/r1c1/receiver#screen"]
    assert isinstance(screen, Display)
    assert rig.timings[screen.keeps_last].typical == 11
    plain = rig_of(main("relay-pair")).nodes["main/r1c1/receiver#screen"]
    assert isinstance(plain, Display) and plain.keeps_last == ""


def test_sources_references_and_distributors_have_power_frames_and_places() -> None:
    power = {"circuits": ("house-2",), "distributor_circuits": ("house-1",)}
    cam = source("cam", frame=FRAME * 2, place="van", **power)
    plan = replace(
        main("two-unit"),
        sources=(cam, source("spare-cam"), source("results")),
        references=(
            ReferencePlan("sync-1", GENERATOR, COPPER, ("house-2",), supplier="venue"),
            ReferencePlan("sync-2", GENERATOR, COPPER),
        ),
    )
    rig = rig_of(plan)
    out = rig.nodes["cam#out"]
    assert isinstance(out, Emit) and out.frame == FRAME * 2
    assert rig.things["cam"].powered_by == ("house-2",)
    assert (rig.things["cam"].place, rig.things["cam"].group) == ("van", "")
    assert rig.things["cam/distributor"].powered_by == ("house-1",)
    assert rig.things["sync-1"].powered_by == ("house-2",)
    assert rig.things["sync-1"].supplier == "venue"


def test_cables_of_sources_and_references_take_the_run_to_their_unit() -> None:
    runs = (("distributor", Run(("a",))), ("main/unit-b", Run(("b",))), ("*", Run(("c",))))
    plan = replace(
        main("two-unit"),
        sources=(source("cam", runs=runs), source("spare-cam"), source("results")),
        references=(
            ReferencePlan("sync-1", GENERATOR, COPPER, runs=runs),
            ReferencePlan("sync-2", GENERATOR, COPPER),
        ),
    )
    rig = rig_of(plan)
    routes = {name: thing.routes for name, thing in rig.things.items()}
    assert routes["cam/to-distributor"] == ("a",)
    assert routes["cam/to-main/unit-b"] == routes["sync-1/to-main/unit-b"] == ("b",)
    assert routes["cam/to-main/unit-a"] == routes["sync-1/to-main/unit-a"] == ("c",)


def test_a_circuit_may_hang_on_another() -> None:
    circuits = (
        CircuitPlan("house-1", ("mains",), start=fixed(5)),
        CircuitPlan("house-2"),
        CircuitPlan("mains", place="cellar"),
    )
    rig = rig_of(replace(main("relay-pair"), circuits=circuits))
    assert rig.things["house-1"].powered_by == ("mains",)
    assert rig.timings[rig.things["house-1"].start].typical == 5
    assert rig.things["mains"].place == "cellar"


def test_groups_may_share_a_relay() -> None:
    one = group(wall(1, 2))
    shared = {"unit-a": "main/unit-a", "relay-main": "main/relay-main"}
    two = group(wall(1, 7), name="side", shared=shared)
    rig = rig_of(show(one, two))
    assert [t.name for t in rig.things.values() if t.family == "relay"] == ["main/relay-main"]
    assert rig.nodes["side/chain-7/head>"].inputs == ("main/port-main-9>",)
    assert rig.nodes["main/port-main-9>"].inputs == ("main/relay-main#bank 2",)
    assert {t.name for t in rig.things.values() if t.family == "fibre"} == {
        "main/trunk-main-1",
        "main/trunk-main-2",
    }


def test_regions_audience_mirroring_and_the_place_in_the_picture_arrive() -> None:
    region = Region("score", "left", 0, 0, 5, 5)
    plan = banks("mirrored", regions=(region,), audience={"terrace": ("left",)})
    made = rig_of(plan).groups["banks"]
    assert made.regions == (region,)
    assert made.audience == {"terrace": ("left",)}
    assert made.mirrored and made.topology == "mirrored"
    assert made.walls == {"left": (2, 2, PIXELS, PIXELS), "right": (2, 2, PIXELS, PIXELS)}
    assert not rig_of(main("relay-pair")).groups["main"].mirrored


def test_walls_of_one_picture_show_their_own_part_of_it() -> None:
    left, right = wall(1, 1, "left"), wall(1, 1, "right", x=PIXELS)
    plan = group(left, right, mirrored=False)
    only = Placement("inset", PIXELS, 0, PIXELS, PIXELS)
    plan = replace(plan, arrangements=(replace(plan.arrangements[0], placements=(only,)),))
    made = rig_of(show(plan)).groups["main"]
    shown = {cell.cabinet: made.stacks[cell.stack]["show"] for cell in made.cells}
    assert shown == {"main/left/r1c1": (), "main/right/r1c1": (only,)}


@pytest.mark.parametrize("ports", [3, 4])
def test_second_cards_behind_a_backup_relay_are_copies_of_the_same_ports(ports: int) -> None:
    kits = {**KITS, "unit": replace(UNIT, limits=Limits(ports=ports))}
    plan = main("relay-pair", kits=kits, options={"cards": 2})
    wanted = () if ports == 4 else ("unit-a needs 4 ports and has 3",)
    assert cannot(plan, "main") == wanted
