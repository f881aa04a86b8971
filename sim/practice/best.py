"""The best course of a drill, found by search: what somebody might do who knew the causes at once.

In: a `DrillPlan`. Out: a frozen `Best`. A course is better than another if it reaches the goal and
the other does not, then if less is lost, then if the walls are meant for a shorter time to show
another arrangement than the planned one (a group's first), then if the goal is reached sooner, then
if it has fewer acts. So another arrangement, to which the show caller must agree, is taken only to
save picture, and left when that costs none. Nothing is done before the first fault. Courses grow by
a move at a time (`moves`), the most promising ones first; every course is played by the engine as a
drill plays it. The search is no proof: `played` says how many courses it tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count
from typing import Any

from sim.practice.acts import Act
from sim.practice.course import Course, DrillPlan, Ground, ground_of
from sim.practice.drill import do_act, held
from sim.practice.moves import Move, moves
from sim.practice.outcome import loss, redundancy_at, strayed_in, whole_picture_at

DEEP = 8
"""Courses of more acts do not grow further."""
PLAYED = 250
"""Courses that are tried at most."""
NEVER = 1 << 62
Mark = tuple[bool, Fraction, int, int, int]


@dataclass(frozen=True, slots=True)
class Try:
    """A course played to the end of the drill. `missed`: the goal was not reached; `lost`: wall-
    seconds; `strayed`: flicks for which another arrangement than planned was meant, added up over
    groups; `reached`: flicks from the first fault to the goal; `left`: how many faults still held
    after the last act; `well`: whether that did what it was for; `more`: what might be done next;
    `idle`: how many moves brought nothing.
    """

    acts: tuple[Act, ...]
    missed: bool
    lost: Fraction
    strayed: int
    reached: int
    left: int
    well: bool
    more: tuple[Move, ...]
    idle: int = 0

    @property
    def mark(self) -> Mark:
        """Less is better."""
        return self.missed, self.lost, self.strayed, self.reached, len(self.acts)


@dataclass(frozen=True, slots=True)
class Best:
    """The best course that was found, of so many that were played."""

    course: Try
    played: int


def best(plan: DrillPlan, known: Sequence[Sequence[Act]] = (), most: int = PLAYED) -> Best:
    """Search from doing nothing; `known` courses are tried too, so that none of them is better."""
    ground = ground_of(plan)
    first = play(plan, _waited(plan), ground)
    found = [first, *(play(plan, tuple(acts), ground) for acts in known)]
    seen, front = {each.acts for each in found}, [first]
    for turn in count():
        if not front or len(found) >= most:
            break
        each = _next(front, turn)
        for move in each.more:
            acts = (*each.acts, *move)
            if acts in seen or len(found) >= most:
                continue
            seen.add(acts)
            found.append(_after(each, play(plan, acts, ground)))
            if found[-1].well and len(acts) <= DEEP:
                front.append(found[-1])
    course, made = min(found, key=_promised), Best(min(found, key=lambda e: e.mark), len(found))
    if course is not made.course:
        made = _bettered(plan, replace(made, course=course), ground, made.course)
    return _bettered(plan, made, ground)


def _after(before: Try, made: Try) -> Try:
    """With how many of its moves, waits left aside, brought nothing when they were made."""
    alike = (before.lost, before.left, before.missed) == (made.lost, made.left, made.missed)
    return replace(made, idle=before.idle + (alike and made.acts[-1].do != "wait"))


def _bettered(plan: DrillPlan, made: Best, ground: Ground, other: Try | None = None) -> Best:
    """Without acts that bring nothing, with its acts in their best order, and back in the planned
    arrangement in the end, one change at a time; what waits for the first fault stays. `other`: the
    course instead, if that is better in the end.
    """
    first = len(_waited(plan)) if made.course.acts[: len(_waited(plan))] == _waited(plan) else 0
    better = True
    while better:
        others = (*_like(made.course.acts, first), *_back(plan, made.course))
        tries = [play(plan, acts, ground) for acts in others]
        course = min((made.course, *tries), key=lambda each: each.mark)
        better = course.mark < made.course.mark
        made = Best(course, made.played + len(tries))
    return replace(made, course=min((made.course, other or made.course), key=lambda e: e.mark))


def _like(acts: tuple[Act, ...], first: int) -> Iterator[tuple[Act, ...]]:
    """The acts without one of them, or with two neighbours in the other order."""
    for n in range(first, len(acts)):
        yield acts[:n] + acts[n + 1 :]
    for n in range(first, len(acts) - 1):
        yield (*acts[:n], acts[n + 1], acts[n], *acts[n + 2 :])


def _back(plan: DrillPlan, course: Try) -> Iterator[tuple[Act, ...]]:
    """The course, and then the planned arrangements taken again: at once, or after a wait."""
    if course.strayed:
        takes = tuple(Act("take", n, of.arrangements[0]) for n, of in plan.rig.groups.items())
        waits = [move for move in course.more if [act.do for act in move] == ["wait"]]
        for wait in ((), *waits):
            for take in takes:
                yield (*course.acts, *wait, take)


def _waited(plan: DrillPlan) -> tuple[Act, ...]:
    """Nobody acts before the first fault."""
    early = plan.begin < plan.struck
    return (Act("wait", time=plan.struck, until=True),) if early else ()


def _promised(each: Try) -> tuple[Any, ...]:
    return each.missed, each.lost, each.reached, len(each.acts)


PROMISES: tuple[Callable[[Try], tuple[Any, ...]], ...] = (
    lambda each: (each.idle, *_promised(each)),
    lambda each: (each.idle, each.lost, *_promised(each)),
    lambda each: (each.idle, each.left, *_promised(each)),
)
"""In turn: what a course came to, how little it lost, how few faults it leaves. A course that has
strayed promises no less: it may come back (`_back`).
"""


def _next(front: list[Try], turn: int) -> Try:
    """The most promising, taken out."""
    chosen = min(front, key=PROMISES[turn % len(PROMISES)])
    front.remove(chosen)
    return chosen


def play(plan: DrillPlan, acts: tuple[Act, ...], ground: Ground) -> Try:
    """A course, played to the end; what would come after the end of the drill is not done."""
    course, well = Course(plan, ground), True
    for act in acts:
        if course.now >= plan.until:
            well = False
            break
        well = do_act(course, act).well
    more = tuple(moves(course, held(course))) if course.now < plan.until else ()
    left = len(held(course))
    trace = course.live.finish()
    at = (
        whole_picture_at(plan, trace)
        if plan.goal == "picture"
        else redundancy_at(plan, course.live.whole)
    )
    reached = NEVER if at is None else at
    lost, strayed = loss(plan.rig, trace), strayed_in(plan, trace)
    return Try(acts, at is None, lost, strayed, reached, left, well, more)
