"""What reports say, and that every format says it so that its readers can use it.

In: studies of the scenarios that come with the program, and small values made by hand. Out: texts.
"""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.engine.signal import Note
from sim.limits.findings import decimal, grouped
from sim.report import blocks, lead, markdown, text, words
from sim.report.compare_report import compare_blocks
from sim.report.events import events
from sim.report.faults_report import faults_blocks
from sim.report.jsondoc import as_json, compare_document
from sim.report.rowtext import by_role, short, together
from sim.report.tables import as_csv, compare_csv, faults_csv
from sim.study.study import Comparison, VariantStudy, compare, rig_of
from tests.regenerate import _compared

SHIPPED = ("first", "studio", "river")


@cache
def _report(scenario: str) -> blocks.Blocks:
    found = _compared(scenario)
    return compare_blocks(found.groups, found.scenario)


@cache
def _offered(scenario: str) -> tuple[VariantStudy, ...]:
    return tuple(group.offered for group in _compared(scenario).groups)


# ---- numbers


@given(st.fractions(min_value=0, max_value=1))
def test_no_share_is_0_or_100_percent_unless_exact(part: Fraction) -> None:
    shown = words.share(part)
    assert (shown == "0 %") == (part == 0)
    assert (shown == "100 %") == (part == 1)


@given(st.fractions(min_value=Fraction(1, 1000), max_value=Fraction(999, 1000)))
def test_a_share_is_right_to_a_twentieth_of_a_percent(part: Fraction) -> None:
    shown = Fraction(words.share(part).removesuffix(" %"))
    assert abs(shown - 100 * part) <= Fraction(1, 20)


@pytest.mark.parametrize(
    ("part", "shown"),
    [
        (Fraction(0), "0 %"),
        (Fraction(1, 5000), "<0.1 %"),
        (Fraction(1, 3), "33.3 %"),
        (Fraction(1, 2), "50 %"),
        (Fraction(1, 16), "6.3 %"),
        (Fraction(3, 16), "18.8 %"),
        (Fraction(5, 16), "31.3 %"),
        (Fraction(4999, 5000), ">99.9 %"),
        (Fraction(1), "100 %"),
        (Fraction(2001, 2000), ">100 %"),
        (Fraction(1406, 100), "1 406 %"),
    ],
)
def test_shares_as_people_read_them(part: Fraction, shown: str) -> None:
    assert words.share(part) == shown


@given(st.floats(min_value=0, max_value=1e6))
def test_seconds_are_0_only_if_exactly_0(value: float) -> None:
    assert (words.seconds(value) == "0") == (value == 0)
    assert "e" not in words.seconds(value)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("player/to-panel/unit-a", "cable player to panel/unit-a"),
        ("graphics/loop-to-backdrop/unit-b/2",
         "loop-through cable graphics to backdrop/unit-b, link 2"),
        ("unit-a#layer film", "input of layer film of unit-a"),
        ("main/r1c1/receiver#screen", "input of the receiving card of main/r1c1"),
        ("power/head", "power feed cable"),
        ("main/chain-3/tail", "main/chain-3 tail cable"),
        ("main/chain-3/jumper-4>", "main/chain-3/jumper-4"),
        ("bad\x1bname", "bad\\x1bname"),
    ],
)  # fmt: skip
def test_names_in_plain_words(name: str, shown: str) -> None:
    assert words.plain(name) == shown


# ---- text


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("scenario", SHIPPED)
def test_every_line_of_a_comparison_fits(scenario: str, width: int) -> None:
    shown = text.as_text(_report(scenario), width)
    assert max(map(len, shown.splitlines())) <= width


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("scenario", SHIPPED)
def test_every_line_of_the_faults_fits(scenario: str, width: int) -> None:
    made = faults_blocks(_offered(scenario), _compared(scenario).scenario)
    assert max(map(len, text.as_text(made, width).splitlines())) <= width


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\r\n"), max_size=60)


@given(
    st.integers(1, 6).flatmap(
        lambda n: st.lists(st.lists(CELLS, min_size=n, max_size=n), min_size=1, max_size=5)
    ),
    st.integers(60, 120),
)
def test_any_table_fits_and_loses_no_letter(rows: list[list[str]], width: int) -> None:
    """Cells may be anything; wide and narrow signs count as one, as terminals mostly do not."""
    table = blocks.Table(tuple(rows[0]), tuple(map(tuple, rows[1:])))
    shown = text.as_text([table], width)
    assert max(map(len, shown.splitlines()), default=0) <= width
    given_letters = sorted(
        c for row in rows for cell in row for c in words.harmless(cell) if c != " "
    )
    seen = sorted(c for c in shown if c not in " \n")
    for letter in set(given_letters) - {"-"}:
        assert seen.count(letter) == given_letters.count(letter)


def test_columns_that_do_not_fit_are_dealt_out() -> None:
    table = blocks.Table(("p", *"abcdef"), (("x", *("y" * 20,) * 6),), least=22)
    parts = text.as_text([table], 80).strip().split("\n\n")
    assert [part.splitlines()[0].split() for part in parts] == [
        ["p", "a", "b", "c"], ["p", "d", "e", "f"],
    ]  # fmt: skip


# ---- Markdown


def _tables(shown: str) -> list[list[str]]:
    parts = [part.splitlines() for part in shown.split("\n\n")]
    return [lines for lines in parts if lines and lines[0].startswith("|")]


@pytest.mark.parametrize("scenario", SHIPPED)
def test_markdown_tables_have_the_same_number_of_cells_in_every_row(scenario: str) -> None:
    found = _tables(markdown.as_markdown(_report(scenario)))
    assert len(found) >= 2
    for lines in found:
        cells = {len(re.findall(r"(?<!\\)\|", line)) for line in lines}
        assert len(cells) == 1
        assert re.fullmatch(r"\|( -{3}:? \|)+", lines[1])


def test_names_mean_nothing_in_markdown() -> None:
    table = blocks.Table(("a|b",), (("<b>*x*_y_`z`[l](u)\n# h",),))
    shown = markdown.as_markdown([blocks.Heading("t_1"), blocks.Para("1. x"), table])
    assert r"a\|b" in shown
    assert r"\<b\>\*x\*\_y\_\`z\`\[l\](u)<br>\# h" in shown
    assert r"\1. x" not in shown.split("\n")[0]


# ---- JSON and CSV


@pytest.mark.parametrize("scenario", SHIPPED)
def test_json_says_its_format_and_holds_exact_fractions(scenario: str) -> None:
    found = _compared(scenario)
    data = json.loads(as_json(compare_document(found.groups, found.scenario)))
    assert data["format"] == "staylit-compare 1"
    study = found.groups[0].offered
    plain = data["groups"][0]["topologies"][0]
    assert [Fraction(row["lasting"][1]) for row in plain["faults"]] == [
        row.lasting[1] for row in study.rows
    ]
    assert plain["counts"]["lasting"] == sum(
        row["count"] for row in plain["faults"] if row["verdict"] == "lasting"
    )


def test_csv_has_one_head_row_and_every_row_of_faults() -> None:
    studies = _offered("first")
    rows = list(csv.DictReader(io.StringIO(faults_csv(studies))))
    assert len(rows) == len(studies[0].rows)
    for row, study in zip(rows, studies[0].rows, strict=True):
        assert row["name"] == study.name
        lasts = study.verdict == "lasting"
        assert row["frames_most"] == ("" if lasts else str(study.frames[1]))
        assert row["dark_frames_most"] == ("" if lasts else str(study.state_frames[0][1]))
        assert float(row["ever_most"]) == pytest.approx(float(study.ever[1]), abs=1e-12)
        assert row["where"].split("; ") == list(study.where)


def test_csv_of_a_comparison_has_a_line_for_each_topology() -> None:
    rows = list(csv.DictReader(io.StringIO(compare_csv(_compared("river").groups))))
    labels = [study.variant.label for group in _compared("river").groups for study in group.studies]
    assert [row["topology"] for row in rows] == labels
    unbuilt = [row for row in rows if row["can_be_built"] == "no"]
    assert all(row["reasons"] and not row["lasting"] for row in unbuilt)
    assert unbuilt


def test_a_text_that_looks_like_a_formula_is_none_in_csv() -> None:
    shown = as_csv(("a", "b"), [{"a": "=1+1", "b": -2}])
    assert shown == "a,b\n'=1+1,-2\n"


# ---- what the reports say


def test_the_lead_names_what_every_backup_hangs_on() -> None:
    first, _ = lead.lead(_compared("river").groups[0])
    assert "Every topology here still hangs on scaling unit A" in first
    assert "no backup notices, because a valid signal arrives" in first


def _without(study: VariantStudy, role: str) -> VariantStudy:
    return replace(study, rows=tuple(row for row in study.rows if row.role != role))


def test_the_lead_is_worked_out_from_the_rows_and_never_canned() -> None:
    found = _compared("first")
    studies = [_without(study, "unit-a") for study in found.groups[0].studies]
    studies = [_without(study, "player") for study in studies]
    less = compare(found.scenario, "panel", studies)
    assert "scaling unit A" in lead.lead(found.groups[0])[0]
    assert "scaling unit A" not in lead.lead(less)[0]
    assert "player" not in lead.lead(less)[0].replace("cable player", "")


def test_one_topology_without_the_weakness_takes_it_from_the_lead() -> None:
    found = _compared("first")
    studies = list(found.groups[0].studies)
    studies[-1] = _without(studies[-1], "unit-a")
    less = compare(found.scenario, "panel", studies)
    assert "hangs on player and scaling unit A" not in lead.lead(less)[0]


def test_what_cannot_be_built_stands_in_the_table_with_its_reason() -> None:
    shown = text.as_text(_report("river"))
    assert re.search(r"^\d  return-loop +cannot be built", shown, re.MULTILINE)
    assert re.search(r"- return-loop cannot be built: unit-a needs 32 ports", shown)


def test_every_topology_is_a_line_of_the_overview() -> None:
    for group in _compared("river").groups:
        table = next(b for b in _report("river") if isinstance(b, blocks.Table)
                     and len(b.rows) == len(group.studies))  # fmt: skip
        assert [row[1].removesuffix(" (offered)") for row in table.rows] == [
            study.variant.label for study in group.studies
        ]


@pytest.mark.parametrize("scenario", SHIPPED)
def test_the_cautions_stand_in_every_comparison(scenario: str) -> None:
    shown = " ".join(text.as_text(_report(scenario)).split())
    for part in ("test the real backup", "local codes", "IEC 60825-2", "placeholders"):
        assert part in shown


def test_flashing_is_warned_of_only_where_it_is() -> None:
    found = _compared("first")
    calm = text.as_text(_report("first"))
    study = found.groups[0].offered
    row = replace(study.rows[0], flashes=4)
    wild = replace(study, rows=(row, *study.rows[1:]))
    shown = text.as_text(faults_blocks([wild], found.scenario))
    assert "WARNING. Flashing" in shown
    assert "(flashes)" in shown
    assert "WARNING" not in calm


def test_a_race_says_that_the_span_is_no_bound() -> None:
    found = _compared("first")
    study = found.groups[0].offered
    row = replace(next(r for r in study.rows if r.verdict == "blink"), races=("a and b",))
    shown = " ".join(
        text.as_text(faults_blocks([replace(study, rows=(row,))], found.scenario)).split()
    )
    assert "(no bound)" in shown
    assert "Race: a and b;" in shown


def test_faults_with_a_valid_signal_are_listed_apart() -> None:
    found = _compared("first")
    shown = text.as_text(faults_blocks(_offered("first"), found.scenario))
    absent, valid = shown.split("Lasting: a valid signal arrives, so that no backup notices")
    assert "unit-a dead" in absent
    assert "unit-a blanked" not in absent
    assert "unit-a blanked" in valid


def test_like_rows_stand_together_with_all_their_modes() -> None:
    rows = [r for r in _offered("first")[0].rows if r.role == "relay-main" and r.mode != "restart"]
    made = together(rows, lambda row: (row.verdict,))
    assert sum(len(of) for _, of, _ in made) == len(rows)
    assert any(name == "relay-main: dead, flapping" for name, _, _ in made)
    assert by_role(rows[:1]) == [f"relay-main ({rows[0].mode})"]


def test_a_cell_says_class_share_and_state() -> None:
    rows = {row.name: row for row in _offered("first")[0].rows}
    assert short(rows["unit-a stuck"]) == "100 % F"
    assert short(rows["trunk-main cut"]) == "2..3 D\n1 F"
    assert short(replace(rows["trunk-main cut"], races=("a and b",))) == "2..3 D *\n1 F *"
    assert short(replace(rows["unit-a stuck"], races=("a and b",))) == "100 % F *"
    assert short(rows["trunk-backup cut"]) == "unseen"
    assert short(None) == "-"


def test_like_events_of_one_instant_are_one_line_with_a_count() -> None:
    found = _compared("first").scenario
    rig = rig_of(found, found.offered["panel"])[1]
    assert rig is not None
    names = [name for name in rig.nodes if name.endswith("receiver#screen")] or [
        f"panel/r{r}c{c}/receiver#screen" for r in (1, 2) for c in (1, 2)
    ]
    notes = [Note(5, name, "lost", "panel/chain-1/jumper-2>") for name in names]
    notes += [Note(6, names[0], "on", "panel/chain-1/jumper-2<")]
    made = events(rig, notes)
    assert [event.count for event in made] == [len(names), 1]
    assert made[0].text.startswith(f"{len(names)} x receiver lost the signal")
    assert made[1].text == "panel/r1c1/receiver took the return way: the changeover is done"


def test_a_comparison_of_nothing_that_can_be_built_says_so() -> None:
    found = _compared("river")
    out = [study for study in found.groups[0].studies if not study.can_be_built]
    nothing = Comparison("main", tuple(out), ({},) * len(out), (), (), 3)
    shown = text.as_text(compare_blocks([nothing], found.scenario))
    assert "None of these topologies can be built with this equipment." in shown


def test_a_reference_lost_without_holdover_is_one_event() -> None:
    found = _compared("first").scenario
    rig = rig_of(found, found.offered["panel"])[1]
    assert rig is not None
    lost = [Note(5, "panel/unit-a#sync", what, "") for what in ("holdover", "unlocked")]
    assert [e.text for e in events(rig, lost)] == [
        "sync of panel/unit-a lost its reference and began to drift"
    ]
    later = [lost[0], Note(9, "panel/unit-a#sync", "unlocked", "")]
    assert [e.at for e in events(rig, later)] == [5, 9]


def test_two_like_things_are_named() -> None:
    found = _compared("first").scenario
    rig = rig_of(found, found.offered["panel"])[1]
    assert rig is not None
    (event,) = events(rig, [Note(5, f"panel/r1c{n}/receiver", "down", "") for n in (1, 2)])
    assert event.text.startswith("2 x receiver (panel/r1c1/receiver, panel/r1c2/receiver) went")


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("main/relay-main#bank 2", "trunk input 2 of main/relay-main"),
        ("main/relay-main#bank 1 pair 2", "seamless pair 2 at trunk input 1 of main/relay-main"),
        ("receiver#screen", "input of the receiving card"),
        ("route unnamed route", "cables without a named route"),
    ],
)
def test_parts_of_things_in_words(name: str, shown: str) -> None:
    assert words.plain(name) == shown


def test_figures_have_no_false_decimals_and_their_units() -> None:
    assert decimal(Fraction(2)) == "2" and decimal(Fraction(5, 2)) == "2.5"
    assert decimal(Fraction(1, 10**6), 2) == "under 0.01" and decimal(Fraction(0), 2) == "0"
    assert grouped(1_280_000) == "1 280 000" and words.counted(1500, "pair") == "1 500 pairs"
    assert words.frames_words((1, 1)) == "1 frame" and words.frames_words((1, 2)) == "1..2 frames"
    assert words.wall_words("hall wall") == "hall wall" and words.wall_words("left") == "wall left"


def test_cells_break_after_dots_and_slashes_and_never_before_a_percent_sign() -> None:
    made = (
        blocks.Table(("place", "area"), (("equipment.relay unit.wait_to_restore", "all 33.3 %"),)),
    )
    lines = text.as_text(made, 60).splitlines()
    assert lines[-1] == "equipment.relay unit.wait_to_restore  all 33.3 %"
    narrow = blocks.Table(
        ("place", "area"), (("equipment.receiving_card.detect " * 3, "x " * 40 + "9 %"),)
    )
    shown = text.as_text((narrow,), 60)
    assert "receiving_card." in shown and "9 %" in shown
    assert not any(re.search(r"(^| {2})%", line) for line in shown.splitlines())
