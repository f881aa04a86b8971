"""Where a drill is talked about: lines to standard error, lines from standard input.

In: texts to say; what is typed. Out: the lines that were typed. On a terminal what is said while
somebody is asked stands on lines of its own, and he is asked again; what he has typed of his line
so far still counts. Whether something was typed can be waited for on a terminal only: a pipe may
hold lines that were read already.
"""

from __future__ import annotations

import os
import select
import sys

from sim.bounds import MOST_LINE
from sim.session import Heard

TICK = 0.5
"""Seconds between two looks while somebody is asked."""


def tick() -> float | None:
    """How often somebody can look up while he is asked; None: not at all."""
    watched = sys.stdin is not None and sys.stdin.isatty() and os.name == "posix"
    return TICK if watched else None


def _write(text: str) -> None:
    if sys.stderr is not None:
        sys.stderr.write(text)
        sys.stderr.flush()


class Prompt:
    """`clock`: what stands before the mark; `asked`: the mark stands there, unanswered."""

    def __init__(self) -> None:
        self.clock = ""
        self.asked = False

    def say(self, text: str) -> None:
        """Lines of their own."""
        _write(("\n" if self.asked else "") + text + "\n")
        self.asked = False

    def hear(self, seconds: float | None = None) -> str | Heard | None:
        """A line of standard input; None at its end; or that none came within so many seconds."""
        if not self.asked:
            _write(f"{self.clock}> ")
            self.asked = True
        if seconds is not None and not select.select([sys.stdin], [], [], seconds)[0]:
            return Heard.NOTHING_YET
        line = sys.stdin.readline(MOST_LINE) if sys.stdin is not None else ""
        self.asked = False
        if not line:
            _write("\n")
            return None
        return line
