"""Why a topology cannot be built, and what one needs beyond another: reasons and counts by hand.

In: small plans whose equipment is cut down. Out: the sentences and the figures.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from sim.rig.bill import bill, extra
from sim.rig.forms import FORMS
from sim.rig.patterns import build
from sim.rig.plan import Choice, Chooser, Form, LayerPlan, Limits, ShowPlan
from sim.rig.refusals import cannot
from tests.plans import (
    COPPER,
    KITS,
    RELAY,
    SPLITTER,
    UNIT,
    banks,
    group,
    main,
    show,
    source,
    wall,
)


def reasons(plan: ShowPlan) -> tuple[str, ...]:
    return cannot(plan, plan.groups[0].name)


def with_kits(topology: str, rows: int = 3, columns: int = 4, **kits: Any) -> ShowPlan:
    return main(topology, rows, columns, kits={**KITS, **kits})


def limited(kit: Any, **limits: Any) -> Any:
    return replace(kit, limits=Limits(**limits))


@pytest.mark.parametrize("topology", [n for n in FORMS if not n.startswith("mirrored")])
def test_one_wall_takes_every_topology_that_suits_it(topology: str) -> None:
    assert reasons(main(topology)) == ()
    assert reasons(main(topology, reaches=True)) == ()


@pytest.mark.parametrize("topology", list(FORMS))
def test_mirrored_walls_take_every_topology(topology: str) -> None:
    assert reasons(banks(topology)) == ()


def test_a_return_loop_wants_two_ports_for_each_chain() -> None:
    full = with_kits("return-loop", 9, 16, unit=limited(UNIT, ports=16))
    why = "(a return to where the head is fed takes two for each chain)"
    assert reasons(full) == (
        f"unit-a needs 32 ports and has 16 {why}",
        f"relay-main needs 32 ports and has 16 {why}",
    )
    assert reasons(with_kits("return-loop", 9, 8)) == ()
    assert reasons(with_kits("relay-pair", 9, 16)) == ()
    (near,) = main("return-loop", 9, 16, reaches=True).groups
    assert reasons(show(near)) == (f"unit-a needs 32 ports and has 16 {why}",)


def test_mirrored_walls_on_relays_of_their_own_take_copies_of_the_same_ports() -> None:
    tight = {**KITS, "unit": limited(UNIT, ports=2)}
    assert reasons(banks("mirrored", kits=tight)) == ()
    assert reasons(banks("mirrored-guarded", kits=tight)) == ()
    assert reasons(banks("single-feed", kits=tight)) == ("unit-a needs 4 ports and has 2",)


def test_trunks_run_out_at_the_unit_or_at_the_relay() -> None:
    few = with_kits("crossed-relays", 1, 9, unit=limited(UNIT, trunks=3))
    assert reasons(few) == (
        "unit-a needs 4 trunk outputs and has 3",
        "unit-b needs 4 trunk outputs and has 3",
    )
    none = with_kits("crossed-relays", 1, 9, relay=limited(RELAY, trunk_inputs=3))
    assert reasons(none) == (
        "relay-main needs 4 trunk inputs and has 3",
        "relay-backup needs 4 trunk inputs and has 3",
    )


def test_second_cards_need_ports_too() -> None:
    kits = {**KITS, "relay": limited(RELAY, ports=4)}
    assert reasons(main("single-feed", kits=kits)) == ()
    assert reasons(main("single-feed", kits=kits, options={"cards": 2})) == (
        "relay-main needs 8 ports and has 4",
    )
    assert reasons(main("relay-pair", kits=kits, options={"cards": 2})) == ()


def test_inputs_run_out() -> None:
    assert reasons(with_kits("relay-pair", unit=limited(UNIT, inputs=2))) == (
        "unit-a needs 3 inputs and has 2",
    )


@pytest.mark.parametrize("topology", ["mirrored", "mirrored-guarded"])
def test_mirrored_topologies_want_mirrored_walls(topology: str) -> None:
    assert reasons(main(topology)) == (f"{topology} needs several walls and the group has one",)
    apart = banks(topology, mirrored=False)
    assert reasons(apart) == (f"{topology} suits mirrored walls only",)


def test_an_unknown_topology_is_named_with_the_nearest() -> None:
    assert reasons(main("relay-pear")) == ("no topology is called relay-pear; nearest: relay-pair",)


@pytest.mark.parametrize(
    ("topology", "option", "more", "wanted"),
    [
        ("single-feed", {"returns": "gated"}, {}, "there is no return that could be gated"),
        ("relay-pair", {"power": "double"}, {"powered": (("*", ("house-1",)),)},
         "unit-a has no second circuit"),
        ("relay-pair", {"references": "two"}, {"references": ("sync-1",)},
         "unit-a has no second reference"),
        ("relay-pair", {"fallback": "some"}, {"layers": (LayerPlan("camera", (Choice("cam"),)),)},
         "no layer has a second source"),
        ("two-unit", {"seamless": True}, {"reaches": True},
         "a seamless pair needs a relay to merge its trunks, and here copper leaves the units"),
        ("single-feed", {"routes": "diverse"}, {},
         "there is no backup trunk that could take another route"),
    ],
)  # fmt: skip
def test_an_option_without_what_it_needs(
    topology: str, option: dict[str, Any], more: dict[str, Any], wanted: str
) -> None:
    assert wanted in reasons(main(topology, options=option, **more))
    assert wanted not in reasons(main(topology, **more))


def test_diverse_routes_must_not_share_one() -> None:
    (plan,) = main("relay-pair", options={"routes": "diverse"}).groups
    assert reasons(show(plan)) == ()
    backup = replace(plan.cabling.trunk_backup, routes=("south", "north"))
    shared = replace(plan, cabling=replace(plan.cabling, trunk_backup=backup))
    assert reasons(show(shared)) == ("main and backup trunks share the route north",)


def test_copper_has_a_reach() -> None:
    short = with_kits("relay-pair", patch=limited(COPPER, reach=Fraction(15)))
    assert reasons(short) == ("copper to the chain tails runs 20 m and reaches 15 m",)
    assert reasons(with_kits("single-feed", patch=limited(COPPER, reach=Fraction(15)))) == ()


def own(form: Form) -> ShowPlan:
    return main("own", form=form)


@pytest.mark.parametrize(
    ("relays", "heads", "wanted"),
    [
        ((("relay-x", ("unit-c",)),), (("*", "relay-x"),),
         "relay-x is fed by unit-c, which is no unit and no earlier relay"),
        ((("relay-x", ("relay-y",)), ("relay-y", ("unit-a",))), (("*", "relay-x"),),
         "relay-x is fed by relay-y, which is no unit and no earlier relay"),
        ((("relay-x", ()),), (("*", "relay-x"),), "relay-x is fed by nothing"),
        ((), (("*", "relay-x"),),
         "the head of chain-1 is fed by relay-x, which is no unit and no relay"),
        ((), (("chain-2", "unit-a"),), "chain-1 has no feed at its head"),
        ((("relay-x", (("unit-a", "unit-b"),)),), (("*", "relay-x"),),
         "the seamless pair of relay-x has two senders, unit-a and unit-b"),
    ],
)  # fmt: skip
def test_a_form_that_does_not_hang_together(relays: Any, heads: Any, wanted: str) -> None:
    assert wanted in reasons(own(Form("own", ("unit-a", "unit-b"), relays=relays, heads=heads)))


def test_cabinets_are_on_one_chain_each() -> None:
    short = replace(wall(2, 2), chains=(((0, 0), (1, 0), (1, 0)), ((0, 1), (2, 1))))
    assert reasons(show(group(short))) == (
        "r2c2 of screen is on no chain",
        "r2c1 of screen is on several chains",
        "r3c2 of screen is not on the wall",
    )


@pytest.mark.parametrize(
    ("how", "wanted"),
    [
        ({"second": "distributor", "distributor": None},
         "cam goes to several units and has no distributor"),
        ({"second": "own", "own": "nobody"}, "unit-b has no source of its own for cam"),
        ({"second": "own", "own": "spare-cam"}, "unit-b would take spare-cam twice"),
        ({"second": "own", "own": "other", "links": 2},
         "other has fewer links than cam, which it stands for"),
        ({"second": "loop-through"}, "unit-a has no loop-through for cam"),
    ],
)  # fmt: skip
def test_how_a_second_unit_gets_its_sources(how: dict[str, Any], wanted: str) -> None:
    plan = with_kits("two-unit", unit=replace(UNIT, loop_through="none"))
    sources = (source("cam", **how), source("spare-cam"), source("results"), source("other"))
    assert reasons(replace(plan, sources=sources)) == (wanted,)


@pytest.mark.parametrize(
    ("choice", "wanted"),
    [
        (Choice("nobody"), "no source is called nobody"),
        (Choice("cam", 2), "cam has no link 2"),
        (Choice("cam", 0), "cam has no link 0"),
    ],
)
def test_a_layer_wants_a_source_and_link_that_exist(choice: Choice, wanted: str) -> None:
    assert reasons(main("relay-pair", layers=(LayerPlan("camera", (choice,)),))) == (wanted,)


def test_shared_things_must_be_there_and_take_the_same_arrangements() -> None:
    one = group(wall(1, 2))
    lost = group(wall(1, 2), name="side", shared={"unit-a": "main/unit-z"})
    assert cannot(show(one, lost), "side") == (
        "unit-a is shared with main/unit-z, which no group has",
    )
    other = group(wall(1, 2), name="side", shared={"unit-a": "main/unit-a"})
    assert cannot(show(one, other), "side") == ()
    fewer = replace(other, arrangements=other.arrangements[:1])
    assert cannot(show(one, fewer), "side") == (
        "main/unit-a is shared by groups whose arrangements have other names",
    )


def test_ports_of_a_shared_unit_are_counted_over_all_groups() -> None:
    kits = {**KITS, "unit": limited(UNIT, ports=3)}
    one = group(wall(1, 2), kits=kits, reaches=True)
    two = group(wall(1, 2), name="side", kits=kits, reaches=True, shared={"unit-a": "main/unit-a"})
    assert cannot(show(one), "main") == ()
    assert cannot(show(one, two), "side") == ("unit-a needs 4 ports and has 3",)


def test_the_bill_of_a_relay_pair_by_hand() -> None:
    """3 by 4 cabinets in 4 chains: 12 cards, 8 jumpers, 4 heads and 4 tails, two trunks."""
    plan = main("relay-pair")
    found = bill(plan, build(plan))
    cables = 4 + 4 + 3 + 2  # heads, tails, three sources and two references to the unit
    assert dict(found.kits) == {
        "scaler": 1, "fibre box": 2, "card": 12, "jumper": 8, "copper": cables, "fibre": 2,
        "output": 8, "supply": 12, "mains lead": 12, "camera": 3, "generator": 2,
    }  # fmt: skip
    assert found.metres["fibre"] == 1200 + 1500
    assert found.metres["copper"] == 4 * 10 + 4 * 20
    assert found.crew == 1
    assert found.price == 1000 + 2 * 200 + 12 * 5 + 8 + cables + 1350
    assert found.unpriced == ("mains lead",)
    assert found.families["fibre"] == 2


def test_what_crossed_relays_need_beyond_a_relay_pair() -> None:
    less, more = main("relay-pair"), main("crossed-relays")
    beyond = extra(bill(more, build(more)), bill(less, build(less)))
    to_distributors_and_unit_b = 3 + 3 + 2
    assert beyond == {
        "scaler": 1,
        "fibre": 2,
        "splitter": 3,
        "copper": to_distributors_and_unit_b,
    }
    assert SPLITTER.name == "splitter"


def test_the_bill_of_one_group_leaves_the_others_out() -> None:
    plan = show(group(wall(2, 2)), group(wall(3, 2), name="side"))
    rig = build(plan)
    assert bill(plan, rig, "side").kits["card"] == 6
    assert bill(plan, rig).kits["card"] == 10
    assert bill(plan, rig, "side").families["processor"] == 1


def test_the_bill_of_a_group_counts_the_distributors_and_source_cables_that_lead_to_it() -> None:
    """What a second unit needs of sources that it shares is what it costs; what leads only to the
    other group is left out.
    """
    side = group(wall(3, 2), name="side")
    bills = []
    for topology in ("relay-pair", "crossed-relays"):
        plan = show(group(wall(2, 2), topology=topology), side)
        rig = build(plan)
        bills.append(bill(plan, rig, "main"))
        assert bill(plan, rig, "side").kits["copper"] < bill(plan, rig).kits["copper"]
    less, more = bills
    assert extra(more, less)["copper"] == 3 + 2, "three sources and two references to unit-b"
    assert less.kits["camera"] == 3


def locked(kit: Any, number: int) -> Any:
    """The kit, locked on an input, counted from 0."""
    return replace(kit, picks=Chooser("locked", 0, number))


def test_what_is_locked_on_an_input_must_have_it() -> None:
    relay = locked(RELAY, 1)
    assert reasons(with_kits("crossed-relays", relay=relay)) == ()
    assert reasons(with_kits("relay-pair", relay=relay)) == (
        "relay-main is locked on input 2 of its trunks (counted from 1), and has 1",
        "relay-backup is locked on input 2 of its trunks (counted from 1), and has 1",
    )
    cards = locked(KITS["receiver"], 1)
    assert reasons(with_kits("relay-pair", receiver=cards)) == ()
    assert reasons(with_kits("single-feed", receiver=cards)) == (
        "a receiving card is locked on input 2 of its chain (counted from 1), and has 1",
    )
    unit = locked(UNIT, 3)
    assert reasons(with_kits("single-feed", unit=unit)) == (
        "unit-a is locked on input 4 of a layer (counted from 1), and has 1",
    )
