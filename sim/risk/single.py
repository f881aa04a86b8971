"""Shows with one fault, summed exactly: over all instants at which it may strike.

In: what the fault does by itself (`Profile`), a `Gauge`, the values asked for. Out: a frozen
`Single`. The strike is uniform in the show, or Weibull's (an `Onset`), and nobody mends it before
the end, so that what a show comes to depends on how much of it is left, and a longest stretch only
grows with that: chances and losses change at finitely many points, and areas have closed forms.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sim.rig.terms import Contract
from sim.risk.alone import rows_alone, spans_over
from sim.risk.channels import DARK, DEFECT, MOVES
from sim.risk.onset import Onset
from sim.risk.profile import Profile
from sim.risk.streams import Floats, Whole
from sim.risk.stretches import Gauge, measured, parts_of
from sim.risk.turns import long_times
from sim.risk.values import Value, table
from sim.timebase import FLICKS

MANY_TURNS = 10_000
"""With more turns than these they are summed together."""
MOST_TURNS = 1_000_000
"""With more turns than these only strikes at any time alike have a closed form."""


@dataclass(frozen=True, slots=True)
class Single:
    """`means`: of each value; `nights`: (probability, row) of shows that differ in nothing that is
    asked; both given that the fault strikes.
    """

    means: tuple[float, ...]
    nights: tuple[tuple[float, tuple[float, ...]], ...]


def single(
    made: Profile,
    gauge: Gauge,
    values: tuple[Value, ...],
    contract: Contract | None,
    onset: Onset | None = None,
) -> Single:
    """A fault that may strike at any instant alike, or by an `onset`."""
    cuts = _cuts(made, gauge, values)
    lengths = -np.diff(_reached(np.array(cuts, dtype=float), gauge, onset))
    middles = np.array([(a + b + 1) // 2 for a, b in pairwise(cuts)], dtype=np.int64)
    rows = _rows(made, gauge.length - middles, gauge)
    means = lengths @ table(rows, values, gauge, contract)
    for column, mean in enumerate(_times(made, gauge, onset)):
        means[column + 2] = mean
    nights = tuple((float(p), tuple(row)) for p, row in zip(lengths, rows.tolist(), strict=True))
    return Single(tuple(means.tolist()), nights)


def closed(made: Profile, gauge: Gauge, onset: Onset | None) -> bool:
    """Whether `single` can sum it."""
    return onset is None or made.repeat is None or gauge.length <= MOST_TURNS * _turn(made.repeat)


def _turn(repeat: tuple[int, int]) -> int:
    return repeat[1] - repeat[0]


def _reached(left: Floats, gauge: Gauge, onset: Onset | None) -> Floats:
    """The chance that more than so much of the show (flicks) is left when it strikes."""
    before = gauge.length - left
    found: Floats = before / gauge.length if onset is None else onset.by(before)
    return found


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


def _times(made: Profile, gauge: Gauge, onset: Onset | None) -> tuple[float, float, float, float]:
    """Means of dark, weighted, moving wall-seconds, and of frames (over their phase, in which the
    strike is taken as uniform).
    """
    if onset is None and made.repeat and gauge.length > MANY_TURNS * _turn(made.repeat):
        return long_times(made, gauge)
    begin, end, areas = _laid_out(made, gauge.length)
    scale = 1.0 / (FLICKS * gauge.asked.areas["group"])
    length = float(gauge.length)
    if onset is None:
        mean = (end - begin) * (2 * length - begin - end) / (2 * length)
        weighed = (_left(end, gauge) - _left(begin, gauge)) / length
    else:
        mean = onset.summed(length - begin) - onset.summed(length - end)
        weighed = _weighed(begin, end, gauge, onset)
    dark = areas[:, 0] > 0
    frames = mean[dark].sum() / gauge.frame + _begun(begin, end, dark, gauge, onset)
    return (
        float(areas[:, 0] @ mean) * scale,
        float(areas[:, 0] @ weighed) * scale,
        float(areas[:, 1] @ mean) * scale,
        float(frames),
    )


def _weighed(begin: Floats, end: Floats, gauge: Gauge, onset: Onset) -> Floats:
    """Mean weighted time of parts that lie from `begin` to `end` after the strike."""
    edges = [min(when, gauge.length) for when, _ in gauge.moments] + [gauge.length]
    total = np.zeros(len(begin))
    for (first, last), (_, weight) in zip(pairwise(edges), gauge.moments, strict=True):
        for edge, sign in ((last, weight), (first, -weight)):
            total += sign * (onset.summed(edge - begin) - onset.summed(edge - end))
    return total


def _begun(
    begin: Floats, end: Floats, dark: NDArray[np.bool_], gauge: Gauge, onset: Onset | None
) -> float:
    """Mean number of frames that dark runs touch beyond their length: one each; half of one if the
    show ends it, with a frame; less what two runs share of a frame.
    """
    edges = np.diff(np.concatenate([[0], dark.astype(int), [0]]))
    first, last = begin[edges[:-1] > 0], end[edges[1:] < 0]
    begun = _reached(first, gauge, onset)
    shared = np.clip(1 - (first[1:] - last[:-1]) / gauge.frame, 0, None)
    cut = begun - _reached(last, gauge, onset)
    return float(begun.sum() - cut.sum() / 2 - shared @ begun[1:])


def _laid_out(made: Profile, length: int) -> tuple[Floats, Floats, Floats]:
    """Begins, ends and areas (dark, dark where it moves) of all parts up to the show's length."""
    steps = [(at, areas[DARK], areas[MOVES]) for at, areas in made.steps if at < length]
    table_ = np.array(steps, dtype=float).reshape(len(steps), 3)
    if made.repeat is not None:
        table_ = _tiled(table_, *made.repeat, length)
    begin = table_[:, 0]
    end = np.concatenate([begin[1:], [float(length)]])
    return begin, end, table_[:, 1:]


def _tiled(steps: Floats, first: int, second: int, length: int) -> Floats:
    if second >= length:
        return steps
    once = steps[steps[:, 0] < second]
    before = once[once[:, 0] <= first][-1:].copy()
    before[:, 0] = first
    turn = np.concatenate([before, once[once[:, 0] > first]])
    turns = -(-(length - second) // (second - first))
    many = np.tile(turn, (turns, 1))
    many[:, 0] += np.repeat(np.arange(1, turns + 1), len(turn)) * float(second - first)
    found = np.concatenate([once, many])
    return found[found[:, 0] < length]


def _left(at: Floats, gauge: Gauge) -> Floats:
    """The integral from 0 of the weighted time that is left in the show after an instant."""
    length = float(gauge.length)
    edges = np.array([min(float(when), length) for when, _ in gauge.moments] + [length])
    weights = np.array([weight for _, weight in gauge.moments])
    after = np.concatenate([np.cumsum((weights * np.diff(edges))[::-1])[::-1], [0.0]])
    sums = np.concatenate([[0.0], np.cumsum((after[:-1] + after[1:]) / 2 * np.diff(edges))])
    place = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, len(weights) - 1)
    into = at - edges[place]
    here = after[place] - weights[place] * into
    found: Floats = sums[place] + (after[place] + here) / 2 * into
    return found
