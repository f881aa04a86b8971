"""After a drill, told for people: the time line, what each act brought, frames lost, how long it
took, all against doing nothing.

In: a frozen `Review`, the scenario, the topologies. Out: blocks, and a JSON document.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sim.limits.findings import grouped
from sim.practice.advice import Due, Phase
from sim.practice.best import Best
from sim.practice.review import Effect, Review
from sim.report.best_report import best_document, best_found
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Para, Points, Table
from sim.report.inject_report import moment
from sim.report.practise_report import practise_document, practise_next
from sim.report.rehearse_line import act_words, time_line
from sim.report.words import harmless, listed, seconds, wall_words
from sim.scenario.scenario import Scenario, Variant
from sim.study.effects import STATES
from sim.study.injection import Toll
from sim.timebase import clock_time, show_time

THIS_DRILL = FLASHING.replace("some faults here make", "this drill makes")
MOST_ROWS = 150
GOALS = {
    "picture": "a whole picture",
    "redundancy": "full redundancy",
    "critical": "a whole picture through the critical moments, and full redundancy in the end",
}


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """Everything that the report of one drill needs; `dues`: where earlier results are known."""

    scenario: Scenario
    variants: tuple[Variant, ...]
    review: Review
    best: Best | None = None
    phases: tuple[Phase, ...] = ()
    dues: tuple[Due, ...] = ()


def rehearse_blocks(told: Rehearsed) -> Blocks:
    """The whole report."""
    review = told.review
    flashes = max(review.acted.flashes, review.nothing.flashes)
    found: list[Block] = [
        Heading(f"{told.scenario.title}, drill: {harmless(review.plan.title)}", 1),
        Para(_lead(told)),
        *([Para(THIS_DRILL, warning=True)] if flashes > 3 else []),
        Heading("How long it took"),
        Points(tuple(_times(told))),
        Heading("What happened"),
        *_line(told),
        Heading("What each act brought"),
        *_acts(told),
        Heading("Frames lost, against doing nothing"),
        *_frames(told),
        *best_found(told.best, told.review, told.scenario),
        *practise_next(told.phases, told.dues, told.scenario.rate, told.best is not None),
        *_hands(review.effects),
        Heading("Cautions"),
        CAUTIONS,
    ]
    return tuple(found)


def _lead(told: Rehearsed) -> str:
    plan, scenario = told.review.plan, told.scenario
    topologies = ", ".join(f"{v.group}: {harmless(v.label)}" for v in told.variants)
    goal = GOALS[plan.goal]
    lost, nothing = told.review.lost, told.review.lost_by_nothing
    return (
        f"Topologies: {topologies}. From {moment(plan.begin, scenario)} to "
        f"{moment(plan.until, scenario)}, every timing at its typical value. The goal was {goal}: "
        f"{'reached' if told.review.reached else 'not reached'}. Not lit for "
        f"{seconds(float(lost))} s of the whole picture, against {seconds(float(nothing))} s "
        "if nothing had been done."
    )


def _times(told: Rehearsed) -> Iterator[str]:
    review, rate = told.review, told.scenario.rate
    words = (
        ("first act after the first fault", review.noticed, "none"),
        ("first right act done", review.right, "none"),
        ("whole picture, to the end of the drill", review.picture, "not within the drill"),
        ("full redundancy, to the end of the drill", review.redundancy, "not within the drill"),
    )
    for what, time, never in words:
        after = never if time is None else f"after {show_time(time, rate)}" if time else "always"
        yield f"{what}: {after}"


def _line(told: Rehearsed) -> Iterator[Block]:
    rows = time_line(told.review, told.scenario.rate)
    struck = told.review.plan.struck
    table = tuple(
        (
            moment(at, told.scenario),
            f"+{clock_time(at - struck)}" if at > struck else "",
            kind,
            text,
        )
        for at, _, kind, text in rows[:MOST_ROWS]
    )
    yield Table(("time code", "after", "kind", "what"), table, frozenset({1}))
    if len(rows) > MOST_ROWS:
        yield Para(f"{len(rows) - MOST_ROWS} more: `staylit inject` tells of a rig's own doings.")


def _acts(told: Rehearsed) -> Iterator[Block]:
    rig, rate = told.review.plan.rig, told.scenario.rate
    acts = [each for each in told.review.effects if each.done.act.do != "wait"]
    if not acts:
        yield Para("Nothing was done.")
        return
    rows = tuple(
        (
            moment(each.done.begin, told.scenario),
            act_words(each.done.act, rig),
            show_time(each.done.end - each.done.begin, rate),
            _verdict(each, told.review.plan.goal),
            _saved(each.saved),
        )
        for each in acts
    )
    yield Table(("began", "act", "took", "verdict", "saved"), rows, frozenset({2, 4}))
    yield Para(
        "Saved: seconds of the whole picture (of all groups) that would not have been lit if the "
        "engineer had stopped before this act, less those if he had stopped after it."
    )
    sources = dict.fromkeys(
        f"{each.done.act.do}: {each.done.cost.source}" for each in acts if each.done.well
    )
    if sources:
        yield Para(f"What acts take: {'; '.join(map(harmless, sources))}.")


TELLING = ("look", "ask", "tell", "walk", "break")
"""Acts that change nothing on the rig."""


def _verdict(each: Effect, goal: str) -> str:
    if not each.done.well:
        return "not done"
    if each.done.act.do in TELLING:
        return "-"
    ended = ", ended a fault" if each.done.ended else ""
    ended += ", gave the redundancy back" if each.restored and not ended else ""
    if each.right(goal):
        return f"right{ended}{' at a price' if each.saved < 0 else ''}"
    return f"cost picture{ended}" if each.saved < 0 else "changed nothing to be seen"


def _saved(part: Fraction) -> str:
    if not part:
        return "-"
    return f"{'-' if part < 0 else ''}{seconds(float(abs(part)))} s"


def _frames(told: Rehearsed) -> Iterator[Block]:
    """A line for each part that loses something, with acts and without."""
    pairs = list(zip(told.review.acted.tolls, told.review.nothing.tolls, strict=True))
    lost = [(a, n) for a, n in pairs if a.first is not None or n.first is not None]
    states = [n for n, _ in enumerate(STATES) if any(a.frames[n] or b.frames[n] for a, b in lost)]
    if not states:
        yield Para("No frame was lost, and none would have been.")
        return
    rows = tuple(
        (_part(acted), *(f"{_count(acted, n)} / {_count(nothing, n)}" for n in states))
        for acted, nothing in lost
    )
    head = ("frames, as it was / doing nothing", *(STATES[n] for n in states))
    yield Table(head, rows, frozenset(range(1, len(head))))
    yield Para(
        "Frames are whole frames from the start of the show to the end of the drill; each is "
        "counted once, at the worst state that any part has in it."
    )


def _count(toll: Toll, state: int) -> str:
    return grouped(toll.frames[state]) if toll.frames[state] else "-"


def _part(toll: Toll) -> str:
    if toll.kind == "wall":
        return wall_words(toll.name)
    return f"{toll.kind} {harmless(toll.name)}"


def _hands(effects: Sequence[Effect]) -> Iterator[Block]:
    """What must be told before somebody does in earnest what was done here."""
    found = dict.fromkeys(text for each in effects for text in each.done.cautions)
    if found:
        names = dict.fromkeys(each.done.act.do for each in effects if each.done.cautions)
        yield Heading("Before hands are laid on")
        yield Para(f"This drill sent hands to {listed(names)}.")
        yield Points(tuple(found))


# ---- data ----------------------------------------------------------------------------------------


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
        "best": best_document(told.best, told.review, told.scenario),
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
