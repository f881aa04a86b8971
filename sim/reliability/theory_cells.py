"""When the cells of a wall group are dark, and how much of a show that takes.

In: what faults change on a rig (`theory_rig`), a group. Out: for patches (cells of one cabinet with
one stack; area in pixels) numbers of functions of time, True while dark; expected dark flicks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sim.faults import Quality
from sim.reliability.theory_nodes import Signal
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_steps import Steps
from sim.reliability.theory_wiring import Found
from sim.rig.topology import UNCOVERED, Stack
from sim.rig.wall import overlap

WRONG, GOOD, BLACK = int(Quality.WRONG), int(Quality.GOOD), int(Quality.BLACK)


@dataclass(frozen=True, slots=True)
class Area:
    """Cells of one cabinet with one stack: pixels, in all and of each region that they touch."""

    cabinet: str
    wall: str
    stack: int
    pixels: int
    regions: Mapping[str, int]


def areas(on: Calculus, group: str) -> tuple[Area, ...]:
    """The patches of a group, in the order of its cells."""
    made = on.rig.groups[group]
    pixels: dict[tuple[str, int], int] = defaultdict(int)
    inside: dict[tuple[str, int], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for cell in made.cells:
        key = cell.cabinet, cell.stack
        pixels[key] += cell.area
        for region in made.regions:
            same = region.wall == on.rig.cabinets[cell.cabinet].wall
            if same and (common := overlap(cell, region)):
                inside[key][region.name] += common
    return tuple(
        Area(cabinet, on.rig.cabinets[cabinet].wall, stack, size, dict(inside[cabinet, stack]))
        for (cabinet, stack), size in pixels.items()
    )


def cell_quality(stack: Stack, wanted: str, signal: Signal, pictures: Mapping[str, Any]) -> int:
    """What a cell shows of a signal: the worse of the carrier and of the layer on top."""
    quality, picture = signal
    if isinstance(picture, str):
        picture = pictures[picture]
    if not quality or picture is None:
        return 0
    arrangement, layers = picture
    levels = dict(layers)
    over = (place for place in stack[arrangement] if levels[place.layer] != UNCOVERED)
    top = next(over, None)
    level = GOOD if top is None else levels[top.layer]
    intended = next(iter(stack[wanted]), None)
    return min(quality, level if top == intended else min(level, WRONG))


class Screen:
    """One group of a rig: which of its patches are dark when."""

    def __init__(self, on: Calculus, group: str) -> None:
        self.on, self.group = on, on.rig.groups[group]
        self.areas = areas(on, group)
        self.wanted = self.group.arrangements[0]
        self.patches: dict[str, list[int]] = defaultdict(list)
        for number, area in enumerate(self.areas):
            self.patches[area.cabinet].append(number)
        self.shows: dict[int, tuple[str, ...]] = {}
        self.viewers: dict[str, list[str]] = defaultdict(list)
        for cabinet in self.patches:
            for carrier in self._carriers(on.quiet.cabinets[cabinet]):
                self.viewers[carrier].append(cabinet)

    def lines(self, found: Found) -> dict[int, int]:
        """For each patch that may be other than with no fault its quality over time (a number)."""
        return {n: self._line(found, cabinet, n) for cabinet, n in self._concerned(found)}

    def dark(self, found: Found) -> dict[int, int]:
        """The same, True while dark; only where it is dark at some time."""
        known = {n: self.darkness(line) for n, line in self.lines(found).items()}
        return {n: line for n, line in known.items() if any(self.on.steps[line].values)}

    def darkness(self, line: int) -> int:
        """When a line of qualities is dark: absent or black."""
        return self.on.joined("dark", (line,), lambda quality: quality <= BLACK)

    def _concerned(self, found: Found) -> Iterator[tuple[str, int]]:
        names = dict.fromkeys(found.cabinets)
        for carrier in found.pictures:
            names.update(dict.fromkeys(self.viewers[carrier]))
        return ((name, n) for name in names for n in self.patches.get(name, ()))

    def _carriers(self, shown: int) -> tuple[str, ...]:
        """The carriers whose live picture a cabinet shows at some time."""
        if shown not in self.shows:
            live = {v[1] for v in self.on.steps[shown].values if isinstance(v[1], str)}
            self.shows[shown] = tuple(sorted(live))
        return self.shows[shown]

    def _line(self, found: Found, cabinet: str, patch: int) -> int:
        return self.quality(found, cabinet, self.areas[patch].stack)

    def quality(self, found: Found, cabinet: str, number: int) -> int:
        """The quality over time of cells with a stack (by number) on a cabinet."""
        quiet = self.on.quiet
        shown = found.cabinets.get(cabinet, quiet.cabinets[cabinet])
        carriers = self._carriers(shown)
        pictures = [found.pictures.get(name, quiet.pictures[name]) for name in carriers]
        stack, wanted = self.group.stacks[number], self.wanted

        def quality(signal: Signal, *now: Any) -> int:
            return cell_quality(stack, wanted, signal, dict(zip(carriers, now, strict=True)))

        return self.on.joined((self.group.name, number, carriers), (shown, *pictures), quality)


# ---- how long ------------------------------------------------------------------------------------


def spans(line: Steps, length: int) -> Iterator[tuple[int, int, int, int]]:
    """Intervals in which a line is True, within a show: (from, to, how often, after how long)."""
    stop = line.start + line.period if line.period else length
    for a, b in _plain(line, 0, min(stop, length)):
        if not line.period or b <= line.start:
            yield a, b, 1, 0
            continue
        if a < line.start:
            yield a, line.start, 1, 0
        yield from _again(max(a, line.start), b, line.period, length)


def _plain(line: Steps, start: int, stop: int) -> Iterator[tuple[int, int]]:
    ends = (*line.times[1:], stop)
    for a, b, on in zip(line.times, ends, line.values, strict=True):
        if on and max(a, start) < min(b, stop):
            yield max(a, start), min(b, stop)


def _again(a: int, b: int, period: int, length: int) -> Iterator[tuple[int, int, int, int]]:
    """An interval and its repetitions, the last one cut off by the end of the show."""
    whole = max((length - b) // period + 1, 0)
    if whole:
        yield a, b, whole, period
    if a + whole * period < length:
        yield a + whole * period, length, 1, 0


def expected_dark(line: Steps, length: int) -> Fraction:
    """Mean dark flicks of a fault that strikes at any time of a show alike and lasts.

    An instant s after the strike lies in the show with chance 1 - s / length; each dark interval
    counts the integral of that, (b - a)(1 - (a + b) / (2 length)), summed over repetitions.
    """
    twice = 0
    for a, b, times, period in spans(line, length):
        late = 2 * length - a - b
        twice += (b - a) * (times * late - period * times * (times - 1))
    return Fraction(twice, 2 * length)


def whole_dark(line: Steps, length: int) -> int:
    """Dark flicks of a show for what holds from before its start."""
    return sum((b - a) * times for a, b, times, _ in spans(line, length))
