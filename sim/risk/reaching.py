"""How likely risks are to bring a night of each severity: alone, or with others.

In: a `Sampling`, the place of a topology, the fee (None: no contract), groups of hazards. Out:
chances a show, shape (groups, 4), of each severity or worse, the worst first.

A group brings a night of a severity if one of its strikes reaches it alone, or if it has a part in
what several together reach though none of them does alone. In shows of three and more those have a
part that make a pair known from shows of two; where there is none, all that struck.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from sim.risk.alone import FOR_EVER
from sim.risk.channels import DARK
from sim.risk.field import Field
from sim.risk.hazards import Hazard
from sim.risk.onset import onset_of
from sim.risk.piles import Pile, Sampling
from sim.risk.profile import Profile, Steps
from sim.risk.severity import DARK_AT_LEAST, reached
from sim.risk.streams import Floats
from sim.risk.stretches import DARK_TIME, DEFECTIVE
from sim.timebase import FLICKS

Flags = NDArray[np.bool_]
SEVERITIES = len(DARK_AT_LEAST) + 1


@dataclass(frozen=True, slots=True)
class Joint:
    """A drawn show, its part of probability, which severities its faults reach only together."""

    weight: float
    here: frozenset[int]
    reaches: tuple[bool, ...]


def chances(
    of: Sampling, topology: int, fee: Decimal | None, groups: Sequence[Sequence[int]]
) -> Floats:
    """See above. Each group: places of hazards in the union; none is in two groups."""
    masses = np.array([hazard.mass for hazard in of.union.hazards])
    means = masses[:, None] * alone_reaching(of, topology, fee)
    found: Floats = np.array([-np.expm1(-means[list(group)].sum(axis=0)) for group in groups])
    owner = {place: number for number, group in enumerate(groups) for place in group}
    joint = list(_joint(of, topology, fee))
    for severity in range(SEVERITIES):
        for weight, guilty in _guilty(joint, severity):
            found[sorted({owner[place] for place in guilty if place in owner}), severity] += weight
    return np.minimum(np.maximum.accumulate(found, axis=1), 1.0)


def levels(rows: Floats, field: Field, fee: Decimal | None) -> Flags:
    """Which severities each show reaches. Shapes: (shows, numbers in a row) to (shows, 4)."""
    seen = rows[:, DEFECTIVE] > 0
    if fee is not None:
        return reached(field.table(rows)[:, -1] / float(fee), seen, money=True)
    return reached(rows[:, DARK_TIME] / _wall_second(field), seen, money=False)


def _wall_second(field: Field) -> float:
    """Pixel-flicks in a wall-second."""
    return float(FLICKS * field.gauge.asked.areas["group"])


# ---- one hazard ----------------------------------------------------------------------------------


def alone_reaching(of: Sampling, topology: int, fee: Decimal | None) -> Floats:
    """Shape (hazards of the union, 4): the chance that a strike alone reaches each severity."""
    found = np.zeros((len(of.union.hazards), SEVERITIES))
    for pile in (each for each in of.piles if each.faults == 1):
        if pile.exact:
            for show in pile.shows:
                found[show[0].hazard] = _exactly(of, topology, show[0].hazard, fee)
            continue
        flags = levels(pile.rows[topology], of.fields[topology], fee)
        for show, share, each in zip(pile.shows, pile.shares, flags, strict=True):
            mass = of.union.hazards[show[0].hazard].mass
            found[show[0].hazard] += each * (share * pile.weight / mass)
    return found


def _exactly(of: Sampling, topology: int, hazard: int, fee: Decimal | None) -> Floats:
    """Over all instants at which it may strike. Losses change where stretches pass a clause's time,
    which the nights of a `Single` tell; dark time grows with what is left of the show.
    """
    field, single = of.fields[topology], of.exacts[topology][hazard]
    if single is None or not single.nights or field.local[hazard] < 0:
        return np.zeros(SEVERITIES)
    parts = np.array([part for part, _ in single.nights])
    found: Floats = parts @ levels(np.array([row for _, row in single.nights]), field, fee)
    of_hazard, length = of.union.hazards[hazard], field.gauge.length
    if fee is None and not of_hazard.early:
        made, second = field.scenes.alone(field.local[hazard]), _wall_second(field)
        needed = [time_to(made, edge * second) for edge in DARK_AT_LEAST]
        found[:-1] = [left_enough(of_hazard, at, length) for at in needed]
        found[-1] = max(found[-1], found[-2])
    return found


def left_enough(hazard: Hazard, needed: float | None, length: int) -> float:
    """The chance that a strike leaves so many flicks of the show; None: they are never enough."""
    if needed is None or needed >= length:
        return 0.0
    return struck_by(hazard, length - needed, length)


def struck_by(hazard: Hazard, flick: float, length: int) -> float:
    """The chance that a strike comes before a flick of the show."""
    onset = onset_of(hazard, length)
    return flick / length if onset is None else float(onset.by(np.array([flick]))[0])


def time_to(made: Profile, dark: float) -> float | None:
    """Flicks from a strike until so many pixel-flicks of darkness have added up; None: never."""
    if made.repeat is None:
        return _reach(made.steps, FOR_EVER, dark)[0]
    first, second = made.repeat
    at, missing = _reach(made.steps, second, dark)
    turn = _turn(made.steps, first, second)
    whole = dark_time(turn, second - first)
    if at is not None or not whole:
        return at
    turns = max(-(-missing // whole) - 1, 0)
    last, _ = _reach(turn, second - first, missing - turns * whole)
    return None if last is None else second + turns * (second - first) + last


def _turn(steps: Steps, first: int, second: int) -> Steps:
    """One turn, from its begin on."""
    begin = [areas for at, areas in steps if at <= first][-1]
    return ((0, begin), *((at - first, areas) for at, areas in steps if first < at < second))


def dark_time(steps: Steps, end: int) -> int:
    """Pixel-flicks dark up to a flick."""
    inside = [step for step in steps if step[0] < end]
    return sum(areas[DARK] * (b - a) for (a, areas), (b, _) in pairwise([*inside, (end, ())]))


def _reach(steps: Steps, end: int, dark: float) -> tuple[float | None, float]:
    """When so much darkness has added up, if before `end`; else how much is still missing then."""
    inside = [step for step in steps if step[0] < end]
    for (begin, areas), (until, _) in pairwise([*inside, (end, ())]):
        if areas[DARK] and dark <= areas[DARK] * (until - begin):
            return begin + dark / areas[DARK], 0.0
        dark -= areas[DARK] * (until - begin)
    return None, dark


# ---- several -------------------------------------------------------------------------------------


def _joint(of: Sampling, topology: int, fee: Decimal | None) -> Iterator[Joint]:
    field = of.fields[topology]
    for pile in (each for each in of.piles if each.faults > 1):
        extra = levels(pile.rows[topology], field, fee) & ~_some_alone(pile, topology, field, fee)
        for number in np.flatnonzero(extra.any(axis=1)).tolist():
            weight = float(pile.shares[number] * pile.weight)
            struck = {b.hazard for b in pile.shows[number]}
            here = frozenset(h for h in struck if field.local[h] >= 0)
            yield Joint(weight, here, tuple(extra[number].tolist()))


def _some_alone(pile: Pile, topology: int, field: Field, fee: Decimal | None) -> Flags:
    """Which severities some fault of each show reaches alone."""
    begins = np.cumsum([0, *(len(show) for show in pile.shows[:-1])])
    found: Flags = np.logical_or.reduceat(levels(pile.singles[topology], field, fee), begins)
    return found


def _guilty(joint: Sequence[Joint], severity: int) -> Iterator[tuple[float, frozenset[int]]]:
    """The shows that reach a severity only together, and who has a part in it."""
    of = [each for each in joint if each.reaches[severity]]
    pairs = {each.here for each in of if len(each.here) == 2}
    for each in of:
        known = [p for p in map(frozenset, combinations(sorted(each.here), 2)) if p in pairs]
        yield each.weight, frozenset().union(*known) or each.here
