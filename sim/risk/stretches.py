"""What a show comes to: areas over time, measured.

In: for each unrelated part of a show its pieces (an event and its `Profile`), the `Gauge`. Out:
one row of numbers for each show: defect, dark (0 or 1), pixel-flicks dark, the same by weight of
the moment, the same where the picture moves, frames with something dark; then for each question
the longest stretch in one go (flicks).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import merge
from itertools import pairwise

from sim.risk.channels import DARK, DEFECT, MOVES, Asked
from sim.risk.profile import Areas, Profile

DEFECTIVE, ANY_DARK, DARK_TIME, WEIGHTED, MOVING_DARK, FRAMES = range(6)
LONGEST = 6
"""Where in a row the questions begin."""
Row = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """Areas between two flicks. In a repetition `low` is what is there all the time, `mean` the
    average, and `share` the part of frames with something dark.
    """

    begin: int
    end: int
    low: Areas
    mean: tuple[float, ...]
    share: float


@dataclass(frozen=True, slots=True)
class Gauge:
    """How shows are measured: the whole frames of the show in flicks, weights of moments as
    (begin, weight) from 0 on.
    """

    asked: Asked
    frame: int
    length: int
    moments: tuple[tuple[int, float], ...] = ((0, 1.0),)

    @property
    def size(self) -> int:
        return LONGEST + len(self.asked.questions)

    def weight(self, begin: int, end: int) -> float:
        """Flicks from begin to end, each counted by the weight of its moment."""
        total = 0.0
        at = bisect_right(self.moments, (begin, float("inf"))) - 1
        while begin < end:
            until = self.moments[at + 1][0] if at + 1 < len(self.moments) else end
            total += (min(until, end) - begin) * self.moments[at][1]
            begin, at = min(until, end), at + 1
        return total


def moments(weights: Sequence[tuple[int, int, float]]) -> tuple[tuple[int, float], ...]:
    """Weights of moments as steps; where moments overlap the greater weight counts."""
    edges = sorted({0, *(edge for begin, end, _ in weights for edge in (begin, end))})
    found = []
    for edge in edges:
        there = [w for begin, end, w in weights if begin <= edge < end]
        found.append((edge, max(there, default=1.0)))
    return tuple(found)


def parts_of(pieces: Sequence[tuple[int, Profile]], gauge: Gauge) -> list[Part]:
    """The pieces of one part of a show, each from its event to the next, within the show."""
    found: list[Part] = []
    for number, (at, made) in enumerate(pieces):
        end = pieces[number + 1][0] if number + 1 < len(pieces) else gauge.length
        found += _piece(at, made, min(end, gauge.length), gauge)
    return found


def _piece(at: int, made: Profile, end: int, gauge: Gauge) -> Iterator[Part]:
    if made.repeat is not None:
        yield from _repeating(at, made, end, gauge)
        return
    yield from _plain(at, made.steps, end)


def _plain(at: int, steps: Sequence[tuple[int, Areas]], end: int) -> Iterator[Part]:
    for number, (when, areas) in enumerate(steps):
        until = at + steps[number + 1][0] if number + 1 < len(steps) else end
        begin, until = max(at + when, 0), min(until, end)
        if begin < until:
            yield Part(begin, until, areas, areas, float(areas[DARK] > 0))


def _repeating(at: int, made: Profile, end: int, gauge: Gauge) -> Iterator[Part]:
    """The beginning, two turns, many turns taken together, and the turns in which it ends: what
    lasts from one turn into the next is there in one go.
    """
    assert made.repeat is not None
    first, second = made.repeat
    period = second - first
    if at + first < 0:
        at += -(at + first) // period * period
    once = [(when, areas) for when, areas in made.steps if when < second]
    turn = _turn(once, first)
    rest = end - (at + second)
    written = max(0, -(-rest // period)) if rest < 4 * period else 1
    turns = [(second + n * period + when, areas) for n in range(written) for when, areas in turn]
    if rest < 4 * period:
        yield from _plain(at, [*once, *turns], end)
        return
    begin = at + second + period
    yield from _plain(at, [*once, *turns], begin)
    last = at + second + (rest // period - 1) * period
    yield _together(begin, last, turn, period, gauge)
    tail = [(n * period + when, areas) for n in range(2) for when, areas in turn]
    yield from _plain(last, tail, end)


def _turn(steps: Sequence[tuple[int, Areas]], first: int) -> list[tuple[int, Areas]]:
    """One turn, from 0 on."""
    before = [areas for when, areas in steps if when <= first]
    later = [(when - first, areas) for when, areas in steps if when > first]
    return [(0, before[-1]), *later] if before else later


def _together(
    begin: int, end: int, turn: Sequence[tuple[int, Areas]], period: int, gauge: Gauge
) -> Part:
    spans = [
        ((turn[n + 1][0] if n + 1 < len(turn) else period) - when, areas)
        for n, (when, areas) in enumerate(turn)
    ]
    low = tuple(min(column) for column in zip(*(areas for _, areas in spans), strict=True))
    mean = tuple(
        sum(span * area for (span, _), area in zip(spans, column, strict=True)) / period
        for column in zip(*(areas for _, areas in spans), strict=True)
    )
    whole = sum(max(gap - gauge.frame + 1, 0) for gap in _gaps(spans))
    return Part(begin, end, low, mean, 1.0 - whole / period)


def _gaps(spans: Sequence[tuple[int, Areas]]) -> list[int]:
    """How long nothing is dark in one go, in a turn that is followed by itself."""
    found: list[int] = []
    goes_on = False
    for span, areas in spans:
        if areas[DARK]:
            goes_on = False
        elif goes_on:
            found[-1] += span
        else:
            found.append(span)
            goes_on = True
    if len(found) > 1 and goes_on and not spans[0][1][DARK]:
        found[0] += found.pop()
    return found


def added(groups: Sequence[Sequence[Part]]) -> list[Part]:
    """Unrelated parts of a show taken together: their areas add up."""
    busy = [group for group in groups if group]
    if len(busy) < 2:
        return list(busy[0]) if busy else []
    edges = sorted({edge for group in busy for part in group for edge in (part.begin, part.end)})
    runs = [list(_cut(group, edges)) for group in busy]
    found: list[Part] = []
    for part in merge(*runs, key=lambda part: part.begin):
        if found and found[-1].begin == part.begin:
            found[-1] = _sum(found[-1], part)
        else:
            found.append(part)
    return found


def _cut(group: Sequence[Part], edges: Sequence[int]) -> Iterator[Part]:
    for part in group:
        inner = edges[bisect_right(edges, part.begin) : bisect_right(edges, part.end - 1)]
        cuts = [part.begin, *inner, part.end]
        for begin, end in pairwise(cuts):
            yield Part(begin, end, part.low, part.mean, part.share)


def _sum(one: Part, other: Part) -> Part:
    low = tuple(a + b for a, b in zip(one.low, other.low, strict=True))
    mean = tuple(a + b for a, b in zip(one.mean, other.mean, strict=True))
    return Part(one.begin, one.end, low, mean, max(one.share, other.share))


def measured(parts: Sequence[Part], gauge: Gauge) -> Row:
    """The row of a show."""
    row = [0.0] * gauge.size
    counted = 0
    for part in parts:
        time = part.end - part.begin
        if part.mean[DEFECT]:
            row[DEFECTIVE] = 1.0
        if not part.mean[DARK]:
            continue
        row[ANY_DARK] = 1.0
        row[DARK_TIME] += time * part.mean[DARK]
        row[WEIGHTED] += gauge.weight(part.begin, part.end) * part.mean[DARK]
        row[MOVING_DARK] += time * part.mean[MOVES]
        first, after = part.begin // gauge.frame, -(-part.end // gauge.frame)
        row[FRAMES] += (after - max(first, counted)) * part.share if after > counted else 0.0
        counted = max(counted, after)
    for number, question in enumerate(gauge.asked.questions):
        row[LONGEST + number] = float(_longest(parts, question.channel, question.over))
    return tuple(row)


def _longest(parts: Sequence[Part], channel: int, over: int) -> int:
    best = begin = 0
    end = -1
    for part in parts:
        if part.low[channel] <= over:
            continue
        if part.begin != end:
            begin = part.begin
        end = part.end
        best = max(best, end - begin)
    return best
