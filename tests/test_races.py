"""Races and corners: protections whose order is open, all-least and all-most timings.

In: small plans with ranges of timings. Out: races by name, lines (flicks, quality) by corner.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.rig.plan import Kit, ShowPlan
from sim.timebase import Timing
from tests.labs import areas_by_line, effect_areas, full_run, laboratory, long, strike_on
from tests.plans import FRAME, KITS


def ranged(role: str, **spans: tuple[int, int]) -> dict[str, Kit]:
    """The kits with ranges (in frames) for some timings of one role; `keeps_last` shelters."""
    kit = KITS[role]
    made = {
        name: Timing(a * FRAME, (a + b) * FRAME // 2, b * FRAME, shelters=name == "keeps_last")
        for name, (a, b) in spans.items()
    }
    return {**KITS, role: replace(kit, timings={**kit.timings, **made})}


def racing(relay: tuple[int, int], receiver: tuple[int, int]) -> ShowPlan:
    """Crossed relays and receivers whose ranges (frames) may overlap."""
    kits = ranged("relay", detect=relay)
    kits["receiver"] = ranged("receiver", detect=receiver)["receiver"]
    return long("crossed-relays", kits=kits)


def test_protections_whose_order_is_open_race_and_are_named() -> None:
    lab = laboratory(racing((1, 60), (1, 20)))
    races = lab.outcome(strike_on(lab.rig, "main/unit-a", "dead")).races
    assert races
    assert {r.before.split("#")[0] for r in races} <= {"main/relay-main", "main/relay-backup"}
    assert all("receiver" in r.behind for r in races)
    (race,) = {(r.restores, r.waits) for r in races}
    assert race == ((6 * FRAME, 65 * FRAME), (FRAME, 20 * FRAME))


@pytest.mark.parametrize(("relay", "receiver"), [((1, 2), (8, 20)), ((30, 60), (1, 20))])
def test_protections_in_a_sure_order_do_not_race(
    relay: tuple[int, int], receiver: tuple[int, int]
) -> None:
    lab = laboratory(racing(relay, receiver))
    assert not lab.outcome(strike_on(lab.rig, "main/unit-a", "dead")).races


def test_the_corners_are_all_least_with_shelters_at_their_greatest_and_the_reverse() -> None:
    kits = ranged("receiver", detect=(2, 10), switch=(1, 3), keeps_last=(1, 4))
    lab = laboratory(long("relay-pair", kits=kits))
    outcome = lab.outcome(strike_on(lab.rig, "main/trunk-main-1", "cut"))
    lines = {which: {line for line, _ in e.lines} for which, e in outcome.effects.items()}
    assert {which: {line[:3] for line in of} for which, of in lines.items()} == {
        "all-least": {((0, 4), (3 * FRAME, 6))},
        "typical": {((0, 4), (5 * FRAME // 2, 0), (8 * FRAME, 6))},
        "all-most": {((0, 4), (FRAME, 0), (13 * FRAME, 6))},
    }
    assert outcome.frames() == (0, 13) and outcome.lost_frames() == (3, 14)
    assert set(outcome.typical.used) >= {"card.detect", "card.switch", "card.keeps_last"}


def test_where_no_range_matters_the_corners_are_one() -> None:
    kits = ranged("unit", relock=(1, 100))
    lab = laboratory(long("relay-pair", kits=kits))
    outcome = lab.outcome(strike_on(lab.rig, "main/trunk-main-1", "cut"))
    assert len({id(effect) for effect in outcome.effects.values()}) == 1
    for which in ("all-least", "all-most"):
        wanted = areas_by_line(lab.rig, full_run(lab.rig, outcome.strike.faults, which), "main")
        assert effect_areas(outcome.effects[which]) == wanted
