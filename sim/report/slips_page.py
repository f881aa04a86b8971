"""Action slips as a page of its own to be printed: on A6 one a page, on A4 four a sheet.

In: `slips_report.Found`, a paper ("a6", "a4"). Out: HTML without anything from elsewhere: no
script, picture or font. Whatever a scenario says is text: jinja2 escapes all of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import asdict
from math import ceil
from typing import Any

from sim.report.blocks import CAUTIONS
from sim.report.slips_acts import example_words
from sim.report.slips_report import (
    LEGS,
    Found,
    handover_lines,
    heading,
    leg_rows,
    place_rows,
    stock_rows,
)
from sim.report.slips_words import Told

SIZES = (8.6, 7.6, 6.8, 6.1)
"""Sizes of type in points, as the template has them: the greatest in which a slip fits is taken."""
WIDTH, HEIGHT = 75.0, 119.0
"""Millimetres that the texts of a slip have on A6, its head and foot left out."""
GLYPH, LINE = 0.60 * 0.3528, 1.28 * 0.3528
"""Millimetres to a point of type: a character, with room for ends of lines; a line."""
GAP, BOX = 1.3, 2.6
"""Millimetres between two parts of a slip, and more for one in a box."""


def page(found: Found, paper: str) -> str:
    """The whole page."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sim.report"),
        autoescape=True,
        finalize=_glued,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = environment.get_template("slips.html")
    return template.render(paper=paper, **_content(found)) + "\n"


GLUE = re.compile(r"(?<=\d) (?=\d{3}(?!\w))|(?<=\d) (?=%|(?:s|ms|min|h|frames?|cabinets?)\b)")
"""The space between the groups of digits of one number, and before its unit."""


def _glued(value: object) -> object:
    """A text in which no number is broken at the end of a line; all else as it is."""
    return GLUE.sub("\u00a0", value) if type(value) is str else value


def _content(found: Found) -> dict[str, Any]:
    return {
        "title": heading(found),
        "show": heading(found).removesuffix(": action slips"),
        "slips": [{**asdict(each), "size": _size(each)} for each in found.told()],
        "nevers": [
            {
                "what": never.what,
                "why": never.why,
                "examples": [example_words(each, found.rig) for each in never.examples],
            }
            for never in found.nevers
        ],
        "handover": {"lines": [*handover_lines(found)], "tables": [*_tables(found)]},
        "cautions": CAUTIONS.texts,
    }


def _tables(found: Found) -> Iterable[dict[str, Any]]:
    yield {"head": LEGS, "rows": leg_rows(found)}
    if found.handover.stocks:
        yield {"head": ("spare", "in stock", "fitted"), "rows": stock_rows(found)}
    yield {"head": ("place", "reached", "what stands there"), "rows": place_rows(found)}


def _size(each: Told) -> int:
    """The size of type in which a slip fits its page, from 1 on."""
    fits = (n for n, points in enumerate(SIZES, 1) if _height(each, points) <= HEIGHT)
    return next(fits, len(SIZES))


def _height(each: Told, points: float) -> float:
    """About how high the texts of a slip are in this size (millimetres)."""
    row = WIDTH / (GLYPH * points)
    parts = (
        each.see, (each.where,), each.maybe, (each.alone, ""), each.first, each.second,
        each.never, each.spare, each.cautions,
    )  # fmt: skip
    lines = sum(ceil(len(text) / row) for texts in parts for text in texts)
    return lines * LINE * points + len(parts) * GAP + 2 * BOX
