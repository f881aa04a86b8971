"""Work in small chunks, for tests of who carries it out.

In: numbers. Out: `Task`s whose functions any process finds by their names.
"""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from sim.errors import refuse
from sim.executing import Json, Known, Plain, Task


def prepared(given: int) -> list[int]:
    """What is known; a list, so that a test can see whether it is one and the same."""
    return [given]


def squared(known: list[int], chunk: int) -> tuple[int, int]:
    """Later chunks are done earlier; with the process that did it."""
    time.sleep(0.03 * (3 - chunk % 4))
    return known[0] + chunk * chunk, os.getpid()


def plainly_squared(known: list[int], chunk: int) -> int:
    return known[0] + chunk * chunk


def ended_once(known: list[int], chunk: tuple[int, str]) -> int:
    """The process that is the first to come to chunk 5 is ended from outside."""
    number, mark = chunk
    if number == 5 and not Path(mark).exists():
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return plainly_squared(known, number)


def always_ended(known: list[int], chunk: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return chunk


def refused(known: list[int], chunk: int) -> int:
    raise refuse("chunk", f"{chunk} is refused")


def number_read(said: Json) -> int:
    """Raises ValueError for anything but a whole number."""
    if type(said) is not int:
        raise ValueError("no whole number")
    return said


WHOLE = Plain(lambda made: made, number_read, lambda chunk, made: made >= chunk * chunk)


def squares(given: int = 5) -> Task[list[int], int, int]:
    """Squares and what is given, which a journal can keep."""
    return Task("squares", plainly_squared, Known(prepared, given), WHOLE)
