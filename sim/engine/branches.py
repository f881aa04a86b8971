"""Strikes that must do the same, told from the chains that they touch and not node by node.

In: a `Wiring`, its `Kinds`, what each cabinet shows of the walls. Out: keys of things that may be
struck; equal keys: what can notice the strikes is alike (`symmetry.reach` gives equal signatures)
and shows equal areas of the same walls. A *branch* is a part of the signal graph that nothing
outside it reads: a chain, both ways. Branches of one shape are equal node by node but for names,
and their cabinets lie alike. A thing has a key if all that it powers hangs on it alone and has
nodes in branches only.
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
    of it, the shape of each, and which of its things it is; `above`: things with other nodes.
    """

    touched: Sequence[Sequence[tuple[int, int, int]]]
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


def keys(wiring: Wiring, kinds: Kinds, shown: Mapping[int, Hashable]) -> Keys:
    """The keys of a rig. `shown`: for each cabinet by number what of the walls it shows."""
    numbers: dict[Hashable, int] = {}
    shapes = _shapes(wiring, kinds, shown, numbers)
    codes = [-1] * len(wiring.things)
    begins = [NOWHERE] * len(wiring.things)
    for thing in range(len(wiring.things) - 1, -1, -1):
        fed = wiring.powers[thing]
        alone = all(codes[each] >= 0 and len(wiring.powered_by[each]) == 1 for each in fed)
        if thing in shapes.above or not alone:
            continue
        touched = shapes.touched[thing]
        begin = min(
            [*(begins[each] for each in fed), *(first for first, _, _ in touched)], default=NOWHERE
        )
        own = tuple((first - begin, shape, slot) for first, shape, slot in touched)
        hung = tuple(sorted((begins[each] - begin, codes[each]) for each in fed))
        recipe = (kinds.thing_traits[thing], own, hung)
        codes[thing] = numbers.setdefault(recipe, len(numbers))
        begins[thing] = begin
    return Keys(wiring, codes)


NOWHERE = 1 << 60
"""Where what touches no cabinet begins: after all cabinets."""


def _shapes(
    wiring: Wiring, kinds: Kinds, shown: Mapping[int, Hashable], numbers: dict[Hashable, int]
) -> Shapes:
    """`numbers`: given out as recipes are first met."""
    of = _branch_of(wiring)
    members: dict[int, list[int]] = {}
    for node, branch in enumerate(of):
        members.setdefault(branch, []).append(node)
    above = frozenset(wiring.thing_of[node] for node in members.pop(ABOVE, ()))
    touched: list[list[tuple[int, int, int]]] = [[] for _ in wiring.things]
    for nodes in members.values():
        places = {t: n for n, t in enumerate(dict.fromkeys(wiring.thing_of[n] for n in nodes))}
        cabinets = sorted({c for node in nodes for c in wiring.cabinets_of.get(node, ())})
        recipe = (_signals(wiring, kinds, nodes, places), _cabinets(wiring, nodes, cabinets, shown))
        shape = numbers.setdefault(recipe, len(numbers))
        for thing, place in places.items():
            touched[thing].append((cabinets[0], shape, place))
    return Shapes(touched, above)


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
