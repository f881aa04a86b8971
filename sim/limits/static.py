"""Static limits: what is wrong, tight or worth knowing about a rig before anything runs.

In: a frozen `ShowPlan`, its built `Rig`, and the bits per colour. Out: frozen findings, the
gravest first: what cannot be built, ports, chains, fibres, copper, cabinets without feed or
power, references, seamless pairs, rates, cabinets on a circuit. Delays have `alignment`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from fractions import Fraction

from sim.limits.cables import cable_findings
from sim.limits.delays import Ways, cabinet_ways, ways
from sim.limits.findings import Finding, by_severity, first_few, kind_words
from sim.limits.formulas import per_second
from sim.limits.loads import load_findings
from sim.limits.seamless import seamless_problems
from sim.rig.figures import RANGES
from sim.rig.once import once
from sim.rig.plan import ShowPlan
from sim.rig.refusals import reasons
from sim.rig.topology import Carrier, Rig
from sim.rig.upstream import all_choices
from sim.rig.validator import power_rank
from sim.rig.wall import listed_cabinets

POWERED = ("source", "reference", "distributor", "processor", "relay", "supply")
"""Families that need a power feed."""


def limit_findings(show: ShowPlan, rig: Rig, bits: int = 8) -> tuple[Finding, ...]:
    """Every finding of the static limits, the gravest first."""
    made = ways(rig)
    return by_severity(
        (
            *build_findings(show),
            *load_findings(show, bits),
            *cable_findings(show, rig),
            *seamless_problems(rig),
            *feed_findings(rig, made),
            *power_findings(rig),
            *reference_findings(rig, made),
            *rate_findings(show),
            *circuit_findings(rig),
        )
    )


def build_findings(show: ShowPlan) -> Iterator[Finding]:
    """What the equipment cannot carry at all: counts, inputs, reach of chain cables, returns."""
    topologies = {group.name: group.topology for group in show.groups}
    for name, found in reasons(show).items():
        for reason in found:
            text = f"{topologies[name]} cannot be built: {reason}"
            todo = "choose another topology, or equipment that can"
            yield Finding("serious", "build", name, text, todo)


def feed_findings(rig: Rig, made: Ways) -> Iterator[Finding]:
    """Cabinets to which no processor's picture leads."""
    lost: dict[str, list[tuple[int, int]]] = {}
    for cabinet in rig.cabinets.values():
        if not any(_processors(rig, made, cabinet.name)):
            wall = f"{cabinet.group}/{cabinet.wall}"
            lost.setdefault(wall, []).append((cabinet.row, cabinet.column))
    for wall, places in lost.items():
        text = f"no picture leads to {listed_cabinets(places)}"
        figures = (("cabinets", len(places)),)
        yield Finding("serious", "feed", wall, text, "put them on a chain that is fed", figures)


def _processors(rig: Rig, made: Ways, cabinet: str) -> tuple[Carrier, ...]:
    """The carriers that a cabinet can show, each once."""
    if not rig.cabinets[cabinet].cards:
        return ()
    origins = dict.fromkeys(way.origin for way in cabinet_ways(rig, made, cabinet))
    nodes = (rig.nodes[name] for name in origins)
    return tuple(node for node in nodes if isinstance(node, Carrier))


def power_findings(rig: Rig) -> Iterator[Finding]:
    """Things that need power and hang on no circuit; the model takes them as always on."""
    bare: dict[tuple[str, str], list[str]] = {}
    circuits = circuits_of(rig)
    for thing in rig.things.values():
        if thing.family in POWERED and not circuits[thing.name]:
            bare.setdefault((thing.group or "rig", thing.family), []).append(thing.name)
    for (group, family), names in bare.items():
        some = first_few(names, 3)
        text = f"{kind_words(family)} without a circuit: {some}; taken as always on"
        yield Finding(
            "warning", "power", group, text, "say which circuit feeds it", (("things", len(names)),)
        )


@once
def circuits_of(rig: Rig) -> Mapping[str, frozenset[str]]:
    """The circuits nearest to each thing that power it, through supplies and power chains."""
    found: dict[str, frozenset[str]] = {}
    for name in power_rank(rig):
        feeds = [rig.things[feed] for feed in rig.things[name].powered_by]
        above = [frozenset({f.name}) if f.family == "circuit" else found[f.name] for f in feeds]
        found[name] = above[0] if len(above) == 1 else frozenset().union(*above)
    return found


def reference_findings(rig: Rig, made: Ways) -> Iterator[Finding]:
    """Processors that meet on one wall and do not follow the same references in the same order."""
    told: set[tuple[str, tuple[str, ...]]] = set()
    for cabinet in rig.cabinets.values():
        carriers = _processors(rig, made, cabinet.name)
        followed = {carrier.thing: _followed(rig, made, carrier) for carrier in carriers}
        wall = f"{cabinet.group}/{cabinet.wall}"
        if len(followed) < 2 or (wall, tuple(followed)) in told:
            continue
        told.add((wall, tuple(followed)))
        yield from _out_of_sync(wall, followed)


def _followed(rig: Rig, made: Ways, carrier: Carrier) -> tuple[str, ...]:
    """The references that a processor follows, in order of preference."""
    if not carrier.sync:
        return ()
    origins = (way.origin for name in rig.nodes[carrier.sync].inputs for way in made.at[name])
    return tuple(dict.fromkeys(rig.nodes[name].thing for name in origins))


def _out_of_sync(wall: str, followed: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    firsts = {references[0] if references else "" for references in followed.values()}
    said = "; ".join(f"{p} follows {', then '.join(r) or 'none'}" for p, r in followed.items())
    todo = "give all of them the same references in the same order"
    if firsts == {""}:
        text = f"its scaling units follow no reference, so nothing keeps them in step: {said}"
        yield Finding("warning", "reference", wall, text, todo)
    elif len(firsts) > 1:
        text = f"its scaling units follow different references: {said}"
        yield Finding("serious", "reference", wall, text, todo)
    elif len(set(followed.values())) > 1:
        text = f"its scaling units part when their first reference is lost: {said}"
        yield Finding("warning", "reference", wall, text, todo)


def rate_findings(show: ShowPlan) -> Iterator[Finding]:
    """Sources at another rate than the walls', with how their pictures repeat or are left out."""
    used = {choice.source for group in show.groups for choice in all_choices(group)}
    own = {source.own for source in show.sources if source.name in used and source.second == "own"}
    for source in show.sources:
        if source.name in used | own and source.frame and source.frame != show.frame:
            ratio = Fraction(source.frame, show.frame)
            text = (
                f"runs at {_rate(source.frame)} frames a second, the walls at "
                f"{_rate(show.frame)}: {cadence(ratio)}"
            )
            todo = "run it at the walls' rate, or accept uneven movement"
            yield Finding("note", "rate", source.name, text, todo, (("wall frames each", ratio),))


def _rate(frame: int) -> str:
    return f"{float(per_second(frame)):.5g}"


def cadence(ratio: Fraction) -> str:
    """How pictures that last `ratio` wall frames each (exact) fall on whole frames."""
    whole, longer = divmod(ratio.numerator, ratio.denominator)
    of, shorter = ratio.denominator, ratio.denominator - longer
    if not longer:
        return f"each picture stands for {_count(whole)}"
    if not whole:
        return f"of every {of} pictures {shorter} {'is' if shorter == 1 else 'are'} left out"
    return (
        f"of every {of} pictures {shorter} {_stand(shorter)} for {_count(whole)} "
        f"and {longer} for {_count(whole + 1)}"
    )


def _stand(many: int) -> str:
    return "stands" if many == 1 else "stand"


def _count(frames: int) -> str:
    return f"{frames} frame{'s' * (frames != 1)}"


def circuit_findings(rig: Rig) -> Iterator[Finding]:
    """Cabinets on a circuit, against what the trade puts on one breaker. No current is modelled."""
    usual = RANGES["cabinets on a breaker"]
    fed: Counter[str] = Counter()
    circuits = circuits_of(rig)
    for cabinet in rig.cabinets.values():
        things = {rig.nodes[card].thing for card in cabinet.cards}
        fed.update({circuit for name in things for circuit in circuits[name]})
    for circuit in rig.things:
        if (count := fed[circuit]) > usual.least:
            fewest, most = (-(-count // int(n)) for n in (usual.most, usual.least))
            text = (
                f"feeds {count} cabinets; {usual.least} to {usual.most} on a breaker are usual "
                f"({usual.source}), so it stands for {fewest} to {most} breakers. No current is "
                "modelled here"
            )
            todo = "have qualified people work out the load under local codes"
            figures = (("cabinets", count), ("fewest breakers", fewest), ("most breakers", most))
            yield Finding("note", "circuit", circuit, text, todo, figures)
