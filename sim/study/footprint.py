"""What a strike leaves changed, and what it looks at: whether two strikes matter to each other.

In: a `Laboratory`, strikes. Out: sets of node numbers, as bits of an integer, kept from one
question to the next.
"""

from __future__ import annotations

from collections.abc import Iterable

from sim.study.laboratory import Laboratory
from sim.study.strikes import Strike

ALL = 1 << 30
"""More inputs than any node has."""

Which = tuple[str, str, str]
"""What a strike is told by: where, how, to what."""


class Footprints:
    """The footprints of one laboratory's strikes, with all timings typical."""

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.changes: dict[Which, int] = {}
        self.looks: dict[Which, int] = {}
        self.halved: dict[str, frozenset[int]] = {}

    def can_meet(self, first: Strike, second: Strike) -> bool:
        """Whether what the first leaves changed can matter to what the second does.

        It cannot if the second's run never looks at anything that stands otherwise after the
        first (a selector looks at its inputs in order up to the one that contents it), and no
        thing hangs on feeds of which one is the first's and another the second's: then the
        second's run is the same with the first as without it. A first that has ended of itself
        matters only by what it leaves changed.
        """
        if not self.halved_by(first).isdisjoint(self.halved_by(second)) and not self.is_over(first):
            return True
        return bool(self.changed_by(first) & self.looked_at_by(second))

    def halved_by(self, strike: Strike) -> frozenset[int]:
        """The things of which it takes one feed and leaves another."""
        if strike.where not in self.halved:
            self.halved[strike.where] = self.laboratory.part(strike).halved
        return self.halved[strike.where]

    def is_over(self, strike: Strike) -> bool:
        """Whether it has ended of itself, with no timer left."""
        return strike.ends and not self.laboratory.settled(strike).pending

    def changed_by(self, strike: Strike) -> int:
        """The nodes that send something else, or choose otherwise, once a strike has settled."""
        which = (strike.where, strike.mode, strike.detail)
        if which not in self.changes:
            part, wiring = self.laboratory.part(strike), self.laboratory.wiring
            settled = self.laboratory.settled(strike)
            alike = settled.otherwise | settled.chose
            things = () if self.is_over(strike) else part.things
            own = {n for thing in things for n in wiring.nodes_of[thing]}
            changed = [n for n, kind in part.nodes.items() if kind in alike or n in own]
            self.changes[which] = bits(changed)
        return self.changes[which]

    def looked_at_by(self, strike: Strike) -> int:
        """The nodes that can notice a strike, and all that these looked at while it ran."""
        which = (strike.where, strike.mode, strike.detail)
        if which not in self.looks:
            part, wiring = self.laboratory.part(strike), self.laboratory.wiring
            examined = self.laboratory.settled(strike).examined
            seen = {
                i
                for n, kind in part.nodes.items()
                for i in wiring.inputs[n][: examined.get(kind, ALL)]
            }
            seen |= part.nodes.keys()
            seen.update(card for cabinet in part.cabinets for card in wiring.cards_of[cabinet])
            self.looks[which] = bits(seen | self._pictures(seen))
        return self.looks[which]

    def _pictures(self, nodes: set[int]) -> set[int]:
        """The carriers whose pictures these nodes hand on with nothing wrong, and their layers."""
        signals = [self.laboratory.quiet[n] for n in nodes]
        carriers = {s[1] for s in signals if isinstance(s, tuple) and isinstance(s[1], int)}
        return carriers | {n for c in carriers for n in self.laboratory.wiring.layers_of[c]}


def bits(numbers: Iterable[int]) -> int:
    """Whole numbers as bits."""
    of = list(numbers)
    found = bytearray((max(of, default=-1) >> 3) + 1)
    for number in of:
        found[number >> 3] |= 1 << (number & 7)
    return int.from_bytes(found, "little")
