"""Strikes that must do the same, told from the chains that they touch and not node by node.

In: a `Wiring`, its `Kinds`, what each cabinet shows of the walls. Out: for things that are struck a
key; equal keys: what can notice the strikes is alike (`symmetry.reach` gives equal signatures)
and shows equal areas of the same things. A *branch* is a part of the signal graph that nothing
outside it reads: a chain, both ways. Branches of one shape are equal node by node but for
names, and their cabinets lie alike. Only strikes that change nothing above the branches have a key.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from sim.engine.symmetry import Kinds, noticing
from sim.engine.wiring import Wiring
from sim.rig.topology import Display, Gate, Merge, Pass

FAN = 3
"""A node that more than so many read stands above branches, not in one."""
INNER = (Pass, Merge, Gate, Display)
"""What a branch is made of."""
Slot = tuple[int, int]
"""A branch, and which of its things a thing is."""


@dataclass(frozen=True, slots=True)
class Branches:
    """`slots`: for each thing its places in branches, None if a node of it stands above them;
    `shape` and `first` (the number of its first cabinet) for each branch.
    """

    wiring: Wiring
    kinds: Kinds
    slots: Sequence[tuple[Slot, ...] | None]
    shape: Mapping[int, int]
    first: Mapping[int, int]

    def key(self, struck: Sequence[str]) -> Hashable | None:
        """The key of a strike on these things, None where it has none."""
        numbers, selectors = self.wiring.thing_number, self.wiring.selector_node
        if any(name not in numbers or name in selectors for name in struck):
            return None
        things = noticing(self.wiring, self.kinds, struck)
        touched: dict[int, list[int]] = {}
        for thing, kind in things.items():
            slots = self.slots[thing]
            if slots is None:
                return None
            for branch, slot in slots:
                touched.setdefault(branch, []).extend((slot, kind))
        begin = min([self.first[branch] for branch in touched], default=0)
        parts = [(self.first[b] - begin, self.shape[b], *of) for b, of in touched.items()]
        return frozenset(things.values()), *sorted(parts)


def branches(wiring: Wiring, kinds: Kinds, shown: Mapping[int, Hashable]) -> Branches:
    """The branches of a rig. `shown`: for each cabinet by number what of the walls it shows."""
    of = _branch_of(wiring)
    members: dict[int, list[int]] = {}
    for node, branch in enumerate(of):
        members.setdefault(branch, []).append(node)
    above = {wiring.thing_of[node] for node in members.pop(ABOVE, ())}
    slots: list[dict[Slot, None]] = [{} for _ in wiring.things]
    shape, first = {}, {}
    for branch, nodes in members.items():
        things = dict.fromkeys(wiring.thing_of[node] for node in nodes)
        places = {thing: place for place, thing in enumerate(things)}
        for thing, place in places.items():
            slots[thing][branch, place] = None
        cabinets = sorted({c for node in nodes for c in wiring.cabinets_of.get(node, ())})
        first[branch] = cabinets[0]
        recipe = (_signals(wiring, kinds, nodes, places), _cabinets(wiring, nodes, cabinets, shown))
        shape[branch] = kinds.of(("branch", *recipe))
    found = [None if n in above else tuple(each) for n, each in enumerate(slots)]
    return Branches(wiring, kinds, found, shape, first)


def _signals(
    wiring: Wiring, kinds: Kinds, nodes: Sequence[int], places: Mapping[int, int]
) -> Hashable:
    """The nodes of a branch, but for who they are: inputs from outside count by their signal."""
    local = {node: place for place, node in enumerate(nodes)}
    return tuple(
        (
            kinds.node_traits[node],
            kinds.quiet[node],
            places[wiring.thing_of[node]],
            tuple((local[i], -1) if i in local else (-1, kinds.quiet[i]) for i in inputs),
        )
        for node in nodes
        for inputs in [wiring.inputs[node]]
    )


def _cabinets(
    wiring: Wiring, nodes: Sequence[int], cabinets: Sequence[int], shown: Mapping[int, Hashable]
) -> Hashable:
    """Its cabinets: how far from the first one, their cards, what of the walls they show."""
    local = {node: place for place, node in enumerate(nodes)}
    return tuple(
        (number - cabinets[0], tuple(local[card] for card in wiring.cards_of[number]), shown[number])
        for number in cabinets
    )


ABOVE = -1


def _branch_of(wiring: Wiring) -> list[int]:
    """For each node the branch that it is in, by its first node; `ABOVE` if in none."""
    root = list(range(len(wiring.nodes)))
    for node, readers in enumerate(wiring.readers):
        if len(readers) <= FAN and isinstance(wiring.nodes[node], INNER):
            _join(root, [node, *readers])
    for cards in wiring.cards_of.values():
        _join(root, cards)
    found = [_root(root, node) for node in range(len(root))]
    open_ones = {
        found[node]
        for node, readers in enumerate(wiring.readers)
        if not isinstance(wiring.nodes[node], INNER) or any(found[r] != found[node] for r in readers)
    }
    closed = {found[card] for cards in wiring.cards_of.values() for card in cards} - open_ones
    return [branch if branch in closed else ABOVE for branch in found]


def _join(root: list[int], nodes: Sequence[int]) -> None:
    roots = [_root(root, node) for node in nodes]
    for each in roots:
        root[each] = min(roots)


def _root(root: list[int], node: int) -> int:
    while root[node] != node:
        root[node] = node = root[root[node]]
    return node
