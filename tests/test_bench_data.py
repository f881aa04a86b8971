"""The JSON of the break bench: equal parts once, and all of it as the engine had it.

In: replays of `first`, any texts and numbers. Out: against what the replays say, put together
again by plain code.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from sim.report.bench_data import Shown, bench_document
from sim.report.bench_tables import Once, runs, template
from sim.report.events import events
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario
from sim.shipped import find
from sim.study.study import rig_of
from sim.study.watching import Watched, watch


@cache
def made() -> tuple[Scenario, list[Shown], dict[str, Any]]:
    scenario = load(find("first"))
    found = [watch(scenario, variant) for variant in scenario.variants("panel")]
    shown = [Shown(w.variant, rig(scenario, w), w.replays) for w in found if w.replays]
    return scenario, shown, json.loads(json.dumps(bench_document(scenario, shown)))


def rig(scenario: Scenario, found: Watched) -> Any:
    return rig_of(scenario, found.variant)[1]


def spread(pairs: list[int]) -> list[int]:
    """The numbers of runs."""
    return [n for a, b in zip(pairs[::2], pairs[1::2], strict=True) for n in range(a, b + 1)]


def test_every_fault_put_together_again_is_what_the_engine_said():
    _, shown, document = made()
    assert len(document["topologies"]) == len(shown) == 5
    for topology, of in zip(document["topologies"], shown, strict=True):
        assert len(topology["faults"]) == len(of.replays.replays) > 100
        for fault, replay in zip(topology["faults"], of.replays.replays, strict=True):
            outcome = topology["outcomes"][fault[5]]
            sets = [spread(topology["sets"][n]) for n in topology["parts"][fault[4]]]
            courses = [topology["courses"][n] for n in outcome["courses"]]
            again = {
                (tuple(zip(c[::2], c[1::2], strict=True)), tuple(s))
                for c, s in zip(courses, sets, strict=True)
            }
            assert again == set(replay.courses)
            assert (outcome["verdict"], outcome["end"]) == (replay.verdict, replay.end)
            assert topology["played"][fault[7]] == [[p, [*f]] for p, f in replay.played]
            assert topology["counts"][fault[6]] == [
                [t.target, t.least and [*t.least], t.most and [*t.most], *t.stays]
                for t in replay.tallies
            ]
            assert f"{topology['names'][fault[0]]} {topology['modes'][fault[1]]}" in (
                replay.strike.name
            )


def test_events_read_as_in_the_other_reports():
    _, shown, document = made()
    for topology, of in zip(document["topologies"], shown, strict=True):
        for fault, replay in zip(topology["faults"], of.replays.replays, strict=True):
            names = [topology["names"][n] for n in fault[9]]
            told = topology["outcomes"][fault[5]]["events"]
            texts = [
                "".join(p if isinstance(p, str) else names[p] for p in topology["templates"][t])
                for _, _, _, t in told
            ]
            expected = events(of.rig, replay.notes)
            assert texts == [event.text for event in expected]
            assert [frame for frame, *_ in told] == [e.at // of.rig.frame for e in expected]


def test_targets_and_cabinets_speak_of_what_is_there():
    _, shown, document = made()
    group = document["groups"][0]
    everything = set(range(len(group["spots"])))
    for target in group["targets"]:
        assert set(spread(target["spots"])) <= everything
    assert set(spread(group["targets"][0]["spots"])) == everything
    for topology, of in zip(document["topologies"], shown, strict=True):
        for number, (_, _, _, cabinet) in enumerate(group["spots"]):
            patch = of.replays.spots[number]
            near = {topology["names"][n] for n in topology["cabinets"][cabinet]}
            assert {of.rig.nodes[c].thing for c in of.rig.cabinets[patch.cabinet].cards} <= near
            assert all(name in of.rig.things for name in near)


def test_equal_parts_stand_once():
    _, _, document = made()
    for topology in document["topologies"]:
        for table in ("names", "words", "modes", "sets", "parts", "courses", "templates", "counts"):
            texts = [json.dumps(value) for value in topology[table]]
            assert len(texts) == len(set(texts))


@given(st.lists(st.integers(0, 60), unique=True).map(sorted))
def test_runs_hold_the_same_numbers(numbers):
    made = runs(numbers)
    assert spread(made) == numbers
    assert all(made[n] + 1 < made[n + 1] for n in range(1, len(made) - 1, 2))


NAMES = st.lists(st.text("ab/1 {}", min_size=1, max_size=5), unique=True, max_size=4)


@given(NAMES, st.lists(st.text("ab/1 {}xy", max_size=6), max_size=5))
def test_a_template_filled_is_the_sentence(names, pieces):
    text = "".join(p + n for p, n in zip(pieces, [*names, *[""] * 5], strict=False))
    parts = template(text, sorted(names, key=len, reverse=True), names)
    assert "".join(p if isinstance(p, str) else names[p] for p in parts) == text
    assert all(n not in p for p in parts if isinstance(p, str) for n in names)


def test_a_value_is_numbered_when_it_is_first_met():
    once = Once[str]()
    assert [once.of(text) for text in "abacb"] == [0, 1, 0, 2, 1]
    assert once.values == ["a", "b", "c"]
