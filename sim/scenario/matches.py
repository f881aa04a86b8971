"""Whether what is said by name or pattern means something: a name that matches nothing is refused.

In: a valid `Scenario` and where each path stands in its file. Out: problems in five parts. What
exists under any of the topologies of a group counts as there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from fnmatch import fnmatchcase, translate
from itertools import islice

from sim.bounds import MOST_PROBLEMS
from sim.errors import InputError, Problem
from sim.rig.forms import prefix
from sim.rig.names import ROLE_FAMILY, Part, timings_of
from sim.rig.plan import GroupPlan
from sim.scenario.content import variant_entries
from sim.scenario.kits import family_of
from sim.scenario.messages import Path, reported
from sim.scenario.plan import group_plan, plan_of
from sim.scenario.rated import RATED_RULES
from sim.scenario.rigs import Found, Place, Rigs, families_of, things_like
from sim.scenario.scenario import Scenario

EITHER = (
    ("unit", "unit-a"), ("unit", "unit-b"), ("relay", "relay-main"), ("relay", "relay-backup"),
)  # fmt: skip
"""What most topologies have: who supplies it may be said even if no variant here has it."""


def fitting(scenario: Scenario, place: Place) -> Scenario:
    """The scenario itself. Raises InputError if a name or pattern of it matches nothing."""
    offered = plan_of(scenario)
    plans = {
        name: (*(group_plan(scenario, name, each) for each in scenario.variants(name)),)
        for name in scenario.groups
    }
    on = Rigs(scenario, place, offered, plans)
    found = list(islice((p for rule in RULES for p in rule(on)), MOST_PROBLEMS + 1))
    if found:
        raise InputError(reported(found, 0, place))
    return scenario


def _groups(on: Rigs) -> Found:
    for name, entry in on.scenario.file.groups.items():
        path: Path = ("groups", name)
        said = {
            "suppliers": entry.suppliers, "places": entry.places, "own_kits": entry.own_kits,
        }  # fmt: skip
        if any(said.values()) or entry.cables.special:
            known = on.parts(name)
            usual = {**known, **dict.fromkeys(_usual(on.plans[name][0]))}
            for key, patterns in said.items():
                its = known if key == "own_kits" else usual
                yield from _unmatched(on, (*path, key), patterns, [part for _, part in its])
            runs = [part for role, part in known if role in ("trunk", "patch", "jumper")]
            yield from _unmatched(on, (*path, "cables", "special"), entry.cables.special, runs)
            yield from _families(on, (*path, "own_kits"), entry.own_kits, known)
        yield from _chains(on, name)
        yield from _shared(on, name)


def _usual(plan: GroupPlan) -> Iterator[Part]:
    yield from EITHER
    for wall in plan.walls:
        before = prefix(plan, wall)
        yield from ((role, f"{before}{name}") for role, name in EITHER if role == "relay")


def _unmatched(on: Rigs, path: Path, patterns: Iterable[str], names: list[str]) -> Found:
    everything = frozenset(names)
    for pattern in patterns:
        if pattern not in everything and not any(map(re.compile(translate(pattern)).match, names)):
            found = f"{pattern!r} matches nothing of this rig"
            near = pattern.replace("*", "")
            yield on.wrong((*path, pattern), found, names, near, "correct the name, or delete it")


def _families(on: Rigs, path: Path, own: Mapping[str, str], known: Iterable[Part]) -> Found:
    """Each thing's own equipment type is of the family that its role takes."""
    told: set[str] = set()
    types = on.scenario.file.equipment
    for role, name in known if own else ():
        pattern = next((each for each in own if fnmatchcase(name, each)), None)
        if pattern is None or pattern in told:
            continue
        family, wanted = family_of(own[pattern], types), ROLE_FAMILY[role]
        if family != wanted:
            told.add(pattern)
            yield Problem(
                on.place((*path, pattern)),
                f"{own[pattern]!r} is a {family}, and {name!r} is a {role}",
                f"a {wanted}",
                todo="name a type of that kind, or a narrower pattern",
            )


def _chains(on: Rigs, group: str) -> Found:
    """A topology written out feeds chains that there are."""
    plan = on.plans[group][0]
    names = [
        f"{prefix(plan, wall)}chain-{number}"
        for wall in plan.walls
        for number in range(1, len(wall.chains) + 1)
    ]
    for path, variant in variant_entries(group, on.scenario.file.groups[group]):
        for key in ("heads", "tails", "second") if variant.form else ():
            yield from _unmatched(on, (*path, "form", key), getattr(variant.form, key), names)


def _shared(on: Rigs, group: str) -> Found:
    """What is shared is a unit or relay on both sides, and is not itself shared further."""
    file = on.scenario.file
    for local, target in file.groups[group].shared.items():
        path: Path = ("groups", group, "shared", local)
        owner, _, there = target.partition("/")
        mine = {name: role for role, name in on.nodes(group)}
        theirs = {name: role for role, name in on.nodes(owner)}
        if local not in mine:
            todo = "correct the name, or delete it"
            found = f"{local!r} is no unit or relay of group {group}"
            yield on.wrong(path, found, mine, local, todo)
        elif there in file.groups[owner].shared:
            found = f"{target!r} is itself shared, with {file.groups[owner].shared[there]!r}"
            owned = [name for name in theirs if name not in file.groups[owner].shared]
            todo = "name the one that stands in its own group"
            yield on.wrong(path, found, (f"{owner}/{name}" for name in owned), target, todo)
        elif theirs.get(there, mine[local]) != mine[local]:
            found = f"{local!r} is a {mine[local]}, and {target!r} is a {theirs[there]}"
            alike = (f"{owner}/{name}" for name, role in theirs.items() if role == mine[local])
            yield on.wrong(path, found, alike, target, f"name a {mine[local]}")


def _runs(on: Rigs) -> Found:
    """Own runs of sources and references lead to units that there are."""
    file = on.scenario.file
    for section in ("sources", "references"):
        more = ["distributor"] if section == "sources" else []
        for name, entry in getattr(file, section).items():
            if entry.runs:
                yield from _unmatched(on, (section, name, "runs"), entry.runs, [*on.units(), *more])


def _timings(on: Rigs) -> Found:
    """Own timings are of things that there are, and that have such timings."""
    file = on.scenario.file
    for thing, timings in file.timings.items():
        families = families_of(on, thing)
        path: Path = ("timings", thing)
        if families is None:
            known = things_like(on, thing)
            found = f"{thing!r} is no thing of this rig"
            yield on.wrong(path, found, known, thing, "correct the name, or delete it")
            continue
        allowed = tuple(dict.fromkeys(key for each in families for key in timings_of(each)))
        for key in timings:
            if not families or key not in allowed:
                what = families[0] if families else "circuit or control link"
                found = f"{thing!r} is a {what} and has no {key} here"
                todo = "delete it, or write it at the thing that has it"
                yield on.wrong((*path, key), found, allowed, key, todo)


RULES = (_groups, _runs, _timings, *RATED_RULES)
