"""Shows of several faults, put together from parts that are remembered, against one plain run of
the whole rig from the first to the last flick.

In: small rigs of every topology, random strikes with times and ends. Out: equal areas over time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from sim.engine.playing import Player
from sim.engine.run import run
from sim.engine.signal import Trace, cell_lines
from sim.faults import Fault, Script
from sim.rig.terms import ClauseTerms, Contract, Step, Terms
from sim.rig.topology import Rig, corner
from sim.risk.channels import DARK, DEFECT
from sim.risk.hazards import Hazard
from sim.risk.scenes import Scenes, Struck
from sim.risk.stretches import (
    ANY_DARK,
    DARK_TIME,
    DEFECTIVE,
    Gauge,
    Part,
    added,
    measured,
    moments,
    parts_of,
)
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import MIRRORED, ONE_WALL, long, rig_of
from tests.plans import FRAME, fixed

CONTRACT = Contract(
    "EUR",
    Decimal(1000),
    (
        ClauseTerms(
            "a third dark", "dark", "group", Fraction(1, 3), (Step(FLICKS, Fraction(1, 2)),)
        ),
        ClauseTerms(
            "any wall spoilt", "not lit", "wall", Fraction(1, 10), (Step(0, Fraction(1, 9)),)
        ),
    ),
)
TERMS = Terms(contract=CONTRACT)
SECONDS = 240


def scenes_of(
    topology: str, without: tuple[str, ...] = ("flapping", "drops")
) -> tuple[Rig, Scenes]:
    rig = rig_of(long(topology, SECONDS))
    group = next(iter(rig.groups))
    known = [strike for strike in strikes(rig) if strike.mode not in without]
    early = [s for s in known if s.mode not in ("restart", "moved", "flapping", "drops")]
    hazards = [Hazard(s.name, (s,), 1e-3) for s in known]
    hazards += [Hazard(f"{s.name}, before", (s,), 1e-3, early=True) for s in early]
    return rig, Scenes(rig, group, hazards, TERMS)


def some_show(rng: Random, of: Scenes, length: int) -> list[Struck]:
    """Two to four strikes, often close together, half of them mended."""
    first = rng.randrange(length)
    found = []
    for number in rng.sample(range(len(of.hazards)), rng.choice((2, 2, 2, 3, 4))):
        near = rng.random() < 0.4
        begin = (
            min(first + rng.randrange(2 * FLICKS), length - 1) if near else rng.randrange(length)
        )
        mended = rng.random() < 0.5 and of.hazards[number].strikes[0].mode not in (
            "restart",
            "drops",
        )
        begin = -1 if of.hazards[number].early else begin
        end = begin + 2 + rng.randrange(length // 2) if mended else None
        found.append(Struck(number, begin, end if end is not None and end < length else None))
    return found


def faults_of(of: Scenes, show: Sequence[Struck]) -> list[Fault]:
    made = []
    for each in sorted(show, key=lambda s: (s.begin, s.hazard)):
        for fault in of.strikes[each.hazard].faults:
            ends = None if fault.mode == "restart" else each.end
            made.append(replace(fault, at=each.begin, until=ends))
    return made


def plain(rig: Rig, of: Scenes, show: Sequence[Struck]) -> list[tuple[int, tuple[int, ...]]]:
    """Areas over time by one run of the whole rig: dark, and a defect anywhere."""
    trace = run(rig, Script(tuple(faults_of(of, show))), corner(rig, "typical"), rig.length)
    return areas_of(rig, of, trace)


def areas_of(rig: Rig, of: Scenes, trace: Trace) -> list[tuple[int, tuple[int, ...]]]:
    """Areas over time of a run of the whole rig: dark, and a defect anywhere."""
    group = of.laboratory.group
    lines = cell_lines(rig, trace)
    edges = sorted({0, *(at for line in lines.values() for at, _ in line)})
    found = []
    for at in edges:
        dark = defect = 0
        for number, cell in enumerate(group.cells):
            quality = [q for when, q in lines[group.name, number] if when <= at][-1]
            dark += cell.area if quality <= 1 else 0
            defect += cell.area if quality <= 4 else 0
        if not found or found[-1][1] != (dark, defect):
            found.append((at, (dark, defect)))
    return [(at, areas) for at, areas in found if at < rig.length]


def put_together(of: Scenes, show: Sequence[Struck], gauge: Gauge) -> list[Part]:
    return added([parts_of(pieces, gauge) for pieces in of.pieces(show)])


def as_steps(parts: Sequence[Part]) -> list[tuple[int, tuple[int, ...]]]:
    found: list[tuple[int, tuple[int, ...]]] = [(0, (0, 0))]
    end = 0
    for part in [*parts]:
        if part.begin > end:
            found.append((end, (0, 0)))
        found.append((part.begin, (part.low[DARK], part.low[DEFECT])))
        end = part.end
    kept: list[tuple[int, tuple[int, ...]]] = []
    for at, areas in found:
        if kept and kept[-1][0] == at:
            kept.pop()
        if not kept or kept[-1][1] != areas:
            kept.append((at, areas))
    return kept


def gauge_of(of: Scenes, rig: Rig) -> Gauge:
    whole = rig.length // FRAME * FRAME
    return Gauge(of.asked, FRAME, whole, moments(((whole // 4, whole // 2, 3.0),)))


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
def test_shows_put_together_are_as_the_whole_rig_shows_them(topology: str) -> None:
    rig, of = scenes_of(topology)
    gauge = gauge_of(of, rig)
    rng = Random(7)
    seen = 0
    for _ in range(250):
        show = some_show(rng, of, rig.length)
        expected = plain(rig, of, show)
        assert as_steps(put_together(of, show, gauge)) == expected, faults_of(of, show)
        seen += len(expected) > 1
    assert seen > 50


# ---- loose contacts ------------------------------------------------------------------------------


def loose_show(rng: Random, of: Scenes, length: int) -> list[Struck]:
    """A loose contact, mended or not, and one or two other faults at any time."""
    modes = [hazard.strikes[0].mode for hazard in of.hazards]
    loose = rng.choice([n for n, m in enumerate(modes) if m == "flapping" and of.concerned[n]])
    others = rng.sample([n for n in range(len(modes)) if n != loose], rng.choice((1, 2)))
    begin = rng.randrange(length)
    end = begin + 1 + rng.randrange(length // 2)
    mended = end if rng.random() < 0.5 and end < length else None
    times = [-1 if of.hazards[n].early else rng.randrange(length) for n in others]
    struck = [Struck(n, at) for n, at in zip(others, times, strict=True)]
    return [Struck(loose, begin, mended), *struck]


@pytest.mark.parametrize("topology", ["single-feed", "relay-pair", "mirrored"])
def test_faults_beside_a_loose_contact_are_as_the_whole_rig_shows_them(topology: str) -> None:
    """A second fault meets the first just as it is then: in its dark second or in its lit one.

    Many turns are taken together, so that areas and chances are compared rather than every step.
    """
    rig, of = scenes_of(topology, without=("drops",))
    gauge = gauge_of(of, rig)
    rng = Random(5)
    seen = 0
    for _ in range(60):
        show = loose_show(rng, of, rig.length)
        steps = [*plain(rig, of, show), (gauge.length, (0, 0))]
        lasting = [(until - at, areas) for (at, areas), (until, _) in pairwise(steps) if until > at]
        row = measured(put_together(of, show, gauge), gauge)
        dark = sum(time * areas[0] for time, areas in lasting)
        assert row[DARK_TIME] == pytest.approx(dark, rel=1e-9), faults_of(of, show)
        assert row[ANY_DARK] == any(areas[0] for _, areas in lasting)
        assert row[DEFECTIVE] == any(areas[1] for _, areas in lasting)
        seen += dark > 0
    assert seen > 25


def held_up(topology: str) -> tuple[Rig, Scenes]:
    """A rig with a UPS on each circuit, which lasts for 37.3 and 51.7 s."""
    plan = long(topology, SECONDS)
    lasts = [fixed(tenths * FLICKS // 10) for tenths in (373, 517)]
    held = [replace(c, hold_up=time) for c, time in zip(plan.circuits, lasts, strict=True)]
    rig = rig_of(replace(plan, circuits=tuple(held)))
    known = [s for s in strikes(rig) if s.mode in ("flapping", "tripped", "dead")]
    hazards = [Hazard(s.name, (s,), 1e-3) for s in known]
    return rig, Scenes(rig, next(iter(rig.groups)), hazards, TERMS)


def running_down(rng: Random, of: Scenes, length: int) -> list[Struck]:
    """A loose contact, both circuits tripped one after the other, and one more fault."""
    modes = [hazard.strikes[0].mode for hazard in of.hazards]
    loose = rng.choice([n for n, m in enumerate(modes) if m == "flapping" and of.concerned[n]])
    tripped = [n for n, m in enumerate(modes) if m == "tripped"]
    dead = rng.choice([n for n, m in enumerate(modes) if m == "dead"])
    times = [rng.randrange(length // 2) for _ in tripped]
    struck = [Struck(n, at) for n, at in zip(tripped, times, strict=True)]
    return [Struck(loose, rng.randrange(length // 2)), *struck, Struck(dead, rng.randrange(length))]


def differing(topology: str, shows: int) -> tuple[int, int]:
    """Shows in which a UPS runs down and something goes dark; those of which parts and the whole
    differ.
    """
    rig, of = held_up(topology)
    gauge, rng = gauge_of(of, rig), Random(8)
    dark = wrong = 0
    for _ in range(shows):
        show = running_down(rng, of, rig.length)
        steps = [*plain(rig, of, show), (gauge.length, (0, 0))]
        time = sum((until - at) * areas[0] for (at, areas), (until, _) in pairwise(steps))
        made = measured(put_together(of, show, gauge), gauge)[DARK_TIME]
        dark += time > 0
        wrong += made != pytest.approx(time, rel=1e-9)
    return dark, wrong


@pytest.mark.parametrize("topology", ["relay-pair", "crossed-relays"])
def test_a_loose_contact_beside_a_ups_that_runs_down_is_as_the_whole_rig_shows_it(
    topology: str,
) -> None:
    assert differing(topology, 40) == (40, 0)


def test_a_ups_that_is_not_hastened_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole turns left out without shortening what is left of the UPS by as much."""
    monkeypatch.setattr(Player, "hasten", lambda self, flicks: None)
    assert differing("relay-pair", 40)[1] > 5


# ---- what was silent long before the show


@pytest.mark.parametrize("topology", ["return-loop", "relay-pair", "crossed-relays", "mirrored"])
def test_what_is_left_out_of_a_show_changes_nothing(topology: str) -> None:
    """A dead backup that the only other fault never looks at is left out; the rest is the same."""
    rig, of = scenes_of(topology)
    gauge = gauge_of(of, rig)
    rng = Random(11)
    early = [n for n, h in enumerate(of.hazards) if h.early and of.silent(n) and of.concerned[n]]
    later = [n for n, h in enumerate(of.hazards) if not h.early and of.concerned[n]]
    out = wrongly = 0
    for _ in range(300):
        begin = rng.randrange(rig.length - FLICKS)
        end = rng.choice([None, rng.randrange(begin + 1, rig.length)])
        show = [Struck(rng.choice(early), -1), Struck(rng.choice(later), begin, end)]
        expected = as_steps(put_together(of, show, gauge))
        assert as_steps(put_together(of, of.essential(show), gauge)) == expected, faults_of(
            of, show
        )
        out += 0 < len(of.essential(show)) < 2
        wrongly += as_steps(put_together(of, show[1:], gauge)) != expected
    assert out > 30 and wrongly > 0, "some may be left out, and not all of them"
