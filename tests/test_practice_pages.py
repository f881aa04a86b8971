"""Pages of what is used on the day: the test sheet, the after-action report, slips as PDF.

In: `proof` of `first`, a drill of `studio` with its script. Out: against the same reports in
Markdown.
"""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from sim import cli, commands, printing
from sim import commands_rehearse as rehearsing
from sim.asked import Asked
from sim.shipped import find, find_drill
from tests.pages import Page, unticked

DRILL = "studio-lost-reference"
SCRIPT = Path(__file__).parents[1] / "scenarios" / "drills" / f"{DRILL}.script.yaml"


@cache
def made(name: str, form: str) -> str:
    wanted = Asked(find("first" if name == "proof" else "studio"), format=form)
    if name == "proof":
        return commands.proof(wanted).text
    return rehearsing.scripted(rehearsing.ready(wanted, find_drill(DRILL)), SCRIPT, wanted).text


@pytest.mark.parametrize("name", ["proof", "rehearse"])
def test_the_page_has_every_section_and_sentence_of_the_report_once(name: str) -> None:
    told = made(name, "markdown")
    read = Page(made(name, "html"))
    there = Counter(unticked(e.text) for e in read.all("h1", "h2", "h3", "h4", "p", "li"))
    headings = [line.lstrip("# ") for line in told.splitlines() if line.startswith("#")]
    points = [line[2:] for line in told.splitlines() if line.startswith("- ")]
    assert len(headings) > 3 and len(points) > 5
    for text in (*headings, *points):
        plain = unticked(re.sub(r"\\(.)", r"\1", text))
        assert any(plain == each.removeprefix("Warning. ") for each in there), plain
    lead = [text for text, count in there.items() if len(text) > 60 and count > 1]
    assert not [text for text in lead if not text.startswith(("Warning.", "Power:"))]


def test_the_sheet_has_blanks_to_write_in() -> None:
    read = Page(made("proof", "html"))
    steps = [e.text for e in read.all("h2", "h3") if e.text.startswith("Step ")]
    heads = [e.text for e in read.all("th")]
    assert steps and heads.count("by whom") == heads.count("when") == len(steps)
    blanks = [e for e in read.all("td", "th") if e.attributes.get("class") == "blank"]
    assert len(blanks) == 6 * len(steps)


@pytest.mark.parametrize("name", ["proof", "rehearse"])
def test_the_page_holds_no_script_and_asks_for_nothing(name: str) -> None:
    text = made(name, "html")
    assert "<script" not in text
    assert not re.search(r"(?:src|href)=\"(?!#)", text)


def test_slips_are_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []

    def printed(page: str) -> bytes:
        seen.append(page)
        return b"%PDF-1.4 by a test"

    monkeypatch.setattr(printing, "printed", printed)
    monkeypatch.setattr(printing, "browser", lambda: "a browser")
    out = tmp_path / "slips.pdf"
    assert cli.run(["slips", "first", "--output", str(out)]) == 0
    assert out.read_bytes() == b"%PDF-1.4 by a test"
    assert 'class="slip' in seen[0]
