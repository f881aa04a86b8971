"""Charts as SVG elements that may stand within a page, with a name and a description.

In: a frozen `Chart`, how its element ids begin. Out: one SVG element as a text; the same chart
gives the same text. Lengths in pixels of a drawing 360 wide.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sim.report import page_charts, svg
from sim.report.charts import CHANCE, IGNORANCE, NOW, Chart, Field, Grid, Row, Rows, Steps, Strip
from sim.report.page_blocks import brief, shown
from sim.report.page_charts import (
    DIM,
    EDGE,
    FILL,
    INK,
    LOOKS,
    PAPER,
    RULE,
    SMALL,
    TEXT,
    TONE,
    WIDE,
    box,
    canvas,
    stroke,
    write,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LINE, BAR_HIGH, APART = 16, 11, 13
"""The height of a line of text, of a bar, the space between rows."""
MOST_LINES = 2
BOLD = 1.13
"""How much wider bold letters are."""
STEPS_HIGH = 260
TONES = (PAPER, FILL, RULE, TONE)


def drawn(chart: Chart, ident: str) -> str:
    """The chart as an SVG element."""
    with page_charts.settings():
        figure, high = _figure(chart.what)
        elements = [*page_charts.elements(figure)]
    mark = svg.clean(ident)
    head = (
        f'<svg class="chart" role="img" viewBox="0 0 {WIDE} {svg.number(high)}"'
        f' aria-labelledby="{mark}-title {mark}-told">'
    )
    title = f'<title id="{mark}-title">{svg.clean(shown(chart.title))}</title>'
    told = f'<desc id="{mark}-told">{svg.clean(shown(chart.told))}</desc>'
    return "\n".join((head, title, told, *elements, "</svg>"))


def _figure(what: Rows | Steps | Grid) -> tuple[Figure, float]:
    if isinstance(what, Rows):
        return _rows(what)
    if isinstance(what, Steps):
        return page_charts.step_axes(what, STEPS_HIGH), STEPS_HIGH
    return _grid(what)


# ---- rows of bars --------------------------------------------------------------------------------


def _rows(what: Rows) -> tuple[Figure, float]:
    texts = [_lines_of(row) for row in what.rows]
    legend = [*_legend_lines(what.legend)]
    high = sum(len(t) * LINE + BAR_HIGH + APART for t in texts) + LINE * len(legend) + 6
    figure, axes = canvas(high)
    most = max((s.end for row in what.rows for s in row.strips), default=0) or 1
    y = 0.0
    for row, lines in zip(what.rows, texts, strict=True):
        for name, told in lines:
            y += LINE
            write(axes, 0, y - 4, name)
            write(axes, WIDE - 2, y - 4, told, ha="right", color=DIM)
        for strip in row.strips:
            _strip(axes, strip, y, (WIDE - 2) / most)
        y += BAR_HIGH + APART
    for line in legend:
        y += LINE
        _key(axes, y, line)
    return figure, high


def _lines_of(row: Row) -> list[tuple[str, str]]:
    """Name and value on one line where both have room, else below each other."""
    name, told = brief(row.name), svg.shorten(brief(row.told), WIDE, TEXT)
    if svg.width(name, TEXT) + svg.width(told, TEXT) + 14 <= WIDE:
        return [(name, told)]
    names = svg.wrap(name.split(), WIDE, TEXT)
    kept = [*names[: MOST_LINES - 1], " ".join(names[MOST_LINES - 1 :])]
    lines = [(svg.shorten(each, WIDE, TEXT), "") for each in kept if each]
    last = svg.width(lines[-1][0], TEXT) + svg.width(told, TEXT) + 14 if lines else WIDE + 1
    return [*lines[:-1], (lines[-1][0], told)] if last <= WIDE else [*lines, ("", told)]


def _strip(axes: Axes, strip: Strip, y: float, scale: float) -> None:
    start, end = 1 + strip.start * scale, 1 + strip.end * scale
    middle = y + BAR_HIGH / 2
    if strip.look in LOOKS:
        box(axes, (start, y), (max(end - start, 0.5), BAR_HIGH), strip.look)
    elif strip.look == NOW:
        stroke(axes, [(start, y - 2), (start, y + BAR_HIGH + 2)], 2, INK)
    else:
        _interval(axes, (start, end), middle, strip.look)


def _interval(axes: Axes, ends: tuple[float, float], y: float, look: str) -> None:
    """By chance a thick line within the bar, by ignorance a thin one with ends below it."""
    if look == CHANCE:
        stroke(axes, [(ends[0], y), (ends[1], y)], 6, PAPER)
        stroke(axes, [(ends[0], y), (ends[1], y)], 3.5, INK)
        return
    low = y + BAR_HIGH / 2 + 4.5
    stroke(axes, [(ends[0], low), (ends[1], low)], 1.25, INK)
    for x in ends:
        stroke(axes, [(x, low - 3), (x, low + 3)], 1.25, INK)


Line = list[tuple[str, str, float]]


def _legend_lines(legend: tuple[tuple[str, str], ...]) -> Iterator[Line]:
    """Keys with their words and places, as many on a line as fit."""
    line: Line = []
    x = 0.0
    for look, said in legend:
        words = brief(said)
        wide = 26 + svg.width(words, SMALL) + 14
        if line and x + wide > WIDE + 14:
            yield line
            line, x = [], 0.0
        line.append((look, words, x))
        x += wide
    if line:
        yield line


def _key(axes: Axes, y: float, line: Line) -> None:
    for look, words, x in line:
        if look in LOOKS:
            box(axes, (x + 1, y - 11), (18, 8), look)
        elif look == NOW:
            stroke(axes, [(x + 10, y - 13), (x + 10, y - 2)], 2, INK)
        elif look == CHANCE:
            stroke(axes, [(x, y - 7), (x + 20, y - 7)], 3.5, INK)
        else:
            _interval(axes, (x + 1, x + 19), y - 7 - BAR_HIGH / 2 - 4.5, IGNORANCE)
        write(axes, x + 26, y - 3, words, fontsize=SMALL, color=DIM)


# ---- a grid of words -----------------------------------------------------------------------------

FIELD_HIGH, NAME_HIGH, FIELD_TEXT, FIELD_LINE = 46, 19, 10, 13


def _grid(what: Grid) -> tuple[Figure, float]:
    high = NAME_HIGH + len(what.rows) * (FIELD_HIGH + NAME_HIGH) + 2
    figure, axes = canvas(high)
    wide = (WIDE - 2) / len(what.columns)
    for place, name in enumerate(what.columns):
        _centred(axes, 1 + wide * (place + 0.5), 12, name, wide, color=DIM)
    y = float(NAME_HIGH)
    for name, fields in what.rows:
        write(axes, 0, y + 13, svg.shorten(brief(name), WIDE, TEXT))
        for place, field in enumerate(fields):
            _field(axes, (1 + wide * place, y + NAME_HIGH), wide, field)
        y += NAME_HIGH + FIELD_HIGH
    return figure, high


def _field(axes: Axes, at: tuple[float, float], wide: float, field: Field) -> None:
    """The word above, what lies in it below and bold, on two lines at most."""
    x, y = at
    box(axes, at, (wide, FIELD_HIGH), (TONES[field.tone], EDGE))
    _centred(axes, x + wide / 2, y + 14, field.word, wide)
    lines = svg.wrap(brief(field.inside).split(), (wide - 4) / BOLD, FIELD_TEXT)
    lines = [*lines[:1], " ".join(lines[1:])]
    for number, line in enumerate(lines):
        down = y + 14 + FIELD_LINE * (number + 1)
        _centred(axes, x + wide / 2, down, line, wide, fontweight="bold")


def _centred(axes: Axes, x: float, y: float, text: str, wide: float, **how: object) -> None:
    bold = "fontweight" in how
    short = svg.shorten(brief(text), wide - 4, FIELD_TEXT, bold)
    write(axes, x, y, short, **{"ha": "center", "fontsize": FIELD_TEXT, **how})
