"""What the break bench's templates take: drawings of the rigs, walls of spots, data, script, style.

In: the bench's data (a document as `bench_data` has it) and the topologies that they are of. Out:
a frozen `Bench` of finished markup, in which every name is escaped; the script and the style as
texts. No drawing has a script, a style or an id of its own. Sizes are pixels.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from sim.report import svg
from sim.report.bench_wall import draw_spots
from sim.report.equipment_drawing import draw_equipment, sizes, top
from sim.report.layering import plan
from sim.report.scheme import Scheme, scheme
from sim.report.words import harmless
from sim.rig.cuts import named
from sim.rig.topology import Rig, selectors
from sim.study.effects import Canvas
from sim.study.screen import spots

SCRIPTS = (
    "bench_data", "bench_clock", "bench_flash", "bench_find", "bench_ruler", "bench_draw",
    "bench_pane", "bench_tables", "bench_play", "bench_link", "bench_pick", "bench_choosers",
    "bench_stage", "bench",
)  # fmt: skip
"""Parts of the script, in order: one scope holds them all."""
ESCAPED = str.maketrans(
    {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}
)
EDGE = 8.0


@dataclass(frozen=True, slots=True)
class Shape:
    """A drawing with the id that the data know it by."""

    ident: str
    markup: str


@dataclass(frozen=True, slots=True)
class Bench:
    """Markup for `bench.html`: walls, drawings of equipment, and two documents as JSON."""

    walls: tuple[Shape, ...]
    drawings: tuple[Shape, ...]
    data: str
    places: str


def bench(data: Mapping[str, Any], rigs: Sequence[Rig]) -> Bench:
    """`data`: a document of topologies; `rigs`: the rig of each of them, in their order."""
    pairs = [*zip(data["topologies"], rigs, strict=True)]
    return Bench(
        walls=tuple(_walls(data, rigs)),
        drawings=tuple(Shape(f"{told['id']}-drawing", draw_items(rig)) for told, rig in pairs),
        data=embedded(data),
        places=embedded({told["id"]: places(told, rig) for told, rig in pairs}),
    )


def _walls(data: Mapping[str, Any], rigs: Sequence[Rig]) -> Iterator[Shape]:
    of = [told["group"] for told in data["topologies"]]
    for number, told in enumerate(data["groups"]):
        rig = rigs[of.index(number)]
        group = next(g for name, g in rig.groups.items() if harmless(name) == told["name"])
        all_spots = spots(Canvas(rig, group))
        for wall, name in zip(told["walls"], group.walls, strict=True):
            yield Shape(wall["id"], draw_spots(rig, group, name, all_spots))


def draw_items(rig: Rig) -> str:
    """The equipment from sources to walls; `data-item` counts the items of `scheme(rig)`."""
    made = scheme(rig)
    laid = plan(sizes(made), made.edges, top(made))
    sides = (laid.left[-1] + laid.wide[-1] if laid.left else 0.0, laid.height)
    wide, tall = (svg.number(side + 2 * EDGE) for side in sides)
    head = (
        '<svg xmlns="http://www.w3.org/2000/svg" class="bench-drawing"'
        f' viewBox="0 0 {wide} {tall}" width="{wide}" height="{tall}" font-family="sans-serif"'
        ' role="group" aria-label="equipment, from sources to walls">'
    )
    return "\n".join([head, svg.moved(draw_equipment(made, laid), EDGE, EDGE + 8), "</svg>"])


def places(told: Mapping[str, Any], rig: Rig) -> list[list[int]]:
    """For each item of the drawing, what has a name beyond the things that it stands for: their
    selectors and routes, as numbers of the topology's names.
    """
    numbers = {name: number for number, name in enumerate(told["names"])}
    return [
        sorted({numbers[name] for name in names if name in numbers})
        for names in _beyond(rig, scheme(rig))
    ]


def _beyond(rig: Rig, made: Scheme) -> Iterator[list[str]]:
    """For each item the selectors in its things and the routes that they lie on."""
    choosing: dict[str, list[str]] = {}
    for selector, node in selectors(rig):
        choosing.setdefault(node.thing, []).append(harmless(selector.name))
    for item in made.items.values():
        inside = [name for thing in item.names for name in choosing.get(thing, ())]
        routes = [
            harmless(named(route)) for thing in item.names for route in rig.things[thing].routes
        ]
        yield [*inside, *routes]


def embedded(document: object) -> str:
    """JSON as it may stand in a page: none of its characters can end a script or begin a tag."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"))
    return text.translate(ESCAPED)


def style() -> str:
    """The bench's rules of style; colours are variables of the page."""
    return _read("bench.css")


def script() -> str:
    """The bench's script: all parts in one scope of their own."""
    parts = "\n".join(_read(f"{name}.js") for name in SCRIPTS)
    return f"(() => {{\n'use strict';\n{parts}}})();\n"


def _read(name: str) -> str:
    return files("sim.report").joinpath("templates", name).read_text(encoding="utf-8")
