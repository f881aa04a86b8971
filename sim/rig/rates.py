"""How often things fail: what the owner knows of his own, and the catalogue's placeholders.

In: `OwnRate`s as a scenario states them. Out: a `Rate` for a thing and a mode, per hour or on an
occasion (a load-in, a mating, a power-up, a changeover); mean numbers over hours.
The most special statement counts: of things by name, then of an equipment type, then of a family;
of equal ones the first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from fractions import Fraction
from math import gamma, log1p

from sim.rig.figures import PLACEHOLDER
from sim.rig.placeholders import CHANCES, RATES, Rate

KM = Fraction(1000)
"""In metres."""


@dataclass(frozen=True, slots=True)
class OwnRate:
    """A stated rate of a mode: of the things whose names match `things`, of an equipment type
    `kit`, or of a `family`; the other two are "".

    `value`: failures an hour, for each km of the thing if `per_km`; or the chance on each occasion
    that `per` names. `shape` and `age` (hours) as of a `Rate`.
    """

    mode: str
    value: float
    things: str = ""
    kit: str = ""
    family: str = ""
    per_km: bool = False
    error_factor: float = 1.0
    source: str = ""
    per: str = "hour"
    shape: float = 1.0
    age: float = 0.0


@dataclass(frozen=True, slots=True)
class Subject:
    """Whose rate is asked for: a name (`route north` for a route), its family, its equipment type,
    its length in metres.
    """

    name: str
    family: str
    kit: str = ""
    length: Fraction = Fraction(0)


def rate_of(own: Iterable[OwnRate], subject: Subject, mode: str, per: str = "hour") -> Rate | None:
    """The rate that counts for a thing and a mode, `per` hour or occasion; None where nobody knows
    one.
    """
    found = stated(own, subject, mode, per)
    if found is not None:
        return found
    if per == "hour":
        return RATES.get((subject.family, mode))
    return CHANCES.get((subject.family, mode, per))


def guessed(rate: Rate) -> bool:
    """Whether it rests on a placeholder: it is one, or its source says so."""
    return not rate.own or rate.source.startswith(PLACEHOLDER)


def stated(own: Iterable[OwnRate], subject: Subject, mode: str, per: str = "hour") -> Rate | None:
    """The same without the catalogue's placeholders."""
    fitting = (each for each in own if each.mode == mode and each.per == per)
    found = [(_breadth(each), each) for each in fitting if _fits(each, subject)]
    if not found:
        return None
    each = min(found, key=lambda pair: pair[0])[1]
    made = Rate(each.value, each.error_factor, each.source, True, per, each.shape, each.age)
    return scaled(made, float(subject.length / KM)) if each.per_km else made


def _breadth(own: OwnRate) -> int:
    return 0 if own.things else 1 if own.kit else 2


def _fits(own: OwnRate, subject: Subject) -> bool:
    if own.things:
        return fnmatchcase(subject.name, own.things)
    return own.kit == subject.kit if own.kit else own.family == subject.family


# ---- how many to expect --------------------------------------------------------------------------


def scaled(rate: Rate, factor: float) -> Rate:
    """A rate by the hour at which `factor` times as many are to be expected at any time."""
    by = factor if rate.shape == 1 else factor ** (1 / rate.shape)
    return replace(rate, value=rate.value * by)


def expected(rate: Rate, begin: float, end: float) -> float:
    """How many are to be expected between two ages in hours, for a rate by the hour.

    Weibull: (t / life)^shape is the mean number up to age t; the characteristic life is the mean
    life over gamma(1 + 1 / shape).
    """
    if rate.shape == 1:
        return rate.value * (end - begin)
    per_life = rate.value * gamma(1 + 1 / rate.shape)
    return float((end * per_life) ** rate.shape - (begin * per_life) ** rate.shape)


def in_show(rate: Rate, hours: float) -> float:
    """The same for a show of so many hours."""
    return expected(rate, rate.age, rate.age + hours)


def chance_to_rate(chance: float, hours: float) -> float:
    """Failures an hour that give this chance over so many hours."""
    return -log1p(-chance) / hours
