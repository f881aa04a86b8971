"""The smallest cover is held against every choice of sets, tried one after the other."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from sim.practice.proof_cover import cover

SETS = st.lists(st.frozensets(st.integers(0, 7), max_size=5), min_size=1, max_size=7)


def enumerated(sets: list[frozenset[int]], weights: list[int]) -> tuple[int, int]:
    """Number and weight of the best cover, by looking at all of them."""
    whole = frozenset[int]().union(*sets)
    for size in range(len(sets) + 1):
        found = [
            sum(weights[n] for n in chosen)
            for chosen in combinations(range(len(sets)), size)
            if frozenset[int]().union(*(sets[n] for n in chosen)) == whole
        ]
        if found:
            return size, min(found)
    raise AssertionError("all sets together are a cover")


@settings(max_examples=300)
@given(SETS, st.data())
def test_a_cover_is_the_smallest_and_lightest_against_enumeration(
    sets: list[frozenset[int]], data: st.DataObject
) -> None:
    size = len(sets)
    weights = data.draw(st.lists(st.integers(0, 5), min_size=size, max_size=size))
    made = cover(sets, weights)
    held = frozenset[int]().union(*(sets[n] for n in made.chosen))
    assert held == frozenset[int]().union(*sets)
    assert made.searched
    assert (len(made.chosen), sum(weights[n] for n in made.chosen)) == enumerated(sets, weights)


@given(SETS)
def test_of_the_items_that_stand_apart_no_set_holds_two(sets: list[frozenset[int]]) -> None:
    made = cover(sets, [1] * len(sets))
    assert all(len(of.intersection(made.apart)) <= 1 for of in sets)
    assert len(made.apart) <= made.bound <= len(made.chosen)


def test_greed_alone_would_take_one_set_too_many() -> None:
    sets = [frozenset({1, 2, 3, 4}), frozenset({1, 2, 5, 6}), frozenset({3, 4, 7, 8}),
            frozenset({1, 3, 5, 7, 2, 4}), frozenset({5, 6, 7, 8})]  # fmt: skip
    assert cover(sets, [1] * 5).chosen == (0, 4)


def test_where_the_search_stops_early_it_says_so() -> None:
    sets = [frozenset({a, b}) for a, b in combinations(range(9), 2)]
    made = cover(sets, [1] * len(sets), most_steps=3)
    assert not made.searched
    assert made.bound == len(made.apart) < len(made.chosen)


def test_nothing_needs_nothing() -> None:
    assert cover([frozenset()], [1]).chosen == ()
