"""The risk matrix against the tables of MIL-STD-882E, and thresholds of one's own."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.reliability.estimates import Estimate, share
from sim.reliability.riskmatrix import RISKS, STANDARD, with_edges

IN_LEVEL = (0.3, 0.03, 0.003, 0.00003, 1e-7)
"""A probability inside each level, A to E."""


# Source: MIL-STD-882E Tables I to III (secondary source read).
@pytest.mark.parametrize(
    ("severity", "row"), [(1, "H H H S M"), (2, "H H S M M"), (3, "S S M M M"), (4, "M M L L L")]
)
def test_the_matrix_against_published(severity: int, row: str) -> None:
    found = [STANDARD.risk(severity, p) for p in IN_LEVEL]
    assert found == [RISKS[letter] for letter in row.split()]


# Source: MIL-STD-882E Table II (secondary source read): an edge belongs to the likelier level.
@pytest.mark.parametrize(("level", "edge"), [(0, 1e-1), (1, 1e-2), (2, 1e-3), (3, 1e-6)])
def test_an_edge_belongs_to_the_likelier_level_against_published(level: int, edge: float) -> None:
    assert STANDARD.level(edge) == level
    assert STANDARD.level(edge * (1 - 1e-12)) == level + 1


@given(st.floats(0, 1), st.floats(0, 1), st.integers(1, 4), st.integers(1, 4))
def test_likelier_or_worse_is_never_less_risk(p: float, q: float, one: int, two: int) -> None:
    order = ["low", "medium", "serious", "high"]
    less = STANDARD.risk(max(one, two), min(p, q))
    more = STANDARD.risk(min(one, two), max(p, q))
    assert order.index(less) <= order.index(more)


def test_the_span_of_an_estimate_is_its_ends() -> None:
    assert STANDARD.span(1, share(0, 20)) == ("medium", "high")
    assert STANDARD.span(2, Estimate(0.005, -0.1, 1.1, 0.95, "")) == ("medium", "high")


def test_thresholds_of_ones_own_move_the_levels() -> None:
    own = with_edges((0.5, 0.2, 0.1, 0.05), "show.yaml:3: risk")
    assert own.risk(1, 0.06) == "serious"
    assert STANDARD.risk(1, 0.06) == "high"


@pytest.mark.parametrize(
    "edges", [(), (0.1,), (0.1, 0.2, 0.01, 0.001), (0.1, 0.01, 0.01, 0.001), (1.0, 0.1, 0.01, 1e-3),
              (0.1, 0.01, 0.001, 0.0), (float("nan"), 0.1, 0.01, 0.001)],
)  # fmt: skip
def test_thresholds_that_do_not_fall_are_refused(edges: tuple[float, ...]) -> None:
    with pytest.raises(InputError) as raised:
        with_edges(edges, "show.yaml:3: risk")
    (problem,) = raised.value.problems
    assert problem.where == "show.yaml:3: risk"
    assert "4 probabilities" in problem.allowed


@pytest.mark.parametrize(("severity", "p"), [(0, 0.1), (5, 0.1), (1, -0.1), (1, 1.1)])
def test_what_cannot_be_is_refused(severity: int, p: float) -> None:
    with pytest.raises(ValueError, match=r"severity|probability"):
        STANDARD.risk(severity, p)
