"""Many shows with one fault each, measured at once.

In: what the fault does (`Profile`), when it strikes, when it ends (flicks, one for each show).
Out: one row for each show, as `stretches.measured` gives it, with numpy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sim.risk.channels import DARK, DEFECT, MOVES
from sim.risk.profile import Profile
from sim.risk.stretches import (
    ANY_DARK,
    DARK_TIME,
    DEFECTIVE,
    FRAMES,
    LONGEST,
    MOVING_DARK,
    WEIGHTED,
    Gauge,
)

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
FOR_EVER = 1 << 60


@dataclass(frozen=True, slots=True)
class Leg:
    """A profile from one flick to another, for each show."""

    made: Profile
    begin: Whole
    end: Whole

    @property
    def lasts(self) -> Whole:
        lasts: Whole = np.maximum(self.end - self.begin, 0)
        return lasts


def rows_alone(
    first: Profile, after: Profile | None, begin: Whole, end: Whole, gauge: Gauge
) -> Floats:
    """Rows of shows in which one fault strikes at `begin` and ends at `end` (past the show: never).

    `after`: what its end adds. Neither may repeat itself, and each fault must have settled by its
    end. Shape (shows, numbers in a row).
    """
    length = np.int64(gauge.length)
    legs = [Leg(first, begin, np.minimum(end, length))]
    if after is not None:
        legs.append(Leg(after, np.minimum(end, length), np.full_like(begin, length)))
    rows = np.zeros((len(begin), gauge.size))
    for leg in legs:
        rows[:, DEFECTIVE] = np.maximum(rows[:, DEFECTIVE], _ever(leg, DEFECT))
        rows[:, ANY_DARK] = np.maximum(rows[:, ANY_DARK], _ever(leg, DARK))
        rows[:, DARK_TIME] += _area_time(leg, DARK)
        rows[:, MOVING_DARK] += _area_time(leg, MOVES)
        rows[:, WEIGHTED] += _weighted(leg, gauge)
    rows[:, FRAMES] = _frames(legs, gauge)
    for number, question in enumerate(gauge.asked.questions):
        rows[:, LONGEST + number] = _longest(legs, question.channel, question.over)
    return rows


def spans_over(made: Profile, channel: int, over: int) -> list[tuple[int, int]]:
    """When a channel lies above a figure, flicks from the event; the last may be for ever."""
    found: list[tuple[int, int]] = []
    for (at, areas), (until, _) in pairwise([*made.steps, (FOR_EVER, ())]):
        if areas[channel] <= over:
            continue
        if found and found[-1][1] == at:
            found[-1] = (found[-1][0], until)
        else:
            found.append((at, until))
    return found


def _ever(leg: Leg, channel: int) -> Floats:
    spans = spans_over(leg.made, channel, 0)
    return (leg.lasts > spans[0][0]).astype(float) if spans else np.zeros(len(leg.begin))


def _area_time(leg: Leg, channel: int) -> Floats:
    lasts = leg.lasts.astype(float)
    total = np.zeros(len(lasts))
    for (at, areas), (until, _) in pairwise([*leg.made.steps, (FOR_EVER, ())]):
        if areas[channel]:
            total += areas[channel] * np.clip(lasts - at, 0.0, float(until - at))
    return total


def _weighted(leg: Leg, gauge: Gauge) -> Floats:
    if len(gauge.moments) == 1:
        return gauge.moments[0][1] * _area_time(leg, DARK)
    edges = np.array(
        [at for at, _ in gauge.moments] + [max(gauge.length, gauge.moments[-1][0] + 1)]
    )
    weights = np.array([weight for _, weight in gauge.moments])
    sums = np.concatenate([[0.0], np.cumsum(weights * np.diff(edges))])
    total = np.zeros(len(leg.begin))
    for (at, areas), (until, _) in pairwise([*leg.made.steps, (FOR_EVER, ())]):
        if areas[DARK]:
            begin = np.minimum(leg.begin + at, leg.end)
            end = np.minimum(leg.begin + min(until, FOR_EVER), leg.end)
            total += areas[DARK] * (np.interp(end, edges, sums) - np.interp(begin, edges, sums))
    return total


def _frames(legs: Sequence[Leg], gauge: Gauge) -> Floats:
    frame = np.int64(gauge.frame)
    counted = np.zeros(len(legs[0].begin), dtype=np.int64)
    total = np.zeros(len(counted), dtype=np.int64)
    for leg in legs:
        for at, until in spans_over(leg.made, DARK, 0):
            begin = leg.begin + at
            end = np.minimum(leg.begin + until, leg.end)
            first, after = begin // frame, -(-end // frame)
            seen = begin < end
            fresh = np.maximum(after - np.maximum(first, counted), 0)
            total += np.where(seen, fresh, 0)
            counted = np.where(seen, np.maximum(counted, after), counted)
    return total.astype(float)


def _longest(legs: Sequence[Leg], channel: int, over: int) -> Floats:
    best = np.zeros(len(legs[0].begin), dtype=np.int64)
    carried = np.zeros(len(best), dtype=np.int64)
    for leg in legs:
        lasts = leg.lasts
        left = np.where(lasts > 0, 0, carried)
        for at, until in spans_over(leg.made, channel, over):
            whole = np.maximum(np.minimum(lasts, until) - at, 0)
            whole = np.where((at == 0) & (whole > 0), whole + carried, whole)
            best = np.maximum(best, whole)
            left = np.where((lasts > at) & (lasts <= until), whole, left)
        carried = left
    return best.astype(float)
