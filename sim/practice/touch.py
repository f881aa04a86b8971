"""What acts share: what is touched or commanded, how a plug is pulled, what an act may say.

In: a `Course` and an `Act`, when it begins and ends (flicks). Out: `Said`. For each kind of act
there is a function for its beginning and one for its end.
"""

from __future__ import annotations

from collections.abc import Callable

from sim.faults import Fault
from sim.practice.acts import Act
from sim.practice.course import Course
from sim.rig.topology import Thing

Said = tuple[bool, str]
"""Whether it went well, and what there is to say."""
First = Callable[[Course, Act, int, int], Said]
Last = Callable[[Course, Act, int], Said]
FINE: Said = (True, "")


def thing_of(course: Course, act: Act) -> Thing:
    """The thing that an act is done to."""
    thing = course.thing_of(act)
    assert thing is not None, act
    return thing


def free(course: Course, act: Act, begin: int, end: int) -> Said:
    """Nothing stands in the way at its beginning."""
    return FINE


def nothing(course: Course, act: Act, end: int) -> Said:
    """It changes nothing at its end."""
    return FINE


def at_unit(course: Course, act: Act, begin: int, end: int) -> Said:
    """It needs remote control, or somebody at the unit."""
    why = course.beyond(thing_of(course, act), begin, end)
    return not why, why


def by_hand(course: Course, act: Act, begin: int, end: int) -> Said:
    """It needs somebody at the thing."""
    why = course.away(thing_of(course, act), begin, end)
    return not why, why


def pull(course: Course, thing: Thing, begin: int, end: int) -> None:
    """Take a thing out of action from `begin` to `end`."""
    mode = "cut" if "cut" in thing.modes else "dead"
    course.live.begin(Fault(thing.name, mode, begin, end, hard=True))
