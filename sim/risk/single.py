"""Shows with one fault, summed exactly: over all instants at which it may strike.

In: what the fault does by itself (`Profile`), a `Gauge`, the values asked for. Out: a frozen
`Single`. The strike is uniform in the show and nobody mends it before the end, so that what a show
comes to depends on how much of it is left, and a longest stretch only grows with that: chances and
losses change at finitely many points, and areas have closed forms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sim.rig.terms import Contract
from sim.risk.alone import rows_alone, spans_over
from sim.risk.channels import DARK, DEFECT, MOVES
from sim.risk.profile import Profile
from sim.risk.streams import Floats, Whole
from sim.risk.stretches import Gauge, measured, parts_of
from sim.risk.values import Value, table
from sim.timebase import FLICKS


@dataclass(frozen=True, slots=True)
class Single:
    """`means`: of each value; `nights`: (probability, row) of shows that differ in nothing that is
    asked; both given that the fault strikes.
    """

    means: tuple[float, ...]
    nights: tuple[tuple[float, tuple[float, ...]], ...]


def single(
    made: Profile, gauge: Gauge, values: tuple[Value, ...], contract: Contract | None
) -> Single:
    """A fault that may strike at any instant alike."""
    cuts = _cuts(made, gauge, values)
    lengths = np.diff(cuts) / gauge.length
    middles = np.array([(a + b) // 2 for a, b in pairwise(cuts)], dtype=np.int64)
    rows = _rows(made, gauge.length - middles, gauge)
    means = lengths @ table(rows, values, gauge, contract)
    for column, mean in enumerate(_times(made, gauge)):
        means[column + 2] = mean
    nights = tuple((float(p), tuple(row)) for p, row in zip(lengths, rows.tolist(), strict=True))
    return Single(tuple(means.tolist()), nights)


def already(
    made: Profile, gauge: Gauge, values: tuple[Value, ...], contract: Contract | None
) -> Single:
    """A fault that was there long before the show."""
    row = measured(parts_of([(0, made)], gauge), gauge)
    found = table(np.array([row]), values, gauge, contract)[0]
    return Single(tuple(found.tolist()), ((1.0, row),))


def _cuts(made: Profile, gauge: Gauge, values: tuple[Value, ...]) -> list[int]:
    """How much of the show must be left (flicks) for something asked to change."""
    asked = [(DEFECT, 0, 0), (DARK, 0, 0)]
    for value in values:
        questions = [gauge.asked.questions[n] for n in value.questions]
        asked += [(question.channel, question.over, value.time) for question in questions]
    cuts = {0, gauge.length}
    for channel, over, time in asked:
        spans = spans_over(_unrolled(made), channel, over)
        reached = [at + time for at, until in spans if until - at > time]
        cuts.update(min(at, gauge.length) for at in reached[:1])
    return sorted(cuts)


def _unrolled(made: Profile) -> Profile:
    """What repeats itself, with its turn twice more: no stretch in one go is longer than in these,
    unless it is always there.
    """
    if made.repeat is None:
        return made
    first, second = made.repeat
    turn = [(at, areas) for at, areas in made.steps if first <= at < second]
    before = [areas for at, areas in made.steps if at <= first][-1]
    turn = turn if turn and turn[0][0] == first else [(first, before), *turn]
    again = [(at + n * (second - first), areas) for n in (1, 2) for at, areas in turn]
    steps = [step for step in made.steps if step[0] < second]
    return Profile((*steps, *again), made.settled)


def _rows(made: Profile, begin: Whole, gauge: Gauge) -> Floats:
    if made.repeat is None:
        return rows_alone(made, None, begin, np.full_like(begin, gauge.length + 1), gauge)
    rows = [measured(parts_of([(int(at), made)], gauge), gauge) for at in begin]
    return np.array(rows).reshape(len(begin), gauge.size)


def _times(made: Profile, gauge: Gauge) -> tuple[float, float, float, float]:
    """Means of dark, weighted, moving wall-seconds, and of frames (over their phase)."""
    scale = 1.0 / (FLICKS * gauge.asked.areas["group"])
    spans = _laid_out(made, gauge.length)
    length = float(gauge.length)
    dark = moving = weighed = frames = 0.0
    lit = True
    for span in spans:
        mean = _mean(span, length)
        dark, moving = dark + span.areas[0] * mean, moving + span.areas[1] * mean
        if span.areas[0]:
            left = (_left(span.last, gauge) - _left(span.begin, gauge)) / length
            weighed += span.areas[0] * left * span.part
            begins = (span.times * (length - span.begin) - span.period * _sum(span)) / length
            frames += mean / gauge.frame + (begins if lit or span.times > 1 else 0.0)
        lit = not span.areas[0]
    return dark * scale, weighed * scale, moving * scale, frames


@dataclass(frozen=True, slots=True)
class Span:
    """From `begin` to `end` these areas (dark, dark where it moves), and `times` in all, each a
    `period` after the one before.
    """

    begin: int
    end: int
    areas: tuple[int, int]
    times: int = 1
    period: int = 0

    @property
    def last(self) -> int:
        """Where the last one ends."""
        return self.end + (self.times - 1) * self.period

    @property
    def part(self) -> float:
        """How much of the time from the first to the last is taken."""
        return self.times * (self.end - self.begin) / (self.last - self.begin)


def _sum(span: Span) -> float:
    return span.times * (span.times - 1) / 2


def _mean(span: Span, length: float) -> float:
    """Flicks of the spans, mean over a strike uniform in the show and what is left after it."""
    whole = span.times * (2 * length - span.begin - span.end) - 2 * span.period * _sum(span)
    return (span.end - span.begin) * whole / (2 * length)


def _laid_out(made: Profile, length: int) -> list[Span]:
    """All parts up to the show's length; turns of a repetition together."""
    if made.repeat is None or made.repeat[1] >= length:
        return _spans([(at, _two(areas)) for at, areas in made.steps], length)
    first, second = made.repeat
    period = second - first
    once = [(at, _two(areas)) for at, areas in made.steps if at < second]
    before = [areas for at, areas in once if at <= first][-1]
    turn = [(0, before), *((at - first, areas) for at, areas in once if at > first)]
    whole = (length - second) // period
    many = [
        Span(second + span.begin, second + span.end, span.areas, whole, period)
        for span in _spans(turn, period)
    ]
    rest = second + whole * period
    tail = [(at + rest, areas) for at, areas in turn if at + rest < length]
    return [*_spans(once, second), *(many if whole else ()), *_spans(tail, length)]


def _two(areas: tuple[int, ...]) -> tuple[int, int]:
    return areas[DARK], areas[MOVES]


def _spans(steps: Sequence[tuple[int, tuple[int, int]]], end: int) -> list[Span]:
    cuts = [*(at for at, _ in steps[1:]), end]
    pairs = zip(steps, cuts, strict=True) if steps else ()
    return [Span(at, min(cut, end), areas) for (at, areas), cut in pairs if at < min(cut, end)]


def _left(at: int, gauge: Gauge) -> float:
    """The integral from 0 of the weighted time that is left in the show after an instant."""
    edges = [min(when, gauge.length) for when, _ in gauge.moments] + [gauge.length]
    total = 0.0
    for begin, end in pairwise(edges):
        if begin >= at:
            break
        until = min(end, at)
        after = gauge.weight(begin, gauge.length), gauge.weight(until, gauge.length)
        total += sum(after) / 2 * (until - begin)
    return total
