"""The command `diagnose`: what it prints in every format, what it refuses, with which status.

In: command lines. Out: texts on standard output or error, exit statuses.
"""

from __future__ import annotations

import csv
import io
import json
from itertools import pairwise
from pathlib import Path

import pytest

from sim import cli

ASKED = ["diagnose", "first", "--topology", "single-feed", "--seen", "panel/r2c1 all dark"]


def _shown(capsys: pytest.CaptureFixture[str], *more: str) -> str:
    assert cli.run([*ASKED, *more]) == 0
    done = capsys.readouterr()
    assert done.err == ""
    return done.out


def test_text_names_groups_looks_and_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    text = _shown(capsys, "--width", "100")
    assert "Seen and reported: panel/r2c1 all dark." in text
    for heading in ("What may be wrong", "What to look at next", "How to read it", "Cautions"):
        assert heading in text
    assert "Power: only qualified people" in text and "Height: behind and above" in text
    assert "photosensitive" in text and "IEC 60825-2" in text
    assert "placeholder; general trade knowledge, from memory" in text
    assert max(map(len, text.splitlines())) <= 100


def test_markdown_has_the_same_headings(capsys: pytest.CaptureFixture[str]) -> None:
    assert "## What to look at next" in _shown(capsys, "--format", "markdown")


def test_json_holds_all_groups_and_chances(capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(_shown(capsys, "--format", "json"))
    assert document["format"] == "staylit-diagnose 1"
    found = document["diagnosis"]
    suspects = [s["chance"] for group in found["groups"] for s in group["suspects"]]
    assert sum(suspects) == pytest.approx(1)
    assert found["kind"] == "single" and found["struck"] == 105
    worth = [each["bits_a_minute"] for each in found["nexts"]]
    assert all(a >= b for a, b in pairwise(worth)) and len(worth) > 1


def test_csv_has_a_line_for_each_fault(capsys: pytest.CaptureFixture[str]) -> None:
    rows = list(csv.DictReader(io.StringIO(_shown(capsys, "--format", "csv"))))
    document = json.loads(_shown(capsys, "--format", "json"))
    names = [s["name"] for g in document["diagnosis"]["groups"] for s in g["suspects"]]
    assert [row["fault"] for row in rows] == names
    assert sum(float(row["chance"]) for row in rows) == pytest.approx(1)


def test_the_same_question_gives_the_same_bytes(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    first = _shown(capsys, "--width", "100")
    assert cli.run([*ASKED, "--output", str(tmp_path / "found.txt")]) == 0
    assert (tmp_path / "found.txt").read_text(encoding="utf-8") == first


def test_a_pair_is_said_to_be_one_and_limited(capsys: pytest.CaptureFixture[str]) -> None:
    seen = ["--seen", "panel/r1c1 dark", "--seen", "panel/r2c2 dark", "--seen", "all else steady"]
    assert cli.run(["diagnose", "first", *seen]) == 0
    text = capsys.readouterr().out
    assert "No single fault explains all of it; two together do." in " ".join(text.split())
    assert "Pairs were tried among the 30" in " ".join(text.split())


def test_a_contradiction_ends_with_0_and_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    said = ["--seen", "panel lit", "--seen", "panel all dark"]
    assert cli.run(["diagnose", "first", *said]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "contradicts itself" in text
    assert "No single fault makes both so: panel lit; panel all dark." in text


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ([], ["nothing is said to be seen", "do: say something"]),
        (["--seen", "panl dark"], ["there is no place 'panl'", "nearest: panel"]),
        (["--seen", "panel dim"], ["not how a place looks", "allowed: dark"]),
        (["--report", "port x: link no"], ["there is no port 'x'"]),
        (["--seen", "panel dark", "--since", "3 h"], ["longer than the show", "--since start"]),
        (["--seen", "panel dark", "--since", "soon"], ["--since 'soon'"]),
        (["--seen", "panel dark", "--topology", "relay-par"], ["nearest: relay-pair"]),
        (["--seen"], ["staylit diagnose"]),
        (["--sen", "x"], ["no option --sen", "nearest: --seen"]),
    ],
)
def test_wrong_input_ends_with_2_and_says_what_to_do(
    more: list[str], said: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["diagnose", "first", *more]) == 2
    done = capsys.readouterr()
    assert done.out == ""
    for each in said:
        assert each in done.err
