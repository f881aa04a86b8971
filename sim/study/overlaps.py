"""How the parts of a rig that notice two faults lie: areas by what behaves alike under both.

In: a `Laboratory`, pairs of strikes. Out: frozen `Overlap`s (pixels). What two parts share is
worked out once for all faults that make the same of the smaller part, wherever else they differ.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable
from typing import NamedTuple

from sim.engine.symmetry import Reach
from sim.study.joint import Joint
from sim.study.laboratory import Laboratory
from sim.study.strikes import Strike

Place = int
"""The number of where two faults show the same: a kind of cabinet, and a stack."""
Areas = tuple[tuple[Place, int], ...]


class Part(NamedTuple):
    """What can notice a strike: pixels by place where it comes first and where second; and the
    nodes and things that say what another fault can mean to it: its own but those that only hand
    on, and all that these look at.
    """

    part: Reach
    areas: tuple[Areas, Areas]
    nodes: tuple[int, ...]
    things: frozenset[int]


class Overlap(NamedTuple):
    """How the parts of two struck things lie: pixels by place; a number for the kinds of carriers
    and layers that are in both; whether a thing hangs on feeds of both.
    """

    areas: Areas
    painted: int
    halved: bool


class Shared(NamedTuple):
    """What two parts share: what it adds to the areas of each alone; as in `Overlap`."""

    areas: Areas
    painted: int


class Overlaps:
    """The overlaps of one laboratory's strikes. Those of a strike with all others are kept until
    another strikes first.
    """

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.numbers: dict[Hashable, int] = {}
        self.places: dict[Hashable, Place] = {}
        self.paintings: dict[Hashable, int] = {}
        self.parts: dict[tuple[str, ...], Part] = {}
        self.shared: dict[Hashable, Shared] = {}
        self.first: tuple[str, ...] = ()
        self.known: dict[tuple[str, ...], Overlap] = {}

    def of(self, one: Strike, other: Strike) -> Overlap:
        """How the parts of two lie, the first first."""
        first, second = one.struck, other.struck
        if first != self.first:
            self.first, self.known = first, {}
        if second not in self.known:
            self.known[second] = self._overlap(self.part(one), self.part(other))
        return self.known[second]

    def joint(self, one: Strike, other: Strike) -> Joint:
        """The kinds that two make together."""
        return self._joint(self.part(one), self.part(other))

    def place(self, kind: Hashable, stack: int) -> Place:
        """The number of a place."""
        return self.places.setdefault((kind, stack), len(self.places))

    def part(self, strike: Strike) -> Part:
        """What can notice a strike."""
        if strike.struck not in self.parts:
            self.parts[strike.struck] = self._part(self.laboratory.part(strike))
        return self.parts[strike.struck]

    def _part(self, part: Reach) -> Part:
        wiring, hands_on = self.laboratory.wiring, self.laboratory.kinds.hands_on
        read = (above for n in part.nodes for above in wiring.inputs[n])
        cards = (card for c in part.cabinets for card in wiring.cards_of[c])
        nodes = dict.fromkeys([*part.nodes, *read, *cards])
        feeds = (feed for thing in part.things for feed in wiring.powered_by[thing])
        return Part(
            part=part,
            areas=(self._areas("first", part), self._areas("second", part)),
            nodes=tuple([n for n in nodes if n not in part.nodes or not hands_on[n]]),
            things=frozenset([*part.things, *feeds, *(wiring.thing_of[n] for n in part.nodes)]),
        )

    def _areas(self, side: str, part: Reach) -> Areas:
        """Pixels by place, as if nothing else struck."""
        areas: dict[Place, int] = {}
        for cabinet, kind in part.cabinets.items():
            for stack, area in self.laboratory.spots.get(cabinet, ()):
                place = self.place((side, kind), stack)
                areas[place] = areas.get(place, 0) + area
        return tuple(areas.items())

    def _overlap(self, first: Part, second: Part) -> Overlap:
        shared = self._shared(first, second)
        areas = dict((*first.areas[0], *second.areas[1]))
        for place, area in shared.areas:
            areas[place] = areas.get(place, 0) + area
        known = tuple([(place, area) for place, area in areas.items() if area])
        return Overlap(known, shared.painted, _halved(first.part, second.part))

    def _shared(self, first: Part, second: Part) -> Shared:
        """Two parts share nothing that the smaller one does not look at."""
        forward = len(first.nodes) <= len(second.nodes)
        small, large = (first, second.part) if forward else (second, first.part)
        things = sorted((t, large.things[t]) for t in large.things.keys() & small.things)
        seen = tuple(map(large.nodes.get, small.nodes))
        key = (forward, id(small.part), seen, *things)
        if key not in self.shared:
            self.shared[key] = self._laid(first, second)
        return self.shared[key]

    def _laid(self, first: Part, second: Part) -> Shared:
        """Cabinets that notice both, one by one, each taken from where it lies for each alone."""
        joint = self._joint(first, second)
        ours, theirs = first.part.cabinets, second.part.cabinets
        alike: dict[tuple[int, int, Hashable, int], int] = {}
        for cabinet in joint.cabinets:
            kinds = (ours[cabinet], theirs[cabinet], joint.cabinet(cabinet))
            for stack, area in self.laboratory.spots.get(cabinet, ()):
                alike[*kinds, stack] = alike.get((*kinds, stack), 0) + area
        areas: dict[Place, int] = {}
        for (mine, its, kind, stack), area in alike.items():
            _add(areas, self.place(("first", mine), stack), -area)
            _add(areas, self.place(("second", its), stack), -area)
            _add(areas, self.place(kind, stack), area)
        both = first.part.nodes.keys() & second.part.nodes.keys() & self.laboratory.painting
        painted = frozenset((n, joint.node(n)) for n in both)
        number = self.paintings.setdefault(painted, len(self.paintings))
        return Shared(tuple(areas.items()), number)

    def _joint(self, first: Part, second: Part) -> Joint:
        return Joint(self.laboratory, first.part, second.part, self.numbers)


def _add(areas: dict[Place, int], place: Place, area: int) -> None:
    areas[place] = areas.get(place, 0) + area


def _halved(first: Reach, second: Reach) -> bool:
    """Whether a thing hangs on feeds of both, of which it needs one: then kinds tell nothing."""
    return _beside(first.halved, second) or not second.halved.isdisjoint(first.things)


def _beside(halved: Collection[int], other: Reach) -> bool:
    return any(n in other.halved or n in other.things for n in halved)
