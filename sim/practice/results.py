"""What an engineer's drills came to, one line each: a plain table (CSV) that only grows.

In: a frozen `Review` with what the drill was; the text of a table. Out: frozen `Entry`s; lines.
Times are flicks; in the table seconds, to a millisecond. Raises InputError with the line that
cannot be read. Reading and writing files is for others.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import islice
from typing import TypeVar

from sim.bounds import MOST_NOTE, MOST_PROBLEMS, MOST_ROWS
from sim.errors import InputError, Problem, nearest_name, refuse
from sim.harmless import cell, shows, uncell
from sim.practice.review import Review
from sim.quantity import shorten
from sim.rig.topology import Rig
from sim.timebase import FLICKS, to_flicks

COLUMNS = (
    "date", "scenario", "topology", "drill", "seed", "kinds", "goal", "reached", "ended",
    "noticed_s", "right_s", "picture_s", "redundancy_s", "lost_s", "lost_doing_nothing_s", "hints",
)  # fmt: skip
HEAD = ",".join(COLUMNS) + "\n"
WHOLE, BROKEN = "whole", "broken off"
BETWEEN = " + "
"""Between the kinds of several faults."""
ENDED = f"{WHOLE}, {BROKEN}"
DECIMAL = re.compile(r"[0-9]{1,9}([.][0-9]{1,9})?", re.ASCII)
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class What:
    """What was rehearsed: an ISO 8601 date, the names of scenario, topology and drill, the seed of
    a drawn one, whether it was broken off.
    """

    date: str
    scenario: str
    topology: str
    drill: str
    seed: int | None = None
    broken: bool = False


@dataclass(frozen=True, slots=True)
class Entry:
    """One line. `kinds`: of its faults, such as `port dead`; `noticed` to `redundancy`: flicks from
    the first fault on (None: it did not come); `lost`, `lost_by_nothing`: wall-seconds; `hints`:
    how many were given.
    """

    what: What
    kinds: tuple[str, ...]
    goal: str
    reached: bool
    noticed: int | None
    right: int | None
    picture: int | None
    redundancy: int | None
    lost: Fraction
    lost_by_nothing: Fraction
    hints: int


def kind_of(rig: Rig, thing: str, mode: str) -> str:
    """The kind of a fault: the family of what it strikes, and its mode."""
    family = rig.things[thing].family if thing in rig.things else "selector"
    return f"{family} {mode}"


def entry_of(review: Review, what: What) -> Entry:
    """The line of a drill that was done."""
    plan = review.plan
    kinds = (kind_of(plan.rig, fault.thing, fault.mode) for fault in plan.script.faults)
    failing = ["selector changeover"] * bool(plan.script.failing)
    return Entry(
        what=what,
        kinds=tuple(dict.fromkeys([*kinds, *failing])),
        goal=plan.goal,
        reached=review.reached,
        noticed=review.noticed,
        right=review.right,
        picture=review.picture,
        redundancy=review.redundancy,
        lost=review.lost,
        lost_by_nothing=review.lost_by_nothing,
        hints=sum(len(situation.hints) for situation in review.situations),
    )


# ---- as text -------------------------------------------------------------------------------------


def entry_line(entry: Entry) -> str:
    """A line of the table, with its end."""
    what = entry.what
    times = (entry.noticed, entry.right, entry.picture, entry.redundancy)
    fields = [
        what.date,
        what.scenario,
        what.topology,
        what.drill,
        "" if what.seed is None else what.seed,
        BETWEEN.join(entry.kinds),
        entry.goal,
        "yes" if entry.reached else "no",
        BROKEN if what.broken else WHOLE,
        *("" if time is None else _seconds(Fraction(time, FLICKS)) for time in times),
        _seconds(entry.lost),
        _seconds(entry.lost_by_nothing),
        entry.hints,
    ]
    into = io.StringIO()
    csv.writer(into, lineterminator="\n").writerow(cell(" ".join(str(f).split())) for f in fields)
    return into.getvalue()


def _seconds(value: Fraction) -> str:
    return f"{Decimal(round(value * 1000)) / 1000:.3f}"


def entries_of(text: str, name: str) -> tuple[Entry, ...]:
    """All lines of a table. Raises InputError with every line that cannot be read."""
    reader = csv.reader(io.StringIO(text), strict=True)
    found, problems = list[Entry](), list[Problem]()
    try:
        rows = [(reader.line_num, row) for row in islice(reader, MOST_ROWS + 1)]
    except csv.Error as error:
        todo = "mend the line by hand"
        raise refuse(f"{name}:{reader.line_num}", f"is no table: {error}", todo=todo) from None
    if not rows:
        return ()
    _check_head(rows[0][1], name)
    if len(rows) > MOST_ROWS:
        raise refuse(name, "too many rows", f"at most {MOST_ROWS}", todo="begin another table")
    for line, row in rows[1:]:
        if len(problems) > MOST_PROBLEMS:
            break
        try:
            found.append(_entry(row, f"{name}:{line}"))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(found)


def _check_head(head: Sequence[str], name: str) -> None:
    if tuple(head) != COLUMNS:
        odd = next((each for each in head if each not in COLUMNS), "")
        found = f"is no table of drills: it begins with {','.join(head)[:60]!r}"
        todo = "name another file: this one is left as it is"
        raise refuse(f"{name}:1", found, HEAD.strip(), nearest_name(odd, COLUMNS), todo)


def _entry(row: Sequence[str], where: str) -> Entry:
    if len(row) != len(COLUMNS):
        todo = "mend or delete the line"
        raise refuse(where, f"{len(row)} fields", f"{len(COLUMNS)} fields", todo=todo)
    odd = next((each for each in row if not shows(each) or len(each) > MOST_NOTE), None)
    if odd is not None:
        found = f"a field that cannot be shown: {shorten(odd)}"
        allowed = f"up to {MOST_NOTE} characters on one line"
        raise refuse(where, found, allowed, todo="mend or delete the line")
    said = dict(zip(COLUMNS, map(uncell, row), strict=True))
    day = _read(said, "date", date.fromisoformat, where, "a date such as 2026-11-27")
    noticed, right, picture, redundancy = (_time(said, key, where) for key in COLUMNS[9:13])
    return Entry(
        what=What(
            date=day.isoformat(),
            scenario=said["scenario"],
            topology=said["topology"],
            drill=said["drill"],
            seed=_count(said, "seed", where) if said["seed"] else None,
            broken=_read(said, "ended", {BROKEN: True, WHOLE: False}.__getitem__, where, ENDED),
        ),
        kinds=tuple(said["kinds"].split(BETWEEN)),
        goal=said["goal"],
        reached=_read(said, "reached", {"yes": True, "no": False}.__getitem__, where, "yes, no"),
        noticed=noticed,
        right=right,
        picture=picture,
        redundancy=redundancy,
        lost=_number(said, "lost_s", where),
        lost_by_nothing=_number(said, "lost_doing_nothing_s", where),
        hints=_count(said, "hints", where),
    )


def _read(
    said: Mapping[str, str], key: str, how: Callable[[str], T], where: str, allowed: str
) -> T:
    try:
        return how(said[key])
    except (ValueError, KeyError):
        found = f"{key} is {said[key]!r}"
        raise refuse(where, found, allowed, todo="mend or delete the line") from None


def _count(said: Mapping[str, str], key: str, where: str) -> int:
    found = said[key] if said[key].isascii() and said[key].isdigit() else "none"
    return _read({**said}, key, lambda _: int(found), where, "a whole number")


def _number(said: Mapping[str, str], key: str, where: str) -> Fraction:
    return _read(said, key, _decimal, where, "seconds, such as 12.5")


def _decimal(text: str) -> Fraction:
    if not DECIMAL.fullmatch(text):
        raise ValueError(text)
    return Fraction(text)


def _time(said: Mapping[str, str], key: str, where: str) -> int | None:
    return to_flicks(_number(said, key, where)) if said[key] else None
