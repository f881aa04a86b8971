"""That figures in reports stand under the state they belong to, and that the gravest is named.

In: studies of the scenarios that come with the program, and rows changed by hand. Out: texts.
"""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from fractions import Fraction

import pytest

from sim.limits.findings import decimal, half_up
from sim.report import lead, text, words
from sim.report.check_report import _not_judged
from sim.report.check_report import blocks as check_blocks
from sim.report.compare_details import details
from sim.report.compare_report import compare_blocks, money
from sim.report.faults_report import faults_blocks
from sim.report.jsondoc import as_json, compare_document
from sim.report.rowtext import by_state, frame_words, how_long, state_words
from sim.report.tables import compare_csv, faults_csv
from sim.rig.figures import fact
from sim.study.checkup import check
from sim.study.contingency import Laboratory, singles
from sim.study.effects import STATES
from sim.study.hangs import ties
from sim.study.ledger import over_phase
from sim.study.promises import LOSSES
from sim.study.rows import FaultRow
from sim.study.strikes import strikes
from sim.study.study import Comparison, VariantStudy, rig_of
from tests.regenerate import _compared

NONE = (Fraction(0), Fraction(0))
ALL = (Fraction(1), Fraction(1))


def main_of(scenario: str) -> Comparison:
    return _compared(scenario).groups[0]


def row_of(scenario: str, name: str) -> FaultRow:
    return next(row for row in main_of(scenario).offered.rows if row.name == name)


def shown(*groups: Comparison, scenario: str) -> str:
    """A comparison as text, on one line."""
    return " ".join(text.as_text(compare_blocks(groups, _compared(scenario).scenario)).split())


def lasting(row: FaultRow, name: str, state: str, rate: float = 0.0) -> FaultRow:
    """A row that leaves everything in one state for good."""
    parts = tuple(ALL if each == state else NONE for each in STATES)
    return replace(
        row, role=name, mode="dead", verdict="lasting", lasting=ALL, state_lasting=parts,
        states=(state,), suppliers=("us",), rate=rate,
    )  # fmt: skip


# ---- frames by state


def test_frames_in_each_state_against_the_ledger() -> None:
    """For each state the cell that is in it longest, whichever cell that is."""
    scenario = _compared("river").scenario
    rig = rig_of(scenario, scenario.offered["main"])[1]
    assert rig is not None
    laboratory = Laboratory(rig, "main")
    mixed = 0
    for strike in strikes(rig):
        if strike.mode in ("flapping", "drops") or not laboratory.concerns(strike):
            continue
        effect = laboratory.outcome(strike).typical
        counts = [over_phase(line, rig.frame).most for line, _ in effect.lines]
        most = [max((count[state] for count in counts), default=0) for state in range(5)]
        assert [effect.longest(state)[1] for state in range(5)] == most, strike.name
        mixed += sum(map(bool, most)) > 1
    assert mixed > 5, "some faults show more than one state in turn"


def test_unlocked_frames_are_never_said_to_be_dark() -> None:
    row = row_of("river", "house sync dead")
    dark, unlocked = row.state_frames[0], row.state_frames[4]
    assert dark[1] < 100 < unlocked[1]
    assert state_words(row) == f"dark 0..{dark[1]}, unlocked 0..{unlocked[1]}"
    assert frame_words(row).startswith(f"dark 0..{dark[1]} frames, unlocked")
    study = main_of("river").offered
    found = text.as_text(faults_blocks([study], _compared("river").scenario))
    assert not re.search(r"dark 0\.\.[67]\d\d", found)


def test_shares_by_state_add_up_to_what_is_not_lit_where_there_is_one_fault() -> None:
    row = row_of("river", "shore B tripped")
    assert sum(span[1] for span in row.state_lasting) == row.lasting[1]
    assert state_words(row) == "wrong 4.2 %, frozen 25 %"
    assert by_state([Fraction(0)] * 5) == "0 %"
    assert by_state([Fraction(1), *[Fraction(0)] * 4]) == "100 % dark"


def test_a_start_that_outlasts_the_show_is_not_said_to_last_for_ever() -> None:
    row = row_of("first", "player restart")
    assert row.verdict == "lasting" and row.pending
    assert how_long(row) == "may outlast the show"
    assert how_long(replace(row, pending=())) == "to the end"
    assert "player (restart that may outlast the show)" in shown(main_of("first"), scenario="first")


# ---- the gravest example


@pytest.mark.parametrize("rates", [(0.0, 1.0), (1.0, 0.0)])
def test_of_equal_areas_the_dark_one_is_the_example_whatever_its_rate(
    rates: tuple[float, float],
) -> None:
    base = row_of("first", "unit-a dead")
    rows = tuple(
        lasting(base, name, state, rate)
        for name, state, rate in zip(("a", "b"), ("unlocked", "dark"), rates, strict=True)
    )
    study = replace(main_of("first").offered, rows=rows)
    assert study.worst_lasting["us"].role == "b"
    flipped = replace(study, rows=rows[::-1])
    assert flipped.worst_lasting["us"].role == "b"


def test_latent_examples_name_their_state_and_the_gravest_comes_first() -> None:
    study = main_of("river").offered
    worst = study.worst_latent
    assert worst is not None and worst.together_states[0] == 1
    assert any(row.together_states[4] == 1 for row in study.latents), "one is unlocked only"
    found = shown(main_of("river"), scenario="river")
    assert "costs 100 % dark instead of" in found
    assert "costs 100 % instead of" not in found


def test_the_worst_blink_is_the_dark_one_and_not_the_longest() -> None:
    study = main_of("river").offered
    blinks = [row for row in study.rows if row.verdict == "blink"]
    longest = max(blinks, key=lambda row: row.frames[1])
    assert not longest.state_frames[0][1], "the longest is dark nowhere"
    assert study.worst_blink is not None and study.worst_blink.state_ever[0][1] == 1


# ---- what limits leave out


def test_limits_on_dead_or_cut_say_what_they_leave_out_and_name_the_gravest() -> None:
    found = shown(main_of("river"), scenario="river")
    assert "The limits speak of a single dead thing or cut cable only" in found
    assert "the gravest of these: pontoon A tripped (100 % dark, lasting)" in found
    out = main_of("river").offered.left_out
    assert out is not None and out.mode not in LOSSES


def test_nothing_of_the_kind_is_said_of_limits_on_every_fault_or_without_limits() -> None:
    for group, scenario in ((main_of("first"), "first"), (_compared("river").groups[1], "river")):
        assert not any(v.narrow for v in group.offered.verdicts)
        assert "and judge nothing else" not in shown(group, scenario=scenario)


def test_check_says_the_same_of_the_limits_it_judges() -> None:
    scenario = _compared("river").scenario
    main, banks = check(scenario).groups
    (said,) = _not_judged(main)
    assert said.startswith("The limits speak of a single dead thing or cut cable only")
    assert "pontoon A tripped (100 % dark, lasting)" in said
    assert not [*_not_judged(banks)]


def test_left_out_words_name_the_limits_meant() -> None:
    assert lead.left_out_words([1], 1).startswith("The limit speaks of")
    assert lead.left_out_words([2], 3).startswith("Limit 2 speaks of")
    assert lead.left_out_words([1, 3], 3).startswith("Limits 1 and 3 speak of")


# ---- placeholder rates


def with_dark(group: Comparison, *darks: float) -> Comparison:
    """The group with these dark times expected, in order."""
    pairs = zip(group.studies, darks, strict=True)
    studies = [replace(s, rows=(replace(s.rows[0], dark=dark, guessed=dark),)) for s, dark in pairs]
    return replace(group, studies=tuple(studies))


def test_dark_times_within_a_factor_of_one_and_a_half_are_about_alike() -> None:
    group = main_of("first")
    near = lead.lead(with_dark(group, 7.69, 7.7, 8.0, 9.0, 11.0))[1]
    assert "By placeholder failure rates, dark time is about alike in all of them" in near
    apart = lead.lead(with_dark(group, 7.69, 7.7, 8.0, 9.0, 30.0))[1]
    assert "relay-pair, single-feed, return-loop and two-unit (7.69 to 9.00" in apart
    assert "about alike), most with crossed-relays (30.0)" in apart
    alone = lead.lead(with_dark(group, 1.0, 7.7, 8.0, 9.0, 30.0))[1]
    assert "least dark time is to be expected with relay-pair (1.00 wall-seconds a show)" in alone


# ---- CSV and JSON


def numbers_of(table: str, names: str) -> list[str]:
    rows = list(csv.DictReader(io.StringIO(table)))
    return [value for row in rows for name, value in row.items() if re.search(names, name or "")]


def test_no_number_in_csv_looks_like_a_date() -> None:
    studies: list[VariantStudy] = [group.offered for group in _compared("river").groups]
    values = numbers_of(faults_csv(studies), "least|most|rate|^dark$")
    values += numbers_of(compare_csv(_compared("river").groups), "area|price|frames")
    assert len(values) > 1000
    for value in values:
        assert all(not part or float(part) >= 0 for part in value.split("; ")), value


def test_what_lasts_has_no_number_of_frames_in_csv_and_json() -> None:
    studies = [group.offered for group in _compared("river").groups]
    for row in csv.DictReader(io.StringIO(faults_csv(studies))):
        assert (row["frames_most"] == "") == (row["verdict"] == "lasting")
        assert (row["unlocked_frames_least"] == "") == (row["verdict"] == "lasting")
    data = json.loads(
        as_json(compare_document(_compared("first").groups, _compared("first").scenario))
    )
    for row in data["groups"][0]["topologies"][0]["faults"]:
        assert (row["frames"] is None) == (row["verdict"] == "lasting")
        assert (row["frames_by_state"] is None) == (row["verdict"] == "lasting")
    assert "null where a fault is lasting" in data["about"]["frames"]


# ---- the rest


def test_comparisons_mark_spans_that_a_race_leaves_open() -> None:
    group = main_of("river")
    assert row_of("river", "route north shore cut").races
    found = shown(group, scenario="river")
    assert re.search(r"5\.\.121 D \*", found)
    assert "*: no bound" in found


def test_extra_units_are_counted_against_the_smallest() -> None:
    found = shown(main_of("first"), scenario="first")
    assert re.search(r"2 single-feed smallest ", found)
    assert re.search(r"1 relay-pair \(offered\) \+6 ", found)
    assert "counted against the smallest, single-feed, which needs" in found


def test_what_a_second_unit_needs_of_the_sources_is_among_its_extra_units() -> None:
    group = main_of("river")
    labels = [study.variant.label for study in group.studies]
    extra = group.extras[labels.index("two-unit")]
    assert extra["distributor"] == 2, "results and the standby player feed two units then"
    assert extra["source cable"] > 0


def test_a_limit_says_how_many_faults_of_which_kinds_break_it() -> None:
    table = details(main_of("first"))
    cells = next(row for row in table.rows if row[0] == "limits")
    assert cells[1] == (
        "limit 1 not met: 14 faults (of desk power, wall power and 5 more kinds of thing) break it"
    )
    assert re.search(r"kinds of thing\) break it; 6 more faults may break it", cells[-1])


def test_check_counts_by_severity_and_names_no_empty_kind() -> None:
    found = " ".join(text.as_text(check_blocks(check(_compared("first").scenario))).split())
    head = found.split("Findings, the gravest first")[0]
    assert "findings: 1 serious and 2 notes" in head
    assert "0 warnings" not in head


def test_a_race_is_one_line_whether_a_circuit_or_a_unit_brings_it_about() -> None:
    scenario = _compared("river").scenario
    rig = rig_of(scenario, scenario.offered["main"])[1]
    assert rig is not None
    laboratory = Laboratory(rig, "main")
    found = ties(singles(laboratory, strikes(rig)), "main")
    assert len({(tie.restores, tie.waits) for tie in found}) == len(found)
    assert not any("main" in tie.before.split("/") for tie in found)


def test_halves_are_rounded_up_everywhere() -> None:
    assert [half_up(Fraction(n, 2)) for n in (-3, -1, 0, 1, 3, 5)] == [-2, -1, 0, 1, 2, 3]
    assert decimal(Fraction(1, 8), 2) == "0.13" and decimal(Fraction(-1, 8), 2) == "-0.13"
    assert decimal(Fraction(1, 3), 2) == "0.33" and decimal(Fraction(3), 2) == "3"
    assert money(Fraction(5, 2)) == "+3" and money(Fraction(-5, 2)) == "-3"


def test_figures_have_their_units_in_the_right_number() -> None:
    shown = [
        str(fact(least, most, unit, ""))
        for least, most, unit in (
            ("100", "100", "us"), ("1", "1", "us"), ("1", "1", "frame"), ("0", "1", "frame"),
            ("8", "8", "port"), ("4", "4", "trunk"), ("1.2", "1.2", "km"), ("1.4682", "1.4682", ""),
        )
    ]  # fmt: skip
    assert shown == [
        "100 µs", "1 µs", "1 frame", "0..1 frames", "8 ports", "4 trunks", "1.2 km", "1.4682",
    ]  # fmt: skip


def test_a_circuit_that_is_a_letter_is_told_as_one() -> None:
    assert words.struck_words("A", "tripped") == "circuit A"
    assert words.struck_words("pontoon A", "tripped") == "pontoon A"
    assert words.struck_words("unit-a", "dead", True) == "scaling unit A"


def test_states_that_do_not_come_together_are_not_added_up() -> None:
    base = row_of("first", "unit-a dead")
    half = (Fraction(0), Fraction(1, 2))
    wild = replace(
        lasting(base, "a", "dark"), lasting=half, state_lasting=(NONE, NONE, half, half, NONE)
    )
    calm = replace(
        lasting(base, "b", "dark"), lasting=half, state_lasting=(half, NONE, NONE, NONE, NONE)
    )
    study = replace(main_of("first").offered, rows=(wild, calm))
    assert study.worst_lasting["us"].role == "b"


@pytest.mark.parametrize("width", [70, 80, 100])
def test_no_figure_is_broken_over_two_lines(width: int) -> None:
    for scenario in ("studio", "river"):
        study = main_of(scenario).offered
        made = text.as_text(faults_blocks([study], _compared(scenario).scenario), width)
        assert not re.search(r"(^|\s)\.?\.\d|\d\.+(\s{2}|$)", made, re.MULTILINE), scenario


def test_large_numbers_stand_in_groups_of_three() -> None:
    assert words.seconds(262_144.0) == "262 000" and words.seconds(999.0) == "999"
