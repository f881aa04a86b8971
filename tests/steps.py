"""Shows measured by counting: flick by flick and frame by frame, for tests of what measures them.

In: pieces (an event and its `Profile`) of the unrelated parts of a show, a `Gauge` in which a flick
is a small thing. Out: a row as `stretches.measured` describes it, by plain counts. The second half
makes profiles and gauges for hypothesis.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

from hypothesis import strategies as st

from sim.risk.channels import Asked, Channel, Question
from sim.risk.profile import Profile
from sim.risk.stretches import Gauge

Piece = tuple[int, Profile]
Areas = tuple[int, ...]
CHANNELS = 4
"""Dark, defect, dark where it moves, dark of a wall that is part of the group."""
NOTHING = (0,) * CHANNELS

# ---- by counting ---------------------------------------------------------------------------------


def areas_after(made: Profile, since: int) -> Areas:
    """The areas so many flicks after the event."""
    if made.repeat is not None and since >= made.repeat[0]:
        first, second = made.repeat
        since = first + (since - first) % (second - first)
    return [areas for at, areas in made.steps if at <= since][-1]


def areas_at(pieces: Sequence[Piece], t: int) -> Areas:
    """What the last event up to flick t makes of it."""
    begun = [(at, made) for at, made in pieces if at <= t]
    return areas_after(begun[-1][1], t - begun[-1][0]) if begun else NOTHING


def laid_out(groups: Sequence[Sequence[Piece]], gauge: Gauge) -> list[Areas]:
    """The areas of every flick of a show, unrelated parts added up."""
    return [
        tuple(sum(each) for each in zip(*(areas_at(g, t) for g in groups), NOTHING, strict=True))
        for t in range(gauge.length)
    ]


def weight_at(gauge: Gauge, t: int) -> float:
    return [weight for begin, weight in gauge.moments if begin <= t][-1]


def longest_over(shown: Sequence[Areas], channel: int, over: int) -> int:
    best = now = 0
    for areas in shown:
        now = now + 1 if areas[channel] > over else 0
        best = max(best, now)
    return best


def counted(groups: Sequence[Sequence[Piece]], gauge: Gauge) -> tuple[float, ...]:
    """The row of a show."""
    shown = laid_out(groups, gauge)
    return (
        float(any(areas[1] for areas in shown)),
        float(any(areas[0] for areas in shown)),
        float(sum(areas[0] for areas in shown)),
        sum(areas[0] * weight_at(gauge, t) for t, areas in enumerate(shown)),
        float(sum(areas[2] for areas in shown)),
        float(len({t // gauge.frame for t, areas in enumerate(shown) if areas[0]})),
        *(float(longest_over(shown, q.channel, q.over)) for q in gauge.asked.questions),
    )


# ---- made by hypothesis --------------------------------------------------------------------------

Draw = Callable[[st.SearchStrategy[Any]], Any]


def gauge_of(
    frame: int, frames: int, moments: tuple[tuple[int, float], ...] = ((0, 1.0),)
) -> Gauge:
    """Questions: anything dark, more than one pixel, all four pixels of the wall, any defect."""
    channels = tuple(Channel(name, ()) for name in ("dark", "defect", "dark moving", "dark wall"))
    asked = (Question(0, 0, "group"), Question(0, 1, "group"), Question(3, 3, "wall"))
    areas = {"group": 8, "wall": 4}
    questions = (*asked, Question(1, 0, "group", 0))
    return Gauge(Asked(channels, questions, False, areas), frame, frame * frames, moments)


@st.composite
def gauges(draw: Draw, frames: int = 20) -> Gauge:
    """Short shows with up to three moments of other weights (whole halves, so that sums are
    exact).
    """
    frame = draw(st.integers(1, 7))
    count = draw(st.integers(1, frames))
    begins = draw(st.sets(st.integers(1, frame * count), max_size=3))
    weights = st.sampled_from([0.0, 0.5, 1.0, 3.0])
    steps = tuple((at, draw(weights)) for at in sorted({0, *begins}))
    return gauge_of(frame, count, steps)


@st.composite
def some_areas(draw: Draw) -> Areas:
    """Up to eight pixels dark, some of them where it moves, some of them of the wall; some more
    spoilt.
    """
    dark = draw(st.sampled_from([0, 0, 1, 2, 4, 8]))
    moving, wall = draw(st.integers(0, dark)), draw(st.integers(0, min(dark, 4)))
    return dark, dark + draw(st.sampled_from([0, 0, 1])), moving, wall


@st.composite
def profiles(draw: Draw, span: int = 40) -> Profile:
    """Up to six steps, the first at 0."""
    times = sorted({0, *draw(st.sets(st.integers(1, span), max_size=5))})
    steps = tuple((at, draw(some_areas())) for at in times)
    return Profile(steps, times[-1])


@st.composite
def turning(draw: Draw, span: int = 12) -> Profile:
    """A profile that repeats itself from some flick on, with at least one step in its turn."""
    made = draw(profiles(span))
    first = draw(st.integers(0, made.settled))
    second = draw(st.integers(max(first, made.settled) + 1, made.settled + span))
    return Profile(made.steps, first, (first, second))


def written_out(made: Profile, until: int) -> Profile:
    """The same without a repetition, step by step up to a flick."""
    each = [(t, areas_after(made, t)) for t in range(until)]
    changes = [(t, areas) for (_, old), (t, areas) in pairwise(each) if old != areas]
    return Profile((each[0], *changes), until)


@st.composite
def stories(draw: Draw, of: st.SearchStrategy[Profile], length: int) -> list[Piece]:
    """One to three events one after the other, some of them before the show."""
    times = st.one_of(st.integers(0, length - 1), st.integers(-3 * length, -1))
    begins = sorted(draw(st.sets(times, min_size=1, max_size=3)))
    return [(at, draw(of)) for at in begins]
