"""One report as one page that needs nothing from elsewhere: the answer first, then all of it.

In: frozen `Report`s (blocks, charts), the answers, the break bench where there is one. Out: HTML
with its style, script and charts inline, and a policy that lets nothing else in: hashes of this
very style and script. Whatever a scenario says is text: jinja2 escapes it.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from sim.report import bench_view
from sim.report.bench_view import Bench
from sim.report.blocks import Block, Blocks, Heading, Para, Points
from sim.report.charts import Chart
from sim.report.page_answers import Answer
from sim.report.page_blocks import Section, part_of, sections, shown
from sim.report.page_figures import drawn
from sim.report.templating import rendered, source, trusted

CAUTIONS = "Cautions"
LONGEST_TITLE = 300
PAPERS = {"a4": "A4", "letter": "letter"}
MOST_ENTRIES = 24
"""Headings below the sections stand in the contents only if all are no more."""


@dataclass(frozen=True, slots=True)
class Report:
    """Blocks, title first, and charts of what they tell."""

    blocks: Blocks
    charts: tuple[Chart, ...] = ()


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart as SVG, and where the table with the same figures stands."""

    title: str
    drawn: Any
    table: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the contents with what stands below it."""

    title: str
    ident: str
    below: tuple[Entry, ...] = ()


def page(
    reports: Sequence[Report], answers: Sequence[Answer], bench: Bench | None = None,
    paper: str = "",
) -> str:  # fmt: skip
    """The whole page. `paper`: "" as whoever prints it has, else a size by its name."""
    title, parts = _parts(reports)
    charts = tuple(_charts(reports, parts))
    every = [block for report in reports for block in report.blocks]
    script = bench_view.script() if bench else ""
    style = _style(bench, paper)
    sheets = [section for of in parts for section in of]
    return rendered(
        "page.html",
        title=title,
        policy=_policy(style, script),
        style=trusted(style),
        script=trusted(script),
        answers=[_answer(each) for each in answers],
        warnings=warnings_of(every),
        contents=_contents(sheets, bool(bench), bool(charts)),
        bench=bench,
        charts=charts,
        parts=sheets,
        cautions=split(every)[1],
    )


def _style(bench: Bench | None, paper: str) -> str:
    size = f"@page {{ size: {PAPERS[paper]}; }}\n" if paper else ""
    return source("page.css") + (bench_view.style() if bench else "") + size


def _policy(style: str, script: str) -> str:
    """Nothing is loaded from anywhere; only this style and this script hold."""
    scripts = f"'sha256-{_digest(script)}'" if script else "'none'"
    return (
        f"default-src 'none'; style-src 'sha256-{_digest(style)}'; script-src {scripts}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return b64encode(sha256(text.encode()).digest()).decode()


# ---- the parts -----------------------------------------------------------------------------------


def _parts(reports: Sequence[Report]) -> tuple[str, list[tuple[Section, ...]]]:
    """The title of the page, and the sections of each report."""
    firsts = [block for report in reports for block in report.blocks[:1]]
    titles = [block.text for block in firsts if isinstance(block, Heading)]
    alone = len(reports) == 1
    made: list[tuple[Section, ...]] = []
    for report in reports:
        rest = [*split(report.blocks)[0]]
        rest = rest[1:] if alone and rest and _titled(rest[0]) else rest
        taken = {section.ident for of in made for section in of}
        made.append(sections(_told(rest) if alone else rest, 0 if alone else 1, taken))
    title = titles[0] if alone and titles else _common(titles)
    title = shown(title)
    return title if len(title) <= LONGEST_TITLE else f"{title[:LONGEST_TITLE]}\u2026", made


def _titled(block: Block) -> bool:
    return isinstance(block, Heading) and block.level == 1


LEAD = "The report in full"


def _told(blocks: list[Block]) -> list[Block]:
    """What stands before the first heading gets one."""
    return blocks if not blocks or isinstance(blocks[0], Heading) else [Heading(LEAD), *blocks]


def _common(titles: Sequence[str]) -> str:
    """What several titles begin and end with: `Night regatta: risk of a show`."""
    begins = titles[0].partition(", wall group ")[0] if titles else ""
    return begins + (titles[0].rpartition(":")[2] and f":{titles[0].rpartition(':')[2]}")


def _charts(reports: Sequence[Report], parts: Sequence[tuple[Section, ...]]) -> Iterator[Drawn]:
    number = 0
    for report, of in zip(reports, parts, strict=True):
        for chart in report.charts:
            number += 1
            found = next((s for s in of if s.title.startswith(shown(chart.table))), None)
            element = trusted(drawn(chart, f"chart-{number}"))
            where = (found.title, found.ident) if found else ("", "")
            yield Drawn(shown(chart.title), element, *where)


def _answer(each: Answer) -> dict[str, Any]:
    name = each.name or "Summary"
    return {
        "name": shown(each.name),
        "sentences": tuple(map(shown, each.sentences)),
        "table": part_of(each.table, f"{name}: table") if each.table else None,
        "said": shown(each.said),
    }


def _contents(sheets: Sequence[Section], bench: bool, charts: bool) -> tuple[Entry, ...]:
    fixed = [("Break bench", "bench")] * bench + [("Charts", "charts")] * charts
    entries = [Entry(title, ident) for title, ident in fixed]
    deep = len(sheets) <= MOST_ENTRIES
    for section in sheets:
        if section.level == 2:
            entries.append(Entry(section.title, section.ident))
        elif section.level == 3 and entries and deep:
            last = entries.pop()
            below = (*last.below, Entry(section.title, section.ident))
            entries.append(Entry(last.title, last.ident, below))
    return (Entry("Summary", "summary"), *entries, Entry(CAUTIONS, "cautions"))


def warnings_of(blocks: Iterable[Block]) -> tuple[str, ...]:
    """What must not be overlooked, each once."""
    found = (block.text for block in blocks if isinstance(block, Para) and block.warning)
    return tuple(map(shown, dict.fromkeys(found)))


def split(blocks: Iterable[Block]) -> tuple[Blocks, tuple[str, ...]]:
    """The blocks without their sections of cautions, and the sentences of these, each once."""
    rest: list[Block] = []
    cautions: list[str] = []
    within = False
    for block in blocks:
        if isinstance(block, Heading):
            within = block.text == CAUTIONS
        if not within:
            rest.append(block)
        elif isinstance(block, Points):
            cautions += block.texts
    return tuple(rest), tuple(map(shown, dict.fromkeys(cautions)))
