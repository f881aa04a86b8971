"""What the faults of one thing do, a line for each.

In: frozen `FaultRow`s. Out: a table and how to read it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.report.blocks import Block, Points, Table
from sim.report.rowtext import NO_BOUND, area, frame_words, how_long, state_words, title
from sim.study.rows import FaultRow

LEGEND = (
    "area: all that is not lit, in whatever state: once settled for what lasts, at any time for a "
    "blink. frames: for each state those of the one cell that is in it longest.",
)


def outcome_rows(rows: Iterable[FaultRow]) -> Iterator[Block]:
    """The table, then what its columns mean."""
    yield Table(("fault", "does", "area", "shows", "how long"), tuple(map(_row, rows)))
    yield Points(LEGEND)


def _row(row: FaultRow) -> tuple[str, ...]:
    shows = frame_words(row) if row.verdict == "blink" else state_words(row)
    return title(row), row.verdict, area(row), shows, _how_long(row)


def _how_long(row: FaultRow) -> str:
    """In words; for a blink what its frames rest on."""
    if row.verdict != "blink":
        return how_long(row)
    grade = f"by timings: {row.grade}" if row.grade else "whatever the timings"
    return grade + (f" ({NO_BOUND})" if row.races else "")
