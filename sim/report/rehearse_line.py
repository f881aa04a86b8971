"""A drill in order of time: faults, what was seen of them, acts, what the rig did.

In: a frozen `Review`, the scenario. Out: rows (kind, flick, sentence).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from sim.engine.signal import Note
from sim.practice.acts import Act
from sim.practice.review import Effect, Review
from sim.practice.symptoms import PROVES, Symptoms
from sim.report.events import events, folded
from sim.report.words import harmless, listed, plain, share
from sim.rig.topology import Rig, selectors
from sim.timebase import Rate, show_time

Row = tuple[int, int, str, str]
"""Flick, rank within it, kind, sentence."""
RANKS = {"fault": 0, "effect": 1, "symptom": 3, "hint": 4, "act": 5}
AT_ITS_END, LAST = 2, 6
"""The end of an act stands before what is seen after it."""


def time_line(review: Review, rate: Rate) -> list[Row]:
    """Everything from the begin of a drill to its end, and the faults that were there before."""
    rows = [*_events(review, rate), *_symptoms(review), *_acts(review), *_goals(review)]
    return sorted(rows, key=lambda row: row[:2])


def _row(at: int, kind: str, text: str) -> Row:
    return at, RANKS[kind], kind, text


def _events(review: Review, rate: Rate) -> Iterator[Row]:
    """What the rig did; the drill's own faults are told apart."""
    own = {(max(f.at, 0), f.thing, f.mode) for f in review.plan.script.faults}
    for kind, notes in _parted(review, own).items():
        for run in folded(events(review.plan.rig, notes)):
            text, event = run.event.text, run.event
            if run.more:
                every = show_time(run.every, rate)
                text += f"; and so on, every {every}, {run.more} times more"
            if event.at >= review.plan.begin or kind == "fault":
                yield _row(event.at, kind, text)
    for fault in review.plan.script.faults:
        if fault.at < 0:
            yield _row(0, "fault", f"{plain(fault.thing)}: {fault.mode} since before the show")


def _goals(review: Review) -> Iterator[Row]:
    struck = review.plan.struck
    if review.picture:
        yield struck + review.picture, LAST, "goal", "the walls are lit everywhere from now on"
    if review.redundancy:
        yield struck + review.redundancy, LAST, "goal", "full redundancy from now on"


def _parted(review: Review, own: set[tuple[int, str, str]]) -> Mapping[str, list[Note]]:
    found: dict[str, list[Note]] = {"fault": [], "effect": []}
    for note in dict.fromkeys(review.result.trace.notes):
        if note.what == "fault" and (note.at, note.name, note.detail) in own:
            found["fault"].append(note)
        elif note.what == "fault" and note.detail in PULLED:
            found["effect"].append(replace(note, detail="out of action for the work"))
        elif note.what != "action":
            found["effect"].append(note)
    return found


PULLED = ("cut", "dead")
"""What somebody makes of a thing while he works on it."""


def _symptoms(review: Review) -> Iterator[Row]:
    """What can be seen, each time somebody looks up and it is not as it was."""
    before: tuple[list[str], set[str]] = ([], set())
    for situation in review.situations:
        now = shown_words(situation.shown), {alarm.text for alarm in situation.shown.alarms}
        new = sorted(map(harmless, now[1] - before[1]))
        texts = [*(now[0] if now[0] != before[0] else []), *new]
        if before[0] and not now[0]:
            texts = ["the walls are lit everywhere", *texts]
        if texts:
            yield _row(situation.at, "symptom", "; ".join(texts))
        before = now
        for hint in situation.hints:
            yield _row(situation.at, "hint", harmless(hint))


def shown_words(shown: Symptoms) -> list[str]:
    """What walls and regions look like, those that are not lit everywhere."""
    return [
        f"{harmless(place.name)} {listed(_states(place.states))}"
        for place in shown.places
        if place.states
    ]


def _states(states: Mapping[str, Fraction]) -> list[str]:
    return [f"{share(part)} {state}" for state, part in states.items()]


def _acts(review: Review) -> Iterator[Row]:
    rig = review.plan.rig
    for effect in (each for each in review.effects if each.done.act.do != "wait"):
        yield _row(effect.done.begin, "act", f"began: {act_words(effect.done.act, rig)}")
        yield effect.done.end, AT_ITS_END, "act", went(effect, rig)


def went(effect: Effect, rig: Rig) -> str:
    """How an act went."""
    done = effect.done
    told = done.said
    for proves in dict.fromkeys(PROVES.values()):
        told = told.replace(f" ({proves})", "")
    said = f": {harmless(told)}" if told else ""
    return f"{'done' if done.well else 'not done'}: {act_words(done.act, rig)}{said}"


def act_words(act: Act, rig: Rig) -> str:
    """An act as it can be written."""
    if act.do == "wait":
        return "wait"
    if act.do == "select":
        node = next(node for of, node in selectors(rig) if of.name == act.on)
        return f"select {harmless(node.inputs[int(act.to)].rstrip('<>'))} on {harmless(act.on)}"
    to = f" {harmless(act.to)} on" if act.to else ""
    only = f" on {harmless(act.unit)} only" if act.unit else ""
    toward = " to" if act.do == "walk" else ""
    return f"{act.do}{to}{toward} {harmless(act.on)}{only}".strip()
