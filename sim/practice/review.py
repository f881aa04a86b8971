"""After a drill: what each act brought, how long everything took, against doing nothing.

In: a `DrillPlan` and the acts that were done. Out: a frozen `Review`. Times are flicks; what is not
lit is measured in wall-seconds: seconds for which the whole picture of all groups would have been
not lit, exact. What an act brought is the difference between the drill without it and what came
after it, and the drill with it and nothing after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.practice.acts import Act
from sim.practice.course import DrillPlan, ground_of
from sim.practice.drill import Done, Result, Situation, rehearsed
from sim.practice.outcome import critical_held, loss, redundancy_at, whole_picture_at
from sim.study.injection import Injection, told


@dataclass(frozen=True, slots=True)
class Effect:
    """An act, and the wall-seconds that it saved (negative: that it cost); `restored`: by it the
    rig has its full redundancy in the end.
    """

    done: Done
    saved: Fraction
    restored: bool = False

    def right(self, goal: str) -> bool:
        """Whether it saved something, ended a fault or gave the redundancy back; where the goal
        is a whole picture, without costing any.
        """
        paid = self.saved >= 0 or goal != "picture"
        return self.saved > 0 or ((bool(self.done.ended) or self.restored) and paid)


@dataclass(frozen=True)
class Review:
    """`noticed`, `right`, `picture`, `redundancy`: flicks from the first fault to the first act
    after it, to the end of the first right one, to the last change into a whole picture, to full
    redundancy; None: it did not come (`picture` 0: nothing ever showed). `held`: the picture was
    whole through all critical moments.
    """

    plan: DrillPlan
    situations: tuple[Situation, ...]
    result: Result
    acted: Injection
    nothing: Injection
    lost: Fraction
    lost_by_nothing: Fraction
    effects: tuple[Effect, ...]
    noticed: int | None
    right: int | None
    picture: int | None
    redundancy: int | None
    held: bool = True

    @property
    def reached(self) -> bool:
        """Whether the goal was reached."""
        if self.plan.goal == "picture":
            return self.picture is not None
        return self.redundancy is not None and (self.held or self.plan.goal != "critical")


def review(plan: DrillPlan, acts: Sequence[Act]) -> Review:
    """Run a drill with these acts, with each of its beginnings, and with none."""
    ground = ground_of(plan)
    situations, result = rehearsed(plan, acts, ground)
    count = len(result.done)
    runs = [*(rehearsed(plan, acts[:n], ground)[1] for n in range(count)), result]
    losses = [loss(plan.rig, run.trace) for run in runs]
    whole = [run.whole[-1][1] for run in runs]
    effects = tuple(
        Effect(done, losses[n] - losses[n + 1], whole[n + 1] and not whole[n])
        for n, done in enumerate(result.done)
    )
    acted = told(plan.rig, result.trace)
    return Review(
        plan=plan,
        situations=situations,
        result=result,
        acted=acted,
        nothing=told(plan.rig, runs[0].trace),
        lost=losses[-1],
        lost_by_nothing=losses[0],
        effects=effects,
        noticed=_noticed(plan, result.done),
        right=_right(plan, effects),
        picture=whole_picture_at(plan, result.trace),
        redundancy=redundancy_at(plan, result.whole),
        held=critical_held(plan, result.trace),
    )


def _noticed(plan: DrillPlan, done: Sequence[Done]) -> int | None:
    """To the first act after the first fault that is no waiting."""
    begins = (d.begin for d in done if d.act.do != "wait" and d.begin >= plan.struck)
    first = next(begins, None)
    return None if first is None else first - plan.struck


def _right(plan: DrillPlan, effects: Sequence[Effect]) -> int | None:
    ends = (each.done.end for each in effects if each.right(plan.goal))
    first = next(ends, None)
    return None if first is None else first - plan.struck
