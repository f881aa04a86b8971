"""The command line: what it answers, with which exit status, and what it never does.

In: arguments, given to `sim.cli.run` or to a process of its own. Out: standard output, standard
error, a status.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import resource
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import click
import pytest

from sim import asked, cli, commands
from sim.scenario.loader import load
from sim.scenario.starter import new_file
from sim.study.promises import MET, NOT
from sim.study.study import study

ROOT = Path(__file__).parents[1]
FIRST = ROOT / "scenarios" / "first.yaml"
WIDE = ("--width", "100")


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """The scenario `first` with a limit that its offered topology meets."""
    text = FIRST.read_text(encoding="utf-8")
    path = tmp_path / "kept.yaml"
    path.write_text(re.sub(r"over: \d+ %", "over: 100 %", text), encoding="utf-8")
    return path


def staylit(*args: str, env: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "sim", *args],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), **(env or {})},
        capture_output=True,
        text=True,
        check=False,
    )


# ---- statuses


def test_a_limit_that_is_not_met_is_status_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["compare", "first"]) == 1
    assert "1 not met" in capsys.readouterr().out
    assert cli.run(["faults", "first"]) == 1
    assert cli.run(["check", "first"]) == 1


def test_limits_that_are_met_are_status_0(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["compare", str(kept)]) == 0
    assert "meets the one stated limit" in capsys.readouterr().out
    assert cli.run(["faults", str(kept)]) == 0
    assert cli.run(["check", str(kept)]) == 0


def test_only_the_topology_offered_decides_the_status() -> None:
    scenario = load(FIRST)
    offered, other = (study(scenario, variant) for variant in scenario.variants("panel")[:2])
    met = replace(offered, verdicts=tuple(replace(v, verdict=MET) for v in offered.verdicts))
    assert other.limits_verdict == NOT
    assert asked.status_of([met, other]) == 0
    assert asked.status_of([met, replace(other, variant=offered.variant)]) == 1
    assert asked.status_of([replace(met, reasons=("no port is left",))]) == 1


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["compar", "first"], ["no command 'compar'", "nearest: compare"]),
        (["compare", "first", "--grup", "x"], ["no option --grup", "nearest: --group"]),
        (["compare", "firs"], ["'firs'", "nearest: first", "staylit new"]),
        (["Compare", "first"], ["no command 'Compare'", "nearest: compare"]),
        (["compare"], ["Missing argument 'SCENARIO'", "allowed: the path of a scenario"]),
        (["compare", "first", "more"], ["(more)", "allowed: [OPTIONS] SCENARIO"]),
        (["compare", "first", "--format", "Jsn"], ["'Jsn'", "allowed: text, ", "nearest: json"]),
        (["compare", "first", "--group"], ["staylit compare: ", "the name of a wall group"]),
        (["compare", "first", "--workers", "x"], ["'x'", "a whole number from 1 to 256"]),
        (["faults", "first", "--pairs=yes"], ["staylit faults: ", "without a value"]),
        (["faults", "first", "--output", "x.svg"], ["svg is not written", ".md, .json"]),
        (["draw", "first", "--output", "x.csv"], ["csv is not written", ".svg, .graphml"]),
        (["compare", "first", "--output", "x.htm"], [".htm is not written here", "nearest: .html"]),
        (["check", "first", "--output", "x.docx"], [".docx is not written", "or say --format"]),
        (["explain", "first"], ["'ITEM'", "allowed: a timing"]),
        (["compare", "first", "--group", "pannel"], ["'pannel'", "nearest: panel"]),
        (["compare", "first", "--group", "PANEL"], ["'PANEL'", "nearest: panel"]),
        (["compare", "first", "--workers", "0"], ["--workers: 0 is not taken", "from 1 to 256"]),
        (["compare", "first", "--workers", "x"], ["--workers: 'x' is not taken", "from 1 to 256"]),
        (["compare", "first", "--width", "7"], ["--width: 7 is not taken", "from 60 to 400"]),
        (["risk", "first", "--precision", "2"], ["--precision: 2.0 is not taken", "0 and 1"]),
        (["faults", "first", "--topology", "two-unti"], ["nearest: two-unit"]),
        (["faults", "river", "--topology", "single-feed"], ["several groups", "--group"]),
        (["faults", "river", "--group", "main", "--topology", "return-loop", "--pairs"],
         ["cannot be built"]),
        (["inject", "first"], ["Missing argument 'FAULT...'", "allowed: a mode, a thing"]),
        (["inject", "first", "cutt x", "dead y"], ["nearest: cut", "there is no 'y'"]),
        (["inject", "first", "dead player", "--fails", "nothing"], ["no changeover", "draw"]),
        (["inject", "river", "dead main/unit-a", "--group", "main", "--topology", "return-loop"],
         ["cannot be built", "32 ports"]),
        *((["risk", "river", "--group", "main", "--topology", "return-loop", *more],
           ["main, return-loop: it cannot be built: unit-a needs 32 ports", "name another"])
          for more in ([], ["--plain"], ["--verify"], ["--format", "json"])),
        (["explain", "first", "receiving cord.detect"], ["nearest: receiving card.detect"]),
        (["draw", "first", "--format", "png"], ["'png'", "svg"]),
        (["new", "--columns", "3"], ["the grid is not said"]),
        (["new", "x.yaml", "--columns", "3", "--rows", "0"], ["--rows"]),
        (["--nothing"], ["no option --nothing"]),
    ],
)  # fmt: skip
def test_wrong_usage_is_status_2_with_one_message(
    args: list[str], words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(args) == 2
    said = capsys.readouterr()
    assert not said.out
    assert "Traceback" not in said.err
    assert [word for word in words if word not in said.err] == []


def test_a_risk_of_what_cannot_be_built_is_a_row_and_verifies_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of all topologies: a report that says so, status 1; held against theory: nothing to hold."""
    text = FIRST.read_text(encoding="utf-8").replace("offered: relay-pair", "offered: return-loop")
    text = text.replace("    against: [single-feed, return-loop, two-unit, crossed-relays]\n", "")
    path = tmp_path / "unbuilt.yaml"
    few = "equipment:\n  scaling unit: {ports: 1}\n"
    path.write_text(text.replace("equipment:\n", few), encoding="utf-8")
    assert cli.run(["risk", str(path), "--shows", "1", "--workers", "1"]) == 1
    assert "cannot be built" in capsys.readouterr().out
    assert cli.run(["risk", str(path), "--verify"]) == 2
    said = capsys.readouterr()
    assert not said.out and "nothing was worked out" in said.err


def test_without_a_command_the_help_is_printed_whole_and_nothing_was_judged(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert cli.run(["--help"]) == 0
    page = capsys.readouterr().out
    assert cli.run([]) == 2
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", page)
    assert len(page.splitlines()) > 15


def test_all_problems_of_a_scenario_are_told_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "wrong.yaml"
    text = FIRST.read_text(encoding="utf-8").replace("rate: 50", "rate: 51")
    path.write_text(text.replace("grid: 2 x 2", "grid: 2 by two"), encoding="utf-8")
    assert cli.run(["compare", str(path)]) == 2
    said = capsys.readouterr().err
    assert "show.rate" in said
    assert "walls.panel.grid" in said


@pytest.mark.parametrize("name", ["\x1b[31mred.yaml", "a\u202eb.yaml", "nul\0.yaml", "\ud800"])
def test_control_characters_are_shown_harmlessly(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["compare", name]) == 2
    said = capsys.readouterr().err
    assert said.replace("\n", "").isprintable()


def test_an_interruption_is_one_line_and_status_130(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop(*args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(commands, "compared", stop)
    assert cli.run(["compare", "first"]) == 130
    assert capsys.readouterr().err.strip() == "staylit: interrupted"


# ---- where results go


def test_results_go_to_standard_output_and_talk_nowhere_else(
    capsys: pytest.CaptureFixture[str],
) -> None:
    cli.run(["faults", "first", "--format", "json"])
    said = capsys.readouterr()
    assert json.loads(said.out)["format"] == "staylit-faults 1"
    assert said.err == ""


def test_output_writes_a_whole_file_and_nothing_to_standard_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "out.csv"
    path.write_text("old", encoding="utf-8")
    path.chmod(0o640)
    assert cli.run(["faults", "first", "--format", "csv", "--output", str(path)]) == 1
    assert capsys.readouterr().out == ""
    assert len(list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))) > 50
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [each.name for each in tmp_path.iterdir()] == ["out.csv"]


@pytest.mark.parametrize(
    ("name", "command", "begins"),
    [
        ("a.md", "faults", "# First steps"),
        ("a.MD", "faults", "# First steps"),
        ("a.json", "faults", '{\n "format": "staylit-faults 1"'),
        ("a.csv", "faults", "group,"),
        ("a.txt", "faults", "First steps"),
        ("report", "faults", "First steps"),
        ("a.svg", "draw", "<svg"),
        ("a.graphml", "draw", "<?xml"),
    ],
)
def test_the_name_of_the_file_says_the_format_unless_it_is_said(
    name: str, command: str, begins: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    cli.run([command, "first", "--output", str(path)])
    assert path.read_text(encoding="utf-8").startswith(begins)
    cli.run([command, "first", "--output", str(path), "--format", "json"])
    assert path.read_text(encoding="utf-8").startswith("{")


def test_the_scenario_is_never_written_over(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = kept.read_bytes()
    link = kept.parent / "link.yaml"
    link.symlink_to(kept)
    for output in (str(kept), str(link), f"{kept.parent}/./kept.yaml"):
        assert cli.run(["faults", str(kept), "--output", output]) == 2
        assert "is the scenario itself" in capsys.readouterr().err
    assert kept.read_bytes() == before


def test_a_file_that_cannot_be_written_is_left_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "out.txt"
    path.write_text("old", encoding="utf-8")

    def full(self: Path, target: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    assert cli.run(["faults", "first", "--output", str(path)]) == 2
    assert "No space left" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == "old"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("output", ["{}/no/such/folder.txt", "{}"])
def test_a_place_that_is_no_file_is_refused(
    output: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["faults", "first", "--output", output.format(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "cannot be written" in told
    assert "do: name another file" in told


# ---- new


def test_new_writes_a_file_that_loads_and_never_over_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.yaml"
    grid = ["--columns", "3", "--rows", "2", "--title", "Ours: #1"]
    assert cli.run(["new", str(path), *grid]) == 0
    assert load(path).title == "Ours: #1"
    before = path.read_bytes()
    assert cli.run(["new", str(path), "--columns", "9", "--rows", "9"]) == 2
    assert "--force" in capsys.readouterr().err
    assert path.read_bytes() == before
    assert cli.run(["new", str(path), "--columns", "9", "--rows", "9", "--force"]) == 0
    assert path.read_text(encoding="utf-8") == new_file(9, 9)


def test_new_refuses_what_would_not_load_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.yaml"
    assert cli.run(["new", str(path), "--columns", "3", "--rows", "2", "--rate", "61"]) == 2
    assert "61" in capsys.readouterr().err
    assert not path.exists()


def test_new_asks_for_the_grid_on_a_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["4", "3"])
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(click, "prompt", lambda *args, **kwargs: next(answers))
    path = tmp_path / "mine.yaml"
    assert cli.run(["new", str(path)]) == 0
    assert path.read_text(encoding="utf-8") == new_file(3, 4)


@pytest.mark.parametrize("said", ["12 by 5", "12 x 5", "12x5", "12 \u00d7 5"])
def test_new_takes_columns_and_rows_at_once(
    said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter(["many", "0", "12 by 501", said])
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(click, "prompt", lambda *args, **kwargs: next(answers))
    path = tmp_path / "mine.yaml"
    assert cli.run(["new", str(path)]) == 0
    assert path.read_text(encoding="utf-8") == new_file(5, 12)
    told = capsys.readouterr().err
    assert told.count("allowed: a whole number from 1 to 500, or two as 12 x 5") == 3
    assert "Error" not in told


# ---- explain, inject, draw, pairs


def test_explain_tells_value_grade_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["explain", "first", "receiving card.detect", *WIDE]) == 0
    said = capsys.readouterr().out
    assert re.search(r"^typical +40 ms$", said, re.MULTILINE)
    assert "invented for this example" in said


@pytest.mark.parametrize("command", [["check", "first"], ["explain", "first", "latent"]])
@pytest.mark.parametrize("form", ["text", "markdown", "json", "csv"])
def test_check_and_explain_come_in_every_format(
    command: list[str], form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run([*command, "--format", form, *WIDE]) == (1 if command[0] == "check" else 0)
    said = capsys.readouterr().out
    if form == "json":
        assert json.loads(said)["format"] == f"staylit-{command[0]} 1"
    elif form == "csv":
        assert len({len(row) for row in csv.reader(io.StringIO(said))}) == 1
    else:
        assert said.splitlines()[0].startswith("# ") == (form == "markdown")
        assert max(map(len, said.splitlines())) <= 100 or form == "markdown"


def test_inject_tells_who_noticed_what(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["inject", "first", "cut panel/trunk-main-1 at 2 s for 4 s", *WIDE]) == 0
    said = capsys.readouterr().out
    assert re.search(r"00:00:02:00 +100 +panel/trunk-main-1 was cut", said)
    assert re.search(r"4 x receiver lost the signal from the forward", said)
    assert re.search(r"\+50 ms +4 x receiver took the return way", said)


def test_a_changeover_that_fails_stays_until_somebody_acts(
    capsys: pytest.CaptureFixture[str],
) -> None:
    fault = "cut panel/trunk-main-1 at 2 s"
    assert cli.run(["inject", "first", fault, *WIDE, "--fails", "panel/r1c1/receiver*"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"panel/r1c1/receiver should have gone over .* the\s+changeover failed", said)
    assert "at the end of the show 25 % dark" in " ".join(said.split())
    assert cli.run(["inject", "first", fault]) == 0
    assert "to the end" not in capsys.readouterr().out


def test_commands_take_the_names_that_reports_print(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["explain", "first", "limit 1"]) == 0
    assert cli.run(["explain", "first", "scaling unit A"]) == 0
    assert "panel/unit-a: thing" in capsys.readouterr().out
    card = "input of the receiving card of panel/r1c1"
    cable = "cut cable player to panel/unit-a at 2 s for ever"
    assert cli.run(["inject", "first", cable, "cut left hand", "--fails", card, *WIDE]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "cable player to panel/unit-a was cut" in said
    assert f"these changeovers fail: {card}" in said
    assert cli.run(["inject", "river", "cut desk to units at 2 s"]) == 0
    assert "desk to units was cut" in capsys.readouterr().out


def test_timing_least_is_no_longer_than_most(capsys: pytest.CaptureFixture[str]) -> None:
    dark = {}
    for timing in ("least", "most"):
        cli.run(["inject", "river", "dead main/relay-main at 1 s for 60 s", "--timing", timing,
                 "--format", "json"])  # fmt: skip
        tolls = json.loads(capsys.readouterr().out)["tolls"]
        dark[timing] = next(t for t in tolls if t["name"] == "main")["frames"]["dark"]
    assert dark["least"] < dark["most"]


@pytest.mark.parametrize(
    ("form", "begins"), [("svg", "<svg"), ("graphml", "<?xml"), ("json", '{\n "format"')]
)
def test_draw_writes_each_form(form: str, begins: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["draw", "first", "--format", form]) == 0
    assert begins in capsys.readouterr().out[:200]


def test_pairs_of_too_many_faults_are_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from sim import commands_pairs

    monkeypatch.setattr(commands_pairs, "MOST_STRIKES", 100)
    assert cli.run(["faults", "first", "--pairs"]) == 2
    said = capsys.readouterr().err
    assert all(part in said for part in ("129 single faults", "at most 100", "inject"))


def test_pairs_find_the_backup_that_was_needed_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "one.yaml"
    path.write_text(new_file(1, 1), encoding="utf-8")
    assert cli.run(["faults", str(path), "--pairs", "--format", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    wanted = {("relay-main dead", "relay-backup dead"), ("relay-backup dead", "relay-main dead")}
    found = {(row["first"], row["second"]): row for row in rows}
    for pair in wanted:
        row = found[pair]
        assert (row["alone_first"], row["alone_second"], row["together"]) == ("0", "0", "1")


# ---- the same whatever the number of processes


def test_the_number_of_processes_changes_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from sim import workers

    cli.run(["compare", "first", "--format", "json", "--workers", "1"])
    one = capsys.readouterr().out
    monkeypatch.setattr(workers, "SMALL", 0)
    cli.run(["compare", "first", "--format", "json", "--workers", "2"])
    assert capsys.readouterr().out == one


# ---- in a process of its own


def test_help_is_quick_and_names_every_command() -> None:
    """Processor time, not the clock's: other work on the machine must not count."""
    took = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = staylit("--help")
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    assert done.returncode == 0
    named = re.findall(r"^  (\w+)  ", done.stdout.partition("Commands:")[2], re.MULTILINE)
    assert named == [
        "check",
        "compare",
        "diagnose",
        "draw",
        "explain",
        "faults",
        "inject",
        "new",
        "proof",
        "rates",
        "rehearse",
        "risk",
        "slips",
    ]
    assert min(took) < 0.4


def test_a_closed_pipe_is_quiet() -> None:
    command = f"{sys.executable} -W error -m sim faults first | head -n 1"
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        ["sh", "-c", command], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.stdout == "First steps: every single fault\n"
    assert done.stderr == ""


def test_text_is_as_wide_as_the_terminal_and_at_most_100() -> None:
    widest = {}
    for columns in ("80", "250"):
        done = staylit("faults", "first", env={"COLUMNS": columns})
        widest[columns] = max(map(len, done.stdout.splitlines()))
    assert 60 < widest["80"] <= 80
    assert 80 < widest["250"] <= 100


def test_a_terminal_that_knows_ascii_only_is_no_reason_to_fail() -> None:
    done = staylit("compare", "first", env={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert done.returncode == 1
    assert "Traceback" not in done.stderr


def test_an_ending_is_letters_and_a_format_that_is_said_counts(tmp_path: Path) -> None:
    for name, more in (("report.2", []), ("report", []), ("table.tsv", ["--format", "csv"])):
        assert cli.run(["check", "first", "--output", str(tmp_path / name), *more]) == 1
        assert (tmp_path / name).stat().st_size > 0


def test_at_80_columns_no_command_is_said_in_half_a_sentence() -> None:
    page = staylit("--help", env={"COLUMNS": "80"}).stdout
    summaries = page.partition("Commands:")[2].splitlines()[1:]
    assert len(summaries) == 13
    assert [line for line in summaries if len(line) > 80 or not line.endswith(".")] == []
    assert [line for line in summaries if line.endswith("...")] == []
