"""What one row of an owner's records says, and where rows contradict one another.

In: frozen `Record`s, times local. Out: problems in five parts, none if the rows agree.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from sim.errors import Problem


@dataclass(frozen=True, slots=True)
class Record:
    """One thing in one period [begins, ends): `failures` of one mode in `exposure` hours, or in so
    many demands, each a `per`. `per` is "hour" for hours. `mode` "": nothing failed at all.
    """

    where: str
    thing: str
    family: str
    kit: str
    begins: datetime
    ends: datetime
    mode: str
    failures: int
    exposure: float
    per: str


def contradictions(records: Iterable[Record]) -> Iterator[Problem]:
    """Periods of one thing that overlap, rows said twice, hours or kinds that differ."""
    by_thing: dict[str, list[Record]] = defaultdict(list)
    for record in records:
        by_thing[record.thing].append(record)
    yield from (problem for rows in by_thing.values() for problem in _of_one(rows))


def _of_one(rows: Sequence[Record]) -> Iterator[Problem]:
    yield from _kinds(rows)
    periods: dict[tuple[datetime, datetime], list[Record]] = defaultdict(list)
    for row in rows:
        periods[row.begins, row.ends].append(row)
    yield from _overlaps([periods[key][0] for key in sorted(periods)])
    for same in periods.values():
        yield from _hours(same)
        yield from _repeated(same)


def _kinds(rows: Sequence[Record]) -> Iterator[Problem]:
    first = rows[0]
    for row in rows[1:]:
        for column, one, other in (
            ("family", first.family, row.family),
            ("type", first.kit, row.kit),
        ):
            if one != other:
                found = f"{row.thing!r} is {other or 'nothing'!r} here, {one or 'nothing'!r} before"
                todo = f"see {first.where}; give another thing another name"
                yield Problem(f"{row.where}: {column}", found, "the same in all rows", "", todo)


def _overlaps(rows: Sequence[Record]) -> Iterator[Problem]:
    """Rows in order of their periods; each is held against the one that lasts longest so far."""
    longest = rows[0]
    for _, row in pairwise(rows):
        if row.begins < longest.ends:
            found = f"{_period(row)} of {row.thing!r} overlaps {_period(longest)}"
            allowed = "periods that are the same or apart"
            todo = f"see {longest.where}; hours must not be counted twice"
            yield Problem(f"{row.where}: from", found, allowed, "", todo)
        longest = max(longest, row, key=lambda record: record.ends)


def _period(row: Record) -> str:
    return f"{row.begins.isoformat(' ', 'minutes')} to {row.ends.isoformat(' ', 'minutes')}"


def _hours(rows: Sequence[Record]) -> Iterator[Problem]:
    timed = [row for row in rows if row.per == "hour"]
    for row in timed[1:]:
        if row.exposure != timed[0].exposure:
            found = f"{row.exposure:g} h here, {timed[0].exposure:g} h before in the same period"
            todo = f"see {timed[0].where}"
            yield Problem(f"{row.where}: hours", found, "the same hours", "", todo)


def _repeated(rows: Sequence[Record]) -> Iterator[Problem]:
    seen: dict[tuple[str, str], Record] = {}
    for row in rows:
        other = seen.setdefault((row.mode, row.per), row)
        if other is not row:
            found = f"{row.mode or 'no failure'!r} of {row.thing!r} in this period once more"
            todo = f"see {other.where}; add the two up"
            yield Problem(f"{row.where}: mode", found, "each mode once in a period", "", todo)
    yield from _none_and_some([row for row in rows if row.per == "hour"])


def _none_and_some(rows: Sequence[Record]) -> Iterator[Problem]:
    quiet = next((row for row in rows if not row.mode), None)
    named = [row for row in rows if row.mode]
    if quiet is not None and named:
        found = f"nothing failed, but {named[0].mode!r} is counted in {named[0].where}"
        todo = "delete this row, or name a mode in it"
        yield Problem(f"{quiet.where}: mode", found, "a period without failures alone", "", todo)
