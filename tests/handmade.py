"""Rigs built by hand from links and choices, small enough to be worked out on paper.

In: links as (name, thing, inputs): one input hands on, several choose the first that is there, at
once. Out: a checked `Rig` of one source, one processor (thing "unit") and the links from it to the
cabinets; hazards that strike its things; a `Field` ready for shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from sim.faults import Fault
from sim.rig.terms import Terms
from sim.rig.topology import (
    Cabinet,
    Carrier,
    Cell,
    Display,
    Emit,
    Group,
    Layer,
    Node,
    Pass,
    Placement,
    Rig,
    Select,
    Selector,
    Thing,
)
from sim.rig.validator import validate
from sim.risk.field import Endings, Field, localised
from sim.risk.hazards import Hazard, position
from sim.risk.scenes import Scenes
from sim.risk.shows import Union, union_of
from sim.risk.stretches import Gauge, moments
from sim.risk.values import values_of
from sim.study.strikes import Strike
from sim.timebase import FLICKS

FRAME = FLICKS // 50
SIDE = 10
"""Pixels of a cabinet's side."""
Link = tuple[str, str, tuple[str, ...]]
HEAD = "unit/out"
"""What the processor sends; every other link comes from here."""


def handmade(
    links: Sequence[Link], ends: Mapping[str, tuple[str, ...]], seconds: int = 1000
) -> Rig:
    """`ends`: for each cabinet, in a row, the links that its card chooses among."""
    nodes = [*_head(), *(_link(*link) for link in links), *(_card(n, e) for n, e in ends.items())]
    names = dict.fromkeys(node.thing for node in nodes)
    cabinets = {
        name: Cabinet(name, "wall", "screen", 0, column, (f"{name}/card",))
        for column, name in enumerate(ends)
    }
    rig = Rig(
        frame=FRAME,
        length=seconds * FLICKS,
        things={name: Thing(name, _family(name, nodes), group="wall") for name in names},
        nodes={node.name: node for node in nodes},
        cabinets=cabinets,
        groups={"wall": _group(tuple(ends))},
        timings={},
    )
    return validate(rig)


def _head() -> list[Node]:
    return [
        Emit(name="camera/out", thing="camera", frame=FRAME),
        Layer(
            name="unit/camera",
            thing="unit",
            inputs=("camera/out",),
            selector=Selector("unit/camera#choice"),
            layer="camera",
            caps=(6,),
        ),
        Carrier(name=HEAD, thing="unit", layers=("unit/camera",), arrangement="show"),
    ]


def _link(name: str, thing: str, inputs: tuple[str, ...]) -> Node:
    if len(inputs) == 1:
        return Pass(name=name, thing=thing, inputs=inputs)
    return Select(name=name, thing=thing, inputs=inputs, selector=Selector(f"{name}#choice"))


def _card(cabinet: str, inputs: tuple[str, ...]) -> Node:
    chosen = Selector(f"{cabinet}#choice")
    return Display(name=f"{cabinet}/card", thing=cabinet, inputs=inputs, selector=chosen)


def _family(thing: str, nodes: Iterable[Node]) -> str:
    (kind, *_) = [type(node) for node in nodes if node.thing == thing]
    families = {Emit: "source", Layer: "processor", Select: "relay", Display: "receiver"}
    return families.get(kind, "jumper")


def _group(cabinets: Sequence[str]) -> Group:
    width = SIDE * len(cabinets)
    return Group(
        name="wall",
        topology="by hand",
        walls={"screen": (1, len(cabinets), SIDE, SIDE)},
        arrangements=("show",),
        stacks=({"show": (Placement("camera", 0, 0, width, SIDE),)},),
        cells=tuple(Cell(c, n * SIDE, 0, SIDE, SIDE, 0) for n, c in enumerate(cabinets)),
        carriers=(HEAD,),
    )


# ---- what strikes it -----------------------------------------------------------------------------


def dead(thing: str, mass: float, **more: object) -> Hazard:
    """A thing that dies, so many times a show on average (`early=True`: before it)."""
    strike = Strike(thing, "dead", (Fault(thing, "dead", 0),), thing)
    return replace(Hazard(f"{thing} dead", (strike,), mass), **more)  # type: ignore[arg-type]


def all_dead(name: str, things: Sequence[str], mass: float, **more: object) -> Hazard:
    """One cause that strikes several things at once."""
    strikes = tuple(Strike(t, "dead", (Fault(t, "dead", 0),), t) for t in things)
    return replace(Hazard(name, strikes, mass), **more)  # type: ignore[arg-type]


def nobody(struck: Sequence[object], blows: object) -> Sequence[object]:
    """Nothing is mended."""
    return struck


def field_of(
    rig: Rig,
    hazards: Sequence[Hazard],
    terms: Terms | None = None,
    union: Union | None = None,
    endings: Endings = nobody,  # type: ignore[assignment]
    label: str = "by hand",
    group: str = "wall",
) -> Field:
    """A rig ready for shows. `union`: of the hazards of all topologies."""
    terms = terms or Terms()
    scenes = Scenes(rig, group, hazards, terms)
    whole = rig.length // rig.frame * rig.frame
    gauge = Gauge(scenes.asked, rig.frame, whole, moments(terms.weights))
    return Field(
        label=label,
        scenes=scenes,
        gauge=gauge,
        values=values_of(gauge, terms),
        terms=terms,
        local=localised(union or union_of([hazards]), scenes),
        place=lambda number, u: position(hazards[number], u, whole),
        endings=endings,
        mends=endings is not nobody,
    )


def column(field: Field, key: str) -> int:
    """Where a value stands in a table."""
    return [value.key for value in field.values].index(key)
