"""The command `slips`: what it writes in every format, what fits a page, what it refuses.

In: command lines, hostile scenarios. Out: texts, exit statuses; pages as a browser prints them.
The browser is Debian's (`chromium`), pages are counted by `pdfinfo` of poppler-utils: outside the
project, both set up by .ci/run.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable, Sequence
from html.parser import HTMLParser
from pathlib import Path

import pytest

from sim import cli, commands_slips
from sim.asked import Asked
from sim.report.slips_acts import LONGEST, cut
from sim.report.slips_page import SIZES
from sim.report.slips_report import Found
from tests.slip_books import SCENARIOS

HOSTILE = '<script>alert("1")</script><img src=x onerror=alert(2)>{{ 7*7 }}{% raw %}&amp;'


WORKED = commands_slips._found
KNOWN: dict[tuple[object, ...], Found] = {}


def _once(asked: Asked, degraded: Sequence[str], told: Callable[[str], None]) -> Found:
    """What slips are made of, worked out once for all formats and papers."""
    path = SCENARIOS / f"{asked.path}.yaml" if asked.path.suffix != ".yaml" else asked.path
    key = (path.read_bytes(), asked.group, asked.topology, *degraded)
    if key not in KNOWN:
        KNOWN[key] = WORKED(asked, degraded, told)
    return KNOWN[key]


@pytest.fixture(autouse=True)
def _worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(commands_slips, "_found", _once)


def _shown(capsys: pytest.CaptureFixture[str], *asked: str) -> str:
    assert cli.run(["slips", *asked]) == 0
    done = capsys.readouterr()
    assert done.err == ""
    return done.out


@pytest.mark.parametrize("width", [80, 100])
def test_text_fits_its_width_and_names_everything(
    capsys: pytest.CaptureFixture[str], width: int
) -> None:
    text = _shown(capsys, "first", "--width", str(width))
    assert max(map(len, text.splitlines())) <= width
    assert len(re.findall(r"^Slip \d+: ", text, re.MULTILINE)) == 19
    for heading in ("Never do", "Hand-over", "How to read it", "Cautions"):
        assert f"\n{heading}\n" in text
    assert re.search(r"switch wall power on\s+again", text)
    assert "Never close a breaker a second time that has tripped again." in text


def test_json_holds_every_fault_and_exact_figures(capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(_shown(capsys, "first", "--format", "json"))
    assert document["format"] == "staylit-slips 1"
    names = [n for slip in document["slips"] for s in slip["suspects"] for n in s["names"]]
    assert len(names) == len(set(names)) == 129
    acting = next(slip for slip in document["slips"] if slip["first"]["acts"])
    assert acting["first"]["says"] == "switch wall power on again, once, if found safe"
    assert re.fullmatch(r"\d+/\d+", acting["first"]["saves"])
    weights = [slip["weight"] for slip in document["slips"]]
    assert weights == sorted(weights, reverse=True)


def test_the_same_question_gives_the_same_bytes(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(commands_slips, "_found", WORKED)
    first = _shown(capsys, "first", "--format", "html")
    assert cli.run(["slips", "first", "--output", str(tmp_path / "book.html")]) == 0
    assert (tmp_path / "book.html").read_text(encoding="utf-8") == first


def test_one_group_of_a_rig_has_slips_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(_shown(capsys, "river", "--group", "banks", "--format", "json"))
    names = {n for slip in document["slips"] for s in slip["suspects"] for n in s["names"]}
    assert "banks/unit-a dead" in names and "house sync dead" in names
    assert not any(name.startswith("main/") for name in names)
    assert [each["group"] for each in document["topologies"]] == ["banks"]


def test_the_hand_over_takes_what_has_failed_already(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--degraded", "dead panel/relay-main before the show", "--format", "markdown"]
    text = _shown(capsys, "first", *asked)
    assert "Degraded: panel/relay-main dead." in text
    assert r"| wall panel, 4 cabinets | panel/unit-a \> panel/relay-backup | none, 1 lost |" in text


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--degraded", "dead panel/relay-main at 5 s"], "is not there already"),
        (["--degraded", "dead panel/relay-mian before the show"], "relay-main"),
        (["--topology", "relay-pear"], "relay-pair"),
        (["--group", "panle"], "panel"),
        (["--format", "csv"], "text, markdown, json, html"),
        (["--paper", "a5"], "a6, a4"),
        (["--output", "book.svg"], "is not written here"),
    ],
)
def test_bad_input_is_refused_with_what_is_allowed(
    capsys: pytest.CaptureFixture[str], asked: list[str], said: str
) -> None:
    assert cli.run(["slips", "first", *asked]) == 2
    done = capsys.readouterr()
    assert said in done.err and "Traceback" not in done.err and done.out == ""


# ---- hostile names -------------------------------------------------------------------------------


class _Page(HTMLParser):
    """The elements, their attributes and the text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.texts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


NAME = "desk & 'power'"
"""As far as the name of a circuit may go."""


def _hostile(tmp_path: Path) -> Path:
    """The scenario `first` with a title and a label that are markup, and a circuit's name."""
    text = (SCENARIOS / "first.yaml").read_text(encoding="utf-8")
    text = text.replace("title: First steps", f"title: '{HOSTILE}'")
    label = "offered: {topology: relay-pair, label: '<b>pair</b>'}"
    text = text.replace("offered: relay-pair", label).replace("desk power", NAME)
    path = tmp_path / "hostile.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_a_scenario_says_is_text_and_never_markup(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    own = _Page(_shown(capsys, "first", "--format", "html"))
    page = _shown(capsys, str(_hostile(tmp_path)), "--format", "html")
    told = _Page(page)
    assert set(told.tags) == set(own.tags) and told.attributes == own.attributes
    assert "script" not in told.tags and "img" not in told.tags
    text = "".join(told.texts)
    assert HOSTILE in text and "<b>pair</b>" in text and f"witch {NAME} on again" in text
    assert "&lt;script&gt;" in page and "{{ 7*7 }}" in text


def test_an_unescaped_page_would_be_found(tmp_path: Path) -> None:
    assert "script" in _Page(f"<p>{HOSTILE}</p>").tags


def test_markdown_escapes_the_same_names(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = _shown(capsys, str(_hostile(tmp_path)), "--format", "markdown")
    assert "<script" not in text.replace(r"\<", "") and r"\<script\>" in text


def test_a_long_name_cannot_fill_a_page() -> None:
    assert len(cut("x" * 500)) == LONGEST and cut("x" * 500).endswith("...")
    assert cut("a\x1b[2Jb\nc") == "a\\x1b[2Jb c"


# ---- printed -------------------------------------------------------------------------------------

MEASURE = """<script>addEventListener("load", () => {
const found = [...document.querySelectorAll(".slip")].map(slip => {
  const box = slip.getBoundingClientRect(), list = slip.querySelector("dl").getBoundingClientRect();
  const foot = slip.querySelector("footer").getBoundingClientRect();
  const wide = slip.scrollWidth > slip.clientWidth;
  return list.bottom <= foot.top && foot.bottom <= box.bottom - 18 && !wide ? "fits" : "not"; });
document.title = "MEASURED " + found.join(" "); });</script></head>"""
"""In a browser: whether each slip's texts end above its foot, and the foot above the edge of the
paper (18 CSS pixels, 4.8 mm).
"""


def _browser(tmp_path: Path, *asked: str) -> str:
    """What the browser writes. It is part of the test environment: see .ci/run."""
    program = shutil.which("chromium")
    assert program, "install chromium (Debian's), as .ci/run does"
    command = [
        program, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
        f"--user-data-dir={tmp_path / 'profile'}", *asked,
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=200, check=True)
    return done.stdout


def _fits(tmp_path: Path, page: str) -> list[str]:
    path = tmp_path / "measured.html"
    path.write_text(page.replace("</head>", MEASURE, 1), encoding="utf-8")
    shown = _browser(tmp_path, "--dump-dom", path.as_uri())
    found = re.search("MEASURED ([^<]*)<", shown)
    assert found, shown[:500]
    return found[1].split()


def _pages(tmp_path: Path, page: str) -> tuple[int, str]:
    """How many pages the browser prints, and their size."""
    path, printed = tmp_path / "printed.html", tmp_path / "printed.pdf"
    path.write_text(page, encoding="utf-8")
    _browser(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={printed}", path.as_uri())
    told = subprocess.run(["pdfinfo", printed], capture_output=True, text=True, check=True).stdout
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+)", told)
    pages = re.search(r"Pages: +(\d+)", told)
    assert size and pages
    return int(pages[1]), " x ".join(str(round(float(n) / 72 * 25.4)) for n in size.groups())


SLIPS = {"first": 19, "river": 138}
"""Slips of each: as many pages on A6."""


@pytest.mark.parametrize(
    ("scenario", "paper", "size", "sheets"),
    [
        ("first", "a6", "105 x 148", 19), ("first", "a4", "210 x 297", 5),
        ("river", "a6", "105 x 148", 138), ("river", "a4", "210 x 297", 35),
    ],
)  # fmt: skip
def test_every_slip_fits_its_page(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, scenario: str, paper: str, size: str,
    sheets: int,
) -> None:  # fmt: skip
    page = _shown(capsys, scenario, "--format", "html", "--paper", paper)
    fits = _fits(tmp_path, page)
    assert fits == ["fits"] * SLIPS[scenario]
    assert _pages(tmp_path, page) == (sheets + 2, size), "and a page each of never-do and hand-over"


def test_a_slip_that_does_not_fit_would_be_found(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    page = _shown(capsys, "first", "--format", "html")
    longer = page.replace("<dt>may be</dt><dd>", f"<dt>may be</dt><dd><p>{'more ' * 700}</p>", 1)
    assert _fits(tmp_path, longer).count("not") == 1


def test_long_names_fit_too(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text = (SCENARIOS / "first.yaml").read_text(encoding="utf-8")
    for name in ("desk power", "wall power", "left hand", "right hand", "player", "panel"):
        text = re.sub(rf"\b{name}\b", name.replace(" ", "-") + "-very-long" * 5, text)
    path = tmp_path / "long.yaml"
    path.write_text(text, encoding="utf-8")
    page = _shown(capsys, str(path), "--format", "html")
    assert "..." in page and set(_fits(tmp_path, page)) == {"fits"}


def test_type_is_never_smaller_than_a_hand_can_read() -> None:
    assert min(SIZES) >= 6, "points; common practice for small print, no source"
