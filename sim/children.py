"""What a process does that the program has started for a part of its work.

In: nothing. Out: settings of the process that asks. Interruptions are its parent's business, whose
end it shares: it prints nothing and ends at once.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import parent_process
from multiprocessing.process import BaseProcess

from sim.leaving import ENDING
from sim.memory import collect_rarely


def begin() -> None:
    """In a process at its start: interruptions are its parent's business, whose end it shares."""
    collect_rarely()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for number in ENDING:
        signal.signal(number, signal.SIG_DFL)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)


@contextmanager
def uninterrupted() -> Iterator[None]:
    """While processes are started: an interruption waits, so that none of them ever hears of it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
