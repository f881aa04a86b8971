"""A rig while it is being built: things, nodes and timings collected by name.

In: a `ShowPlan`. Out: the mappings of a `Rig`. A `Draft` is used by the builders only and is
never handed on; whatever is added twice must be the same. Times are flicks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from sim.errors import refuse
from sim.rig.forms import Layout, Strand, ends, layout, strands
from sim.rig.kit import cable_delay, first_match, margin
from sim.rig.plan import NO_RUN, Chooser, GroupPlan, Kit, Run, ShowPlan
from sim.rig.topology import Node, Selector, Thing
from sim.timebase import Timing

KEYLESS = ""
End = tuple[str, str, str]
"""A port by what it serves: group, chain, head or tail."""


@dataclass(slots=True)
class Draft:
    """What has been built so far. `outs`: for each unit, its carriers with what they carry."""

    show: ShowPlan
    ports: Mapping[End, tuple[str, int]]
    banks: Mapping[str, int]
    things: dict[str, Thing] = field(default_factory=dict)
    nodes: dict[str, Node] = field(default_factory=dict)
    timings: dict[str, Timing] = field(default_factory=dict)
    outs: dict[str, list[tuple[object, str]]] = field(default_factory=dict)

    def node(self, node: Node) -> str:
        """Add a node; its name."""
        self.nodes[node.name] = node
        return node.name

    def add(self, thing: Thing) -> str:
        """Add a thing; its name. Raises InputError if another thing has it."""
        known = self.things.setdefault(thing.name, thing)
        if known is not thing and known != thing:
            raise refuse(thing.name, "two different things have this name", todo="rename one")
        return thing.name

    def time(self, owner: str, what: str, timing: Timing | None) -> str:
        """Note a timing; its key, or "" if there is none. Raises InputError if the key is taken."""
        if timing is None:
            return KEYLESS
        key = f"{owner}.{what}"
        known = self.timings.setdefault(key, timing)
        if known is not timing and known != timing:
            raise refuse(key, "two equipment types have this name", todo="rename one")
        return key

    def measured(self) -> dict[str, Timing]:
        """All timings by key, those that tests measured in the place of what was said of them."""
        found = self.show.measured
        return {
            key: replace(found[key], shelters=timing.shelters) if key in found else timing
            for key, timing in self.timings.items()
        }

    def key(self, kit: Kit, what: str, thing: str) -> str:
        """The key of a kit's timing, or of the thing's own."""
        own = self.show.own_timings
        if thing in own and what in own[thing]:
            return self.time(thing, what, own[thing][what])
        timing = kit.timings.get(what)
        return KEYLESS if timing is None else self.time(kit.name, what, timing)

    def selector(self, name: str, kit: Kit, thing: str, before: str = "") -> Selector:
        """A selector of a thing; `before`: "reference_" for the choice of reference."""
        chooser: Chooser = kit.follows if before else kit.picks
        return Selector(
            name=name,
            detect=self.key(kit, f"{before}detect", thing),
            hold_off=self.key(kit, f"{before}hold_off", thing),
            switch=self.key(kit, f"{before}switch", thing),
            wait_to_restore=self.key(kit, f"{before}wait_to_restore", thing),
            accepts_above=chooser.accepts_above,
            restore=chooser.restore,
            locked_on=chooser.locked_on,
        )

    def kit_thing(  # noqa: PLR0913 - one thing has that many facts
        self,
        name: str,
        kit: Kit,
        run: Run = NO_RUN,
        *,
        powered_by: tuple[str, ...] = (),
        place: str = "",
        supplier: str = "",
        group: str = "",
    ) -> str:
        """Add a thing of an equipment type; its name."""
        return self.add(
            Thing(
                name=name,
                family=kit.family,
                start=self.key(kit, "start", name),
                powered_by=powered_by,
                margin=max(0, margin(kit, run)) if kit.family == "fibre" else 0,
                routes=run.routes,
                length=run.length,
                kit=kit.name,
                supplier=supplier or kit.supplier,
                place=place,
                monitored=kit.monitored,
                group=group,
            )
        )


@dataclass(frozen=True, slots=True)
class Site:
    """One group in a draft: names without the group's prefix are looked up here."""

    draft: Draft
    plan: GroupPlan
    layout: Layout

    def full(self, local: str) -> str:
        """The name over the whole rig; a shared thing keeps its own."""
        return full_name(self.plan, local)

    def kit(self, role: str, local: str) -> Kit:
        """The kit of a role, or the thing's own."""
        return kit_of(self.plan, role, local)

    def add(
        self,
        local: str,
        role: str,
        run: Run = NO_RUN,
        powered_by: tuple[str, ...] = (),
        name: str = "",
    ) -> str:
        """Add the thing that plays `role`; its full name (`name`, if that is not the group's)."""
        plan = self.plan
        return self.draft.kit_thing(
            name or self.full(local),
            self.kit(role, local),
            run,
            powered_by=powered_by,
            place=first_match(plan.places, local, ""),
            supplier=first_match(plan.suppliers, local, ""),
            group=plan.name,
        )

    def circuits(self, local: str) -> tuple[str, ...]:
        """The circuits that feed a unit or relay."""
        return fed_by(self.plan, first_match(self.plan.powered, local, ()))

    def run(self, local: str, usual: Run) -> Run:
        """A cable's run: its own, or the usual one of its kind."""
        return first_match(self.plan.cabling.special, local, usual)

    def delay(self, role: str, local: str, run: Run = NO_RUN) -> Fraction:
        """What a thing adds, exact flicks."""
        return cable_delay(self.kit(role, local), run)


def full_name(group: GroupPlan, local: str) -> str:
    """A name with its group before it, or that of the thing it shares."""
    return group.shared.get(local, f"{group.name}/{local}")


def kit_of(group: GroupPlan, role: str, local: str) -> Kit:
    """The kit of a thing of a group: its own, or that of its role. Raises KeyError."""
    own = first_match(group.own_kits, local, None) if group.own_kits else None
    return own or group.kits[role]


def fed_by(group: GroupPlan, circuits: tuple[str, ...]) -> tuple[str, ...]:
    """The circuits that count, by the group's power option."""
    return circuits[:1] if group.options.power == "single" else circuits


def ports_of(show: ShowPlan) -> dict[End, tuple[str, int]]:
    """For every end of every chain: the sender's full name and the port's number from 1."""
    count: Counter[str] = Counter()
    made: dict[End, tuple[str, int]] = {}
    for group in show.groups:
        for sender, chain, end in ends(layout(group)):
            name = full_name(group, sender)
            count[name] += 1
            made[group.name, chain, end] = (name, count[name])
    return made


def banks_of(show: ShowPlan, ports: Mapping[End, tuple[str, int]]) -> dict[str, int]:
    """How many trunk banks each relay needs: for its own ports and for the relays that it feeds."""
    used = Counter(name for name, _ in ports.values())
    banks: dict[str, int] = {}
    for group in show.groups:
        made = layout(group)
        for relay in reversed(tuple(made.relays)):
            name = full_name(group, relay)
            each = kit_of(group, "relay", relay).limits.ports_per_trunk
            banks[name] = max(banks.get(name, 0), -(-used[name] // each))
            for strand in strands(made, relay):
                fed = full_name(group, strand.sender)
                banks[fed] = max(banks.get(fed, 0), banks[name])
    return banks


def strand_names(strand: Strand, banks: int) -> tuple[str, ...]:
    """The trunks of a strand, one for each bank."""
    return tuple(f"{strand.name}-{bank}" for bank in range(1, banks + 1))
