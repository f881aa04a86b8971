"""Whether a scenario has more entries of a kind than any rig has, before anything is made of them.

In: a file whose entries are valid by themselves, and where each path stands. Out: problems in five
parts. What is refused here would take minutes, as most entries are held against each other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sized
from contextlib import suppress
from graphlib import CycleError, TopologicalSorter

from sim.bounds import (
    MOST_CHAINS,
    MOST_CIRCUITS,
    MOST_DEEP,
    MOST_FILES,
    MOST_FORM,
    MOST_GROUPS,
    MOST_LAYERS,
    MOST_LISTED,
    MOST_PATTERNS,
    MOST_SOURCES,
    MOST_TOPOLOGIES,
    MOST_WALLS,
)
from sim.errors import Problem
from sim.scenario.messages import Path
from sim.scenario.models import FormEntry, GroupEntry, ScenarioFile

Counted = Iterator[tuple[Path, Sized, int]]
"""Where entries stand, the entries, how many there may be."""
MOST_OF: Mapping[str, int] = {
    "groups": MOST_GROUPS, "walls": MOST_WALLS, "circuits": MOST_CIRCUITS,
    "sources": MOST_SOURCES, "references": MOST_SOURCES, "rate_files": MOST_FILES,
    "proof_files": MOST_FILES, "equipment": MOST_LISTED, "places": MOST_LISTED,
    "routes": MOST_PATTERNS, "regions": MOST_LISTED, "audience": MOST_LISTED,
    "controls": MOST_LISTED, "limits": MOST_LISTED, "rates": MOST_PATTERNS,
    "tested": MOST_LISTED, "together": MOST_LISTED, "timings": MOST_LISTED,
}  # fmt: skip
"""By section of a file."""
LAYERED = ("layers", "arrangements")
BY_PATTERN = ("own_kits", "places", "suppliers", "power", "own_references", "shared")


def too_many(file: ScenarioFile, place: Callable[[Path], str]) -> Iterator[Problem]:
    """Every list and mapping that is longer than it may be."""
    for path, entries, most in _counted(file):
        if len(entries) > most:
            found = f"{len(entries)} entries"
            yield Problem(place(path), found, f"at most {most}", todo="split the rig, or the list")
    yield from _too_deep(file, place)


def _too_deep(file: ScenarioFile, place: Callable[[Path], str]) -> Iterator[Problem]:
    """Circuits, and types, of which too many hang one on the other; circles are for others."""
    likes = {name: (entry.like,) if entry.like else () for name, entry in file.equipment.items()}
    feeds = {name: entry.fed_by for name, entry in file.circuits.items()}
    for section, key, above in (("circuits", "from", feeds), ("equipment", "like", likes)):
        deep = next((name for name, depth in _depths(above) if depth > MOST_DEEP), None)
        if deep is not None:
            found, allowed = f"more than {MOST_DEEP} one behind the other", f"at most {MOST_DEEP}"
            yield Problem(place((section, deep, key)), found, allowed, todo="leave some out")


def _depths(above: Mapping[str, tuple[str, ...]]) -> Iterator[tuple[str, int]]:
    """How many each hangs on, one behind the other; nothing where they hang in a circle."""
    depths: dict[str, int] = {}
    with suppress(CycleError):
        for name in TopologicalSorter(above).static_order():
            depths[name] = 1 + max((depths[of] for of in above.get(name, ())), default=0)
            yield name, depths[name]


def _counted(file: ScenarioFile) -> Counted:
    for section, most in MOST_OF.items():
        yield (section,), getattr(file, section), most
    yield ("show", "breaks"), file.show.breaks, MOST_LISTED
    yield ("show", "critical"), file.show.critical, MOST_LISTED
    if file.crew:
        yield ("crew", "repairs"), file.crew.repairs, MOST_LISTED
    if file.contract:
        yield ("contract", "clauses"), file.contract.clauses, MOST_LISTED
        for number, clause in enumerate(file.contract.clauses):
            yield ("contract", "clauses", number, "steps"), clause.steps, MOST_LAYERS
    for name, group in file.groups.items():
        yield from _of_group(("groups", name), group)


def _of_group(path: Path, group: GroupEntry) -> Counted:
    for key in LAYERED:
        yield (*path, key), getattr(group, key), MOST_LAYERS
    for name, placements in group.arrangements.items():
        yield (*path, "arrangements", name), placements, MOST_LAYERS
    for key in BY_PATTERN:
        yield (*path, key), getattr(group, key), MOST_PATTERNS
    yield (*path, "cables", "special"), group.cables.special, MOST_PATTERNS
    yield (*path, "against"), group.against, MOST_TOPOLOGIES
    if group.offered.form:
        yield from _of_form((*path, "offered", "form"), group.offered.form)
    for number, variant in enumerate(group.against):
        if variant.form:
            yield from _of_form((*path, "against", number, "form"), variant.form)


def _of_form(path: Path, form: FormEntry) -> Counted:
    for key in ("units", "relays"):
        yield (*path, key), getattr(form, key), MOST_FORM
    for key in ("heads", "tails", "second"):
        yield (*path, key), getattr(form, key), MOST_CHAINS
