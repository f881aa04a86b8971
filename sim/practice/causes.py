"""What may have struck: single hazards, each with its weight and its look.

In: a `Library`, hazards (`risk.hazards`), what was seen, how long it has been so. Out: frozen
`Cause`s that explain all of it. A weight is a mean number of strikes a show (of two faults, the
product); posterior probabilities are weights over their sum, given that what is wrong is one of
these. What is already so when the show starts counts only if it has been seen from the start, or
as the hidden first of two (`pairs`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sim.faults import Fault
from sim.practice.evidence import Item
from sim.practice.library import Library, Look
from sim.practice.match import holds
from sim.risk.striking import Hazard, strike_at

MOST_PHASES = 8
"""A fault after which the walls change oftener comes and goes: only its end is looked at."""
FROM_START = -1
"""In the place of a time: it has been so since the show began."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One hazard, or two in the order in which they struck; `look`: what is seen of it now."""

    hazards: tuple[Hazard, ...]
    faults: tuple[Fault, ...]
    failing: tuple[str, ...]
    weight: float
    look: Look

    @property
    def name(self) -> str:
        return ", then ".join(hazard.key for hazard in self.hazards)

    @property
    def things(self) -> frozenset[str]:
        """The things struck; a selector's is its unit."""
        return frozenset(fault.thing.partition("#")[0] for fault in self.faults)


def singles(
    library: Library, hazards: Sequence[Hazard], since: int | None = None
) -> Iterator[Cause]:
    """Every single fault with what is seen of it now: once settled, or, if what is seen has stood
    for `since` flicks, in each phase that lasts longer.
    """
    for hazard in hazards:
        if not hazard.strikes or hazard.early != (since == FROM_START):
            continue
        faults = strike_at(hazard, 0)
        for look in _phases(library, faults, since):
            yield Cause((hazard,), faults, (), hazard.mass, look)


def _phases(library: Library, faults: tuple[Fault, ...], since: int | None) -> Iterator[Look]:
    """What is seen of faults, `since` flicks after each change of a wall that nothing follows so
    soon.
    """
    changes = library.changes(faults) if since is not None and since >= 0 else (0,)
    if since is None or since < 0 or len(changes) > MOST_PHASES:
        yield library.look(faults)
        return
    for begin, end in pairwise((*changes, library.rig.length)):
        if begin + since < end:
            yield library.look(faults, (), begin + since)


def explaining(causes: Sequence[Cause], items: Sequence[Item], library: Library) -> list[Cause]:
    """The causes under which all of it holds."""
    return [cause for cause in causes if all(holds(item, cause, library) for item in items)]


def nothing_wrong(library: Library) -> Cause:
    """That nothing has failed."""
    return Cause((), (), (), 0.0, library.look(()))


def telling_of(items: Sequence[Item], library: Library) -> list[Item]:
    """What would not be so with nothing wrong."""
    nothing = nothing_wrong(library)
    return [item for item in items if not holds(item, nothing, library)]


def total(causes: Sequence[Cause]) -> float:
    """All weights together."""
    return sum(cause.weight for cause in causes)
