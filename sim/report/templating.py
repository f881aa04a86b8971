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


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("sim.report"),
        autoescape=True,
        finalize=glued,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
