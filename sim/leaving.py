"""How a command ends: its last words, its status, and streams that have gone before it.

In: texts, errors, signals. Out: statuses for the shell (0..255); standard error gets what is said.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, TextIO

from sim.errors import Problem, StaylitError
from sim.harmless import harmless

FAILED = 70
"""The program itself failed: EX_SOFTWARE of BSD's sysexits.h (value from memory)."""
INTERRUPTED = 130
"""128 + 2, as shells count an interruption; a signal that ends the command is 128 + its number."""
BROKEN_OFF = "staylit: interrupted"
TRACEBACK = "STAYLIT_TRACEBACK"
LESS = "end other programs, or ask for less: one --group, one --topology, --workers 1"
ENDING = tuple(
    getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)
)  # SIGHUP is not everywhere


Handler = Callable[[int, FrameType | None], Any] | int | None
"""What Python does when a signal comes."""


class WorkLostError(StaylitError):
    """A process that the command had started was ended from outside."""

    exit_status = FAILED


def complain(text: str, status: int) -> int:
    """Say it on standard error, if there still is one, with control characters written out."""
    if sys.stderr is not None:
        try:
            sys.stderr.write(f"{harmless(text)}\n")
            sys.stderr.flush()
        except (OSError, ValueError):
            silence(sys.stderr)
    return status


def failed(error: Exception) -> int:
    """What to say of an error that nobody foresaw: one line, and how to see where it was. Where a
    signal had come before, it was that.
    """
    if HEARD:
        interrupted = HEARD[-1] == signal.SIGINT
        return complain(BROKEN_OFF, INTERRUPTED) if interrupted else 128 + HEARD[-1]
    if isinstance(error, MemoryError) and not os.environ.get(TRACEBACK):
        return complain(str(Problem("staylit", "memory ran out", todo=LESS)), FAILED)
    if os.environ.get(TRACEBACK):
        return complain("".join(traceback.format_exception(error)).rstrip(), FAILED)
    what = " ".join(f"{type(error).__name__}: {error}".rstrip(": ").split())
    todo = f"set {TRACEBACK}=1 and run it again to see where, and report that with the scenario"
    said = f"failed at its own work, which is a mistake in the program: {what}"
    return complain(str(Problem("staylit", said, todo=todo)), FAILED)


def refused(error: OSError) -> int:
    """What to say if the system refuses something, such as a full disk under standard output."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            with suppress(OSError, ValueError):
                stream.flush()
                continue
            silence(stream)
    of = f" ({error.filename})" if error.filename else ""
    return complain(f"staylit: the system refused: {error.strerror or error}{of}", 2)


def silence(stream: TextIO) -> None:
    """Nothing more is written to it, not even at exit: its reader has gone, or its disk is full."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


@contextmanager
def undisturbed(numbers: Iterable[int] = (signal.SIGINT, *ENDING)) -> Iterator[None]:
    """What must be done whole or not at all: a signal that comes meanwhile is heard afterwards."""
    came: list[int] = []
    before: dict[int, Handler] = {}
    try:
        if threading.current_thread() is threading.main_thread():
            for number in numbers:
                known = signal.getsignal(number)
                if known not in (signal.SIG_IGN, None):
                    before[number] = known
                    signal.signal(number, lambda came_now, frame: came.append(came_now))
        yield
    finally:
        for number, known in before.items():
            signal.signal(number, known)
        for number in came[:1]:
            signal.raise_signal(number)


def hush() -> None:
    """Nothing more is heard: all is said and done, and the status is known. Python remembers an
    interruption that came while it ran a text (dataclasses are made so) until it runs another one,
    and would end by it, whatever the status.
    """
    for number in (signal.SIGINT, *ENDING):
        signal.signal(number, signal.SIG_IGN)
    exec("")


def tell(text: str) -> None:
    """A remark on standard error, where anybody hears it."""
    complain(text, 0)


HEARD: list[int] = []
"""Signals that came: libraries may turn the interruption that they cause into another error."""


def leave_on_signals() -> None:
    """A signal that ends the command lets it put away half-written files and its processes."""
    HEARD.clear()
    if signal.getsignal(signal.SIGINT) is signal.SIG_DFL:
        signal.signal(signal.SIGINT, interrupt)
    for number in ENDING:
        if signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _leave)


def interrupt(number: int, frame: FrameType | None) -> None:
    """An interruption, as Python has it."""
    HEARD.append(number)
    raise KeyboardInterrupt


def _leave(number: int, frame: FrameType | None) -> None:
    HEARD.append(number)
    raise SystemExit(128 + number)
