"""The topologies as forms, and what a form becomes on the walls of a group.

In: a `GroupPlan`. Out: its `Layout`: units, relays with their legs, chains with who feeds the head
and who sends the return, all by names without the group's prefix; and the trunks between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from sim.rig.kit import first_match
from sim.rig.plan import Form, GroupPlan, Leg, Patterns, Place, Run, WallPlan

EVERY_A: Patterns[str] = (("*", "unit-a"),)
EVERY_B: Patterns[str] = (("*", "unit-b"),)
MAIN: Patterns[str] = (("*", "relay-main"),)
BACKUP: Patterns[str] = (("*", "relay-backup"),)
BACKUP_SIDE = ("relay-backup", "{wall}/relay-backup")
A: tuple[Leg, ...] = ("unit-a",)
CROSSED: tuple[Leg, ...] = ("unit-a", "unit-b")

FORMS: Mapping[str, Form] = {
    form.name: form
    for form in (
        Form("single-feed", ("unit-a",), heads=EVERY_A),
        Form("return-loop", ("unit-a",), heads=EVERY_A, tails=EVERY_A),
        Form("two-unit", ("unit-a", "unit-b"), heads=EVERY_A, tails=EVERY_B),
        Form(
            "relay-pair",
            ("unit-a",),
            relays=(("relay-main", A), ("relay-backup", A)),
            heads=MAIN,
            tails=BACKUP,
            backup_side=BACKUP_SIDE,
        ),
        Form(
            "crossed-relays",
            ("unit-a", "unit-b"),
            relays=(("relay-main", CROSSED), ("relay-backup", CROSSED)),
            heads=MAIN,
            tails=BACKUP,
            backup_side=BACKUP_SIDE,
        ),
        Form(
            "mirrored",
            ("unit-a",),
            relays=(("{wall}/relay-main", A),),
            heads=(("*", "{wall}/relay-main"),),
            several_walls=True,
        ),
        Form(
            "mirrored-guarded",
            ("unit-a",),
            relays=(("{wall}/relay-main", A), ("{wall}/relay-backup", A)),
            heads=(("*", "{wall}/relay-main"),),
            tails=(("*", "{wall}/relay-backup"),),
            backup_side=BACKUP_SIDE,
            several_walls=True,
        ),
    )
}
"""The topologies that the program knows by name."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Cabinets behind one port, head first; who feeds the head and the tail (empty: no return)."""

    name: str
    wall: str
    places: tuple[Place, ...]
    head: str
    tail: str = ""
    card: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """A form on the walls of a group. `relays` in an order in which each is fed by earlier ones."""

    form: Form
    units: tuple[str, ...]
    relays: Mapping[str, tuple[Leg, ...]]
    chains: tuple[Chain, ...]
    backup_side: frozenset[str]


@dataclass(frozen=True, slots=True)
class Strand:
    """All trunks from one sender to one relay for one leg; a bank's trunk is `name`-bank."""

    name: str
    sender: str
    leg: int
    spare: bool
    backup: bool


def form_of(group: GroupPlan) -> Form | None:
    """The group's form as written, or None if no topology has that name."""
    own = group.form
    return own if own and own.name == group.topology else FORMS.get(group.topology)


@dataclass(frozen=True, eq=False)
class _This:
    """A group as itself: what holds mappings has no hash of its own."""

    group: GroupPlan

    def __hash__(self) -> int:
        return id(self.group)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _This) and self.group is other.group


def layout(group: GroupPlan) -> Layout:
    """What the group's topology means on its walls. Raises KeyError on an unknown topology."""
    return _layout(_This(group))


@lru_cache(maxsize=8)
def _layout(of: _This) -> Layout:
    group = of.group
    form = form_of(group)
    if form is None:
        raise KeyError(group.topology)
    form = _with_options(form, group)
    prefixes = [prefix(group, wall) for wall in group.walls]
    return Layout(
        form=form,
        units=form.units,
        relays={_fill(n, p): legs for n, legs in form.relays for p in _meant(n, prefixes)},
        chains=tuple(chain for wall in group.walls for chain in _chains(form, group, wall)),
        backup_side=frozenset(_fill(n, p) for n in form.backup_side for p in prefixes),
    )


def prefix(group: GroupPlan, wall: WallPlan) -> str:
    """What stands before names that belong to one wall: nothing where the group has one only."""
    return f"{wall.name}/" if len(group.walls) > 1 else ""


def _fill(name: str, wall: str) -> str:
    return name.replace("{wall}/", wall)


def _meant(name: str, prefixes: list[str]) -> list[str]:
    return prefixes if "{wall}/" in name else [""]


def _with_options(form: Form, group: GroupPlan) -> Form:
    if group.form is not form and not group.reaches:
        form = _carried(form)
    if group.options.seamless:
        form = replace(form, relays=tuple((n, _paired(legs)) for n, legs in form.relays))
    if group.options.cards == 1:
        return replace(form, second=())
    if form.second:
        return form
    return replace(form, second=form.tails or form.heads, tails=())


def _carried(form: Form) -> Form:
    """The form with a relay for each unit that would feed copper itself."""
    carriers = dict(zip(form.units, ("relay-main", "relay-backup"), strict=False))
    senders = [to for _, to in (*form.heads, *form.tails)]
    used = {unit: relay for unit, relay in carriers.items() if unit in senders}
    swap = {to: used.get(to, to) for to in senders}
    return replace(
        form,
        relays=(*form.relays, *((relay, (unit,)) for unit, relay in used.items())),
        heads=tuple((pattern, swap[to]) for pattern, to in form.heads),
        tails=tuple((pattern, swap[to]) for pattern, to in form.tails),
        backup_side=BACKUP_SIDE,
    )


def _paired(legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    return tuple((leg, leg) if isinstance(leg, str) else leg for leg in legs)


def _chains(form: Form, group: GroupPlan, wall: WallPlan) -> Iterator[Chain]:
    before = prefix(group, wall)
    for number, places in enumerate(wall.chains, 1):
        name = f"{before}chain-{number}"
        head = _fill(first_match(form.heads, name, ""), before)
        tail = _fill(first_match(form.tails, name, ""), before)
        second = _fill(first_match(form.second, name, ""), before)
        yield Chain(name, wall.name, places, head, tail)
        if second:
            yield Chain(f"{name}-b", wall.name, places[::-1], second, card="-b")


def ends(made: Layout) -> Iterator[tuple[str, str, str]]:
    """Every port needed as (sender, chain, end), in the order in which ports are numbered."""
    first = [chain for chain in made.chains if not chain.card]
    yield from ((chain.head, chain.name, "head") for chain in first)
    yield from ((chain.tail, chain.name, "tail") for chain in first if chain.tail)
    yield from ((chain.head, chain.name, "head") for chain in made.chains if chain.card)


def strands(made: Layout, relay: str) -> tuple[Strand, ...]:
    """The legs of a relay as strands of trunks, in order of preference.

    On the backup run lie: where there are several legs, all but the first; else the leg of a
    relay of the backup side; the second strand of a seamless pair lies the other way than its
    first.
    """
    legs = made.relays[relay]
    flat = [(number, *pair) for number, leg in enumerate(legs) for pair in _strands_of(leg)]
    where, _, short = relay.rpartition("/")
    stem = f"{where}/trunk-" if where else "trunk-"
    stem += short.removeprefix("relay-")
    return tuple(
        Strand(stem + label, sender, number, spare, _is_backup(made, relay, number) != spare)
        for (number, sender, spare), label in zip(flat, _labels(legs), strict=True)
    )


def _strands_of(leg: Leg) -> list[tuple[str, bool]]:
    return [(leg, False)] if isinstance(leg, str) else [(leg[0], False), (leg[1], True)]


def _labels(legs: tuple[Leg, ...]) -> Iterator[str]:
    seen: list[str] = []
    for leg in legs:
        first = leg if isinstance(leg, str) else leg[0]
        seen.append(first)
        again = str(seen.count(first)) if seen.count(first) > 1 else ""
        label = f"-{short_name(first)}{again}" if len(legs) > 1 else ""
        yield label
        if not isinstance(leg, str):
            yield f"{label}-spare"


def short_name(sender: str) -> str:
    """unit-a: a; relay-main: main; a name with a wall keeps it."""
    where, slash, last = sender.rpartition("/")
    return where + slash + last.removeprefix("unit-").removeprefix("relay-")


def _is_backup(made: Layout, relay: str, leg: int) -> bool:
    return leg > 0 if len(made.relays[relay]) > 1 else relay in made.backup_side


def trunk_run(group: GroupPlan, strand: Strand, name: str) -> Run:
    """The run of one trunk, by its name without the group."""
    cabling = group.cabling
    backup = strand.backup and group.options.routes != "shared"
    return first_match(
        cabling.special, name, cabling.trunk_backup if backup else cabling.trunk_main
    )
