"""What each port must carry and what it can, and how many ports, trunks and inputs are left.

In: a `ShowPlan` and the bits per colour. Out: frozen rows, and findings where a port, a chain or
a narrow-column mode is asked for too much. Pixels are counted over whole cabinets.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from sim.limits.findings import Finding, first_few, grouped
from sim.limits.formulas import STATED_AT, gigabit_pixels, per_second, port_pixels
from sim.rig.counts import inputs_taken, ports_used, trunk_inputs, trunk_outputs
from sim.rig.draft import full_name, kit_of, ports_of
from sim.rig.forms import Chain, Layout, layout
from sim.rig.kit import Kit
from sim.rig.plan import GroupPlan, ShowPlan, WallPlan

BARE = gigabit_pixels(*STATED_AT)
"""Pixels that gigabit Ethernet carries at most at 60 frames and 8 bits."""


@dataclass(frozen=True, slots=True)
class PortLoad:
    """One port: who drives it, its number from 1, the chain and end it serves, pixels.

    `capacity`: what its equipment carries at this rate and depth (or gigabit Ethernet at most,
    where no equipment says). `bound`: what gigabit Ethernet carries at most.
    """

    sender: str
    port: int
    chain: str
    end: str
    pixels: int
    capacity: int
    bound: int


@dataclass(frozen=True, slots=True)
class Outlet:
    """How much of one kind of connection a unit or relay has; `has` None: no limit is known.

    `what`: port, trunk output, trunk input, input. `returns`: how many of them serve returns.
    """

    name: str
    what: str
    used: int
    has: int | None
    returns: int = 0

    @property
    def free(self) -> int | None:
        """What is left, negative where too much is asked for."""
        return None if self.has is None else self.has - self.used


@dataclass(frozen=True, slots=True)
class _Site:
    group: GroupPlan
    made: Layout

    def kit(self, name: str) -> Kit:
        return kit_of(self.group, "unit" if name in self.made.units else "relay", name)

    def wall(self, chain: Chain) -> WallPlan:
        return next(wall for wall in self.group.walls if wall.name == chain.wall)

    def feeders(self, sender: str) -> tuple[str, ...]:
        """A sender and all that stand above it."""
        found: dict[str, None] = {}
        todo = [sender]
        while todo:
            here = todo.pop()
            if here not in found:
                found[here] = None
                legs = self.made.relays.get(here, ())
                above = [s for leg in legs for s in ((leg,) if isinstance(leg, str) else leg)]
                todo += above[::-1]
        return tuple(found)

    def senders(self, chain: Chain) -> Iterator[tuple[str, str]]:
        """Who feeds the ends of a chain, as (end, sender)."""
        yield "head", chain.head
        if chain.tail:
            yield "tail", chain.tail

    def pixels(self, chain: Chain) -> int:
        wall = self.wall(chain)
        return len(chain.places) * wall.cabinet_width * wall.cabinet_height


def _sites(show: ShowPlan) -> Iterator[_Site]:
    return (_Site(group, layout(group)) for group in show.groups)


def port_loads(show: ShowPlan, bits: int = 8) -> tuple[PortLoad, ...]:
    """Every port with what it must carry."""
    ports, rate = ports_of(show), per_second(show.frame)
    bound = gigabit_pixels(rate, bits)
    found = []
    for site in _sites(show):
        for chain in site.made.chains:
            for end, sender in site.senders(chain):
                name, number = ports[site.group.name, chain.name, end]
                stated = [site.kit(each).limits.pixels for each in site.feeders(sender)]
                known = [pixels for pixels in stated if pixels is not None]
                most = port_pixels(min(known), rate, bits) if known else bound
                called = f"{site.group.name}/{chain.name}"
                load = site.pixels(chain)
                found.append(PortLoad(name, number, called, end, load, most, bound))
    return tuple(found)


def outlets(show: ShowPlan) -> tuple[Outlet, ...]:
    """Ports, trunks and inputs of every unit and relay, used and free."""
    ports, sent, taken = ports_used(show), trunk_outputs(show), trunk_inputs(show)
    links, returns = inputs_taken(show), Counter(_returns(show))
    found: dict[tuple[str, str], Outlet] = {}
    for site in _sites(show):
        for local in (*site.made.units, *site.made.relays):
            name, limits = full_name(site.group, local), site.kit(local).limits
            rows = [Outlet(name, "port", ports[name], limits.ports, returns[name])]
            if sent[name] or limits.trunks is not None:
                rows.append(Outlet(name, "trunk output", sent[name], limits.trunks))
            if name in taken:
                rows.append(Outlet(name, "trunk input", taken[name], limits.trunk_inputs))
            if name in links:
                rows.append(Outlet(name, "input", links[name], limits.inputs))
            found |= {(row.name, row.what): row for row in rows if (name, row.what) not in found}
    return tuple(found.values())


def _returns(show: ShowPlan) -> Iterator[str]:
    return (name for (_, _, end), (name, _) in ports_of(show).items() if end == "tail")


def load_findings(show: ShowPlan, bits: int = 8) -> Iterator[Finding]:
    """Ports with too many pixels, chains that are too long or too wide, claims beyond gigabit."""
    alike: dict[PortLoad, list[PortLoad]] = {}
    for load in port_loads(show, bits):
        if load.pixels > load.capacity:
            alike.setdefault(replace(load, port=0, chain=""), []).append(load)
    yield from (_overloaded(of, show, bits) for of in alike.values())
    for site in _sites(show):
        for chain in site.made.chains:
            yield from _too_wide(site, chain)
        yield from _together(each for chain in site.made.chains for each in _too_long(site, chain))
        yield from _beyond_gigabit(site)


def _together(found: Iterable[Finding]) -> Iterator[Finding]:
    """Findings that differ in their subject only as one, which names the first two."""
    alike: dict[Finding, list[str]] = {}
    for each in found:
        alike.setdefault(replace(each, subject=""), []).append(each.subject)
    yield from (replace(each, subject=first_few(of, 2)) for each, of in alike.items())


def numbers(of: Sequence[int]) -> str:
    """Whole numbers with runs folded, in order: `1 to 4, 7 and 9`."""
    runs: list[list[int]] = []
    for number in sorted(of):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    said = [f"{run[0]} to {run[-1]}" if len(run) > 2 else " and ".join(map(str, run))
            for run in runs]  # fmt: skip
    return ", ".join(said)


def _overloaded(loads: Sequence[PortLoad], show: ShowPlan, bits: int) -> Finding:
    """Ports of one sender that all have the same load, which is too much."""
    load, many = loads[0], len(loads) > 1
    rate = f"{float(per_second(show.frame)):.6g}"
    ports = f"port{'s' * many} {numbers([each.port for each in loads])}"
    text = (
        f"{ports} {'each carry' if many else 'carries'} {grouped(load.pixels)} pixels to the "
        f"{load.end} of {first_few([each.chain for each in loads], 2)}; at {rate} frames a second "
        f"and {bits} bits {'a port' if many else 'it'} can carry {grouped(load.capacity)}"
    )
    if load.pixels > load.bound:
        text += f" (gigabit Ethernet at most {grouped(load.bound)})"
    figures = (
        ("pixels", load.pixels),
        ("capacity, pixels", load.capacity),
        ("gigabit bound, pixels", load.bound),
    )
    todo = "make the chains shorter, on more ports, or lower the rate or the depth"
    return Finding("serious", "pixels", load.sender, text, todo, figures)


def _too_long(site: _Site, chain: Chain) -> Iterator[Finding]:
    for end, sender in site.senders(chain):
        limits = [(name, site.kit(name).limits.chain) for name in site.feeders(sender)]
        limits.append(("its receivers", site.group.kits["receiver"].limits.chain))
        known = [(most, name) for name, most in limits if most is not None]
        if known and len(chain.places) > min(known)[0]:
            most, who = min(known)
            text = f"has {len(chain.places)} cabinets; {who} (its {end}) can take {most}"
            figures = (("cabinets", len(chain.places)), ("most", most))
            subject = f"{site.group.name}/{chain.name}"
            yield Finding("serious", "chain", subject, text, "cut it into shorter chains", figures)


def _too_wide(site: _Site, chain: Chain) -> Iterator[Finding]:
    """The narrow-column rule of the line-latency mode (common practice, no source)."""
    feeders = {name for _, sender in site.senders(chain) for name in site.feeders(sender)}
    widths = [w for name in sorted(feeders) if (w := site.kit(name).limits.line_width) is not None]
    columns = {column for _, column in chain.places}
    abreast, cabinet = max(columns) - min(columns) + 1, site.wall(chain).cabinet_width
    if widths and abreast * cabinet > min(widths):
        text = (
            f"is {abreast} cabinets of {cabinet} pixels wide, {abreast * cabinet} in all; the "
            f"line-latency mode allows {min(widths)}: at most {min(widths) // cabinet} abreast "
            "(common practice, no source)"
        )
        figures = (("width, pixels", abreast * cabinet), ("allowed, pixels", min(widths)))
        subject = f"{site.group.name}/{chain.name}"
        todo = "run the chain down fewer columns, or use a mode with more delay"
        yield Finding("serious", "width", subject, text, todo, figures)


def _beyond_gigabit(site: _Site) -> Iterator[Finding]:
    for name in (*site.made.units, *site.made.relays):
        stated = site.kit(name).limits.pixels
        if stated is not None and stated > BARE:
            text = (
                f"is said to carry {grouped(stated)} pixels on a port at 60 frames a second and "
                f"8 bits; gigabit Ethernet carries at most {grouped(BARE)}"
            )
            figures = (("stated, pixels", stated), ("gigabit bound, pixels", BARE))
            todo = "make sure that its ports are faster than gigabit, or correct the figure"
            yield Finding("warning", "pixels", full_name(site.group, name), text, todo, figures)
