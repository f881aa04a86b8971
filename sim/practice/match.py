"""Whether what was seen or reported holds under a cause.

In: an `Item`, a cause with its `Look`, the `Library`. Out: yes or no. What nobody said is open.
"""

from __future__ import annotations

from typing import Protocol

from sim.faults import Fault
from sim.practice.desk import Spot
from sim.practice.evidence import BLINKED, HELPED, LOOSE, STEADY, Heard, Item, Sight, Tried
from sim.practice.library import Library, Look
from sim.practice.symptoms import LIT


class Suspect(Protocol):
    """What a cause is, as far as it matters here."""

    @property
    def faults(self) -> tuple[Fault, ...]: ...
    @property
    def failing(self) -> tuple[str, ...]: ...
    @property
    def look(self) -> Look: ...
    @property
    def things(self) -> frozenset[str]: ...


def holds(item: Item, cause: Suspect, library: Library) -> bool:
    """Whether it would be so under this cause."""
    if isinstance(item, Sight):
        every = all if item.whole else any
        return every(_is(item.word, cause.look, spot) for spot in item.spots)
    if isinstance(item, Tried):
        return (item.says == HELPED) == helps(library, cause, item.name)
    return _alarmed(item, cause.look) if item.kind == "alarm" else _says(item, cause, library)


def helps(library: Library, cause: Suspect, thing: str) -> bool:
    """Whether something that can be seen or heard changes once a good one is in a thing's place.
    A circuit is measured instead: then it is whether it has tripped.
    """
    if thing not in cause.things:
        return False
    if library.rig.things[thing].family == "circuit":
        return True
    left = tuple(f for f in cause.faults if f.thing.partition("#")[0] != thing)
    return library.look(left, cause.failing, cause.look.shown.at).now != cause.look.now


def _is(word: str, look: Look, spot: Spot) -> bool:
    if word == BLINKED:
        return spot in look.blinked
    if word == STEADY:
        return spot not in look.blinked and spot not in look.shown.spots
    return look.shown.spots.get(spot, LIT) == word


def _alarmed(item: Heard, look: Look) -> bool:
    if item.says == "none":
        return not look.shown.alarms
    return any(a.name == item.name and item.says in ("", a.trouble) for a in look.shown.alarms)


def _says(item: Heard, cause: Suspect, library: Library) -> bool:
    """As monitoring tells it; of what nobody monitors, as a person reads it who stands there."""
    told = (*cause.look.shown.reports, *cause.look.also)
    said = {report.says for report in told if (report.kind, report.name) == (item.kind, item.name)}
    if said:
        return _heard(item, said)
    at, unit = cause.look.shown.at, library.unit_of(item.kind, item.name)
    found = library.before_unit(cause.faults, cause.failing, unit, at) if unit else ()
    return any((r.kind, r.name, r.says) == (item.kind, item.name, item.says) for r in found)


def _heard(item: Heard, said: set[str]) -> bool:
    """Whether somebody may hear this of what says all of these, one after the other."""
    if item.says == LOOSE:
        return len(said) > 1
    return item.says in said and not (item.steady and len(said) > 1)
