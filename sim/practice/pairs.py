"""Two faults that explain together what neither does alone.

In: a `Library`, hazards, single `Cause`s, what was seen. Out: frozen `Cause`s of two hazards in the
order in which they struck, the second long after the first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice

from sim.faults import Fault
from sim.practice.causes import Cause, telling_of
from sim.practice.desk import Spot
from sim.practice.evidence import STEADY, Heard, Item, Sight
from sim.practice.library import Library, Look
from sim.practice.match import holds
from sim.risk.striking import Hazard, strike_at

MOST_PAIRED = 30
"""Of hazards that explain a part, that disturb it, and of hidden ones, so many of the likeliest."""
SECOND = 0.5
"""Where in the show the second of two faults strikes: long after the first."""


def doubles(
    library: Library,
    hazards: Sequence[Hazard],
    causes: Sequence[Cause],
    items: Sequence[Item],
    most: int = MOST_PAIRED,
) -> Iterator[Cause]:
    """Pairs that explain it: one that explains a part or disturbs what is spoken of, before or
    after it another such, or before it something hidden, from before the show or since. Only the
    likeliest, so many of each at `most`, are tried.
    """
    telling = telling_of(items, library)
    if any(isinstance(i, Heard) and _unheard_of(i, causes, library) for i in telling):
        return
    parts = _partly(causes, telling, library), _near(causes, items, telling)
    partly = _once(cause for ranked in parts for cause in ranked[:most])
    hidden = _hidden(library, hazards, telling)
    for second in partly:
        for first in dict.fromkeys((*_behind(library, hidden, second, most), *partly)):
            if first.key != second.key:
                yield from _fitting(library, first, second, items)


def _unheard_of(item: Heard, causes: Sequence[Cause], library: Library) -> bool:
    """Whether no single fault has it reported: then no two have."""
    return not any(holds(item, cause, library) for cause in causes)


def _behind(
    library: Library, hidden: Sequence[Hazard], second: Hazard, most: int
) -> Iterator[Hazard]:
    """Of what may be so unseen the likeliest that can matter to what strikes then, from before the
    show and since.
    """
    met = library.notices(_struck(second))
    for early in (True, False):
        of = (each for each in hidden if each.early == early)
        matter = (h for h in of if not met.isdisjoint(library.notices(_struck(h))))
        yield from islice(matter, most)


def _struck(hazard: Hazard) -> tuple[str, ...]:
    return (*hazard.failing, *(fault.thing for fault in strike_at(hazard, 0)))


def _fitting(
    library: Library, first: Hazard, second: Hazard, items: Sequence[Item]
) -> Iterator[Cause]:
    """The pair, if it explains all of it; what is seen is looked at first."""
    seen = [item for item in items if isinstance(item, Sight)]
    at_a_glance = paired(library, first, second, library.glance)
    if at_a_glance and all(holds(item, at_a_glance, library) for item in seen):
        cause = paired(library, first, second)
        if cause and all(holds(item, cause, library) for item in items):
            yield cause


def _once(causes: Iterable[Cause]) -> list[Hazard]:
    return list({cause.hazards[0].key: cause.hazards[0] for cause in causes}.values())


def _partly(causes: Sequence[Cause], telling: Sequence[Item], library: Library) -> list[Cause]:
    """Single faults by how much they explain that nothing wrong does not, then by weight."""
    scored = [(sum(holds(i, cause, library) for i in telling), cause) for cause in causes]
    return _best([each for each in scored if each[0]])


def _near(causes: Sequence[Cause], items: Sequence[Item], telling: Sequence[Item]) -> list[Cause]:
    """Single faults by how much they disturb of what does not look as it should, however short,
    less what they disturb of what is said to look so; then by weight. Where a backup has failed
    unseen, what then strikes looks like no more than that.
    """
    asked = frozenset[Spot]().union(*(i.spots for i in telling if isinstance(i, Sight)))
    well = [i for i in items if isinstance(i, Sight) and i not in telling]
    scored = []
    for cause in causes:
        shown = frozenset(cause.look.shown.spots)
        spoilt = (shown | (cause.look.blinked if i.word == STEADY else frozenset()) for i in well)
        lost = sum(len(of & i.spots) for of, i in zip(spoilt, well, strict=True))
        scored.append((len((shown | cause.look.blinked) & asked) - lost, cause))
    return _best([each for each in scored if each[0] > 0])


def _best(scored: Sequence[tuple[int, Cause]]) -> list[Cause]:
    ranked = sorted(scored, key=lambda each: (-each[0], -each[1].weight))
    first = {cause.hazards[0].key: cause for _, cause in reversed(ranked)}
    return [first[key] for key in dict.fromkeys(c.hazards[0].key for _, c in ranked)]


def _hidden(library: Library, hazards: Sequence[Hazard], telling: Sequence[Item]) -> list[Hazard]:
    """What may be so unseen and touches what does not look as it should, the likeliest first."""
    asked = {cabinet for i in telling if isinstance(i, Sight) for cabinet, _ in i.spots}
    found = [h for h in hazards if _touches(library, h, asked) and _unseen(library, h)]
    return sorted(found, key=lambda hazard: -hazard.mass)


def _unseen(library: Library, hazard: Hazard) -> bool:
    return not hazard.strikes or library.look(strike_at(hazard, 0)).unseen


def _touches(library: Library, hazard: Hazard, cabinets: set[str]) -> bool:
    return not cabinets or not cabinets.isdisjoint(library.cabinets(_struck(hazard)))


def paired(
    library: Library,
    first: Hazard,
    second: Hazard,
    looking: Callable[[tuple[Fault, ...], tuple[str, ...]], Look] | None = None,
) -> Cause | None:
    """Two hazards, one after the other has settled; None where one thing is struck twice. Two that
    both strike in the show do so in this order half of the time. `looking`: how it is looked at
    (None: `library.look`).
    """
    later = int(SECOND * library.rig.length)
    faults = (*strike_at(first, 0), *strike_at(replace(second, early=False), later))
    names = [fault.thing for fault in faults]
    if len(set(names)) < len(names) or any(f.mode == "flapping" for f in faults[:-1]):
        return None
    failing = (*first.failing, *second.failing)
    look = (looking or library.look)(faults, failing)
    order = 1.0 if first.early else 0.5
    return Cause((first, second), faults, failing, order * first.mass * second.mass, look)
