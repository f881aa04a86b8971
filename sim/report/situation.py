"""A situation of a drill as lines for a terminal: readable without colour.

In: a `Situation` and the one before it, the rig, the scenario, the width of a line. Out: lines of
text, none longer (but walls).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from textwrap import wrap

from sim.practice.drill import Done, Situation
from sim.practice.symptoms import SEEN, Symptoms
from sim.report.inject_report import moment
from sim.report.rehearse_line import shown_words
from sim.report.words import harmless, listed, wall_words
from sim.rig.topology import Rig
from sim.scenario.scenario import Scenario
from sim.timebase import show_time

LETTERS: Mapping[str, str] = dict(zip(SEEN, "DCWFUJ", strict=True))
LEGEND = (
    "D dark, C corrupt, W wrong, F frozen, U off the reference, J jumping, . lit; small: in part"
)
WALL = re.compile(r"    r[0-9]+ +[DCWFUJdcwfuj.]+")
"""A row of a wall in letters."""
LEAST = 40
SENTENCES = re.compile(r"; (?![^(]*\))")
"""Between what several things say; what is in brackets is one of them."""
WIDEST = 80
"""Walls of more columns are told in words only."""


def situation_lines(
    now: Situation, before: Situation | None, rig: Rig, scenario: Scenario, width: int = 100
) -> Iterator[str]:
    """What is new since the situation before: the last act, walls, alarms, hints."""
    for line in _lines(now, before, rig, scenario):
        yield from within(line, width)


def within(line: str, width: int) -> list[str]:
    """A line in lines no longer than this, the rest of it set in; a wall stays as it is."""
    start = len(line) - len(line.lstrip())
    long = len(line) > width and not WALL.fullmatch(line)
    return wrap(line, max(width, LEAST), subsequent_indent=" " * (start + 2)) if long else [line]


def _lines(now: Situation, before: Situation | None, rig: Rig, scenario: Scenario) -> Iterator[str]:
    if now.last is not None:
        yield from _outcome(now.last, scenario)
    where = f", at {harmless(now.place)}" if now.place else ""
    yield f"{moment(now.at, scenario)}{where}"
    if before is None or now.shown.spots != before.shown.spots:
        yield from _walls(now.shown, rig)
    if before is None or now.shown.reached != before.shown.reached:
        reached = listed(map(harmless, now.shown.reached))
        yield f"  remote control reaches {reached or 'no unit'}"
    known = {alarm.text for alarm in before.shown.alarms} if before else set()
    yield from (f"  {harmless(a.text)}" for a in now.shown.alarms if a.text not in known)
    gone = known - {alarm.text for alarm in now.shown.alarms}
    yield from (f"  over: {harmless(text)}" for text in sorted(gone))
    yield from (f"  hint: {harmless(hint)}" for hint in now.hints)
    if now.over:
        yield "the drill is over"


def _outcome(done: Done, scenario: Scenario) -> Iterator[str]:
    took = show_time(done.end - done.begin, scenario.rate)
    told = [harmless(text) for text in SENTENCES.split(done.said)] if done.said else []
    went = f"  {'done' if done.well else 'not done'}, after {took}"
    if len(told) > 1:
        yield f"{went}:"
        yield from (f"    {text}" for text in told)
    else:
        yield ": ".join([went, *told])
    yield from (f"  caution: {text}" for text in done.cautions)


def _walls(shown: Symptoms, rig: Rig) -> Iterator[str]:
    words = shown_words(shown)
    if not words:
        yield "  all walls are lit everywhere"
        return
    yield from (f"  {text}" for text in words)
    for group in rig.groups.values():
        for wall, (rows, columns, _, _) in group.walls.items():
            grid = _grid(shown, rig, wall, rows, columns)
            if columns <= WIDEST and any(set(row) - {"."} for row in grid):
                yield f"  {wall_words(wall)}, seen from the front; {LEGEND}"
                yield from (f"    r{n:<3} {''.join(row)}" for n, row in enumerate(grid, 1))


def _grid(shown: Symptoms, rig: Rig, wall: str, rows: int, columns: int) -> list[list[str]]:
    """A letter for each cabinet, the worst that any of its spots shows; small if not all do."""
    grid = [["."] * columns for _ in range(rows)]
    stacks = _stacks(rig)
    of_cabinet: dict[str, list[str]] = {}
    for (name, _), seen in shown.spots.items():
        of_cabinet.setdefault(name, []).append(seen)
    for name, all_seen in of_cabinet.items():
        cabinet = rig.cabinets[name]
        if cabinet.wall == wall:
            letter = LETTERS[min(all_seen, key=SEEN.index)]
            whole = len(all_seen) == stacks[name] and len(set(all_seen)) == 1
            grid[cabinet.row][cabinet.column] = letter if whole else letter.lower()
    return grid


def _stacks(rig: Rig) -> dict[str, int]:
    """How many spots each cabinet has."""
    found: dict[str, set[int]] = {}
    for group in rig.groups.values():
        for cell in group.cells:
            found.setdefault(cell.cabinet, set()).add(cell.stack)
    return {name: len(of) for name, of in found.items()}
