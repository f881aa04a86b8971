"""What somebody who knows the causes might do next in a drill: moves of one or several acts.

In: a `Course`, the faults that hold by their numbers. Out: moves: the act, with the way to where it
is done before it. That a move is listed does not say that it helps, or that it can be done.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.faults import Fault
from sim.practice.acts import Act
from sim.practice.costs import cost_of
from sim.practice.course import Course
from sim.practice.fades import covering
from sim.practice.handwork import sender_of
from sim.practice.mends import mends
from sim.rig.topology import Display, Node, Rig, Selector, Thing, selectors

Move = tuple[Act, ...]
FOOLING = ("blanked", "stuck", "corrupt", "stale", "unlocked")
"""Modes in which a valid signal goes on: no selector below leaves it."""
HANDS_ON = ("reseat", "swap", "re-patch", "bypass")


def moves(course: Course, holding: Sequence[int]) -> Iterator[Move]:
    """All moves, each once, those first that mostly help."""
    faults = [course.plan.script.faults[number] for number in holding]
    found = dict.fromkeys(_all(course, faults))
    yield from found


def _all(course: Course, faults: Sequence[Fault]) -> Iterator[Move]:
    for fault in faults:
        for act in _against(course, fault):
            yield from _at_its_place(course, act)
    yield from ((act,) for act in _waits(course))
    for act in (*_arrangements(course), *_choices(course)):
        yield from _at_its_place(course, act)


# ---- what helps against a fault ------------------------------------------------------------------


def _against(course: Course, fault: Fault) -> Iterator[Act]:
    rig = course.plan.rig
    yield from mends(fault.thing, rig)
    thing = rig.things.get(fault.thing)
    if thing is not None and thing.family == "port":
        yield Act("swap", sender_of(rig, thing.name))
    if thing is not None and thing.family == "processor":
        yield Act("load", thing.name)
    if fault.mode in FOOLING:
        yield from _silenced(fault.thing, rig)


def _silenced(name: str, rig: Rig) -> Iterator[Act]:
    """What takes a cable out that feeds a thing: what is below it then gets nothing, and takes its
    backup, which it never does for a picture that is valid and wrong.
    """
    own = [node for node in rig.nodes.values() if node.thing == name]
    feeding = dict.fromkeys(rig.nodes[each].thing for node in own for each in node.inputs)
    for other in feeding:
        if other != name and rig.things[other].family in ("fibre", "copper"):
            yield from (Act(do, other) for do in ("swap", "reseat"))
    for power in _cables_to(name, rig):
        yield Act("reseat", power)


def _cables_to(name: str, rig: Rig) -> list[str]:
    """The power cables next to a thing: without power a soft fault ends (R4)."""
    feeds = rig.things[name].powered_by if name in rig.things else ()
    while feeds and not any(rig.things[feed].family == "power-jumper" for feed in feeds):
        feeds = tuple(other for feed in feeds for other in rig.things[feed].powered_by)
    return [feed for feed in feeds if rig.things[feed].family == "power-jumper"]


# ---- choices -------------------------------------------------------------------------------------


def _choices(course: Course) -> Iterator[Act]:
    """Other inputs, and what stops and starts a selector's own changes."""
    for of, node in selectors(course.plan.rig):
        chooses = len(node.inputs) > 1 and not isinstance(node, Display)
        if chooses and course.live.is_up(node.thing):
            yield from _of_selector(course, of, node)


def _of_selector(course: Course, of: Selector, node: Node) -> Iterator[Act]:
    state = course.live.chooser(of.name)
    if state.mode == "locked":
        yield Act("unlock", of.name)
        return
    for number in range(len(node.inputs)):
        if number != state.on:
            yield Act("select", of.name, str(number))
    yield Act("lock", of.name)


def _arrangements(course: Course) -> Iterator[Act]:
    for name, group in course.plan.rig.groups.items():
        own = [each for each in group.arrangements if each not in course.plan.fades]
        wanted = course.live.run.player.wanted[name][-1][1]
        yield from (Act("take", name, other) for other in own if other != wanted)
        if wanted in own:
            yield from (Act("fade", name, layer) for layer in covering(group, wanted))


# ---- where and when ------------------------------------------------------------------------------


def _at_its_place(course: Course, act: Act) -> Iterator[Move]:
    """The act from where one is if it can be done so, else with all ways to get to its place."""
    thing = course.thing_of(act)
    if thing is None or _in_reach(course, act, thing):
        yield (act,)
        return
    place = course.plan.places.get(thing.name, "")
    walk = () if course.place == place else (Act("walk", place),)
    time = sum(cost_of(each.do, thing, course.plan.crew).time for each in (*walk, act))
    if not course.unreachable(place, course.now, course.now + time):
        yield (*walk, act)
    elif course.plan.reach.get(place) == "in breaks":
        yield (Act("break"), *walk, act)
        yield from ((wait, *walk, act) for wait in _until_breaks(course))


def _in_reach(course: Course, act: Act, thing: Thing) -> bool:
    asked = course.away if act.do in HANDS_ON else course.beyond
    time = cost_of(act.do, thing, course.plan.crew).time
    return not asked(thing, course.now, course.now + time)


def _until_breaks(course: Course) -> Iterator[Act]:
    begins = (each.begin for each in course.breaks if course.now < each.begin < course.plan.until)
    yield from (Act("wait", time=begin, until=True) for begin in begins)


def _waits(course: Course) -> Iterator[Act]:
    """For a break, for what is starting, for what strikes next."""
    yield from _until_breaks(course)
    begins = {fault.at for fault in course.plan.script.faults}
    for at in sorted(begins | set(course.live.comes_up())):
        if course.now < at < course.plan.until:
            yield Act("wait", time=at, until=True)
