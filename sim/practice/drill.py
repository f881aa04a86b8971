"""A drill as a generator: it yields situations, receives acts, and returns what came of them.

In: a frozen `DrillPlan`; `Act`s, one for each situation (None: nothing more is done). Out: frozen
`Situation`s of what can be seen, never of causes, and a `Result`. There is no input or output here:
a script, a terminal or a test may drive it. The same acts give the same result.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable
from dataclasses import dataclass

from sim.engine.signal import Trace
from sim.practice.acts import Act
from sim.practice.cautions import cautions_of
from sim.practice.commands import taking
from sim.practice.costs import Cost, cost_of, usual
from sim.practice.course import Course, DrillPlan, Ground
from sim.practice.hands import HANDS
from sim.practice.settings import group_units
from sim.practice.sight import seen
from sim.practice.symptoms import Symptoms

TOO_LATE = "the drill ended first"
SEEN_AT_ONCE = usual("ask")
"""What an act costs at most that is seen at once to be impossible."""


@dataclass(frozen=True, slots=True)
class Done:
    """An act from `begin` to `end` (flicks): whether it was done, what there is to say, the cost
    that it had, the cautions that go with it; `ended`: the numbers of the drill's faults that it
    ended.
    """

    act: Act
    begin: int
    end: int
    well: bool
    said: str
    cost: Cost
    cautions: tuple[str, ...] = ()
    ended: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Situation:
    """What can be seen at the flick `at`, where the engineer is, what came of the last act, the
    hints that are due since then; `over`: no act is received any more.
    """

    at: int
    place: str
    shown: Symptoms
    last: Done | None = None
    hints: tuple[str, ...] = ()
    over: bool = False


@dataclass(frozen=True, slots=True)
class Result:
    """What was done; the run to the end of the drill; `whole`: from which flick on the rig had its
    full redundancy, or had it not.
    """

    done: tuple[Done, ...]
    trace: Trace
    whole: tuple[tuple[int, bool], ...]


Drill = Generator[Situation, Act | None, Result]


def drill(plan: DrillPlan, ground: Ground | None = None) -> Drill:
    """Run a drill; the first situation is that of its begin, the last one of its end. `ground`: of
    the same plan, where it is known.
    """
    course, done, told = Course(plan, ground), list[Done](), plan.begin
    situation = _situation(course, None, told)
    while not situation.over:
        act = yield situation
        if act is None:
            break
        done.append(do_act(course, act))
        told, before = course.now, told
        situation = _situation(course, done[-1], before)
    if situation.over:
        yield situation
    trace = course.live.finish()
    return Result(tuple(done), trace, tuple(course.live.whole))


def rehearsed(
    plan: DrillPlan, acts: Iterable[Act] = (), ground: Ground | None = None
) -> tuple[tuple[Situation, ...], Result]:
    """A drill driven by acts that are known before; those after its end are not done."""
    running, known = drill(plan, ground), iter(acts)
    found = [next(running)]
    try:
        while True:
            found.append(running.send(next(known, None)))
    except StopIteration as end:
        return tuple(found), end.value


def _situation(course: Course, last: Done | None, since: int) -> Situation:
    plan, now = course.plan, course.now
    due = ((plan.struck + hint.after, hint.text) for hint in plan.hints)
    return Situation(
        at=now,
        place=course.place,
        shown=seen(course.live, course.desk, now),
        last=last,
        hints=tuple(text for at, text in due if since < at <= now),
        over=now >= plan.until,
    )


def do_act(course: Course, act: Act) -> Done:
    """Let an act take its time, and have its effect at its end."""
    first, last = HANDS[act.do]
    begin, cost = course.now, _cost(course, act)
    well, said = first(course, act, begin, begin + cost.time)
    if not well:
        cost = min(cost, SEEN_AT_ONCE, key=lambda each: each.time)
    end = begin + cost.time
    late = end >= course.plan.until
    course.now = course.plan.until if late else end
    course.live.go(course.now - 1)
    before = held(course)
    if well:
        well, said = (False, TOO_LATE) if late and act.do != "wait" else last(course, act, end)
    course.live.go(course.now if not late else course.now - 1)
    ended = tuple(n for n in before if n not in held(course))
    thing = course.thing_of(act)
    cautions = cautions_of(act, thing) if well else ()
    return Done(act, begin, course.now, well, said, cost, cautions, ended)


def held(course: Course) -> tuple[int, ...]:
    """The faults of the plan that hold now, a loose contact from the instant on at which it begins
    to be off.
    """
    player, now = course.live.run.player, course.now
    faults = [(n, f) for n, f in enumerate(course.plan.script.faults) if f.mode != "moved"]
    return tuple(n for n, f in faults if player.holds(n) or (f.mode == "flapping" and f.at == now))


def _cost(course: Course, act: Act) -> Cost:
    plan = course.plan
    if act.do == "wait":
        return Cost(max(act.time - course.now if act.until else act.time, 1), "as long as it says")
    made = cost_of(act.do, course.thing_of(act), plan.crew)
    return Cost(made.time * _units(course, act), made.source)


def _units(course: Course, act: Act) -> int:
    """How many units are set one after the other."""
    if act.do in ("take", "fade"):
        return len(taking(course, act))
    return len(group_units(course, act)) if act.do in ("darken", "light") and not act.unit else 1
