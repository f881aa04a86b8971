"""What may have struck: single hazards and pairs of them, each with its weight and its look.

In: a `Library`, hazards (`risk.hazards`), what was seen, how long it has been so. Out: frozen
`Cause`s that explain all of it. A weight is a mean number of strikes a show (of two faults, the
product); posterior probabilities are weights over their sum, given that what is wrong is one of
these. What is already so when the show starts counts only if it has been seen from the start, or
as the hidden first of two.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sim.faults import Fault
from sim.practice.desk import Spot
from sim.practice.evidence import Item, Sight
from sim.practice.library import Library, Look
from sim.practice.match import holds
from sim.risk.striking import Hazard, strike_at

MOST_PAIRED = 30
"""Of hazards that explain a part, and of hidden ones, so many of the likeliest are paired."""
MOST_PHASES = 8
"""A fault after which the walls change oftener comes and goes: only its end is looked at."""
SECOND = 0.5
"""Where in the show the second of two faults strikes: long after the first."""
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


# ---- two faults ----------------------------------------------------------------------------------


def doubles(
    library: Library, hazards: Sequence[Hazard], causes: Sequence[Cause], items: Sequence[Item]
) -> Iterator[Cause]:
    """Pairs that explain it: one that explains a part, before or after it another such, or before
    it something hidden from before the show. Only the likeliest (`MOST_PAIRED`) are tried.
    """
    partly = _partly(causes, items, library)
    hidden = _hidden(library, hazards, items)
    for second in partly:
        for first in (*hidden, *(cause.hazards[0] for cause in partly)):
            if first.key != second.hazards[0].key:
                cause = paired(library, first, second.hazards[0])
                if cause and all(holds(item, cause, library) for item in items):
                    yield cause


def _partly(causes: Sequence[Cause], items: Sequence[Item], library: Library) -> list[Cause]:
    """Single faults by how much they explain that nothing wrong does not, then by weight."""
    telling = telling_of(items, library)
    scored = [(sum(holds(i, cause, library) for i in telling), cause) for cause in causes]
    best = sorted((each for each in scored if each[0]), key=lambda e: (-e[0], -e[1].weight))
    once = {cause.hazards[0].key: cause for _, cause in reversed(best)}
    ranked = dict.fromkeys(cause.hazards[0].key for _, cause in best)
    return [once[key] for key in ranked][:MOST_PAIRED]


def nothing_wrong(library: Library) -> Cause:
    """That nothing has failed."""
    return Cause((), (), (), 0.0, library.look(()))


def telling_of(items: Sequence[Item], library: Library) -> list[Item]:
    """What would not be so with nothing wrong."""
    nothing = nothing_wrong(library)
    return [item for item in items if not holds(item, nothing, library)]


def _hidden(library: Library, hazards: Sequence[Hazard], items: Sequence[Item]) -> list[Hazard]:
    """What may have been so from before the show, unseen, and touches what is spoken of."""
    sights = [item.spots for item in items if isinstance(item, Sight)]
    asked = {cabinet for cabinet, _ in frozenset[Spot]().union(*sights)}
    found = [
        hazard
        for hazard in hazards
        if hazard.early and _touches(library, hazard, asked) and _unseen(library, hazard)
    ]
    return sorted(found, key=lambda hazard: -hazard.mass)[:MOST_PAIRED]


def _unseen(library: Library, hazard: Hazard) -> bool:
    return not hazard.strikes or library.look(strike_at(hazard, 0)).unseen


def _touches(library: Library, hazard: Hazard, cabinets: set[str]) -> bool:
    struck = (*hazard.failing, *(fault.thing for fault in strike_at(hazard, 0)))
    return not cabinets or not cabinets.isdisjoint(library.cabinets(struck))


def paired(library: Library, first: Hazard, second: Hazard) -> Cause | None:
    """Two hazards, one after the other has settled; None where one thing is struck twice. Two that
    both strike in the show do so in this order half of the time.
    """
    later = int(SECOND * library.rig.length)
    faults = (*strike_at(first, 0), *strike_at(replace(second, early=False), later))
    names = [fault.thing for fault in faults]
    if len(set(names)) < len(names) or any(f.mode == "flapping" for f in faults[:-1]):
        return None
    failing = (*first.failing, *second.failing)
    look = library.look(faults, failing)
    order = 1.0 if first.early else 0.5
    return Cause((first, second), faults, failing, order * first.mass * second.mass, look)


def total(causes: Sequence[Cause]) -> float:
    """All weights together."""
    return sum(cause.weight for cause in causes)
