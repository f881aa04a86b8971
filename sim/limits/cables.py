"""Optical margin and reach of every fibre, and copper that is longer than it reaches.

In: a `ShowPlan` and its built `Rig`. Out: frozen rows with the margin in thousandths of a dB, and
findings. What decides is the equipment's own figures: budget, loss per km, connector and splice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.limits.findings import Finding, first_few, kind_words
from sim.rig.bill import all_kits
from sim.rig.draft import banks_of, full_name, kit_of, ports_of, strand_names
from sim.rig.forms import Layout, layout, strands, trunk_run
from sim.rig.kit import Kit, first_match, margin
from sim.rig.plan import NO_RUN, GroupPlan, Run, ShowPlan
from sim.rig.topology import Rig

THIN = 3000
"""Thousandths of a dB that people like to have left (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Fibre:
    """One fibre: metres, connectors, splices; budget and margin in thousandths of a dB.

    `reach` is metres, or None where no reach is stated.
    """

    thing: str
    length: Fraction
    connectors: int
    splices: int
    budget: int
    margin: int
    reach: Fraction | None


def fibres(show: ShowPlan, rig: Rig) -> tuple[Fibre, ...]:
    """Every fibre of the rig with what is left of its budget."""
    found = {}
    for name, kit, run in (*_trunks(show), *_feeds(show)):
        if kit.family == "fibre" and name in rig.things:
            optics, reach = kit.optics, kit.limits.reach
            made = Fibre(
                name,
                run.length,
                run.connectors,
                run.splices,
                optics.budget,
                margin(kit, run),
                reach,
            )
            found[name] = made
    return tuple(found.values())


def _trunks(show: ShowPlan) -> Iterator[tuple[str, Kit, Run]]:
    banks = banks_of(show, ports_of(show))
    for group in show.groups:
        made = layout(group)
        for relay in (name for name in made.relays if name not in group.shared):
            for strand in strands(made, relay):
                for local in strand_names(strand, banks[full_name(group, relay)]):
                    kit, run = kit_of(group, "trunk", local), trunk_run(group, strand, local)
                    yield full_name(group, local), kit, run


def _feeds(show: ShowPlan) -> Iterator[tuple[str, Kit, Run]]:
    """Cables of sources and references, some of which may not be there."""
    takers = [full_name(group, u) for group in show.groups for u in layout(group).units]
    for source in show.sources:
        for end in dict.fromkeys(("distributor", *takers)):
            run = first_match(source.runs, end, NO_RUN)
            for link in range(1, source.links + 1):
                mark = f"/{link}" if source.links > 1 else ""
                for way in ("to", "loop-to"):
                    yield f"{source.name}/{way}-{end}{mark}", source.cable, run
    for reference in show.references:
        for taker in dict.fromkeys(takers):
            run = first_match(reference.runs, taker, NO_RUN)
            yield f"{reference.name}/to-{taker}", reference.cable, run


def cable_findings(show: ShowPlan, rig: Rig) -> Iterator[Finding]:
    """Fibres without margin, with little of it, or over their reach; copper over its reach."""
    alike: dict[Fibre, list[str]] = {}
    for fibre in fibres(show, rig):
        alike.setdefault(replace(fibre, thing=""), []).append(fibre.thing)
    for fibre, names in alike.items():
        yield from _light(replace(fibre, thing=first_few(names, 2)))
    reach = {kit.name: kit.limits.reach for kit in all_kits(show)}
    told = frozenset(name for group in show.groups for name in _refused(group, layout(group)))
    for thing in rig.things.values():
        most = reach.get(thing.kit)
        if thing.family not in CABLES or thing.name in told:
            continue
        if most is not None and thing.length > most:
            yield _too_far(thing.name, thing.family, thing.length, most)


CABLES = frozenset({"fibre", "copper", "jumper"})


def _refused(group: GroupPlan, made: Layout) -> Iterator[str]:
    """Cables whose reach decides already whether the topology can be built."""
    for chain in made.chains:
        if not chain.card:
            yield full_name(group, f"{chain.name}/head")
        if chain.tail:
            yield full_name(group, f"{chain.name}/tail")


def _light(fibre: Fibre) -> Iterator[Finding]:
    left = f"{fibre.margin / 1000:g} dB"
    figures = (("margin, thousandths of a dB", fibre.margin),)
    eaten = (
        f"{float(fibre.length) / 1000:g} km, {fibre.connectors} connectors and {fibre.splices} "
        f"splices leave {left} of {fibre.budget / 1000:g} dB"
    )
    if fibre.margin < 0:
        todo = "shorten the run, take out connectors, or use optics with a larger budget"
        yield Finding("serious", "optics", fibre.thing, eaten, todo, figures)
    elif fibre.margin < THIN:
        text = f"{eaten}: under 3 dB, which is little (common practice, no source)"
        todo = (
            "have a trained person switch the light off, clean every connector and measure it "
            "(never look into it)"
        )
        yield Finding("note", "optics", fibre.thing, text, todo, figures)


def _too_far(name: str, family: str, length: Fraction, most: Fraction) -> Finding:
    text = f"{kind_words(family)} runs {float(length):g} m and reaches {float(most):g} m"
    figures = (("length, m", length), ("reach, m", most))
    return Finding(
        "serious", "reach", name, text, "shorten the run or put a relay unit between", figures
    )
