"""The kinds of nodes and cabinets that two faults make together: as `symmetry` has them for one.

In: a `Laboratory`, the parts of its rig that notice each of two struck things (`Reach`). Out: for
each node and cabinet a kind; equal ones behave alike under the two faults, wherever they stand. A
kind is the number of a recipe, or a side with the kind that the one fault alone makes.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping

from sim.engine.symmetry import Reach
from sim.study.laboratory import Laboratory


class Joint:
    """Two parts of one rig. `numbers`: recipes met so far, shared by all pairs of a laboratory.

    `cabinets`: those that may notice both. Where a thing hangs on feeds of both, of which it needs
    but one, kinds tell nothing.
    """

    def __init__(
        self, laboratory: Laboratory, first: Reach, second: Reach, numbers: dict[Hashable, int]
    ) -> None:
        self.laboratory, self.numbers = laboratory, numbers
        self.first, self.second = first, second
        self.both: dict[int, int] = {}
        self.things: dict[int, Hashable] = {}
        for number in sorted(first.things.keys() & second.things.keys()):
            self.things[number] = self._thing(number)
        self._nodes()
        self.cabinets = tuple(sorted(first.cabinets.keys() & second.cabinets.keys()))

    def _nodes(self) -> None:
        """Every node in both parts. What only hands on is as what it is fed (as in `symmetry`)."""
        wiring, first, second = self.laboratory.wiring, self.first, self.second
        hands_on, both = self.laboratory.kinds.hands_on, self.both
        for number in sorted(first.nodes.keys() & second.nodes.keys()):
            thing = wiring.thing_of[number]
            if hands_on[number] and thing not in first.things and thing not in second.things:
                both[number] = both[wiring.inputs[number][0]]
            else:
                both[number] = self._node(number)

    def _number(self, recipe: Hashable) -> int:
        return self.numbers.setdefault(recipe, len(self.numbers))

    def _thing(self, number: int) -> int:
        """A thing that notices both: how each makes it, and what its feeds are like."""
        feeds = frozenset(self._feed(feed) for feed in self.laboratory.wiring.powered_by[number])
        return self._number(("thing", self.first.things[number], self.second.things[number], feeds))

    def _feed(self, number: int) -> Hashable:
        return _sided(number, self.things, self.first.things, self.second.things)

    def _node(self, number: int) -> int:
        """A node in both parts: its thing, how each fault alone makes it, what it is fed."""
        wiring = self.laboratory.wiring
        fed = tuple([self.node(above) for above in wiring.inputs[number]])
        thing = self._feed(wiring.thing_of[number])
        return self._number((thing, self.first.nodes[number], self.second.nodes[number], fed))

    def node(self, number: int) -> Hashable:
        """The kind of any node; None: it notices neither."""
        return _sided(number, self.both, self.first.nodes, self.second.nodes)

    def cabinet(self, number: int) -> Hashable:
        """The kind of a cabinet that notices one of them."""
        mine, its = self.first.cabinets.get(number), self.second.cabinets.get(number)
        if mine is None:
            return ("second", its)
        if its is None:
            return ("first", mine)
        cards = tuple(self.node(card) for card in self.laboratory.wiring.cards_of[number])
        return self._number(("cabinet", mine, its, cards))


def _sided(
    number: int, both: Mapping[int, Hashable], first: Mapping[int, int], second: Mapping[int, int]
) -> Hashable:
    """The kind that both make, else a side with the kind that it makes alone, else None."""
    if number in both:
        return both[number]
    if number in first:
        return ("first", first[number])
    return ("second", second[number]) if number in second else None
