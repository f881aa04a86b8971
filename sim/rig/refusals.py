"""Why a topology cannot be built with the equipment at hand.

In: a `ShowPlan`. Out: reasons as sentences, one for each thing that does not go; none: it goes.
What is too long, too wide or too weak under every topology alike belongs to the static limits.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from sim.errors import nearest_name
from sim.rig.counts import Needed, needed
from sim.rig.draft import fed_by, full_name, kit_of
from sim.rig.forms import FORMS, Layout, form_of, layout, strands, trunk_run
from sim.rig.kit import Chooser, first_match
from sim.rig.plan import GroupPlan, ShowPlan, SourcePlan
from sim.rig.upstream import all_choices, choices, references


@dataclass(frozen=True)
class Asked:
    """A group of a show, its layout, and what all units and relays of the show need."""

    show: ShowPlan
    group: GroupPlan
    made: Layout
    needed: Needed


def cannot(show: ShowPlan, name: str) -> tuple[str, ...]:
    """Reasons why the topology and options of the group `name` cannot be built; empty: they can."""
    return _against(show, next(group for group in show.groups if group.name == name), None)


def reasons(show: ShowPlan) -> dict[str, tuple[str, ...]]:
    """For every group the reasons why it cannot be built, as `cannot` gives them."""
    known = all(form_of(group) is not None for group in show.groups)
    counted = needed(show) if known else None
    return {group.name: _against(show, group, counted) for group in show.groups}


def _against(show: ShowPlan, group: GroupPlan, counted: Needed | None) -> tuple[str, ...]:
    if form_of(group) is None:
        near = nearest_name(group.topology, FORMS)
        return (f"no topology is called {group.topology}; nearest: {near or 'none'}",)
    made = layout(group)
    misfits = tuple(reason for test in SHAPE for reason in test(group, made))
    if misfits or any(form_of(each) is None for each in show.groups):
        return misfits
    on = Asked(show, group, made, counted or needed(show))
    found = (reason for test in CAPACITY for reason in test(on))
    return tuple(dict.fromkeys(found))


def _walls(group: GroupPlan, made: Layout) -> Iterator[str]:
    if made.form.several_walls and len(group.walls) < 2:
        yield f"{group.topology} needs several walls and the group has one"
    elif made.form.several_walls and not group.mirrored:
        yield f"{group.topology} suits mirrored walls only"


def _names(group: GroupPlan, made: Layout) -> Iterator[str]:
    known = [*made.units]
    for relay, legs in made.relays.items():
        for sender in (s for leg in legs for s in ((leg,) if isinstance(leg, str) else leg)):
            if sender not in known:
                yield f"{relay} is fed by {sender}, which is no unit and no earlier relay"
        if not legs:
            yield f"{relay} is fed by nothing"
        known.append(relay)
    for chain in made.chains:
        for end, sender in (("head", chain.head), ("tail", chain.tail)):
            if sender and sender not in known:
                yield f"the {end} of {chain.name} is fed by {sender}, which is no unit and no relay"
        if not chain.head:
            yield f"{chain.name} has no feed at its head"


def _pairs(group: GroupPlan, made: Layout) -> Iterator[str]:
    for relay, legs in made.relays.items():
        for leg in legs:
            if not isinstance(leg, str) and leg[0] != leg[1]:
                yield f"the seamless pair of {relay} has two senders, {leg[0]} and {leg[1]}"
    if group.options.seamless and not made.relays:
        yield "a seamless pair needs a relay to merge its trunks, and here copper leaves the units"


def _options(group: GroupPlan, made: Layout) -> Iterator[str]:
    options = group.options
    if options.returns == "gated" and not any(chain.tail for chain in made.chains):
        yield "there is no return that could be gated"
    if options.power == "double":
        for name in (*made.units, *made.relays):
            if len(set(fed_by(group, first_match(group.powered, name, ())))) < 2:
                yield f"{name} has no second circuit"
    if options.fallback == "some" and not any(len(layer.choices) > 1 for layer in group.layers):
        yield "no layer has a second source"
    if options.references == "two":
        short = [unit for unit in made.units if len(references(group, unit)) < 2]
        yield from (f"{unit} has no second reference" for unit in short)
    yield from _routes(group, made)


def _routes(group: GroupPlan, made: Layout) -> Iterator[str]:
    if group.options.routes != "diverse":
        return
    found = [strand for relay in made.relays for strand in strands(made, relay)]
    main, backup = (
        {
            route
            for strand in found
            if strand.backup == side
            for route in trunk_run(group, strand, f"{strand.name}-1").routes
        }
        for side in (False, True)
    )
    if not any(strand.backup for strand in found):
        yield "there is no backup trunk that could take another route"
    yield from (f"main and backup trunks share the route {r}" for r in sorted(main & backup))


def _placed(group: GroupPlan, made: Layout) -> Iterator[str]:
    for wall in group.walls:
        every = {(row, column) for row in range(wall.rows) for column in range(wall.columns)}
        fed = Counter(place for places in wall.chains for place in places)
        for place in sorted(every - set(fed)):
            yield f"r{place[0] + 1}c{place[1] + 1} of {wall.name} is on no chain"
        for place, count in sorted(fed.items()):
            if count > 1 or place not in every:
                why = "on several chains" if place in every else "not on the wall"
                yield f"r{place[0] + 1}c{place[1] + 1} of {wall.name} is {why}"


SHAPE: tuple[Callable[[GroupPlan, Layout], Iterator[str]], ...] = (
    _walls, _names, _pairs, _options, _placed,
)  # fmt: skip
"""What can be told from the group alone."""


def _ports(on: Asked) -> Iterator[str]:
    group, made, used = on.group, on.made, on.needed.ports
    looped = any(chain.head == chain.tail for chain in made.chains)
    why = " (a return to where the head is fed takes two for each chain)" if looped else ""
    for role, names in (("unit", made.units), ("relay", tuple(made.relays))):
        for name in names:
            most = kit_of(group, role, name).limits.ports
            need = used[full_name(group, name)]
            if most is not None and need > most:
                yield f"{name} needs {need} ports and has {most}{why}"


def _trunks(on: Asked) -> Iterator[str]:
    group, made, outputs, inputs = on.group, on.made, on.needed.sent, on.needed.taken
    for role, names in (("unit", made.units), ("relay", tuple(made.relays))):
        for name in names:
            most = kit_of(group, role, name).limits.trunks
            need = outputs[full_name(group, name)]
            if most is not None and need > most:
                yield f"{name} needs {need} trunk outputs and has {most}"
    for relay in made.relays:
        most = kit_of(group, "relay", relay).limits.trunk_inputs
        need = inputs.get(full_name(group, relay), 0)
        if most is not None and need > most:
            yield f"{relay} needs {need} trunk inputs and has {most}"


def _inputs(on: Asked) -> Iterator[str]:
    group, made, taken = on.group, on.made, on.needed.links
    for unit in made.units:
        most = kit_of(group, "unit", unit).limits.inputs
        need = taken[full_name(group, unit)]
        if most is not None and need > most:
            yield f"{unit} needs {need} inputs and has {most}"


def _sources(on: Asked) -> Iterator[str]:
    show, group, made = on.show, on.group, on.made
    sources = {source.name: source for source in show.sources}
    for choice in all_choices(group):
        source = sources.get(choice.source)
        if source is None:
            yield f"no source is called {choice.source}"
        elif not 1 <= choice.link <= source.links:
            yield f"{source.name} has no link {choice.link}"
        elif source.second == "distributor":
            if source.distributor is None and _split(show, source.name):
                yield f"{source.name} goes to several units and has no distributor"
        elif source.second == "own":
            yield from _own(show, group, made, source)
        else:
            for unit in made.units[:-1]:
                if kit_of(group, "unit", unit).loop_through == "none":
                    yield f"{unit} has no loop-through for {source.name}"


def _own(show: ShowPlan, group: GroupPlan, made: Layout, source: SourcePlan) -> Iterator[str]:
    own = next((each for each in show.sources if each.name == source.own), None)
    for unit in made.units[1:]:
        if own is None:
            yield f"{unit} has no source of its own for {source.name}"
        elif own.links < source.links:
            yield f"{own.name} has fewer links than {source.name}, which it stands for"
        elif own.name in {choice.source for choice in all_choices(group)}:
            yield f"{unit} would take {own.name} twice"


def _split(show: ShowPlan, source: str) -> bool:
    units = {
        full_name(group, unit)
        for group in show.groups
        if source in {choice.source for choice in all_choices(group)}
        for unit in layout(group).units
    }
    return len(units) > 1


def _reach(on: Asked) -> Iterator[str]:
    group, made = on.group, on.made
    ends = [("head", group.cabling.head, [c for c in made.chains if not c.card])]
    ends += [("tail", group.cabling.tail, [c for c in made.chains if c.tail])]
    for end, usual, chains in ends:
        for chain in chains:
            name = f"{chain.name}/{end}"
            run = first_match(group.cabling.special, name, usual)
            reach = kit_of(group, "patch", name).limits.reach
            if reach is not None and run.length > reach:
                yield f"copper to the chain {end}s runs {_m(run.length)} and reaches {_m(reach)}"


def _m(length: Fraction) -> str:
    return f"{float(length):g} m"


def _merges(on: Asked) -> Iterator[str]:
    """A shared unit has one set of arrangements, whichever group takes them."""
    show, group = on.show, on.group
    for local, full in group.shared.items():
        owners = [each for each in show.groups if full == f"{each.name}/{local}"]
        known = {name for each in owners for name in (*layout(each).units, *layout(each).relays)}
        if not {local, full.split("/", 1)[-1]} & known:
            yield f"{local} is shared with {full}, which no group has"
        names = {a.name for a in group.arrangements}
        if any({a.name for a in each.arrangements} != names for each in owners):
            yield f"{full} is shared by groups whose arrangements have other names"


def _locked(on: Asked) -> Iterator[str]:
    """What is locked on an input has that many."""
    layers = min(len(choices(on.group, layer)) for layer in on.group.layers)
    for unit in on.made.units:
        kit = kit_of(on.group, "unit", unit)
        yield from _lacks(unit, "a layer", kit.picks, layers)
        yield from _lacks(unit, "its reference", kit.follows, len(references(on.group, unit)) or 1)
    for relay, legs in on.made.relays.items():
        yield from _lacks(relay, "its trunks", kit_of(on.group, "relay", relay).picks, len(legs))
    cards = on.group.kits["receiver"]
    fewest = 1 + all(chain.tail for chain in on.made.chains)
    yield from _lacks("a receiving card", "its chain", cards.picks, fewest)


def _lacks(name: str, what: str, chooser: Chooser, inputs: int) -> Iterator[str]:
    if chooser.restore == "locked" and chooser.locked_on >= inputs:
        number = chooser.locked_on + 1
        yield f"{name} is locked on input {number} of {what} (counted from 1), and has {inputs}"


CAPACITY: tuple[Callable[[Asked], Iterator[str]], ...] = (
    _ports, _trunks, _inputs, _sources, _reach, _merges, _locked,
)  # fmt: skip
"""What depends on the equipment, and on what other groups take of it."""
