"""`staylit proof`: the sheet in all formats, a filled one read back, what a scenario makes of it.

In: sheets filled by hand, given to `sim.cli.run`. Out: files, messages, statuses.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
import yaml

from sim import cli
from sim.asked import rig_for
from sim.risk.hazards import hazards
from sim.scenario.loader import load, scenario_from
from sim.timebase import FLICKS

SCENARIOS = Path(__file__).parents[1] / "scenarios"
FIRST = (SCENARIOS / "first.yaml").read_text(encoding="utf-8")
KNOWN = "detect: {range: 2 frames, grade: claim, source: invented for this example}"
WIDE = 'detect: {range: "1..40 frames, typically 3 frames", grade: guess}'
HOURS = 3600 * FLICKS


@pytest.fixture
def show(tmp_path: Path) -> Path:
    path = tmp_path / "show.yaml"
    path.write_text(FIRST.replace(KNOWN, WIDE), encoding="utf-8")
    return path


def blank(show: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, str]]:
    """The rows of the sheet that the command prints."""
    assert cli.run(["proof", str(show), "--format", "csv"]) == 0
    return list(csv.DictReader(io.StringIO(capsys.readouterr().out)))


def written(path: Path, rows: list[dict[str, str]]) -> Path:
    out = io.StringIO()
    table = csv.DictWriter(out, list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    path.write_text(out.getvalue(), encoding="utf-8")
    return path


def plain(capsys: pytest.CaptureFixture[str]) -> str:
    """What was printed, wherever its lines end."""
    return " ".join(capsys.readouterr().out.split())


GOOD = {
    "worked": "yes", "pulled_frames": "12", "back_frames": "0", "camera_rate": "100",
    "by": "A. Body", "when": "3 h before",
}  # fmt: skip


def filled(show: Path, capsys: pytest.CaptureFixture[str], **said: str) -> Path:
    (row,) = blank(show, capsys)
    return written(show.parent / "sheet.csv", [{**row, **GOOD, **said}])


def test_the_sheet_has_blanks_and_all_that_is_expected(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = blank(show, capsys)
    assert row["do"] == "unplug"
    assert row["thing"] == "panel/trunk-main-1"
    assert row["tries"] == "return 4"
    assert (row["film"], row["state"]) == ("panel", "dark")
    # 1..40 frames of notice, half a frame to switch, less the one frame that the last picture is
    # kept: 0.5..39.5 frames of darkness touch 1..41.
    assert (row["pulled_least"], row["pulled_most"]) == ("1", "41")
    assert not any(row[column] for column in GOOD)


@pytest.mark.parametrize("form", ["text", "markdown", "json"])
def test_the_sheet_stands_in_every_format(
    form: str, show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["proof", str(show), "--format", form]) == 0
    text = capsys.readouterr().out
    assert "panel/trunk-main-1" in text
    assert "qualified people" in text
    assert "IEC 60825-2" in text
    if form == "json":
        made = json.loads(text)
        assert made["format"] == "staylit-proof 1"
        assert made["fewest"]["steps"] == made["fewest"]["bound"] == 1
    else:
        assert "Safe abort" in text
        assert "Flashing" in text
        assert "......" in text


@pytest.mark.parametrize("width", [80, 100])
def test_no_line_of_a_sheet_is_too_long(width: int, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["proof", "studio", "--width", str(width)]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= width


def test_counted_frames_narrow_the_timing_and_raise_its_grade(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet, out = filled(show, capsys), show.parent / "tests.yaml"
    assert (
        cli.run(["proof", str(show), "--read", str(sheet), "--output", str(out), "--width", "100"])
        == 0
    )
    assert "receiving card.detect" in plain(capsys)
    made = yaml.safe_load(out.read_text(encoding="utf-8"))
    timing = made["timings"]["receiving card.detect"]
    # 12 of 100 a second: more than 110 and less than 130 ms were shown, so 6 frames of 20 ms; it
    # was dark for more than 4 frames and at most 6, and noticed after half a frame more: 90 ms to
    # 130 ms.
    assert timing["range"] == "90.000 ms .. 130.000 ms, typically 110.000 ms"
    assert timing["grade"] == "measured"
    assert "sheet.csv" in timing["source"]
    (tested,) = made["tested"]
    assert tested["before"] == "10800 s"
    assert "panel/relay-backup" in tested["things"]
    assert "A. Body" in tested["evidence"]


def test_a_scenario_takes_the_file_in(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, out = filled(show, capsys), show.parent / "tests.yaml"
    before = load(show)
    assert cli.run(["proof", str(show), "--read", str(sheet), "--output", str(out)]) == 0
    show.write_text(f"{FIRST.replace(KNOWN, WIDE)}\nproof_files: tests.yaml\n", encoding="utf-8")
    after = load(show)
    old, new = (rig_for(s, s.offered["panel"]) for s in (before, after))
    timing = new.timings["receiving card.detect"]
    assert timing.grade == "measured"
    assert (timing.least, timing.most) == (90 * FLICKS // 1000, 130 * FLICKS // 1000)
    assert {k: t for k, t in new.timings.items() if k != "receiving card.detect"} == {
        k: t for k, t in old.timings.items() if k != "receiving card.detect"
    }
    # What was never tested counts 500 h, what was tested 3 h ago 3 h (rates are the same).
    dormant = "panel/relay-backup dead, never tested"
    masses = [
        {h.key: h.mass for h in hazards(rig, s.terms, s.length, lambda strike: True)}[dormant]
        for rig, s in ((old, before), (new, after))
    ]
    assert masses[1] / masses[0] == pytest.approx(3 / 500)


def test_a_measured_timing_is_no_assumption_any_more(tmp_path: Path) -> None:
    (tmp_path / "t.yaml").write_text(
        'format: 1\ntimings:\n  "relay unit.start": {range: 6..7 s, grade: measured}\n',
        encoding="utf-8",
    )
    show = tmp_path / "show.yaml"
    show.write_text(f"{FIRST}\nproof_files: [t.yaml]\n", encoding="utf-8")
    paths = [each.path for each in load(show).assumptions]
    assert "equipment.relay unit.timings.start" not in paths
    plain = [each.path for each in scenario_from(FIRST).assumptions]
    assert {*plain} - {*paths} == {"equipment.relay unit.timings.start"}


TWO_HOURS = 'tested: [{things: "*relay-backup*", before: 2 h, evidence: said so}]\n'


def _hidden_for(show: Path, text: str) -> float:
    """The chance that the backup relay lay dead, by what a scenario says of its tests."""
    show.write_text(text, encoding="utf-8")
    scenario = load(show)
    rig = rig_for(scenario, scenario.offered["panel"])
    found = hazards(rig, scenario.terms, scenario.length, lambda strike: True)
    return {h.key: h.mass for h in found}["panel/relay-backup dead, never tested"]


def test_a_backup_that_did_not_work_is_named_and_counts_as_never_tested(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever the scenario says of it: dormant for 500 h, not for 2."""
    sheet, out = filled(show, capsys, worked="no"), show.parent / "tests.yaml"
    assert cli.run(["proof", str(show), "--read", str(sheet), "--output", str(out)]) == 0
    report = plain(capsys)
    assert "did not bring the backup" in report
    assert "0 protections proved, 4 failed, 0 not tried" in report
    made = yaml.safe_load(out.read_text(encoding="utf-8"))
    (tested,) = made["tested"]
    assert made["timings"] == {} and tested["before"] == "never"
    assert "panel/relay-backup" in tested["things"] and "did not bring" in tested["evidence"]
    hidden = [
        _hidden_for(show, f"{FIRST.replace(KNOWN, WIDE)}\n{TWO_HOURS}{more}")
        for more in ("", "proof_files: tests.yaml\n")
    ]
    assert hidden[1] / hidden[0] == pytest.approx(500 / 2)


def test_frames_beyond_the_model_are_named_and_leave_the_range(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet, out = filled(show, capsys, pulled_frames="900"), show.parent / "tests.yaml"
    assert cli.run(["proof", str(show), "--read", str(sheet), "--output", str(out)]) == 0
    assert "disagrees with the model" in plain(capsys)
    assert yaml.safe_load(out.read_text(encoding="utf-8"))["timings"] == {}


@pytest.mark.parametrize("form", ["json", "csv", "markdown"])
def test_what_a_sheet_shows_stands_in_every_format(
    form: str, show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = filled(show, capsys)
    assert cli.run(["proof", str(show), "--read", str(sheet), "--format", form]) == 0
    text = capsys.readouterr().out
    assert "receiving card.detect" in text
    if form == "json":
        (better,) = json.loads(text)["proof"]["better"]
        assert better["after"]["grade"] == "measured"


def test_a_row_with_every_blank_empty_was_not_done(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = written(show.parent / "sheet.csv", blank(show, capsys))
    assert cli.run(["proof", str(show), "--read", str(sheet)]) == 0
    assert "No row of the sheet is filled in" in plain(capsys)


def test_a_date_needs_to_know_when_the_show_begins(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet, out = filled(show, capsys, when="2026-05-01 18:30"), show.parent / "tests.yaml"
    asked = ["proof", str(show), "--read", str(sheet), "--output", str(out)]
    assert cli.run(asked) == 2
    assert "--begins" in capsys.readouterr().err
    assert cli.run([*asked, "--begins", "2026-05-01 20:00"]) == 0
    made = yaml.safe_load(out.read_text(encoding="utf-8"))
    assert made["tested"][0]["before"] == "5400 s"


MISTAKES = {
    "worked": ("worked", "perhaps", "'perhaps' is neither", "yes, no"),
    "not worked": ("worked", "", "not filled in", "yes, no"),
    "frames": ("pulled_frames", "-3", "'-3' is no number of frames", "from 0 to"),
    "many frames": ("pulled_frames", "9999999", "no number of frames", "from 0 to"),
    "half frames": ("back_frames", "1.5", "no number of frames", "count them again"),
    "no rate": ("camera_rate", "", "frames without it", "tell no time"),
    "rate": ("camera_rate", "100 fps", "no camera rate", "without a unit"),
    "rate of none": ("camera_rate", "0", "no camera rate", "from 1 to"),
    "nobody": ("by", "", "nobody named", "who did the test"),
    "never": ("when", "", "not filled in", "how long before the show"),
    "some time": ("when", "after lunch", "no such time", "how long before the show"),
    "a day": ("when", "2026-05-01", "no time of the day", "add the time"),
    "a zone": ("when", "2026-05-01 18:30+02:00", "--begins", "date"),
    "a pull": ("thing", "panel/trunk-mian-1", "no pull of this rig", "nearest: unplug"),
    "a doing": ("do", "hit", "no pull of this rig", "print the sheet"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_in_a_sheet_is_told_with_its_line(
    name: str, show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    column, said, found, allowed = MISTAKES[name]
    sheet = filled(show, capsys, **{column: said})
    assert cli.run(["proof", str(show), "--read", str(sheet)]) == 2
    told = capsys.readouterr().err
    where = "thing" if column == "do" else column
    assert told.startswith(f"sheet.csv:2: {where}: ")
    assert found in told
    assert allowed in told
    assert "do: " in told
    assert len([line for line in told.splitlines() if line.startswith("sheet.csv")]) == 1


TABLES = {
    "empty": ("", "an empty table"),
    "a column": ("do,thing,worked,by,when,weather\n", "an unknown column 'weather'"),
    "none": ("do,thing,worked,by\n", "no column when"),
    "twice": ("do,thing,worked,by,by,when\n", "stands twice"),
    "cells": ("do,thing,worked,by,when\na,b,yes,c,d,e,f\n", "7 cells"),
    "quote": ('do,thing,worked,by,when\n"a\n', "not a table"),
}


@pytest.mark.parametrize("name", TABLES)
def test_a_table_that_is_no_sheet_is_refused(
    name: str, show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, found = TABLES[name]
    sheet = show.parent / "sheet.csv"
    sheet.write_text(text, encoding="utf-8")
    assert cli.run(["proof", str(show), "--read", str(sheet)]) == 2
    told = capsys.readouterr().err
    assert told.startswith("sheet.csv")
    assert found in told


def test_several_mistakes_are_told_together(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = filled(show, capsys, worked="", by="", when="")
    assert cli.run(["proof", str(show), "--read", str(sheet)]) == 2
    assert capsys.readouterr().err.count("sheet.csv:2") == 3


def test_frames_of_a_restart_are_counted_in_one_column(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text(
        "do,thing,worked,pulled_frames,back_frames,camera_rate,by,when\n"
        "restart,main/relay-main,yes,5,0,60,me,1 h\n",
        encoding="utf-8",
    )
    assert cli.run(["proof", "river", "--read", str(sheet)]) == 2
    assert "sheet.csv:2: back_frames" in capsys.readouterr().err


def test_nothing_is_written_over(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, out = filled(show, capsys), show.parent / "tests.yaml"
    asked = ["proof", str(show), "--read", str(sheet), "--output"]
    for target in (show, sheet):
        before = target.read_bytes()
        assert cli.run([*asked, str(target), "--force"]) == 2
        assert target.read_bytes() == before
    out.write_text("mine", encoding="utf-8")
    assert cli.run([*asked, str(out)]) == 2
    assert out.read_text(encoding="utf-8") == "mine"
    assert cli.run([*asked, str(out), "--force"]) == 0
    first = out.read_bytes()
    assert cli.run([*asked, str(out), "--force"]) == 0
    assert out.read_bytes() == first
    capsys.readouterr()


@pytest.mark.parametrize("option", [["--begins", "2026-05-01 20:00"], ["--force"]])
def test_options_of_reading_need_a_sheet(
    option: list[str], show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["proof", str(show), *option]) == 2
    assert "without --read" in capsys.readouterr().err


@pytest.mark.parametrize("said", ["tomorrow", "2026-05-01", "2026-05-01 20:00+01:00"])
def test_when_the_show_begins_is_a_local_date_and_time(
    said: str, show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = filled(show, capsys)
    assert cli.run(["proof", str(show), "--read", str(sheet), "--begins", said]) == 2
    assert capsys.readouterr().err.startswith("--begins")


FILES = {
    "format": ("format: 2\n", "t.yaml:1: format"),
    "owner": ('format: 1\ntimings: {"relay unti.detect": 1 s}\n', "nearest: relay unit"),
    "timing": ('format: 1\ntimings: {"relay unit.detcet": 1 s}\n', "nearest: detect"),
    "range": ('format: 1\ntimings: {"relay unit.detect": quick}\n', "t.yaml:2: timings"),
    "before": ("format: 1\ntested: [{things: a, before: soon}]\n", "t.yaml:2: tested"),
    "key": ("format: 1\nproofs: []\n", "unknown key proofs"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_mistake_in_the_file_is_told_with_its_line(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, found = FILES[name]
    (tmp_path / "t.yaml").write_text(text, encoding="utf-8")
    show = tmp_path / "show.yaml"
    show.write_text(f"{FIRST}\nproof_files: t.yaml\n", encoding="utf-8")
    assert cli.run(["check", str(show)]) == 2
    told = capsys.readouterr().err
    assert "t.yaml" in told
    assert found in told
