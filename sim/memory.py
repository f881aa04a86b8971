"""How a process of the program keeps house with memory.

In: nothing. Out: Python's own settings, changed for the process that asks.
"""

from __future__ import annotations

import gc

RARELY = (70_000, 20, 20)
"""Objects made before Python looks for what nobody needs any more (its own choice is 700)."""


def collect_rarely() -> None:
    """Have Python look a hundred times less often: nearly all that a study makes it keeps to its
    end, and looking through that again and again cost a tenth of the time.
    """
    gc.set_threshold(*RARELY)
