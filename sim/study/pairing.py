"""Every pair of faults of a rig of any size: what two together leave not lit, in both orders.

In: a `Laboratory` and its strikes. Out: frozen `Together`s: like pairs counted. Of two different
things the second is struck when the first has settled; all timings are typical. Areas are pixels.

Three ways to an area, each exact. Where the second's run never looks at what the first leaves
changed (`footprint`), and no picture of a unit changes, both leave what each leaves alone. Else one
pair is run for all that are alike: what a cabinet shows depends on nothing but what it is fed,
which its kind tells (`symmetry`; here with two faults marked in it, `joint`). Where a thing hangs
on feeds of both, it notices neither alone: such pairs are run each for itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sim.engine.signal import Signal
from sim.engine.symmetry import Reach, reach
from sim.faults import Script
from sim.study.contingency import lost_together
from sim.study.effects import LIT, STATES, read
from sim.study.footprint import Footprints
from sim.study.joint import Joint
from sim.study.laboratory import Laboratory
from sim.study.settled import Cast, Settled, what
from sim.study.strikes import Strike

Place = tuple[Hashable, int]
"""Where two faults show the same: a kind of cabinet, and a stack."""


@dataclass(frozen=True, slots=True)
class Together:
    """`count` like pairs (role and mode of the first and the second), the pixels that each leaves
    not lit alone and that both leave together.
    """

    first: str
    second: str
    alone: tuple[int, int]
    together: int
    count: int


class Part(NamedTuple):
    """What can notice a strike: pixels by kind of cabinet and stack, carriers and layers."""

    part: Reach
    areas: Mapping[tuple[int, int], int]
    painters: Mapping[int, int]


class Overlap(NamedTuple):
    """How the parts of two struck things lie: pixels by place; the kinds of carriers and layers
    that are in both; whether a thing hangs on feeds of both.
    """

    areas: Mapping[Place, int]
    painted: Hashable
    halved: bool


class Lit(NamedTuple):
    """Whether spots are lit after both: of the cabinets that notice one of them, and, where a
    picture changes, of all others by their carrier.
    """

    near: dict[Place, bool]
    far: dict[tuple[str, int], bool]


def together(laboratory: Laboratory, struck: Sequence[Strike]) -> tuple[Together, ...]:
    """Every pair of two strikes of different things, both orders, like ones counted."""
    pairing = Pairing(laboratory)
    counts: Counter[tuple[str, str, int, int, int]] = Counter()
    for one in struck:
        for other, both in pairing.after(one, struck):
            alone = pairing.lost(one), pairing.lost(other)
            counts[_name(one), _name(other), *alone, both] += 1
    return tuple(
        Together(one, other, (first, second), both, count)
        for (one, other, first, second, both), count in counts.items()
    )


def _name(strike: Strike) -> str:
    return f"{strike.role} {strike.mode}"


class Pairing:
    """Pairs of faults of one laboratory; remembers what alike ones come to."""

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.footprints = Footprints(laboratory)
        self.alone: dict[str, int] = {}
        self.changed: dict[str, int] = {}
        self.looked: dict[str, int] = {}
        self.repainting: dict[str, bool] = {}
        self.overlaps: dict[tuple[tuple[str, ...], tuple[str, ...]], Overlap] = {}
        self.known: dict[Hashable, Lit] = {}
        self.parts: dict[tuple[str, ...], Part] = {}
        self.numbers: dict[Hashable, int] = {}
        self.stacks = range(len(laboratory.group.stacks))
        self.carried = {
            cabinet: [((self._carrier(cabinet), stack), area) for stack, area in of]
            for cabinet, of in laboratory.spots.items()
        }
        self.everywhere: Counter[tuple[str, int]] = Counter()
        for of in self.carried.values():
            for place, area in of:
                self.everywhere[place] += area
        self.runs = 0

    def after(self, one: Strike, others: Iterable[Strike]) -> Iterator[tuple[Strike, int]]:
        """Each other that strikes something else, with the pixels that both leave not lit."""
        changed, lost = self._changed(one), self.lost(one)
        struck = set(one.struck)
        halved = self.laboratory.part(one).halved if not self.footprints.is_over(one) else ()
        repaints = self._repaints(one)
        for other in others:
            if not struck.isdisjoint(other.struck):
                continue
            meets = (
                changed & self._looked(other)
                or (repaints or self._repaints(other))
                or (halved and not halved.isdisjoint(self.laboratory.part(other).halved))
            )
            yield other, self.both(one, other) if meets else lost + self.lost(other)

    def _repaints(self, strike: Strike) -> bool:
        """Whether the picture of a unit changes: then cabinets that notice nothing show another."""
        if strike.name not in self.repainting:
            still = self.laboratory.still
            shown = self.laboratory.settled(strike).trace.pictures.items()
            self.repainting[strike.name] = any(of != still[c] for c, of in shown if c in still)
        return self.repainting[strike.name]

    def lost(self, strike: Strike) -> int:
        """Pixels that a strike alone leaves not lit."""
        if strike.name not in self.alone:
            self.alone[strike.name] = self.laboratory.lost(strike.faults, "typical")
        return self.alone[strike.name]

    def both(self, one: Strike, other: Strike) -> int:
        """Pixels that two leave not lit of which the first matters to the second."""
        overlap = self._overlap(one, other)
        if overlap.halved:
            self.runs += 1
            return lost_together(self.laboratory, one, other)
        key = (self._sign(one), self._sign(other), overlap.painted)
        new = key not in self.known
        lit = self.known.setdefault(key, Lit({}, {}))
        near = lit.near
        if new or any(place not in near for place in overlap.areas):
            self._run(one, other, lit)
        found = sum([area for place, area in overlap.areas.items() if not near[place]])
        if lit.far:
            found += sum(n for place, n in self._far(one, other).items() if not lit.far[place])
        return found

    def _carrier(self, cabinet: int) -> str:
        return self.laboratory.carriers[self.laboratory.wiring.cabinets[cabinet]]

    def _sign(self, strike: Strike) -> Hashable:
        return self.laboratory.sign(strike), what(strike.faults)

    def _run(self, one: Strike, other: Strike, lit: Lit) -> None:
        """Find out what a pair leaves, by place; the run itself is not kept."""
        self.runs += 1
        laboratory = self.laboratory
        when = laboratory.settled_at(one.faults, "typical") + 1
        faults = (*one.faults, *other.at(when).faults)
        struck = tuple(fault.thing for fault in faults)
        part = reach(laboratory.wiring, laboratory.kinds, struck)
        found = laboratory.play(Cast(struck, part, -1), Script(faults), "typical")
        joint = self._joint(one, other)
        for cabinet, kind in part.cabinets.items():
            for stack in self.stacks if cabinet in laboratory.spots else ():
                if (place := (joint.cabinet(cabinet), stack)) not in lit.near:
                    lit.near[place] = self._lit(found, found.shown[kind], stack)
        if laboratory.moved(found) and not lit.far:
            for name, stack in self.everywhere:
                lit.far[name, stack] = self._lit(found, [(0, (LIT, name))], stack)

    def _lit(self, found: Settled, shown: Sequence[tuple[int, Signal]], stack: int) -> bool:
        """Whether what is fed so ends lit."""
        line = self.laboratory.line(found.trace, shown, stack)
        rig = self.laboratory.rig
        return read(line, rig.frame, rig.length, found.trace.repeat).last == len(STATES)

    def _far(self, one: Strike, other: Strike) -> Mapping[tuple[str, int], int]:
        """Pixels by carrier and stack of all cabinets that notice neither."""
        areas = Counter(self.everywhere)
        ours, theirs = self.laboratory.part(one).cabinets, self.laboratory.part(other).cabinets
        for cabinet in ours.keys() | theirs.keys():
            for place, area in self.carried.get(cabinet, ()):
                areas[place] -= area
        return areas

    def _overlap(self, one: Strike, other: Strike) -> Overlap:
        key = (one.struck, other.struck)
        if key not in self.overlaps:
            self.overlaps[key] = self._laid(one, other)
        return self.overlaps[key]

    def _joint(self, one: Strike, other: Strike) -> Joint:
        laboratory = self.laboratory
        return Joint(laboratory, laboratory.part(one), laboratory.part(other), self.numbers)

    def _patch(self, strike: Strike) -> Part:
        if strike.struck not in self.parts:
            part, spots = self.laboratory.part(strike), self.laboratory.spots
            areas: Counter[tuple[int, int]] = Counter()
            for cabinet, kind in part.cabinets.items():
                for stack, area in spots.get(cabinet, ()):
                    areas[kind, stack] += area
            painters = {n: part.nodes[n] for n in self.laboratory.painting & part.nodes.keys()}
            self.parts[strike.struck] = Part(part, areas, painters)
        return self.parts[strike.struck]

    def _laid(self, one: Strike, other: Strike) -> Overlap:
        """Pixels by place; only cabinets that notice both are looked at one by one."""
        first, second = self._patch(one), self._patch(other)
        joint = self._joint(one, other)
        areas: Counter[Place] = Counter()
        for side, of in (("first", first.areas), ("second", second.areas)):
            for (kind, stack), area in of.items():
                areas[(side, kind), stack] = area
        for cabinet in joint.cabinets:
            alone = (("first", first.part.cabinets), ("second", second.part.cabinets))
            for stack, area in self.laboratory.spots.get(cabinet, ()):
                for side, kinds in alone:
                    areas[(side, kinds[cabinet]), stack] -= area
                areas[joint.cabinet(cabinet), stack] += area
        painted = frozenset(
            (n, joint.node(n)) for n in first.painters.keys() & second.painters.keys()
        )
        return Overlap({p: n for p, n in areas.items() if n}, painted, joint.halved)

    def _changed(self, strike: Strike) -> int:
        if strike.name not in self.changed:
            self.changed[strike.name] = _bits(self.footprints.changed_by(strike))
        return self.changed[strike.name]

    def _looked(self, strike: Strike) -> int:
        if strike.name not in self.looked:
            self.looked[strike.name] = _bits(self.footprints.looked_at_by(strike))
        return self.looked[strike.name]


def _bits(numbers: Iterable[int]) -> int:
    """Whole numbers as bits."""
    found = 0
    for number in numbers:
        found |= 1 << number
    return found
