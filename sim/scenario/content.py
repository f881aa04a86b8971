"""Whether what a group shows, and the topologies it is given, fit: layers, regions, variants.

In: a file under check. Out: problems in five parts, by the rules in `RULES`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatchcase

from sim.errors import nearest_name
from sim.scenario.assumed import nodes_of
from sim.scenario.checks import Checked, Found
from sim.scenario.entries import WallEntry
from sim.scenario.formed import form_problems
from sim.scenario.messages import Path
from sim.scenario.models import GroupEntry, RegionEntry, ScenarioFile, VariantEntry
from sim.scenario.shape import layers_of, parts_of, picture_of, rectangle, wall_size, walls_of
from sim.scenario.stated import LimitEntry
from sim.timebase import Rate, show_time, whole_frames

CABINETS = re.compile(r"r(\d{1,6})c(\d{1,6})(?:\s*\.\.\s*r(\d{1,6})c(\d{1,6}))?", re.ASCII)


def layers(on: Checked) -> Found:
    """Layers lie in the picture and take links that there are; arrangements use own layers."""
    file = on.file
    for group, entry in file.groups.items():
        known = walls_of(file, group)
        if not known or not all(name in file.walls for name in known):
            continue
        for name, layer in entry.layers.items():
            path: Path = ("groups", group, "layers", name)
            yield from _inside(on, path, group, name, layer.at, layer.size)
            taken: set[tuple[str, int]] = set()
            for number, choice in enumerate(layer.choices):
                if (choice.source, choice.link) in taken:
                    yield on.wrong(
                        (*path, "from", number),
                        f"link {choice.link} of {choice.source} a second time",
                        "each link once",
                        todo="delete one of the two",
                    )
                taken.add((choice.source, choice.link))
                source = file.sources.get(choice.source)
                if source and choice.link > (source.links or 1):
                    yield on.wrong(
                        (*path, "from", number),
                        f"link {choice.link} of {choice.source}",
                        f"1 to {source.links or 1}",
                        todo="correct link, or links of the source",
                    )
        yield from _arrangements(on, group, entry)
        yield from _parts(on, group)


def _parts(on: Checked, group: str) -> Found:
    """A picture that comes in parts is large enough to have a pixel in each."""
    for name, layer in layers_of(on.file, group).items():
        source = on.file.sources.get(layer.choices[0].source)
        _, _, w, h = rectangle(on.file, group, name, layer.at, layer.size)
        across, down = parts_of(source)
        if w < across or h < down:
            yield on.wrong(
                ("groups", group, "layers", name),
                f"{w} x {h} px in {across} x {down} parts",
                "at least a pixel in each part",
                todo="make the layer larger, or correct links and split of its source",
            )


def _inside(
    on: Checked, path: Path, group: str, layer: str,
    at: tuple[int, int] | None, size: tuple[int, int] | None,
) -> Found:  # fmt: skip
    width, height = picture_of(on.file, group)
    x, y, w, h = rectangle(on.file, group, layer, at, size)
    if x + w > width or y + h > height:
        yield on.wrong(
            path,
            f"{w} x {h} px at {x}, {y} reaches beyond the picture",
            f"within {width} x {height} px",
            todo="correct at or size",
        )


def _arrangements(on: Checked, group: str, entry: GroupEntry) -> Found:
    known = layers_of(on.file, group)
    for name, placements in entry.arrangements.items():
        for number, placed in enumerate(placements):
            path = ("groups", group, "arrangements", name, number)
            if placed.layer not in known:
                yield on.wrong(
                    path,
                    f"{placed.layer!r} is no layer of group {group}",
                    ", ".join(known),
                    nearest_name(placed.layer, known),
                    "name a layer of this group",
                )
            elif placed.at or placed.size:
                yield from _inside(on, path, group, placed.layer, placed.at, placed.size)


def regions(on: Checked) -> Found:
    """Each region is given in one way and lies on its wall."""
    for name, region in on.file.regions.items():
        wall = on.file.walls.get(region.wall)
        if wall is None:
            continue
        path: Path = ("regions", name)
        by_pixels = region.at is not None and region.size is not None
        if by_pixels == (region.cabinets is not None) or (region.at is None) != (
            region.size is None
        ):
            yield on.wrong(
                path,
                "a region that is not given in one way",
                "cabinets: r1c1..r3c4, or at and size in pixels",
                todo="write one of the two",
            )
            continue
        found = region_pixels(region, wall.pixels)
        if found is None:
            yield on.wrong(
                (*path, "cabinets"),
                f"{region.cabinets!r} are no cabinets",
                "r1c1..r3c4, counted from 1, top left first",
                todo="write two cabinets with .. between",
            )
            continue
        yield from _lies_on(on, path, region, wall, found)


def _lies_on(
    on: Checked, path: Path, region: RegionEntry, wall: WallEntry, found: tuple[int, int, int, int]
) -> Found:
    x, y, w, h = found
    width, height = wall_size(wall)
    if region.cabinets and (w < 1 or h < 1):
        yield on.wrong(
            (*path, "cabinets"),
            f"{region.cabinets!r} runs backwards",
            "from the top left cabinet to the bottom right one, as r1c1..r3c4",
            todo="write the top left cabinet first",
        )
    elif w < 1 or h < 1 or x + w > width or y + h > height:
        yield on.wrong(
            path,
            f"region {path[-1]!r} reaches beyond wall {region.wall}",
            f"within {width} x {height} px, {wall.grid[0]} x {wall.grid[1]} cabinets",
            todo="correct it",
        )


def region_pixels(
    region: RegionEntry, cabinet: tuple[int, int]
) -> tuple[int, int, int, int] | None:
    """A region as x, y, width, height in wall pixels; None if its cabinets cannot be read."""
    if region.at is not None and region.size is not None:
        return (*region.at, *region.size)
    found = CABINETS.fullmatch(region.cabinets or "")
    if not found or "0" in (found[1], found[2]):
        return None
    top, left = int(found[1]), int(found[2])
    bottom, right = (int(found[3]), int(found[4])) if found[3] else (top, left)
    w, h = cabinet
    return ((left - 1) * w, (top - 1) * h, (right - left + 1) * w, (bottom - top + 1) * h)


def variants(on: Checked) -> Found:
    """Each variant of a group has its own label; written-out nodes are fed by each other."""
    for group, entry in on.file.groups.items():
        seen: set[str] = set()
        for path, variant in variant_entries(group, entry):
            label = label_of(variant)
            if label in seen:
                yield on.wrong(
                    path,
                    f"{label!r} a second time",
                    "each variant with a label of its own",
                    todo="delete it, or add label:",
                )
            seen.add(label)
            if variant.form:
                yield from form_problems(on, (*path, "form"), variant.form)


def variant_entries(group: str, entry: GroupEntry) -> Iterator[tuple[Path, VariantEntry]]:
    """The topology offered and those held against it, with their places in the file."""
    yield ("groups", group, "offered"), entry.offered
    for number, variant in enumerate(entry.against):
        yield ("groups", group, "against", number), variant


EITHER = ("unit-a", "unit-b", "relay-main", "relay-backup")
"""What most topologies have: what feeds it may be said even if no variant here has it."""
OPTION_NAMES = ("routes", "power", "references", "fallback")


def label_of(variant: VariantEntry) -> str:
    """Its own label, or the topology and what is varied on it."""
    varied = [f"{getattr(variant, o)} {o}" for o in OPTION_NAMES if getattr(variant, o) != "given"]
    varied += ["two cards"] if variant.cards == 2 else []
    varied += ["seamless"] if variant.seamless else []
    varied += ["gated returns"] if variant.returns == "gated" else []
    return variant.label or ", ".join([variant.topology, *varied])


def limit_label(entry: LimitEntry, rate: Rate, file: ScenarioFile) -> str:
    """A limit that has no label of its own, in words: `for more than 5 s (299 frames)`."""
    frames = whole_frames(entry.time, rate)
    counted, said = f"{frames} frame{'s' * (frames != 1)}", show_time(entry.time, rate)
    kind = "region" if entry.of in file.regions else "wall"
    kind = "audience area" if entry.of in file.audience else kind
    of = f"the {entry.of}" if entry.of in ("wall", "group") else f'{kind} "{entry.of}"'
    return (
        f"no {entry.any} makes more than {float(entry.over * 100):.6g} % of {of} {entry.state} for "
        f"more than {counted if said == counted or not entry.time else f'{said} ({counted})'}"
    )


def patterns(on: Checked) -> Found:
    """What a group says by pattern must be able to match one of its units or relays."""
    for group, entry in on.file.groups.items():
        known = sorted({*nodes_of(on.file, group), *EITHER})
        for key in ("power", "own_references"):
            for pattern in getattr(entry, key):
                if not any(fnmatchcase(name, pattern) for name in known):
                    yield on.wrong(
                        ("groups", group, key, pattern),
                        f"{pattern!r} matches no unit and no relay",
                        ", ".join(known),
                        nearest_name(pattern, known),
                        "correct the name",
                    )


def own_timings(on: Checked) -> Found:
    """Timings of single things: names begin with a group, or are those of a feed or circuit."""
    file = on.file
    known = {*file.groups, *file.sources, *file.references, *file.circuits, *file.controls}
    complete = all(on.whole(s) for s in ("groups", "sources", "references", "circuits", "controls"))
    for name in file.timings:
        if complete and name.partition("/")[0] not in known:
            yield on.wrong(
                ("timings", name),
                f"{name!r} is no thing of this rig",
                "as main/relay-main, or the name of a source, reference or circuit",
                nearest_name(name, known),
                "begin with the name of the group",
            )


def shares(on: Checked) -> Found:
    """What a group shares is a unit or relay that another group has."""
    file = on.file
    for group, entry in file.groups.items():
        others = [name for name in file.groups if name != group]
        known = [f"{other}/{node}" for other in others for node in nodes_of(file, other)]
        for key, target in entry.shared.items():
            if target not in known and on.whole("groups"):
                yield on.wrong(
                    ("groups", group, "shared", key),
                    f"{target!r} is no unit or relay of another group",
                    ", ".join(known) or "nothing: there is no other group",
                    nearest_name(target, known),
                    "name it with its group, as main/unit-a",
                )


RULES = (layers, regions, variants, patterns, own_timings, shares)
