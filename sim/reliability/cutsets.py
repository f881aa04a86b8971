"""Minimal cut sets, and the chance that a whole fails, of graphs, trees of causes and functions.

In: names of parts, how they fail together, the chance of each. Out: sets of parts (frozen), chances
in the numbers that came in: Fractions stay exact. Parts fail independently; more broken parts never
help. A description that cannot be is a ValueError. A graph is a mapping from each node to its
successors, as networkx graphs are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import prod

Cut = frozenset[str]
Cuts = frozenset[Cut]
Number = float | Fraction
Graph = Mapping[Hashable, Iterable[Hashable]]
Carries = Callable[[Hashable, Hashable], Iterable[str]]
"""The parts that a way from one node to the next needs."""


def minimal(sets: Iterable[Cut]) -> Cuts:
    """Those sets that hold no other one."""
    kept: list[Cut] = []
    for one in sorted(set(sets), key=len):
        if not any(small <= one for small in kept):
            kept.append(one)
    return frozenset(kept)


def crossings(sets: Iterable[Cut], most: int | None = None) -> Cuts:
    """The minimal sets, of at most so many parts, that meet every given set.

    Of minimal paths these are the minimal cuts, and of minimal cuts the minimal paths.
    """
    found: Cuts = frozenset({frozenset()})
    for one in sorted(minimal(sets), key=lambda it: (len(it), sorted(it))):
        meeting = [cut for cut in found if cut & one]
        grown = [cut | {part} for cut in found if not cut & one for part in one]
        found = minimal(cut for cut in meeting + grown if most is None or len(cut) <= most)
    return found


# ---- trees of causes -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Fails when any of its causes does: names of parts, or trees."""

    causes: tuple[Tree, ...]


@dataclass(frozen=True, slots=True)
class AllOf:
    """Fails when all of its causes do."""

    causes: tuple[Tree, ...]


Tree = str | AnyOf | AllOf


def tree_cuts(tree: Tree) -> Cuts:
    """The minimal cut sets of a tree of causes."""
    if isinstance(tree, str):
        return frozenset({frozenset({tree})})
    parts = [tree_cuts(cause) for cause in tree.causes]
    if isinstance(tree, AnyOf):
        return minimal(cut for cuts in parts for cut in cuts)
    found: Cuts = frozenset({frozenset()})
    for cuts in parts:
        found = minimal(one | two for one in found for two in cuts)
    return found


# ---- graphs --------------------------------------------------------------------------------------


def path_parts(graph: Graph, start: Hashable, end: Hashable, carries: Carries) -> Cuts:
    """The minimal sets of parts that together lead from start to end."""
    return minimal(_walks(graph, start, end, carries))


def _walks(graph: Graph, start: Hashable, end: Hashable, carries: Carries) -> Iterator[Cut]:
    """The parts of every way that visits no node twice."""
    todo: list[tuple[Hashable, frozenset[Hashable], Cut]] = [
        (start, frozenset({start}), frozenset())
    ]
    while todo:
        node, seen, parts = todo.pop()
        if node == end:
            yield parts
            continue
        for after in graph[node]:
            if after not in seen:
                todo.append((after, seen | {after}, parts | set(carries(node, after))))


def cuts_between(
    graph: Graph, start: Hashable, end: Hashable, carries: Carries, most: int | None = None
) -> Cuts:
    """The minimal sets, of at most so many parts, without which nothing leads from start to end.

    Where nothing can break every way, there are none; where no way leads there, the empty set is
    the only one.
    """
    return crossings(path_parts(graph, start, end, carries), most)


def connected(graph: Graph, carries: Carries, broken: Cut) -> bool:
    """Whether every node is reached from the first, over ways of which no part is broken."""
    start = next(iter(graph))
    seen, todo = {start}, [start]
    while todo:
        node = todo.pop()
        ways = (after for after in graph[node] if broken.isdisjoint(carries(node, after)))
        fresh = set(ways) - seen
        seen |= fresh
        todo += fresh
    return len(seen) == len(list(graph))


# ---- functions -----------------------------------------------------------------------------------

Fails = Callable[[Cut], bool]
"""Whether the whole fails with exactly these parts broken."""


def function_cuts(fails: Fails, parts: Iterable[str], most: int) -> Cuts:
    """The minimal cut sets of at most so many parts, by trying all sets, the smallest first."""
    names = sorted(set(parts))
    found: list[Cut] = []
    for size in range(most + 1):
        sets = (frozenset(chosen) for chosen in combinations(names, size))
        fresh = (one for one in sets if not any(cut <= one for cut in found))
        found += [one for one in fresh if fails(one)]
    return frozenset(found)


def function_chance(fails: Fails, chances: Mapping[str, Number]) -> Number:
    """The chance that the whole fails, exact: part by part, until nothing left can matter."""
    names = sorted(chances)

    def chance(broken: Cut, at: int) -> Number:
        if fails(broken):
            return 1
        if at == len(names) or not fails(broken | set(names[at:])):
            return 0
        q = chances[names[at]]
        return q * chance(broken | {names[at]}, at + 1) + (1 - q) * chance(broken, at + 1)

    return chance(frozenset(), 0)


# ---- chances from cuts ---------------------------------------------------------------------------


def chance_of(cuts: Iterable[Cut], chances: Mapping[str, Number]) -> Number:
    """The chance that at least one cut is wholly broken, exact.

    Splits on the part that most cuts hold, broken or whole, and keeps what it has worked out.
    """
    known: dict[Cuts, Number] = {}

    def chance(left: Cuts) -> Number:
        if not left or frozenset() in left:
            return 1 if left else 0
        if left not in known:
            part = _commonest(left)
            broken = chance(minimal(cut - {part} for cut in left))
            whole = chance(frozenset(cut for cut in left if part not in cut))
            known[left] = chances[part] * broken + (1 - chances[part]) * whole
        return known[left]

    return chance(minimal(cuts))


def _commonest(cuts: Cuts) -> str:
    held = Counter(part for cut in cuts for part in cut)
    return min(held, key=lambda part: (-held[part], part))


def sum_of(cuts: Iterable[Cut], chances: Mapping[str, Number]) -> Number:
    """The sum over cuts of the chance that all of it is broken: never below `chance_of`."""
    return sum(
        prod(chances[part] for part in sorted(cut)) for cut in sorted(minimal(cuts), key=sorted)
    )


def at_most(cuts: Iterable[Cut], chances: Mapping[str, Number]) -> Number:
    """As if the cuts were independent: never below `chance_of`, never above `sum_of`.

    (Esary and Proschan 1963, value from memory.)
    """
    found: Number = 0
    for cut in sorted(minimal(cuts), key=sorted):
        broken = prod(chances[part] for part in sorted(cut))
        found = broken + found * (1 - broken)
    return found


def beyond(chances: Iterable[Number], order: int) -> Number:
    """The chance that more than `order` parts are broken: what cuts up to that order may miss."""
    exactly: list[Number] = [1]
    for q in chances:
        kept = [*(one * (1 - q) for one in exactly), 0]
        more = [0, *(one * q for one in exactly)]
        exactly = [a + b for a, b in zip(kept, more, strict=True)]
    return sum(exactly[order + 1 :])


def common_cause(
    cuts: Iterable[Cut],
    chances: Mapping[str, Number],
    alike: Iterable[str],
    name: str,
    share: Number,
) -> tuple[Cuts, dict[str, Number]]:
    """Cuts and chances in which a share of the failures of alike parts strikes all of them at once.

    The new part `name` breaks all of `alike`, which must have one chance. (Beta factor: IEC 61508-6
    Annex D, value from memory.) Raises ValueError.
    """
    members = frozenset(alike)
    odds = {chances[part] for part in members}
    if len(odds) != 1 or name in chances or not 0 <= share <= 1:
        raise ValueError(f"{sorted(members)}: one chance for all, a new name, a share of 0 to 1")
    q = odds.pop()
    own = {part: (1 - share) * q if part in members else p for part, p in chances.items()}
    known = list(cuts)
    struck = ((cut - members) | {name} for cut in known if cut & members)
    return minimal([*known, *struck]), {**own, name: share * q}
