"""How far a run spreads through a rig: whether two runs can matter to each other at all.

In: a `Laboratory`, the part of the rig that can notice (`Cast`), what a run comes to (`Settled`).
Out: frozen `Ripple`s, sets of places as bits of an integer. Places are nodes, things, cabinets and
the pictures of carriers. What happens at a place depends on what it reads and on nothing else; so
if no place reads (or is) something that one run changes and something that another changes, then
both together make of every place what one of them makes of it alone, or what it is with nothing
wrong.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from sim.study.footprint import bits
from sim.study.laboratory import Laboratory
from sim.study.settled import Cast, Settled

KEEPING = {"stuck", "drops"}
"""Modes in which a thing keeps the picture that it sent."""
MOVED = {"moved"}
"""Modes that change a choice and leave the thing itself as it was."""


@dataclass(frozen=True, slots=True)
class Ripple:
    """`changed`: places that are not as with nothing wrong; `touched`: these and all that read
    them; `pictured`: what is read of the pictures that the cabinets among these show.
    """

    changed: int = 0
    touched: int = 0
    pictured: int = 0

    def __or__(self, other: Ripple) -> Ripple:
        return Ripple(
            self.changed | other.changed,
            self.touched | other.touched,
            self.pictured | other.pictured,
        )

    def meets(self, other: Ripple) -> bool:
        """Whether any place would have to see both."""
        return bool(
            self.touched & other.touched
            or self.pictured & other.changed
            or self.changed & other.pictured
        )


@dataclass(frozen=True, slots=True)
class Spreading:
    """How far something spreads: all that it ever changes, and what stands otherwise once it has
    settled.
    """

    ever: Ripple
    standing: Ripple

    def __or__(self, other: Spreading) -> Spreading:
        return Spreading(self.ever | other.ever, self.standing | other.standing)

    def within(self, other: Spreading) -> bool:
        """Whether this spreads no further than the other."""
        return self | other == other

    def reaches(self, other: Spreading) -> bool:
        """Whether what stands otherwise after one of them meets what the other ever changes."""
        return self.standing.meets(other.ever) or self.ever.meets(other.standing)


class Ripples:
    """The ripples of one laboratory's runs."""

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        wiring = laboratory.wiring
        nodes, things = len(wiring.nodes), len(wiring.things)
        self.thing = nodes
        self.cabinet = self.thing + things
        self.picture = self.cabinet + len(wiring.cabinets)
        self.reads = [self._readers(n) for n in range(nodes)]
        self.belongs = [bits((self.thing + t, *wiring.nodes_of[t])) for t in range(things)]
        self.views = {
            name: bits((n, *wiring.layers_of[n], self.picture + n))
            for n, name in ((n, wiring.nodes[n].name) for n in wiring.layers_of)
        }
        self.shows = [self._quietly(n) for n in range(nodes)]

    def _readers(self, number: int) -> int:
        """A node and all that read it."""
        wiring = self.laboratory.wiring
        cabinets = (self.cabinet + c for c in wiring.cabinets_of.get(number, ()))
        pictures = (self.picture + c for c in wiring.carriers_of.get(number, ()))
        return bits((number, *wiring.readers[number], *cabinets, *pictures))

    def _quietly(self, number: int) -> int:
        """What is read of the picture that a node hands on with nothing wrong."""
        signal = self.laboratory.quiet[number]
        live = isinstance(signal, tuple) and isinstance(signal[1], int)
        return self.views[self.laboratory.wiring.nodes[signal[1]].name] if live else 0

    def ever(self, cast: Cast, found: Settled, modes: Collection[str]) -> Ripple:
        """All that a run of faults of these modes ever changes."""
        made = self._ripple(cast, found, found.altered, found.took, modes)
        return made | self.struck(cast, modes)

    def standing(self, cast: Cast, found: Settled, modes: Collection[str], over: bool) -> Ripple:
        """What stands otherwise once a run has settled. `over`: whether all that was struck is
        whole again.
        """
        made = self._ripple(cast, found, found.otherwise, found.chose, modes)
        return made if over else made | self.struck(cast, modes)

    def struck(self, cast: Cast, modes: Collection[str]) -> Ripple:
        """The things that are struck with all that they power, and the selectors."""
        part, wiring = cast.part, self.laboratory.wiring
        hit = (wiring.selector_node.get(name) for name in cast.struck)
        touched = bits(n for n in hit if n is not None)
        if MOVED.issuperset(modes):
            return Ripple(0, touched, 0)
        for thing in part.things:
            touched |= self.belongs[thing]
        touched |= bits(self.thing + thing for thing in part.halved)
        return Ripple(bits(self.thing + thing for thing in part.things), touched, 0)

    def _ripple(
        self,
        cast: Cast,
        found: Settled,
        sent: frozenset[int],
        chose: frozenset[int],
        modes: Collection[str],
    ) -> Ripple:
        """Kinds of nodes that send otherwise, and that choose otherwise."""
        part, handing_on = cast.part, self.laboratory.kinds.hands_on
        numbers = [n for n, kind in part.nodes.items() if kind in sent]
        choosing = [n for n, kind in part.nodes.items() if kind in chose and not handing_on[n]]
        changed = bits(numbers)
        touched = changed | bits(choosing)
        for number in numbers:
            touched |= self.reads[number]
        taken = [n for n in choosing if n in self.laboratory.wiring.layers_of]
        touched |= bits(self.picture + n for n in taken)
        changed |= bits(taken)
        kept = 0 if KEEPING.isdisjoint(modes) else self._shown(numbers)
        return Ripple(changed, touched, kept | self._pictured(found, numbers))

    def _shown(self, numbers: Iterable[int]) -> int:
        read = 0
        for number in numbers:
            read |= self.shows[number]
        return read

    def _pictured(self, found: Settled, numbers: Sequence[int]) -> int:
        """What is read of the pictures that cabinets with these cards show, now or at first."""
        wiring = self.laboratory.wiring
        cabinets = {c for n in numbers for c in wiring.cabinets_of.get(n, ())}
        if not cabinets:
            return 0
        read = self._shown({card for cabinet in cabinets for card in wiring.cards_of[cabinet]})
        lines = found.shown.values()
        for picture in {p for line in lines for _, (_, p) in line if isinstance(p, str)}:
            read |= self.views[picture]
        return read
