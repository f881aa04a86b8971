"""What a drawing of a rig shows: units, bundles of links and ports, walls, and who feeds whom.

In: a frozen `Rig`, and what one fault of takes the whole picture. Out: a `Scheme`: items with
finished texts, each with the least column that it may stand in, and edges from sources to walls.
Returns that run from a wall back to a port are left out; what feeds a tail runs to the wall like
any other feed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from sim.errors import nearest_name, refuse
from sim.limits.findings import place_words
from sim.report.ways import (
    IN_WALL,
    Edge,
    behind_walls,
    fed_by,
    numbers,
    short,
    show_length,
    usual_edges,
)
from sim.report.words import wall_words
from sim.rig.topology import Display, Gate, Rig, Thing

WORDS = {
    "source": ("source", "sources"),
    "reference": ("reference", "references"),
    "distributor": ("distributor", "distributors"),
    "processor": ("scaling unit", "scaling units"),
    "relay": ("relay unit", "relay units"),
    "port": ("port", "ports"),
    "fibre": ("fibre", "fibres"),
    "copper": ("cable", "cables"),
    "wall": ("wall", "walls"),
}
"""What people call one and several of a family."""
LEAST = {
    "source": 0, "reference": 0, "distributor": 2, "processor": 4, "relay": 6, "port": 7, "wall": 9,
}  # fmt: skip
"""The least column of a family; a link stands one before what it leads to."""
LINKS = ("fibre", "copper")
Marks = Mapping[str, str]
"""Names of things or routes, with the faults (modes, joined) that take the whole picture."""
MARK = " all: "
NONE: Marks = MappingProxyType({})
MANY = 3
"""From so many alike fibres on they are drawn as one."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing of the drawing, or a bundle of alike ones. `names`: the things that it stands for.

    `least`: the first column that it may stand in. `lines`: what is written below the title.
    """

    key: str
    family: str
    least: int
    title: str
    lines: tuple[str, ...]
    names: tuple[str, ...]
    backup: bool
    single: bool

    @property
    def is_link(self) -> bool:
        return self.family in LINKS


@dataclass(frozen=True, slots=True)
class Scheme:
    """All items, the edges between them (True: backup only), and a number for each circuit."""

    items: Mapping[str, Item]
    edges: Mapping[Edge, bool]
    numbers: Mapping[str, str]


def scheme(rig: Rig, single: Marks = NONE) -> Scheme:
    """What to draw. Raises InputError if `single` names no thing and no route of the rig."""
    _check_names(rig, single)
    return _Maker(rig, single).scheme()


def _check_names(rig: Rig, single: Marks) -> None:
    known = {*rig.things, *(route for thing in rig.things.values() for route in thing.routes)}
    for name in sorted(single.keys() - known):
        raise refuse("drawing", f"no thing or route {name!r}", nearest=nearest_name(name, known))


def wall_key(group: str, wall: str) -> str:
    """The key of a wall's item; no thing is called so."""
    return f"\t{group}/{wall}"


class _Maker:
    """Sorts things into items; every item is known by the key that `place` gives its things."""

    def __init__(self, rig: Rig, single: Marks) -> None:
        self.rig, self.single, self.numbers = rig, single, numbers(rig)
        self.usual = usual_edges(rig)
        self.in_use = {rig.nodes[name].thing for edge in self.usual for name in edge}
        self.wall_of = {
            wall_key(group.name, wall): (group, wall)
            for group in rig.groups.values()
            for wall in group.walls
        }
        self.place = self.walls()
        self.pairs = [*self.forward()]
        self.before: dict[str, dict[str, None]] = {name: {} for name in rig.things}
        self.after: dict[str, dict[str, None]] = {name: {} for name in rig.things}
        for above, below in self.pairs:
            one, other = rig.nodes[above].thing, rig.nodes[below].thing
            if one != other:
                self.before[other][above] = None
                self.after[one][other] = None

    def family(self, node: str) -> str:
        return self.rig.things[self.rig.nodes[node].thing].family

    def walls(self) -> dict[str, str]:
        """Receivers and the jumpers beside them, by the wall that they belong to."""
        rig = self.rig
        found = {
            rig.nodes[card].thing: wall_key(cabinet.group, cabinet.wall)
            for cabinet in rig.cabinets.values()
            for card in cabinet.cards
        }
        for node in rig.nodes.values():
            for other in node.inputs:
                for one, two in ((node.name, other), (other, node.name)):
                    wall = found.get(rig.nodes[two].thing)
                    if wall and self.family(one) == "jumper":
                        found.setdefault(rig.nodes[one].thing, wall)
        return found

    def forward(self) -> Iterator[Edge]:
        """Pairs of nodes on the way to a wall; a gate is passed over."""
        behind = behind_walls(self.rig)
        for node in self.rig.nodes.values():
            if isinstance(node, Gate | Display):
                continue
            for above in map(self.ungated, node.inputs):
                if above not in behind:
                    yield above, node.name

    def ungated(self, name: str) -> str:
        node = self.rig.nodes[name]
        return self.ungated(node.inputs[0]) if isinstance(node, Gate) else name

    def scheme(self) -> Scheme:
        members: dict[str, list[str]] = {}
        for thing in self.rig.things.values():
            if thing.family in LEAST or thing.family in LINKS:
                self.place[thing.name] = self.key(thing)
        for name in self.few():
            self.place[name] = name
        for name, key in self.place.items():
            members.setdefault(key, []).append(name)
        items = {key: self.item(key, names) for key, names in members.items()}
        return Scheme(items, self.edges(), self.numbers)

    def few(self) -> list[str]:
        """Fibres that have fewer than MANY like them."""
        fibres = [t.name for t in self.rig.things.values() if t.family == "fibre"]
        keys = [self.place[name] for name in fibres]
        return [name for name, key in zip(fibres, keys, strict=True) if keys.count(key) < MANY]

    def key(self, thing: Thing) -> str:
        """The same for things that are drawn as one."""
        role = f"{thing.family} {thing.name not in self.in_use}"
        if thing.family == "port":
            return f"{role} {sorted(self.before[thing.name])} {self.reach(thing.name)}"
        if thing.family not in LINKS:
            return thing.name
        above = sorted({self.end(self.rig.nodes[n].thing) for n in self.before[thing.name]})
        below = sorted({self.end(name) for name in self.after[thing.name]})
        return f"{role} {above} {below} {thing.routes} {thing.length}"

    def end(self, name: str) -> str:
        thing = self.rig.things[name]
        return self.key(thing) if thing.family == "port" else self.place.get(name, name)

    def reach(self, name: str) -> list[str]:
        """The walls that a port leads to."""
        todo, seen = [name], {name}
        while todo:
            at = todo.pop()
            fresh = [other for other in self.after[at] if other not in seen]
            seen.update(fresh)
            todo += fresh
        return sorted({self.place[at] for at in seen if self.place.get(at) in self.wall_of})

    def item(self, key: str, names: list[str]) -> Item:
        thing = self.rig.things[names[0]]
        wall = thing.family in IN_WALL
        title, lines = self.wall(key) if wall else self.words(thing, names)
        marked = {name: said for name in names if (said := self.marked(name))}
        lines += marks([*marked.values()], len(names))
        return Item(
            key=key,
            family="wall" if wall else thing.family,
            least=LEAST["wall"] if wall else self.least(thing),
            title=title,
            lines=tuple(filter(None, lines)),
            names=tuple(names),
            backup=not wall and not self.in_use & {*names},
            single=bool(marked),
        )

    def marked(self, name: str) -> str:
        """The faults of a thing, and of its routes, that take the whole picture."""
        own = [self.single[name]] if name in self.single else []
        routes = (route for route in self.rig.things[name].routes if route in self.single)
        return ", ".join([*own, *(f"its route {self.single[route]}" for route in routes)])

    def least(self, thing: Thing) -> int:
        if thing.family in LEAST:
            return LEAST[thing.family]
        families = [self.rig.things[name].family for name in self.after[thing.name]]
        return max(0, min((LEAST.get(f, LEAST["wall"]) for f in families), default=1) - 1)

    def words(self, thing: Thing, names: list[str]) -> tuple[str, list[str]]:
        one, several = WORDS[thing.family]
        called = [short(self.rig, name) for name in names]
        title = called[0] if len(called) == 1 else f"{len(called)} {several}"
        lines = [] if len(called) == 1 else [span(called)]
        if thing.family in LINKS:
            over = f"route {', '.join(thing.routes)}" if thing.routes else ""
            return title, [*lines, ", ".join(filter(None, [over, show_length(thing)]))]
        if thing.family == "port":
            banks = {at.rpartition("#")[2] for name in names for at in self.before[name]}
            inputs = (f"from {place_words(b)}" for b in sorted(banks) if b.startswith("bank "))
            return title, [*lines, *inputs]
        fed = " ".join(self.numbers[circuit] for circuit in fed_by(self.rig, thing.name))
        return title, [thing.kit or one, f"power {fed}" if fed else "", *self.standby(thing)]

    def standby(self, thing: Thing) -> list[str]:
        return [] if thing.name in self.in_use else ["backup"]

    def wall(self, key: str) -> tuple[str, list[str]]:
        group, name = self.wall_of[key]
        rows, columns, *_ = group.walls[name]
        return wall_words(name), [
            f"group {group.name}",
            group.topology,
            f"{columns} x {rows} cabinets",
        ]

    def edges(self) -> dict[Edge, bool]:
        """Between items; backup where no pair of nodes below it is used while all is well."""
        found: dict[Edge, bool] = {}
        for above, below in self.pairs:
            one, other = (self.place.get(self.rig.nodes[n].thing, "") for n in (above, below))
            if one and other and one != other:
                backup = (above, below) not in self.usual
                found[one, other] = found.get((one, other), True) and backup
        return found


def span(names: Iterable[str]) -> str:
    """`left/port-1 to port-16`: the first and the last, where there are more than two."""
    called = [*names]
    if len(called) < 3:
        return ", ".join(called)
    first, last = called[0].split("/"), called[-1].split("/")
    while len(last) > 1 and first[0] == last[0]:
        first, last = first[1:], last[1:]
    return f"{called[0]} to {'/'.join(last)}"


def marks(marked: Sequence[str], many: int) -> list[str]:
    """How a drawing says that one fault of a thing takes the whole picture, and which faults do."""
    said = ", ".join(dict.fromkeys(", ".join(marked).split(", ")))
    if many == 1 or not marked:
        return [f"takes{MARK}{said}"] if marked else []
    return [f"{len(marked)} of {many} {'takes' if len(marked) == 1 else 'take'}{MARK}{said}"]
