"""Everything that a scenario's rigs have, under any of its topologies, by name.

In: a valid `Scenario` and where each path stands in its file. Out: names with their families, and
problems with the nearest of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain

from sim.errors import Problem, nearest_name
from sim.rig.names import ROLE_FAMILY, Part, nodes, parts
from sim.rig.plan import GroupPlan, ShowPlan
from sim.scenario.messages import Path
from sim.scenario.scenario import Scenario

Place = Callable[[Path], str]
Found = Iterator[Problem]
SHOWN = 12
"""Names that a message lists at most."""


@dataclass(frozen=True)
class Rigs:
    """The plan as offered, and for each group its plans with every one of its topologies."""

    scenario: Scenario
    place: Place
    offered: ShowPlan
    plans: Mapping[str, tuple[GroupPlan, ...]]

    def wrong(self, path: Path, found: str, known: Iterable[str], near: str, todo: str) -> Problem:
        known = tuple(dict.fromkeys(known))
        some = ", ".join(known[:SHOWN]) + (", ..." if len(known) > SHOWN else "")
        nearest = nearest_name(near, known)
        return Problem(self.place(path), found, some or "nothing", nearest, todo)

    def nodes(self, group: str) -> dict[Part, None]:
        """Units and relays that some topology of a group has."""
        return dict.fromkeys(chain.from_iterable(map(nodes, self.plans[group])))

    def parts(self, group: str) -> dict[Part, None]:
        """Everything that some topology of a group has."""
        others = [each for each in self.offered.groups if each.name != group]
        found: dict[Part, None] = {}
        for plan in self.plans[group]:
            shared = plan.shared or any(each.shared for each in others)
            show = replace(self.offered, groups=(*others, plan) if shared else (plan,))
            found |= dict.fromkeys(parts(show, plan))
        return found

    def units(self) -> list[str]:
        """The full names of all units."""
        return [
            f"{group}/{name}"
            for group in self.plans
            for role, name in self.nodes(group)
            if role == "unit"
        ]


def families_of(on: Rigs, thing: str) -> tuple[str, ...] | None:
    """The families that a thing can be of; None if there is no such thing, none for a circuit."""
    file = on.scenario.file
    head, slash, rest = thing.partition("/")
    if head in file.groups and slash:
        roles = [role for role, name in on.parts(head) if name == rest]
        return tuple(ROLE_FAMILY[role] for role in dict.fromkeys(roles)) or None
    if thing in file.circuits or thing in file.controls:
        return ()
    if head in file.sources or head in file.references:
        return ("source",) if not slash or rest in _cables(on, head) else None
    return None


def _cables(on: Rigs, feed: str) -> set[str]:
    """What hangs on a source or reference, by name without its own."""
    source = on.scenario.file.sources.get(feed)
    units = on.units()
    found = {f"to-{unit}" for unit in units} | {f"loop-to-{unit}" for unit in units if source}
    found |= {"distributor", "to-distributor"} if source else set()
    links = range(1, (source.links or 1) + 1) if source else ()
    return found | {f"{name}/{link}" for name in found for link in links}


def things_like(on: Rigs, thing: str) -> list[str]:
    """Names among which a name may be meant that no thing has."""
    file, head = on.scenario.file, thing.partition("/")[0]
    if head in file.groups:
        return [f"{head}/{name}" for _, name in on.parts(head)]
    if head in file.sources or head in file.references:
        return [head, *(f"{head}/{name}" for name in sorted(_cables(on, head)))]
    return [*file.sources, *file.references, *(f"{group}/unit-a" for group in file.groups)]


def everything(on: Rigs) -> Iterator[tuple[str, str]]:
    """Every thing and route that some topology has, with its family."""
    file = on.scenario.file
    yield from ((name, "circuit") for name in file.circuits)
    yield from ((name, "control-link") for name in file.controls)
    yield from ((f"route {name}", "fibre") for name in file.routes)
    for section, family in (("sources", "source"), ("references", "reference")):
        for name in getattr(file, section):
            yield name, family
            for cable in _cables(on, name):
                yield f"{name}/{cable}", "distributor" if cable == "distributor" else "copper"
    for group in file.groups:
        yield from ((f"{group}/{name}", ROLE_FAMILY[role]) for role, name in on.parts(group))
