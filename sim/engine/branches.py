"""Strikes that must do the same, told from the chains that they touch and not node by node.

In: a `Wiring`, its `Kinds`, what each cabinet shows of the walls, the pictures of the carriers.
Out: keys of things that may be struck; equal keys: what can notice the strikes is alike but for
whose picture it shows, that picture is alike, and it shows equal areas of the same walls. A
*branch* is a part of the signal graph that nothing outside it reads: a chain, both ways. Branches
of one shape are equal node by node but for names, and their cabinets lie alike. A thing has a key
if it has nodes in one branch only and powers nothing, or if all that it powers hangs on it alone
and has a key.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from sim.engine.symmetry import Kinds
from sim.engine.wiring import Wiring
from sim.rig.topology import Display, Gate, Merge, Pass

FAN = 3
"""A node that more than so many read stands above branches, not in one."""
INNER = (Pass, Merge, Gate, Display)
"""What a branch is made of."""


@dataclass(frozen=True, slots=True)
class Shapes:
    """Branches by their first cabinet (a number): `touched`: for each thing the branches with nodes
    of it, the shape of each, and which of its things it is, and the carriers that it shows, in the
    order in which they are met; `above`: things with other nodes.
    """

    touched: Sequence[Sequence[tuple[int, int, int, tuple[int, ...]]]]
    above: frozenset[int]


@dataclass(frozen=True, slots=True)
class Keys:
    """`codes`: for each thing the number of all that it powers, in shape; -1: it has none."""

    wiring: Wiring
    codes: Sequence[int]

    def of(self, struck: Sequence[str]) -> Hashable | None:
        """The key of a strike on one thing, None where it has none."""
        thing = self.wiring.thing_number.get(struck[0], -1) if len(struck) == 1 else -1
        if thing < 0 or self.codes[thing] < 0 or struck[0] in self.wiring.selector_node:
            return None
        return self.codes[thing], bool(self.wiring.powered_by[thing])


def keys(wiring: Wiring, kinds: Kinds, shown: Mapping[int, Hashable], still: Still) -> Keys:
    """The keys of a rig. `shown`: for each cabinet by number what of the walls it shows; `still`:
    the picture of each carrier (by number) when nothing is wrong.
    """
    numbers: dict[Hashable, int] = {}
    shapes = _shapes(wiring, kinds, shown, numbers, still)
    codes = [-1] * len(wiring.things)
    begins = [NOWHERE] * len(wiring.things)
    paints: list[tuple[int, ...]] = [()] * len(wiring.things)
    for thing in range(len(wiring.things) - 1, -1, -1):
        fed = wiring.powers[thing]
        alone = all(codes[each] >= 0 and len(wiring.powered_by[each]) == 1 for each in fed)
        if thing in shapes.above or not alone:
            continue
        touched = shapes.touched[thing]
        if len(touched) == 1 and not fed:
            ((begins[thing], shape, slot, paints[thing]),) = touched
            recipe: Hashable = (kinds.thing_traits[thing], shape, slot)
            codes[thing] = numbers.setdefault(recipe, len(numbers))
        if touched:
            continue
        begin = min([begins[each] for each in fed], default=NOWHERE)
        order: dict[int, int] = {}
        below = sorted((begins[each] - begin, codes[each], paints[each]) for each in fed)
        hung = tuple((begun, code, _renamed(carriers, order)) for begun, code, carriers in below)
        recipe = (kinds.thing_traits[thing], hung)
        codes[thing] = numbers.setdefault(recipe, len(numbers))
        begins[thing], paints[thing] = begin, tuple(order)
    return Keys(wiring, codes)


def _renamed(carriers: Sequence[int], order: dict[int, int]) -> tuple[int, ...]:
    """Carriers by the order in which they are met: who they are matters to no chain."""
    return tuple([order.setdefault(carrier, len(order)) for carrier in carriers])


Still = Mapping[int, Hashable]
NOWHERE = 1 << 60
"""Where what touches no cabinet begins: after all cabinets."""


def _shapes(
    wiring: Wiring, kinds: Kinds, shown: Mapping[int, Hashable], numbers: dict[Hashable, int],
    still: Still,
) -> Shapes:  # fmt: skip
    """`numbers`: given out as recipes are first met."""
    of = _branch_of(wiring)
    members: dict[int, list[int]] = {}
    for node, branch in enumerate(of):
        members.setdefault(branch, []).append(node)
    above = frozenset(wiring.thing_of[node] for node in members.pop(ABOVE, ()))
    touched: list[list[tuple[int, int, int, tuple[int, ...]]]] = [[] for _ in wiring.things]
    for nodes in members.values():
        places = {t: n for n, t in enumerate(dict.fromkeys(wiring.thing_of[n] for n in nodes))}
        cabinets = sorted({c for node in nodes for c in wiring.cabinets_of.get(node, ())})
        met = Met(kinds, still)
        recipe = (_signals(wiring, met, nodes, places), _cabinets(wiring, nodes, cabinets, shown))
        shape = numbers.setdefault(recipe, len(numbers))
        for thing, place in places.items():
            touched[thing].append((cabinets[0], shape, place, tuple(met.order)))
    return Shapes(touched, above)


class Met:
    """The carriers that a branch shows, in the order in which they are met."""

    def __init__(self, kinds: Kinds, still: Still) -> None:
        self.kinds, self.still = kinds, still
        self.order: dict[int, int] = {}

    def signal(self, node: int) -> Hashable:
        """What a node sends when nothing is wrong; of a live carrier, what its picture is like."""
        signal = self.kinds.signals[node]
        if not isinstance(signal, tuple) or not isinstance(signal[1], int):
            return self.kinds.quiet[node]
        place = self.order.setdefault(signal[1], len(self.order))
        return signal[0], place, self.still[signal[1]]


def _signals(wiring: Wiring, met: Met, nodes: Sequence[int], places: Mapping[int, int]) -> Hashable:
    """The nodes of a branch, but for who they are: inputs from outside count by their signal."""
    local = {node: place for place, node in enumerate(nodes)}
    return tuple(
        (
            met.kinds.node_traits[node],
            met.signal(node),
            places[wiring.thing_of[node]],
            tuple((local[i], -1) if i in local else (-1, met.signal(i)) for i in inputs),
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
        (
            number - cabinets[0],
            tuple(local[card] for card in wiring.cards_of[number]),
            shown[number],
        )
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
        if not isinstance(wiring.nodes[node], INNER)
        or any(found[r] != found[node] for r in readers)
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
