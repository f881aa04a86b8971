"""A drill that somebody does by writing one act after the other.

In: a `DrillPlan`, what its names mean, somebody who says texts and hears lines. Out: a frozen
`Session`; the texts of its acts are kept one by one, and as a script give the same drill again. A
text that means nothing costs no time, unless time runs by itself: then what passes until something
is said is kept as waiting. The end of what is said, an interruption or `done` ends the acts.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from sim.errors import InputError
from sim.pacing import Pace
from sim.practice.acts import ACTS, Act, Tongue, parse_act
from sim.practice.course import DrillPlan
from sim.practice.drill import Situation, drill

Hear = Callable[[], str | None]
"""The next text; None: nothing more is said."""
Show = Callable[[Situation, Situation | None], None]
Say = Callable[[str], None]
ENDS = ("done", "quit", "end")
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


def session(plan: DrillPlan, tongue: Tongue, talk: Talk) -> Session:
    """Do a drill to its end, or until nothing more is said."""
    running, acts = drill(plan), list[Act]()
    now = next(running)
    talk.show(now, None)
    try:
        while not now.over:
            begun = talk.pace.clock() if talk.pace else 0.0
            found = _next(tongue, talk)
            for act, text in _thought(tongue, talk, begun):
                acts.append(act)
                talk.keep(text)
                now, before = running.send(act), now
                talk.show(replace(now, last=None), before)
            if found is None or _is_over(now):
                break
            acts.append(found[0])
            talk.keep(found[1])
            now, before = running.send(found[0]), now
            if talk.pace:
                talk.pace.pass_by(now.at - before.at)
            talk.show(now, before)
    except KeyboardInterrupt:
        return Session(tuple(acts), interrupted=True)
    finally:
        running.close()
    return Session(tuple(acts))


def _is_over(now: Situation) -> bool:
    return now.over


def _thought(tongue: Tongue, talk: Talk, begun: float) -> list[tuple[Act, str]]:
    """The time that passed until something was said, as waiting."""
    text = talk.pace.since(begun) if talk.pace else ""
    return [(parse_act(text, tongue, "act"), text)] if text else []


def _next(tongue: Tongue, talk: Talk) -> tuple[Act, str] | None:
    """The next act that means something, with its text. In real time an empty line is the shortest
    of all waits.
    """
    while (text := talk.hear()) is not None:
        words = " ".join(text.split()) or ("wait 1 ms" if talk.pace else "")
        if words in ENDS:
            return None
        if words in HELP:
            talk.say("\n".join([*ACTS.values(), "done (nothing more is done)"]))
        elif words:
            try:
                return parse_act(words, tongue, "act"), words
            except InputError as error:
                talk.say(str(error))
    return None


def script_text(texts: Iterable[str], of: str) -> str:
    """A script file of what was done, which gives the same drill again."""
    lines = [f"  - {json.dumps(text, ensure_ascii=False)}" for text in texts]
    head = f"# What was done in a drill: {of}.\n"
    return head + ("acts:\n" + "\n".join(lines) if lines else "acts: []") + "\n"
