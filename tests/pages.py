"""Pages read again by other means than those that wrote them: Python's own HTML parser.

In: the text of a page. Out: its elements, headings, cells, texts, style and scripts; and the
reports of the scenario `first`, whose pages the tests read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

from sim.asked import Asked
from sim.commands import Compared, compared
from sim.executors import How
from sim.report.blocks import Block, Blocks, Heading, Lines, Para, Points, Table
from sim.report.inject_report import Told
from sim.risk.asked import RiskAsked
from sim.risk.promised import judged
from sim.risk.results import RiskStudy
from sim.risk.study import risk_of
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario

SCENARIOS = Path(__file__).parents[1] / "scenarios"
VOID = frozenset("area base br col embed hr img input link meta source track wbr".split())
SPACE = {"\u00a0": " "}


@dataclass
class Element:
    """A tag with its attributes and all the text in it; `path`: the tags that it lies in."""

    tag: str
    attributes: dict[str, str]
    path: tuple[str, ...]
    pieces: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Its text as people read it: a line for each line, no glued spaces."""
        return "".join(self.pieces).replace("\u00a0", " ").strip()


class Page(HTMLParser):
    """A page, read whole. Raises AssertionError where an element is closed that is not open."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(text)
        self.close()
        assert not self._open, [each.tag for each in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        path = tuple(each.tag for each in self._open)
        made = Element(tag, {name: value or "" for name, value in attrs}, path)
        self.elements.append(made)
        if tag == "br":
            self.handle_data("\n")
        if tag not in VOID:
            self._open.append(made)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open and self._open[-1].tag == tag, f"</{tag}> closes nothing"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        for each in self._open:
            each.pieces.append(data)

    def all(self, *tags: str) -> list[Element]:
        return [each for each in self.elements if each.tag in tags]

    def by_id(self, ident: str) -> Element:
        (found,) = (each for each in self.elements if each.attributes.get("id") == ident)
        return found


def spoken(text: str) -> str:
    """A text of a block as a page's reader gives it."""
    return text.strip()


def unticked(text: str) -> str:
    """Without the marks around what is typed or quoted, which a page shows in another way."""
    return re.sub("[`\u201c\u201d]", "", text)


def texts_of(block: Block) -> list[str]:
    """Every text that a block shows."""
    if isinstance(block, Heading | Para):
        return [block.text]
    if isinstance(block, Points | Lines):
        return [*block.texts]
    assert isinstance(block, Table)
    return [cell for row in (block.head, *block.rows) for cell in row]


@cache
def first() -> Scenario:
    return load(SCENARIOS / "first.yaml")


@cache
def comparison() -> Compared:
    return compared(Asked(SCENARIOS / "first.yaml"), How(workers=1))


@cache
def injected() -> Told:
    from sim.asked import rig_for
    from sim.faults import Script
    from sim.study import injection
    from sim.study.fault_text import parse_faults

    scenario = first()
    variants = tuple(scenario.offered.values())
    rig = rig_for(scenario, variants[0])
    texts = ("dead panel/unit-a at 5 s for 2 s", "dead panel/r1c1/receiver at 1 min")
    struck = parse_faults(texts, rig, scenario.rate, scenario.start, {})
    return Told(scenario, variants, rig, texts, (), injection.inject(rig, Script(struck)))


@cache
def risked() -> RiskStudy:
    scenario = first()
    return judged(risk_of(scenario, "panel", RiskAsked(shows=3200, workers=1)), scenario, "panel")


def without_title(blocks: Blocks) -> Blocks:
    return tuple(b for b in blocks if not (isinstance(b, Heading) and b.level == 1))
