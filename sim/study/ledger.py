"""From intervals to frames: what each fault costs, counted in whole frames of a wall.

In: *lines*, sorted lists of (start in flicks, quality) that hold until the next start; the length
F of a frame in flicks. Out: frame counts by state, exact means, all integers and fractions.
Frame k is [kF, (k+1)F); its state is the worst one of non-zero length in it, and it is counted
once. States are dark (absent or black), corrupt, wrong, frozen, unlocked, lit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import NamedTuple

from sim.faults import Quality
from sim.intervals import Intervals, intervals

Line = Sequence[tuple[int, int]]
"""Steps (start in flicks, quality 0..6); the first start is 0, the last quality holds for ever."""
WORST_FIRST = tuple(Quality)[1:]
"""The best quality that each state stands for: black stands for dark, which is absent too."""


class Frames(NamedTuple):
    """Numbers of frames by state, worst first."""

    dark: int = 0
    corrupt: int = 0
    wrong: int = 0
    frozen: int = 0
    unlocked: int = 0
    lit: int = 0


class Means(NamedTuple):
    """Mean numbers of frames by state (exact), worst first."""

    dark: Fraction
    corrupt: Fraction
    wrong: Fraction
    frozen: Fraction
    unlocked: Fraction
    lit: Fraction


@dataclass(frozen=True, slots=True)
class PhaseCount:
    """Frames by state over all phases of a script: least, most, and the mean over F flicks."""

    least: Frames
    most: Frames
    mean: Means


@dataclass(frozen=True, slots=True)
class WallCount:
    """Several lines with one common phase. `total`: frames times weight, added up over the lines.

    `anywhere`: frames by the worst state that any line has in them, each frame counted once.
    """

    total: PhaseCount
    anywhere: PhaseCount


def touched_by_drops(frame: int, source: int, lost: int) -> tuple[int, int]:
    """Frames that a source's loss of `lost` of its frames touches, least and most.

    It lasts from its instant to the end of the last frame lost. Both grids begin with the show,
    so that every pair of phases comes within their common period; all lengths in flicks.
    """
    ends = range(lost * source, (lost + lcm(frame, source) // source) * source, source)
    last = (-(-end // frame) - (end - (lost - 1) * source - 1) // frame for end in ends)
    first = [-(-end // frame) - (end - lost * source) // frame for end in ends]
    return min(last), max(first)


def touched(start: int, end: int, frame: int) -> int:
    """Frames that an outage [start, end) touches: ceil(end/F) - floor(start/F); 0 if empty."""
    return -(-end // frame) - start // frame if start < end else 0


def frames_in_states(line: Line, frame: int, length: int) -> tuple[Intervals, ...]:
    """For each state, worst first, the numbers of the frames that are in it.

    Only the whole frames within `length` flicks count.
    """
    end = length // frame * frame
    reached = [
        intervals((a // frame, -(-b // frame)) for a, b in _at_most(line, quality, 0, end))
        for quality in WORST_FIRST
    ]
    return tuple(more - less for less, more in pairwise([Intervals(), *reached]))


def frames_by_state(line: Line, frame: int, length: int) -> Frames:
    """How many whole frames within `length` flicks are in each state."""
    return Frames(*(numbers.total for numbers in frames_in_states(line, frame, length)))


def worst_line(lines: Iterable[Line]) -> list[tuple[int, int]]:
    """At each instant the worst quality of any of the lines."""
    steps = sorted((start, i, quality) for i, line in enumerate(lines) for start, quality in line)
    now: dict[int, int] = {}
    held = [0] * len(Quality)
    worst: dict[int, int] = {}
    for start, i, quality in steps:
        if i in now:
            held[now[i]] -= 1
        now[i] = quality
        held[quality] += 1
        worst[start] = next(q for q, count in enumerate(held) if count)
    return list(worst.items())


def over_phase(line: Line, frame: int, before: int = Quality.GOOD) -> PhaseCount:
    """Frames that a fault costs, over every phase 0..F-1 of its instant.

    `line` is relative to the fault's instant; `before` holds before it, the last quality after it.
    Counted are the frames that touch the time from the first change of quality to the last; what
    is settled before and after it has no number of frames. Exact, through the break points.
    """
    return _phase_count([(1, line, before)], frame)


def over_phase_together(
    lines: Sequence[tuple[int, Line]], frame: int, before: Sequence[int] = ()
) -> WallCount:
    """The same for several lines, each with its weight (cells, pixels), that share one phase.

    `before` has a quality for each line, or none: then all were good. In `anywhere` the lines are
    taken as one that is always as bad as the worst of them.
    """
    qualities = before or [Quality.GOOD] * len(lines)
    each = [(weight, line, q) for (weight, line), q in zip(lines, qualities, strict=True)]
    worst = worst_line(line for _, line in lines)
    together = [(1, worst, min(qualities, default=Quality.GOOD))]
    return WallCount(_phase_count(each, frame), _phase_count(together, frame))


def expected_dark(line: Line, length: int, at_most: int = Quality.BLACK) -> Fraction:
    """Mean flicks dark of a fault that strikes at random in a show of `length` flicks and lasts.

    `line` is relative to the strike, uniform in the show; what is left of the show after it, s,
    is then uniform too. Each dark [a, b) gives the mean of max(0, min(b, s) - a) over s in
    (0, length), which is ((b - a)^2 / 2 + (length - b) (b - a)) / length with b cut at length.
    `at_most` counts all qualities up to it instead of dark ones.
    """
    dark = _at_most(line, at_most, 0, length)
    return sum((_mean_within(a, b, length) for a, b in dark), Fraction(0))


def _mean_within(a: int, b: int, length: int) -> Fraction:
    return Fraction((b - a) * (2 * length - a - b), 2 * length)


def outage_by_loss(lost: Intervals, frame: int) -> int:
    """Flicks: the frames lost times the length of one (RFC 6414 sec. 3.6.2, loss-derived)."""
    return lost.total * frame


def outage_by_stamps(lost: Intervals, frame: int) -> int:
    """Flicks from the last good frame before to the first good one after (RFC 6414 sec. 3.6.1)."""
    if not lost:
        return 0
    return (lost.spans[-1][1] - (lost.spans[0][0] - 1)) * frame


def reversion_time(line: Line, restored: int) -> int:
    """Flicks from restoration to the end of what reversion changed (RFC 6414); 0: nothing seen."""
    return max(_steps(line)[-1][0] - restored, 0)


def _steps(line: Line, before: int | None = None) -> list[tuple[int, int]]:
    """The line without steps that change nothing."""
    found: list[tuple[int, int]] = []
    for start, quality in line:
        if quality != (found[-1][1] if found else before):
            found.append((start, quality))
    return found


def _at_most(line: Line, quality: int, start: int, end: int) -> Intervals:
    """When, within [start, end), the line is no better than `quality`."""
    ends = [*(after for after, _ in line[1:]), end]
    return intervals(
        (max(a, start), min(b, end)) for (a, q), b in zip(line, ends, strict=True) if q <= quality
    )


class _Profile:
    """A whole number for each phase 0..F-1, as a base and jumps: sums of steps are steps."""

    def __init__(self, frame: int) -> None:
        self.frame = frame
        self.base = 0
        self.jumps: dict[int, int] = {}

    def add_touched(self, spans: Intervals, times: int) -> None:
        """Add `times` the frames that touch any of the spans, moved by the phase."""
        for start, end in spans:
            whole, rest = divmod(end - start, self.frame)
            self.base += times * (whole + (rest > 0))
            first = self.frame - rest + 1 if rest else 1
            self._add_arc(first - start, self.frame - first, times)
        for (_, start), (end, _) in pairwise(spans):
            self._add_arc(1 - start, self.frame - 1 - (end - start), -times)

    def add_aligned(self, instant: int, value: int) -> None:
        """Add a value at the phase that puts the instant on a frame's edge."""
        self._add_arc(-instant, 1, value)

    def _add_arc(self, first: int, count: int, value: int) -> None:
        """Add a value at `count` phases from `first` on, round the frame."""
        if count <= 0:
            return
        first %= self.frame
        past = first + count
        self._jump(first, value)
        if past >= self.frame:
            self.base += value
            past -= self.frame
        self._jump(past, -value)

    def _jump(self, phase: int, value: int) -> None:
        self.jumps[phase] = self.jumps.get(phase, 0) + value

    def summary(self) -> tuple[int, int, Fraction]:
        """Least, most and mean."""
        values, value, total, last = [], self.base, 0, 0
        for phase in sorted({0, *self.jumps}):
            total += value * (phase - last)
            value += self.jumps.get(phase, 0)
            values.append(value)
            last = phase
        total += value * (self.frame - last)
        return min(values), max(values), Fraction(total, self.frame)


def _phase_count(lines: Sequence[tuple[int, Line, int]], frame: int) -> PhaseCount:
    """By state: the frames touched up to it, less those touched up to the state before it."""
    profiles = [_Profile(frame) for _ in WORST_FIRST]
    for weight, line, before in lines:
        _add_line(profiles, weight, line, before)
    least, most, mean = zip(*(profile.summary() for profile in profiles), strict=True)
    return PhaseCount(Frames(*least), Frames(*most), Means(*mean))


def _add_line(profiles: Sequence[_Profile], weight: int, line: Line, before: int) -> None:
    """Add a line's frames. One flick of what is settled stands for it at each end.

    Where such a flick falls in a frame of its own, that frame does not count.
    """
    steps = _steps(line, before)
    if len(steps) < 2:
        return
    first, last = steps[0][0], steps[-1][0]
    whole = [(first - 1, before), *steps]
    for i, quality in enumerate(WORST_FIRST):
        spans = _at_most(whole, quality, first - 1, last + 1)
        for profile, times in zip(profiles[i : i + 2], (weight, -weight), strict=False):
            profile.add_touched(spans, times)
            profile.add_aligned(first, -times if before <= quality else 0)
            profile.add_aligned(last, -times if steps[-1][1] <= quality else 0)
