"""Acts without hands: looking, asking, walking, calling a break, commanding units.

In: a `Course` and an `Act`, when it begins and ends (flicks). Out: what was done to the rig, and
whether it went well.
"""

from __future__ import annotations

from sim.faults import Action
from sim.practice.acts import Act
from sim.practice.course import Course
from sim.practice.fades import faded
from sim.practice.sight import report, reports_at, unit_of
from sim.practice.touch import FINE, Said, at_unit, by_hand, thing_of
from sim.rig.topology import Display, selectors
from sim.scenario.scenario import Stretch


def look(course: Course, act: Act, end: int) -> Said:
    here = {n: of for n, of in course.plan.places.items() if course.place and of == course.place}
    return True, "; ".join(reports_at(course.live, course.desk, here, end))


def askable(course: Course, act: Act, begin: int, end: int) -> Said:
    """What is monitored is asked from the desk; all else where it stands."""
    unit = unit_of(course.desk, thing_of(course, act).name)
    return FINE if course.plan.rig.things[unit].monitored else by_hand(course, act, begin, end)


def ask(course: Course, act: Act, end: int) -> Said:
    thing = thing_of(course, act)
    near = not course.away(thing, end, end)
    return True, report(course.live, course.desk, thing, end, near)


def walk(course: Course, act: Act, end: int) -> Said:
    closed = course.unreachable(act.on, end, end)
    if closed:
        return False, closed
    course.place = act.on
    return True, f"you are at {act.on}"


def call_break(course: Course, act: Act, end: int) -> Said:
    course.breaks.append(Stretch("called", end, course.plan.until))
    return True, "the show is in a break until the end of the drill"


def choosable(course: Course, act: Act, begin: int, end: int) -> Said:
    node = next(node for of, node in selectors(course.plan.rig) if of.name == act.on)
    if isinstance(node, Display):
        return False, "a receiving card chooses by itself"
    return at_unit(course, act, begin, end)


def command(course: Course, act: Act, end: int) -> Said:
    thing = thing_of(course, act)
    if not course.live.is_up(thing.name):
        return False, f"{thing.name} does not answer"
    if act.do == "select" and course.live.chooser(act.on).mode == "locked":
        return False, "it is locked and does not move"
    do = "choose" if act.do == "select" else act.do
    course.live.act(Action(end, do, act.on, int(act.to) if act.to else None))
    return FINE


def taking(course: Course, act: Act) -> tuple[str, ...]:
    return course.units(act.on) if act.on in course.plan.rig.groups else (act.on,)


def take(course: Course, act: Act, end: int) -> Said:
    units = taking(course, act)
    told = tuple(course.answering(units, end))
    for name in told:
        course.live.act(Action(end, "take", name, act.to))
    left = [name for name in units if name not in told]
    return bool(told), f"{', '.join(left)} did not answer" if left else ""


def fade(course: Course, act: Act, end: int) -> Said:
    """Each unit goes on with what it shows, without the layer."""
    units, without = taking(course, act), []
    for name in course.answering(units, end):
        to = faded(course.shows(name), act.to)
        if to in course.plan.fades:
            course.live.act(Action(end, "take", name, to))
        else:
            without.append(f"{name} shows no layer {act.to} with another one below it")
    answered = tuple(course.answering(units, end))
    silent = [name for name in units if name not in answered]
    said = [*without, *([f"{', '.join(silent)} did not answer"] if silent else [])]
    return len(answered) > len(without), "; ".join(said)


def load(course: Course, act: Act, end: int) -> Said:
    thing = thing_of(course, act)
    if thing.family != "processor":
        return False, f"a {thing.family} has no such settings"
    if not course.live.is_up(thing.name):
        return False, f"{thing.name} does not answer"
    course.live.mend(end, (thing.name,), ("stale",), hard=False)
    for name in (name for name in course.plan.rig.groups if thing.name in course.units(name)):
        wanted = course.live.run.player.wanted[name][-1][1]
        course.live.act(Action(end, "take", thing.name, wanted))
    return FINE
