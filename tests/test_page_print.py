"""Pages printed to PDF, and looked at in a browser: all sections are on paper, no row is cut, no
word lies outside of it; what a machine can say of access for all. The browser is part of the test
environment (.ci/run).
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest
from playwright.sync_api import Browser, sync_playwright
from playwright.sync_api import Page as Tab

import sim.report
from sim.printing import printed
from sim.report import pages as made
from sim.report.blocks import Block, Blocks, Heading, Para, Points, Table
from sim.report.page import Report, page
from sim.report.page_answers import Answer
from sim.report.risk_report import risk_blocks
from tests import risk_studies
from tests.pages import Page, comparison, first, injected

XHTML = "{http://www.w3.org/1999/xhtml}"
RULE = "tr { break-inside: avoid; }"
PAPER = {"a4": (595, 842), "letter": (612, 792)}
"""Points: ISO 216, 210 x 297 mm; ANSI A, 8.5 x 11 in (values from memory)."""


@dataclass(frozen=True)
class Word:
    """A word on paper: its page (from 1), its box in points."""

    text: str
    page: int
    box: tuple[float, float, float, float]


@dataclass(frozen=True)
class Printed:
    """A PDF as another program reads it: words with boxes, the size of each page, its text."""

    words: tuple[Word, ...]
    sizes: tuple[tuple[float, float], ...]
    text: str

    def on(self, page: int) -> str:
        return "".join(word.text for word in self.words if word.page == page)


def _read(data: bytes, folder: Path) -> Printed:
    path = folder / "printed.pdf"
    path.write_bytes(data)
    ask = ["pdftotext", "-bbox-layout", str(path), "-"]
    told = subprocess.run(ask, capture_output=True, check=True).stdout
    root = ElementTree.fromstring(told)
    words, sizes = [], []
    for number, sheet in enumerate(root.iter(f"{XHTML}page"), 1):
        sizes.append((float(sheet.get("width", 0)), float(sheet.get("height", 0))))
        for each in sheet.iter(f"{XHTML}word"):
            box = tuple(float(each.get(side, 0)) for side in ("xMin", "yMin", "xMax", "yMax"))
            words.append(Word(each.text or "", number, box))  # type: ignore[arg-type]
    plain = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, check=True).stdout
    return Printed(tuple(words), tuple(sizes), plain.decode())


def _squeezed(text: str) -> str:
    """A text without its spaces and dashes: lines are broken elsewhere on paper, and a dash at the
    end of a line is taken for one of hyphenation.
    """
    return re.sub(r"[\s-]+", "", text.replace("\u00a0", ""))


@cache
def _htmls() -> dict[str, str]:
    groups, scenario = comparison().groups, first()
    studies = [s for one in groups for s in one.studies if s.variant.offered]
    return {
        "compare": made.compare_page(groups, scenario, None, "a4"),
        "faults": made.faults_page(studies, scenario, None, "letter"),
        "inject": made.inject_page(injected(), None, "a4"),
        "risk": made.risk_page([risk_studies.FULL], None, "letter"),
    }


PAPERS = {"compare": "a4", "faults": "letter", "inject": "a4", "risk": "letter"}
each_page = pytest.mark.parametrize("name", list(PAPERS))


@pytest.fixture(scope="module")
def prints(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Printed]:
    """Each page as printed by the program itself."""
    folder = tmp_path_factory.mktemp("printed")
    return {name: _read(printed(html), folder) for name, html in _htmls().items()}


@each_page
def test_paper_holds_the_summary_every_heading_and_the_cautions(
    prints: dict[str, Printed], name: str
) -> None:
    read, text = Page(_htmls()[name]), _squeezed(prints[name].text)
    for element in read.all("h1", "h2", "h3", "h4"):
        assert _squeezed(element.text) in text, element.text
    first_page = _squeezed(prints[name].text.partition("\f")[0])
    for answer in (e for e in read.elements if e.attributes.get("class") == "answer"):
        assert _squeezed(answer.text) in first_page
    for each in read.all("li"):
        if "section" in each.path and "nav" not in each.path:
            assert _squeezed(each.text) in text, each.text


@each_page
def test_every_page_has_its_number_and_the_size_asked_for(
    prints: dict[str, Printed], name: str
) -> None:
    seen = prints[name]
    for number, size in enumerate(seen.sizes, 1):
        assert tuple(map(round, size)) == PAPER[PAPERS[name]]
        foot = [w.text for w in seen.words if w.page == number and w.box[1] > size[1] - 48]
        assert " ".join(foot) == f"{number} of {len(seen.sizes)}"


@each_page
def test_no_word_lies_outside_the_margins(prints: dict[str, Printed], name: str) -> None:
    margin = 14 / 25.4 * 72 - 1.5
    for word in prints[name].words:
        wide, high = prints[name].sizes[word.page - 1]
        assert margin <= word.box[0] and word.box[2] <= wide - margin, word
        assert word.box[1] >= 0 and word.box[3] <= high, word


def test_type_is_not_shrunk_to_fit_the_paper(prints: dict[str, Printed]) -> None:
    """A browser shrinks all of a page that is too wide: then text is smaller than asked for."""
    for name, seen in prints.items():
        title = next(word for word in seen.words if word.text in _htmls()[name])
        assert title.box[3] - title.box[1] > 17, "points: type of 17, so its line is higher"


# ---- rows ----------------------------------------------------------------------------------------


def _marked(blocks: Blocks, long: int = 1) -> Blocks:
    """A report whose tables have as many words as before, each one telling its table, row and
    column; cells `long` times as long.
    """
    done: list[Block] = []
    for table, block in enumerate(blocks):
        if not isinstance(block, Table):
            done.append(block)
            continue
        rows = tuple(
            tuple(
                " ".join([f"t{table}r{row}c{column}w"] * len(cell.split()) * long)
                for column, cell in enumerate(cells)
            )
            for row, cells in enumerate(block.rows)
        )
        head = tuple(f"h{table}c{column}" for column in range(len(block.head)))
        done.append(replace(block, head=head, rows=rows))
    return tuple(done)


def _cut_rows(seen: Printed) -> list[tuple[str, str]]:
    """Rows of which words lie on several pages."""
    where: dict[tuple[str, str], set[int]] = defaultdict(set)
    for word in seen.words:
        found = re.fullmatch(r"t(\d+)r(\d+)c\d+w", word.text)
        if found:
            where[found[1], found[2]].add(word.page)
    assert len(where) > 40, "rows were found at all"
    return [row for row, pages in where.items() if len(pages) > 1]


def _rows_page(long: int) -> str:
    blocks = _marked(risk_blocks([risk_studies.FULL]), long)
    answer = Answer("", ("A sentence.",), None)
    return page([Report(blocks)], [answer], None, "a4")


@cache
def _rows_printed(long: int) -> bytes:
    return printed(_rows_page(long))


@pytest.mark.parametrize("long", [1, 4])
def test_no_row_is_cut_and_every_head_is_repeated(tmp_path: Path, long: int) -> None:
    seen = _read(_rows_printed(long), tmp_path)
    assert not _cut_rows(seen)
    tables: dict[str, set[int]] = defaultdict(set)
    for word in seen.words:
        found = re.fullmatch(r"t(\d+)r\d+c\d+w", word.text)
        if found:
            tables[found[1]].add(word.page)
    assert any(len(pages) > 1 for pages in tables.values()), "a table goes on over pages"
    for table, pages in tables.items():
        for each in pages:
            assert re.search(rf"h{table}c\d", seen.on(each)), f"no head of {table} on page {each}"


def test_every_word_of_every_row_is_on_paper(tmp_path: Path) -> None:
    wanted = re.findall(r"t\d+r\d+c\d+w", _rows_page(4))
    seen = _read(_rows_printed(4), tmp_path)
    found = [w.text for w in seen.words if re.fullmatch(r"t\d+r\d+c\d+w", w.text)]
    assert sorted(found) == sorted(wanted)


def test_without_the_rule_a_row_would_be_cut_and_found(tmp_path: Path) -> None:
    html = _rows_page(4)
    assert html.count(RULE) == 1
    digest_breaks = re.sub(r"<meta http-equiv=.*?>", "", html).replace(RULE, "")
    assert _cut_rows(_read(printed(digest_breaks), tmp_path))


def test_a_head_that_is_not_repeated_would_be_found(tmp_path: Path) -> None:
    html = re.sub(r"<meta http-equiv=.*?>", "", _rows_page(4))
    html = html.replace("thead { display: table-header-group;", "thead { display: table-row-group;")
    seen = _read(printed(html), tmp_path)
    pages = {w.page for w in seen.words if re.fullmatch(r"t\d+r\d+c\d+w", w.text)}
    heads = {w.page for w in seen.words if re.fullmatch(r"h\d+c\d+", w.text)}
    assert pages - heads


# ---- in a browser --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    program = shutil.which("chromium")
    assert program, "install chromium (Debian's), as .ci/run does"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Where each page lies."""
    folder = tmp_path_factory.mktemp("shown")
    for name, html in _htmls().items():
        (folder / f"{name}.html").write_text(html, encoding="utf-8")
    return {name: (folder / f"{name}.html").as_uri() for name in _htmls()}


WIDTHS = (360, 1024, 1920)


@each_page
def test_pages_fit_narrow_and_wide_screens_and_say_nothing(
    browser: Browser, shown: dict[str, str], name: str
) -> None:
    for wide in WIDTHS:
        context = browser.new_context(viewport={"width": wide, "height": 800})
        tab, said = context.new_page(), list[str]()
        tab.on("console", lambda message, said=said: said.append(message.text))
        tab.on("pageerror", lambda error, said=said: said.append(str(error)))
        tab.on("request", lambda request, said=said: said.append(request.url))
        tab.goto(shown[name])
        assert said == [shown[name]], "the page itself is all that is asked for, and no complaint"
        assert tab.evaluate("document.documentElement.scrollWidth") == wide
        context.close()


def test_a_page_that_is_too_wide_would_be_found(browser: Browser) -> None:
    tab = browser.new_page(viewport={"width": 360, "height": 800})
    tab.set_content("<table><tr><td>" + "x" * 200 + "</td></tr></table>")
    assert tab.evaluate("document.documentElement.scrollWidth") > 360
    tab.close()


TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
JUDGED = """async options => {
  const found = await axe.run({...options, selectors: false});
  const told = each => each.flatMap(one => one.nodes.map(node => [one.id, node.html]));
  const passes = found.passes.map(one => one.nodes.length);
  return {violations: told(found.violations), unsure: told(found.incomplete), passes};
}"""


@cache
def _axe() -> str:
    import axe_playwright_python

    path = Path(axe_playwright_python.__file__).parent / "axe.min.js"
    return path.read_text(encoding="utf-8")


@contextmanager
def _judge(browser: Browser, where: str, wide: int, scheme: str) -> Iterator[Tab]:
    """A page with axe-core, from its package, in it."""
    context = browser.new_context(
        viewport={"width": wide, "height": 800}, color_scheme=scheme, bypass_csp=True
    )
    tab = context.new_page()
    tab.goto(where)
    tab.evaluate(_axe())
    yield tab
    context.close()


def _violations(tab: Tab, contrast: bool) -> list[list[str]]:
    """By WCAG 2.2 A and AA, and by axe's best practices."""
    rules = {"color-contrast": {"enabled": contrast}}
    asked = {"runOnly": {"type": "tag", "values": TAGS}, "rules": rules}
    found = tab.evaluate(JUDGED, {**asked, "resultTypes": ["violations"]})
    assert len(found["passes"]) > 15, "rules were tried"
    return list(found["violations"])


def _poor_contrast(tab: Tab) -> list[list[str]]:
    """Texts of too little contrast, or of which nobody knows, on a page laid out plainly."""
    tab.add_style_tag(content=PLAIN)
    found = tab.evaluate(JUDGED, {"runOnly": ["color-contrast"]})
    judged = sum(found["passes"]) + len(found["violations"])
    assert judged > 100, "contrast was judged"
    unsure = [each for each in found["unsure"] if not SHORT.search(each[1])]
    return [*found["violations"], *unsure]


@each_page
def test_no_violation_of_wcag_is_found(browser: Browser, shown: dict[str, str], name: str) -> None:
    with _judge(browser, shown[name], 360, "light") as tab:
        assert _violations(tab, contrast=True) == []
    with _judge(browser, shown[name], 1920, "light") as tab:
        assert _violations(tab, contrast=False) == []
        assert _poor_contrast(tab) == []


@each_page
def test_the_dark_scheme_has_contrast_enough(
    browser: Browser, shown: dict[str, str], name: str
) -> None:
    """It changes colours and nothing else, and colours are the same at any width."""
    with _judge(browser, shown[name], 1920, "dark") as tab:
        assert _poor_contrast(tab) == []


def test_the_dark_scheme_changes_colours_only_whatever_the_width() -> None:
    read = (Path(sim.report.__file__).parent / "templates" / "page.css").read_text(encoding="utf-8")
    dark = re.findall(r"@media[^{]*dark[^{]*\{\s*:root \{([^}]*)\}\s*\}", read)
    assert len(dark) == read.count("prefers-color-scheme") == 1
    assert all(
        re.fullmatch(r"--[a-z]+: #[0-9a-f]{6}", each.strip()) for each in dark[0].split(";")[:-1]
    )
    by_width = re.findall(r"@media[^{]*width[^{]*\{((?:[^{}]*\{[^}]*\})*)", read)
    assert by_width and not any("color" in each or "--" in each for each in by_width)


PLAIN = ".scroll { background: none !important; overflow: visible !important; }"
"""Without shades at the edges, and with nothing hidden: both keep axe from judging contrast."""
SHORT = re.compile(r">.?</|^<text ")
"""A text of one letter, or of a chart, which axe does not judge (colours of charts: `test_page`).
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_page_of_poor_contrast_would_be_found(
    browser: Browser, shown: dict[str, str], scheme: str
) -> None:
    poor = {"light": "#999999", "dark": "#666666"}[scheme]
    with _judge(browser, shown["inject"], 1280, scheme) as tab:
        tab.add_style_tag(content=f":root {{ --ink: {poor} !important }}")
        assert {each[0] for each in _violations(tab, contrast=True)} == {"color-contrast"}
        assert {each[0] for each in _poor_contrast(tab)} == {"color-contrast"}


def test_a_page_without_a_language_would_be_found(browser: Browser, shown: dict[str, str]) -> None:
    with _judge(browser, shown["inject"], 1280, "light") as tab:
        tab.evaluate("document.documentElement.removeAttribute('lang')")
        assert [each[0] for each in _violations(tab, contrast=False)] == ["html-has-lang"]


def test_the_keyboard_reaches_links_and_what_scrolls_and_focus_is_seen(
    browser: Browser, shown: dict[str, str]
) -> None:
    tab = browser.new_page(viewport={"width": 360, "height": 800})
    tab.goto(shown["risk"])
    wanted = tab.evaluate("document.querySelectorAll('a, [tabindex=\"0\"]').length")
    reached = 0
    ask = "() => { const e = document.activeElement; return [e.tagName, "
    ask += "getComputedStyle(e).outlineStyle, parseFloat(getComputedStyle(e).outlineWidth)]; }"
    for _ in range(wanted):
        tab.keyboard.press("Tab")
        tag, style, width = tab.evaluate(ask)
        assert tag in ("A", "DIV") and style == "solid" and width >= 2
        reached += 1
    assert reached == wanted > 30
    tab.close()


def test_a_hostile_page_runs_nothing(browser: Browser, tmp_path: Path) -> None:
    wild = "<img src=x onerror=\"document.title='ran'\"><script>document.title='ran'</script>"
    table = Table((wild, wild), ((wild, wild),))
    blocks = (Heading(wild, 1), Heading(wild), Para(wild), Para(wild, True), Points((wild,)), table)
    path = tmp_path / "wild.html"
    path.write_text(made.blocks_page(blocks), encoding="utf-8")
    tab, asked = browser.new_page(), list[str]()
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(path.as_uri())
    assert tab.title() == wild and asked == [path.as_uri()]
    tab.close()
    bare = browser.new_page()
    bare.set_content(f"<title>a</title>{wild}")
    assert bare.title() == "ran"
    bare.close()


def test_even_markup_that_got_in_would_not_run(browser: Browser, tmp_path: Path) -> None:
    """The policy is the second wall: markup put into a finished page by hand."""
    html = made.blocks_page((Heading("t", 1), Heading("s"), Para("HERE")))
    wild = "<script>document.title='ran'</script><img src=x onerror=\"document.title='ran'\">"
    path = tmp_path / "wild.html"
    path.write_text(html.replace("HERE", wild), encoding="utf-8")
    tab = browser.new_page()
    tab.goto(path.as_uri(), wait_until="load")
    assert tab.title() == "t" and tab.locator("img").count() == 1
    tab.close()
