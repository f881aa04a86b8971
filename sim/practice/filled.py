"""A test sheet that was filled in: which pull worked, frames counted, by whom, when.

In: the text of a table (CSV) with the columns of `COLUMNS`, the pulls that the rig knows, when the
show begins. Out: frozen `Filled` rows; rows with every blank empty were not done. Everything that
is wrong is refused together, with its line. Rates are frames a second, times flicks.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from sim.bounds import MOST_PROBLEMS, MOST_TESTS
from sim.errors import InputError, Problem, nearest_name, refuse
from sim.harmless import uncell
from sim.practice.pulls import Pull
from sim.quantity import shorten
from sim.reliability.records import table_lines, unfit_cells
from sim.scenario.document import place
from sim.timebase import FLICKS, RATES, parse_time

ASKED = {
    "do": "what was done, as printed",
    "thing": "to which thing, as printed",
}
BLANKS = {
    "worked": "yes if the backup took over as written, no if it did not",
    "pulled_frames": "frames of the camera that show the state while it was pulled",
    "back_frames": "the same, from the moment it was put back",
    "camera_rate": "frames a second of the camera that counted",
    "by": "who did it",
    "when": "date and time, as 2026-05-01 18:30, or how long before the show, as 3 h",
}
PRINTED = (
    "step", "do", "thing", "place", "tries", "film", "state", "pulled_least", "pulled_typical",
    "pulled_most", "back_least", "back_typical", "back_most", "put_back_after_s",
)  # fmt: skip
COLUMNS = (*PRINTED, *BLANKS, "note")
"""Columns of a sheet; those of `PRINTED` but do and thing, and note, are not read."""
REQUIRED = (*ASKED, "worked", "by", "when")
MOST_FRAMES = 10**6
MOST_RATE = 10_000
_BEFORE = re.compile(r"(.+?)(?:\s+before)?")


@dataclass(frozen=True, slots=True)
class Filled:
    """One row. `pulled` and `back`: counted frames (None: not counted); `before`: flicks before the
    show; `when`: as written.
    """

    line: int
    pull: Pull
    worked: bool
    pulled: int | None
    back: int | None
    rate: Fraction
    by: str
    before: int
    when: str


@dataclass(frozen=True, slots=True)
class Reader:
    """What a sheet is read against: pulls by name, when the show begins (None: nobody said)."""

    pulls: Mapping[str, Pull]
    begins: datetime | None
    name: str


def filled(text: str, reader: Reader) -> tuple[Filled, ...]:
    """The rows that were filled in. Raises InputError with every problem found."""
    lines = list(table_lines(text, reader.name))
    if not lines:
        todo = "write one with `staylit proof SCENARIO --output sheet.csv`"
        raise refuse(reader.name, "an empty table", "a test sheet", todo=todo)
    heading = [cell.lower() for cell in lines[0][1]]
    wrong = list(_heading(heading, place(reader.name, lines[0][0])))
    if wrong:
        raise InputError(wrong)
    bad: list[Problem] = []
    found: list[Filled | None] = []
    for line, cells in lines[1:]:
        found.append(_row(heading, line, cells, reader, bad))
        if len(bad) > MOST_PROBLEMS or len(found) > MOST_TESTS:
            break
    if len(found) > MOST_TESTS:
        bad.append(Problem(reader.name, "too many rows", f"at most {MOST_TESTS}", todo="split it"))
    if bad:
        raise InputError(bad)
    return tuple(row for row in found if row is not None)


def _heading(heading: list[str], where: str) -> Iterator[Problem]:
    for column in dict.fromkeys(heading):
        if column not in COLUMNS:
            near, found = nearest_name(column, COLUMNS), f"an unknown column {shorten(column)}"
            yield Problem(where, found, ", ".join(COLUMNS), near, "rename it, or move it into note")
        elif heading.count(column) > 1:
            yield Problem(where, f"the column {column!r} stands twice", "once", "", "keep one")
    for column in REQUIRED:
        if column not in heading:
            todo = f"add it: {({**ASKED, **BLANKS})[column]}"
            yield Problem(where, f"no column {column}", ", ".join(REQUIRED), todo=todo)


@dataclass(slots=True)
class _Cells:
    """The cells of a row by column, where it is, and a list for what is wrong with it."""

    line: int
    of: Mapping[str, str]
    reader: Reader
    bad: list[Problem]

    def wrong(self, column: str, found: str, allowed: str, todo: str, near: str = "") -> None:
        where = place(self.reader.name, self.line, (column,) if column else ())
        self.bad.append(Problem(where, found, allowed, near, todo))


def _row(
    heading: list[str], line: int, cells: list[str], reader: Reader, bad: list[Problem]
) -> Filled | None:
    extra = [cell for cell in cells[len(heading) :] if cell]
    of = dict(zip(heading, [*cells, *[""] * len(heading)], strict=False))
    row = _Cells(line, of, reader, bad)
    if extra:
        row.wrong("", f"{len(cells)} cells", f"{len(heading)}, as in the heading", QUOTES)
        return None
    if not any(of.get(column) for column in BLANKS):
        return None
    before = len(bad)
    bad += unfit_cells(heading, cells, place(reader.name, line))
    pull, worked = _pull(row), _worked(row)
    pulled, back = _frames(row, "pulled_frames"), _frames(row, "back_frames")
    rate, by, when = _rate(row, pulled, back), _by(row), _when(row)
    if pull is not None and pull.ends and back is not None:
        todo = "count from the restart to the last change, into pulled_frames"
        row.wrong("back_frames", "frames of what is not put back", "nothing", todo)
    if len(bad) > before or pull is None or when is None:
        return None
    return Filled(line, pull, worked, pulled, back, rate, by, when, of["when"])


QUOTES = "put a text that holds the separator into quotes"


def _pull(row: _Cells) -> Pull | None:
    name = f"{row.of['do']} {uncell(row.of['thing'])}"
    known = row.reader.pulls
    if name not in known:
        alike = [each for each in known if each.startswith(row.of["do"] + " ")]
        near = nearest_name(name, alike) or nearest_name(name, known)
        todo = "correct it, or print the sheet of this scenario and topology anew"
        allowed = "something that the rig has, done as printed"
        row.wrong("thing", f"{shorten(name)} is no pull of this rig", allowed, todo, near)
    return known.get(name)


def _worked(row: _Cells) -> bool:
    said = row.of["worked"].casefold()
    if said not in ("yes", "no"):
        found = f"{shorten(row.of['worked'])} is neither" if said else "not filled in"
        row.wrong("worked", found, "yes, no", f"write {BLANKS['worked']}")
    return said == "yes"


def _frames(row: _Cells, column: str) -> int | None:
    said = row.of.get(column, "")
    if not said or said == "-":
        return None
    if not re.fullmatch(r"[0-9]{1,9}", said) or int(said) > MOST_FRAMES:
        allowed = f"a whole number from 0 to {MOST_FRAMES}"
        row.wrong(column, f"{shorten(said)} is no number of frames", allowed, "count them again")
        return None
    return int(said)


def _rate(row: _Cells, *frames: int | None) -> Fraction:
    said, none = row.of.get("camera_rate", ""), Fraction(1)
    if not said:
        if any(count is not None for count in frames):
            todo = "write the camera's frames a second: without it frames tell no time"
            row.wrong("camera_rate", "frames without it", "a number, as 120", todo)
        return none
    plain = re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", said)
    if not plain or not 1 <= Fraction(said) <= MOST_RATE:
        found, allowed = f"{shorten(said)} is no camera rate", f"a number from 1 to {MOST_RATE}"
        row.wrong("camera_rate", found, allowed, "write frames a second, without a unit")
        return none
    return next((r.per_second for r in RATES if r.label == said), Fraction(said))


def _by(row: _Cells) -> str:
    if not row.of["by"]:
        row.wrong("by", "nobody named", "a name", "write who did the test")
    return row.of["by"]


def _when(row: _Cells) -> int | None:
    said, allowed = row.of["when"], BLANKS["when"]
    try:
        at = datetime.fromisoformat(said)
    except ValueError:
        return _long_before(row, said, allowed)
    if len(said) < len("2026-05-01 18:30"):
        row.wrong("when", f"{said!r} has no time of the day", allowed, "add the time")
        return None
    begins = row.reader.begins
    if begins is None:
        todo = 'say when the show begins: --begins "2026-05-01 20:00"'
        row.wrong("when", "a date, and nobody says when the show begins", allowed, todo)
        return None
    if at.tzinfo is not None or at > begins:
        found = "a time zone" if at.tzinfo is not None else f"{said!r} is after the show begins"
        row.wrong("when", found, f"local time, {begins:%Y-%m-%d %H:%M} at the latest", "correct it")
        return None
    return int((begins - at).total_seconds()) * FLICKS


def _long_before(row: _Cells, said: str, allowed: str) -> int | None:
    before = _BEFORE.fullmatch(said)
    try:
        return parse_time(before[1] if before else said, None, "when")
    except InputError:
        found = f"{shorten(said)} is no such time" if said else "not filled in"
        row.wrong("when", found, allowed, "write it so")
        return None
