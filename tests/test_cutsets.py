"""Cut sets and exact chances: published networks and trees, and counting every case one by one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import chain, combinations
from math import prod
from random import Random

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.reliability.cutsets import (
    AllOf,
    AnyOf,
    Cut,
    Cuts,
    Tree,
    at_most,
    beyond,
    chance_of,
    common_cause,
    connected,
    crossings,
    cuts_between,
    function_chance,
    function_cuts,
    minimal,
    path_parts,
    sum_of,
    tree_cuts,
)


def sets(*texts: str) -> Cuts:
    return frozenset(frozenset(text.split()) for text in texts)


def edge(one: object, two: object) -> tuple[str]:
    """One part for each edge, the same both ways."""
    return (f"{min(str(one), str(two))}{max(str(one), str(two))}",)


def edges_of(graph: nx.Graph) -> list[str]:
    return [edge(one, two)[0] for one, two in graph.edges]


def even(parts: Iterable[str], q: Fraction | float) -> dict[str, Fraction | float]:
    return dict.fromkeys(parts, q)


NINE = Fraction(9, 10)

# ---- published networks --------------------------------------------------------------------------

BRIDGE = nx.Graph([("s", "a"), ("s", "b"), ("a", "b"), ("a", "t"), ("b", "t")])


# Source: Barlow and Proschan 1975, IEC 61078 (values from memory); exact.
@pytest.mark.parametrize(("p", "works"), [("0.9", "0.97848"), ("0.5", "0.5"),
                                          ("0.95", "0.994780625")])  # fmt: skip
def test_the_bridge_against_published(p: str, works: str) -> None:
    cuts = cuts_between(BRIDGE, "s", "t", edge)
    assert cuts == sets("as bs", "at bt", "as ab bt", "ab at bs")
    chances = even(edges_of(BRIDGE), 1 - Fraction(p))
    assert 1 - chance_of(cuts, chances) == Fraction(works)
    assert 1 - function_chance(bridge_fails, chances) == Fraction(works)


def bridge_fails(broken: Cut) -> bool:
    kept = [e for e in BRIDGE.edges if edge(*e)[0] not in broken]
    left = nx.Graph(kept)
    left.add_nodes_from("st")
    return not nx.has_path(left, "s", "t")


# Source: exact, n p^(n-1) - (n-1) p^n.
@pytest.mark.parametrize(("size", "works"), [(4, "0.9477"), (6, "0.885735"),
                                             (10, "0.7360989291")])  # fmt: skip
def test_rings_all_terminal_against_published(size: int, works: str) -> None:
    ring = nx.cycle_graph(size)
    chances = even(edges_of(ring), 1 - NINE)
    fails = lambda broken: not connected(ring, edge, broken)  # noqa: E731
    assert 1 - function_chance(fails, chances) == Fraction(works)
    cuts = function_cuts(fails, chances, 2)
    assert len(cuts) == size * (size - 1) // 2
    assert 1 - chance_of(cuts, chances) == Fraction(works)


# Source: exact: adjacent 1 - (1 - p)(1 - p^5), opposite 1 - (1 - p^3)^2.
@pytest.mark.parametrize(("end", "works"), [(1, "0.959049"), (3, "0.926559")])
def test_a_ring_of_six_two_terminal_against_published(end: int, works: str) -> None:
    ring = nx.cycle_graph(6)
    cuts = cuts_between(ring, 0, end, edge)
    assert 1 - chance_of(cuts, even(edges_of(ring), 1 - NINE)) == Fraction(works)


TANK = AnyOf(("T", "K2", AllOf(("S", AnyOf(("S1", "K1", "R"))))))
TANK_CHANCES = {"T": "5e-6", "K2": "3e-5", "S": "1e-4", "S1": "3e-5", "K1": "5e-6", "R": "1e-4"}


def test_the_pressure_tank_against_published() -> None:
    # Source: NASA Fault Tree Handbook 2002; open fault-tree data set (secondary source read).
    cuts = tree_cuts(TANK)
    assert cuts == sets("T", "K2", "S S1", "S K1", "S R")
    found = chance_of(cuts, {part: float(q) for part, q in TANK_CHANCES.items()})
    assert found == pytest.approx(3.50133491625e-5, rel=1e-7)
    exact = chance_of(cuts, {part: Fraction(q) for part, q in TANK_CHANCES.items()})
    assert found == pytest.approx(float(exact), rel=1e-14)


def test_an_open_chain_loses_half_and_one_link_fed_from_both_ends_nothing() -> None:
    # Source: exact: one break uniform over n links darkens (n + 1) / 2 cabinets on average.
    line = nx.path_graph(21)
    broken = [len(cuts_between(line, 0, cabinet, edge, most=1)) for cabinet in range(1, 21)]
    assert Fraction(sum(broken), 20) == Fraction(21, 2)
    loop = nx.cycle_graph(21)
    assert not any(cuts_between(loop, 0, cabinet, edge, most=1) for cabinet in range(1, 21))


# Source: IEC 61508-6 Annex D (value from memory); exact: (1 - b)^2 q^2 + b q.
@pytest.mark.parametrize(("beta", "chance"), [("0.02", "2.09604e-5"), ("0.1", "1.0081e-4")])
def test_common_cause_against_published(beta: str, chance: str) -> None:
    q, b = Fraction(1, 1000), Fraction(beta)
    cuts, chances = common_cause(sets("one two"), even(("one", "two"), q), ("one", "two"), "all", b)
    assert cuts == sets("one two", "all")
    assert sum_of(cuts, chances) == Fraction(chance) == (1 - b) ** 2 * q**2 + b * q


def test_common_cause_leaves_what_is_not_alike_alone() -> None:
    chances = {"a": 0.1, "b": 0.1, "c": 0.3}
    cuts, split = common_cause(sets("a c", "b c", "c d"), chances | {"d": 0.2}, "ab", "rain", 0.5)
    assert cuts == sets("a c", "b c", "rain c", "c d")
    assert split == pytest.approx({"a": 0.05, "b": 0.05, "c": 0.3, "d": 0.2, "rain": 0.05})
    with pytest.raises(ValueError, match="one chance"):
        common_cause(sets("a c"), chances, "ac", "rain", 0.5)


# ---- every case counted one by one ---------------------------------------------------------------

PARTS = "abcdef"
families = st.lists(st.frozensets(st.sampled_from(PARTS), min_size=1, max_size=4), max_size=7)
chances_of_parts = st.fixed_dictionaries(
    {part: st.fractions(0, 1, max_denominator=20) for part in PARTS}
)


def subsets(parts: Iterable[str]) -> list[Cut]:
    names = sorted(parts)
    chosen = chain.from_iterable(combinations(names, n) for n in range(len(names) + 1))
    return [frozenset(one) for one in chosen]


def weight(broken: Cut, chances: Mapping[str, Fraction]) -> Fraction:
    found = Fraction(1)
    for part, q in chances.items():
        found *= q if part in broken else 1 - q
    return found


def weight_of_all(cut: Cut, chances: Mapping[str, Fraction]) -> Fraction:
    return prod((chances[part] for part in cut), start=Fraction(1))


def counted(family: Iterable[Cut], chances: Mapping[str, Fraction]) -> Fraction:
    sets_ = list(family)
    hit = (one for one in subsets(chances) if any(cut <= one for cut in sets_))
    return sum((weight(one, chances) for one in hit), Fraction(0))


@given(families, chances_of_parts)
def test_the_chance_of_cuts_against_enumeration(
    family: list[Cut], chances: dict[str, Fraction]
) -> None:
    exact = counted(family, chances)
    none_of_them = prod(1 - weight_of_all(cut, chances) for cut in minimal(family))
    assert at_most(family, chances) == 1 - none_of_them
    assert chance_of(family, chances) == exact
    assert function_chance(lambda b: any(cut <= b for cut in family), chances) == exact
    assert exact <= at_most(family, chances) <= sum_of(family, chances)


@given(families, chances_of_parts)
def test_the_chance_of_cuts_against_inclusion_and_exclusion(
    family: list[Cut], chances: dict[str, Fraction]
) -> None:
    cuts, found = sorted(minimal(family), key=sorted), Fraction(0)
    for size in range(1, len(cuts) + 1):
        for some in combinations(cuts, size):
            term = Fraction(1)
            for part in frozenset().union(*some):
                term *= chances[part]
            found += (-1) ** (size + 1) * term
    assert chance_of(family, chances) == found


@given(families)
def test_function_cuts_are_the_minimal_sets(family: list[Cut]) -> None:
    found = function_cuts(lambda broken: any(cut <= broken for cut in family), PARTS, len(PARTS))
    assert found == minimal(family)


@given(families)
def test_crossings_against_enumeration(family: list[Cut]) -> None:
    meeting = [one for one in subsets(PARTS) if all(one & cut for cut in family)]
    assert crossings(family) == minimal(meeting)
    assert crossings(crossings(family)) == minimal(family)
    assert crossings(family, 2) == frozenset(c for c in crossings(family) if len(c) <= 2)


@given(chances_of_parts, st.integers(0, 6))
def test_the_chance_of_more_than_so_many_against_enumeration(
    chances: dict[str, Fraction], order: int
) -> None:
    more = sum((weight(b, chances) for b in subsets(PARTS) if len(b) > order), Fraction(0))
    assert beyond(chances.values(), order) == more


@given(families, chances_of_parts, st.integers(0, 3))
def test_cuts_up_to_an_order_miss_no_more_than_the_bound(
    family: list[Cut], chances: dict[str, Fraction], order: int
) -> None:
    short = chance_of([cut for cut in family if len(cut) <= order], chances)
    exact = chance_of(family, chances)
    assert short <= exact <= short + beyond(chances.values(), order)


trees = st.recursive(
    st.sampled_from(PARTS),
    lambda inner: st.builds(
        lambda kind, causes: kind(tuple(causes)),
        st.sampled_from((AnyOf, AllOf)),
        st.lists(inner, min_size=1, max_size=3),
    ),
    max_leaves=8,
)


def holds(tree: Tree, broken: Cut) -> bool:
    if isinstance(tree, str):
        return tree in broken
    causes = [holds(cause, broken) for cause in tree.causes]
    return any(causes) if isinstance(tree, AnyOf) else all(causes)


@given(trees)
def test_the_cuts_of_a_tree_against_enumeration(tree: Tree) -> None:
    assert tree_cuts(tree) == minimal(one for one in subsets(PARTS) if holds(tree, one))


graphs = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5), st.sampled_from(PARTS)),
                  max_size=10)  # fmt: skip


@given(graphs)
@settings(max_examples=60)
def test_cuts_between_against_reachability(ways: list[tuple[int, int, str]]) -> None:
    """Edges may share a part, as links on one route do; networkx says what is still reached."""
    graph = nx.DiGraph([(a, b) for a, b, _ in ways])
    graph.add_nodes_from((0, 5))
    parts = {(a, b): part for a, b, part in ways}

    def apart(broken: Cut) -> bool:
        left = nx.DiGraph([way for way in graph.edges if parts[way] not in broken])
        left.add_nodes_from((0, 5))
        return not nx.has_path(left, 0, 5)

    found = cuts_between(graph, 0, 5, lambda a, b: (parts[a, b],))
    assert found == function_cuts(apart, PARTS, len(PARTS))


def test_what_nothing_can_break_has_no_cut_and_what_no_way_leads_to_is_cut_already() -> None:
    graph = {"s": ["t"], "t": [], "u": []}
    assert cuts_between(graph, "s", "t", lambda *_: ()) == frozenset()
    assert cuts_between(graph, "s", "u", edge) == {frozenset()}
    assert path_parts(graph, "s", "t", edge) == sets("st")
    assert chance_of([], {}) == 0
    assert chance_of([frozenset()], {}) == 1


def test_small_chances_keep_their_digits() -> None:
    cuts, chances = sets("a b", "a c"), {"a": 1e-9, "b": 1e-9, "c": 2e-9}
    for found in (chance_of, at_most, sum_of):
        assert found(cuts, chances) == pytest.approx(3e-18, rel=1e-8)


# ---- against a simulation, which can fail --------------------------------------------------------


def simulated(q: float, runs: int = 20_000) -> tuple[float, float]:
    """Share of bridges that fail and its standard error; an edge breaks with chance q; seed 5."""
    draw, parts, failed = Random(5), sorted(edges_of(BRIDGE)), 0
    known = {one: bridge_fails(one) for one in subsets(parts)}
    for _ in range(runs):
        failed += known[frozenset(part for part in parts if draw.random() < q)]
    share = failed / runs
    return share, (share * (1 - share) / runs) ** 0.5


def test_the_bridge_against_a_simulation_that_can_fail() -> None:
    share, error = simulated(0.1)
    assert abs(share - (1 - 0.97848)) < 5 * error
    share, error = simulated(0.13)  # deliberately biased: must be noticed
    assert abs(share - (1 - 0.97848)) > 5 * error
