"""What check says of layers that nobody sees, bare background, routes without a cable."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.limits.picture import picture_findings
from sim.rig.plan import ArrangementPlan
from sim.rig.wall import Placement
from sim.scenario.loader import load, scenario_from
from sim.study.idle import idle_findings
from tests.labs import rig_of
from tests.plans import PIXELS, main

WHOLE = Placement("camera", 0, 0, 4 * PIXELS, 3 * PIXELS)
CORNER = Placement("inset", 0, 0, PIXELS // 2, PIXELS // 2)
LEFT = Placement("camera", 0, 0, 2 * PIXELS, 3 * PIXELS)


def texts(**arrangements: tuple[Placement, ...]) -> list[str]:
    plans = tuple(ArrangementPlan(name, of) for name, of in arrangements.items())
    rig = rig_of(main("relay-pair", arrangements=plans))
    return [finding.text for finding in picture_findings(rig)]


def test_a_layer_under_another_in_every_arrangement_is_told() -> None:
    hidden = "the layer inset lies wholly under others in every arrangement"
    assert texts(show=(WHOLE, CORNER), all=(WHOLE,)) == [hidden]


def test_a_layer_on_top_in_some_arrangement_is_not() -> None:
    assert texts(show=(WHOLE, CORNER), other=(CORNER, WHOLE)) == []


def test_a_layer_under_one_that_gives_way_when_it_is_lost_is_not() -> None:
    under = Placement("camera", 0, 0, PIXELS // 2, PIXELS // 2)
    assert texts(show=(CORNER, under)) == [
        "no layer covers 1175 of its 1200 pixels in show: they show the background"
    ]


def test_what_no_layer_covers_in_the_arrangement_meant_is_told() -> None:
    bare = "no layer covers 600 of its 1200 pixels in half: they show the background"
    assert texts(half=(CORNER, LEFT), all=(CORNER, WHOLE)) == [bare]
    assert texts(all=(CORNER, WHOLE), half=(CORNER, LEFT)) == []


def test_a_route_on_which_no_cable_lies_is_told() -> None:
    text = Path("scenarios/first.yaml").read_text(encoding="utf-8")
    assert text.count("\nroutes:\n") == 1
    more = text.replace("\nroutes:\n", "\nroutes:\n  cellar: 5 m\n")
    told = [finding.subject for finding in idle_findings(scenario_from(more))]
    assert told == ["route cellar"]


@pytest.mark.parametrize("name", ["first", "river", "studio", "atrium"])
def test_the_shipped_scenarios_use_all_that_they_declare(name: str) -> None:
    assert not list(idle_findings(load(f"scenarios/{name}.yaml")))
