"""Every pair of faults of a rig of any size: what two together leave not lit, in both orders.

In: a `Laboratory` and its strikes. Out: frozen `Together`s: like pairs counted. Of two different
things the second is struck when the first has settled; all timings are typical. Areas are pixels.

Three ways to an area, each exact. Where the second's run never looks at what the first leaves
changed (`footprint`), both leave what each leaves alone. Else one pair is run for all that are
alike: what a cabinet shows depends on nothing but what it is fed, which its two kinds tell (one
in the part of the rig that notices the first fault, one in that of the second); so pairs of alike
faults, with the same kinds side by side, show the same on cabinets of the same two kinds. Where a
thing hangs on feeds of both, it notices neither alone: such pairs are run each for itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sim.engine.signal import Signal
from sim.engine.symmetry import Reach, reach
from sim.faults import Script
from sim.study.contingency import lost_together
from sim.study.effects import LIT, STATES, read
from sim.study.footprint import Footprints
from sim.study.laboratory import Laboratory
from sim.study.settled import Cast, Settled, what
from sim.study.strikes import Strike

NEITHER = -1
"""The kind of what does not notice a fault."""


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


class Place(NamedTuple):
    """Where two faults show the same: the kinds of a cabinet in both parts, and a stack."""

    first: int
    second: int
    stack: int


class Part(NamedTuple):
    """What can notice a strike: pixels by kind of cabinet and stack, carriers and layers."""

    part: Reach
    areas: Mapping[tuple[int, int], int]
    painters: Mapping[int, int]


class Overlap(NamedTuple):
    """How the parts of two struck things lie: pixels by place; the carriers and layers that are in
    both; whether a thing hangs on feeds of both.
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
        self.overlaps: dict[tuple[tuple[str, ...], tuple[str, ...]], Overlap] = {}
        self.known: dict[Hashable, Lit] = {}
        self.parts: dict[tuple[str, ...], Part] = {}
        self.stacks = range(len(laboratory.group.stacks))
        self.everywhere = tuple(self._carried(()))
        self.runs = 0

    def after(self, one: Strike, others: Iterable[Strike]) -> Iterator[tuple[Strike, int]]:
        """Each other that strikes something else, with the pixels that both leave not lit."""
        changed, lost = self._changed(one), self.lost(one)
        struck = set(one.struck)
        halved = self.laboratory.part(one).halved if not self.footprints.is_over(one) else ()
        for other in others:
            if not struck.isdisjoint(other.struck):
                continue
            meets = changed & self._looked(other) or (
                halved and not halved.isdisjoint(self.laboratory.part(other).halved)
            )
            yield other, self.both(one, other) if meets else lost + self.lost(other)

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
        lit = self.known.setdefault(key, Lit({}, {}))
        near = lit.near
        if any(place not in near for place in overlap.areas):
            self._run(one, other, lit)
        found = sum([area for place, area in overlap.areas.items() if not near[place]])
        if lit.far:
            found += sum(n for place, n in self._far(one, other).items() if not lit.far[place])
        return found

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
        first, second = laboratory.part(one).cabinets, laboratory.part(other).cabinets
        for cabinet, kind in part.cabinets.items():
            kinds = first.get(cabinet, NEITHER), second.get(cabinet, NEITHER)
            for stack in self.stacks if cabinet in laboratory.spots else ():
                if (place := Place(*kinds, stack)) not in lit.near:
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
        touched = {*self.laboratory.part(one).cabinets, *self.laboratory.part(other).cabinets}
        return self._carried(touched)

    def _carried(self, but: Collection[int]) -> Mapping[tuple[str, int], int]:
        laboratory = self.laboratory
        areas: Counter[tuple[str, int]] = Counter()
        for cabinet, of in laboratory.spots.items():
            name = laboratory.carriers[laboratory.wiring.cabinets[cabinet]]
            for stack, area in of if cabinet not in but else ():
                areas[name, stack] += area
        return areas

    def _overlap(self, one: Strike, other: Strike) -> Overlap:
        key = (one.struck, other.struck)
        if key not in self.overlaps:
            self.overlaps[key] = self._laid(self._patch(one), self._patch(other))
        return self.overlaps[key]

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

    def _laid(self, first: Part, second: Part) -> Overlap:
        """Pixels by place; only cabinets that notice both are looked at one by one."""
        areas = {Place(kind, NEITHER, stack): n for (kind, stack), n in first.areas.items()}
        areas |= {Place(NEITHER, kind, stack): n for (kind, stack), n in second.areas.items()}
        ours, theirs = first.part.cabinets, second.part.cabinets
        for cabinet in ours.keys() & theirs.keys():
            kind, other = ours[cabinet], theirs[cabinet]
            for stack, area in self.laboratory.spots.get(cabinet, ()):
                areas[Place(kind, NEITHER, stack)] -= area
                areas[Place(NEITHER, other, stack)] -= area
                place = Place(kind, other, stack)
                areas[place] = areas.get(place, 0) + area
        areas = {place: area for place, area in areas.items() if area}
        painted: frozenset[object] = frozenset()
        if first.painters and second.painters:
            painted = frozenset(
                (n, kind, second.painters[n])
                for n, kind in first.painters.items()
                if n in second.painters
            )
        halved = not first.part.halved.isdisjoint(second.part.halved)
        return Overlap(areas, painted, halved)

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
