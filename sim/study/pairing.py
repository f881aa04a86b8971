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
from sim.engine.symmetry import reach
from sim.faults import Script
from sim.study.contingency import lost_together
from sim.study.effects import LIT, STATES, read
from sim.study.footprint import Footprints
from sim.study.laboratory import Laboratory
from sim.study.overlaps import Overlaps, Place
from sim.study.settled import Cast, Settled, what
from sim.study.strikes import Strike

Carried = tuple[str, int]
"""A carrier that a cabinet shows, and a stack."""


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


class Known(NamedTuple):
    """What is known of a strike alone: the pixels that it leaves not lit; numbers for what happens,
    and for what that is to the units and layers (0: nothing); from which flick nothing changes any
    more; nodes that it leaves changed and that it looks at, as bits; whether a picture of a unit
    changes; things of which it takes one feed of several, and of which it does for good.
    """

    strike: Strike
    struck: frozenset[str]
    lost: int
    how: int
    paints: int
    settled: int
    changed: int
    looked: int
    repaints: bool
    halved: frozenset[int]
    halves: frozenset[int]


class Lit(NamedTuple):
    """Whether spots are lit after both: of the cabinets that notice one of them, and, where a
    picture changes, of all others by their carrier. A place says all that leads to it; beside it
    what is shown there hangs on what happens, when, and on the pictures that the units make.
    """

    near: dict[Place, bool]
    far: dict[Carried, bool]


def together(laboratory: Laboratory, struck: Sequence[Strike]) -> tuple[Together, ...]:
    """Every pair of two strikes of different things, both orders, like ones counted."""
    pairing = Pairing(laboratory)
    return pairing.counted(struck, struck)


class Pairing:
    """Pairs of faults of one laboratory; remembers what alike ones come to."""

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.footprints = Footprints(laboratory)
        self.overlaps = Overlaps(laboratory)
        self.singles: dict[str, Known] = {}
        self.numbers: dict[Hashable, int] = {}
        self.known: dict[tuple[int, ...], Lit] = {}
        self.elsewhere: dict[tuple[str, ...], Mapping[Carried, int]] = {}
        self.stacks = range(len(laboratory.group.stacks))
        self.carried = {
            cabinet: [((self._carrier(cabinet), stack), area) for stack, area in of]
            for cabinet, of in laboratory.spots.items()
        }
        self.everywhere: Counter[Carried] = Counter()
        for of in self.carried.values():
            for place, area in of:
                self.everywhere[place] += area
        self.runs = 0

    def counted(self, firsts: Iterable[Strike], others: Iterable[Strike]) -> tuple[Together, ...]:
        """Every pair of one of these and another that strikes something else, like ones counted."""
        known = [self.single(other) for other in others]
        counts: Counter[tuple[str, str, int, int, int]] = Counter()
        for strike in firsts:
            one = self.single(strike)
            alike = Counter(
                (other.strike.role, other.strike.mode, other.lost, both)
                for other, both in self.pairs(one, known)
            )
            for (role, mode, lost, both), count in alike.items():
                counts[_name(strike), f"{role} {mode}", one.lost, lost, both] += count
        return tuple(
            Together(one, other, (first, second), both, count)
            for (one, other, first, second, both), count in counts.items()
        )

    def after(self, one: Strike, others: Iterable[Strike]) -> Iterator[tuple[Strike, int]]:
        """Each other that strikes something else, with the pixels that both leave not lit."""
        known = [self.single(other) for other in others]
        return ((other.strike, both) for other, both in self.pairs(self.single(one), known))

    def pairs(self, one: Known, others: Iterable[Known]) -> Iterator[tuple[Known, int]]:
        """The same of what is known of each alone."""
        self.elsewhere.clear()
        struck, lost, changed = one.struck, one.lost, one.changed
        repaints, halves = one.repaints, one.halves
        for other in others:
            if not struck.isdisjoint(other.struck):
                continue
            meets = (
                repaints
                or changed & other.looked
                or other.repaints
                or (halves and not halves.isdisjoint(other.halved))
            )
            yield other, self.both(one, other) if meets else lost + other.lost

    def single(self, strike: Strike) -> Known:
        """What is known of a strike alone."""
        name = strike.name
        if name not in self.singles:
            self.singles[name] = self._single(strike)
        return self.singles[name]

    def _single(self, strike: Strike) -> Known:
        laboratory, feet = self.laboratory, self.footprints
        part, how = laboratory.part(strike), what(strike.faults)
        like = (laboratory.sign(strike), how)
        paints = not laboratory.painting.isdisjoint(part.nodes)
        return Known(
            strike=strike,
            struck=frozenset(strike.struck),
            lost=laboratory.lost(strike.faults, "typical"),
            how=self._number(how),
            paints=self._number(like) if paints else 0,
            settled=laboratory.settled_at(strike.faults, "typical"),
            changed=feet.changed_by(strike),
            looked=feet.looked_at_by(strike),
            repaints=self._repaints(strike),
            halved=part.halved,
            halves=frozenset() if feet.is_over(strike) else part.halved,
        )

    def _number(self, of: Hashable) -> int:
        return self.numbers.setdefault(of, len(self.numbers) + 1)

    def _repaints(self, strike: Strike) -> bool:
        """Whether the picture of a unit changes: then cabinets that notice nothing show another."""
        still = self.laboratory.still
        shown = self.laboratory.settled(strike).trace.pictures.items()
        return any(of != still[c] for c, of in shown if c in still)

    def both(self, one: Known, other: Known) -> int:
        """Pixels that two leave not lit of which the first matters to the second."""
        overlap = self.overlaps.of(one.strike, other.strike)
        if overlap.halved:
            self.runs += 1
            return lost_together(self.laboratory, one.strike, other.strike)
        key = (one.how, other.how, one.settled, one.paints, other.paints, overlap.painted)
        lit = self.known.get(key)
        if lit is None or any(place not in lit.near for place, _ in overlap.areas):
            lit = self.known.setdefault(key, Lit({}, {}))
            self._run(one, other, lit)
        near = lit.near
        found = sum([area for place, area in overlap.areas if not near[place]])
        if lit.far:
            areas = self._far(one.strike, other.strike)
            found += sum(n for place, n in areas.items() if not lit.far[place])
        return found

    def _carrier(self, cabinet: int) -> str:
        return self.laboratory.carriers[self.laboratory.wiring.cabinets[cabinet]]

    def _run(self, one: Known, other: Known, lit: Lit) -> None:
        """Find out what a pair leaves, by place; the run itself is not kept."""
        self.runs += 1
        laboratory, overlaps = self.laboratory, self.overlaps
        faults = (*one.strike.faults, *other.strike.at(one.settled + 1).faults)
        struck = tuple(fault.thing for fault in faults)
        part = reach(laboratory.wiring, laboratory.kinds, struck)
        found = laboratory.play(Cast(struck, part, -1), Script(faults), "typical")
        joint = overlaps.joint(one.strike, other.strike)
        for cabinet, kind in part.cabinets.items():
            for stack in self.stacks if cabinet in laboratory.spots else ():
                if (place := overlaps.place(joint.cabinet(cabinet), stack)) not in lit.near:
                    lit.near[place] = self._lit(found, found.shown[kind], stack)
        if laboratory.moved(found) and not lit.far:
            for name, stack in self.everywhere:
                lit.far[name, stack] = self._lit(found, [(0, (LIT, name))], stack)

    def _lit(self, found: Settled, shown: Sequence[tuple[int, Signal]], stack: int) -> bool:
        """Whether what is fed so ends lit."""
        line = self.laboratory.showing.line(found.trace, shown, stack)
        rig = self.laboratory.rig
        return read(line, rig.frame, rig.length, found.trace.repeat).last == len(STATES)

    def _far(self, one: Strike, other: Strike) -> Mapping[Carried, int]:
        """Pixels by carrier and stack of all cabinets that notice neither."""
        if other.struck not in self.elsewhere:
            areas = dict(self.everywhere)
            ours, theirs = self.laboratory.part(one).cabinets, self.laboratory.part(other).cabinets
            for cabinet in ours.keys() | theirs.keys():
                for place, area in self.carried.get(cabinet, ()):
                    areas[place] -= area
            self.elsewhere[other.struck] = areas
        return self.elsewhere[other.struck]


def _name(strike: Strike) -> str:
    return f"{strike.role} {strike.mode}"
