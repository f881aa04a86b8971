"""How chains run through a wall: data chains from head to tail, and power chains the same way.

In: rows and columns, the way to run, the greatest length of a chain; or lists of cabinet names.
Out: tuples of (row, column), counted from 0, head first. Mistakes are `InputError`s that name
the cabinets, counted from 1 (`r2c3`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import TypeVar

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.rig.wall import Place, listed_cabinets

T = TypeVar("T")
Chain = tuple[Place, ...]
"""Cabinets, the head first."""
WAYS = ("by column", "by row", "serpentine by column", "serpentine by row")
CORNERS = ("top left", "top right", "bottom left", "bottom right")
_RUN = re.compile(r"\s*r(\d{1,4})c(\d{1,4})(?:\s*\.\.\s*r(\d{1,4})c(\d{1,4}))?\s*", re.ASCII)


def chains(  # noqa: PLR0913 -- each is one thing that people say about their chains
    rows: int, columns: int, how: str, longest: int | None = None, start: str = "top left",
    count: int | None = None, where: str = "chains",
) -> tuple[Chain, ...]:  # fmt: skip
    """Chains that together take every cabinet once.

    `by column`: a chain for each column, every one running away from the `start` corner's edge.
    `serpentine by column`: a chain takes as many neighbouring columns as `longest` (cabinets)
    allows, down one and up the next; columns are shared out evenly, over `count` chains if given
    (default: as few as will do; without `longest`, one), and every head is at the start's edge.
    A column longer than `longest` is cut into even pieces. Rows likewise. Raises InputError.
    """
    _check(how, start, (longest, count), where)
    lines = _lines(rows, columns, how.endswith("column"), start)
    size, most = len(lines[0]), longest or rows * columns
    if size > most:
        pieces = [piece for line in lines for piece in _even(line, -(-size // most))]
        return tuple(tuple(piece) for piece in pieces)
    if not how.startswith("serpentine"):
        return tuple(tuple(line) for line in lines)
    bundles = _even(lines, _chain_count(len(lines), most // size, count, where))
    return tuple(_snake(bundle) for bundle in bundles)


def _check(how: str, start: str, numbers: Iterable[int | None], where: str) -> None:
    for found, allowed in ((how, WAYS), (start, CORNERS)):
        if found not in allowed:
            near = nearest_name(found, allowed)
            raise refuse(where, f"unknown way {found!r}", ", ".join(allowed), near)
    for number in numbers:
        if number is not None and number < 1:
            raise refuse(where, f"{number} is no length or count of chains", "at least 1")


def _lines(rows: int, columns: int, down_first: bool, start: str) -> list[list[Place]]:
    down = range(rows) if start.startswith("top") else range(rows - 1, -1, -1)
    across = range(columns) if start.endswith("left") else range(columns - 1, -1, -1)
    if down_first:
        return [[(row, column) for row in down] for column in across]
    return [[(row, column) for column in across] for row in down]


def _chain_count(lines: int, fit: int, count: int | None, where: str) -> int:
    needed = -(-lines // fit)
    if count is None:
        return needed
    if not needed <= count <= lines:
        raise refuse(where, f"{count} chains do not suit", f"{needed} to {lines} chains")
    return count


def _even(items: Sequence[T], parts: int) -> list[list[T]]:
    """Cut into `parts` runs whose lengths differ by at most one, longer ones first."""
    size, longer = divmod(len(items), parts)
    ends = [size * i + min(i, longer) for i in range(parts + 1)]
    return [list(items[a:b]) for a, b in pairwise(ends)]


def _snake(lines: list[list[Place]]) -> Chain:
    return tuple(p for i, line in enumerate(lines) for p in (line[::-1] if i % 2 else line))


def listed(
    lists: Sequence[Sequence[str]], rows: int, columns: int, where: str = "chains"
) -> tuple[Chain, ...]:
    """Chains written out, head first: `r1c1`, or a straight run `r1c1..r9c1`. Raises InputError."""
    made = tuple(_bounded(lists, 2 * rows * columns, where))
    check_chains(made, rows, columns, where)
    return made


def _bounded(lists: Iterable[Sequence[str]], most: int, where: str) -> Iterator[Chain]:
    """The chains, as long as they name no more than `most` places together."""
    left = most
    for texts in lists:
        made: list[Place] = []
        for text in texts:
            made += _run(text, where)
            if len(made) > left:
                allowed = "each cabinet in exactly one chain"
                raise refuse(where, f"more than {most} cabinets, twice what the wall has", allowed)
        left -= len(made)
        yield tuple(made)


def _run(text: str, where: str) -> list[Place]:
    found = _RUN.fullmatch(text)
    if not found:
        raise refuse(where, f"{text!r} is no cabinet", "r1c1, or a straight run r1c1..r9c1")
    row, column, to_row, to_column = (int(n) - 1 if n else -1 for n in found.groups())
    if found[3] is None:
        return [(row, column)]
    if row != to_row and column != to_column:
        raise refuse(where, f"{text!r} is not straight", "a run in one row or in one column")
    steps = max(abs(to_row - row), abs(to_column - column))
    turn_row, turn_column = _sign(to_row - row), _sign(to_column - column)
    return [(row + i * turn_row, column + i * turn_column) for i in range(steps + 1)]


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)


def check_chains(
    made: Iterable[Chain], rows: int, columns: int, where: str = "chains",
    longest: int | None = None,
) -> None:  # fmt: skip
    """Every cabinet in exactly one chain, none empty or too long. Raises InputError naming all."""
    made = tuple(made)
    times = Counter(place for chain in made for place in chain)
    wall = [(row, column) for row in range(rows) for column in range(columns)]
    inside = set(wall)
    faults = (
        ("not on the wall", [p for p in times if p not in inside]),
        ("in more than one place of the chains", [p for p, n in times.items() if n > 1]),
        ("in no chain", [p for p in wall if p not in times]),
    )
    allowed = f"each of r1c1 to r{rows}c{columns} in exactly one chain"
    found = [Problem(where, f"{listed_cabinets(p)}: {what}", allowed) for what, p in faults if p]
    found += [Problem(where, f"chain {i} is empty") for i, c in enumerate(made, 1) if not c]
    found += [
        Problem(where, f"chain {i} has {len(c)} cabinets", f"at most {longest}")
        for i, c in enumerate(made, 1)
        if longest is not None and len(c) > longest
    ]
    if found:
        raise InputError(found)
