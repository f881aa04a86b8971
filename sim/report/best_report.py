"""The best course found for a drill, beside what was done, for people and programs.

In: a frozen `Best` (None: none was looked for), the `Review` of the drill, the scenario. Out:
blocks, and a part of a JSON document.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sim.limits.findings import grouped
from sim.practice.acts import Act
from sim.practice.best import Best, Try
from sim.practice.cautions import cautions_of
from sim.practice.review import Review
from sim.report.blocks import Block, Heading, Para, Points
from sim.report.inject_report import moment
from sim.report.rehearse_line import act_words
from sim.report.words import seconds
from sim.scenario.scenario import Scenario
from sim.timebase import Rate, show_time


def best_found(best: Best | None, review: Review, scenario: Scenario) -> Iterator[Block]:
    """The best course that was found, if one was looked for."""
    if best is None:
        return
    course, rate = best.course, scenario.rate
    reached = "not reached" if course.missed else f"reached after {show_time(course.reached, rate)}"
    yield Heading("The best course found")
    yield Para(
        f"The goal {reached}, not lit for {seconds(float(course.lost))} s of the whole picture, "
        f"against {seconds(float(review.lost))} s in this drill.{_strayed(course, rate)} It knows "
        f"the causes at once, and is the best of {grouped(best.played)} courses tried; a better "
        "one may exist."
    )
    yield Points(tuple(_act(act, review, scenario) for act in course.acts) or ("do nothing",))
    things = review.plan.rig.things
    minded = dict.fromkeys(c for act in course.acts for c in cautions_of(act, things.get(act.on)))
    if minded:
        yield Points(tuple(minded))


def _strayed(course: Try, rate: Rate) -> str:
    if not course.strayed:
        return ""
    time = show_time(course.strayed, rate)
    return f" For {time} it shows another arrangement than planned, by the show caller's word."


def _act(act: Act, review: Review, scenario: Scenario) -> str:
    if act.do == "wait" and act.until:
        return f"wait until {moment(act.time, scenario)}"
    return act_words(act, review.plan.rig)


def best_document(best: Best | None, review: Review, scenario: Scenario) -> dict[str, Any] | None:
    """The same as data; times in flicks, wall-seconds an exact text."""
    if best is None:
        return None
    course = best.course
    return {
        "acts": [_act(act, review, scenario) for act in course.acts],
        "lost": str(course.lost),
        "strayed": course.strayed,
        "reached": None if course.missed else course.reached,
        "tried": best.played,
    }
