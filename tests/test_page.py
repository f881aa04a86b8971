"""Pages of reports: all that the report says stands in them, nothing from elsewhere, no markup of a
scenario's own. No browser: they are read with Python's own HTML parser.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from base64 import b64encode
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path

import pytest

from sim.report import bench_view
from sim.report import pages as made
from sim.report.bench_view import Bench, Shape, embedded
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Lines, Para, Points, Table
from sim.report.charts import Chart, Grid, Row, Rows
from sim.report.compare_report import compare_blocks
from sim.report.faults_report import faults_blocks
from sim.report.inject_report import inject_blocks
from sim.report.page import Report, page
from sim.report.page_answers import Answer
from sim.report.page_blocks import anchor, sections, shown
from sim.report.risk_report import risk_blocks
from sim.study.study import Comparison
from tests import risk_studies
from tests.pages import Element, Page, comparison, first, injected, risked, texts_of, unticked

ROOT = Path(__file__).parents[1]


@cache
def _reports() -> dict[str, tuple[Blocks, str]]:
    """The blocks of each command's text report, and its page."""
    groups, scenario = comparison().groups, first()
    studies = [s for one in groups for s in one.studies if s.variant.offered]
    with_money = risk_studies.FULL
    return {
        "compare": (compare_blocks(groups, scenario), made.compare_page(groups, scenario)),
        "faults": (faults_blocks(studies, scenario), made.faults_page(studies, scenario)),
        "inject": (inject_blocks(injected()), made.inject_page(injected())),
        "risk": (risk_blocks([risked()]), made.risk_page([risked()])),
        "risk with a contract": (risk_blocks([with_money]), made.risk_page([with_money])),
        "risk of two groups": (
            risk_blocks([with_money, replace(with_money, group="banks")]),
            made.risk_page([with_money, replace(with_money, group="banks")]),
        ),
    }


NAMES = (
    "compare", "faults", "inject", "risk", "risk with a contract", "risk of two groups",
)  # fmt: skip
each_page = pytest.mark.parametrize("name", NAMES)


def _page(name: str) -> Page:
    return Page(_reports()[name][1])


# ---- all of the report ---------------------------------------------------------------------------


@each_page
def test_every_heading_cell_and_sentence_of_the_report_stands_in_the_page(name: str) -> None:
    blocks, text = _reports()[name]
    page_read = Page(text)
    read = page_read.all("h1", "h2", "h3", "h4", "th", "td", "p", "li")
    there = {unticked(element.text) for element in read}
    pres = ("".join(e.pieces).replace("\u00a0", " ") for e in page_read.all("pre"))
    lines = {line for text in pres for line in text.split("\n")}
    for block in blocks:
        if isinstance(block, Heading) and block.level == 1 and name.endswith("groups"):
            assert block.text in there
        for said in texts_of(block):
            warned = isinstance(block, Para) and block.warning
            wanted = f"Warning. {said}" if warned else said
            plain = unticked(wanted.strip())
            found = wanted in lines if isinstance(block, Lines) else plain in there
            assert found or not wanted.strip(), (name, wanted)


@each_page
def test_tables_have_the_rows_of_the_report_in_their_order(name: str) -> None:
    blocks, text = _reports()[name]
    told = [[*map(str.strip, row)] for b in blocks if isinstance(b, Table) for row in b.rows]
    assert told, "the report has tables"
    seen = iter(_rows(Page(text)))
    assert all(any(row == other for other in seen) for row in told)


def _rows(read: Page) -> Iterator[list[str]]:
    row: list[str] = []
    for element in read.elements:
        if element.tag == "tr":
            if row:
                yield row
            row = []
        elif element.tag in ("td", "th") and "tbody" in element.path:
            row.append(element.text)
    yield row


def test_a_row_that_is_left_out_would_be_found() -> None:
    blocks, text = _reports()["compare"]
    table = next(b for b in blocks if isinstance(b, Table))
    cells = "two-unit"
    assert cells in table.rows[3]
    without = re.sub(rf"<tr>(?:(?!</tr>).)*{cells}.*?</tr>", "", text, flags=re.DOTALL)
    told = [[*map(str.strip, row)] for b in blocks if isinstance(b, Table) for row in b.rows]
    seen = iter(_rows(Page(without)))
    assert not all(any(row == other for other in seen) for row in told)


@each_page
def test_the_page_begins_with_the_answer_and_ends_with_the_cautions(name: str) -> None:
    read = _page(name)
    ids = [e.attributes["id"] for e in read.all("section", "nav") if "id" in e.attributes]
    assert ids[0] == "summary" and ids[1] == "contents" and ids[-1] == "cautions"
    answers = [e.text for e in read.elements if e.attributes.get("class") == "answer"]
    groups = 2 if name.endswith("groups") else 1
    assert groups <= len(answers) <= 3 * groups and all(answers)
    tables = [e for e in read.all("table") if _inside(read, e, "summary")]
    assert len(tables) == groups
    cautions = read.by_id("cautions").text
    assert all(text in cautions for text in CAUTIONS.texts)
    assert [e.text for e in read.all("h1")] == [read.all("title")[0].text]


def _inside(read: Page, element: object, ident: str) -> bool:
    """Whether an element stands after the beginning of a section and before the next one."""
    order = [e for e in read.elements if e.tag in ("section", "nav") or e is element]
    place = next(n for n, e in enumerate(order) if e is element)
    return order[place - 1].attributes.get("id") == ident


@pytest.mark.parametrize("name", ["compare", "faults", "inject"])
def test_the_answer_says_what_the_report_says(name: str) -> None:
    blocks, text = _reports()[name]
    told = " ".join(b.text for b in blocks if isinstance(b, Para))
    for answer in (e.text for e in Page(text).elements if e.attributes.get("class") == "answer"):
        assert answer in told


@each_page
def test_the_contents_lead_to_every_section(name: str) -> None:
    read = _page(name)
    ids = [e.attributes["id"] for e in read.elements if "id" in e.attributes]
    assert len(ids) == len(set(ids))
    links = [e for e in read.all("a") if e.attributes["href"].startswith("#")]
    assert all(e.attributes["href"][1:] in ids for e in links)
    linked = {e.text for e in links if "nav" in e.path}
    assert {e.text for e in read.all("h2")} - {"Contents"} == linked & {
        e.text for e in read.all("h2")
    }


@each_page
def test_tables_are_named_headed_and_reachable(name: str) -> None:
    read = _page(name)
    for table in read.all("table"):
        assert table.attributes["aria-label"].strip()
    assert len(read.all("thead")) == len(read.all("table")) > 0
    for element in read.all("th"):
        assert element.attributes["scope"] in ("col", "row") and element.text
    scrolled = [e for e in read.elements if e.attributes.get("class") == "scroll"]
    assert len(scrolled) == len(read.all("table", "pre"))
    for each in scrolled:
        assert each.attributes["tabindex"] == "0" and each.attributes["aria-label"]


def test_numbers_stand_to_the_right() -> None:
    table = Table(("name", "how many"), (("a", "3"), ("b", "40")), frozenset({1}))
    read = Page(made.blocks_page((Heading("t", 1), Heading("s"), table, CAUTIONS)))
    numbers = [e.text for e in read.all("td", "th") if e.attributes.get("class") == "number"]
    assert numbers == ["how many", "3", "40"]


# ---- nothing from elsewhere ----------------------------------------------------------------------

NOT_HERE = re.compile(r"https?:|//|@import|url\(|\bsrc(?:set)?=|<link\b|<iframe\b|<object\b", re.I)


@each_page
def test_nothing_is_asked_for_from_anywhere(name: str) -> None:
    assert not NOT_HERE.findall(_reports()[name][1])


def test_a_reference_to_elsewhere_would_be_found() -> None:
    for bad in ('<img src="x">', "url(#a)", "@import 'x'", "//host/x", "HTTPS://x", "<link rel=x>"):
        assert NOT_HERE.findall(bad), bad


@each_page
def test_there_is_no_style_and_no_script_but_those_of_the_policy(name: str) -> None:
    read = _page(name)
    _held_by_policy(read)
    assert not read.all("script", "base", "form", "iframe", "object", "embed", "link")


def _held_by_policy(read: Page) -> None:
    """Hashes worked out anew from what a parser finds in the elements."""
    (meta,) = (e for e in read.all("meta") if "http-equiv" in e.attributes)
    assert meta.attributes["http-equiv"] == "Content-Security-Policy"
    parts = [each.split(maxsplit=1) for each in meta.attributes["content"].split(";")]
    policy = {part[0]: part[1] for part in parts}
    assert policy["default-src"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert set(policy) == {
        "default-src", "style-src", "script-src", "img-src", "base-uri", "form-action"
    }  # fmt: skip
    scripts = [e for e in read.all("script") if e.attributes.get("type") != "application/json"]
    for element, key in [(e, "style-src") for e in read.all("style")] + [
        (e, "script-src") for e in scripts
    ]:
        digest = b64encode(sha256("".join(element.pieces).encode()).digest()).decode()
        assert policy[key] == f"'sha256-{digest}'"
    assert len(read.all("style")) == 1 and len(scripts) <= 1
    assert bool(scripts) == (policy["script-src"] != "'none'")
    first_style = read.elements.index(read.all("style")[0])
    assert read.elements.index(meta) < first_style, "a policy holds for what follows it"
    for element in read.elements:
        wrong = [n for n in element.attributes if n == "style" or n.startswith("on")]
        assert not wrong, (element.tag, wrong)
        assert not element.attributes.get("href", "#").strip().lower().startswith("javascript")


def test_a_page_with_a_bench_has_its_style_and_script_in_the_policy() -> None:
    wall = Shape("wall-0-0", "<svg class='wall'><path d='M0 0'></path></svg>")
    bench = Bench((wall,), (), embedded({"a": "</script><!-- & \u2028"}), embedded([]))
    read = Page(page([Report((Heading("t", 1), Heading("s"), Para("p")))], [], bench))
    _held_by_policy(read)
    script, *data = sorted(read.all("script"), key=lambda e: "type" in e.attributes)
    assert "".join(script.pieces) == bench_view.script() and len(data) == 2
    assert json.loads(read.by_id("bench-data").text) == {"a": "</script><!-- & \u2028"}
    assert bench_view.style() in "".join(read.all("style")[0].pieces)
    assert "Break bench" in read.by_id("contents").text
    assert read.by_id("bench").path == ("html", "body", "main")


def test_a_style_attribute_or_a_wrong_hash_would_be_found() -> None:
    text = _reports()["compare"][1]
    for wrong in (
        text.replace("<h1>", '<h1 style="color:red">'),
        text.replace("<h1>", '<h1 onclick="x()">'),
        text.replace("</style>", " </style>"),
        text.replace("default-src &#39;none&#39;", "default-src *"),
        text.replace("</body>", "<script>1</script></body>"),
    ):
        assert wrong != text
        with pytest.raises(AssertionError):
            _held_by_policy(Page(wrong))


# ---- charts --------------------------------------------------------------------------------------


@each_page
def test_charts_have_a_name_a_description_and_a_table_with_the_same_figures(name: str) -> None:
    read = _page(name)
    charts = read.all("svg")
    assert bool(charts) == name.startswith(("compare", "risk"))
    for chart in charts:
        assert chart.attributes["role"] == "img"
        title, told = chart.attributes["aria-labelledby"].split()
        assert read.by_id(title).tag == "title" and read.by_id(told).tag == "desc"
        assert read.by_id(title).text and read.by_id(told).text.endswith(".")
    same = [e for e in read.all("a") if "figcaption" not in e.path and "figure" in e.path]
    assert len(same) == len(charts) == len(read.all("figure"))


@pytest.mark.parametrize("name", ["compare", "risk", "risk with a contract"])
def test_every_figure_of_a_chart_stands_in_a_table_of_the_report(name: str) -> None:
    blocks, _ = _reports()[name]
    cells = " | ".join(c for b in blocks if isinstance(b, Table) for row in b.rows for c in row)
    charts = _specs()[name]
    assert charts
    for chart in charts:
        if isinstance(chart.what, Rows):
            for row in chart.what.rows:
                for figure in re.findall(r"\d[\d .]*\d|\d", row.told):
                    assert figure in cells, (chart.title, row)


def _specs() -> dict[str, tuple[Chart, ...]]:
    from sim.report.compare_charts import compare_charts
    from sim.report.risk_charts import risk_charts

    return {
        "compare": tuple(c for one in comparison().groups for c in compare_charts(one, False)),
        "risk": risk_charts(risked()),
        "risk with a contract": risk_charts(risk_studies.FULL),
    }


def test_the_worst_area_is_drawn_only_where_topologies_differ_in_it() -> None:
    from sim.report.compare_charts import compare_charts

    def titles(one: Comparison) -> str:
        return " | ".join(chart.title for chart in compare_charts(one, False))

    (alike,) = comparison().groups
    assert "Single faults" in titles(alike) and "The worst that one fault" not in titles(alike)
    kept = tuple(row for row in alike.studies[0].rows if row.lasting[1] < 1)
    other = replace(alike.studies[0], rows=kept)
    assert "The worst that one fault" in titles(replace(alike, studies=(other, *alike.studies[1:])))


def test_a_contract_brings_all_charts() -> None:
    titles = " | ".join(chart.title for chart in _specs()["risk with a contract"])
    for word in (
        "Expected loss of a show, by topology", "What helps most", "What moves the answer most",
        "costs more", "Risk matrix",
    ):  # fmt: skip
        assert word in titles


def test_texts_of_charts_stay_texts_and_colours_are_those_of_the_page() -> None:
    text = _reports()["risk with a contract"][1]
    charts = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    for chart in charts:
        assert "#" not in re.sub(r"&#\w+;", "", chart), "no colour of its own"
        inner = Page(chart)
        assert {e.tag for e in inner.elements} <= {"svg", "title", "desc", "path", "text"}
    words = " ".join(e.text for chart in charts for e in Page(chart).all("text"))
    assert "negligible" in words and "catastrophic" in words and "by ignorance" in words


def test_mathematics_in_a_name_stays_as_it_is() -> None:
    from sim.report.charts import Strip
    from sim.report.page_figures import drawn

    name = "a $x^2$ \\frac <b> \u4e2d"
    chart = Chart("t", "d.", "", Rows((Row(name, "1", (Strip(0, 1),)),)))
    assert [e.text for e in Page(drawn(chart, "c")).all("text")] == [name, "1"]


def _colours() -> Iterator[dict[str, str]]:
    """The variables of page.css, for light and for dark."""
    style = (ROOT / "sim" / "report" / "templates" / "page.css").read_text(encoding="utf-8")
    light, dark = (part.partition("}")[0] for part in style.split(":root {")[1:3])
    for text in (light, dark):
        yield dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", text))


def _contrast(one: str, other: str) -> float:
    """WCAG 2.2, relative luminance and contrast ratio (its own text, from memory)."""

    def light(colour: str) -> float:
        parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    high, low = sorted((light(one), light(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_texts_stand_out_from_all_that_they_stand_on_and_shapes_from_the_paper() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    assert _contrast("#777777", "#ffffff") < 4.5 < _contrast("#767676", "#ffffff")
    schemes = [*_colours()]
    assert len(schemes) == 2 and schemes[0]["paper"] != schemes[1]["paper"]
    for of in schemes:
        for text, ground in (
            ("ink", "paper"), ("dim", "paper"), ("accent", "paper"), ("ink", "fill"),
            ("ink", "tone"), ("ink", "line"), ("dim", "fill"),
        ):  # fmt: skip
            assert _contrast(of[text], of[ground]) >= 4.5, (text, ground)
        for shape in ("accent", "ink", "edge"):
            assert _contrast(of[shape], of["paper"]) >= 3, "WCAG 2.2, 1.4.11"


# ---- the same every time -------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["compare", "risk with a contract"])
def test_the_same_study_gives_the_same_bytes(name: str) -> None:
    again = {
        "compare": lambda: made.compare_page(comparison().groups, first()),
        "risk with a contract": lambda: made.risk_page([risk_studies.FULL]),
    }[name]
    assert again() == _reports()[name][1]


def test_another_process_with_settings_of_its_own_gives_the_same_bytes(tmp_path: Path) -> None:
    (tmp_path / "matplotlibrc").write_text("font.size: 30\nlines.linewidth: 9\naxes.grid: True\n")
    code = (
        "import sys; from sim.report import pages; from tests import risk_studies;"
        "sys.stdout.reconfigure(encoding='utf-8');"
        "sys.stdout.write(pages.risk_page([risk_studies.FULL]))"
    )
    env = {**os.environ, "PYTHONHASHSEED": "7", "MATPLOTLIBRC": str(tmp_path), "TZ": "Asia/Tokyo"}
    env["MPLCONFIGDIR"] = "/proc/none"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, check=True
    )
    assert done.stdout.decode() == _reports()["risk with a contract"][1]
    assert done.stderr == b"", "nor does anybody hear that there is no folder to write to"


# ---- hostile texts -------------------------------------------------------------------------------

ATTACKS = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</style><style>*{top:0}",
    "' onmouseover='alert(1)", "</script><script>1</script>", "]]><!--", "{{ 7*7 }}{% raw %}",
    "\u202eleft\u2066\u200f", "\x00\x1b[2J\x07", "&lt;b&gt;&#60;i&#62;", "</svg></td></table><h1>",
    "<svg onload=alert(1)>", "javascript:alert(1)", "-->", "</title><base href=x>", "\ud83d",
    "</textarea></noscript>", "$\\alpha$ %s {0}",
)  # fmt: skip
LONG = "<i>long " * 130_000
"""A megabyte."""


def _attacked(blocks: Blocks, say: Callable[[int], str]) -> Blocks:
    """The blocks with every text replaced, each cell that had one keeping one."""
    number = iter(range(10**6))

    def other(text: str) -> str:
        return say(next(number)) if text.strip() else text

    def one(block: Block) -> Block:
        if isinstance(block, Heading | Para):
            keep = isinstance(block, Heading) and block.text == "Cautions"
            return block if keep else replace(block, text=other(block.text))
        if isinstance(block, Points | Lines):
            return type(block)(tuple(map(other, block.texts)))
        rows = tuple(tuple(map(other, row)) for row in block.rows)
        return replace(block, head=tuple(map(other, block.head)), rows=rows)

    return tuple(map(one, blocks))


def _whole(blocks: Blocks, say: Callable[[int], str]) -> str:
    """A page all of whose texts are these."""
    table = next(b for b in blocks if isinstance(b, Table))
    charts = tuple(
        Chart(say(n), say(n + 1), say(n + 2), Rows((Row(say(n + 3), say(n + 4), ()),)))
        for n in range(len(ATTACKS))
    )
    grid = Chart(say(1), say(2), say(3), Grid((say(4),), ((say(5), ()),)))
    answer = Answer(say(6), (say(7), say(8), say(9)), table, say(10))
    return page([Report(blocks, (*charts, grid))], [answer])


def _structure(read: Page) -> list[tuple[str, tuple[str, ...], str]]:
    """Elements outside of charts (whose lines are broken by length), their attributes, classes."""
    return [
        (e.tag, tuple(sorted({*e.attributes} - {"class"})), _looks(e))
        for e in read.elements
        if "svg" not in e.path
        and "same" not in e.attributes.get("class", "")
        and e.tag not in ("a", "wbr")
    ]


def _looks(element: Element) -> str:
    return element.attributes.get("class", "").replace("long", "").strip()


@pytest.mark.parametrize("shift", range(3))
def test_texts_that_attack_change_nothing_but_texts(shift: int) -> None:
    blocks = _reports()["risk with a contract"][0]
    tame = _whole(_attacked(blocks, lambda n: f"text {n}"), lambda n: f"word {n}")
    wild_text = _whole(
        _attacked(blocks, lambda n: ATTACKS[(n + shift) % len(ATTACKS)]),
        lambda n: ATTACKS[(n + shift) % len(ATTACKS)],
    )
    wild = Page(wild_text)
    assert _structure(wild) == _structure(Page(tame))
    _held_by_policy(wild)
    assert not wild.all("script", "img", "base", "i", "b", "iframe", "form")
    assert {e.tag for e in wild.elements if "svg" in e.path} <= {"title", "desc", "path", "text"}
    text = "".join(e.text for e in wild.all("html"))
    assert "{{ 7*7 }}{% raw %}" in text and "<script>alert(1)</script>" in text
    assert "&lt;b&gt;&#60;i&#62;" in text, "what looks escaped is shown as it was written"
    assert not [c for c in wild_text if not c.isprintable() and c not in "\n\u00a0"]
    assert r"\u202eleft\u2066\u200f" in text and r"\x00\x1b[2J\x07" in text


def test_an_unescaped_text_would_be_found() -> None:
    blocks = _reports()["risk with a contract"][0]
    tame = _whole(_attacked(blocks, lambda n: f"text {n}"), lambda n: f"word {n}")
    hit = tame.replace("text 40", '<img src="x" onerror="alert(1)">', 1)
    assert hit != tame and _structure(Page(hit)) != _structure(Page(tame))


def test_a_megabyte_of_text_is_cut_and_the_page_stays_whole() -> None:
    blocks = _attacked(_reports()["compare"][0][:8], lambda n: LONG if n % 5 == 0 else "x" * 10**6)
    tame = _attacked(_reports()["compare"][0][:8], lambda n: "a word")
    text = _whole(blocks, lambda n: LONG if n == 6 else "x" * 10**6)
    assert _structure(Page(text)) == _structure(Page(_whole(tame, lambda n: "a word")))
    assert len(text) < 4_000_000


def test_what_is_cut_shows_it() -> None:
    assert shown("x" * 1000).endswith("x\u2026") and len(shown("x" * 1000)) == 401
    assert shown("short words") == "short words"
    assert len(shown("word " * 10_000)) == 20_001


def test_a_scenario_whose_texts_attack_gives_the_page_of_a_harmless_one(tmp_path: Path) -> None:
    from sim import cli

    wild = '<script>alert(1)</script>"><img src=x onerror=1>{{7*7}}]]>'
    tame = "a" * len(wild)
    told = []
    for number, said in enumerate((tame, wild)):
        text = (ROOT / "scenarios" / "first.yaml").read_text(encoding="utf-8")
        text = text.replace("title: First steps", f"title: '{said}'")
        text = text.replace("invented for this example", f"'{said}'")
        label = f"offered: {{topology: relay-pair, label: '{said}'}}"
        text = text.replace("offered: relay-pair", label)
        scenario, out = tmp_path / f"{number}.yaml", tmp_path / f"{number}.html"
        scenario.write_text(text, encoding="utf-8")
        assert cli.run(["compare", str(scenario), "--workers", "1", "--output", str(out)]) == 1
        told.append(Page(out.read_text(encoding="utf-8")))
    assert _structure(told[0]) == _structure(told[1])
    _held_by_policy(told[1])
    assert wild in told[1].by_id("summary").text and wild in told[1].all("title")[0].text


# ---- anchors -------------------------------------------------------------------------------------


def test_anchors_are_plain_and_never_twice() -> None:
    assert anchor("How likely") == "part-how-likely"
    assert anchor("How likely", ["part-how-likely"]) == "part-how-likely-2"
    assert anchor('"><x>', ()) == "part-x" and anchor("\u4e2d", ()) == "part-of-the-report"
    made_of = sections([Heading("a"), Heading("a"), Heading("A!"), Para("x")])
    assert [s.ident for s in made_of] == ["part-a", "part-a-2", "part-a-3"]
    assert made_of[2].parts[0].texts == ("x",)
