"""Names in order, and the first pattern that fits, against what Python's own library finds."""

from __future__ import annotations

from fnmatch import fnmatchcase
from graphlib import CycleError, TopologicalSorter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.order import in_order
from sim.rig.kit import first_match

NAMES = [f"n{number}" for number in range(12)]


@st.composite
def graphs(draw: st.DrawFn) -> dict[str, tuple[str, ...]]:
    """Names in some order, each after some others (no cycle); some are named by others only."""
    ranked = draw(st.permutations(NAMES))
    named = draw(st.lists(st.sampled_from(ranked[1:]), unique=True))
    return {
        name: tuple(draw(st.lists(st.sampled_from(ranked[: ranked.index(name)]), max_size=3)))
        for name in named
    }


@given(graphs())
def test_the_order_is_that_of_graphlib(before: dict[str, tuple[str, ...]]) -> None:
    assert in_order(before) == list(TopologicalSorter(before).static_order())


def test_a_cycle_is_named() -> None:
    with pytest.raises(CycleError) as raised:
        in_order({"a": ("b",), "b": ("c",), "c": ("a",), "d": ()})
    assert set(raised.value.args[1]) == {"a", "b", "c"}


WORDS = ("unit-a", "unit-b", "unit-1", "wall/unit-a", "unit-*", "")
PATTERNS = ("unit-a", "unit-?", "unit-[ab]", "*", "*/unit-a", "unit-*", "wall/unit-a", "[*]")


@given(st.lists(st.sampled_from(PATTERNS), max_size=6), st.sampled_from(WORDS))
def test_the_first_pattern_that_fits_is_that_of_fnmatch(patterns: list[str], name: str) -> None:
    pairs = tuple((pattern, number) for number, pattern in enumerate(patterns))
    fitting = [number for pattern, number in pairs if fnmatchcase(name, pattern)]
    assert first_match(pairs, name, -1) == (fitting[0] if fitting else -1)
