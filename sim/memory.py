"""How a process of the program keeps house with memory.

In: nothing. Out: Python's own settings, changed for the process that asks.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

RARELY = (70_000, 20, 20)
"""Objects made before Python looks for what nobody needs any more (its own choice is 700)."""


def collect_rarely() -> None:
    """Have Python look a hundred times less often: nearly all that a study makes it keeps to its
    end, and looking through that again and again cost a tenth of the time.
    """
    gc.set_threshold(*RARELY)


@contextmanager
def uncollected() -> Iterator[None]:
    """Have Python not look at all for a while: for work that makes much, keeps it, and leaves
    hardly anything that points back at itself (`check` of the largest rig: some hundred objects).
    """
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()
