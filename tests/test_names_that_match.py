"""Names and patterns that match nothing, repeats, circles and files that nobody can read to the end.

In: the good file of the mistakes, with single changes. Out: one message with line, path, value,
what is allowed and what to do; or the same messages after a trip through another process.
"""

# ruff: noqa: E501 - one mistake, one line
from __future__ import annotations

import os
import pickle
import time
import unicodedata
from pathlib import Path

import pytest

from sim.bounds import MOST_PROBLEMS
from sim.errors import InputError, Problem, nearest_name, refuse
from sim.scenario.loader import load, scenario_from
from sim.scenario.plan import plan_of
from sim.scenario.starter import MARK, new_file
from sim.study.study import rig_of
from tests.test_mistakes import BASE, Row, has_its_message, problems

GROUP = "    references: house\n"
ODD = '[{topology: odd, form: {units: [u], relays: {a: [u]}, heads: {"*": a}}}]'
AGAINST = "[single-feed, mirrored-guarded]"


def said(line: str) -> str:
    """One more line of the group."""
    return f"{GROUP}    {line}\n"


def odd(old: str, new: str) -> str:
    """A topology written out, with one change."""
    assert ODD.count(old) == 1
    return ODD.replace(old, new)


# fmt: off
ROWS = [
    Row(GROUP, said("own_kits: {left/relay-main: big unit}"), "own_kits", "groups.sides.own_kits.left/relay-main", "'big unit' is a processor, and 'left/relay-main' is a relay", "a relay", "", "name a type"),
    Row(GROUP, said('own_kits: {"*-main*": relay unit}'), "own_kits", "groups.sides.own_kits.*-main*", "'relay unit' is a relay, and 'left/trunk-main-1' is a trunk", "a fibre", "", "a narrower pattern"),
    Row(GROUP, said("own_kits: {left/relay-mian: relay unit}"), "own_kits", "groups.sides.own_kits.left/relay-mian", "'left/relay-mian' matches nothing of this rig", "left/relay-main", "left/relay-main", "correct the name"),
    Row(GROUP, said("suppliers: {unit-c: us}"), "suppliers", "groups.sides.suppliers.unit-c", "'unit-c' matches nothing of this rig", "unit-a", "unit-b", "correct the name"),
    Row(GROUP, said('places: {"rleay*": desk}'), "rleay", "groups.sides.places.rleay*", "'rleay*' matches nothing of this rig", "unit-a", "relay-main", "correct the name"),
    Row("heads: edge}", "heads: edge, special: {left/trunk-mian-1: edge}}", "special", "groups.sides.cables.special.left/trunk-mian-1", "'left/trunk-mian-1' matches nothing of this rig", "left/trunk-main-1", "left/trunk-main-1", "correct the name"),
    Row("run: edge, second", "run: edge, runs: {sides/unit-d: north}, second", "runs:", "sources.camera.runs.sides/unit-d", "'sides/unit-d' matches nothing of this rig", "sides/unit-a", "sides/unit-a", "correct the name"),
    Row("timings: {sides/unit-a", "timings: {sides/unit-d", "unit-d", "timings.sides/unit-d", "'sides/unit-d' is no thing of this rig", "sides/unit-a", "sides/unit-a", "correct the name"),
    Row("timings: {sides/unit-a", "timings: {sides/left/relay-main: {keeps_last: 1 s}, sides/unit-a", "keeps_last", "timings.sides/left/relay-main.keeps_last", "'sides/left/relay-main' is a relay and has no keeps_last here", "detect", "", "delete it"),
    Row("timings: {sides/unit-a", "timings: {A: {start: 1 s}, sides/unit-a", "timings: {A", "timings.A.start", "'A' is a circuit or control link and has no start here", "nothing", "", "delete it"),
    Row(AGAINST, odd('{"*": a}', '{"*": a}, backup_side: [b]'), "backup_side", "groups.sides.against[1].form.backup_side", "'b' is no relay of this form", "a", "", "name one of them"),
    Row(AGAINST, odd('{"*": a}', '{"*": a, chian-1: u}'), "chian", "groups.sides.against[1].form.heads.chian-1", "'chian-1' matches nothing of this rig", "left/chain-1", "left/chain-1", "correct the name"),
    Row(AGAINST, odd("{a: [u]}", "{a: [b], b: [a]}"), "odd", "groups.sides.against[1].form.relays.a", "'b' does not stand above 'a'", "u", "", "no relay feeds itself"),
    Row(AGAINST, odd("{a: [u]}", "{a: [a, u]}"), "odd", "groups.sides.against[1].form.relays.a", "'a' does not stand above 'a'", "u", "", "no relay feeds itself"),
    Row(AGAINST, odd("{a: [u]}", "{a: []}"), "odd", "groups.sides.against[1].form.relays.a", "'a' is fed by nothing", "relays above it", "", "write who feeds it"),
    Row(AGAINST, odd("{a: [u]}", '{a: [u], "b#c": [a]}'), "odd", "groups.sides.against[1].form.relays.b#c", "'b#c' cannot be a name", "letters, digits", "", "choose another name"),
    Row(AGAINST, odd("{a: [u]}", "{a: [u], u: [a]}"), "odd", "groups.sides.against[1].form.relays.u", "'u' is also a unit of this form", "each name once", "", "rename one"),
    Row(AGAINST, odd("{a: [u]}", "{a: [u], port-a-1: [a]}"), "odd", "groups.sides.against[1].form.relays.port-a-1", "'port-a-1' begins as the names of ports and trunks do", "do not begin with", "", "choose another name"),
    Row(AGAINST, odd("{a: [u]}", '{a: [u], "{wall}/b": [a], c: ["{wall}/b"]}'), "odd", "groups.sides.against[1].form.relays.c", "'{wall}/b' is a relay of each wall, and cannot feed another relay", "u, a", "", "name a unit"),
    Row("circuits: [A, B], links", "circuits: [A, A], links", "links", "sources.player.circuits", "'A' a second time", "each name once", "", "delete one"),
    Row("B: {from: A, hold_up", "B: {from: [A, A], hold_up", "hold_up", "circuits.B.from", "'A' a second time", "each name once", "", "delete one"),
    Row("references: house", "references: [house, house]", "[house, house]", "groups.sides.references", "'house' a second time", "each name once", "", "delete one"),
    Row("from: player, on_loss", "from: [player, player], on_loss", "[player", "groups.sides.layers.full.from", "'player' a second time", "each source once", "", "delete one"),
    Row("from: player, on_loss", "from: [player, {source: player}], on_loss", "[player", "groups.sides.layers.full.from[2]", "link 1 of player a second time", "each link once", "", "delete one"),
    Row("ports: 24", "ports: 24, picks: {locked_on: 2}", "locked_on", "equipment.big unit.picks.locked_on", "locked_on without restore: locked (it is by-hand)", "restore: locked", "", "delete locked_on"),
    Row("    price: 4000 EUR", "    like: relay unit\n    price: 4000 EUR", "like: relay", "equipment.scaling unit.like", "'scaling unit' is a processor, and 'relay unit' is a relay", "line-latency unit", "", "a name of its own"),
    Row("ports: 24", "ports: 24, timings: {keeps_last: 1 s}", "keeps_last", "equipment.big unit.timings.keeps_last", "a processor has no keeps_last", "detect", "", "delete it"),
    Row("like: scaling unit", "like: Scaling Unit", "Scaling", "equipment.big unit.like", "'Scaling Unit' is not an equipment type", "scaling unit", "scaling unit", "correct the name"),
    Row("rate: 50\n", "rate: 50 Hz\n", "50 Hz", "show.rate", "'50 Hz' has the unit 'Hz'; a frame rate stands without one", "59.94", "", "write 50 alone"),
    Row("rate: 50\n", "rate: \u0665\u0660\n", "\u0665", "show.rate", "'\u0665\u0660' is not a frame rate", "59.94", "", "write"),
    Row("ports: 24", "ports: \u0662\u0664", "\u0662", "equipment.big unit.ports", "'\u0662\u0664' is not a whole number", "a whole number", "", "write a whole number"),
    Row('at: "100, 0"', 'at: "-100, 0"', "-100", "groups.sides.layers.inset.at", "'-100, 0' is negative", "as 480, 0", "", "from 0 up"),
    Row("cabinets: r1c1..r2c2", "cabinets: r2c2..r1c1", "r2c2..r1", "regions.corner.cabinets", "'r2c2..r1c1' runs backwards", "top left", "", "top left cabinet first"),
    Row("run: edge}}", "run: -5 m}}", "-5 m", "controls.desk line.run", "'-5 m' is negative", "a number and a unit", "", "write"),
    Row("title: Test rig", 'title: "\\UFFFFFFFF"', "UFFFF", "", "\\UFFFFFFFF, which is no character", "U0010FFFF", "", "correct"),
    Row("[r3c1..r3c4]", "[r3c1..r3c4, r1c1..r1c9999, r1c1..r1c9999]", "9999", "walls.right.chains", "more than 24 cabinets, twice what the wall has", "exactly one chain", "", "name each cabinet once"),
]
# fmt: on


def test_the_odd_topology_without_a_mistake_loads() -> None:
    assert len(scenario_from(BASE.replace(AGAINST, ODD)).variants("sides")) == 2


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.path or 'file'}: {row.found}"[:70])
def test_a_mistake_has_its_one_message(row: Row) -> None:
    has_its_message(row)


def test_what_exists_under_any_topology_may_be_named() -> None:
    """`mirrored-guarded` alone has backup relays; the one offered has none."""
    text = BASE.replace(GROUP, said("own_kits: {left/relay-backup: relay unit}"))
    text = text.replace(
        "timings: {sides", "timings: {sides/left/trunk-backup-1: {start: 1 s}, sides"
    )
    assert scenario_from(text).groups == ("sides",)
    (first, second) = problems(text.replace(AGAINST, "[single-feed]"))
    assert "left/relay-backup" in first.found
    assert "trunk-backup-1" in second.found


SHARED = """\
  more: {walls: other, layers: {full: {from: player}}, cables: {trunk_main: north}, offered: single-feed, shared: {LOCAL}}
limits:
"""


@pytest.mark.parametrize(
    ("local", "found"),
    [
        ("unit-d: sides/unit-a", "'unit-d' is no unit or relay of group more"),
        ("relay-main: sides/unit-a", "'relay-main' is a relay, and 'sides/unit-a' is a unit"),
        ("unit-a: more/unit-a", "'more/unit-a' is no unit or relay of another group"),
    ],
)
def test_what_is_shared_is_there_on_both_sides(local: str, found: str) -> None:
    text = BASE.replace("limits:\n", SHARED.replace("LOCAL", local))
    wall = "  other: {grid: 4 x 3, pixels: 100 x 100 px, chains: by column}\nregions:\n"
    (problem,) = problems(text.replace("regions:\n", wall))
    assert problem.found == found
    assert ": groups.more.shared." in problem.where


def test_two_groups_cannot_share_with_each_other() -> None:
    text = BASE.replace("limits:\n", SHARED.replace("LOCAL", "unit-a: sides/unit-a"))
    wall = "  other: {grid: 4 x 3, pixels: 100 x 100 px, chains: by column}\nregions:\n"
    text = text.replace("regions:\n", wall).replace(GROUP, said("shared: {unit-a: more/unit-a}"))
    found = problems(text)
    assert [problem.found for problem in found] == [
        "'more/unit-a' is itself shared, with 'sides/unit-a'",
        "'sides/unit-a' is itself shared, with 'more/unit-a'",
    ]


# Every group must be such that it can be built

TWO = """\
show: {title: Two, rate: 50, length: 2 h}
circuits: [A]
routes: {north: 300 m}
walls:
  one: {grid: 2 x 2, pixels: 100 x 100 px, chains: by column}
  wide: {grid: 20 x 1, pixels: 100 x 100 px, chains: by column}
groups:
  one: {cables: {trunk_main: north}, offered: single-feed, against: [relay-pair]}
  wide: {cables: {trunk_main: north}, offered: single-feed, against: [relay-pair]}
"""


def test_a_group_that_cannot_be_built_is_named_whichever_is_varied() -> None:
    scenario = scenario_from(TWO)
    for variant in scenario.variants("one"):
        _, rig, reasons = rig_of(scenario, variant)
        assert rig is None
        assert reasons and all(r.startswith("group wide with single-feed: ") for r in reasons)
        assert "20 ports and has 16" in " ".join(reasons)
    reasons = rig_of(scenario, scenario.offered["wide"])[2]
    assert reasons and not any(reason.startswith("group") for reason in reasons)


# Errors on their way


def test_an_input_error_survives_the_way_from_another_process() -> None:
    error = InputError([Problem("a:1", "x", "y", "z", "do"), Problem("a:2", "w")])
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is InputError
    assert back.problems == error.problems
    assert str(back) == str(error)


def test_a_message_shows_control_characters_written_out() -> None:
    assert str(refuse("a\nb", "c\x1b[31m")) == "a\\nb: c\\x1b[31m"
    with pytest.raises(InputError) as caught:
        scenario_from(BASE.replace("title: Test rig", 'title: a\n  "ti\\ntle": b'), "rig.yaml")
    assert "show.ti\\ntle: unknown key ti\\ntle" in str(caught.value)


def test_the_nearest_name_ignores_case_and_gives_up_on_absurd_texts() -> None:
    assert nearest_name("NORTH", ["north", "south"]) == "north"
    assert nearest_name("wall A", ["Wall a", "other"]) == "Wall a"
    assert nearest_name("n" * 5000, ["north"]) == ""


def test_letters_with_marks_are_one_name_however_they_are_written() -> None:
    parted = unicodedata.normalize("NFD", "se\u00f1al")
    assert parted != "se\u00f1al"
    text = BASE.replace("  north: 300 m", "  se\u00f1al: 300 m").replace(
        "trunk_main: north", f"trunk_main: {parted}"
    )
    assert plan_of(scenario_from(text)).groups[0].cabling.trunk_main.routes == ("se\u00f1al",)


def test_of_very_many_problems_the_first_are_told_and_the_others_counted() -> None:
    text = BASE + "".join(f"zz{n}: 1\n" for n in range(5000))
    begin = time.process_time()
    found = problems(text)
    assert time.process_time() - begin < 5
    assert len(found) == MOST_PROBLEMS + 1
    assert found[0].found == "unknown key zz0"
    assert found[-1].found == f"at least {5000 - MOST_PROBLEMS} more problems"


def test_a_long_list_of_circuits_is_read_in_good_time() -> None:
    names = ", ".join(f"c{n}" for n in range(15_000))
    old = "circuits:\n  A: {supplier: venue}\n  B: {from: A, hold_up: 5..10 min}\n"
    assert BASE.count(old) == 1
    begin = time.process_time()
    assert (
        len(scenario_from(BASE.replace(old, f"circuits: [A, B, {names}]\n")).file.circuits)
        == 15_002
    )
    assert time.process_time() - begin < 5


# Files that are none


def test_a_pipe_that_nobody_writes_to_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "rig.yaml"
    os.mkfifo(path)
    with pytest.raises(InputError, match="a pipe or a device"):
        load(path)


def test_what_the_shell_hands_over_is_read() -> None:
    end, begin = os.pipe()
    os.write(begin, BASE.encode())
    os.close(begin)
    try:
        assert load(f"/dev/fd/{end}").title == "Test rig"
    finally:
        os.close(end)


@pytest.mark.parametrize("content", ["---\n", "--- \n...\n", '""\n'])
def test_a_file_with_nothing_but_marks_is_empty(content: str) -> None:
    (problem,) = problems(content)
    assert problem.found == "the file is empty"


# What is not said is taken the unfavourable way


def test_heads_without_a_way_lie_with_the_tails() -> None:
    text = BASE.replace("    mirrored: yes\n", "    mirrored: yes\n").replace(
        "heads: edge", "tails: edge"
    )
    scenario = scenario_from(text)
    cabling = plan_of(scenario).groups[0].cabling
    assert cabling.head == cabling.tail
    assert cabling.head.routes == ("edge",)
    (told,) = (a for a in scenario.assumptions if a.path == "groups.sides.cables.heads")
    assert told.value == "edge"
    assert told.what.endswith("that of the cables to the tails")


def test_a_length_of_jumpers_counts_and_is_on_no_route() -> None:
    text = BASE.replace("heads: edge", "heads: edge, jumpers: 2 m")
    jumper = plan_of(scenario_from(text)).groups[0].cabling.jumper
    assert (jumper.length, jumper.routes) == (2, ())


def test_an_own_run_does_not_hide_that_the_others_have_none() -> None:
    text = BASE.replace(
        "kit: camera, circuits: A, run: edge",
        "kit: camera, circuits: A, runs: {sides/unit-a: edge}",
    )
    paths = [a.path for a in scenario_from(text).assumptions]
    assert "sources.camera.run" in paths
    paths = [
        a.path for a in scenario_from(text.replace("sides/unit-a: edge", '"*": edge')).assumptions
    ]
    assert "sources.camera.run" not in paths


# The starter file marks what nobody said


def test_a_starter_file_marks_every_figure_that_nobody_gave() -> None:
    def marked(**known: str) -> list[str]:
        lines = [line for line in new_file(9, 16, **known).splitlines() if MARK in line]
        return [line.split(":")[0].strip() for line in lines]

    edges = ["left edge", "right edge"]
    assert marked()[:-1] == ["show", "pixels", "main way", "other way", *edges]
    assert marked(rate="50", length="3 h")[:-1] == ["pixels", "main way", "other way", *edges]
    assert marked(pixels="1 x 1 px", distance="1 km")[:-1] == ["show", *edges]
    assert marked()[-1] == "# CHANGE THIS"
