"""How often things fail: what the owner knows of his own, and the catalogue's placeholders.

In: `OwnRate`s as a scenario states them. Out: a `Rate` per hour for a thing and a mode.
The most special statement counts: of things by name, then of an equipment type, then of a family;
of equal ones the first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fnmatch import fnmatchcase
from fractions import Fraction

from sim.rig.equipment import RATES, Rate

KM = Fraction(1000)
"""In metres."""


@dataclass(frozen=True, slots=True)
class OwnRate:
    """A stated rate of a mode: of the things whose names match `things`, of an equipment type
    `kit`, or of a `family`; the other two are "".

    `per_hour`: failures an hour, for each km of the thing if `per_km`.
    """

    mode: str
    per_hour: float
    things: str = ""
    kit: str = ""
    family: str = ""
    per_km: bool = False
    error_factor: float = 1.0
    source: str = ""


@dataclass(frozen=True, slots=True)
class Subject:
    """Whose rate is asked for: a name (`route north` for a route), its family, its equipment type,
    its length in metres.
    """

    name: str
    family: str
    kit: str = ""
    length: Fraction = Fraction(0)


def rate_of(own: Iterable[OwnRate], subject: Subject, mode: str) -> Rate | None:
    """The rate that counts for a thing and a mode; None where nobody knows one."""
    found = [(_breadth(each), each) for each in own if each.mode == mode and _fits(each, subject)]
    if not found:
        return RATES.get((subject.family, mode))
    each = min(found, key=lambda pair: pair[0])[1]
    scale = float(subject.length / KM) if each.per_km else 1.0
    return Rate(each.per_hour * scale, each.error_factor, each.source, own=True)


def _breadth(own: OwnRate) -> int:
    return 0 if own.things else 1 if own.kit else 2


def _fits(own: OwnRate, subject: Subject) -> bool:
    if own.things:
        return fnmatchcase(subject.name, own.things)
    return own.kit == subject.kit if own.kit else own.family == subject.family
