"""The one validator: a sound rig passes, and each single way to spoil it is found and named.

In: a small built rig. Out: the problem that names the spoilt value; order and cycles by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from sim.errors import InputError
from sim.faults import SOFT
from sim.rig.patterns import build
from sim.rig.topology import PASSING, Rig
from sim.rig.validator import power_rank, problems, rank, validate
from sim.timebase import Timing
from tests.plans import main

RIG = build(
    main("crossed-relays", 2, 2, options={"seamless": True, "returns": "gated", "cards": 1})
)
BANK = "main/relay-main#bank 1"
PAIR = "main/relay-main#bank 1 pair 1"
SCREEN = "main/r1c1/receiver#screen"
LAYER = "main/unit-a#layer camera"
OUT = "main/unit-a#out"
GATE = "main/relay-backup#return main/chain-1"
CORNER = RIG.groups["main"].cells[0]


def node(name: str, /, **changes: Any) -> Rig:
    """The rig with one node changed."""
    return replace(RIG, nodes={**RIG.nodes, name: replace(RIG.nodes[name], **changes)})


def chooser(name: str, /, **changes: Any) -> Rig:
    """The rig with one selector changed."""
    old: Any = RIG.nodes[name]
    return node(name, selector=replace(old.selector, **changes))


def thing(name: str, /, **changes: Any) -> Rig:
    return replace(RIG, things={**RIG.things, name: replace(RIG.things[name], **changes)})


def cabinet(**changes: Any) -> Rig:
    old = RIG.cabinets["main/r1c1"]
    return replace(RIG, cabinets={**RIG.cabinets, old.name: replace(old, **changes)})


def group(**changes: Any) -> Rig:
    return replace(RIG, groups={"main": replace(RIG.groups["main"], **changes)})


def without(what: str, name: str) -> Rig:
    kept: Any = {key: value for key, value in getattr(RIG, what).items() if key != name}
    spoilt: Rig = replace(RIG, **{what: kept})
    return spoilt


def timing(key: str, *values: int) -> Rig:
    least, typical, most = values
    return replace(RIG, timings={**RIG.timings, key: Timing(least, typical, most)})


def test_a_built_rig_is_sound() -> None:
    assert validate(RIG) is RIG


def misnamed() -> Rig:
    return replace(RIG, nodes={**RIG.nodes, "other": RIG.nodes[OUT]})


SPOILT: dict[str, Callable[[], Rig]] = {
    "main/relay-main: no family is called 'relais'": lambda: thing(
        "main/relay-main", family="relais"
    ),
    "no thing that powers it is called 'house-3'": lambda: thing(
        "main/relay-main", powered_by=("house-3",)
    ),
    "is powered twice by one thing": lambda: thing(
        "main/relay-main", powered_by=("house-1", "house-1")
    ),
    "has a hold-up and is no circuit": lambda: thing(
        "main/relay-main", hold_up="house-2.hold_up"
    ),
    "margin -1 thousandths of a dB": lambda: thing("main/trunk-main-a-1", margin=-1),
    "other: is kept under another name": misnamed,
    "no thing is called 'nowhere'": lambda: node(SCREEN, thing="nowhere"),
    "no node that it reads is called 'main/chain-1/haed>'": lambda: node(
        SCREEN, inputs=("main/chain-1/haed>",)
    ),
    f"{SCREEN}: 3 inputs": lambda: node(
        SCREEN, inputs=("main/chain-1/head>", "main/chain-2/head>", "main/chain-2/tail<")
    ),
    f"{PAIR}: 1 inputs": lambda: node(PAIR, inputs=("main/trunk-main-a-1>",)),
    f"{SCREEN}: takes one input twice": lambda: node(SCREEN, inputs=("main/chain-1/head>",) * 2),
    f"{LAYER}: feels stuck": lambda: node(LAYER, feels=frozenset({"stuck"})),
    f"{GATE}: feels stale": lambda: node(GATE, feels=frozenset({"stale"})),
    "main/r1c1/receiver>: feels blanked": lambda: node(
        "main/r1c1/receiver>", feels=PASSING | {"blanked"}
    ),
    f"{BANK}: feels dead": lambda: node(BANK, feels=SOFT | {"dead"}),
    f"{SCREEN}: two selectors have this name": lambda: chooser(BANK, name=SCREEN),
    f"{BANK}: restore 'sometimes'": lambda: chooser(BANK, restore="sometimes"),
    f"{BANK}: accepts above 6": lambda: chooser(BANK, accepts_above=6),
    f"{BANK}: is locked on input 2": lambda: chooser(BANK, locked_on=2),
    "no timing is called 'card.swich'": lambda: chooser(SCREEN, switch="card.swich"),
    f"{GATE}: no timing is called 'x'": lambda: node(GATE, notice="x"),
    f"{SCREEN}: no timing is called 'y'": lambda: node(SCREEN, keeps_last="y"),
    "main/unit-a#sync: no timing is called 'z'": lambda: node("main/unit-a#sync", holdover="z"),
    "card.switch: 2, 1, 3": lambda: timing("card.switch", 2, 1, 3),
    "card.detect: -1, 1, 3": lambda: timing("card.detect", -1, 1, 3),
    "frame: 0 flicks": lambda: replace(RIG, frame=0),
    "length: 0 flicks": lambda: replace(RIG, length=0),
    f"{LAYER}: 1 caps for 2 inputs": lambda: node(LAYER, caps=(6,)),
    f"{LAYER}: on loss 'panic'": lambda: node(LAYER, on_loss="panic"),
    f"{OUT}: {SCREEN} is no layer of its own thing": lambda: node(OUT, layers=(SCREEN,)),
    f"{OUT}: main/unit-b#sync is no sync of its own thing": lambda: node(
        OUT, sync="main/unit-b#sync"
    ),
    "main/r1c1: no wall is called main/ceiling": lambda: cabinet(wall="ceiling"),
    "main/r1c1: no wall is called side/screen": lambda: cabinet(group="side"),
    "main/r1c1: has no receiving card": lambda: cabinet(cards=()),
    f"main/r1c1: its card '{BANK}' is no display": lambda: cabinet(cards=(BANK,)),
    "main: has no arrangement": lambda: group(arrangements=()),
    "main: stack 0 is not given for each arrangement": lambda: group(
        stacks=({}, *RIG.groups["main"].stacks[1:])
    ),
    f"main: '{BANK}' is no carrier": lambda: group(carriers=(BANK,)),
    f"{OUT}: takes 'encore', which main lacks": lambda: node(OUT, arrangement="encore"),
    f"{OUT}: has no layer 'inset', which main shows": lambda: node(OUT, layers=(LAYER,)),
    "main/r1c1: a cell has stack 9": lambda: group(
        cells=(replace(RIG.groups["main"].cells[0], stack=9), *RIG.groups["main"].cells[1:])
    ),
    "main/r1c1: its cells cover 75 of 100 pixels": lambda: group(
        cells=tuple(c for c in RIG.groups["main"].cells if c != CORNER)
    ),
    "main/r2c2: its cells cover 100 of 0 pixels": lambda: without("cabinets", "main/r2c2"),
    "power: feeds itself": lambda: thing("house-1", powered_by=("house-1",)),
    "signal: feeds itself": lambda: node("main/chain-1/head>", inputs=("main/r1c1/receiver>",)),
}  # fmt: skip


@pytest.mark.parametrize("wanted", list(SPOILT))
def test_a_spoilt_value_is_found_and_named(wanted: str) -> None:
    found = [str(problem) for problem in problems(SPOILT[wanted]())]
    assert [text for text in found if wanted in text], found


def test_all_problems_come_together_and_the_nearest_name_is_offered() -> None:
    bad = replace(thing("main/relay-main", powered_by=("house1",)), frame=0)
    with pytest.raises(InputError) as caught:
        validate(bad)
    assert len(caught.value.problems) == 2
    assert {problem.nearest for problem in caught.value.problems} == {"house-1", ""}


def test_rank_puts_every_node_after_all_that_it_reads() -> None:
    order = rank(RIG)
    assert sorted(order.values()) == list(range(len(RIG.nodes)))
    assert all(order[other] < order[n.name] for n in RIG.nodes.values() for other in n.reads)
    power = power_rank(RIG)
    assert all(power[f] < power[t.name] for t in RIG.things.values() for f in t.powered_by)


def test_a_gate_comes_after_the_tail_it_watches() -> None:
    order = rank(RIG)
    assert order["main/port-backup-1>"] < order[GATE] < order["main/port-backup-1<"]
