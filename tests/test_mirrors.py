"""Mirrored walls: a pixel of the picture is lost only where no wall that is looked at shows it lit.

In: two mirrored walls, cut differently into cabinets; faults. Out: views, against every pixel
looked at one by one at every instant.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.faults import Fault
from sim.rig.plan import ShowPlan, WallPlan
from sim.study.contingency import Laboratory
from sim.study.effects import Line, state_of
from sim.study.mirrors import PICTURE, best_of, pieces, views_of
from sim.study.strikes import strikes
from tests.labs import LIT_LINE, full_run, laboratory, pixels_of, plan_for
from tests.plans import FRAME, group, show, wall

AUDIENCE = {"left bank": ("left",), "bridge": ("left", "right"), "elsewhere": ("far",)}


def twins(topology: str = "mirrored", rows: int = 2) -> ShowPlan:
    """Two walls of 20 by 20 pixels: four cabinets, and `rows` by one that cut it elsewhere."""
    other = WallPlan(
        "right", rows, 1, 20, 20 // rows,
        chains=(tuple((r, 0) for r in range(rows)),),
        power_chains=(tuple((r, 0) for r in range(rows)),), circuits=(("house-1", "house-2"),),
    )  # fmt: skip
    plan = group(wall(2, 2, "left"), other, name="banks", topology=topology, audience=AUDIENCE)
    return show(plan)


def seen_by_pixel(lab: Laboratory, faults: Sequence[Fault], walls: Sequence[str]) -> Counter[Line]:
    """How many pixels show which line to those who see these walls."""
    trace = full_run(lab.rig, faults)
    on_walls = [
        {(x, y): line for x, y, line in pixels_of(lab.rig, trace, lab.group.name, w)} for w in walls
    ]
    found: Counter[Line] = Counter()
    for spot in on_walls[0]:
        lines = [of[spot] for of in on_walls]
        instants = sorted({at for line in lines for at, _ in line})
        best = [(at, max(_at(line, at) for line in lines)) for at in instants]
        found[tuple(step for n, step in enumerate(best) if not n or step[1] != best[n - 1][1])] += 1
    return found


def _at(line: Line, at: int) -> int:
    return [quality for start, quality in line if start <= at][-1]


def lost_pixels(lab: Laboratory, faults: Sequence[Fault], view: str) -> dict[Line, int]:
    """Pixels by line in a view, as an effect has it."""
    areas: Counter[Line] = Counter()
    for line, area in lab.effect(faults, "typical").views[view].lines:
        areas[line] += area
    return dict(areas)


@pytest.mark.parametrize("topology", ["single-feed", "mirrored", "mirrored-guarded"])
@pytest.mark.parametrize("rows", [1, 2, 4])
def test_views_of_every_strike_against_enumeration(topology: str, rows: int) -> None:
    lab = laboratory(twins(topology, rows))
    tried = lost = 0
    for strike in strikes(lab.rig):
        effect = lab.effect(strike.faults, "typical")
        for view, walls in views_of(lab.group).items() if effect.views else ():
            by_pixel = seen_by_pixel(lab, strike.faults, walls)
            by_pixel.pop(LIT_LINE, None)
            assert lost_pixels(lab, strike.faults, view) == by_pixel, (strike.name, view)
            tried, lost = tried + 1, lost + bool(by_pixel)
        if not effect.views:
            assert not effect.seen
    assert tried > 100 and lost > 10


def test_what_one_wall_loses_is_lost_only_to_those_who_see_no_other() -> None:
    lab = laboratory(twins("mirrored"))
    views = lab.effect([Fault("banks/left/relay-main", "dead", 0)], "typical").views
    assert set(views) == {PICTURE, "left bank", "bridge"}
    assert views["left bank"].lasting == (400, 0, 0, 0, 0)
    for both in (PICTURE, "bridge"):
        assert not views[both].lines and not any(views[both].ever)


def test_two_losses_lose_the_picture_where_they_overlap() -> None:
    """Left: the top left cabinet, 10 by 10; right: the upper half, 20 by 10."""
    lab = laboratory(twins("mirrored"))
    faults = [
        Fault("banks/left/r1c1/receiver", "dead", 0),
        Fault("banks/right/r1c1/receiver", "blanked", FRAME),
    ]
    view = lab.effect(faults, "typical").views[PICTURE]
    assert view.lasting == view.ever == (100, 0, 0, 0, 0)
    assert dict(view.lines) == {((0, 6), (FRAME, 1)): 100}


def test_a_frozen_wall_beside_a_dark_one_is_frozen() -> None:
    lab = laboratory(twins("mirrored"))
    faults = [
        Fault("banks/left/relay-main", "stuck", 0),
        Fault("banks/right/relay-main", "dead", 0),
    ]
    view = lab.effect(faults, "typical").views[PICTURE]
    assert view.lasting == (0, 0, 0, 400, 0)


def test_a_group_that_is_not_mirrored_has_no_views() -> None:
    assert views_of(laboratory(plan_for("relay-pair")).group) == {}


@pytest.mark.parametrize("rows", [1, 2, 4, 5])
def test_pieces_cover_the_picture_once_against_enumeration(rows: int) -> None:
    lab = laboratory(twins(rows=rows))
    of, wall_of = lab.group, {name: c.wall for name, c in lab.rig.cabinets.items()}
    spots: dict[str, dict[tuple[int, int], tuple[str, int]]] = {"left": {}, "right": {}}
    for cell in of.cells:
        for x in range(cell.x, cell.x + cell.w):
            for y in range(cell.y, cell.y + cell.h):
                spots[wall_of[cell.cabinet]][x, y] = (cell.cabinet, cell.stack)
    wanted = Counter((spots["left"][at], spots["right"][at]) for at in spots["left"])
    cut = pieces(of, wall_of, ("left", "right"))
    assert {piece.spots: piece.area for piece in cut} == wanted
    assert sum(wanted.values()) == 400


LINES = st.lists(
    st.tuples(st.integers(1, 12), st.integers(0, 6)), max_size=5, unique_by=lambda s: s[0]
).flatmap(lambda steps: st.integers(0, 6).map(lambda q: ((0, q), *sorted(steps))))


@given(st.lists(LINES, min_size=1, max_size=4))
def test_the_best_of_several_lines_against_enumeration(lines: list[Line]) -> None:
    best = best_of(lines)
    assert all(_at(best, t) == max(_at(line, t) for line in lines) for t in range(14))
    assert all(a[1] != b[1] for a, b in pairwise(best))
    assert {state_of(q) for _, q in best} <= set(range(6))


def test_a_wall_alone_is_its_own_view() -> None:
    plan = twins("mirrored")
    alone = replace(plan.groups[0], audience={"left bank": ("left",)})
    lab = laboratory(replace(plan, groups=(alone,)))
    for strike in strikes(lab.rig):
        effect = lab.effect(strike.faults, "typical")
        if effect.views:
            assert effect.views["left bank"].lasting == effect.lasting["left"], strike.name
