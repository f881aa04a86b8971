"""Many shows with one fault each, measured at once, against the same shows one by one.

In: step functions made by hypothesis, and all that single faults of small rigs do. Out: rows equal
to `stretches.measured`, and to a plain count (`tests.steps`).
"""

from __future__ import annotations

from itertools import pairwise
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.risk.alone import rows_alone, spans_over
from sim.risk.hazards import Hazard
from sim.risk.profile import Profile
from sim.risk.scenes import Scenes
from sim.risk.stretches import LONGEST, Gauge, Row, measured, moments, parts_of
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import MIRRORED, ONE_WALL, long, rig_of
from tests.plans import FRAME
from tests.steps import areas_after, counted, gauge_of, gauges, profiles
from tests.test_scenes import TERMS


def one_by_one(
    made: Profile, after: Profile | None, times: list[tuple[int, int]], gauge: Gauge
) -> list[Row]:
    rows = []
    for begin, end in times:
        mended = [(end, after)] if after is not None and end < gauge.length else []
        rows.append(measured(parts_of([(begin, made), *mended], gauge), gauge))
    return rows


def at_once(
    made: Profile, after: Profile | None, times: list[tuple[int, int]], gauge: Gauge
) -> list[Row]:
    begin, end = (np.array(each, dtype=np.int64) for each in zip(*times, strict=True))
    return [tuple(row) for row in rows_alone(made, after, begin, end, gauge).tolist()]


def some_times(data: st.DataObject, made: Profile, gauge: Gauge) -> list[tuple[int, int]]:
    """Strikes in the show, and their ends once all has settled, some of them past the show."""
    begins = data.draw(st.lists(st.integers(0, gauge.length - 1), min_size=1, max_size=6))
    lasts = st.integers(made.settled + 1, made.settled + 2 * gauge.length)
    return [(begin, begin + data.draw(lasts)) for begin in begins]


@given(st.data(), profiles(), profiles(), gauges())
def test_shows_at_once_are_as_one_by_one(
    data: st.DataObject, made: Profile, after: Profile, gauge: Gauge
) -> None:
    times = some_times(data, made, gauge)
    assert at_once(made, after, times, gauge) == one_by_one(made, after, times, gauge)


@given(st.data(), profiles(), gauges())
def test_shows_in_which_nobody_mends_are_as_one_by_one(
    data: st.DataObject, made: Profile, gauge: Gauge
) -> None:
    times = [(begin, gauge.length + 1) for begin, _ in some_times(data, made, gauge)]
    assert at_once(made, None, times, gauge) == one_by_one(made, None, times, gauge)


@given(st.data(), profiles(), profiles(), gauges(8))
def test_shows_at_once_against_enumeration(
    data: st.DataObject, made: Profile, after: Profile, gauge: Gauge
) -> None:
    times = some_times(data, made, gauge)
    expected = [counted([[(begin, made), (end, after)]], gauge) for begin, end in times]
    assert at_once(made, after, times, gauge) == expected


def test_a_stretch_goes_on_over_the_end_of_a_fault() -> None:
    """Dark until mended at 10, and for 4 flicks more while it starts: 14 - 3 in one go."""
    dark = Profile(((0, (8, 8, 0, 4)),), 0)
    starts = Profile(((0, (8, 8, 0, 4)), (4, (0, 0, 0, 0))), 4)
    (row,) = at_once(dark, starts, [(3, 10)], gauge_of(2, 20))
    assert row[LONGEST] == 11.0
    (cut,) = at_once(dark, Profile(((0, (0, 0, 0, 0)),), 0), [(3, 10)], gauge_of(2, 20))
    assert cut[LONGEST] == 7.0


@given(profiles(), st.integers(0, 2), st.integers(0, 8))
def test_spans_over_a_figure_against_enumeration(made: Profile, channel: int, over: int) -> None:
    spans = spans_over(made, channel, over)
    for since in range(made.settled + 2):
        inside = any(begin <= since < end for begin, end in spans)
        assert inside == (areas_after(made, since)[channel] > over)
    assert all(one[1] < other[0] for one, other in pairwise(spans))


# ---- all that single faults of small rigs do -----------------------------------------------------


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
def test_every_fault_of_a_small_rig_at_once_is_as_one_by_one(topology: str) -> None:
    rig = rig_of(long(topology, 240))
    known = [s for s in strikes(rig) if s.mode not in ("flapping", "drops")]
    of = Scenes(rig, next(iter(rig.groups)), [Hazard(s.name, (s,), 1e-3) for s in known], TERMS)
    whole = rig.length // FRAME * FRAME
    gauge = Gauge(of.asked, FRAME, whole, moments(((whole // 4, whole // 2, 3.0),)))
    rng = Random(11)
    differ = set()
    for number, strike in enumerate(known):
        if not of.concerned[number]:
            continue
        made, ends = of.alone(number), strike.mode != "restart"
        after = of.mended(number) if ends else None
        times = [(b, _end(rng, b, made, whole) if ends else whole + 1) for b in _begins(rng, whole)]
        rows = at_once(made, after, times, gauge)
        assert np.array(rows) == pytest.approx(
            np.array(one_by_one(made, after, times, gauge)), rel=1e-14
        )
        differ |= set(rows)
    assert len(differ) > 50


def _begins(rng: Random, whole: int) -> list[int]:
    """Anywhere, at the first flick, in the last frame."""
    return [0, whole - 1, whole - FRAME // 3, *(rng.randrange(whole) for _ in range(9))]


def _end(rng: Random, begin: int, made: Profile, whole: int) -> int:
    """Once settled; now and then at once, on the hour, or past the show."""
    soon = begin + made.settled + 1
    return rng.choice([soon, soon + rng.randrange(whole), soon + rng.randrange(FLICKS), whole + 1])
