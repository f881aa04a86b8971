"""Action slips as a page of its own to be printed: on A6 one a page, on A4 four a sheet.

In: `slips_report.Found`, a paper ("a6", "a4"). Out: HTML without anything from elsewhere: no
script, picture or font. Whatever a scenario says is text: jinja2 escapes all of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from sim.report.blocks import CAUTIONS
from sim.report.slips_report import (
    Found,
    handover_lines,
    heading,
    leg_rows,
    place_rows,
    stock_rows,
)
from sim.report.slips_words import Told, example_words

SIZES = (900, 1300, 1750)
"""Up to so many characters a slip is set in the first, second, third size of type, then in the
smallest.
"""


def page(found: Found, paper: str) -> str:
    """The whole page."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sim.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = environment.get_template("slips.html")
    return template.render(paper=paper, **_content(found)) + "\n"


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
    yield {"head": ("what", "runs by", "waiting"), "rows": leg_rows(found)}
    if found.handover.stocks:
        yield {"head": ("spare", "in stock", "fitted"), "rows": stock_rows(found)}
    yield {"head": ("place", "reached", "what stands there"), "rows": place_rows(found)}


def _size(each: Told) -> int:
    """The size of type in which a slip fits its page."""
    lists = (each.see, each.maybe, each.first, each.second, each.never, each.spare, each.cautions)
    characters = sum(len(text) + 20 for texts in lists for text in texts) + len(each.where)
    return 1 + sum(characters > most for most in SIZES)
