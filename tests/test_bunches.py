"""Like faults told once, against every fault told by itself; facts of a rig that are kept.

In: whole scenarios with every topology, large walls. Out: the same strikes in the same order, the
same outcomes, the same rows of a report.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from sim.engine import branches
from sim.memory import uncollected
from sim.rig.once import once
from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario
from sim.shipped import find
from sim.study.alike import Alike
from sim.study.bunches import bunched
from sim.study.contingency import Laboratory, singles
from sim.study.hangs import dormant, ties
from sim.study.latent import latents
from sim.study.outcome import Outcome, each_strike, how_many, where
from sim.study.points import single_points
from sim.study.promises import verdicts
from sim.study.reasons import Reasons
from sim.study.strikes import strikes
from sim.study.study import rig_of
from sim.study.survival import Ways
from tests.big_walls import Size, big_wall
from tests.test_alike import plain

SHIPPED = ("first", "studio", "atrium", "river", "twin")


def rigs(scenario: Scenario) -> Iterator[tuple[Rig, str]]:
    for group in scenario.groups:
        for variant in scenario.variants(group):
            rig = rig_of(scenario, variant)[1]
            if rig is not None:
                yield rig, group


@pytest.fixture
def wall(tmp_path: Path) -> Scenario:
    path = tmp_path / "wall.yaml"
    path.write_text(big_wall(Size(44, 25)), encoding="utf-8")
    return load(path)


def of_shipped(name: str) -> list[tuple[Scenario, Rig, str]]:
    scenario = load(find(name))
    return [(scenario, rig, group) for rig, group in rigs(scenario)]


def together(rig: Rig, group: str) -> tuple[Sequence[Outcome], Sequence[Outcome]]:
    """The outcomes of all faults, each looked at by itself, and told once for like ones."""
    apart = Laboratory(rig, group)
    apart.alike = Alike(apart.wiring, apart.kinds, None, {})
    return singles(apart, strikes(rig)), bunched(Laboratory(rig, group))


def hold(rig: Rig, group: str) -> None:
    each, told = together(rig, group)
    assert each_strike(told) == tuple(outcome.strike for outcome in each)
    assert sum(how_many(outcome) for outcome in told) == len(each)
    by_name = {outcome.strike.name: plain(outcome) for outcome in each}
    for outcome in told:
        for strike in each_strike([outcome]):
            assert plain(outcome) == by_name[strike.name], strike.name


@pytest.mark.parametrize("name", SHIPPED)
def test_a_bunch_stands_for_each_of_its_faults(name: str) -> None:
    for _, rig, group in of_shipped(name):
        hold(rig, group)


def test_a_large_wall_is_told_in_few_words(wall: Scenario) -> None:
    (rig, group), *_ = rigs(wall)
    hold(rig, group)
    each, told = together(rig, group)
    assert len(told) < len(each) / 8


def test_a_bunch_of_what_is_not_alike_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(branches, "_cabinets", lambda wiring, nodes, cabinets, shown: 0)
    with pytest.raises(AssertionError):
        for _, rig, group in of_shipped("river"):
            hold(rig, group)


def rows(
    rig: Rig, group: str, scenario: Scenario, outcomes: Sequence[Outcome]
) -> tuple[object, ...]:
    """All that a report of the group says of these outcomes."""
    made = Laboratory(rig, group)
    return (
        single_points(made, outcomes, Reasons(rig, made.group)),
        dormant(made, latents(made, outcomes)),
        ties(outcomes, group),
        verdicts(scenario.limits, made.canvas, outcomes),
    )


@pytest.mark.parametrize("name", SHIPPED)
def test_what_a_report_says_is_the_same(name: str) -> None:
    for scenario, rig, group in of_shipped(name)[:4]:
        each, told = together(rig, group)
        assert rows(rig, group, scenario, told) == rows(rig, group, scenario, each)


def test_what_a_report_says_of_a_large_wall_is_the_same(wall: Scenario) -> None:
    (rig, group), *_ = rigs(wall)
    each, told = together(rig, group)
    assert rows(rig, group, wall, told) == rows(rig, group, wall, each)


def test_the_order_of_names_is_the_catalogues() -> None:
    (_, rig, group), *_ = of_shipped("twin")
    _, told = together(rig, group)
    bunch = max(told, key=how_many)
    names = where([bunch])
    assert len(names) == how_many(bunch) > 1
    assert list(names) == [name for name in rig.things if name in set(names)]


def test_reasons_told_once_are_those_of_each(wall: Scenario) -> None:
    (rig, group), *_ = rigs(wall)
    made = Laboratory(rig, group)
    known = Reasons(rig, made.group)
    lasting = [o for o in singles(made, strikes(rig)) if o.verdict == "lasting"]
    shared = 0
    for outcome in lasting[::4]:
        strike, dark = outcome.strike, any(effect.area(0) for effect in outcome.distinct)
        before = len(known.known)
        told = known.of(strike, dark, (), made.alike.key(strike.struck))
        shared += len(known.known) == before
        assert told == known.of(strike, dark), strike.name
    assert shared > len(lasting) / 8


# ---- what is left when something is down


def oracle_feeds(rig: Rig, struck: str) -> dict[str, str]:
    """By rules alone, again and again until nothing changes; no order of nodes is used."""
    down = {struck}
    while more := {
        name
        for name, thing in rig.things.items()
        if name not in down
        and thing.powered_by
        and set(thing.powered_by) <= down
        and (not thing.hold_up or rig.timings[thing.hold_up].typical < rig.length)
    }:
        down |= more
    feeds: dict[str, str] = {}
    while True:
        found = {n: o for n in rig.nodes if (o := oracle_origin(rig, n, down, feeds))}
        if found == feeds:
            return feeds
        feeds = found


def oracle_origin(rig: Rig, name: str, down: set[str], feeds: dict[str, str]) -> str:
    node, kind = rig.nodes[name], type(rig.nodes[name]).__name__
    if node.thing in down:
        return ""
    if kind in ("Emit", "Carrier"):
        return name
    selector = getattr(node, "selector", None)
    inputs = list(node.inputs)
    if selector is not None and selector.restore == "locked":
        inputs = [inputs[selector.locked_on]]
    elif (selector is not None and selector.restore == "by-hand") or (
        selector is None and kind != "Merge"
    ):
        inputs = inputs[:1]
    return next((feeds[i] for i in inputs if i in feeds), "")


@pytest.mark.parametrize("name", ["first", "twin", "studio"])
def test_what_is_left_is_what_the_rules_leave(name: str) -> None:
    for _, rig, _ in of_shipped(name):
        ways = Ways(rig)
        for struck in list(rig.things)[:: max(1, len(rig.things) // 40)]:
            left, feeds = ways.without((struck,)), oracle_feeds(rig, struck)
            assert dict(left.feeds) == feeds
            assert left.changed == {n for n in rig.nodes if feeds.get(n) != ways.quiet.get(n)}, (
                struck
            )


# ---- facts that are kept


def test_a_fact_of_a_rig_is_worked_out_once_and_goes_with_it() -> None:
    asked: list[int] = []

    @once
    def size(rig: Rig) -> int:
        asked.append(id(rig))
        return len(rig.nodes)

    (_, rig, _), (_, other, _), *_ = of_shipped("first")
    assert size(rig) == size(rig) == len(rig.nodes)
    assert size(other) == len(other.nodes)
    assert asked == [id(rig), id(other)]
    known = size.__closure__[0].cell_contents if size.__closure__ else {}
    assert len(known) == 2
    del rig, other, _
    gc.collect()
    assert not known


def test_memory_is_not_looked_through_for_a_while() -> None:
    assert gc.isenabled()
    with pytest.raises(ValueError, match="half"), uncollected():
        assert not gc.isenabled()
        raise ValueError("half way")
    assert gc.isenabled()
