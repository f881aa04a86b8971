"""Events of a show, and tales of them: what begins and ends when.

In: what strikes in a show (`Struck`), hazards. Out: events in their order, faults at their flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sim.faults import OF_ITSELF, Fault
from sim.risk.hazards import Hazard
from sim.risk.profile import Profile
from sim.study.strikes import Strike

LONG = 10**17
"""Flicks: long enough for anything to settle."""
Event = tuple[int, bool, int]
"""A hazard's number, whether it begins (else it ends), and how often it has struck before."""
Turn = tuple[Event, int | None]
"""An event, and how long after the one before (flicks; None: when that has settled)."""
Piece = tuple[int, Profile]
NOTHING = Profile((), 0)


@dataclass(frozen=True, slots=True)
class Struck:
    """A hazard in a show: its number, from when (flicks; early ones: before 0), until when (None:
    to the end); `turn`: how often it has struck in this show before.
    """

    hazard: int
    begin: int
    end: int | None = None
    turn: int = 0


@dataclass(frozen=True, slots=True)
class Tale:
    """Events one after the other, each when all before has settled: what the last one adds, when
    it happens, when all has settled.
    """

    added: Profile
    at: int
    settled: int


def since(before: Tale, gap: int) -> int | None:
    """Flicks after the event before, None once all has settled; what repeats itself by its turn."""
    if before.added.repeat is None:
        return gap if gap <= before.settled - before.at else None
    first, second = before.added.repeat
    return gap if gap < second else first + (gap - first) % (second - first)


def as_one(hazard: Hazard) -> Strike:
    """Everything that a hazard strikes, as one strike with a name of its own."""
    faults = tuple(fault for strike in hazard.strikes for fault in strike.faults)
    mode = hazard.strikes[0].mode if hazard.strikes else ""
    return Strike(hazard.key, mode, faults, hazard.key)


def moved(fault: Fault, at: int, until: int | None) -> Fault:
    """A fault at another flick; what ends of itself keeps its length, and what happens or comes and
    goes begins with the show at the earliest.
    """
    if fault.mode in ("flapping", "moved", *OF_ITSELF):
        at = max(at, 0)
    return replace(fault, at=at, until=None if fault.mode in OF_ITSELF else until)


def times(event: Struck) -> tuple[int, ...]:
    return (event.begin,) if event.end is None else (event.begin, event.end)


def apart(events: Iterable[Struck]) -> list[Struck]:
    """The same hazard's strikes told apart; one that strikes what it holds already adds nothing."""
    last: dict[int, Struck] = {}
    found = []
    for event in sorted(events, key=lambda each: (each.begin, each.hazard)):
        before = last.get(event.hazard)
        if before is not None and (before.end is None or before.end >= event.begin):
            continue
        turn = before.turn + 1 if before is not None else 0
        last[event.hazard] = replace(event, turn=turn)
        found.append(last[event.hazard])
    return found


def ordered(part: Sequence[Struck]) -> list[tuple[int, Event]]:
    """Begins and ends in time; what was there before the show comes first."""
    early = sorted(each.hazard for each in part if each.begin < 0)
    order = [(0, (hazard, True, 0)) for hazard in early]
    later = [(each.begin, (each.hazard, True, each.turn)) for each in part if each.begin >= 0]
    ends = [(each.end, (each.hazard, False, each.turn)) for each in part if each.end is not None]
    return order + sorted([*later, *ends], key=lambda pair: (pair[0], pair[1][1], pair[1][0]))
