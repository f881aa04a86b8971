"""Acts on settings: a port to which a cable is moved, a cabinet or region that is darkened.

In: a `Course` and an `Act`, when it begins and ends (flicks). Out: what was done to the rig, and
whether it went well. Settings go to all units of the group that answer, or to the one that was
named; the others are left with old settings (stale), which `load` mends. A darkened cabinet has its
cards black until it is lit again.
"""

from __future__ import annotations

from sim.faults import Fault
from sim.practice.acts import Act
from sim.practice.costs import PULLED
from sim.practice.course import Course
from sim.practice.handwork import ALL_MODES, sender_of
from sim.practice.touch import Said, by_hand, pull


def patchable(course: Course, act: Act, begin: int, end: int) -> Said:
    sender = sender_of(course.plan.rig, act.on)
    if course.free.get(sender, 0) < 1:
        return False, f"{sender} has no free port"
    if act.unit not in ("", sender) and sender in group_units(course, act):
        return False, f"{sender} must know its new port"
    found = by_hand(course, act, begin, end)
    way = next((port.way for port in course.desk.ports if port.name == act.on), ())
    if found[0] and way:
        cable = course.plan.rig.things[way[0]]
        pull(course, cable, max(end - PULLED, begin + 1), end)
    return found


def group_units(course: Course, act: Act) -> tuple[str, ...]:
    """All units whose settings tell of a port, a cabinet or a region."""
    rig = course.plan.rig
    thing = course.thing_of(act)
    if thing is not None:
        return course.units(thing.group)
    return next(
        course.units(g.name) for g in rig.groups.values() if act.on in {r.name for r in g.regions}
    )


def _settle(course: Course, act: Act, end: int) -> tuple[tuple[str, ...], str]:
    """The units that took the new settings, and what to say of the others."""
    units = group_units(course, act)
    meant = [name for name in units if act.unit in ("", name)]
    told = tuple(course.answering(meant, end))
    left = course.diverge(units, told, end) if told else units
    return told, f"{', '.join(left)} has not the new settings" if left else ""


def patch(course: Course, act: Act, end: int) -> Said:
    told, said = _settle(course, act, end)
    sender = sender_of(course.plan.rig, act.on)
    if not told or (sender in group_units(course, act) and sender not in told):
        return False, said
    course.free[sender] -= 1
    course.live.mend(end, (act.on,), ALL_MODES, hard=True)
    return True, said


def darken(course: Course, act: Act, end: int) -> Said:
    told, said = _settle(course, act, end)
    for card in course.cards(act.on) if told else ():
        if card not in course.darkened:
            course.darkened[card] = course.live.begin(Fault(card, "blanked", end, hard=True))
    return bool(told), said


def light(course: Course, act: Act, end: int) -> Said:
    told, said = _settle(course, act, end)
    for card in course.cards(act.on) if told else ():
        if card in course.darkened:
            course.live.lift(end, course.darkened.pop(card))
    return bool(told), said
