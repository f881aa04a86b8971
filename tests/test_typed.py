"""Frozen values through JSON and back: equal, of the same types; anything else is refused.

In: values drawn for a declaration made here, topologies worked out, what was said changed at any
place. Out: the value again, or ValueError.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.executing import Json
from sim.scenario.loader import load
from sim.shipped import find
from sim.study.study import VariantStudy, study
from sim.typed import heard, said


@dataclass(frozen=True, slots=True)
class Leaf:
    name: str
    part: Fraction
    rate: float
    on: bool


@dataclass(frozen=True, slots=True)
class Tree:
    leaves: tuple[Leaf, ...]
    pair: tuple[int, str]
    either: int | str | Fraction | None
    maybe: Leaf | None
    counts: Mapping[str, int] | None


LEAVES = st.builds(Leaf, st.text(), st.fractions(), st.floats(allow_nan=False), st.booleans())
TREES = st.builds(
    Tree,
    st.lists(LEAVES, max_size=3).map(tuple),
    st.tuples(st.integers(), st.text()),
    st.none() | st.integers() | st.text() | st.fractions(),
    st.none() | LEAVES,
    st.none() | st.dictionaries(st.text(), st.integers(), max_size=3),
)


def through_json(made: Json) -> Json:
    return json.loads(json.dumps(made, allow_nan=False))


@given(TREES)
def test_a_value_comes_back_as_it_was(tree: Tree) -> None:
    again = heard(Tree, through_json(said(Tree, tree)))
    assert again == tree
    assert repr(again) == repr(tree), "also the signs of zeros, and which number is whole"


def test_a_whole_number_in_place_of_a_float_stays_whole() -> None:
    """A sum of no floats is one."""
    leaf = Leaf("none", Fraction(0), 0, True)
    assert repr(heard(Leaf, through_json(said(Leaf, leaf)))) == repr(leaf)


def test_topologies_worked_out_come_back_as_they_were() -> None:
    scenario = load(find("first"))
    for variant in scenario.variants("panel"):
        made = study(scenario, variant)
        again = heard(VariantStudy, through_json(said(VariantStudy, made)))
        assert again == made and repr(again) == repr(made)


# ---- what is none


SAID = said(Tree, Tree((Leaf("a", Fraction(1, 3), 0.5, True),), (1, "b"), "c", None, {"d": 1}))


def places(of: Json, path: tuple[int, ...] = ()) -> Iterator[tuple[int, ...]]:
    yield path
    if isinstance(of, list):
        for number, each in enumerate(of):
            yield from places(each, (*path, number))


def changed(of: Json, path: tuple[int, ...], into: Json) -> Json:
    if not path:
        return into
    return [changed(e, path[1:], into) if n == path[0] else e for n, e in enumerate(of)]


@pytest.mark.parametrize(
    "into", [{}, [], [[]], 1.5, -1, 99, "1/0", "x", True, None, ["a", "b", "c"]]
)
def test_what_was_said_otherwise_is_a_tree_of_the_same_types_or_refused(into: Json) -> None:
    for path in places(SAID):
        try:
            found = heard(Tree, changed(SAID, path, into))
        except ValueError:
            continue
        assert through_json(said(Tree, found)) == changed(SAID, path, into)


@pytest.mark.parametrize(
    ("kind", "text"),
    [(Fraction, "1/0"), (Fraction, "1" * 3000 + "/1"), (Fraction, 1), (Fraction, "0.5"),
     (float, "x"), (float, "0x1p99999"), (float, None), (int, True), (int, 1.0), (bool, 1),
     (str, 1), (int | None, [2, 1]), (int | None, [True, 1]), (int | None, 1), (object, 1)],
)  # fmt: skip
def test_what_is_of_another_kind_is_refused(kind: Any, text: Json) -> None:
    with pytest.raises(ValueError):
        heard(kind, text)


def test_a_kind_that_cannot_be_said_is_refused_before_it_is_written() -> None:
    with pytest.raises(TypeError):
        said(set[int], {1})
    with pytest.raises(TypeError):
        said(int | None, "x")
