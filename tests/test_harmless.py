"""Names that attack, in every format: a terminal, a message, Markdown, a table, a drawing, a page.

In: `first` with titles, labels and sources that are markup and formulas, in files whose names hold
escapes, bidirectional marks and line ends. Out: everything shows them, nothing obeys them.
"""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from sim import cli
from sim.harmless import cell, harmless, shows, uncell, visible
from sim.report.blocks import Lines
from sim.report.markdown import as_markdown, escaped
from tests.every_command import CORPUS, ROOT

WILD = "=1+1 ``` <img src=x onerror=alert(1)> | [x](y) &lt;b&gt; # {{7*7}} %s"
STEM = "=f\x1b[31m\u202e\n&<b>\x07"
"""What a file may be called."""
FORMATS = ("text", "markdown", "json", "csv", "html", "svg", "graphml")
FORMULAS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@pytest.fixture(name="folder")
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    text = (ROOT / "scenarios" / "first.yaml").read_text(encoding="utf-8")
    wild = f"'{WILD}'"
    for old, new in (
        ("title: First steps", f"title: {wild}"),
        ("invented for this example", wild),
        ("offered: relay-pair", f"offered: {{topology: relay-pair, label: {wild}}}"),
        ("for: 5 frames}", "for: 5 frames, label: '@SUM(1) <b>'}"),
    ):
        assert old in text
        text = text.replace(old, new)
    Path(f"{STEM}.yaml").write_text(text, encoding="utf-8")
    head = "thing,family,type,from,to,hours,mode,failures,demands,per,note\n"
    row = "=t<b>,relay,=ty<b>,2023-01-01,2025-01-01,2400,dead,1,,,=n\n"
    Path(f"{STEM}.csv").write_text(head + row, encoding="utf-8")
    sheet = (CORPUS / "sheet" / "filled.csv").read_text(encoding="utf-8")
    Path(f"{STEM}s.csv").write_text(sheet.replace("A. Body", "=A <b> ```"), encoding="utf-8")
    return tmp_path


SHOW, TABLE, SHEET = f"{STEM}.yaml", f"{STEM}.csv", f"{STEM}s.csv"
BEGINS = ("--begins", "2026-05-01 20:00")
COMMANDS = {
    "check": ("check", SHOW), "explain": ("explain", SHOW, "receiving card.detect"),
    "inject": ("inject", SHOW, "dead\x0bpanel/unit-a at\u20285 s"), "faults": ("faults", SHOW),
    "rates": ("rates", TABLE), "draw": ("draw", SHOW),
    "diagnose": ("diagnose", SHOW, "--seen", "panel\x0ball\u2028dark"),
    "proof --read": ("proof", SHOW, "--read", SHEET, *BEGINS),
}  # fmt: skip


@pytest.mark.parametrize("name", COMMANDS)
def test_names_that_attack_are_shown_in_every_format(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    seen = 0
    for form in FORMATS:
        status = cli.run([*COMMANDS[name], "--format", form])
        said = capsys.readouterr()
        assert _odd(said.err) == []
        if status == 2:
            assert "--format" in said.err, said.err
            continue
        assert status in (0, 1), said.err
        assert _odd(said.out.replace("\u00a0", "")) == [], "our own pages have such spaces"
        CHECKS[form](said.out)
        seen += 1
    assert seen >= 3


def _odd(text: str) -> list[str]:
    return sorted({char for char in text if not char.isprintable() and char != "\n"})


def _json(text: str) -> None:
    json.loads(text)


def _csv(text: str) -> None:
    for row in csv.reader(io.StringIO(text)):
        for each in row:
            assert not each.lstrip().startswith(FORMULAS) or re.fullmatch(r"-?[\d.e-]+", each), each


def _markdown(text: str) -> None:
    """Outside of fences no tag, no name of a character; every fence is closed."""
    fence = ""
    for line in text.split("\n"):
        begins = re.match(r"(`{3,})", line)
        if fence:
            fence = "" if line == fence else fence
        elif begins:
            fence = begins[1]
        else:
            assert not re.search(r"(?<!\\)<(?!br>)\w|(?<!\\)&#?\w+;", line), line
    assert not fence


def _drawn(text: str) -> None:
    for each in ElementTree.fromstring(text).iter():
        assert not each.tag.endswith(("script", "foreignObject", "image"))
        assert not any(name.startswith("on") for name in each.attrib)


class _Tags(HTMLParser):
    """Refuses what our own pages do not have."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in ("img", "iframe", "object", "embed", "form")
        assert not [name for name, _ in attrs if name.startswith("on")]


def _html(text: str) -> None:
    _Tags().feed(text)
    assert text.count("<script") <= 1 + text.count('type="application/json"')


CHECKS = {
    "text": lambda text: None, "markdown": _markdown, "json": _json, "csv": _csv, "html": _html,
    "svg": _drawn, "graphml": _drawn,
}  # fmt: skip


@pytest.mark.parametrize(
    ("check", "wild"),
    [
        (_csv, "a,=1+1\n"), (_csv, "a, @x\n"), (_markdown, "a <b>x"), (_markdown, "&lt;x"),
        (_markdown, "```text\n"), (_drawn, "<svg><script/></svg>"), (_drawn, '<svg onload="x"/>'),
        (_html, "<p><img></p>"), (_html, '<p onclick="x"></p>'), (_html, "<script></script>" * 3),
    ],
)  # fmt: skip
def test_the_checks_see_what_is_not_harmless(check, wild: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(AssertionError):
        check(wild)


# ---- files that are written


def test_a_file_of_rates_or_tests_is_read_again_whatever_its_table_is_called(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["rates", TABLE, "--file", "own.yaml"]) == 0
    assert cli.run(["proof", SHOW, "--read", SHEET, *BEGINS, "--output", "shown.yaml"]) == 0
    assert _odd(capsys.readouterr().err) == []
    for name in ("own.yaml", "shown.yaml"):
        assert _odd(Path(name).read_text(encoding="utf-8")) == []
        assert yaml.safe_load(Path(name).read_text(encoding="utf-8"))["format"] == 1
    with Path(SHOW).open("a", encoding="utf-8") as file:
        file.write("\nrate_files: own.yaml\nproof_files: shown.yaml\n")
    assert cli.run(["check", SHOW]) == 1, capsys.readouterr().err


def test_what_is_written_beside_a_report_is_told_without_obeying_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["new", f"{STEM}-new.yaml", "--columns", "4", "--rows", "2"]) == 0
    assert cli.run(["check", SHOW, "--output", f"{STEM}.md"]) == 1
    assert cli.run(["compare", f"{STEM}-none.yaml"]) == 2
    said = capsys.readouterr().err
    assert _odd(said) == [] and said.count("wrote") == 2


def test_a_drill_drawn_for_such_a_file_is_read_again(folder: Path) -> None:
    asked = ["rehearse", SHOW, "--drawn", "3", "--write-drill", "drill.yaml"]
    Path("acts.yaml").write_text("acts: [wait 1 s]\n", encoding="utf-8")
    assert cli.run([*asked, "--script", "acts.yaml"]) == 0
    again = ["rehearse", SHOW, "--drill", "drill.yaml", "--script", "acts.yaml"]
    assert cli.run(again) == 0


@pytest.mark.parametrize("wild", ["\x1b[31m", "\u202e", "x" * 121])
def test_a_sheet_that_no_report_could_show_is_refused(
    wild: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(SHEET).read_text(encoding="utf-8").replace("=A <b> ```", f"A{wild}", 1)
    Path("sheet.csv").write_text(text, encoding="utf-8")
    assert cli.run(["proof", SHOW, "--read", "sheet.csv", *BEGINS]) == 2
    said = capsys.readouterr().err
    assert "sheet.csv:2: by: a cell that cannot be printed or is too long" in said
    assert _odd(said) == []


# ---- the one place


BLANK = "\u034f\u115f\u3164\u2800\u180b\ufe0f\U000e0100\u200b"


@given(st.text() | st.text(alphabet=f"{BLANK}a\u00e9\u2764", max_size=5))
def test_what_is_shown_can_be_printed_and_is_one_line_where_it_must_be(text: str) -> None:
    assert shows(harmless(text).replace("\n", ""))
    assert shows(visible(text))
    assert harmless(text) == text or not shows(text)
    assert harmless(harmless(text)) == harmless(text)


@given(st.text() | st.text(alphabet="'=+-@ a", max_size=6))
def test_no_cell_is_a_formula_and_each_is_read_again(text: str) -> None:
    assert not cell(text).lstrip(" ").startswith(FORMULAS)
    assert uncell(cell(text)) == harmless(text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("ma\u3164in", "ma\\u3164in"), ("main\ufe0f", "main\\ufe0f"), ("\u2800", "\\u2800"),
        ("\u2764\ufe0f", "\u2764\ufe0f"), ("\u00e9\ufe0f\ufe0f", "\u00e9\ufe0f\\ufe0f"),
        ("\u845b\U000e0101", "\u845b\U000e0101"), ("a\u0301\u0323", "a\u0301\u0323"),
    ],
)  # fmt: skip
def test_what_leaves_no_mark_is_written_out(text: str, shown: str) -> None:
    """But accents, and a sign that chooses the look of the one before it."""
    assert harmless(text) == visible(text) == shown
    assert shows(text) == (text == shown)


def test_no_name_has_a_letter_that_nobody_sees(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(SHOW).read_text(encoding="utf-8")
    for blank in "\u3164\u115f\u1160\uffa0":
        Path("blank.yaml").write_text(text.replace("left hand", f"left{blank}"), encoding="utf-8")
        assert cli.run(["check", "blank.yaml"]) == 2
        assert f"'left\\u{ord(blank):x}' cannot be a name" in capsys.readouterr().err


def test_a_fence_is_longer_than_what_it_holds() -> None:
    assert as_markdown([Lines(("a", "```", "````b"))]) == "`````text\na\n```\n````b\n`````\n"


@pytest.mark.parametrize(
    ("text", "shown"),
    [("&lt;b&gt;", "\\&lt;b\\&gt;"), ("&#60;", "\\&#60;"), ("a & b", "a & b"), ("1) x", "\\1) x")],
)
def test_what_markdown_would_exchange_stays_as_it_was_written(text: str, shown: str) -> None:
    assert escaped(text) == shown
