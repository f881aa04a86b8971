"""Whether what brings the picture to a group fits: sources, equipment types, cables, loop-throughs.

In: a file under check. Out: problems in five parts, by the rules in `SUPPLY_RULES`.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.errors import nearest_name
from sim.rig.equipment import TYPES, USUAL
from sim.rig.names import ROLE_FAMILY, timings_of
from sim.scenario.checks import Checked, Found
from sim.scenario.entries import SourceEntry
from sim.scenario.kits import Equipment, family_of, lineage, setting_of
from sim.scenario.messages import Path

NEEDED_LINKS = {"whole": 1, "halves": 2, "quadrants": 4}


def sources(on: Checked) -> Found:
    """Links suit the way a picture is split; a second unit's own source is another one."""
    for name, source in on.file.sources.items():
        path: Path = ("sources", name)
        links, split = source.links or 1, source.split or "whole"
        if split in NEEDED_LINKS and split != "whole" and links != NEEDED_LINKS[split]:
            yield on.wrong(
                (*path, "links"),
                f"{links} links for {split}",
                str(NEEDED_LINKS[split]),
                todo=f"write links: {NEEDED_LINKS[split]}",
            )
        if split == "columns" and links < 2:
            yield on.wrong(
                (*path, "links"),
                "1 link for columns",
                "2 or more",
                todo="write how many columns the picture comes in",
            )
        yield from _second(on, path, name, source)


def _second(on: Checked, path: Path, name: str, source: SourceEntry) -> Found:
    others = [other for other in on.file.sources if other != name]
    if source.second == "own" and source.own is None:
        yield on.wrong(
            path,
            "second: own, but own is missing",
            ", ".join(others) or "another source",
            todo="add own: and the source that the second unit takes",
        )
    if source.own is not None and source.second != "own":
        yield on.wrong(
            (*path, "own"),
            "own without second: own",
            "own with second: own only",
            todo="write second: own, or delete own",
        )
    if source.own == name:
        yield on.wrong(
            (*path, "own"),
            f"{name!r} names itself",
            ", ".join(others) or "another source",
            todo="name another source",
        )


def equipment(on: Checked) -> Found:
    """Every type rests on a generic one, and stands only where its family belongs."""
    file = on.file
    for name, entry in file.equipment.items():
        root = lineage(name, file.equipment)[-1]
        if root not in TYPES and on.whole("equipment"):
            circle = file.equipment[root].like is not None
            yield on.wrong(
                ("equipment", name, "like") if entry.like else ("equipment", name),
                f"{name!r} is like itself" if circle else f"nothing says what {root!r} is like",
                ", ".join(TYPES),
                nearest_name(root, TYPES),
                "add like: and a generic type",
            )
        elif root in TYPES:
            yield from _own_family(on, name)
    for path, name, family in _places_of_types(on):
        found = "" if _strays(name, file.equipment) else family_of(name, file.equipment)
        allowed = ("copper", "fibre") if family == "cable" else (family,)
        if found and found not in allowed:
            fitting = [
                t for t in {**TYPES, **file.equipment} if family_of(t, file.equipment) in allowed
            ]
            yield on.wrong(
                path,
                f"{name!r} is a {found}",
                f"a {' or '.join(allowed)}: {', '.join(fitting)}",
                nearest_name(name, fitting),
                "name a type of that kind",
            )


def _strays(name: str, equipment: Equipment) -> bool:
    """Whether a type, or one that it is like, is generic and like one of another family."""
    kin = lineage(name, equipment)
    families = {TYPES[each].family for each in kin if each in TYPES}
    return len(families) > 1


def _own_family(on: Checked, name: str) -> Found:
    """A generic type stays of its family; a type has timings that its family uses, and no others.

    An input to be locked on is said only where the type is locked.
    """
    file, family = on.file, family_of(name, on.file.equipment)
    entry = file.equipment[name]
    if name in TYPES and TYPES[name].family != family:
        fitting = [t for t in TYPES if TYPES[t].family == TYPES[name].family and t != name]
        yield on.wrong(
            ("equipment", name, "like"),
            f"{name!r} is a {TYPES[name].family}, and {entry.like!r} is a {family}",
            ", ".join(fitting) or "nothing: it is the only generic type of its kind",
            todo="delete like, or give the type a name of its own",
        )
        return
    for key in entry.timings:
        if key not in timings_of(family):
            yield on.wrong(
                ("equipment", name, "timings", key),
                f"a {family} has no {key}",
                ", ".join(timings_of(family)),
                nearest_name(key, timings_of(family)),
                "delete it, or write it at the type that has it",
            )
    for key, usual in (
        ("picks", TYPES[lineage(name, file.equipment)[-1]].settings),
        ("follows", {}),
    ):
        yield from _locked(on, name, key, usual.get("restore", "revertive"))


def _locked(on: Checked, name: str, key: str, usual: str) -> Found:
    file = on.file
    kin = [file.equipment[each] for each in lineage(name, file.equipment) if each in file.equipment]
    said = [getattr(each, key).restore for each in kin]
    restore = next((each for each in said if each is not None), usual)
    if getattr(kin[0], key).locked_on is not None and restore != "locked":
        yield on.wrong(
            ("equipment", name, key, "locked_on"),
            f"locked_on without restore: locked (it is {restore})",
            "locked_on with restore: locked only",
            todo="write restore: locked, or delete locked_on",
        )


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
    """Distances are never assumed: the main trunk's way is given, or that of copper heads."""
    for group, entry in on.file.groups.items():
        path: Path = ("groups", group, "cables")
        if not entry.copper and entry.cables.trunk_main is None:
            yield on.wrong(
                path,
                "trunk_main is missing",
                "a route, or a length: distances are never assumed",
                todo="add cables: {trunk_main: ...}, or copper: yes and heads",
            )
        if entry.copper and entry.cables.heads is None:
            yield on.wrong(
                path,
                "heads is missing",
                "a route, or a length: distances are never assumed",
                todo="add cables: {heads: ...}, the way from the unit to the wall",
            )


def loops(on: Checked) -> Found:
    """A source that goes on through the first unit needs a unit that hands it on."""
    file = on.file
    looped = [name for name, source in file.sources.items() if source.second == "loop-through"]
    for group, entry in file.groups.items():
        unit = entry.kits.get("unit", USUAL["unit"])
        if not looped or family_of(unit, file.equipment) != "processor":
            continue
        if setting_of(unit, file.equipment, "loop_through", "none") == "none":
            yield on.wrong(
                ("sources", looped[0], "second"),
                f"loop-through, but the units of group {group} have none",
                "distributor, own, or a unit with loop_through: passive or active",
                todo=f"correct second, or loop_through of {unit}",
            )


SUPPLY_RULES = (sources, equipment, cables, loops)
