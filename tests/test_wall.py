"""Chains and cells, against enumeration."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.rig.chains import CORNERS, WAYS, chains, check_chains, listed
from sim.rig.wall import Cell, Grid, Placement, Region, cabinet_name, cells, overlap

sides = st.integers(1, 7)


def test_by_column_every_chain_is_a_column_from_the_edge():
    assert chains(2, 3, "by column") == (
        ((0, 0), (1, 0)), ((0, 1), (1, 1)), ((0, 2), (1, 2)),
    )  # fmt: skip
    assert chains(2, 3, "by column", start="bottom right")[0] == ((1, 2), (0, 2))


def test_by_row():
    assert chains(2, 2, "by row", start="top right") == (((0, 1), (0, 0)), ((1, 1), (1, 0)))


def test_a_serpentine_takes_several_columns_and_every_head_is_at_the_start_edge():
    made = chains(3, 5, "serpentine by column", longest=7, start="bottom left")
    assert [len(chain) for chain in made] == [6, 6, 3]
    assert made[0] == ((2, 0), (1, 0), (0, 0), (0, 1), (1, 1), (2, 1))
    assert [chain[0] for chain in made] == [(2, 0), (2, 2), (2, 4)]


def test_columns_are_shared_out_evenly():
    made = chains(9, 16, "serpentine by column", longest=27)
    assert [len(chain) // 9 for chain in made] == [3, 3, 3, 3, 2, 2]
    assert len(chains(9, 16, "serpentine by column", longest=27, count=16)) == 16


def test_a_column_that_is_too_long_is_cut_evenly():
    made = chains(9, 1, "by column", longest=4)
    assert [len(chain) for chain in made] == [3, 3, 3]
    assert [chain[0] for chain in made] == [(0, 0), (3, 0), (6, 0)]


def test_without_a_greatest_length_a_serpentine_is_one_chain():
    assert chains(2, 2, "serpentine by row") == (((0, 0), (0, 1), (1, 1), (1, 0)),)


@given(
    sides, sides, st.sampled_from(WAYS), st.sampled_from(CORNERS), st.none() | st.integers(1, 20)
)
def test_chains_take_every_cabinet_once_and_neighbour_by_neighbour(rows, columns, how, start, most):
    made = chains(rows, columns, how, most, start)
    check_chains(made, rows, columns, longest=most)
    steps = [abs(a - c) + abs(b - d) for chain in made for (a, b), (c, d) in pairwise(chain)]
    assert set(steps) <= {1}
    first = (0 if "top" in start else rows - 1, 0 if "left" in start else columns - 1)
    assert made[0][0] == first
    assert sorted(p for chain in made for p in chain) == list(Grid(rows, columns, 1, 1).places)


@given(sides, sides, st.integers(7, 30))
def test_a_serpentine_has_as_few_chains_as_whole_columns_allow(rows, columns, most):
    made = chains(rows, columns, "serpentine by column", most)
    assert len(made) == -(-columns // (most // rows))
    assert max(map(len, made)) - min(map(len, made)) in (0, rows)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        ({"how": "by collumn"}, "nearest: by column"),
        ({"how": "by row", "start": "middle"}, "unknown way 'middle'"),
        ({"how": "by row", "longest": 0}, "at least 1"),
        ({"how": "serpentine by row", "longest": 4, "count": 1}, "2 to 3 chains"),
        ({"how": "serpentine by row", "count": 4}, "1 to 3 chains"),
    ],
)
def test_ways_that_are_refused(arguments, why):
    with pytest.raises(InputError, match=why):
        chains(3, 2, **arguments)


def test_listed_chains_and_straight_runs():
    made = listed([["r2c1..r1c1"], ["r1c2", "r2c2"]], 2, 2)
    assert made == (((1, 0), (0, 0)), ((0, 1), (1, 1)))
    assert listed([["r1c1..r1c3"]], 1, 3) == (((0, 0), (0, 1), (0, 2)),)


@pytest.mark.parametrize(
    ("lists", "why"),
    [
        ([["r1c1", "r1c2", "r2c1", "r2c2", "r1c1"]], "r1c1: in more than one place"),
        ([["r1c1", "r1c2", "r2c1"], ["r1c2", "r2c2"]], "r1c2: in more than one place"),
        ([["r1c1", "r2c2"]], "r1c2, r2c1: in no chain"),
        ([["r1c1..r1c3"], ["r2c1..r2c2"]], "r1c3: not on the wall"),
        ([["r0c1", "r1c1..r1c2", "r2c1..r2c2"]], "r0c1: not on the wall"),
        ([["r1c1..r2c2"]], "is not straight"),
        ([["1,1"]], "'1,1' is no cabinet"),
        ([["r1c1..r1c2", "r2c1..r2c2"], []], "chain 2 is empty"),
    ],
)
def test_lists_that_are_refused(lists, why):
    with pytest.raises(InputError, match=why):
        listed(lists, 2, 2)


def test_every_problem_of_a_list_is_told_and_long_lists_are_cut():
    with pytest.raises(InputError) as caught:
        listed([["r1c1", "r1c1"], ["r9c9"]], 3, 4)
    told = [problem.found for problem in caught.value.problems]
    assert told == [
        "r9c9: not on the wall",
        "r1c1: in more than one place of the chains",
        "r1c2, r1c3, r1c4, r2c1, r2c2, r2c3, r2c4, r3c1 and 3 more: in no chain",
    ]


def test_a_chain_that_is_too_long_is_told():
    with pytest.raises(InputError, match="chain 1 has 2 cabinets"):
        check_chains((((0, 0), (0, 1)),), 1, 2, longest=1)


def test_a_grid_without_pixels_is_refused():
    with pytest.raises(InputError, match="has no pixels"):
        Grid(0, 4, 10, 10)


def test_a_cabinet_is_cut_where_an_edge_crosses_it_only():
    inset = Placement("inset", 5, 5, 10, 10)
    full = Placement("camera", 0, 0, 40, 20)
    made, stacks = cells({"main": Grid(2, 4, 10, 10)}, {"race": [full, inset], "pause": [full]})
    assert stacks == (
        {"race": (full,), "pause": (full,)}, {"race": (inset, full), "pause": (full,)},
    )  # fmt: skip
    first = [cell for cell in made if cell.cabinet == "main/r1c1"]
    assert first == [
        Cell("main/r1c1", 0, 0, 10, 5, 0),
        Cell("main/r1c1", 0, 5, 5, 5, 0),
        Cell("main/r1c1", 5, 5, 5, 5, 1),
    ]
    assert [cell.area for cell in made if cell.cabinet == "main/r1c3"] == [100]
    assert len(made) == 4 * 3 + 4


def test_mirrored_walls_have_the_same_stacks():
    walls = {"left": Grid(1, 2, 8, 8), "right": Grid(2, 1, 8, 8)}
    made, stacks = cells(walls, {"only": [Placement("a", 0, 0, 8, 16)]})
    assert {cell.cabinet: len(stacks[cell.stack]["only"]) for cell in made} == {
        "left/r1c1": 1, "left/r1c2": 0, "right/r1c1": 1, "right/r2c1": 1,
    }  # fmt: skip


def test_ten_thousand_cabinets_are_cut_at_edges_only():
    inset = Placement("inset", 100, 100, 500, 500)
    made, stacks = cells({"w": Grid(100, 100, 64, 64)}, {"a": [inset]})
    assert len(stacks) == 2
    assert sum(cell.area for cell in made) == 6400 * 6400
    assert sum(cell.area for cell in made if stacks[cell.stack]["a"]) == 500 * 500
    assert len({cell.cabinet for cell in made}) == 10_000
    assert len(made) < 10_000 + 4 * 36


def test_a_rectangle_without_area_is_refused():
    with pytest.raises(InputError, match="has no area"):
        cells({"w": Grid(1, 1, 4, 4)}, {"a": [Placement("x", 0, 0, 0, 4)]})


rectangles = st.builds(
    Placement,
    st.sampled_from("abc"),
    st.integers(-4, 14), st.integers(-4, 14), st.integers(1, 14), st.integers(1, 14),
)  # fmt: skip
grids = st.builds(
    Grid, st.integers(1, 3), st.integers(1, 3), st.integers(1, 5), st.integers(1, 5),
    st.integers(-3, 6), st.integers(-3, 6),
)  # fmt: skip
arranged = st.dictionaries(st.sampled_from("pq"), st.lists(rectangles, max_size=4), max_size=2)


def stack_of_pixel(x, y, arrangements):
    return {
        name: tuple(
            p for p in reversed(placements) if p.x <= x < p.x + p.w and p.y <= y < p.y + p.h
        )
        for name, placements in arrangements.items()
    }


def by_pixel(made):
    covered = [
        ((x, y), cell) for cell in made
        for x in range(cell.x, cell.x + cell.w) for y in range(cell.y, cell.y + cell.h)
    ]  # fmt: skip
    assert len(dict(covered)) == len(covered), "cells overlap"
    return dict(covered)


@settings(deadline=None)
@given(grids, arranged)
def test_cells_against_a_loop_over_pixels(grid, arrangements):
    made, stacks = cells({"w": grid}, arrangements)
    found = by_pixel(made)
    assert sum(cell.area for cell in made) == grid.width * grid.height == len(found)
    for (x, y), cell in found.items():
        assert stacks[cell.stack] == stack_of_pixel(x + grid.x, y + grid.y, arrangements)
        at = cabinet_name(y // grid.cabinet_height, x // grid.cabinet_width, "w")
        assert cell.cabinet == at
    assert all(stacks.count(stack) == 1 for stack in stacks)
    assert {cell.stack for cell in made} == set(range(len(stacks)))


@settings(deadline=None)
@given(grids, arranged)
def test_a_cabinet_of_one_stack_is_one_cell(grid, arrangements):
    made, _ = cells({"w": grid}, arrangements)
    for place in grid.places:
        mine = [cell for cell in made if cell.cabinet == cabinet_name(*place, "w")]
        assert (len(mine) == 1) == (len({cell.stack for cell in mine}) == 1)


@given(rectangles, rectangles)
def test_overlap_against_sets_of_pixels(one, other):
    pixels = [
        {(x, y) for x in range(p.x, p.x + p.w) for y in range(p.y, p.y + p.h)} for p in (one, other)
    ]
    assert overlap(one, other) == len(pixels[0] & pixels[1])


def test_a_region_takes_its_part_of_a_cell():
    assert overlap(Cell("r1c1", 0, 0, 10, 10, 0), Region("corner", "main", 5, 8, 100, 100)) == 10
