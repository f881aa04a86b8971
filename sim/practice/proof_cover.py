"""The fewest sets that together hold everything: an exact search, with a bound that proves itself.

In: sets of items, a weight (whole number) for each. Out: a frozen `Cover`: numbers of sets, fewest
first, then the least weight in all; items of which no set holds two, so that no cover is smaller.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

T = TypeVar("T", bound=Hashable)
MOST_STEPS = 200_000
"""Choices that are looked at before the best cover so far is taken."""


@dataclass(frozen=True, slots=True)
class Cover:
    """`chosen`: numbers of sets, rising; `apart`: items of which no set holds two, as many as were
    found; `searched`: every smaller or lighter cover was ruled out.
    """

    chosen: tuple[int, ...]
    apart: tuple[Hashable, ...]
    searched: bool

    @property
    def bound(self) -> int:
        """No cover has fewer sets."""
        return len(self.chosen) if self.searched else len(self.apart)


Sets = Mapping[int, frozenset[T]]


def cover(
    sets: Sequence[frozenset[T]], weights: Sequence[int], most_steps: int = MOST_STEPS
) -> Cover:
    """The smallest cover of all that any set holds; of equal ones the lightest, then the first."""
    items = _hardest(sets)
    left = _undominated({n: of & items for n, of in enumerate(sets)}, weights)
    search = _Search(left, weights, most_steps, _greedy(left, weights, items))
    search.go(items, ())
    apart = max((_apart(left, items, way) for way in (False, True)), key=len)
    return Cover(tuple(sorted(search.best)), tuple(apart), search.steps < most_steps)


def _holders(sets: Sets[T]) -> dict[T, frozenset[int]]:
    found: dict[T, set[int]] = {}
    for number, of in sets.items():
        for item in of:
            found.setdefault(item, set()).add(number)
    return {item: frozenset(of) for item, of in found.items()}


def _hardest(sets: Sequence[frozenset[T]]) -> frozenset[T]:
    """Without items that every cover of the others holds anyway; one of those that are alike."""
    first: dict[frozenset[int], T] = {}
    for item, of in _holders(dict(enumerate(sets))).items():
        known = first.get(of)
        if known is None or repr(item) < repr(known):
            first[of] = item
    return frozenset(item for of, item in first.items() if not any(o < of for o in first))


def _undominated(sets: dict[int, frozenset[T]], weights: Sequence[int]) -> dict[int, frozenset[T]]:
    """Without sets of which another that weighs no more holds everything."""
    kept: dict[int, frozenset[T]] = {}
    for number in sorted(sets, key=lambda n: (-len(sets[n]), weights[n], n)):
        of = sets[number]
        if of and not any(of <= kept[k] and weights[k] <= weights[number] for k in kept):
            kept[number] = of
    return kept


def _greedy(sets: Sets[T], weights: Sequence[int], items: frozenset[T]) -> tuple[int, ...]:
    left, chosen = items, []
    while left:
        best = min(sets, key=lambda n: (-len(sets[n] & left), weights[n], n))
        chosen.append(best)
        left -= sets[best]
    return tuple(chosen)


def _apart(sets: Sets[T], items: Iterable[T], most_first: bool) -> list[T]:
    """Items of which no set holds two, taken greedily."""
    holders = _holders(sets)
    sign = -1 if most_first else 1
    found: list[T] = []
    taken: set[int] = set()
    for item in sorted(items, key=lambda i: (sign * len(holders[i]), repr(i))):
        if taken.isdisjoint(holders[item]):
            found.append(item)
            taken |= holders[item]
    return found


@dataclass(slots=True)
class _Search:
    """Branch and bound: the item that fewest sets hold must be held by one of them."""

    sets: Mapping[int, frozenset[Hashable]]
    weights: Sequence[int]
    most: int
    best: tuple[int, ...]
    steps: int = 0
    holders: dict[Hashable, frozenset[int]] = field(init=False)

    def __post_init__(self) -> None:
        self.holders = _holders(self.sets)

    def go(self, left: frozenset[Hashable], chosen: tuple[int, ...]) -> None:
        if self.steps >= self.most:
            return
        self.steps += 1
        if not left:
            self.best = min(self.best, chosen, key=self._cost)
        elif self._least(left, chosen) < self._cost(self.best):
            item = min(left, key=lambda i: (len(self.holders[i]), repr(i)))
            for number in sorted(self.holders[item], key=lambda n: (-len(self.sets[n] & left), n)):
                self.go(left - self.sets[number], (*chosen, number))

    def _cost(self, chosen: Sequence[int]) -> tuple[int, int, tuple[int, ...]]:
        return len(chosen), sum(self.weights[n] for n in chosen), tuple(sorted(chosen))

    def _least(
        self, left: frozenset[Hashable], chosen: tuple[int, ...]
    ) -> tuple[int, int, tuple[int, ...]]:
        """What any cover that goes on from here costs at least."""
        apart = _apart({n: of & left for n, of in self.sets.items()}, left, False)
        count, weight, _ = self._cost(chosen)
        more = sum(min(self.weights[n] for n in self.holders[item]) for item in apart)
        return count + len(apart), weight + more, ()
