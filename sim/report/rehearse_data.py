"""After a drill, told for programs: everything that it came to.

In: a frozen `Rehearsed`. Out: a JSON document; times in flicks, shares and wall-seconds as exact
texts.
"""

from __future__ import annotations

from typing import Any

from sim.practice.review import Effect
from sim.report.blocks import CAUTIONS
from sim.report.practise_report import practise_document
from sim.report.rehearse_line import act_words, time_line
from sim.report.rehearse_report import Rehearsed, best_act


def rehearse_document(told: Rehearsed) -> dict[str, Any]:
    """Everything that a drill came to; times in flicks, shares and wall-seconds exact texts."""
    review = told.review
    return {
        "format": "staylit-rehearse 1",
        "cautions": [*CAUTIONS.texts],
        "title": review.plan.title,
        "topologies": [{"group": v.group, "label": v.label} for v in told.variants],
        "begin": review.plan.begin,
        "until": review.plan.until,
        "struck": review.plan.struck,
        "goal": review.plan.goal,
        "reached": review.reached,
        "critical_moments_whole": review.held,
        "times": {
            name: getattr(review, name) for name in ("noticed", "right", "picture", "redundancy")
        },
        "lost": str(review.lost),
        "lost_by_doing_nothing": str(review.lost_by_nothing),
        "acts": [_act(each, told) for each in review.effects],
        "best": _best_document(told),
        **practise_document(told.phases, told.dues),
        "time_line": [
            {"at": at, "kind": kind, "what": text}
            for at, _, kind, text in time_line(review, told.scenario.rate)
        ],
        "frames": [
            {
                "kind": acted.kind,
                "name": acted.name,
                "group": acted.group,
                "acted": acted.frames._asdict(),
                "nothing": nothing.frames._asdict(),
            }
            for acted, nothing in zip(review.acted.tolls, review.nothing.tolls, strict=True)
        ],
    }


def _act(each: Effect, told: Rehearsed) -> dict[str, Any]:
    done = each.done
    return {
        "act": act_words(done.act, told.review.plan.rig),
        "begin": done.begin,
        "end": done.end,
        "well": done.well,
        "said": done.said,
        "saved": str(each.saved),
        "ended_faults": list(done.ended),
        "cost_source": done.cost.source,
        "cautions": list(done.cautions),
    }


def _best_document(told: Rehearsed) -> dict[str, Any] | None:
    if told.best is None:
        return None
    course = told.best.course
    return {
        "acts": [best_act(act, told) for act in course.acts],
        "lost": str(course.lost),
        "strayed": course.strayed,
        "reached": None if course.missed else course.reached,
        "tried": told.best.played,
    }
