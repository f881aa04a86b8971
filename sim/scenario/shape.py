"""What follows from a file's entries: a group's walls, its picture, its layers, its cables.

In: entries (as written, converted). Out: plain values with the gaps filled the unfavourable way:
pixels, chains of (row, column), runs in metres. Both the checks and the plan read from here.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from sim.rig.chains import chains, listed
from sim.rig.kit import Run
from sim.rig.plan import Choice, LayerPlan, Placement, WallPlan
from sim.scenario.entries import ChainsEntry, RunEntry, SourceEntry, WallEntry
from sim.scenario.models import ChoiceEntry, GroupEntry, LayerEntry, ScenarioFile
from sim.scenario.stand_ins import MAINS, PICTURE, UNNAMED

USUAL = "usual"
PARTS = {"whole": (1, 1), "halves": (2, 1), "quadrants": (2, 2)}
"""How many parts across and down a picture has that comes over several links."""

Rectangle = tuple[int, int, int, int]
"""x, y, width, height in pixels."""
Chain = tuple[tuple[int, int], ...]


def walls_of(file: ScenarioFile, group: str) -> tuple[str, ...]:
    """The walls of a group: those that it names, or the wall of its own name."""
    named = file.groups[group].walls
    return named or ((group,) if group in file.walls else ())


def wall_size(wall: WallEntry) -> tuple[int, int]:
    """Pixels across and down."""
    return wall.grid[0] * wall.pixels[0], wall.grid[1] * wall.pixels[1]


def wall_at(file: ScenarioFile, group: str, name: str) -> tuple[int, int]:
    """Where a wall's top left pixel lies in the picture of its group."""
    if file.groups[group].mirrored:
        return (0, 0)
    return file.walls[name].at or (0, 0)


def picture_of(file: ScenarioFile, group: str) -> tuple[int, int]:
    """The group's picture: the smallest size from 0, 0 that holds all its walls, in pixels."""
    spans = [
        (at[0] + size[0], at[1] + size[1])
        for name in walls_of(file, group)
        if name in file.walls
        for at, size in [(wall_at(file, group, name), wall_size(file.walls[name]))]
    ]
    return max((w for w, _ in spans), default=1), max((h for _, h in spans), default=1)


def chains_of(entry: ChainsEntry, wall: WallEntry, where: str = "") -> tuple[Chain, ...]:
    """Chains of a wall, head first. Raises InputError."""
    columns, rows = wall.grid
    if entry.listed:
        return listed(entry.listed, rows, columns, where)
    return chains(
        rows, columns, entry.way or "by column", entry.longest, entry.start, entry.number, where
    )


def wall_plan(file: ScenarioFile, group: str, name: str) -> WallPlan:
    """One wall, its power chains running as its data chains where nothing is said."""
    wall = file.walls[name]
    x, y = wall_at(file, group, name)
    return WallPlan(
        name=name,
        rows=wall.grid[1],
        columns=wall.grid[0],
        cabinet_width=wall.pixels[0],
        cabinet_height=wall.pixels[1],
        chains=chains_of(wall.chains, wall),
        power_chains=chains_of(wall.power or wall.chains, wall),
        circuits=wall.circuits or (circuits_or_first(file, ()),),
        x=x,
        y=y,
    )


def circuits_or_first(file: ScenarioFile, circuits: tuple[str, ...]) -> tuple[str, ...]:
    """What is said, or the one circuit that everything unsaid hangs on."""
    return circuits or (next(iter(file.circuits), MAINS),)


def layers_of(file: ScenarioFile, group: str) -> dict[str, LayerEntry]:
    """The layers of a group as written, or one that shows the first source."""
    source = next(iter(file.sources), PICTURE)
    choice = ChoiceEntry.model_construct(source=source, link=1, same_picture=False)
    usual = LayerEntry.model_construct(choices=(choice,), at=(0, 0), size=None, on_loss=None)
    return dict(file.groups[group].layers) or {PICTURE: usual}


def parts_of(source: SourceEntry | None) -> tuple[int, int]:
    """How many parts across and down the picture of a source comes in."""
    if source is None or source.split is None:
        return (1, 1)
    return PARTS.get(source.split, (source.links or 1, 1))


def tiles(file: ScenarioFile, group: str, layer: str, over: Rectangle) -> Iterator[Placement]:
    """What one written layer means in a rectangle: a placement for each part of its picture."""
    across, down = parts_of(_first_source(file, layers_of(file, group)[layer]))
    x, y, w, h = over
    for number in range(across * down):
        column, row = number % across, number // across
        left, top = w * column // across, h * row // down
        right, bottom = w * (column + 1) // across, h * (row + 1) // down
        name = layer_name(layer, across * down, number + 1)
        yield Placement(name, x + left, y + top, right - left, bottom - top)


def _first_source(file: ScenarioFile, layer: LayerEntry) -> SourceEntry | None:
    return file.sources.get(layer.choices[0].source)


def layer_name(layer: str, parts: int, number: int) -> str:
    """A part of a layer is called `camera 2`; a layer of one part keeps its name."""
    return f"{layer} {number}" if parts > 1 else layer


def layer_plans(file: ScenarioFile, group: str) -> tuple[LayerPlan, ...]:
    """The layers of a group, one for each part of a picture that comes over several links."""
    made = []
    for name, entry in layers_of(file, group).items():
        across, down = parts_of(_first_source(file, entry))
        for number in range(1, across * down + 1):
            choices = tuple(
                Choice(c.source, number if across * down > 1 else c.link, c.same_picture)
                for c in entry.choices
            )
            made.append(
                LayerPlan(layer_name(name, across * down, number), choices, entry.on_loss or "")
            )
    return tuple(made)


def rectangle(
    file: ScenarioFile,
    group: str,
    layer: str,
    at: tuple[int, int] | None,
    size: tuple[int, int] | None,
) -> Rectangle:
    """Where a layer lies: as placed, else as declared, else over the whole picture."""
    entry = layers_of(file, group)[layer]
    return (*(at or entry.at), *(size or entry.size or picture_of(file, group)))


def arrangements_of(file: ScenarioFile, group: str) -> dict[str, tuple[Placement, ...]]:
    """The arrangements of a group, topmost layer first; without any, all layers as declared."""
    entry: GroupEntry = file.groups[group]
    if not entry.arrangements:
        names = layers_of(file, group)
        whole = ((name, rectangle(file, group, name, None, None)) for name in names)
        return {USUAL: tuple(t for name, over in whole for t in tiles(file, group, name, over))}
    return {
        name: tuple(
            tile
            for placed in placements
            for tile in tiles(
                file,
                group,
                placed.layer,
                rectangle(file, group, placed.layer, placed.at, placed.size),
            )
        )
        for name, placements in entry.arrangements.items()
    }


def run_of(file: ScenarioFile, entry: RunEntry | None, splices: int = 0) -> Run:
    """The way of a cable; on no named route it lies on the one unnamed route."""
    if entry is None:
        return Run((UNNAMED,))
    length = entry.length
    if length is None:
        length = sum((file.routes[r].length for r in entry.over if r in file.routes), Fraction(0))
    connectors = 2 if entry.connectors is None else entry.connectors
    return Run(entry.over or (UNNAMED,), length, connectors, entry.splices or splices)
