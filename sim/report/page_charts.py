"""What matplotlib draws charts with: shapes and texts on a canvas, axes for a line of steps.

In: coordinates in pixels of a drawing 360 wide, so that it can be read on a narrow screen and
scaled up on others; texts. Out: SVG elements for a page: texts kept as texts, no style attributes
and no ids, colours by classes of page.css; the same canvas gives the same elements.
"""

from __future__ import annotations

import io
import logging
import re
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from sim.report import svg
from sim.report.charts import BAR, EMPTY, HEAVY, MIDDLE, Steps
from sim.report.words import harmless

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE = 360
TEXT, SMALL = 12, 10.5
COLOURS = {
    f"#0101{number:02x}": name
    for number, name in enumerate("ink dim line fill paper accent edge tone".split(), 1)
}
"""Colours that matplotlib is told, and the class that each becomes."""
INK, DIM, RULE, FILL, PAPER, ACCENT, EDGE, TONE = COLOURS
LOOKS = {
    BAR: (ACCENT, ACCENT), HEAVY: (INK, INK), MIDDLE: (RULE, EDGE), EMPTY: (PAPER, EDGE),
}  # fmt: skip
"""Face and edge of a box."""
SETTINGS: Any = {
    "svg.fonttype": "none", "svg.hashsalt": "staylit", "text.parse_math": False,
    "font.family": "DejaVu Sans", "path.simplify": False,
}  # fmt: skip
UNDATED = dict.fromkeys(("Date", "Creator", "Format", "Type"))
SVG = "{http://www.w3.org/2000/svg}"
KEPT = frozenset({"stroke-width", "stroke-dasharray", "font-size", "text-anchor", "font-weight"})
"""Properties that stay, as attributes."""


@contextmanager
def settings() -> Iterator[None]:
    """Settings of our own, whatever a user has set; letters that the measuring typeface lacks, or
    no folder to remember typefaces in, are no reason to complain.
    """
    logging.getLogger("matplotlib").setLevel(logging.CRITICAL)
    from matplotlib import rc_context, style

    with style.context("default"), rc_context(SETTINGS), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


# ---- canvas --------------------------------------------------------------------------------------


def canvas(high: float) -> tuple[Figure, Axes]:
    """A figure whose unit is a pixel, from the top left corner."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDE / 72, high / 72), dpi=72)
    figure.patch.set_visible(False)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, WIDE)
    axes.set_ylim(high, 0)
    return figure, axes


def write(axes: Axes, x: float, y: float, text: str, **how: Any) -> None:
    """A text on its baseline."""
    settings = {"fontsize": TEXT, "color": INK, "va": "baseline", **how}
    axes.text(x, y, harmless(text), **settings)


Look = str | tuple[str, str]


def box(axes: Axes, at: tuple[float, float], size: tuple[float, float], look: Look) -> None:
    """A box from its upper left corner; `look`: by its name, or colours of face and edge."""
    from matplotlib.patches import Rectangle

    face, edge = LOOKS[look] if isinstance(look, str) else look
    axes.add_patch(Rectangle(at, *size, facecolor=face, edgecolor=edge, linewidth=1))


def stroke(axes: Axes, points: list[tuple[float, float]], width: float, colour: str) -> None:
    """A line through points."""
    from matplotlib.lines import Line2D

    xs, ys = zip(*points, strict=True)
    axes.add_line(Line2D(xs, ys, linewidth=width, color=colour, solid_capstyle="butt"))


# ---- axes ----------------------------------------------------------------------------------------

LEFT, TOP, RIGHT, BOTTOM = 74, 26, 12, 48
"""Pixels between the axes and the edges of the canvas."""


def step_axes(what: Steps, high: float) -> Figure:
    """The axes of a line of steps, and the line."""
    figure, page = canvas(high)
    size = (WIDE - LEFT - RIGHT) / WIDE, (high - TOP - BOTTOM) / high
    axes = figure.add_axes((LEFT / WIDE, BOTTOM / high, *size))
    seen = [y for _, y in what.points if y > 0]
    floor = 10.0 ** (_power(min(seen)) - 0.3)
    axes.set_yscale("log")
    axes.set_ylim(floor, 10 ** (_power(max(seen)) + 1.0))
    axes.set_xlim(0, max(x for x, _ in what.points) * 1.04 or 1)
    xs, ys = zip(*what.points, strict=True)
    axes.step(xs, [max(y, floor) for y in ys], where="post", color=ACCENT, linewidth=2.5)
    _dress(axes, what)
    write(page, 0, 12, what.y_name, color=DIM, fontsize=SMALL)
    write(page, WIDE, high - 6, what.x_name, color=DIM, fontsize=SMALL, ha="right")
    return figure


def _power(value: float) -> int:
    """The power of ten at or below a value."""
    from math import floor, log10

    return floor(log10(value))


def _dress(axes: Axes, what: Steps) -> None:
    """Grid, words beside the axes, plain lines left and below."""
    from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullLocator

    for axis, words, locator in (
        (axes.xaxis, what.x_words, MaxNLocator(3)),
        (axes.yaxis, what.y_words, LogLocator(10, numticks=7)),
    ):
        axis.set_major_locator(locator)
        axis.set_minor_locator(NullLocator())
        axis.set_major_formatter(FuncFormatter(_said(words)))
    axes.tick_params(left=False, bottom=False, labelcolor=INK, labelsize=SMALL)
    axes.grid(True, color=RULE, linewidth=1)
    axes.set_axisbelow(True)
    axes.patch.set_visible(False)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(EDGE)


def _said(words: Callable[[float], str]) -> Callable[[float, int], str]:
    return lambda value, place: words(value)


# ---- from matplotlib's text to an element of a page ----------------------------------------------


def elements(figure: Figure) -> Iterator[str]:
    """All that was drawn: paths and texts, one after the other."""
    yield from _elements(_saved(figure))


def _saved(figure: Figure) -> str:
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata=UNDATED)
    return out.getvalue()


def _elements(text: str) -> Iterator[str]:
    """Paths and texts, one after the other."""
    root = ElementTree.fromstring(text)
    for element in root.iter():
        looks = _looks(element.get("style", ""))
        if element.tag == f"{SVG}path" and element.get("d") and looks:
            yield f'<path d="{_rounded(element.get("d", ""))}"{looks}/>'
        elif element.tag == f"{SVG}text":
            place = "".join(f' {a}="{_rounded(element.get(a, "0"))}"' for a in ("x", "y"))
            yield f"<text{place}{looks}>{svg.clean(''.join(element.itertext()))}</text>"


def _looks(style: str) -> str:
    """Properties as attributes, colours as classes."""
    pairs = dict(_pair(each) for each in style.split(";") if ":" in each)
    names = [f"{p[0]}-{COLOURS[c]}" for p, c in pairs.items() if c in COLOURS]
    plain = [(p, c) for p, c in pairs.items() if p in KEPT or (p == "fill" and c == "none")]
    made = "".join(f' {name}="{svg.clean(said.removesuffix("px"))}"' for name, said in plain)
    return (f' class="{" ".join(names)}"' if names else "") + made


def _pair(text: str) -> tuple[str, str]:
    name, _, said = text.partition(":")
    return name.strip(), said.strip()


def _rounded(text: str) -> str:
    """Coordinates to a tenth, the same on every machine."""
    one_line = " ".join(text.split())
    return re.sub(r"-?\d+\.\d+", lambda found: svg.number(float(found[0])), one_line)
