"""Facts of a rig that are worked out once, however often they are asked for.

In: a function of a `Rig` alone, whose result does not hold the rig. Out: the same function, which
keeps what it found as long as the rig is there. A rig never changes; what is found must not either.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar
from weakref import ref

from sim.rig.topology import Rig

Found = TypeVar("Found")


def once(work_out: Callable[[Rig], Found]) -> Callable[[Rig], Found]:
    """Worked out once for each rig (not: for equal ones)."""
    known: dict[int, tuple[ref[Rig], Found]] = {}

    @wraps(work_out)
    def of(rig: Rig) -> Found:
        number = id(rig)
        if number not in known:
            found = work_out(rig)
            known[number] = (ref(rig, lambda _: known.pop(number)), found)
        return known[number][1]

    return of
