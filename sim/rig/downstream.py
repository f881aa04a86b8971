"""From what units send to what cabinets show: trunks, relays, ports, chains both ways, gates.

In: a `Site` whose units stand. Out: things and nodes added to its draft, and for every cabinet
the Display nodes of its cards. In node names ">" runs from head to tail and "<" the other way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.rig.draft import Site, strand_names
from sim.rig.forms import Chain, Strand, short_name, strands, trunk_run
from sim.rig.plan import Place, Run
from sim.rig.topology import ALL, NOTHING, PASSING, Display, Gate, Merge, Node, Pass, Select
from sim.rig.wall import cabinet_name

Outs = Mapping[str, str]
"""Carrier node of each unit, by the unit's name without the group."""


def relay(site: Site, outs: Outs, local: str) -> None:
    """Build a relay with the trunks that feed it: one choice for each bank of ports."""
    thing = site.add(local, "relay", powered_by=site.circuits(local))
    legs = strands(site.layout, local)
    banks = site.draft.banks[thing]
    for bank in range(1, banks + 1):
        ends = [(leg, _trunk(site, outs, leg, banks, bank)) for leg in legs]
        _choice(site, local, bank, ends)


def _trunk(site: Site, outs: Outs, strand: Strand, banks: int, bank: int) -> str:
    local = strand_names(strand, banks)[bank - 1]
    run = trunk_run(site.plan, strand, local)
    thing = site.add(local, "trunk", run)
    delay = site.delay("trunk", local, run)
    reads = sent(site, outs, strand.sender, bank)
    return site.draft.node(Pass(name=f"{thing}>", thing=thing, inputs=(reads,), delay=delay))


def sent(site: Site, outs: Outs, sender: str, bank: int) -> str:
    """The node that holds what a unit, or a bank of a relay, sends."""
    return outs.get(sender) or bank_node(site.full(sender), bank)


def bank_node(thing: str, bank: int) -> str:
    """The node that holds what one bank of a relay sends."""
    return f"{thing}#bank {bank}"


def _choice(site: Site, local: str, bank: int, ends: list[tuple[Strand, str]]) -> None:
    """What a bank of a relay takes in: one trunk, a seamless pair, or a choice among such."""
    draft, kit, thing = site.draft, site.kit("relay", local), site.full(local)
    name = bank_node(thing, bank)
    legs: dict[int, tuple[str, ...]] = {}
    for strand, node in ends:
        legs[strand.leg] = (*legs.get(strand.leg, ()), node)
    if len(legs) == 1:
        draft.node(_leg(site, local, name, legs[0]))
        return
    inputs = tuple(
        draft.node(
            replace(
                _leg(site, local, f"{name} pair {leg + 1}", nodes), feels=NOTHING, delay=Fraction(0)
            )
        )
        if len(nodes) > 1
        else nodes[0]
        for leg, nodes in legs.items()
    )
    choose = draft.selector(name, kit, thing)
    draft.node(Select(name=name, thing=thing, inputs=inputs, selector=choose, delay=kit.delay))


def _leg(site: Site, local: str, name: str, nodes: tuple[str, ...]) -> Node:
    """The trunk of one leg, or its seamless pair."""
    kit, thing = site.kit("relay", local), site.full(local)
    if len(nodes) == 1:
        return Pass(name=name, thing=thing, inputs=nodes, delay=kit.delay)
    return Merge(name=name, thing=thing, inputs=nodes, buffer=kit.limits.buffer, delay=kit.delay)


@dataclass(frozen=True, slots=True)
class Station:
    """A thing that a chain's signal passes both ways, what it adds (flicks) and what limits it."""

    thing: str
    delay: Fraction
    feels: frozenset[str] = ALL


def chain(site: Site, outs: Outs, made: Chain) -> Iterator[tuple[Place, str]]:
    """Build a chain; every cabinet of it with the node that shows what its card shows."""
    feed, port = _port(site, outs, made, "head")
    cabling = site.plan.cabling
    usual = cabling.tail if made.card else cabling.head
    path = [port, _cable(site, f"{made.name}/head", "patch", usual)]
    path += _cabinets(site, made)
    if made.tail:
        back, last = _port(site, outs, made, "tail")
        path += [_cable(site, f"{made.name}/tail", "patch", cabling.tail), last]
    _walk(site, path, feed, ">")
    if made.tail:
        _walk(site, path[::-1], _returned(site, made, back, f"{last.thing}>"), "<")
    for number, place in enumerate(made.places):
        before, card = path[2 * number + 1], path[2 * number + 2]
        after = (f"{path[2 * number + 3].thing}<",) if made.tail else ()
        yield place, _screen(site, card.thing, (f"{before.thing}>", *after))


def _port(site: Site, outs: Outs, made: Chain, end: str) -> tuple[str, Station]:
    """What feeds the port at one end of a chain, and the port."""
    draft, sender = site.draft, made.head if end == "head" else made.tail
    thing, number = draft.ports[site.plan.name, made.name, end]
    local = port_name(sender, number)
    bank = 1
    if sender not in outs:
        bank += (number - 1) // site.kit("relay", sender).limits.ports_per_trunk
    site.add(local, "port", name=port_name(thing, number))
    return sent(site, outs, sender, bank), Station(
        port_name(thing, number), site.delay("port", local)
    )


def port_name(sender: str, number: int) -> str:
    """The port of a unit or relay: beside it, with its short name."""
    where, slash, last = sender.rpartition("/")
    return f"{where}{slash}port-{short_name(last)}-{number}"


def _cable(site: Site, local: str, role: str, usual: Run) -> Station:
    run = site.run(local, usual)
    return Station(site.add(local, role, run), site.delay(role, local, run))


def _cabinets(site: Site, made: Chain) -> list[Station]:
    """Receivers and the jumpers between them, head first."""
    where = made.name.rpartition("/")[0]
    path: list[Station] = []
    for number, place in enumerate(made.places, 1):
        if number > 1:
            jumper = f"{made.name}/jumper-{number}"
            path.append(_cable(site, jumper, "jumper", site.plan.cabling.jumper))
        cabinet = cabinet_name(*place, where)
        card = f"{cabinet}/receiver{made.card}"
        site.add(card, "receiver", powered_by=(site.full(f"{cabinet}/supply"),))
        path.append(Station(site.full(card), site.kit("receiver", card).hop, PASSING))
    return path


def _walk(site: Site, path: list[Station], reads: str, mark: str) -> None:
    """A node for each station, each reading the one before."""
    for station in path:
        reads = site.draft.node(
            Pass(
                name=station.thing + mark,
                thing=station.thing,
                inputs=(reads,),
                delay=station.delay,
                feels=station.feels,
            )
        )


def _returned(site: Site, made: Chain, feed: str, watch: str) -> str:
    """What the tail's port sends back: always its feed, or through a gate that watches the tail."""
    if site.plan.options.returns == "standing":
        return feed
    draft, thing = site.draft, site.full(made.tail)
    role = "unit" if made.tail in site.layout.units else "relay"
    kit = site.kit(role, made.tail)
    return draft.node(
        Gate(
            name=f"{thing}#return {site.plan.name}/{made.name}",
            thing=thing,
            inputs=(feed,),
            watch=watch,
            notice=draft.key(kit, "notice", thing),
            wait_to_restore=draft.key(kit, "return_wait", thing),
        )
    )


def _screen(site: Site, card: str, inputs: tuple[str, ...]) -> str:
    draft = site.draft
    kit = site.kit("receiver", card.removeprefix(f"{site.plan.name}/"))
    name = f"{card}#screen"
    return draft.node(
        Display(
            name=name,
            thing=card,
            inputs=inputs,
            selector=draft.selector(name, kit, card),
            keeps_last=draft.key(kit, "keeps_last", card),
            delay=kit.delay,
        )
    )
