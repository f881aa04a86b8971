"""Shows of whole scenarios as they are drawn, put together from unrelated parts, against one run of
the whole rig by the same engine from the first to the last flick.

In: scenarios that ship with the program, seeded shows. Out: equal areas over time. That things
which no place has to see both of cannot matter to each other is the claim; each of its two halves
left out must make shows differ.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from sim.engine.run import run
from sim.engine.settling import Base
from sim.faults import Script
from sim.rig.topology import Rig, corner
from sim.risk.events import Struck, apart, moved
from sim.risk.field import Field
from sim.risk.related import Related
from sim.risk.setting import setting
from sim.risk.shows import struck
from sim.risk.stretches import added, parts_of
from sim.scenario.loader import load
from tests.test_scenes import areas_of, as_steps

SCENARIOS = Path(__file__).parents[1] / "scenarios"
UNLIKE = ("flapping", "drops")
"""Counted in ways of their own (turns taken together; whole source frames)."""
Steps = list[tuple[int, tuple[int, ...]]]


@cache
def ready(name: str, group: str, topology: str) -> tuple[Rig, Field, Base, list[list[Struck]]]:
    """A topology, and its first shows with several faults."""
    loaded = load(SCENARIOS / f"{name}.yaml")
    scenario = replace(loaded, terms=replace(loaded.terms, moving={}))
    of = setting(scenario, group, [v for v in scenario.variants(group) if v.label == topology])
    field, rig = of.fields[0], of.stages[0].rig
    shows = [list(field.struck(show)) for show in struck(of.union, 7, 700) if len(show) > 1]
    plain = [show for show in shows if not _unlike(field, show)]
    return rig, field, Base(rig, corner(rig, "typical")), plain[:150]


def _unlike(field: Field, show: Sequence[Struck]) -> bool:
    return any(field.scenes.strikes[each.hazard].mode in UNLIKE for each in show)


def together(field: Field, show: Sequence[Struck]) -> Steps:
    """Areas over time (dark, any defect), put together from parts."""
    known = field.scenes.essential(show)
    pieces = [parts_of(pieces, field.gauge) for pieces in field.scenes.pieces(known)]
    return as_steps(added(pieces))


def whole(rig: Rig, field: Field, base: Base, show: Sequence[Struck]) -> Steps:
    """The same by one run of the whole rig; everything is taken to move."""
    scenes = field.scenes
    order = apart(show)
    faults = [
        moved(fault, one.begin, one.end)
        for one in order
        for fault in scenes.strikes[one.hazard].faults
    ]
    failing = frozenset(name for one in order for name in scenes.hazards[one.hazard].failing)
    trace = run(base, Script(tuple(faults), (), failing), base.values, rig.length)
    return [(at, areas) for at, areas in areas_of(rig, scenes, trace) if at < field.gauge.length]


RIGS = [
    ("river", "main", "two-unit"),
    ("river", "main", "crossed-relays"),
    ("river", "banks", "mirrored-guarded"),
    ("studio", "backdrop", "two-unit"),
]


@pytest.mark.parametrize("rig", RIGS, ids=" ".join)
def test_shows_of_a_scenario_are_as_the_whole_rig_shows_them(rig: tuple[str, str, str]) -> None:
    of, field, base, shows = ready(*rig)
    assert len(shows) > 30
    for show in shows:
        assert together(field, show) == whole(of, field, base, show), show


def by_name(field: Field, *names: str) -> list[Struck]:
    numbers = {hazard.key: number for number, hazard in enumerate(field.scenes.hazards)}
    early = [Struck(numbers[name], -1) for name in names[1:]]
    return [Struck(numbers[names[0]], field.gauge.length // 3), *early]


HIDDEN = (
    "main/r8c7/receiver restart",
    "standby player/to-distributor cut, never tested",
    "programme/to-main/unit-b cut, never tested",
)
"""Two cuts that only together blacken the picture which the third makes cabinets turn to."""


def test_parts_spread_further_than_their_faults() -> None:
    of, field, base, _ = ready("river", "main", "two-unit")
    show = by_name(field, *HIDDEN)
    assert len(field.scenes.related.parts(show)) == 1
    assert together(field, show) == whole(of, field, base, show)


def _by_pairs_alone(self: Related, parts: list[list[Struck]]) -> list[list[Struck]]:
    return parts


def test_pairs_alone_are_not_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    of, field, base, _ = ready("river", "main", "two-unit")
    show = by_name(field, *HIDDEN)
    monkeypatch.setattr(Related, "_closed", _by_pairs_alone)
    assert together(field, show) != whole(of, field, base, show)


def _never(self: Related, one: Struck, other: Struck) -> bool:
    return one.hazard == other.hazard


def test_faults_taken_for_unrelated_would_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    of, field, base, shows = ready("river", "main", "two-unit")
    unlike: Callable[[list[Struck]], bool]
    unlike = lambda show: together(field, show) != whole(of, field, base, show)  # noqa: E731
    monkeypatch.setattr(Related, "meet", _never)
    monkeypatch.setattr(Related, "_closed", _by_pairs_alone)
    assert any(unlike(show) for show in shows)
