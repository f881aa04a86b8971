"""Minimal cut sets as `risk --cut-sets` has them, against the engine and against formulas.

In: the scenario `first`. Out: single points by theory are those by the engine; chances against sums
over all states and against IEC 61165 (values from memory).
"""

from __future__ import annotations

import csv
import io
import json
from functools import cache
from itertools import product
from math import exp, prod
from pathlib import Path

import pytest

from sim import cli
from sim import commands as do
from sim.asked import Asked
from sim.reliability.theory import theory
from sim.rig.topology import corner
from sim.risk.asked import RiskAsked
from sim.risk.cuts import CutStudy, PlaceRow
from sim.risk.cutting import cuts_of, down, struck
from sim.risk.hazards import Hazard
from sim.risk.recovery import sight
from sim.risk.setting import Setting, setting
from sim.risk.sight import UNSEEN
from sim.risk.verifying import blows
from sim.scenario.loader import load
from sim.study.strikes import HOUR

FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
TOPOLOGIES = ("relay-pair", "single-feed", "return-loop", "two-unit", "crossed-relays")


@cache
def of_first(topology: str) -> Setting:
    scenario = load(FIRST)
    variants = [v for v in scenario.variants("panel") if v.label == topology]
    return setting(scenario, "panel", variants, plain=True)


@cache
def study(topology: str, order: int = 2) -> CutStudy:
    return cuts_of(load(FIRST), "panel", RiskAsked(topology), order, 4.0)


def wall(topology: str) -> PlaceRow:
    [place] = study(topology).topologies[0].places
    return place


@cache
def single_sets(topology: str) -> frozenset[str]:
    [stage] = of_first(topology).stages
    made = theory(stage.rig, "panel", blows(stage), corner(stage.rig, "typical"), 1)
    [place] = [place for place in made.places if place.kind == "wall"]
    return frozenset(name for cut in place.cuts for name in cut)


def darken_all(topology: str) -> frozenset[str]:
    """By the engine: hazards of which one alone leaves all dark for good, or again and again."""
    [field] = of_first(topology).fields
    hazards = enumerate(field.scenes.hazards)
    seen = {hazard.key: sight(field, number) for number, hazard in hazards}
    return frozenset(key for key, of in seen.items() if of != UNSEEN and of.dark == 1)


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_single_points_by_theory_are_those_by_the_engine(topology: str) -> None:
    by_theory = single_sets(topology)
    assert by_theory == darken_all(topology)
    assert len(by_theory) == wall(topology).singles > 0


def test_the_comparison_with_the_engine_tells_topologies_apart() -> None:
    assert single_sets("single-feed") != darken_all("relay-pair")


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_the_chance_lies_between_single_points_alone_and_the_sum_over_all_sets(
    topology: str,
) -> None:
    place, [stage] = wall(topology), of_first(topology).stages
    alone = [h for h in stage.hazards if h.key in single_sets(topology)]
    least = 1 - exp(-sum(hazard.mass for hazard in alone))
    assert least * (1 - 1e-12) <= place.chance
    assert 0 < place.share < place.chance
    assert place.chance / 2 < sum(way.chance for way in place.ways), "the likeliest are listed"


def test_the_chance_of_a_place_against_the_sum_over_all_states() -> None:
    """Only the single points and one pair of `return-loop`'s, all states counted one by one."""
    from sim.reliability.theory import PlaceCuts
    from sim.risk.cutting import _place

    [stage] = of_first("return-loop").stages
    hazards = {hazard.key: hazard for hazard in stage.hazards}
    names = (
        sorted(single_sets("return-loop"))[:3]
        + sorted(set(hazards) - single_sets("return-loop"))[:4]
    )
    cuts = frozenset(map(frozenset, ([names[0]], [names[1]], names[3:5], names[4:6])))
    made = _place(PlaceCuts("wall", "panel", cuts), hazards, 3 * HOUR, 4.0)
    exact = 0.0
    for state in product((False, True), repeat=len(names)):
        broken = {name for name, is_so in zip(names, state, strict=True) if is_so}
        chances = (struck(hazards[n], 1.0) for n in names)
        weight = prod(p if is_so else 1 - p for p, is_so in zip(chances, state, strict=True))
        exact += weight * any(cut <= broken for cut in cuts)
    assert exact <= made.chance * (1 + 1e-12) and made.chance == pytest.approx(exact, rel=1e-4)
    fewer = _place(PlaceCuts("wall", "panel", cuts - {frozenset([names[0]])}), hazards, HOUR, 4.0)
    assert fewer.chance != pytest.approx(exact, rel=1e-4), "a set left out would be noticed"


def test_the_long_run_of_one_item_against_failing_and_mending_in_turn() -> None:
    """L / (L + M): IEC 61165, value from memory. 1e-4 per hour, mended in 4 h: 3.998e-4."""
    hazard = Hazard("x", (), mass=3e-4)
    assert down(hazard, 3 * HOUR, 4.0) == pytest.approx(1e-4 / (1e-4 + 0.25), rel=1e-12)
    assert down(Hazard("x", (), mass=3e-4, early=True), 3 * HOUR, 4.0) == 0


def test_orders_and_their_sums() -> None:
    one, two = study("relay-pair", 1).topologies[0], study("relay-pair").topologies[0]
    assert one.places[0].pairs == 0 < two.places[0].pairs
    assert one.second == 0 and one.bound > two.bound and one.beyond > two.beyond
    assert two.dark == pytest.approx(two.first - two.overlap + two.second, rel=1e-12)
    assert sum(cell.cabinets for cell in two.cells) == 4


def test_every_format_says_the_same() -> None:
    def made(form: str) -> str:
        asked = Asked(FIRST, topology="relay-pair", format=form)
        return do.cut_sets(asked, RiskAsked("relay-pair"), 2, 4.0).text

    place = wall("relay-pair")
    [line] = csv.DictReader(io.StringIO(made("csv")))
    assert float(line["chance"]) == place.chance and int(line["pairs"]) == place.pairs
    told = json.loads(made("json"))["groups"][0]["topologies"][0]["places"][0]
    assert told["long_run"] == place.long_run and told["singles"] == place.singles
    text = made("text")
    assert f"{place.singles}" in text and "Cautions" in text
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize(
    "other",
    ["--verify", "--plain", "--shows=100", "--precision=0.1", "--workers=2", "--cluster=x:1"],
)
def test_shows_are_not_asked_for_as_well(other: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["risk", str(FIRST), "--cut-sets", "2", other]) == 2
    said = capsys.readouterr().err
    assert "theory alone" in said and other.partition("=")[0] in said


def test_a_time_to_mend_is_of_cut_sets_only(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["risk", str(FIRST), "--mended-after", "3"]) == 2
    assert "--mended-after belongs to --cut-sets" in capsys.readouterr().err
    for wrong in ("soon", "0"):
        assert cli.run(["risk", str(FIRST), "--cut-sets", "2", "--mended-after", wrong]) == 2
        assert "allowed: a number of hours above 0" in capsys.readouterr().err
