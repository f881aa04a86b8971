"""Whether what a group shows, and what carries it, fits: layers, regions, sources, equipment, cables.

In: a file under check. Out: problems in five parts, by the rules in `RULES`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatchcase

from sim.equipment import TYPES
from sim.errors import Problem, nearest_name
from sim.forms import FORMS
from sim.scenario_checks import Checked, Found
from sim.scenario_kits import family_of, kit_of, lineage
from sim.scenario_messages import Path
from sim.scenario_models import FormEntry, GroupEntry, RegionEntry, SourceEntry, VariantEntry
from sim.scenario_shape import layers_of, picture_of, rectangle, wall_size, walls_of

ROLE_FAMILY = {
    "unit": "processor", "relay": "relay", "receiver": "receiver", "port": "port",
    "trunk": "fibre", "patch": "copper", "jumper": "jumper", "supply": "supply",
    "power-jumper": "power-jumper",
}  # fmt: skip
NEEDED_LINKS = {"whole": 1, "halves": 2, "quadrants": 4}
CABINETS = re.compile(r"r(\d{1,6})c(\d{1,6})(?:\s*\.\.\s*r(\d{1,6})c(\d{1,6}))?")


def layers(on: Checked) -> Found:
    """Layers lie in the picture and take links that their sources have; arrangements use own layers."""
    file = on.file
    for group, entry in file.groups.items():
        if not all(name in file.walls for name in walls_of(file, group)):
            continue
        for name, layer in entry.layers.items():
            path: Path = ("groups", group, "layers", name)
            yield from _inside(on, path, group, name, layer.at, layer.size)
            for number, choice in enumerate(layer.choices):
                source = file.sources.get(choice.source)
                if source and choice.link > (source.links or 1):
                    yield on.wrong((*path, "from", number), f"link {choice.link} of {choice.source}",
                                   f"1 to {source.links or 1}", todo="correct link, or links of the source")  # fmt: skip
        yield from _arrangements(on, group, entry)


def _inside(
    on: Checked, path: Path, group: str, layer: str,
    at: tuple[int, int] | None, size: tuple[int, int] | None,
) -> Found:  # fmt: skip
    width, height = picture_of(on.file, group)
    x, y, w, h = rectangle(on.file, group, layer, at, size)
    if x + w > width or y + h > height:
        yield on.wrong(path, f"{w} x {h} px at {x}, {y} reaches beyond the picture",
                       f"within {width} x {height} px", todo="correct at or size")  # fmt: skip


def _arrangements(on: Checked, group: str, entry: GroupEntry) -> Found:
    known = layers_of(on.file, group)
    for name, placements in entry.arrangements.items():
        for number, placed in enumerate(placements):
            path = ("groups", group, "arrangements", name, number)
            if placed.layer not in known:
                yield on.wrong(path, f"{placed.layer!r} is no layer of group {group}", ", ".join(known),
                               nearest_name(placed.layer, known), "name a layer of this group")  # fmt: skip
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
        if by_pixels == (region.cabinets is not None) or (region.at is None) != (region.size is None):
            yield on.wrong(path, "a region that is not given in one way",
                           "cabinets: r1c1..r3c4, or at and size in pixels", todo="write one of the two")  # fmt: skip
            continue
        found = region_pixels(region, wall.pixels)
        if found is None:
            yield on.wrong((*path, "cabinets"), f"{region.cabinets!r} are no cabinets",
                           "r1c1..r3c4, counted from 1, top left first", todo="write two cabinets with .. between")  # fmt: skip
            continue
        x, y, w, h = found
        width, height = wall_size(wall)
        if w < 1 or h < 1 or x + w > width or y + h > height:
            yield on.wrong(path, f"region {name!r} reaches beyond wall {region.wall}",
                           f"within {wall.grid[0]} x {wall.grid[1]} cabinets of {wall.pixels[0]} x {wall.pixels[1]} px",
                           todo="correct it")  # fmt: skip


def region_pixels(region: RegionEntry, cabinet: tuple[int, int]) -> tuple[int, int, int, int] | None:
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


def sources(on: Checked) -> Found:
    """Links suit the way the picture is split; a second source of one's own is named and another one."""
    for name, source in on.file.sources.items():
        path: Path = ("sources", name)
        links, split = source.links or 1, source.split or "whole"
        if split in NEEDED_LINKS and split != "whole" and links != NEEDED_LINKS[split]:
            yield on.wrong((*path, "links"), f"{links} links for {split}", str(NEEDED_LINKS[split]),
                           todo=f"write links: {NEEDED_LINKS[split]}")  # fmt: skip
        if split == "columns" and links < 2:
            yield on.wrong((*path, "links"), "1 link for columns", "2 or more",
                           todo="write how many columns the picture comes in")  # fmt: skip
        yield from _second(on, path, name, source)


def _second(on: Checked, path: Path, name: str, source: SourceEntry) -> Found:
    others = [other for other in on.file.sources if other != name]
    if source.second == "own" and source.own is None:
        yield on.wrong(path, "second: own, but own is missing", ", ".join(others) or "another source",
                       todo="add own: and the source that the second unit takes")  # fmt: skip
    if source.own is not None and source.second != "own":
        yield on.wrong((*path, "own"), "own without second: own", "own with second: own only",
                       todo="write second: own, or delete own")  # fmt: skip
    if source.own == name:
        yield on.wrong((*path, "own"), f"{name!r} names itself", ", ".join(others) or "another source",
                       todo="name another source")  # fmt: skip


def equipment(on: Checked) -> Found:
    """Every type rests on a generic one, and stands only where its family belongs."""
    file = on.file
    for name, entry in file.equipment.items():
        root = lineage(name, file.equipment)[-1]
        if root not in TYPES and on.whole("equipment"):
            circle = file.equipment[root].like is not None
            yield on.wrong(("equipment", name, "like") if entry.like else ("equipment", name),
                           f"{name!r} is like itself" if circle else f"nothing says what {root!r} is like",
                           ", ".join(TYPES), nearest_name(root, TYPES), "add like: and a generic type")  # fmt: skip
    for path, name, family in _places_of_types(on):
        found = family_of(name, file.equipment)
        allowed = ("copper", "fibre") if family == "cable" else (family,)
        if found and found not in allowed:
            fitting = [t for t in (*TYPES, *file.equipment) if family_of(t, file.equipment) in allowed]
            yield on.wrong(path, f"{name!r} is a {found}", f"a {' or '.join(allowed)}: {', '.join(fitting)}",
                           nearest_name(name, fitting), "name a type of that kind")  # fmt: skip


def _places_of_types(on: Checked) -> Iterator[tuple[Path, str, str]]:
    for group, entry in on.file.groups.items():
        for role, name in entry.kits.items():
            yield ("groups", group, "kits", role), name, ROLE_FAMILY[role]
    for section, family in (("sources", "source"), ("references", "reference")):
        for name, feed in getattr(on.file, section).items():
            if feed.kit:
                yield (section, name, "kit"), feed.kit, family
            if feed.cable:
                yield (section, name, "cable"), feed.cable, "cable"
    for name, source in on.file.sources.items():
        if source.distributor:
            yield ("sources", name, "distributor"), source.distributor, "distributor"


def cables(on: Checked) -> Found:
    """Distances are never assumed: a trunk's way is given, or copper with the length of its heads."""
    for group, entry in on.file.groups.items():
        path: Path = ("groups", group, "cables")
        if not entry.copper and entry.cables.trunk_main is None:
            yield on.wrong(path, "trunk_main is missing", "a route, or a length: distances are never assumed",
                           todo="add cables: {trunk_main: ...}, or copper: yes and heads")  # fmt: skip
        if entry.copper and entry.cables.heads is None:
            yield on.wrong(path, "heads is missing", "a route, or a length: distances are never assumed",
                           todo="add cables: {heads: ...}, the way from the unit to the wall")  # fmt: skip


def variants(on: Checked) -> Found:
    """Each variant of a group has its own label; nodes written out are fed by nodes that are there."""
    for group, entry in on.file.groups.items():
        seen: set[str] = set()
        for path, variant in variant_entries(group, entry):
            label = label_of(variant)
            if label in seen:
                yield on.wrong(path, f"{label!r} a second time", "each variant with a label of its own",
                               todo="delete it, or add label:")  # fmt: skip
            seen.add(label)
            if variant.form:
                yield from _form(on, (*path, "form"), variant.form)


def variant_entries(group: str, entry: GroupEntry) -> Iterator[tuple[Path, VariantEntry]]:
    """The topology offered and those held against it, with their places in the file."""
    yield ("groups", group, "offered"), entry.offered
    for number, variant in enumerate(entry.against):
        yield ("groups", group, "against", number), variant


OPTION_NAMES = ("routes", "power", "references", "fallback")


def label_of(variant: VariantEntry) -> str:
    """Its own label, or the topology and what is varied on it."""
    varied = [f"{getattr(variant, o)} {o}" for o in OPTION_NAMES if getattr(variant, o) != "given"]
    varied += ["two cards"] if variant.cards == 2 else []
    varied += ["seamless"] if variant.seamless else []
    varied += ["gated returns"] if variant.returns == "gated" else []
    return variant.label or ", ".join([variant.topology, *varied])


def _form(on: Checked, path: Path, form: FormEntry) -> Found:
    known = {*form.units, *form.relays}
    for relay, legs in form.relays.items():
        for leg in legs:
            if not 1 <= len(leg) <= 2:
                yield on.wrong((*path, "relays", relay), f"{len(leg)} senders in one leg", "one, or two as a seamless pair",
                               todo="write [a, b] for a pair, and a list of legs")  # fmt: skip
            for sender in leg:
                yield from _sender(on, (*path, "relays", relay), sender, known)
    for key in ("heads", "tails", "second"):
        for pattern, sender in getattr(form, key).items():
            yield from _sender(on, (*path, key, pattern), sender, known)


def _sender(on: Checked, path: Path, sender: str, known: set[str]) -> Found:
    if sender not in known:
        yield on.wrong(path, f"{sender!r} is no unit or relay of this form", ", ".join(sorted(known)),
                       nearest_name(sender, known), "name one of them, or add it")  # fmt: skip


def patterns(on: Checked) -> Found:
    """What a group says by pattern must be able to match a unit or a relay that one of its variants has."""
    for group, entry in on.file.groups.items():
        known = sorted(_nodes(on, group, entry))
        for key in ("power", "own_references"):
            for pattern in getattr(entry, key):
                if not any(fnmatchcase(name, pattern) for name in known):
                    yield on.wrong(("groups", group, key, pattern), f"{pattern!r} matches no unit and no relay",
                                   ", ".join(known), nearest_name(pattern, known), "correct the name")  # fmt: skip


def _nodes(on: Checked, group: str, entry: GroupEntry) -> set[str]:
    walls = walls_of(on.file, group)
    found = {"unit-a", "unit-b", "relay-main", "relay-backup"}
    for _, variant in variant_entries(group, entry):
        form = variant.form
        relays = [name for name, _ in FORMS[variant.topology].relays] if not form else list(form.relays)
        found |= set(form.units if form else ()) | set(relays)
    return {name.replace("{wall}", wall) for name in found for wall in walls or ("",)}


def loops(on: Checked) -> Found:
    """A source that goes on through the first unit needs a unit that hands it on."""
    file = on.file
    looped = [name for name, source in file.sources.items() if source.second == "loop-through"]
    for group, entry in file.groups.items():
        unit = entry.kits.get("unit", "scaling unit")
        if not looped or family_of(unit, file.equipment) != "processor":
            continue
        if kit_of(unit, file.equipment, file.show.rate, (1, 1)).loop_through == "none":
            yield on.wrong(("sources", looped[0], "second"), f"loop-through, but the units of group {group} have none",
                           "distributor, own, or a unit with loop_through: passive or active",
                           todo=f"correct second, or loop_through of {unit}")  # fmt: skip


def own_timings(on: Checked) -> Found:
    """Timings of single things: their names begin with a group, or are those of a feed or a circuit."""
    file = on.file
    known = {*file.groups, *file.sources, *file.references, *file.circuits, *file.controls}
    complete = all(on.whole(s) for s in ("groups", "sources", "references", "circuits", "controls"))
    for name in file.timings:
        if complete and name.partition("/")[0] not in known:
            yield on.wrong(("timings", name), f"{name!r} is no thing of this rig",
                           "as main/relay-main, or the name of a source, reference or circuit",
                           nearest_name(name, known), "begin with the name of the group")  # fmt: skip


RULES = (layers, regions, sources, equipment, cables, variants, patterns, loops, own_timings)


def by_line(problem: Problem) -> tuple[int, str]:
    """A key that puts problems in the order of the file."""
    found = re.search(r":(\d+)(?::|$)", problem.where)
    return (int(found[1]) if found else 0, problem.where)
