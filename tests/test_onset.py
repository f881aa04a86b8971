"""Faults that strike by Weibull's law: single ones in closed form, against numeric integration.

In: step functions by hand and a small shipped rig. Out: chances against scipy.stats.weibull_min,
sums against scipy.integrate.quad, means against the mean over many shows measured one by one at
the times that `striking.position` draws.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import weibull_min

from sim.risk.onset import Onset, onset_of
from sim.risk.profile import Profile
from sim.risk.setting import Setting, setting
from sim.risk.shows import Blow
from sim.risk.single import closed, single
from sim.risk.streams import Floats
from sim.risk.stretches import Gauge, measured, parts_of
from sim.risk.striking import Hazard, position
from sim.risk.values import table
from sim.scenario.loader import scenario_from
from sim.study.strikes import HOUR
from tests.steps import gauge_of, written_out
from tests.test_single import CONTRACT, FRAMES, values

LAWS = [(0.5, 0.0), (0.7, 9000.0), (2.0, 0.0), (2.0, 4e4), (4.0, 2e4), (10.0, 0.0), (3.0, 1e9)]
"""Shapes, with ages in flicks: new, about as old as the show is long, and much older."""
LENGTH = 60_000
AT = np.array([0.0, 1.0, 500.0, 20_000.0, 59_000.0, 60_000.0])


@pytest.mark.parametrize(("shape", "age"), LAWS)
def test_chances_and_their_sums_against_scipy(shape: float, age: float) -> None:
    """The share of Weibull's cumulative hazard, whatever its scale; its integral by quadrature."""
    onset, law = Onset(LENGTH, shape, age), weibull_min(shape, scale=1e9)
    begin, end = law.logsf(age), law.logsf(age + LENGTH)
    expected = (law.logsf(age + AT) - begin) / (end - begin)
    assert onset.by(AT) == pytest.approx(expected, rel=1e-6, abs=1e-12)
    for at in AT[1:]:
        by_steps, _ = quad(lambda t: float(onset.by(np.float64(t))), 0, at, limit=400)
        assert float(onset.summed(np.float64(at))) == pytest.approx(by_steps, rel=1e-6)


END = pytest.approx(1.0, rel=1e-12)


def test_it_has_struck_at_the_end_and_not_before_the_begin() -> None:
    onset = Onset(LENGTH, 2.0, 7000.0)
    assert onset.by(np.array([-5.0, 0.0, 6e4, 9e4])).tolist() == [0.0, 0.0, END, END]
    assert onset.summed(np.array([-5.0])).tolist() == [0.0]


def test_shape_one_is_at_any_time_alike_and_so_is_great_age() -> None:
    for onset in (Onset(LENGTH, 1.0), Onset(LENGTH, 1.0, 3e4), Onset(LENGTH, 5.0, 1e15)):
        assert onset.by(AT) == pytest.approx(AT / LENGTH, rel=1e-9)
        assert onset.summed(AT) == pytest.approx(AT**2 / (2 * LENGTH), rel=1e-9)


def test_only_what_strikes_in_the_show_by_a_shape_has_an_onset() -> None:
    assert onset_of(Hazard("x", (), 1.0), LENGTH) is None
    assert onset_of(Hazard("x", (), 1.0, shape=2.0, early=True), LENGTH) is None
    assert onset_of(Hazard("x", (), 1.0, shape=2.0, age=3.0), LENGTH) == Onset(
        LENGTH, 2.0, 3 * HOUR
    )


# ---- what a single fault comes to ----------------------------------------------------------------

GAUGE = gauge_of(50, 1200, ((0, 1.0), (20_000, 3.0), (45_000, 0.5)))
OFF = (0, 0, 0, 0)
ALL, HALF = (8, 8, 4, 4), (2, 2, 1, 0)
PROFILES = {
    "to the end": Profile(((0, ALL),), 0),
    "for a while": Profile(((0, OFF), (7000, (4, 4, 0, 4)), (31_000, OFF)), 31_000),
    "twice": Profile(
        ((0, (2, 2, 1, 0)), (9000, OFF), (30_000, (8, 4, 4, 4)), (40_000, OFF)), 40_000
    ),
    "a loose contact": Profile(
        ((0, (8, 8, 4, 4)), (2500, OFF), (5000, (8, 8, 4, 4))), 0, (0, 5000)
    ),
}
SHOWS = 4000


def integrated(made: Profile, hazard: Hazard, gauge: Gauge) -> Floats:
    """The mean over shows at the middles of equal parts of the chance, every turn written out."""
    full = written_out(made, gauge.length)
    at = [position(hazard, (n + 0.5) / SHOWS, gauge.length) for n in range(SHOWS)]
    rows = np.array([measured(parts_of([(begin, full)], gauge), gauge) for begin in at])
    found: Floats = table(rows, values(gauge), gauge, CONTRACT).mean(axis=0)
    return found


def off_by(found: tuple[float, ...], expected: Floats) -> float:
    """The greatest difference, in parts of the greatest that each value may be."""
    most = [value.most for value in values(GAUGE)]
    most[FRAMES] = 1.0 * GAUGE.length / GAUGE.frame
    return float(np.max(np.abs(np.array(found) - expected) / np.array(most)))


@pytest.mark.parametrize("name", PROFILES)
@pytest.mark.parametrize(("shape", "age"), [(0.6, 0.0), (2.0, 0.0), (3.0, 2e4), (8.0, 5e4)])
def test_a_fault_by_weibulls_law_against_integration(name: str, shape: float, age: float) -> None:
    """Every value within a thousandth of the most that it may be; at any time alike is farther."""
    made, hazard = PROFILES[name], Hazard("x", (), 1.0, shape=shape, age=age / HOUR)
    expected = integrated(made, hazard, GAUGE)
    found = single(made, GAUGE, values(GAUGE), CONTRACT, onset_of(hazard, GAUGE.length))
    assert off_by(found.means, expected) < 1e-3
    assert sum(chance for chance, _ in found.nights) == pytest.approx(1.0, rel=1e-12)
    alike = single(made, GAUGE, values(GAUGE), CONTRACT)
    assert off_by(alike.means, expected) > 1e-2, "the check finds a law that is left out"


@pytest.mark.parametrize("shape", [0.6, 1.5, 4.0])
def test_a_blink_touches_its_length_in_frames_and_one_more(shape: float) -> None:
    """A quarter of a frame: 1.25 of them; dark to the end: half a frame less than one more, and
    what is left of the show by integration.
    """
    gauge, hazard = gauge_of(50, 1200), Hazard("x", (), 1.0, shape=shape)
    onset = onset_of(hazard, gauge.length)
    assert onset is not None
    blink = Profile(((0, ALL), (gauge.frame // 4, OFF)), 12)
    found = single(blink, gauge, values(gauge), CONTRACT, onset).means[FRAMES]
    assert found == pytest.approx(1 + 12 / 50, abs=2e-3)
    left = quad(lambda t: float(onset.by(np.float64(t))), 0, gauge.length, limit=400)[0]
    stays = single(PROFILES["to the end"], gauge, values(gauge), CONTRACT, onset).means[FRAMES]
    assert stays == pytest.approx(left / gauge.frame + 0.5, rel=1e-6)


def test_what_turns_too_often_has_no_closed_form_by_weibulls_law() -> None:
    turning, gauge = PROFILES["a loose contact"], gauge_of(1000, 10_000_000)
    assert closed(turning, gauge, None) and closed(PROFILES["twice"], gauge, Onset(1, 2.0))
    assert not closed(turning, gauge, Onset(gauge.length, 2.0))


def wearing(plain: bool = False) -> Setting:
    """The shipped small rig, whose unit wears."""
    text = Path("scenarios/first.yaml").read_text(encoding="utf-8")
    stated = "rates: [{family: processor, mode: dead, rate: 5 per h, shape: 3, age: 2 min}]"
    scenario = scenario_from(f"{text}\n{stated}\n")
    return setting(scenario, "panel", [scenario.offered["panel"]], plain)


def worn(of: Setting) -> list[int]:
    """The hazard's number in the union, if it is there."""
    return [n for n, h in enumerate(of.union.hazards) if h.key == "panel/unit-a dead"]


def test_theory_knows_no_wear_so_that_it_is_left_out_on_both_sides() -> None:
    """Theory has strikes at any time alike: with it the two would differ by half of the figure."""
    of = wearing(plain=True)
    assert worn(of) == [] and worn(wearing())
    assert all(hazard.early or hazard.shape == 1 for hazard in of.stages[0].hazards)
    assert any(hazard.key == "panel/unit-a stuck" for hazard in of.stages[0].hazards)


def test_a_unit_that_wears_is_summed_exactly() -> None:
    """A show of ten minutes: the same as shows struck one by one, at the times of its hazard."""
    of = wearing()
    field, [number] = of.fields[0], worn(of)
    found = field.exact(number)
    assert found is not None
    draws = [((n + 0.5) / SHOWS, 0.5, 0.5, 0.5, 0.5, 0.5) for n in range(SHOWS)]
    rows = field.rows([(Blow(number, each),) for each in draws])
    expected = field.table(rows).mean(axis=0)
    most = np.array([value.most for value in field.values])
    assert float(np.max(np.abs(np.array(found.means) - expected) / most)) < 1e-3
    times = [value.key for value in field.values].index("dark time")
    assert found.means[times] < 0.4 * most[times], "late in the show: less than half of it is left"
