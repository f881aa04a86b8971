"""What a chart of a page shows, before it is drawn: rows of bars, a falling line, a grid of words.

In: nothing. Out: frozen values, made from studies by `compare_charts` and `risk_charts`, drawn by
`page_charts`. Every text is plain text.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

BAR, CHANCE, IGNORANCE, NOW = "bar", "chance", "ignorance", "now"
HEAVY, MIDDLE, EMPTY = "heavy", "middle", "empty"
"""How a strip looks: a bar; an interval as a thick or a thin line; where something stands now;
parts of a whole, dark, toned or with an outline only.
"""


@dataclass(frozen=True, slots=True)
class Strip:
    """A piece of a row from `start` to `end`, in the unit of the chart."""

    start: float
    end: float
    look: str = BAR


@dataclass(frozen=True, slots=True)
class Row:
    """One thing with its value in words and its strips, drawn in this order."""

    name: str
    told: str
    strips: tuple[Strip, ...]


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows below each other on one scale, which begins at 0; `legend`: looks with their words."""

    rows: tuple[Row, ...]
    legend: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Steps:
    """A line of steps: what holds from each x on; the scale of y is logarithmic, and 0 lies below
    it. `x_words`, `y_words`: a value of an axis in words.
    """

    points: tuple[tuple[float, float], ...]
    x_name: str
    y_name: str
    x_words: Callable[[float], str]
    y_words: Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Field:
    """A field of a grid: a word, what lies in it, and its tone from 0 (paper) to 3."""

    word: str
    inside: str
    tone: int


@dataclass(frozen=True, slots=True)
class Grid:
    """Named rows of fields under named columns."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[Field, ...]], ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart with its title, what it tells in a sentence or two, and the heading of the table that
    has the same figures.
    """

    title: str
    told: str
    table: str
    what: Rows | Steps | Grid
