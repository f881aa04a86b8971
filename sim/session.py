"""A drill that somebody does by writing one act after the other.

In: a `DrillPlan`, what its names mean, somebody who says texts and hears lines. Out: a frozen
`Session`; the texts of its acts are kept one by one, and as a script give the same drill again. A
text that means nothing costs no time, unless time runs by itself: then what passes until something
is said is kept as waiting, and what changes meanwhile is shown. The end of what is said, an
interruption, `done` or the end of the drill ends the acts.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from enum import Enum

from sim.errors import InputError
from sim.pacing import Pace
from sim.practice.acts import ACTS, Act, Tongue, parse_act
from sim.practice.course import DrillPlan, Ground, ground_of
from sim.practice.drill import Situation, drill


class Heard(Enum):
    """What was heard besides texts."""

    NOTHING_YET = 1


Hear = Callable[[float | None], str | Heard | None]
"""The next text, waited for so many seconds (None: until there is one); None: no more is said."""
Show = Callable[[Situation, Situation | None], None]
Say = Callable[[str], None]
ENDS = ("done", "quit", "end", "stop", "exit")
HELP = ("help", "?")


@dataclass(frozen=True, slots=True)
class Session:
    """What was done. `interrupted`: it was broken off."""

    acts: tuple[Act, ...]
    interrupted: bool = False


@dataclass(frozen=True, slots=True)
class Talk:
    """Who is talked with: says texts, is shown situations, hears lines; `keep` is told the text of
    each act. `pace`: time runs by itself; None: it runs by what acts cost.
    """

    hear: Hear
    show: Show
    say: Say
    keep: Say
    pace: Pace | None = None


@dataclass
class _Under:
    """A session under way: `seen` is the last situation that was shown, `hints` all that were
    given, `begun` when the clock of the pace began to run for the next act.
    """

    plan: DrillPlan
    ground: Ground
    tongue: Tongue
    talk: Talk
    acts: list[Act]
    seen: Situation | None = None
    hints: tuple[str, ...] = ()
    begun: float = 0.0

    def show(self, now: Situation) -> None:
        """Show what is new."""
        new = tuple(hint for hint in now.hints if hint not in self.hints)
        self.talk.show(replace(now, hints=new), self.seen)
        self.seen, self.hints = now, (*self.hints, *new)


def session(plan: DrillPlan, tongue: Tongue, talk: Talk) -> Session:
    """Do a drill to its end, or until nothing more is said."""
    under = _Under(plan, ground_of(plan), tongue, talk, [])
    running = drill(plan, under.ground)
    now = next(running)
    under.show(now)
    try:
        while not now.over:
            under.begun = talk.pace.clock() if talk.pace else 0.0
            found = _next(under)
            for act, text in _thought(under):
                now = _done(under, act, text, running.send(act), thought=True)
            if found is None or _is_over(now):
                break
            before = now.at
            now = _done(under, *found, running.send(found[0]))
            if talk.pace:
                talk.pace.pass_by(now.at - before)
            under.show(now)
    except KeyboardInterrupt:
        return Session(tuple(under.acts), interrupted=True)
    finally:
        running.close()
    return Session(tuple(under.acts))


def _done(under: _Under, act: Act, text: str, now: Situation, thought: bool = False) -> Situation:
    under.acts.append(act)
    under.talk.keep(text)
    if thought:
        under.show(replace(now, last=None))
    return now


def _is_over(now: Situation) -> bool:
    return now.over


def _thought(under: _Under) -> list[tuple[Act, str]]:
    """The time that passed until something was said, as waiting."""
    text = under.talk.pace.since(under.begun) if under.talk.pace else ""
    return [(parse_act(text, under.tongue, "act"), text)] if text else []


def _next(under: _Under) -> tuple[Act, str] | None:
    """The next act that means something, with its text. In real time an empty line is the shortest
    of all waits, and what changes before a line is said is shown.
    """
    talk = under.talk
    while (text := talk.hear(talk.pace.tick if talk.pace else None)) is not None:
        if isinstance(text, Heard):
            if _looked_up(under):
                return None
            continue
        words = " ".join(text.split()) or ("wait 1 ms" if talk.pace else "")
        if words in ENDS:
            return None
        if words in HELP:
            talk.say("\n".join([*ACTS.values(), "done (nothing more is done)"]))
        elif words:
            try:
                return parse_act(words, under.tongue, "act"), words
            except InputError as error:
                talk.say(str(error))
    return None


def _looked_up(under: _Under) -> bool:
    """Show how it stands if that is news; whether the drill is over. Another course of the same
    acts is looked at: the drill itself gets one wait, when something is said.
    """
    waited = [act for act, _ in _thought(under)]
    if not waited:
        return False
    now = after(under.plan, (*under.acts, *waited), under.ground)
    if not now.over and _is_news(now, under):
        under.show(replace(now, last=None))
    return now.over


def after(plan: DrillPlan, acts: Iterable[Act], ground: Ground) -> Situation:
    """The situation after some acts."""
    running = drill(plan, ground)
    now = next(running)
    for act in acts:
        now = running.send(act) if not now.over else now
    running.close()
    return now


def _is_news(now: Situation, under: _Under) -> bool:
    seen = under.seen
    told = seen is None or (now.shown.spots, now.shown.alarms) != (
        seen.shown.spots,
        seen.shown.alarms,
    )
    return told or any(hint not in under.hints for hint in now.hints)


def script_text(texts: Iterable[str], of: str) -> str:
    """A script file of what was done, which gives the same drill again."""
    lines = [f"  - {json.dumps(text, ensure_ascii=False)}" for text in texts]
    head = f"# What was done in a drill: {of}.\n"
    return head + ("acts:\n" + "\n".join(lines) if lines else "acts: []") + "\n"
