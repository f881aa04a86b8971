"""What one line says: frames by state over the phase, how it ends, how long it is dark in a show.

In: a line (start in flicks, quality) that was good before its fault. Out: a frozen `Reading`. All
is exact but `dark_time`, a float.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from sim.faults import Quality
from sim.study.ledger import Frames, over_phase, touched_by_drops

Line = tuple[tuple[int, int], ...]
STATES = ("dark", "corrupt", "wrong", "frozen", "unlocked")
"""What a cell can show but lit, worst first."""
LIT = int(Quality.GOOD)


def state_of(quality: int) -> int:
    """The number of a quality's state in `STATES`; 5 is lit."""
    return max(quality, 1) - 1


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """What one line says: its worst and its last state, frames by state over the phase, mean dark
    flicks in a show.
    """

    line: Line
    worst: int
    last: int
    least: Frames
    most: Frames
    lost: tuple[int, int]
    mean_dark: Fraction
    dark_time: float


@lru_cache(maxsize=1 << 16)
def read(
    line: Line,
    frame: int,
    length: int,
    repeat: tuple[int, int] | None = None,
    drops: tuple[int, int] | None = None,
) -> Reading:
    """Read a line that was good before its fault.

    `repeat`: it goes on for ever as between these flicks. `drops`: the frame of the source (flicks)
    and the number of its frames that are lost; where nothing but that changes the line, phases are
    taken over both grids.
    """
    settled = _within(line, *repeat) if repeat else [line[-1][1]]
    count = over_phase(line, frame)
    made = Reading(
        line=line,
        worst=state_of(min(quality for _, quality in line)),
        last=state_of(min(settled)),
        least=count.least,
        most=count.most,
        lost=_lost(line, frame),
        mean_dark=count.mean.dark,
        dark_time=mean_time(line, length, repeat),
    )
    simple = drops is not None and len(line) == 2 and line[1] == (drops[0] * drops[1], LIT)
    return _over_both(made, frame, drops) if drops is not None and simple else made


def _over_both(reading: Reading, frame: int, drops: tuple[int, int]) -> Reading:
    """A reading with its frames counted over the phases of both grids."""
    lost = touched_by_drops(frame, *drops)
    name = STATES[reading.worst]
    least, most = (Frames(**{name: count}) for count in lost)
    return replace(reading, least=least, most=most, lost=lost)


def _lost(line: Line, frame: int) -> tuple[int, int]:
    """Frames not lit, in whatever state, least and most over the phase."""
    count = over_phase([(at, LIT if q == LIT else 0) for at, q in line], frame)
    return count.least.dark, count.most.dark


def _within(line: Line, start: int, end: int) -> list[int]:
    before = [quality for at, quality in line if at <= start][-1:]
    return before + [quality for at, quality in line if start < at < end]


def mean_time(
    line: Line, length: int, repeat: tuple[int, int] | None, most: int = Quality.BLACK
) -> float:
    """Mean flicks for which a line is of this quality or worse, under a fault that strikes at
    random in a show of this length and lasts to its end. Without `most`: dark.
    """
    ends = [*(at for at, _ in line[1:]), length]
    dark = [(a, b) for (a, q), b in zip(line, ends, strict=True) if q <= most and a < b]
    if repeat is None:
        return sum(_mean(a, min(b, length), 0, 1, length) for a, b in dark)
    first, second = repeat
    period = second - first
    once = [(a, min(b, first)) for a, b in dark if a < first]
    again = [(max(a, first), min(b, second)) for a, b in dark if a < second and b > first]
    total = sum(_mean(a, b, 0, 1, length) for a, b in once)
    return total + sum(_turns(a, b, period, length) for a, b in again)


def _turns(a: int, b: int, period: int, length: int) -> float:
    """An interval that comes again after each period, to the end of the show."""
    whole = max(0, (length - b) // period + 1)
    rest = a + whole * period
    return _mean(a, b, period, whole, length) + _mean(rest, length, 0, 1, length)


def _mean(a: int, b: int, period: int, times: int, length: int) -> float:
    """Mean over the strike of an interval and its repetitions, all within the show: closed form."""
    if b <= a:
        return 0.0
    whole = times * (2 * length - a - b) - period * times * (times - 1)
    return (b - a) * whole / (2 * length)
