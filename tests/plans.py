"""Small plans for tests: a wall, a group, a show, with every kind of equipment invented.

In: rows, columns, topology, options. Out: frozen plans. Times are flicks at 60 frames a second.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from sim.rig.plan import (
    ArrangementPlan,
    Cabling,
    Choice,
    CircuitPlan,
    GroupPlan,
    Kit,
    LayerPlan,
    Limits,
    Optics,
    Options,
    Placement,
    ReferencePlan,
    Run,
    ShowPlan,
    SourcePlan,
    WallPlan,
)
from sim.timebase import FLICKS, fixed

FRAME = FLICKS // 60
PIXELS = 10


def _times(**fields: int) -> dict[str, Any]:
    return {name: fixed(frames * FRAME) for name, frames in fields.items()}


UNIT = Kit(
    "scaler",
    "processor",
    timings=_times(start=600, detect=3, switch=2, holdover=900, relock=60, relock_glitch=1),
    loop_through="passive",
    delay=Fraction(FRAME),
    price=Fraction(1000),
    crew=1,
    limits=Limits(ports=16, trunks=4, inputs=4),
)
RELAY = Kit(
    "fibre box",
    "relay",
    timings=_times(start=300, detect=1, switch=5, wait_to_restore=50, notice=4, return_wait=8),
    price=Fraction(200),
    limits=Limits(ports=16, trunk_inputs=4, buffer=FRAME),
)
RECEIVER = Kit(
    "card",
    "receiver",
    timings=_times(start=120, detect=2, switch=1),
    hop=Fraction(100),
    price=Fraction(5),
)
FIBRE = Kit(
    "fibre",
    "fibre",
    index=Fraction("1.4676"),
    optics=Optics(budget=6200, per_km=400, per_connector=500),
    price_per_metre=Fraction(1, 2),
)
COPPER = Kit("copper", "copper", limits=Limits(reach=Fraction(100)), price=Fraction(1))
KITS = {
    "unit": UNIT,
    "relay": RELAY,
    "receiver": RECEIVER,
    "trunk": FIBRE,
    "patch": COPPER,
    "port": Kit("output", "port", price=Fraction(0)),
    "jumper": Kit("jumper", "jumper", price=Fraction(1)),
    "supply": Kit("supply", "supply", timings=_times(start=30), price=Fraction(0)),
    "power-jumper": Kit("mains lead", "power-jumper"),
}
CAMERA = Kit("camera", "source", price=Fraction(0))
GENERATOR = Kit("generator", "reference", price=Fraction(0))
SPLITTER = Kit("splitter", "distributor", price=Fraction(50))


def wall(rows: int, columns: int, name: str = "screen", **more: Any) -> WallPlan:
    """A wall with one data chain for each column, top down, and one power chain for each row."""
    return WallPlan(
        name, rows, columns, PIXELS, PIXELS,
        chains=tuple(tuple((r, c) for r in range(rows)) for c in range(columns)),
        power_chains=tuple(tuple((r, c) for c in range(columns)) for r in range(rows)),
        circuits=(("house-1", "house-2"), ("house-2", "house-1")),
        **more,
    )  # fmt: skip


def group(*walls: WallPlan, name: str = "main", **more: Any) -> GroupPlan:
    """A group with a layer over the whole picture and an inset in its top left corner."""
    first = walls[0]
    whole = Placement("camera", 0, 0, first.columns * PIXELS, first.rows * PIXELS)
    inset = Placement("inset", 0, 0, PIXELS // 2, PIXELS // 2)
    plan = GroupPlan(
        name=name,
        walls=walls,
        layers=(
            LayerPlan("camera", (Choice("cam"), Choice("spare-cam"))),
            LayerPlan("inset", (Choice("results"),), on_loss="uncovered"),
        ),
        arrangements=(ArrangementPlan("show", (inset, whole)), ArrangementPlan("all", (whole,))),
        kits=KITS,
        mirrored=len(walls) > 1,
        cabling=Cabling(
            trunk_main=Run(("north",), Fraction(1200)),
            trunk_backup=Run(("south",), Fraction(1500)),
            head=Run((), Fraction(10)),
            tail=Run((), Fraction(20)),
        ),
        powered=(("unit-*", ("house-1", "house-2")), ("*relay-*", ("house-2", "house-1"))),
        references=("sync-1", "sync-2"),
    )
    return replace(plan, **more)


def source(name: str, **more: Any) -> SourcePlan:
    """A source on house-1 that is split for further units."""
    plan = SourcePlan(
        name, CAMERA, COPPER, frame=FRAME, circuits=("house-1",), distributor=SPLITTER
    )
    return replace(plan, **more)


def show(*groups: GroupPlan, **more: Any) -> ShowPlan:
    """A show of ten seconds with three sources, two references and two circuits."""
    plan = ShowPlan(
        frame=FRAME,
        length=10 * FLICKS,
        groups=groups,
        sources=(source("cam"), source("spare-cam"), source("results")),
        references=(
            ReferencePlan("sync-1", GENERATOR, COPPER, ("house-1",)),
            ReferencePlan("sync-2", GENERATOR, COPPER, ("house-2",)),
        ),
        circuits=(CircuitPlan("house-1"), CircuitPlan("house-2", hold_up=fixed(FLICKS))),
    )
    return replace(plan, **more)


def main(topology: str, rows: int = 3, columns: int = 4, **more: Any) -> ShowPlan:
    """A show with one wall; `options` may be given as a mapping."""
    options = Options(**more.pop("options", {}))
    return show(group(wall(rows, columns), topology=topology, options=options, **more))


def banks(topology: str, **more: Any) -> ShowPlan:
    """A show with two mirrored walls of 2 by 2."""
    options = Options(**more.pop("options", {}))
    walls = (wall(2, 2, "left"), wall(2, 2, "right"))
    return show(group(*walls, name="banks", topology=topology, options=options, **more))
