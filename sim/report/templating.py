"""How pages are written: one jinja2 environment for all of them, in which every text is escaped.

In: the name of a template and what it shows. Out: text. Only files of sim/report/templates are
read. Nothing that a scenario says may be marked as safe.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment

GLUE = re.compile(r"(?<=\d) (?=\d{3}(?!\w))|(?<=\d) (?=%|(?:s|ms|min|h|frames?|cabinets?)\b)")
"""The space between the groups of digits of one number, and before its unit."""
TICKED = re.compile(r"`([^`\n]+)`")
TYPED = re.compile(r"staylit |--\w|\w+:?\Z", re.ASCII)
"""How what is typed begins; one word alone is one of a scenario's."""


def rendered(name: str, **shown: Any) -> str:
    """The template with what it shows."""
    return _environment().get_template(name).render(**shown) + "\n"


def source(name: str) -> str:
    """The text of a file of the templates as it stands, such as a style or a script."""
    loader = _environment().loader
    assert loader is not None
    return loader.get_source(_environment(), name)[0]


def trusted(text: str) -> Any:
    """A text of our own that is markup, such as a style or a drawing whose texts are escaped."""
    from markupsafe import Markup

    return Markup(text)


def glued(value: object) -> object:
    """A text in which no number is broken at the end of a line; all else as it is."""
    return GLUE.sub("\u00a0", value) if type(value) is str else value


def marked(text: str) -> list[tuple[str, bool]]:
    """A text in pieces, with whether each is a command to be typed: what reports put between
    backticks. Anything else between them is quoted, as a limit in its own words.
    """
    made = [(piece, number % 2 == 1) for number, piece in enumerate(TICKED.split(text))]
    return [
        (f"\u201c{piece}\u201d", False) if ticked and not TYPED.match(piece) else (piece, ticked)
        for piece, ticked in made
        if piece
    ]


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("sim.report"),
        autoescape=True,
        finalize=glued,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["marked"] = marked
    return made
