"""Rigs of a few nodes written by hand, and what a script makes of them; flicks throughout.

In: nodes beside the usual ones. Out: a `Rig` with one cabinet, its line, what the run tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.engine.run import run
from sim.engine.signal import Trace, cell_lines
from sim.faults import Action, Fault, Script
from sim.rig.topology import Carrier, Emit, Gate, Layer, Node, Rig, Select, Selector, Sync, Thing
from tests.handmade import FRAME, HEAD, handmade

END = 1000
SPARE = "spare/out"
"""What a second processor sends."""


def small(*nodes: Node, family: str = "relay") -> Rig:
    """Two sources, a unit and a spare of one layer each, the nodes given, and a card that is fed by
    the node "way"; a node takes the place of the usual one of its name.
    """
    rig = handmade([("way", "relay", (HEAD,))], {"a": ("way",)})
    usual = [
        Emit(name="guest/out", thing="guest", frame=FRAME),
        layer("spare", ("guest/out",)),
        Carrier(name=SPARE, thing="spare", layers=("spare/camera",), arrangement="show"),
    ]
    made = {**rig.nodes, **{node.name: node for node in (*usual, *nodes)}}
    things = {node.thing: Thing(node.thing, family) for node in made.values()}
    return replace(rig, nodes=made, things={**things, **rig.things})


def layer(unit: str, inputs: tuple[str, ...], **more: object) -> Layer:
    caps = (6, 3)[: len(inputs)]
    chosen = Selector(f"{unit}/camera#choice", restore=str(more.pop("restore", "revertive")))
    return Layer(
        name=f"{unit}/camera",
        thing=unit,
        inputs=inputs,
        selector=chosen,
        layer="camera",
        caps=caps,
        **more,  # type: ignore[arg-type]
    )


def played(rig: Rig, events: Sequence[Fault | Action], **values: int) -> Trace:
    faults = tuple(each for each in events if isinstance(each, Fault))
    actions = tuple(each for each in events if isinstance(each, Action))
    return run(rig, Script(faults, actions), values, END)


def line_of(rig: Rig, events: Sequence[Fault | Action], **values: int) -> list[tuple[int, int]]:
    (line,) = cell_lines(rig, played(rig, events, **values)).values()
    return line


def told(trace: Trace, name: str) -> list[tuple[int, str, str]]:
    return [(note.at, note.what, note.detail) for note in trace.notes if note.name == name]


def gated() -> Rig:
    gate = Gate(
        name="gate", thing="gate", inputs=(SPARE,), watch=HEAD, notice="notice",
        wait_to_restore="back",
    )  # fmt: skip
    chosen = Selector("way#choice", restore="revertive")
    return small(gate, Select(name="way", thing="relay", inputs=(HEAD, "gate"), selector=chosen))


def following() -> Rig:
    times = {"holdover": "holdover", "relock": "relock", "relock_glitch": "glitch"}
    chosen = Selector("unit/sync#choice")
    sync = Sync(name="unit/sync", thing="unit", inputs=("clock/out",), selector=chosen, **times)  # type: ignore[arg-type]
    head = Carrier(
        name=HEAD, thing="unit", layers=("unit/camera",), arrangement="show", sync="unit/sync"
    )
    return small(Emit(name="clock/out", thing="clock"), sync, head, family="reference")


def powered() -> Rig:
    """The unit hangs on a circuit that holds up, and that on a feed."""
    rig = gated()
    things = {
        **rig.things,
        "unit": replace(rig.things["unit"], powered_by=("mains",)),
        "mains": Thing("mains", "circuit", powered_by=("feed",), hold_up="hold"),
        "feed": Thing("feed", "cable"),
    }
    return replace(rig, things=things)
