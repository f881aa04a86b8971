"""Every single fault that the catalogue knows for a rig: each mode of each thing, route, circuit,
selector.

In: a frozen `Rig`. Out: frozen `Strike`s, at time 0 of the show, with role, supplier and the
rate (per hour; the catalogue's are placeholders).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from sim.faults import Fault
from sim.rig.cuts import cut_rates, named
from sim.rig.placeholders import Rate
from sim.rig.rates import Subject, guessed, in_show, rate_of, scaled
from sim.rig.topology import Carrier, Display, Rig, Thing, selectors
from sim.timebase import FLICKS

HOUR = 3600 * FLICKS
FLAP_PERIOD = 2 * FLICKS
"""A loose contact of the catalogue: off for one second of every two (placeholder)."""
DIM = 500
"""Thousandths of a dB beyond its margin that an attenuated fibre of the catalogue loses."""
VALID = frozenset(
    {"blanked", "stuck", "corrupt", "stale", "unlocked", "drops", "moved", "attenuated"}
)
"""Modes after which something valid still arrives, so that no backup that waits for a loss helps.
"""


def fault_name(what: str, mode: str, detail: str = "") -> str:
    """`relay-main dead`, `main/unit-a moved to night`."""
    return f"{what} {mode}" + (f" to {detail}" if detail else "")


@dataclass(frozen=True, slots=True)
class Strike:
    """One single fault. `where` is a thing, route or selector; `role` the same without its numbers.

    `rate` is per hour, over the show, stated for this rig (`known`) or a placeholder; `law`: the
    same with its source and Weibull shape; `of`: whose rate it is. `detail` says what a moved
    selector or unit was moved to.
    """

    where: str
    mode: str
    faults: tuple[Fault, ...]
    role: str
    group: str = ""
    supplier: str = ""
    rate: float = 0.0
    known: bool = False
    detail: str = ""
    law: Rate | None = field(default=None, compare=False)
    of: Subject | None = field(default=None, compare=False)

    @property
    def name(self) -> str:
        return fault_name(self.where, self.mode, self.detail)

    @property
    def words(self) -> tuple[str, str, str]:
        """Role, mode, and the role of what it was moved to: like strikes share them."""
        return self.role, self.mode, role(self.detail, self.group) if self.detail else ""

    @property
    def valid(self) -> bool:
        """Whether a valid signal still arrives (black, torn, wrong or standing still)."""
        return self.mode in VALID

    @property
    def ends(self) -> bool:
        """Whether it ends of itself before the rig has settled."""
        return all(f.ends for f in self.faults)

    @property
    def struck(self) -> tuple[str, ...]:
        """The things or selectors that its faults name, in order."""
        return tuple(fault.thing for fault in self.faults)

    def at(self, when: int) -> Strike:
        """The same, striking at another flick."""
        return replace(self, faults=tuple(_moved_to(fault, when) for fault in self.faults))


def _moved_to(fault: Fault, when: int) -> Fault:
    until = None if fault.until is None else fault.until + when - fault.at
    return replace(fault, at=when, until=until)


class Catalogue:
    """The single faults of one rig, each told when it is asked for; those of `modes` only (none: of
    all).
    """

    def __init__(self, rig: Rig, modes: frozenset[str] = frozenset()) -> None:
        self.rig, self.modes = rig, modes
        self.things = tuple(rig.things.values())
        self.frames = {node.thing: getattr(node, "frame", 0) for node in rig.nodes.values()}
        self.cuts = cut_rates(rig)

    def modes_of(self, thing: Thing) -> list[str]:
        """The modes that strike a thing by itself: a source drops frames if it has any."""
        return [
            mode
            for mode in thing.modes
            if (not self.modes or mode in self.modes)
            and mode != "moved"
            and (mode != "drops" or self.drops(thing))
        ]

    def drops(self, thing: Thing) -> bool:
        """Whether a thing sends frames of its own, which it can leave out."""
        return bool(self.frames.get(thing.name))

    def strike(self, thing: Thing, mode: str) -> Strike:
        """A mode that strikes a thing by itself."""
        subject = Subject(thing.name, thing.family, thing.kit, thing.length)
        return Strike(
            where=thing.name,
            mode=mode,
            faults=(fault_of(thing, mode),),
            role=role(thing.name, thing.group),
            group=thing.group,
            supplier=thing.supplier,
            **_told(self.rig, subject, _law(self.rig, subject, mode, self.cuts)),
        )

    def of_things(self) -> Iterator[Strike]:
        """The strikes on things, in the rig's order."""
        for thing in self.things:
            for mode in self.modes_of(thing):
                yield self.strike(thing, mode)

    def others(self) -> Iterator[Strike]:
        """Routes that are cut, then wrong choices."""
        for of in (_of_routes(self.rig, self.cuts), _of_selectors(self.rig), _of_units(self.rig)):
            yield from (strike for strike in of if not self.modes or strike.mode in self.modes)


def strikes(rig: Rig, modes: frozenset[str] = frozenset()) -> tuple[Strike, ...]:
    """All single faults of the catalogue, things in the rig's order, then routes, then wrong
    choices; those of these modes only (none: of all).
    """
    catalogue = Catalogue(rig, modes)
    return (*catalogue.of_things(), *catalogue.others())


NUMBERED = tuple(
    (holds, re.compile(numbered), plain)
    for holds, numbered, plain in (
        ("power-", r"(^|/)power-\d+/", r"\1power/"),
        ("to-", r"(/(?:loop-)?to-.*)/\d+$", r"\1"),
        ("#bank ", r"(#bank) \d+$", r"\1"),
    )
)
"""Numbers that only tell like things apart: of power chains, links of a source, banks of ports."""
PLACE = re.compile(r"(r\d+c\d+|chain-\d+(-b)?)")
NUMBER = re.compile(r"-\d+$")


@lru_cache(maxsize=1 << 16)
def role(name: str, group: str = "") -> str:
    """A name without its group and its numbers: `main/chain-3/jumper-4` is a jumper."""
    short = name.rstrip("<>").removeprefix(f"{group}/" if group else "")
    for holds, numbered, plain in NUMBERED:
        short = numbered.sub(plain, short) if holds in short else short
    short = "/".join([part for part in short.split("/") if not PLACE.fullmatch(part)])
    return (NUMBER.sub("", short) if "-" in short else short) or "cabinet"


def fault_of(thing: Thing, mode: str) -> Fault:
    """The catalogue's fault of a thing, at time 0."""
    if mode == "flapping":
        return Fault(thing.name, mode, 0, period=FLAP_PERIOD, off=FLAP_PERIOD // 2)
    if mode == "attenuated":
        return Fault(thing.name, mode, 0, loss=thing.margin + DIM)
    return Fault(thing.name, mode, 0, frames=1 if mode == "drops" else 0)


def _often(rig: Rig, subject: Subject, mode: str, among: int = 1) -> dict[str, Any]:
    """The fields of a strike that tell how often it happens, `among` so many alike."""
    found = rate_of(rig.rates, subject, mode)
    return _told(rig, subject, scaled(found, 1 / among) if found and among > 1 else found)


def _law(rig: Rig, subject: Subject, mode: str, cuts: Mapping[str, Rate]) -> Rate | None:
    """How often a mode strikes a thing by itself: of its cuts, those that leave the route."""
    apart = cuts.get(subject.name) if mode == "cut" else None
    return apart or rate_of(rig.rates, subject, mode)


def _told(rig: Rig, subject: Subject, law: Rate | None) -> dict[str, Any]:
    """The fields of a strike that tell whose rate it has, and which."""
    if law is None:
        return {"of": subject}
    hours = rig.length / HOUR
    rate = law.value if law.shape == 1 else in_show(law, hours) / hours
    return {"rate": rate, "known": not guessed(law), "law": law, "of": subject}


def _of_routes(rig: Rig, cuts: Mapping[str, Rate]) -> Iterator[Strike]:
    routes: dict[str, list[Thing]] = {}
    for thing in rig.things.values():
        for route in dict.fromkeys(thing.routes):
            routes.setdefault(route, []).append(thing)
    for route, on_it in routes.items():
        family = "fibre" if any(t.family == "fibre" for t in on_it) else "copper"
        subject = Subject(named(route), family)
        yield Strike(
            where=named(route),
            mode="cut",
            faults=tuple(Fault(thing.name, "cut", 0) for thing in on_it),
            role=named(route),
            supplier=", ".join(sorted({thing.supplier for thing in on_it if thing.supplier})),
            **_told(rig, subject, cuts.get(named(route))),
        )


def _of_selectors(rig: Rig) -> Iterator[Strike]:
    for selector, node in selectors(rig):
        if isinstance(node, Display) or len(node.inputs) < 2:
            continue
        thing = rig.things[node.thing]
        for choice in range(1, len(node.inputs)):
            yield Strike(
                where=selector.name,
                mode="moved",
                faults=(Fault(selector.name, "moved", 0, choice=choice),),
                role=role(selector.name, thing.group),
                group=thing.group,
                supplier=thing.supplier,
                **_often(rig, Subject(selector.name, "selector"), "moved", len(node.inputs) - 1),
                detail=node.inputs[choice],
            )


def _of_units(rig: Rig) -> Iterator[Strike]:
    carriers = {node.name: node for node in rig.nodes.values() if isinstance(node, Carrier)}
    for group in rig.groups.values():
        others = group.arrangements[1:]
        for carrier in (carriers[name] for name in group.carriers):
            thing = rig.things[carrier.thing]
            for arrangement in others:
                yield Strike(
                    where=thing.name,
                    mode="moved",
                    faults=(Fault(thing.name, "moved", 0, choice=arrangement),),
                    role=role(thing.name, thing.group),
                    group=thing.group,
                    supplier=thing.supplier,
                    **_often(
                        rig, Subject(thing.name, thing.family, thing.kit), "moved", len(others)
                    ),
                    detail=arrangement,
                )
