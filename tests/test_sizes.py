"""How the work for a wall grows with its cabinets, counted in calls and never in time.

Every call of a function, Python's own ones among them, is counted while a scenario is read, its rig
built, and every dead or cut thing struck. The count is the same on every machine, and a power of
the number of cabinets: 1 where the work grows as the wall does.
"""

from __future__ import annotations

from collections.abc import Callable
from cProfile import Profile
from math import log
from pathlib import Path

import pytest

from sim.scenario.loader import load
from sim.study.laboratory import Laboratory
from sim.study.promises import LOSSES
from sim.study.strikes import Strike
from sim.study.study import VariantStudy, study
from tests.big_walls import SIZES, Size, big_wall

TINY, SMALL, LARGE = Size(4, 25), Size(10, 25), Size(30, 25)
MOST = 1.1
"""The greatest exponent that counts as growing with the wall."""


def worked(size: Size, folder: Path) -> VariantStudy:
    path = folder / f"wall-{size.cabinets}.yaml"
    path.write_text(big_wall(size), encoding="utf-8")
    scenario = load(path)
    return study(scenario, scenario.offered["screen"], LOSSES)


def calls(work: Callable[[], object]) -> int:
    """How many functions are called while something is worked out."""
    profile = Profile()
    profile.runcall(work)
    return sum(entry.callcount for entry in profile.getstats())


def exponent(small: Size, large: Size, folder: Path) -> float:
    """By which power of the number of cabinets the number of calls grows."""
    few, many = (calls(lambda size=size: worked(size, folder)) for size in (small, large))
    return log(many / few) / log(large.cabinets / small.cabinets)


def test_a_wall_of_100_000_cabinets_is_within_all_bounds(tmp_path: Path) -> None:
    """Read as far as what it says; nothing is built."""
    path = tmp_path / "wall.yaml"
    path.write_text(big_wall(SIZES[100_000]), encoding="utf-8")
    assert [*load(path).file.groups] == ["screen"]


def test_work_grows_no_faster_than_the_wall(tmp_path: Path) -> None:
    worked(SMALL, tmp_path)
    assert exponent(SMALL, LARGE, tmp_path) <= MOST


def test_work_that_compares_each_strike_with_each_thing_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def concerns(laboratory: Laboratory, strike: Strike) -> bool:
        return strike.struck[0] in {name.strip() for name in laboratory.above}

    worked(TINY, tmp_path)
    monkeypatch.setattr(Laboratory, "concerns", concerns)
    assert exponent(TINY, SMALL, tmp_path) > MOST


def test_every_single_loss_of_a_wall_is_told(tmp_path: Path) -> None:
    """Counted by hand: each cabinet has a supply, a receiver and a power jumper (or power feed
    cable); a chain of 25 has 24 jumpers, two cables and two ports. Two units have a cable each;
    there are a source, its distributor and the cable between them, and three routes.
    """
    found = worked(SMALL, tmp_path)
    told = {row.name: row.count for row in found.rows}
    assert sum(told.values()) == 3 * 250 + 10 * (24 + 2 + 2) + 2 * 2 + 3 + 3
    assert told["receiver dead"] == told["supply dead"] == 250
    assert found.modes == LOSSES
