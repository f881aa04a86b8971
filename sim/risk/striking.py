"""A hazard of a show: what strikes at once, how often, and when.

In: what `hazards` finds in a rig. Out: frozen `Hazard`s, the flicks at which they strike, and their
faults there. Masses are mean numbers of strikes a show; ages are hours.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sim.faults import Fault
from sim.rig.placeholders import Rate
from sim.rig.rates import guessed
from sim.rig.terms import Terms
from sim.rig.topology import Rig
from sim.study.strikes import HOUR, Strike

SHARED = "shared cause"
CAUSES = ("item", "person", "load-in", "never tested", "on demand", SHARED)
"""Whose doing: a thing fails, a person errs, it came wrong to the show, it was dead before and
nobody had tested it, it does not change over when called on, one cause strikes several."""
BEFORE = -1
"""The flick at which what is so already when the show starts strikes."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something that may strike in a show.

    `strikes`: what strikes at once (usually one; each at time 0 of the show, to be moved); empty
    where only `failing` counts: selectors whose changeovers fail all night. `early`: so already
    when the show starts; else it strikes at a time by `shape` (Weibull; 1: at any time alike) and
    `age` (hours that it has run before the show). `mass`: mean number a show; of early ones
    -ln(1 - chance). `lasts`: flicks after which it ends of itself. `guessed`: its rate is a
    placeholder.
    """

    key: str
    strikes: tuple[Strike, ...]
    mass: float
    cause: str = "item"
    early: bool = False
    failing: tuple[str, ...] = ()
    shape: float = 1.0
    age: float = 0.0
    lasts: int | None = None
    guessed: bool = True
    error_factor: float = 3.0
    source: str = ""


@dataclass(frozen=True, slots=True)
class Show:
    """What is asked: a rig on its terms, for so many hours, and which strikes nobody can see."""

    rig: Rig
    terms: Terms
    hours: float
    unseen: Callable[[Strike], bool]


def counts(show: Show, rate: Rate) -> bool:
    """Whether a rate counts: where only stated ones do, no placeholder."""
    return rate.own or not show.terms.stated_only


def made_of(key: str, struck: tuple[Strike, ...], mass: float, rate: Rate, cause: str) -> Hazard:
    """A hazard with the source of its rate."""
    factor, source = rate.error_factor, rate.source
    return Hazard(
        key, struck, mass, cause, guessed=guessed(rate), error_factor=factor, source=source
    )


def position(hazard: Hazard, u: float, length: int) -> int:
    """The flick of a show of `length` flicks at which a hazard strikes, for u uniform in [0, 1).

    The inverse of its cumulative hazard (Weibull from `age` on); `BEFORE` for what is so early.
    """
    if hazard.early:
        return BEFORE
    if hazard.shape == 1:
        return min(int(u * length), length - 1)
    shape, age = hazard.shape, hazard.age
    begin, end = age**shape, (age + length / HOUR) ** shape
    at = (begin + u * (end - begin)) ** (1 / shape) - age
    return min(max(int(at * HOUR), 0), length - 1)


def strike_at(hazard: Hazard, t: int) -> tuple[Fault, ...]:
    """Its faults, struck at flick t; what is early, before the show (a loose contact, which
    begins with the show, at 0).
    """
    found = [fault for strike in hazard.strikes for fault in strike.at(t).faults]
    return tuple(_lasting(hazard, fault) for fault in found)


def _lasting(hazard: Hazard, fault: Fault) -> Fault:
    at = fault.at if not hazard.early else 0 if fault.mode == "flapping" else BEFORE
    moved = replace(fault, at=at)
    return moved if hazard.lasts is None else replace(moved, until=max(at, 0) + hazard.lasts)
