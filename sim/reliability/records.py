"""An owner's records of operating hours and failures, from a table with named columns (CSV).

In: the text of a table with a row for each thing, period and fault mode (`COLUMNS` says what each
column holds), separated by commas or by semicolons. Out: frozen `Record`s. Everything that is wrong
is refused together, with its line. A row counts its hours for the one mode that it names; one
without a mode says that nothing failed, and counts for all of its family. No hours, no row.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from io import StringIO
from itertools import islice
from pathlib import Path

from sim import bounds
from sim.errors import InputError, Problem, nearest_name, refuse
from sim.faults import CHANGEOVER, MODES, OCCASIONS, counted_per, modes_of
from sim.harmless import shows
from sim.quantity import LONGEST, shorten
from sim.reliability.recorded import Record, contradictions
from sim.scenario.document import place
from sim.scenario.files import read_text

COLUMNS = {
    "thing": "the owner's name or number of one thing",
    "family": "its kind, as in `staylit faults`",
    "type": "the owner's word for its type; things of one type are counted together",
    "from": "first day, or first moment, of the period (ISO 8601, local time)",
    "to": "the moment at which the period ended: a day counts from its midnight",
    "hours": "hours that it was in use in the period",
    "mode": "the fault mode that was counted; empty: nothing failed",
    "failures": "how often it failed so",
    "demands": "instead of hours: how often it could have failed so",
    "per": "with demands: what one of them is",
    "note": "anything; not read",
}
"""What each column holds."""
REQUIRED = ("thing", "family", "from", "to", "failures")
MOST_COUNT = 10**9
_NUMBER = re.compile(r"\d+(\.\d+)?")


@dataclass(frozen=True, slots=True)
class _Row:
    """A row as read: `name:line`, and its cells by column; a column that is not there is empty."""

    where: str
    cells: Mapping[str, str]


def read_records(path: Path) -> tuple[Record, ...]:
    """The records in a file. Raises InputError with every problem found."""
    return records_from(table_text(path), path.name)


def table_text(path: Path) -> str:
    """The text of a table. Raises InputError if it cannot be read or is no text."""
    return read_text(path, bounds.MOST_TABLE_BYTES, "split the table")


def records_from(text: str, name: str) -> tuple[Record, ...]:
    """The records in the text of a table. Raises InputError with every problem found."""
    bad: list[Problem] = []
    found: list[Record] = []
    for row in _rows(text, name, bad):
        if len(bad) > bounds.MOST_PROBLEMS:
            break
        if row is not None and (record := _record(row, bad)) is not None:
            found.append(record)
    bad += islice(contradictions(found), bounds.MOST_PROBLEMS + 1)
    if bad:
        raise InputError(sorted(bad, key=lambda problem: _line(problem.where)))
    return tuple(found)


def _line(where: str) -> int:
    found = re.search(r":(\d+)", where)
    return int(found[1]) if found else 0


# ---- from text to rows ---------------------------------------------------------------------------


def _rows(text: str, name: str, bad: list[Problem]) -> Iterator[_Row | None]:
    """The rows below the heading; raises at once where the heading leaves nothing to read."""
    lines = list(table_lines(text, name))
    if not lines:
        todo = f"begin with a heading: {','.join(COLUMNS)}"
        raise refuse(name, "an empty table", "a heading and rows", todo=todo)
    heading = [cell.lower() for cell in lines[0][1]]
    problems = list(_heading_problems(heading, place(name, lines[0][0])))
    if problems:
        raise InputError(problems)
    if len(lines) == 1:
        raise refuse(name, "a heading without rows", "at least one row", todo="add what was seen")
    yield from (_row(heading, line, cells, name, bad) for line, cells in lines[1:])


def table_lines(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every row that is not empty, without spaces around them."""
    first = text.lstrip().partition("\n")[0]
    mark = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        for number, row in enumerate(reader):
            if number > bounds.MOST_ROWS:
                raise refuse(
                    name, "too many rows", f"at most {bounds.MOST_ROWS}", todo="split the table"
                )
            if len(row) > bounds.MOST_COLUMNS:
                where, found = place(name, reader.line_num), f"{len(row)} cells in one row"
                raise refuse(
                    where, found, f"at most {bounds.MOST_COLUMNS}", todo="see the separators"
                )
            cells = [cell.strip() for cell in row]
            if any(cells):
                yield reader.line_num, cells
    except csv.Error as error:
        where = place(name, max(1, reader.line_num))
        todo = "close every quote, and write a quote inside a quoted cell twice"
        raise refuse(where, f"not a table: {error}", "cells and commas", todo=todo) from error


def _heading_problems(heading: list[str], where: str) -> Iterator[Problem]:
    names = ", ".join(COLUMNS)
    for column in dict.fromkeys(heading):
        if column not in COLUMNS:
            near = nearest_name(column, COLUMNS)
            found = f"an unknown column {shorten(column)}"
            yield Problem(where, found, names, near, "rename it, or move it into note")
        elif heading.count(column) > 1:
            todo = "keep one of them"
            yield Problem(where, f"the column {column!r} stands twice", "once", todo=todo)
    for column in (*REQUIRED, *(("hours",) if "demands" not in heading else ())):
        if column not in heading:
            found, todo = f"no column {column!r}", f"add it: {COLUMNS[column]}"
            yield Problem(where, found, names, todo=todo)


def _row(
    heading: list[str], line: int, cells: list[str], name: str, bad: list[Problem]
) -> _Row | None:
    where = place(name, line)
    if len(cells) != len(heading):
        found, allowed = f"{len(cells)} cells", f"{len(heading)}, as in the heading"
        todo = "put quotes round a cell that holds the separator"
        bad.append(Problem(where, found, allowed, todo=todo))
        return None
    unfit = next(unfit_cells(heading, cells, where), None)
    if unfit is not None:
        bad.append(unfit)
        return None
    return _Row(where, dict(zip(heading, cells, strict=True)))


def unfit_cells(heading: list[str], cells: list[str], where: str) -> Iterator[Problem]:
    """Cells that no report could show on a line; those under `note` may be longer."""
    for column, cell in zip(heading, cells, strict=False):
        most = bounds.MOST_NOTE if column == "note" else bounds.MOST_CELL
        if not shows(cell) or len(cell) > most:
            found = f"a cell that cannot be printed or is too long: {shorten(cell)}"
            allowed = f"up to {most} characters in one line"
            yield Problem(f"{where}: {column}", found, allowed, todo="shorten it")


# ---- from rows to records ------------------------------------------------------------------------


class _Cells:
    """Reads one row's cells and notes what is wrong with them."""

    def __init__(self, row: _Row) -> None:
        self.row = row
        self.problems: list[Problem] = []

    def text(self, column: str) -> str:
        return self.row.cells.get(column, "")

    def complain(
        self, column: str, found: str, allowed: str, near: str = "", todo: str = ""
    ) -> None:
        where, do = f"{self.row.where}: {column}", todo or f"mend this cell: {COLUMNS[column]}"
        problem = Problem(where, found, allowed, near, do)
        if problem not in self.problems:
            self.problems.append(problem)

    def needed(self, column: str) -> str:
        if not self.text(column):
            self.complain(column, "empty", COLUMNS[column], todo="fill it in")
        return self.text(column)

    def one_of(self, column: str, names: tuple[str, ...]) -> str:
        found = self.needed(column)
        if found and found not in names:
            near = nearest_name(found, names)
            self.complain(column, f"unknown: {shorten(found)}", ", ".join(names), near)
        return found

    def moment(self, column: str) -> datetime | None:
        text = self.needed(column)
        try:
            found = datetime.fromisoformat(text) if text else None
        except ValueError:
            found = None
        if text and (found is None or found.tzinfo is not None):
            allowed = "2025-03-01 or 2025-03-01 18:30, without a time zone"
            self.complain(column, f"not a day or moment: {shorten(text)}", allowed)
            return None
        return found

    def number(self, column: str, whole: bool) -> float | None:
        """The number in a cell; None if it is wrong (which is noted) or empty."""
        text = self.text(column)
        what = "a whole number" if whole else "a number"
        right = _NUMBER.fullmatch(text) and not (whole and "." in text)
        if text and (not right or len(text) > LONGEST or float(text) > MOST_COUNT):
            allowed = f"{what} from 0 to {MOST_COUNT}, with a point before decimals"
            self.complain(column, f"not {what} from 0 to {MOST_COUNT}: {shorten(text)}", allowed)
            return None
        return float(text) if text else None


def _record(row: _Row, bad: list[Problem]) -> Record | None:
    cells = _Cells(row)
    thing = cells.needed("thing")
    family = cells.one_of("family", tuple(MODES))
    begins, ends = cells.moment("from"), cells.moment("to")
    cells.needed("failures")
    failures = int(cells.number("failures", whole=True) or 0)
    mode = _mode(cells, family, failures)
    exposure, per = _exposure(cells, failures), _per(cells, family, mode)
    if begins is not None and ends is not None:
        _check_period(cells, begins, ends)
    bad += cells.problems
    if cells.problems or begins is None or ends is None:
        return None
    kit = cells.text("type")
    return Record(row.where, thing, family, kit, begins, ends, mode, failures, exposure, per)


def _mode(cells: _Cells, family: str, failures: int) -> str:
    mode = cells.text("mode")
    names = modes_of(family) if family in MODES else ()
    if mode and family in MODES and mode not in names:
        near = nearest_name(mode, names)
        found = f"{shorten(mode)} is no fault mode of a {family}"
        cells.complain("mode", found, ", ".join(names), near)
    if not mode and (failures or cells.text("demands")):
        todo = "name the mode; split the row if there were several"
        cells.complain("mode", "failures or demands of no mode", ", ".join(names), todo=todo)
    return mode


def _exposure(cells: _Cells, failures: int) -> float:
    """Hours or demands, whichever is given; 0 where that is wrong."""
    if bool(cells.text("hours")) == bool(cells.text("demands")):
        both = "both hours and demands" if cells.text("hours") else "neither hours nor demands"
        cells.complain("hours", both, "one of the two", todo="write hours in use, or demands")
    hours, demands = cells.number("hours", whole=False), cells.number("demands", whole=True)
    if hours == 0 and failures:
        cells.complain("hours", "failures in no hours", "above 0", todo="write the hours in use")
    if demands is not None and failures > demands:
        found = f"{failures} failures in {demands:g} demands"
        cells.complain("failures", found, f"at most {demands:g}", todo="mend one of the two")
    return hours or demands or 0.0


def _check_period(cells: _Cells, begins: datetime, ends: datetime) -> None:
    length = (ends - begins).total_seconds() / 3600
    if length <= 0:
        found = f"{ends.isoformat(' ')} is not after {begins.isoformat(' ')}"
        cells.complain("to", found, "a moment after `from`", todo="exchange or mend them")
    elif (hours := cells.number("hours", whole=False)) is not None and hours > length:
        found, allowed = f"{hours:g} h in a period of {length:g} h", f"at most {length:g}"
        cells.complain("hours", found, allowed, todo="write one row for each thing")


def _per(cells: _Cells, family: str, mode: str) -> str:
    known = family in MODES and mode in modes_of(family)
    ways = counted_per(family, mode) if known else ("hour", *OCCASIONS)
    if not cells.text("demands"):
        if cells.text("per"):
            cells.complain("per", f"{shorten(cells.text('per'))} without demands", "empty")
        if "hour" not in ways:
            cells.complain("demands", f"a {mode} by the hour", "a number of demands")
        return "hour"
    if mode == CHANGEOVER and not cells.text("per"):
        return CHANGEOVER
    per = cells.one_of("per", OCCASIONS)
    occasions = [way for way in ways if way != "hour"]
    if per in OCCASIONS and per not in occasions:
        todo = "count it by one of these"
        cells.complain("per", f"{mode} of a {family} per {per}", ", ".join(occasions), todo=todo)
    return per
