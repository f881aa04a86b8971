"""Acts by hand: restart, reseat, swap, bypass.

In: a `Course` and an `Act`, when it begins and ends (flicks). Out: what was done to the rig, and
whether it went well. What is swapped is out of action while it is swapped; a plug that is pulled is
out for a moment. A bypassed cabinet has its cards black for good and passes signals on; it must
still have power: what is unpowered cannot be bypassed here.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.faults import CABLES, MODES, Fault
from sim.practice.acts import Act
from sim.practice.costs import PULLED, spare_of
from sim.practice.course import Course
from sim.practice.touch import FINE, Said, at_unit, by_hand, pull, thing_of
from sim.rig.topology import Rig, Thing

ALL_MODES = frozenset(mode for modes in MODES.values() for mode in modes)
CONTACTS = frozenset({"flapping", "corrupt", "attenuated"})
"""What a contact that is cleaned and plugged again no longer has, unless the fault is hard."""


def restartable(course: Course, act: Act, begin: int, end: int) -> Said:
    thing = thing_of(course, act)
    if thing.family != "circuit" and "restart" not in thing.modes:
        return False, f"a {thing.family} cannot be restarted"
    return at_unit(course, act, begin, end)


def restart(course: Course, act: Act, end: int) -> Said:
    thing = thing_of(course, act)
    if thing.family != "circuit":
        course.live.begin(Fault(thing.name, "restart", end))
        return FINE
    course.live.mend(end, (thing.name,), ("tripped",), hard=False)
    tripped = any(fault.hard for fault in course.live.faults(thing.name))
    return not tripped, "it trips again at once: leave it off and find out why" if tripped else ""


def reseatable(course: Course, act: Act, begin: int, end: int) -> Said:
    thing = thing_of(course, act)
    if thing.family not in (*CABLES, "port"):
        return False, f"a {thing.family} has no single plug to reseat"
    found = by_hand(course, act, begin, end)
    if found[0]:
        pull(course, thing, max(end - PULLED, begin + 1), end)
    return found


def reseat(course: Course, act: Act, end: int) -> Said:
    course.live.mend(end, (act.on,), CONTACTS, hard=False)
    return FINE


def swappable(course: Course, act: Act, begin: int, end: int) -> Said:
    thing = thing_of(course, act)
    if thing.family in ("circuit", "port", "control-link"):
        return False, f"there is no spare {thing.family}"
    stock = spare_of(thing, course.plan.crew)
    if course.spares.get(stock, 0) < 1:
        return False, f"no spare {thing.kit or thing.family} is left"
    found = by_hand(course, act, begin, end)
    if found[0]:
        course.spares[stock] -= 1
        pull(course, thing, begin + 1, end)
    return found


def swap(course: Course, act: Act, end: int) -> Said:
    thing = thing_of(course, act)
    if "cut" in thing.modes and _beside_cut(course, thing):
        return False, "the spare lies on the same route, and brings nothing either"
    things = {thing.name, *_ports_of(course, thing.name)}
    course.live.mend(end, things, ALL_MODES, hard=True)
    return FINE


def _beside_cut(course: Course, thing: Thing) -> bool:
    """Whether all that lies on one of its routes is cut."""
    others = [
        each.name
        for each in course.plan.rig.things.values()
        if each.name != thing.name and "cut" in each.modes and set(each.routes) & set(thing.routes)
    ]
    cut = [any(f.mode == "cut" for f in course.live.faults(name)) for name in (thing.name, *others)]
    return bool(others) and all(cut)


def _ports_of(course: Course, sender: str) -> Iterator[str]:
    nodes = course.plan.rig.nodes
    for node in nodes.values():
        of_port = bool(node.inputs) and course.plan.rig.things[node.thing].family == "port"
        if of_port and sender_of(course.plan.rig, node.thing) == sender:
            yield node.thing


def sender_of(rig: Rig, port: str) -> str:
    """The unit or relay that a port belongs to."""
    nodes = rig.nodes
    node = next(node for node in nodes.values() if node.thing == port)
    while nodes[node.inputs[0]].thing == port:
        node = nodes[node.inputs[0]]
    return nodes[node.inputs[0]].thing


def bypass(course: Course, act: Act, end: int) -> Said:
    rig, cards = course.plan.rig, course.cards(act.on)
    supplies = {name for card in cards for name in rig.things[card].powered_by}
    feeds = {feed for name in supplies for feed in rig.things[name].powered_by}
    if feeds and not any(map(course.live.is_up, feeds)):
        return False, "no power arrives there: find the power first"
    course.live.mend(end, {*cards, *supplies}, ALL_MODES, hard=True)
    for card in cards:
        course.live.begin(Fault(card, "blanked", end, hard=True))
    return FINE
