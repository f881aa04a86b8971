"""From what is seen back to what may have failed: groups of faults, their chances, what to do next.

In: a `Library`, hazards, what was seen and reported, how long it has been so (flicks). Out: a
frozen `Diagnosis`. Chances are given that one of the faults listed is what is wrong.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from sim.practice.causes import (
    Cause,
    explaining,
    nothing_wrong,
    singles,
    telling_of,
    total,
)
from sim.practice.efforts import BY_FAMILY, FIBRE, FLASHING, HEIGHT, POWER
from sim.practice.evidence import Item
from sim.practice.library import Library
from sim.practice.match import holds
from sim.practice.nexts import Next, bits, nexts
from sim.practice.pairs import doubles
from sim.risk.striking import Hazard

SINGLE, DOUBLE, NEAREST = "single", "double", "nearest"


@dataclass(frozen=True, slots=True)
class Suspicion:
    """One fault (or two): its chance, whether that rests on a placeholder, whose doing it is."""

    name: str
    chance: float
    guessed: bool
    doing: str


@dataclass(frozen=True, slots=True)
class Alike:
    """Faults that nobody can tell apart by watching, asking and waiting, the likeliest first;
    `states`: places with what is seen there and how much of them; `blinked`: cabinets that
    were not lit for a while and are again; `alarms` that have come.
    """

    chance: float
    suspects: tuple[Suspicion, ...]
    states: tuple[tuple[str, str, Fraction], ...]
    blinked: int
    alarms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What may be wrong. `kind`: explained by single faults, only by double ones, or by none: then
    the groups are the nearest, which leave `unexplained` open.

    `well`: with nothing wrong all would look so too; `impossible`: what no single fault makes so;
    `contrary`: two that no single fault makes so together; `nexts`: looks and tests, the best
    first; `struck`: how many single faults were looked at; `guessed`: the part of the chances that
    rests on placeholders; `bits`: how open it is; `flashing`: what may be wrong flickers;
    `cautions`: what to mind where hands are sent; `common`: what is struck in all of them.
    """

    said: tuple[str, ...]
    kind: str
    well: bool
    groups: tuple[Alike, ...]
    nexts: tuple[Next, ...]
    impossible: tuple[str, ...]
    contrary: tuple[tuple[str, str], ...]
    unexplained: tuple[str, ...]
    struck: int
    guessed: float
    bits: float
    flashing: bool
    cautions: tuple[str, ...]
    common: tuple[str, ...]


def diagnose(
    library: Library,
    hazards: Sequence[Hazard],
    items: Sequence[Item],
    since: int | None = None,
    reach: Mapping[str, str] | None = None,
) -> Diagnosis:
    """What explains all of it: single faults, else double ones, else the nearest single ones.
    `since`: it has looked so for so many flicks (None: for long; `causes.FROM_START`).
    """
    every = list(singles(library, hazards, since))
    nothing = nothing_wrong(library)
    kind, found = SINGLE, explaining(every, items, library)
    if not found:
        kind, found = DOUBLE, list(doubles(library, hazards, every, items))
    unexplained: tuple[str, ...] = ()
    if not found:
        kind, found = NEAREST, _nearest(every, items, library)
        unexplained = tuple(i.text for i in items if found and not holds(i, found[0], library))
    impossible, contrary = _contradictions([*every, nothing], items, library, kind)
    return Diagnosis(
        said=tuple(item.text for item in items),
        kind=kind,
        well=all(holds(item, nothing, library) for item in items),
        groups=grouped(found),
        nexts=nexts(found, library, reach or {}),
        impossible=impossible,
        contrary=contrary,
        unexplained=unexplained,
        struck=len(every),
        guessed=_guessed(found),
        bits=_bits(found),
        flashing=any("jumping" in c.look.shown.spots.values() for c in found),
        cautions=tuple(_cautions(found, library)),
        common=_common(found),
    )


def grouped(causes: Sequence[Cause]) -> tuple[Alike, ...]:
    """Causes that look alike together, with their chances; the likeliest group first."""
    whole = total(causes) or 1.0
    of: dict[Hashable, list[Cause]] = {}
    for cause in causes:
        of.setdefault(cause.look.sign, []).append(cause)
    groups = [_alike(group, whole) for group in of.values()]
    return tuple(sorted(groups, key=lambda each: (-each.chance, each.suspects[0].name)))


def _alike(causes: Sequence[Cause], whole: float) -> Alike:
    shown = causes[0].look.shown
    states = ((p.name, *state) for p in shown.places for state in p.states.items())
    same: dict[str, Cause] = {}
    for cause in causes:
        weight = cause.weight + (same[cause.name].weight if cause.name in same else 0.0)
        same[cause.name] = replace(cause, weight=weight)
    return Alike(
        chance=total(causes) / whole,
        suspects=tuple(
            Suspicion(cause.name, cause.weight / whole, _rests(cause), _doing(cause))
            for cause in sorted(same.values(), key=lambda each: (-each.weight, each.name))
        ),
        states=tuple(states),
        blinked=len({cabinet for cabinet, _ in causes[0].look.blinked}),
        alarms=tuple(alarm.text for alarm in shown.alarms),
    )


def _rests(cause: Cause) -> bool:
    return any(hazard.guessed for hazard in cause.hazards)


def _doing(cause: Cause) -> str:
    return ", then ".join(hazard.cause for hazard in cause.hazards)


def _guessed(causes: Sequence[Cause]) -> float:
    whole = total(causes)
    return total([cause for cause in causes if _rests(cause)]) / whole if whole else 0.0


def _bits(causes: Sequence[Cause]) -> float:
    """How uncertain it is which of them it is."""
    return bits(cause.weight for cause in causes)


def _cautions(causes: Sequence[Cause], library: Library) -> dict[str, None]:
    """Those of the families of all things that may be at fault, each once."""
    things = dict.fromkeys(thing for cause in causes for thing in sorted(cause.things))
    families = dict.fromkeys(library.rig.things[thing].family for thing in things)
    found = {caution for family in families for caution in BY_FAMILY[family]}
    return dict.fromkeys(each for each in (POWER, HEIGHT, FIBRE, FLASHING) if each in found)


def _common(causes: Sequence[Cause]) -> tuple[str, ...]:
    """The things struck under every cause."""
    struck = [cause.things for cause in causes]
    return tuple(sorted(frozenset.intersection(*struck))) if struck else ()


def _nearest(causes: Sequence[Cause], items: Sequence[Item], library: Library) -> list[Cause]:
    """The causes that leave least open, the likeliest first."""
    telling = telling_of(items, library)
    scored = [(_score(cause, telling, items, library), cause) for cause in causes]
    most = max((score for score, _ in scored), default=(0, 0))
    best = [cause for score, cause in scored if score == most and most[0]]
    return sorted(best, key=lambda cause: -cause.weight)


def _score(
    cause: Cause, telling: Sequence[Item], items: Sequence[Item], library: Library
) -> tuple[int, int]:
    """How much of what nothing wrong leaves open, then how much of all, is so under a cause."""
    found = [sum(holds(item, cause, library) for item in of) for of in (telling, items)]
    return found[0], found[1]


def _contradictions(
    causes: Sequence[Cause], items: Sequence[Item], library: Library, kind: str
) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """What no single fault makes so, and which two none makes so together."""
    if kind == SINGLE:
        return (), ()
    under = [{n for n, c in enumerate(causes) if holds(i, c, library)} for i in items]
    impossible = tuple(i.text for i, of in zip(items, under, strict=True) if not of)
    pairs = combinations(zip(items, under, strict=True), 2)
    contrary = ((a.text, b.text) for (a, of), (b, too) in pairs if of and too and not of & too)
    return impossible, tuple(contrary)
