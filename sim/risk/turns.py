"""What a fault that comes and goes makes of a long show, summed in closed form.

In: a `Profile` that repeats itself, a `Gauge`. Out: means over a strike uniform in the show. Dark
times are exact; weighted times and frames take each repetition as spread evenly over its turns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from sim.risk.channels import DARK, MOVES
from sim.risk.profile import Profile
from sim.risk.stretches import Gauge
from sim.timebase import FLICKS


def long_times(made: Profile, gauge: Gauge) -> tuple[float, float, float, float]:
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
