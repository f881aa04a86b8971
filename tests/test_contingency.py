"""Outcomes of faults: lasting, blink, unseen; what ends of itself; flapping; pairs.

In: small plans. Out: verdicts worked out by hand, runs of the full rig, every pair tried.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from sim.engine.run import run
from sim.faults import Fault, Script
from sim.rig.kit import Chooser, Kit
from sim.rig.topology import corner
from sim.study.contingency import Laboratory, pair, pairs, singles
from sim.study.latent import latents
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import (
    areas_by_line,
    effect_areas,
    full_run,
    laboratory,
    lines_of,
    long,
    plan_for,
    rig_of,
    strike_on,
    timed,
)
from tests.plans import FRAME, KITS, RELAY, main

# ---- verdicts

VERDICTS: Mapping[tuple[str, str], tuple[str, str]] = {
    ("main/unit-a", "dead"): ("lasting", "dark"),
    ("main/unit-a", "stale"): ("lasting", "wrong"),
    ("main/relay-main", "dead"): ("blink", "dark"),
    ("main/relay-main", "corrupt"): ("lasting", "corrupt"),
    ("main/relay-backup", "dead"): ("unseen", ""),
    ("main/relay-backup", "blanked"): ("unseen", ""),
    ("main/trunk-main-1", "cut"): ("blink", "dark"),
    ("main/trunk-main-1", "attenuated"): ("lasting", "corrupt"),
    ("main/chain-1/jumper-2", "dead"): ("blink", "dark"),
    ("main/r1c1/receiver", "dead"): ("lasting", "dark"),
    ("main/r1c1/receiver", "stuck"): ("lasting", "frozen"),
    ("house-1", "tripped"): ("lasting", "wrong"),
    ("sync-1", "dead"): ("unseen", ""),
}
STATES = ("dark", "corrupt", "wrong", "frozen", "unlocked")


@pytest.mark.parametrize("where", VERDICTS, ids=" ".join)
def test_verdicts_of_a_relay_pair_worked_out_by_hand(where: tuple[str, str]) -> None:
    lab = laboratory(long("relay-pair"))
    outcome = lab.outcome(strike_on(lab.rig, *where))
    verdict, state = VERDICTS[where]
    assert outcome.verdict == verdict
    areas = [outcome.typical.area(n, lasting=verdict == "lasting") for n in range(5)]
    seen = next((STATES[n] for n, area in enumerate(areas) if area), "")
    if where == ("house-1", "tripped"):  # all sources hang on it, so their layers are lost
        assert seen == "dark" and areas[0]
    else:
        assert seen == state
    assert outcome.settled


@pytest.mark.parametrize(
    ("where", "mode", "verdict"),
    [
        ("main/unit-a", "restart", "blink"),
        ("main/relay-main", "restart", "blink"),
        ("main/relay-backup", "restart", "unseen"),
        ("cam", "drops", "blink"),
        ("cam", "restart", "blink"),
    ],
)
def test_what_ends_of_itself_is_judged_after_it_has_ended(
    where: str, mode: str, verdict: str
) -> None:
    sources = tuple(replace(s, kit=timed_source()) for s in plan_for("relay-pair").sources)
    lab = laboratory(replace(long("relay-pair"), sources=sources))
    outcome = lab.outcome(strike_on(lab.rig, where, mode))
    assert outcome.verdict == verdict and outcome.typical.lost() == 0


def timed_source() -> Kit:
    return replace(KITS["supply"], name="camera", family="source")


def test_a_start_that_outlasts_the_show_is_named_and_counts_as_not_run_out() -> None:
    lab = laboratory(long("relay-pair", seconds=10))  # its start takes 600 frames, ten seconds
    outcome = lab.outcome(strike_on(lab.rig, "main/unit-a", "restart"))
    assert outcome.verdict == "lasting" and not outcome.settled
    assert "main/unit-a" in outcome.typical.pending


@pytest.mark.parametrize("until", [3 * FLICKS, 9 * FLICKS])
def test_a_fault_with_an_end_is_a_blink_if_all_is_lit_after_it(until: int) -> None:
    lab = laboratory(long("relay-pair"))
    effect = lab.effect([Fault("main/r1c1/receiver", "dead", 0, until)], "typical")
    assert effect.seen and not effect.lasts


def test_a_flapping_fault_with_an_end_is_judged_after_it_has_ended() -> None:
    lab = laboratory(long("single-feed"))
    flap = Fault("main/trunk-main-1", "flapping", 0, 9 * FLICKS, period=2 * FLICKS, off=FLICKS)
    effect = lab.effect([flap], "typical")
    assert effect.seen and not effect.lasts


# ---- flapping

FLAPPING = [
    ("single-feed", "main/trunk-main-1"), ("relay-pair", "main/trunk-main-1"),
    ("relay-pair", "main/relay-main"), ("crossed-relays", "main/trunk-main-a-1"),
    ("return-loop", "main/chain-1/jumper-2"), ("two-unit", "cam"), ("relay-pair", "sync-1"),
]  # fmt: skip


@pytest.mark.parametrize(("topology", "thing"), FLAPPING)
@pytest.mark.parametrize("period", [FRAME, 7 * FRAME + 1, FLICKS, 2 * FLICKS])
def test_a_flapping_rig_repeats_itself_as_a_long_plain_run_does(
    topology: str, thing: str, period: int
) -> None:
    lab = laboratory(long(topology, seconds=40))
    fault = Fault(thing, "flapping", 0, period=period, off=period // 2)
    effect = lab.effect([fault], "typical")
    assert effect.repeat is not None, "nothing in it takes longer than the show"
    first, second = effect.repeat
    again = second - first
    assert again % period == 0 and first % period == 0
    script = Script((fault,))
    trace = run(lab.rig, script, corner(lab.rig, "typical"), min(second + 3 * again, 40 * FLICKS))
    lines = lines_of(lab.rig, trace, "main")
    lost = 0
    for number, line in lines.items():
        part = _shown(line, first, second)
        for turn in (1, 2):
            assert _shown(line, first + turn * again, second + turn * again) == part
        if any(quality != 6 for _, quality in part):
            lost += lab.group.cells[number].area
    assert effect.lost() == lost
    assert effect.lasts == bool(lost)


@pytest.mark.parametrize(("restore", "dies"), [("revertive", True), ("non-revertive", False)])
def test_what_a_selector_no_longer_asks_about_keeps_no_flapping_rig_from_repeating(
    restore: str, dies: bool
) -> None:
    """Its main input is back since second 3; from then on it is off, or never goes back."""
    relay = timed("relay", wait_to_restore=60 * FLICKS)["relay"]
    slow = replace(relay, picks=Chooser(restore))
    plan = long("crossed-relays", 40, kits={**KITS, "relay": slow})
    faults = [
        Fault("main/trunk-main-a-1", "cut", 0, 3 * FLICKS),
        Fault("main/chain-1/jumper-2", "flapping", 0, period=FLICKS, off=FLICKS // 2),
    ]
    if dies:
        faults.append(Fault("main/relay-main", "dead", 4 * FLICKS))
    rig = rig_of(plan)
    trace = run(rig, Script(tuple(faults)), corner(rig, "typical"), 40 * FLICKS, repeats=True)
    assert trace.repeat is not None


def _shown(line: tuple[tuple[int, int], ...], start: int, end: int) -> list[tuple[int, int]]:
    """What a line shows within [start, end), counted from the start."""
    at_start = [quality for at, quality in line if at <= start][-1]
    return [(0, at_start), *((at - start, q) for at, q in line if start < at < end)]


# ---- latent


def test_a_dead_backup_is_latent_and_the_second_fault_that_shows_it_is_named() -> None:
    lab = laboratory(main("relay-pair", 2, 2))
    found = {latent.strike.name: latent for latent in latents(lab, singles(lab, strikes(lab.rig)))}
    dead = found["main/relay-backup dead"]
    assert (dead.alone, dead.together) == (0, lab.canvas.area)
    assert dead.second.mode in ("dead", "cut")
    assert "main/relay-main dead" not in found, "it is no latent fault: it is seen"


@pytest.mark.parametrize("topology", ["return-loop", "relay-pair", "two-unit", "mirrored-guarded"])
def test_latent_faults_against_enumeration_of_every_second_fault(topology: str) -> None:
    size = {} if topology == "mirrored-guarded" else {"rows": 2, "columns": 2}
    check_latents(laboratory(plan_for(topology, **size)))


def test_a_backup_of_one_wall_that_is_unlike_the_other_walls_is_latent_too() -> None:
    slow = replace(RELAY, name="slow box", timings=timed("relay", start=7)["relay"].timings)
    own = (("right/relay-backup", slow),)
    check_latents(laboratory(plan_for("mirrored-guarded", own_kits=own)))


def check_latents(lab: Laboratory) -> None:
    outcomes = singles(lab, strikes(lab.rig))
    found = {latent.strike.name for latent in latents(lab, outcomes)}
    alone = {o.strike.name: o.typical.lost() for o in outcomes}
    seconds = [o.strike for o in outcomes if o.strike.mode in ("dead", "cut")]
    seconds = [s for s in seconds if len(s.faults) == 1]
    expected = {
        o.strike.name
        for o in outcomes
        if o.verdict == "unseen"
        and any(
            pair(lab, o.strike, other).lost() > alone[other.name]
            for other in seconds
            if not set(other.struck) & set(o.strike.struck)
        )
    }
    assert found == expected and expected


# ---- pairs


def test_every_pair_comes_in_both_orders_and_never_on_one_thing() -> None:
    lab = laboratory(main("return-loop", 2, 1))
    some = [s for s in strikes(lab.rig) if s.mode in ("dead", "cut", "blanked")]
    made = pairs(lab, some)
    names = {(p.first.name, p.second.name) for p in made}
    assert len(names) == len(made)
    assert names == {(b, a) for a, b in names}
    assert names == {
        (a.name, b.name) for a in some for b in some if not set(a.struck) & set(b.struck)
    }
    for each in made:
        assert each.alone == tuple(lab.outcome(s).typical.lost() for s in (each.first, each.second))


@pytest.mark.parametrize("topology", ["relay-pair", "two-unit"])
def test_the_second_fault_strikes_after_the_first_has_settled(topology: str) -> None:
    lab = laboratory(long(topology, rows=2, columns=2))
    some = [s for s in strikes(lab.rig) if s.where.startswith(("main/relay", "main/trunk", "cam"))]
    for one in some[::3]:
        plain = full_run(lab.rig, one.faults)
        last = max([0, *(note.at for note in plain.notes)])
        when = (plain.repeat[0] if plain.repeat else last) + 1
        for other in some[1::5]:
            if set(one.struck) & set(other.struck):
                continue
            both = (*one.faults, *other.at(when).faults)
            wanted = areas_by_line(lab.rig, full_run(lab.rig, both), "main")
            assert effect_areas(pair(lab, one, other)) == wanted, (one.name, other.name)


def test_order_matters_where_a_choice_does_not_go_back() -> None:
    """Main trunk cut, then the backup relay: dark. The other order: dark as well, but at once."""
    lab = laboratory(long("relay-pair"))
    trunk = strike_on(lab.rig, "main/trunk-main-1", "cut")
    relay = strike_on(lab.rig, "main/relay-backup", "dead")
    assert pair(lab, trunk, relay).lost() == pair(lab, relay, trunk).lost() == lab.canvas.area
    assert set(effect_areas(pair(lab, trunk, relay))) != set(effect_areas(pair(lab, relay, trunk)))
