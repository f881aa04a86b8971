"""`staylit rates`: an owner's records as rates, beside the placeholders, and as a file.

In: tables written by hand, given to `sim.cli.run`. Out: figures got by hand, files, statuses.
"""

from __future__ import annotations

import csv
import io
import json
import math
import os
from pathlib import Path
from typing import Any

import pytest
import yaml

from sim import cli
from sim.reliability.beside import own_rates
from sim.reliability.records import records_from
from sim.report.rates_report import every, figure
from sim.rig.placeholders import RATES
from sim.scenario.loader import load

HEAD = "thing,family,type,from,to,hours,mode,failures,demands,per"
ROWS = """\
relay 1,relay,,2023-01-01,2025-01-01,2400,dead,1,,
relay 2,relay,,2023-03-01,2024-01-01,2150,,0,,
relay 1,relay,,2023-01-01,2025-01-01,,changeover,1,64,
"player, left",source,,2024-03-01,2025-01-01,610,stuck,2,,
"""

CHI_SQUARE = {1: (0.00393214, 0.454936, 3.841459), 3: (0.351846, 2.365974, 7.814728),
              5: (1.145476, 4.351460, 11.070498)}  # fmt: skip
"""5th, 50th and 95th percentile by degrees of freedom (printed tables, value from memory)."""


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return written(tmp_path / "kept.csv", ROWS)


def written(path: Path, rows: str) -> Path:
    path.write_text(f"{HEAD}\n{rows}", encoding="utf-8")
    return path


def said(capsys: pytest.CaptureFixture[str], *args: object) -> str:
    """What the command prints when all is well."""
    assert cli.run(["rates", *map(str, args)]) == 0
    return capsys.readouterr().out


def told(capsys: pytest.CaptureFixture[str], *args: object) -> dict[tuple[str, str], Any]:
    """The rates of the JSON document, by family and mode."""
    document = json.loads(said(capsys, *args, "--format", "json"))
    return {(one["family"], one["mode"]): one for one in document["rates"]}


# ---- figures -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("of", "failures", "hours"),
    [(("relay", "blanked"), 0, 2150), (("relay", "dead"), 1, 4550), (("source", "stuck"), 2, 610)],
)
def test_rates_by_the_hour_against_theory(
    kept: Path, capsys: pytest.CaptureFixture[str], of: tuple[str, str], failures: int, hours: int
) -> None:
    """Jeffreys (NASA/SP-2009-569 sec. 4.2.2): Gamma(r + 1/2, T); 2 T times a gamma of shape k/2 is
    chi-square with k degrees of freedom."""
    one = told(capsys, kept)[of]
    low, median, high = CHI_SQUARE[2 * failures + 1]
    assert (one["failures"], one["exposure"], one["per"]) == (failures, hours, "hour")
    assert one["shape"] == {"shape": failures + 0.5, "hours": hours}
    assert one["mean"] == pytest.approx((failures + 0.5) / hours)
    assert one["low"] == pytest.approx(low / 2 / hours, rel=2e-5)
    assert one["high"] == pytest.approx(high / 2 / hours, rel=2e-6)
    assert one["error_factor"] == pytest.approx(high / median, rel=2e-6)
    assert (one["method"], one["prior"]) == ("Gamma-Poisson", "Jeffreys")
    assert one["none_seen"] is (failures == 0)


def test_a_chance_on_demand_against_theory(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Jeffreys (NASA/SP-2009-569 sec. 4.2.1): Beta(1.5, 63.5); its density added up."""
    one = told(capsys, kept)["relay", "changeover"]
    assert one["mean"] == pytest.approx(1.5 / 65)
    constant = math.gamma(65) / (math.gamma(1.5) * math.gamma(63.5))
    for end, part in (("low", 0.05), ("high", 0.95)):
        step = one[end] / 20_000
        mids = ((i + 0.5) * step for i in range(20_000))
        area = sum(constant * x**0.5 * (1 - x) ** 62.5 * step for x in mids)
        assert area == pytest.approx(part, abs=1e-5)
    assert (one["method"], one["placeholder"]) == ("Beta-binomial", None)


def test_periods_span_all_rows_of_a_rate(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, kept)
    assert found["relay", "dead"]["begins"] == "2023-01-01T00:00:00"
    assert found["relay", "dead"]["rows"] == 2
    assert found["relay", "blanked"]["begins"] == "2023-03-01T00:00:00"
    assert found["relay", "blanked"]["ends"] == "2024-01-01T00:00:00"


# ---- beside the placeholders ---------------------------------------------------------------------


def test_the_placeholder_stands_beside_and_is_judged(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """1e-5 lies below 0.351846 / 9100 = 3.87e-5; 1e-4 below 1.145476 / 1220 = 9.39e-4."""
    found = told(capsys, kept)
    assert (found["relay", "dead"]["placeholder"], found["relay", "dead"]["lies"]) == (
        RATES["relay", "dead"].per_hour, "below",
    )  # fmt: skip
    assert found["source", "stuck"]["lies"] == "below"
    assert found["relay", "stuck"]["lies"] == "within"
    assert "2 placeholders of these lie outside the 90 % interval" in said(capsys, kept)


@pytest.mark.parametrize(
    ("failures", "hours", "lies"), [(3, 10_000, "below"), (3, 400_000, "within"),
                                    (3, 4_000_000, "above"), (0, 10, "within"),
                                    (0, 150_000, "within"), (0, 250_000, "above")]
)  # fmt: skip
def test_a_placeholder_lies_where_it_lies(failures: int, hours: int, lies: str) -> None:
    """relay dead: 1e-5. Seven degrees of freedom: 2.16735 and 14.0671 over 2 T (value from memory).

    None seen: from 0 to 3.841459 / 2 T, so that no placeholder is ever too low.
    """
    row = f"a,relay,,1700-01-01,2200-01-01,{hours},dead,{failures},,\n"
    (line,) = own_rates(records_from(f"{HEAD}\n{row}", "a.csv"), "a.csv").lines
    assert line.placeholder == 1e-5
    assert line.lies == lies


def test_what_no_row_speaks_of_stays_a_placeholder(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The relay's six modes and one of the source are spoken of by the hour."""
    document = json.loads(said(capsys, kept, "--format", "json"))
    silent = {(one["family"], one["mode"]) for one in document["stay_placeholders"]}
    assert silent == {key for key in RATES if key[0] != "relay" and key != ("source", "stuck")}
    assert len(silent) == len(RATES) - 7
    text = " ".join(said(capsys, kept).split())
    assert f"{len(RATES) - 7} of the {len(RATES)} fault modes" in text


# ---- for people ----------------------------------------------------------------------------------


def test_no_failure_is_told_as_a_bound(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1.920729 / 1000 h is the 95th percentile, once in 520.6 h."""
    path = written(tmp_path / "a.csv", "a,port,,2024-01-01,2025-01-01,1000,dead,0,,\n")
    text = said(capsys, path, "--width", "100")
    (line,) = (ln for ln in text.splitlines() if ln.startswith("port dead") and "under" in ln)
    assert line.split() == [*"port dead 0 1 000 under 1.92e-3 - - 8.44 over 520 h of use".split()]
    assert " 0.00 " not in text and " 0e" not in text


def test_no_failure_on_demand_is_told_as_a_bound(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Beta(0.5, 100.5): with x = u u its density is that of u to a constant (1 - u u)^99.5."""
    path = written(tmp_path / "a.csv", "a,relay,,2024-01-01,2025-01-01,,changeover,0,100,\n")
    text = said(capsys, path, "--width", "100")
    (line,) = (ln for ln in text.splitlines() if "under" in ln and "changeover" in ln)
    *before, bound = line.split()[:7]
    assert before == "relay unit changeover 0 100 under".split()
    whole, below = (
        sum((1 - u * u) ** 99.5 for u in (end * (i + 0.5) / 10_000 for i in range(10_000))) * end
        for end in (1.0, math.sqrt(float(bound)))
    )
    assert below / whole == pytest.approx(0.95, abs=5e-4)
    assert line.endswith("over 52 changeovers")
    assert "Beside the placeholders" not in text and "Gamma-Poisson" not in text


@pytest.mark.parametrize(
    ("rate", "text"),
    [(4.327e-6, "26 years of use"), (1 / 8760, "1.0 years of use"), (1 / 8759, "8 800 h of use"),
     (3.3e-4, "3 000 h of use"), (2.0, "0.50 h of use"), (1e-12, "110 000 000 years of use")],
)  # fmt: skip
def test_a_rate_is_written_as_one_in_so_many_years(rate: float, text: str) -> None:
    """4.327e-6 an hour is the mean of NASA/SP-2009-569 sec. 4.2.2.1: 1 / 4.327e-6 / 8760 = 26.4."""
    assert every(rate) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(4.327e-6, "4.33e-6"), (0.01, "0.0100"), (0.00999, "9.99e-3"), (0.009996, "0.0100"),
     (3.303, "3.30"), (12.44, "12.4"), (123.4, "123"), (999.6, "1 000"), (45_678.0, "45 700"),
     (math.inf, "beyond counting")],
)  # fmt: skip
def test_figures_have_three_digits(value: float, text: str) -> None:
    assert figure(value) == text


@pytest.mark.parametrize("width", [60, 80, 100])
def test_no_line_is_longer_than_the_width(
    kept: Path, capsys: pytest.CaptureFixture[str], width: int
) -> None:
    lines = said(capsys, kept, "--width", width).splitlines()
    assert max(map(len, lines)) <= width
    assert {"By the hour", "On demand", "Beside the placeholders", "Cautions"} <= {*lines}


@pytest.mark.parametrize("width", [80, 100])
def test_no_figure_is_broken(kept: Path, capsys: pytest.CaptureFixture[str], width: int) -> None:
    text = said(capsys, kept, "--width", width)
    for whole in ("3.30e-4", "3.87e-5", "8.59e-4", "2.76e-3", "2023-01-01", "2025-01-01"):
        assert whole in text


def test_markdown_and_csv_say_the_same(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = said(capsys, kept, "--format", "markdown")
    assert "| relay unit dead | 1 | 4 550 | 3.30e-4 | 3.87e-5 | 8.59e-4 |" in page
    rows = list(csv.DictReader(io.StringIO(said(capsys, kept, "--format", "csv"))))
    found = told(capsys, kept)
    assert [(row["family"], row["mode"]) for row in rows] == list(found)
    for row in rows:
        one = found[row["family"], row["mode"]]
        assert [float(row[k]) for k in ("mean", "low", "high")] == [
            one["mean"], one["low"], one["high"],
        ]  # fmt: skip
        assert row["none_seen"] == ("yes" if one["none_seen"] else "no")
        assert row["lies"] == (one["lies"] or "")


def test_a_type_with_comma_quote_or_formula_stays_one_cell(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = 'a,relay,"short, ""blue""",2024-01-01,2025-01-01,9,dead,0,,\n'
    rows += "b,relay,=1+1,2024-01-01,2025-01-01,9,dead,0,,\n"
    path = written(tmp_path / "a.csv", rows)
    found = list(csv.DictReader(io.StringIO(said(capsys, path, "--format", "csv"))))
    assert [row["type"] for row in found] == ["'=1+1", 'short, "blue"']
    assert 'relay unit (short, "blue") dead' in said(capsys, path, "--format", "markdown")
    assert "things of its kind that are of no such type" in " ".join(said(capsys, path).split())


def test_rows_without_any_hours_say_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path / "a.csv", "a,port,,2024-01-01,2025-01-01,0,dead,0,,\n")
    assert "nothing to learn" in said(capsys, path, "--file", tmp_path / "own.yaml")
    assert yaml.safe_load((tmp_path / "own.yaml").read_text(encoding="utf-8"))["rates"] == []


# ---- the file ------------------------------------------------------------------------------------


def test_the_file_holds_the_same_figures(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = kept.with_name("own.yaml")
    found = told(capsys, kept, "--file", file)
    entries = yaml.safe_load(file.read_text(encoding="utf-8"))["rates"]
    assert [(one["family"], one["mode"]) for one in entries] == list(found)
    for entry in entries:
        one = found[entry["family"], entry["mode"]]
        for name in ("mean", "low", "high", "error_factor"):
            assert entry[name] == pytest.approx(one[name], rel=1e-5)
        assert entry["failures"] == one["failures"]
        assert entry["hours" if one["per"] == "hour" else "demands"] == one["exposure"]
        assert entry["source"].startswith("kept.csv, 202")


def test_the_same_records_give_the_same_bytes(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [kept.with_name(name) for name in ("one.yaml", "two.yaml")]
    texts = [said(capsys, kept, "--file", file, "--format", "json") for file in files]
    assert texts[0] == texts[1]
    assert files[0].read_bytes() == files[1].read_bytes()


@pytest.mark.parametrize("name", ["own.yaml", "own, [1] 'b'.yaml"])
def test_the_command_tells_how_a_scenario_takes_the_file(
    kept: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """What it says on standard error, put into a scenario, loads there."""
    file = kept.with_name(name)
    assert cli.run(["rates", str(kept), "--file", str(file), "--output", f"{file}.txt"]) == 0
    captured = capsys.readouterr()
    assert captured.out == ""
    key = captured.err.strip().partition(", as ")[2]
    first = Path(__file__).parents[1] / "scenarios" / "first.yaml"
    scenario = kept.with_name("mine.yaml")
    scenario.write_text(f"{first.read_text(encoding='utf-8')}\n{key}\n", encoding="utf-8")
    rates = {(one.family, one.mode): one.value for one in load(scenario).learned}
    assert rates["relay", "dead"] == pytest.approx(1.5 / 4550, rel=1e-5)
    assert rates["relay", "changeover"] == pytest.approx(1.5 / 65, rel=1e-5)
    assert len(rates) == 8


def test_a_file_that_is_there_is_kept_unless_forced(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = kept.with_name("own.yaml")
    file.write_text("mine", encoding="utf-8")
    assert cli.run(["rates", str(kept), "--file", str(file)]) == 2
    captured = capsys.readouterr()
    assert captured.out == "" and "is there already" in captured.err and "--force" in captured.err
    assert file.read_text(encoding="utf-8") == "mine"
    said(capsys, kept, "--file", file, "--force")
    assert "rates:" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("option", ["--file", "--output"])
@pytest.mark.parametrize("how", ["itself", "link", "hard link"])
def test_nothing_is_written_over_the_records(
    kept: Path, capsys: pytest.CaptureFixture[str], option: str, how: str
) -> None:
    before, target = kept.read_bytes(), kept.with_name("other.txt")
    if how == "itself":
        target = kept
    else:
        (os.symlink if how == "link" else os.link)(kept, target)
    assert cli.run(["rates", str(kept), option, str(target), "--force"]) == 2
    assert f"{option}: {target} is the table of records itself" in capsys.readouterr().err
    assert kept.read_bytes() == before


def test_the_two_results_need_two_files(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one, other = kept.with_name("a.txt"), f"{kept.parent}/./a.txt"
    assert cli.run(["rates", str(kept), "--file", str(one), "--output", other]) == 2
    assert "is also --output" in capsys.readouterr().err
    assert not one.exists()
    one.symlink_to(kept.with_name("b.txt"))
    assert (
        cli.run(["rates", str(kept), "--file", str(one), "--output", f"{kept.parent}/b.txt"]) == 2
    )
    assert not kept.with_name("b.txt").exists()


# ---- what is refused -----------------------------------------------------------------------------

OVERLAP = """\
relay 1,relay,,2023-01-01,2025-01-01,2400,dead,1,,
relay 1,relay,,2024-01-01,2026-01-01,2400,dead,0,,
"""


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (OVERLAP, ["kept.csv:3: from", "overlaps", "see kept.csv:2"]),
        ("a,relais,,2024-01-01,2025-01-01,9,dead,0,,\n",
         ["kept.csv:2: family", "'relais'", "nearest: relay"]),
        ("a,relay,,2024-01-01,2025-01-01,9,ded,0,,\nb,,,2024-01-01,2025-01-01,9,dead,0,,\n",
         ["kept.csv:2: mode", "nearest: dead", "kept.csv:3: family"]),
        ("", ["a heading without rows"]),
    ],
)  # fmt: skip
def test_bad_records_are_status_2_and_leave_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rows: str, words: list[str]
) -> None:
    path, file, out = (written(tmp_path / "kept.csv", rows), *map(tmp_path.joinpath, "ab"))
    assert cli.run(["rates", str(path), "--file", str(file), "--output", str(out)]) == 2
    captured = capsys.readouterr()
    assert captured.out == "" and all(word in captured.err for word in words)
    assert {each.name for each in tmp_path.iterdir()} == {"kept.csv"}


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ([], ["Missing argument 'RECORDS'", "allowed: the path of a table"]),
        (["none.csv"], ["none.csv: cannot be read: No such file", "check the path"]),
        (["."], ["a directory", "name a file within it"]),
        (["none.csv", "--output", "x.svg"], ["svg is not written", ".md, .json"]),
        (["none.csv", "--file", "no/such/own.yaml"], ["there is no folder"]),
        (["a\0b"], ["not a usable file name"]),
    ],
)
def test_wrong_usage_is_status_2(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    args: list[str], words: list[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    assert cli.run(["rates", *args]) == 2
    captured = capsys.readouterr()
    assert captured.out == "" and all(word in captured.err for word in words), captured.err


@pytest.mark.parametrize("option", ["--file", "--output"])
def test_a_name_that_no_file_can_have_is_status_2(
    kept: Path, capsys: pytest.CaptureFixture[str], option: str
) -> None:
    assert cli.run(["rates", str(kept), option, "a\0b"]) == 2
    captured = capsys.readouterr()
    assert captured.out == "" and "not a usable file name" in captured.err


def test_an_endless_device_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["rates", "/dev/zero"]) == 2
    assert "a pipe or a device" in capsys.readouterr().err


def test_a_name_that_breaks_lines_stays_one_comment(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path / "a\nrates: [].csv", ROWS)
    file = tmp_path / "own.yaml"
    assert "a\\nrates: [].csv: failure rates" in said(capsys, path, "--file", file)
    assert len(yaml.safe_load(file.read_text(encoding="utf-8"))["rates"]) == 8
