"""How a thing fares: what its nodes feel (R6, R16), what it waits for, what its mark is made of."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from sim.engine.condition import LIMIT_ABOVE_MARGIN, Condition, ask_again, mark
from sim.faults import Fault
from sim.rig.topology import Thing

FIBRE = Thing("fibre", "fibre", margin=500)
UNIT = Thing("unit", "processor", start="start", hold_up="hold")
RECEIVER = frozenset({"corrupt", "stale"})


def dim(*losses: int) -> Condition:
    found = {n: Fault("fibre", "attenuated", 0, loss=loss) for n, loss in enumerate(losses)}
    return Condition(FIBRE, faults=found)


@pytest.mark.parametrize(
    ("losses", "quality"),
    [((500,), 6), ((501,), 2), ((300, 201), 2), ((500 + LIMIT_ABOVE_MARGIN,), 2)],
)
def test_a_fibre_dimmed_beyond_its_margin_is_corrupt_for_what_feels_that(
    losses: tuple[int, ...], quality: int
) -> None:
    assert dim(*losses).cap_for(RECEIVER) == quality
    assert dim(*losses).cap_for(frozenset({"stale"})) == 6


def test_what_is_still_to_come_is_asked_for_at_its_flick() -> None:
    asked: list[int] = []
    values = {"start": 7, "hold": 30}
    ask_again(Condition(UNIT, unfed=100, started=200), values, asked.append)
    assert asked == [130, 207]
    ask_again(Condition(UNIT), values, asked.append)
    assert asked == [130, 207]


BOTH = Condition(UNIT, up=False, unfed=100, started=200)


def test_a_mark_counts_times_from_now() -> None:
    assert mark(BOTH, 210) == mark(replace(BOTH, unfed=1100, started=1200), 1210)
    assert mark(BOTH, 210) != mark(BOTH, 211)
    assert mark(Condition(UNIT), 210) == mark(Condition(UNIT), 211)


@pytest.mark.parametrize(
    "change",
    [
        {"up": True},
        {"unfed": 101},
        {"unfed": None},
        {"started": 201},
        {"faults": {1: Fault("unit", "stuck", 0)}},
        {"off": {1}},
    ],
)
def test_what_its_future_depends_on_changes_its_mark(change: dict[str, Any]) -> None:
    assert mark(replace(BOTH, **change), 210) != mark(BOTH, 210)


def test_of_what_is_held_up_the_time_left_is_no_part_of_its_mark() -> None:
    later = replace(BOTH, unfed=101)
    assert mark(later, 210, held=True) == mark(BOTH, 210, held=True)
    assert mark(replace(BOTH, started=201), 210, held=True) != mark(BOTH, 210, held=True)
