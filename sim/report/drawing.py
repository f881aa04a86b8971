"""A rig as one picture: the chain of equipment from sources to walls, and below it each wall.

In: a frozen `Rig`, and the things or routes to mark, with the faults that take the whole picture.
Out: an SVG document as text, the same bytes for the same rig. Texts stay texts; every name is
escaped; nothing is told by a hue. Sizes are pixels.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.report import svg
from sim.report.equipment_drawing import LINE, draw_equipment, sizes, top
from sim.report.layering import Plan, plan
from sim.report.scheme import NONE, Marks, Scheme, scheme
from sim.report.wall_drawing import WallView, draw_wall, wall_size
from sim.report.ways import chain_lines, fed_by, short
from sim.report.words import wall_words
from sim.rig.topology import Cabinet, Group, Rig

EDGE = 28.0
"""Pixels around everything."""
LEAST_WIDE = 640.0
APART = 36.0
HOW = (
    "Solid line: carries the picture while nothing has failed. Dashed line: backup.",
    "On a wall: a dot is the head of a chain, a bar its tail.",
    "Drawn from the scenario: check it against what has been built.",
)
MARKED = "Heavy outline, takes all: one such fault of it takes the whole picture of a wall group."
CAUTIONS = (
    "For planning only: test the real backup before the show. Electrical and rigging work only by "
    "qualified people under local codes; isolate before touching.",
    "Never look into a fibre or a connector: the light is invisible and harms the eye.",
)


@dataclass(frozen=True, slots=True)
class Block:
    """A part of the picture with the pixels that it takes, its top left corner at (0, 0)."""

    parts: tuple[str, ...]
    wide: float
    tall: float


def draw(rig: Rig, single: Marks = NONE, ident: str = "rig") -> str:
    """The rig as SVG. `single`: things or routes to be marked, with their faults; `ident` begins
    the element ids.

    Raises InputError if `single` names no thing and no route of the rig.
    """
    made = scheme(rig, single)
    laid = plan(sizes(made), made.edges, top(made))
    walls = [_wall(view) for view in _views(rig, made, single)]
    blocks = [_equipment(made, laid), *walls]
    wide = max(LEAST_WIDE, *(block.wide for block in blocks))
    blocks.append(_notes(rig, made, laid, single, wide))
    title = f"Rig: {'; '.join(f'{g.name}, {g.topology}' for g in rig.groups.values())}"
    shown = svg.shorten(title, wide, svg.TITLE, bold=True)
    parts, bottom = [svg.text(EDGE, EDGE + 14, shown, svg.TITLE, "ink bold")], EDGE + 44
    for x, y, block in _shelves(blocks, wide):
        bottom = max(bottom, EDGE + 44 + y + block.tall)
        parts.append(svg.moved(block.parts, EDGE + x, EDGE + 44 + y))
    return svg.page(parts, (wide + 2 * EDGE, bottom + EDGE), title, _told(made), ident)


def _shelves(blocks: list[Block], wide: float) -> Iterator[tuple[float, float, Block]]:
    """Blocks side by side as far as they fit, the rest below."""
    x = y = tall = 0.0
    for block in blocks:
        if x and x + block.wide > wide:
            x, y, tall = 0.0, y + tall + APART, 0.0
        yield x, y, block
        x, tall = x + block.wide + APART, max(tall, block.tall)


def _told(made: Scheme) -> str:
    """The picture in words: what feeds what."""
    items = made.items
    return " ".join(
        f"{items[one].title} feeds {items[other].title}{' (backup)' if backup else ''}."
        for (one, other), backup in made.edges.items()
    )


def _equipment(made: Scheme, laid: Plan) -> Block:
    wide = laid.left[-1] + laid.wide[-1] if laid.left else 0.0
    return Block(tuple(draw_equipment(made, laid)), wide, laid.height)


def _views(rig: Rig, made: Scheme, single: Marks) -> Iterator[WallView]:
    chains = chain_lines(rig)
    for group in rig.groups.values():
        for wall, (rows, columns, *pixels) in group.walls.items():
            cabinets = [c for c in rig.cabinets.values() if (c.group, c.wall) == (group.name, wall)]
            numbers = {(c.row, c.column): _power(rig, made, c) for c in cabinets}
            alike = len(set(numbers.values())) == 1
            yield WallView(
                title=wall_words(wall),
                about=_about(group, wall, next(iter(numbers.values())) if alike else ""),
                rows=rows,
                columns=columns,
                cabinet=(pixels[0], pixels[1]),
                chains=tuple(c for c in chains if (c.group, c.wall) == (group.name, wall)),
                numbers={} if alike else numbers,
                marked=frozenset(
                    (c.row, c.column) for c in cabinets if _parts(rig, c) & single.keys()
                ),
                names={(c.row, c.column): c.name for c in cabinets},
            )


def _about(group: Group, wall: str, power: str) -> str:
    rows, columns, wide, tall = group.walls[wall]
    text = f"{columns} x {rows} cabinets of {wide} x {tall} pixels, group {group.name}"
    return text + (f"; power {power} to all" if power else "")


def _parts(rig: Rig, cabinet: Cabinet) -> set[str]:
    """A cabinet's receivers and supplies."""
    cards = [rig.nodes[card].thing for card in cabinet.cards]
    fed = [name for card in cards for name in rig.things[card].powered_by]
    return {*cards, *(name for name in fed if rig.things[name].family == "supply")}


def _power(rig: Rig, made: Scheme, cabinet: Cabinet) -> str:
    cards = [rig.nodes[card].thing for card in cabinet.cards]
    found = {name for card in cards for name in fed_by(rig, card)}
    return " ".join(sign for name, sign in made.numbers.items() if name in found)


def _wall(view: WallView) -> Block:
    return Block(tuple(draw_wall(view)), *wall_size(view))


def _notes(rig: Rig, made: Scheme, laid: Plan, single: Marks, wide: float) -> Block:
    """What the signs mean, the circuits by number, and what the picture leaves out."""
    notes = [*HOW, *([MARKED] if single else []), *CAUTIONS]
    notes += filter(None, [circuits_told(rig, made, single)])
    controls = [short(rig, t.name) for t in rig.things.values() if t.family == "control-link"]
    if controls:
        notes.append(f"Control links (they carry no picture): {', '.join(controls)}.")
    if laid.left_out:
        pairs = [f"{made.items[a].title} to {made.items[b].title}" for a, b in laid.left_out]
        notes.append(f"Not drawn, for it would run backwards: {', '.join(pairs)}.")
    words = [[svg.shorten(word, wide, svg.SMALL) for word in note.split()] for note in notes]
    lines = [line for note in words for line in svg.wrap(note, wide, svg.SMALL)]
    texts = (svg.text(0, LINE * n + 11, line, look="dim") for n, line in enumerate(lines))
    return Block(tuple(texts), wide, LINE * len(lines))


def circuits_told(rig: Rig, made: Scheme, single: Marks = NONE) -> str:
    """The circuits by the numbers that the drawing has for them; empty if there are none."""
    circuits = [_circuit(rig, made, name, single) for name in made.numbers]
    return f"Power circuits: {'; '.join(circuits)}." if circuits else ""


def _circuit(rig: Rig, made: Scheme, name: str, single: Marks) -> str:
    above = rig.things[name].powered_by
    fed = f"fed by {', '.join(made.numbers[each] for each in above)}" if above else ""
    held_up = rig.timings.get(rig.things[name].hold_up)
    held = "held up for a time" if held_up and held_up.most else ""
    told = ", ".join(filter(None, [fed, held, _marked(single, name)]))
    sign = made.numbers[name]
    called = f"power {sign}" if sign == name else f"power {sign} = {name}"
    return f"{called}{f' ({told})' if told else ''}"


def _marked(single: Marks, name: str) -> str:
    return f"takes all: {single[name]}" if name in single else ""
