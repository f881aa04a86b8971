"""What `explain` tells of a timing, a type, a thing, a route, a circuit, a limit, a word.

In: the shipped scenarios. Out: values, what they move, and refusals that name the nearest.
"""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest

from sim.errors import InputError
from sim.faults import MODES
from sim.report import explain_report
from sim.rig.placeholders import RATES
from sim.scenario.kits import Assumption
from sim.scenario.loader import load, scenario_from
from sim.scenario.scenario import Scenario
from sim.spoken import spoken
from sim.study.explanation import explain
from sim.study.glossary import GLOSSARY
from sim.study.study import study
from sim.study.told import (
    AssumptionTold,
    Explanation,
    FigureTold,
    LimitTold,
    PlaceTold,
    ThingTold,
    TimingTold,
    TypeTold,
    WordTold,
)
from sim.timebase import FLICKS


@pytest.fixture(scope="module", name="first")
def _first() -> Scenario:
    return load("scenarios/first.yaml")


def told(scenario: Scenario, item: str, kind: type[Any]) -> Any:
    found = explain(scenario, item).told
    assert isinstance(found, kind)
    return found


def text(explanation: Explanation) -> str:
    """The report on one line."""
    return " ".join(explain_report.text(explanation).split())


# ---- timings


def test_a_timing_that_is_known_moves_nothing(first: Scenario) -> None:
    found = told(first, "receiving card.detect", TimingTold)
    assert found.timing.least == found.timing.most == 2 * first.rate.frame
    assert (found.timing.grade, found.users) == ("claim", 4)
    (swing,) = found.swings
    assert swing.faults > 0
    assert (swing.moved, swing.worst) == (0, None)


def test_a_range_moves_frames_and_the_most_moved_fault_is_named(first: Scenario) -> None:
    """Crossed relays: a dead unit costs the relays' notice and change: 0.1..1.8 s are 85 frames."""
    explanation = explain(first, "relay unit.detect")
    found = explanation.told
    assert isinstance(found, TimingTold)
    assert [v.label for v in explanation.variants] == ["crossed-relays"], "nothing offered uses it"
    (swing,) = found.swings
    assert 0 < swing.moved <= swing.faults
    assert swing.worst == "panel/unit-a dead"
    assert swing.verdicts == ("blink", "blink")
    wider = (found.timing.most - found.timing.least) // first.rate.frame
    assert wider == 85
    assert swing.at_most[0][0] - swing.at_least[0][0] == wider
    assert swing.at_most[0][1] - swing.at_least[0][1] == wider


def test_a_kept_picture_turns_dark_into_frozen() -> None:
    """A frame that is kept is a frame later dark: as many are not lit, but one is frozen."""
    scenario = _changed(("keeps_last: {range: 1 frame,", "keeps_last: {range: 0..1 frames,"))
    (swing,) = told(scenario, "equipment.receiving card.keeps_last", TimingTold).swings
    dark, frozen = 0, 3
    assert swing.moved > 0
    assert swing.at_least[frozen] == (0, 0) < swing.at_most[frozen]
    assert swing.at_most[dark] < swing.at_least[dark]
    shown = " ".join(text(explain(scenario, "receiving card.keeps_last")).split())
    assert re.search(r"dark [0-9.]+ frames \(blink\) at 0 s; dark .* frozen .* at 20 ms", shown)
    assert "none of them cost other frames" not in shown


def test_frames_of_what_lasts_are_those_of_what_comes_back() -> None:
    cost = explain_report._cost
    none = (0, 0)
    spans = ((11, 12), none, none, none, none)
    assert cost(spans, "lasting") == "lasting, where it comes back dark 11..12 frames"
    assert cost((none,) * 5, "lasting") == "lasting"
    assert cost(spans, "blink") == "dark 11..12 frames (blink)"


def test_the_place_of_an_assumed_timing_means_the_timing(first: Scenario) -> None:
    one, other = (
        explain(first, item)
        for item in ("relay unit.detect", "equipment.relay unit.timings.detect")
    )
    assert one.told == other.told == explain(first, "equipment.relay unit.detect").told
    assert "grade guess" in text(other)
    assert "general trade knowledge, from memory" in text(other)


def test_a_timing_that_no_rig_uses_is_an_assumption(first: Scenario) -> None:
    found = told(first, "relay unit.notice", Assumption)
    assert (found.value, found.grade) == ("0.1..3 s", "guess")


def test_hold_up_of_a_circuit_is_a_timing_too() -> None:
    found = told(load("scenarios/river.yaml"), "cabin battery.hold_up", TimingTold)
    assert (found.timing.least, found.timing.most) == (300 * FLICKS, 900 * FLICKS)
    assert found.timing.shelters


# ---- assumptions that are no timings

LOOPED = (
    ("second: distributor, ", ""),
    ("offered: relay-pair", "offered: two-unit"),
    ("return-loop, two-unit", "return-loop"),
)
"""Makes `first` a show of two units, of which the second one's feed is not said."""


def _changed(*changes: tuple[str, str]) -> Scenario:
    text = Path("scenarios/first.yaml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return scenario_from(text)


def test_a_loop_through_that_is_assumed_decides_what_a_dead_unit_does() -> None:
    """With a distributor the second unit stands in; held against a scenario that says so."""
    assumed = _changed(*LOOPED)
    found = told(assumed, "sources.player.second", AssumptionTold)
    assert found.assumption.value == "loop-through"
    (other,) = found.alternatives
    assert (other.value, other.reasons) == ("distributor", ())
    (change,) = other.changes
    assert {row.name for row in change.gone} == {"unit-a dead", "unit-a flapping"}
    said = _changed(("second: distributor", "second: distributor"), *LOOPED[1:])
    lasting = [
        {row.name for row in study(of, of.offered["panel"]).rows if row.verdict == "lasting"}
        for of in (assumed, said)
    ]
    assert {row.name for row in change.gone} == lasting[0] - lasting[1]
    assert {row.name for row in change.new} == lasting[1] - lasting[0]
    shown = text(explain(assumed, "sources.player.second"))
    assert "With distributor instead" in shown
    assert "not lasting any more: unit-a dead (100 % dark)" in shown
    assert "To say it, write it in the scenario at `sources.player.second`." in shown


def test_a_verdict_on_a_limit_that_hangs_on_an_assumption_is_told() -> None:
    """Two units, so that only what comes before them leaves the wall dark for more than 5 frames:
    black, if that is what a layer shows without its source; frozen is not dark.
    """
    assumed = _changed(*LOOPED[1:], (", on_loss: black", ""), ("any: single fault", DEAD_OR_CUT))
    found = told(assumed, "groups.panel.layers.player.on_loss", AssumptionTold)
    assert [other.value for other in found.alternatives] == ["frozen", "card", "uncovered"]
    for other in found.alternatives[:2]:
        (change,) = other.changes
        assert change.limits == ((assumed.limits[0].label, "not met", "met"),)
        said = _changed(
            *LOOPED[1:],
            ("on_loss: black", f"on_loss: {other.value}"),
            ("any: single fault", DEAD_OR_CUT),
        )
        (verdict,) = study(said, said.offered["panel"]).verdicts
        assert verdict.verdict == "met"
    shown = text(explain(assumed, "groups.panel.layers.player.on_loss"))
    assert "limit met instead of not met" in shown
    assert "player dead (100 % dark) becomes 100 % frozen" in shown


DEAD_OR_CUT = "any: single dead or cut"


def test_a_circuit_that_is_assumed_moves_what_it_feeds() -> None:
    """All but the cabinets hang on the desk's circuit; so do they, unless it is said otherwise."""
    power = ("relay-*: wall power", "relay-*: desk power")
    assumed = _changed(("    circuits: [wall power]\n", ""), power)
    found = told(assumed, "walls.panel.circuits", AssumptionTold)
    assert found.assumption.value == "[desk power]"
    (other,) = found.alternatives
    (change,) = other.changes
    assert other.value == "wall power"
    assert [row.name for row in change.new] == ["wall power tripped"]
    assert (change.limits, change.gone, change.moved) == ((), (), ())


def test_an_assumption_is_judged_with_a_topology_that_has_what_it_is_about() -> None:
    """Only the second of two units hangs on the circuit that is assumed for it."""
    assumed = _changed(("unit-*: desk power", "unit-a: desk power"))
    explanation = explain(assumed, "groups.panel.power.unit-b")
    found = explanation.told
    assert isinstance(found, AssumptionTold)
    (other,) = found.alternatives
    assert [change.variant.label for change in other.changes] == ["two-unit"]
    assert "so it is judged for panel with two-unit" in " ".join(text(explanation).split())
    assert "so it is judged" not in text(explain(assumed, "equipment.scaling unit.on_loss"))


def test_a_circuit_is_explained_by_the_name_that_reports_print(first: Scenario) -> None:
    found = explain(first, "circuit desk power", spoken)
    assert (found.kind, found.told) == ("circuit", explain(first, "desk power").told)


def test_what_has_no_other_value_worked_out_says_so_plainly(first: Scenario) -> None:
    found = told(first, "show.bits", AssumptionTold)
    assert found.alternatives == ()
    shown = text(explain(first, "show.bits"))
    assert "It is no timing" in shown
    assert "No other value is worked out" in shown
    assert "at `show.bits`" in shown


def test_a_setting_of_a_type_has_its_other_values(first: Scenario) -> None:
    found = told(first, "equipment.scaling unit.restore", AssumptionTold)
    assert found.assumption.value == "by-hand"
    assert [other.value for other in found.alternatives] == ["revertive", "non-revertive", "locked"]
    assert found == told(first, "equipment.scaling unit.picks.restore", AssumptionTold)


def test_another_way_to_pick_an_input_is_worked_out_as_if_it_were_said() -> None:
    """A wrong choice of a layer ends of itself only where the unit goes back to what it prefers."""
    both = (
        (
            "sources:\n",
            "sources:\n  spare: {circuits: wall power, second: distributor, run: desk}\n",
        ),
        ("from: player,", "from: [player, spare],"),
    )
    found = told(_changed(*both), "equipment.scaling unit.picks.restore", AssumptionTold)
    (change,) = found.alternatives[0].changes
    assert found.alternatives[0].value == "revertive"
    said = _changed(*both, ("equipment:\n", "equipment:\n  scaling unit: {picks: revertive}\n"))
    lasting = [
        {row.name for row in study(of, of.offered["panel"]).rows if row.verdict == "lasting"}
        for of in (_changed(*both), said)
    ]
    assert {row.name for row in change.gone} == lasting[0] - lasting[1] != set()


# ---- types, things, routes, circuits


def test_a_type_has_every_figure_and_what_was_assumed(first: Scenario) -> None:
    found = told(first, "relay unit", TypeTold)
    assert found.things == ("panel/relay-main", "panel/relay-backup")
    assert {a.path for a in found.assumptions} >= {"equipment.relay unit.timings.detect"}
    shown = text(explain(first, "relay unit"))
    assert "kind relay unit" in shown
    assert "monitored no" in shown


def test_a_type_has_the_failure_rates_of_its_kind_and_they_are_placeholders(
    first: Scenario,
) -> None:
    found = told(first, "relay unit", TypeTold)
    assert {rate.mode for rate in found.rates} == set(MODES["relay"])
    assert {r.mode: r.per_hour for r in found.rates}["dead"] == RATES["relay", "dead"].per_hour
    shown = text(explain(first, "relay unit"))
    assert "Placeholders, no evidence" in shown
    assert re.search(r"blanked 3e-06 10 placeholder", shown)


def test_a_figure_that_is_said_is_told() -> None:
    found = told(load("scenarios/river.yaml"), "scaling unit.ports", FigureTold)
    assert (found.kit, found.field, found.value) == ("scaling unit", "ports", "16")


def test_a_thing_has_its_power_its_neighbours_and_its_faults(first: Scenario) -> None:
    found = told(first, "panel/relay-main", ThingTold)
    assert found.powered_by == ("wall power",)
    assert found.takes_from == ("panel/trunk-main-1",)
    assert found.feeds == ("panel/port-main-1", "panel/port-main-2")
    (outcomes,) = found.outcomes
    assert {row.mode for row in outcomes.rows} == set(MODES["relay"])
    verdicts = {row.mode: row.verdict for row in outcomes.rows}
    assert (verdicts["dead"], verdicts["blanked"]) == ("blink", "lasting")
    assert {p.mode for p in outcomes.points} == {"blanked", "stuck", "corrupt"}


def test_a_thing_of_another_topology_is_found_there(first: Scenario) -> None:
    explanation = explain(first, "panel/unit-b")
    assert explanation.kind == "thing"
    assert [v.topology for v in explanation.variants] == ["two-unit"]


def test_a_route_and_a_circuit_tell_what_hangs_on_them(first: Scenario) -> None:
    route = told(first, "left hand", PlaceTold)
    assert route.things == ("panel/trunk-main-1",)
    assert route == told(first, "route left hand", PlaceTold)
    (outcomes,) = route.outcomes
    assert [(r.mode, r.verdict) for r in outcomes.rows] == [("cut", "blink")]
    circuit = explain(first, "desk power")
    assert circuit.kind == "circuit"
    assert isinstance(circuit.told, ThingTold)
    assert circuit.told.powers == ("player", "panel/unit-a")
    assert "runs through scaling unit A, which hangs on it" in text(circuit)


# ---- limits and words


def test_a_limit_has_its_verdict_and_what_breaks_it(first: Scenario) -> None:
    found = told(first, first.limits[0].label, LimitTold)
    ((group, variant, verdict),) = found.verdicts
    assert (group, variant.offered, verdict.verdict) == ("panel", True, "not met")
    assert "panel/unit-a dead" in {strike.name for strike in verdict.breakers}


@pytest.mark.parametrize("word", sorted(GLOSSARY))
def test_every_word_is_explained(first: Scenario, word: str) -> None:
    found = told(first, word, WordTold)
    assert found.meaning == GLOSSARY[word]
    assert found.meaning.endswith(".")


def test_every_state_verdict_and_mode_of_the_reports_is_a_word() -> None:
    modes = {mode for of in MODES.values() for mode in of}
    assert modes <= set(GLOSSARY)
    assert {"lasting", "blink", "unseen", "latent", "race", "grade", "frozen"} <= set(GLOSSARY)


def test_a_mode_says_what_it_strikes(first: Scenario) -> None:
    assert told(first, "tripped", WordTold).strikes == ("circuit",)
    assert told(first, "latent", WordTold).strikes == ()


# ---- names as reports print them


@pytest.mark.parametrize(
    ("item", "meant"),
    [
        ("scaling unit A", "panel/unit-a"),
        ("unit-a", "panel/unit-a"),
        ("relay-main: dead, flapping", "panel/relay-main"),
        ("trunk-main attenuated", "panel/trunk-main-1"),
        ("cable player to panel/unit-a", "player/to-panel/unit-a"),
        ("route desk cut", "route desk"),
        ("desk power tripped", "desk power"),
        ("panel/r1c1/receiver#screen", "panel/r1c1/receiver"),
        ("input of the receiving card of panel/r1c1", "panel/r1c1/receiver"),
        ("unit-b", "panel/unit-b"),
    ],
)
def test_names_that_reports_print_are_understood(first: Scenario, item: str, meant: str) -> None:
    found = explain(first, item, spoken)
    assert found.item == meant
    assert found.told == explain(first, meant).told
    assert found.variants == explain(first, meant).variants


@pytest.mark.parametrize("item", ["receiver", "head cable", "supply dead"])
def test_a_printed_name_that_may_mean_several_is_refused_with_some(
    first: Scenario, item: str
) -> None:
    with pytest.raises(InputError, match="may be any of"):
        explain(first, item, spoken)


def test_limits_are_counted_as_compare_counts_them(first: Scenario) -> None:
    assert explain(first, "limit 1").told == explain(first, first.limits[0].label).told
    for number in ("0", "2", "9999"):
        with pytest.raises(InputError, match="no such limit") as error:
            explain(first, f"limit {number}")
        assert error.value.problems[0].allowed == "limit 1 to limit 1"


# ---- nothing of that name, and reports


@pytest.mark.parametrize(
    ("item", "near"),
    [
        ("panel/relay-mian", "panel/relay-main"),
        ("receiving card.detekt", "receiving card.detect"),
        ("relay unti", "relay unit"),
        ("lef hand", "left hand"),
        ("desk powr", "desk power"),
        ("latnt", "latent"),
        ("Panel/Relay-Mian", "panel/relay-main"),
        ("panel/unit-bb", "panel/unit-b"),
    ],
)
def test_an_unknown_item_is_refused_with_the_nearest(first: Scenario, item: str, near: str) -> None:
    with pytest.raises(InputError) as error:
        explain(first, item)
    (problem,) = error.value.problems
    assert near in problem.nearest.split(", ")
    assert error.value.exit_status == 2


EVERY_KIND = (
    "relay unit.detect", "relay unit.notice", "relay unit", "panel/unit-a", "left hand",
    "desk power", "latent", "receiving card.keeps_last", "groups.panel.references",
    "sources.player.distributor_circuits",
)  # fmt: skip


@pytest.mark.parametrize("item", EVERY_KIND)
def test_every_format_tells_it_and_text_fits(first: Scenario, item: str) -> None:
    explanation = explain(first, item)
    for width in (80, 100):
        lines = explain_report.text(explanation, width).splitlines()
        assert max(map(len, lines)) <= width
        assert lines[0] == f"{item}: {explanation.kind}"
    made = json.loads(json.dumps(explain_report.document(explanation), allow_nan=False))
    assert (made["format"], made["item"]) == ("staylit-explain 1", item)
    assert made["kind"] == explanation.kind
    rows = list(csv.DictReader(io.StringIO(explain_report.csv(explanation))))
    assert rows
    assert {row["item"] for row in rows} == {item}
    assert explain_report.markdown(explanation).startswith("# ")
    assert "test the real backup before the show" in text(explanation)
