"""A drill that somebody does by writing one act after the other.

In: a `DrillPlan`, what its names mean, somebody who says texts and hears lines. Out: a frozen
`Session`; the texts of its acts are kept one by one, and as a script give the same drill again. A
text that means nothing costs no time. The end of what is said, an interruption or `done` ends the
acts.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sim.errors import InputError
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


def session(
    plan: DrillPlan, tongue: Tongue, hear: Hear, show: Show, say: Say, keep: Say
) -> Session:
    """Do a drill to its end, or until nothing more is said; `keep` is told the text of each act."""
    running, acts = drill(plan), list[Act]()
    now, before = next(running), None
    show(now, None)
    try:
        while not now.over:
            found = _next(tongue, hear, say)
            if found is None:
                break
            acts.append(found[0])
            keep(found[1])
            now, before = running.send(found[0]), now
            show(now, before)
    except KeyboardInterrupt:
        return Session(tuple(acts), interrupted=True)
    finally:
        running.close()
    return Session(tuple(acts))


def _next(tongue: Tongue, hear: Hear, say: Say) -> tuple[Act, str] | None:
    """The next act that means something, with its text."""
    while (text := hear()) is not None:
        words = " ".join(text.split())
        if words in ENDS:
            return None
        if words in HELP:
            say("\n".join([*ACTS.values(), "done (nothing more is done)"]))
        elif words:
            try:
                return parse_act(words, tongue, "act"), words
            except InputError as error:
                say(str(error))
    return None


def script_text(texts: Iterable[str], of: str) -> str:
    """A script file of what was done, which gives the same drill again."""
    lines = [f"  - {json.dumps(text, ensure_ascii=False)}" for text in texts]
    head = f"# What was done in a drill: {of}.\n"
    return head + ("acts:\n" + "\n".join(lines) if lines else "acts: []") + "\n"
