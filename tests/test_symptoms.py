"""What is seen of a rig: what shows, what reports prove, when alarms come, and that nothing leaks.

Checked by hand on the shipped scenarios; hidden states are named one by one with the reason why
nobody can know of them (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from sim.engine.run import Run
from sim.engine.settling import Base
from sim.faults import Fault, Script
from sim.practice.desk import desk_of
from sim.practice.moments import Moment, audible, moment_of, moment_under
from sim.practice.symptoms import ALARM_AFTER, Symptoms, looked_at, looks, symptoms
from sim.rig.topology import corner
from sim.risk.mending import ALARM
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import full_run, lit_everywhere
from tests.seen_rigs import Stage, stage

HALF = Fraction(1, 2)


def _says(seen: Symptoms, kind: str) -> dict[str, str]:
    return {report.name: report.says for report in seen.reports if report.kind == kind}


def _place(seen: Symptoms, name: str) -> dict[str, Fraction]:
    (found,) = [place.states for place in seen.places if place.name == name]
    return dict(found)


# ---- what shows ----------------------------------------------------------------------------------


def test_a_rig_with_nothing_wrong_shows_nothing() -> None:
    seen = stage("river").seen()
    assert seen.all_well
    assert {report.says for report in seen.reports} == {"yes"}
    assert "main/unit-b" in seen.reached


def test_a_link_that_is_up_says_nothing_about_the_picture() -> None:
    seen = stage("river").seen(Fault("main/unit-a", "blanked", 5 * FLICKS))
    assert _place(seen, "main") == {"dark": 1}
    assert {report.says for report in seen.reports} == {"yes"}
    texts = {report.text for report in seen.reports if report.kind == "port"}
    assert "port main/port-main-7: link yes, picture unknown" in texts
    assert all("picture" in r.proves for r in seen.reports if r.kind in ("port", "link", "unit"))
    assert not seen.alarms


def test_shares_add_up_the_cabinets_of_a_chain() -> None:
    """`first`: one of two columns is dark behind a dead port of single-feed."""
    seen = stage("first", "panel", "single-feed").seen(Fault("panel/port-main-1", "dead", 0))
    assert _place(seen, "panel") == {"dark": HALF}
    assert {cabinet for cabinet, _ in seen.spots} == {"panel/r1c1", "panel/r2c1"}


def test_a_dead_port_is_reported_by_its_unit_and_a_dead_unit_reports_nothing() -> None:
    seen = stage("studio").seen(Fault("backdrop/port-a-3", "dead", 0))
    assert [name for name, says in _says(seen, "port").items() if says == "no"] == [
        "backdrop/port-a-3"
    ]
    gone = stage("studio").seen(Fault("backdrop/unit-a", "dead", 0))
    assert set(_says(gone, "port").values()) == {"unknown"}
    assert _says(gone, "unit") == {"backdrop/unit-a": "no"}
    assert gone.reached == ()


def test_a_cut_patch_and_a_dead_first_card_look_alike_to_the_port() -> None:
    cut = stage("studio").seen(Fault("backdrop/chain-3/head", "cut", 0))
    card = stage("studio").seen(Fault("backdrop/r1c3/supply", "dead", 0))
    assert _says(cut, "port")["backdrop/port-a-3"] == "no"
    assert _says(cut, "port") == _says(card, "port")


def test_a_loose_contact_jumps_and_one_change_does_not() -> None:
    line = ((0, 6), (10 * FLICKS, 0))
    assert looks(line, 11 * FLICKS) == "dark"
    assert looks((*line, (11 * FLICKS, 6)), 12 * FLICKS) == "jumping"
    assert looks((*line, (11 * FLICKS, 6)), 17 * FLICKS) == "lit"
    standing_first = ((0, 6), (10 * FLICKS, 4), (11 * FLICKS, 0))
    assert looks(standing_first, 12 * FLICKS) == "dark", "it never came back"
    assert looks((*standing_first, (13 * FLICKS, 1)), 13 * FLICKS) == "dark", "black is dark"


def test_a_still_picture_that_stands_is_seen_by_nobody() -> None:
    """River's strip of results does not move: frozen, it looks as ever."""
    seen = stage("river").seen(Fault("results", "stuck", 5 * FLICKS))
    assert not seen.spots
    moving = desk_of(stage("river").rig)
    moment = stage("river").moment(Fault("results", "stuck", 5 * FLICKS))
    assert set(symptoms(moving, moment).spots.values()) == {"frozen"}


# ---- alarms and remote control -------------------------------------------------------------------


def test_an_alarm_comes_when_somebody_may_know_and_not_before() -> None:
    """In the middle of the 1 to 5 s that the risk of a show draws from (from memory)."""
    assert (ALARM.a, ALARM_AFTER, ALARM.b) == (FLICKS, 3 * FLICKS, 5 * FLICKS)
    dead = Fault("main/unit-a", "dead", 10 * FLICKS)
    assert not stage("river").seen(dead, at=12).alarms
    names = [alarm.name for alarm in stage("river").seen(dead, at=13).alarms]
    assert names[0] == "main/unit-a"


def test_a_link_alarm_never_says_which_end_has_failed() -> None:
    sent = stage("river").seen(Fault("main/unit-a", "dead", 0))
    broken = stage("river").seen(Fault("main/trunk-main-a-1", "cut", 0))
    alike = {alarm.text for alarm in sent.alarms if alarm.name == "main/trunk-main-a-1"}
    assert alike == {alarm.text for alarm in broken.alarms} != set()


def test_without_its_control_link_nothing_is_reached_and_the_wall_stays() -> None:
    seen = stage("river").seen(Fault("desk to units", "cut", 0))
    assert seen.reached == () and not seen.spots
    assert set(_says(seen, "unit").values()) == {"no"}
    assert [alarm.name for alarm in seen.alarms] == ["desk to units"]


def test_who_stands_before_a_unit_reads_what_nobody_monitors() -> None:
    dead = stage("first").moment(Fault("panel/relay-backup", "dead", 0))
    unit = looked_at(stage("first").desk, dead, "panel/relay-backup")[0]
    assert unit.text == "unit panel/relay-backup: answers no"
    assert not symptoms(stage("first").desk, dead).reports


# ---- nothing leaks -------------------------------------------------------------------------------

HIDDEN = {
    "stale backup: settings are no signal": ("river", Fault("main/unit-b", "stale", -1), ()),
    "black backup: its carrier is valid": ("river", Fault("main/unit-b", "blanked", -1), ()),
    "standby player sends black": ("river", Fault("standby player", "blanked", -1), ()),
    "torn return": ("river", Fault("main/chain-4/tail", "corrupt", -1), ()),
    "dead jumper, fed by the return": ("river", Fault("main/chain-4/jumper-5", "dead", -1), ()),
    "taken input shows the same": (
        "river", Fault("main/unit-a#layer programme", "moved", 0, choice=1), (),
    ),
    "a changeover that would fail": ("river", None, ("main/relay-main#bank 1",)),
    "dead standby, nobody monitors": ("first", Fault("panel/relay-backup", "dead", -1), ()),
    "cut backup trunk, nobody monitors": ("first", Fault("panel/trunk-backup-1", "cut", -1), ()),
    "dead spare, a lost tail": ("first", Fault("panel/chain-1/tail", "cut", -1), ()),
    "a battery that runs down": ("river", Fault("shore A", "tripped", 0), ()),
    "on the backup, waiting to go back": (
        "river", Fault("main/trunk-main-a-1", "cut", 0, until=1765 * FLICKS // 100), (),
    ),
    "settings of an idle arrangement": (
        "river", Fault("main/unit-b", "moved", -1, choice="pictures only"), (),
    ),
    "stale spare source": ("studio", Fault("spare graphics", "stale", -1), ()),
}  # fmt: skip


@pytest.mark.parametrize("why", HIDDEN)
def test_a_hidden_state_changes_nothing_that_is_shown(why: str) -> None:
    name, fault, failing = HIDDEN[why]
    there = stage(name)
    faults = () if fault is None else (fault,)
    assert there.seen(*faults, failing=failing) == there.seen()


RUNNING = {
    "what is left in a battery": (".hold_up", 60, (Fault("shore A", "tripped", 0),)),
    "how long a unit keeps in step": (
        ".holdover", 20, (
            Fault("house sync", "dead", 19 * FLICKS), Fault("broadcast sync", "dead", 19 * FLICKS),
        ),
    ),
    "when a selector goes back": (
        ".wait_to_restore", 19,
        (Fault("main/trunk-main-a-1", "cut", 0, until=1765 * FLICKS // 100),),
    ),
    "how long something starts": (
        ".start", 20, (Fault("main/relay-main", "restart", 19 * FLICKS),),
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", RUNNING)
def test_how_long_a_timer_still_has_is_not_shown(what: str) -> None:
    """All timers of a kind twice as long, while they run: nothing that is shown differs. Where
    they end meanwhile, it does.
    """
    kind, at, faults = RUNNING[what]
    there = stage("river")
    found = corner(there.rig, "typical").items()
    usual = {k: v or (10 * FLICKS if k.endswith(".holdover") else 0) for k, v in found}

    def shown(factor: Fraction) -> Symptoms:
        longer = {k: int(v * factor) if k.endswith(kind) else v for k, v in usual.items()}
        moment = moment_under(Base(there.rig, longer), there.desk, Script(faults), at * FLICKS)
        return symptoms(there.desk, moment)

    assert shown(Fraction(2)) == shown(Fraction(1))
    assert shown(Fraction(1, 10**6)) != shown(Fraction(1))


SIGNAL_STAYS = frozenset({"blanked", "stuck", "corrupt", "stale", "moved"})
"""Modes after which a valid signal still arrives and no monitoring tells otherwise."""


@pytest.mark.parametrize(("name", "modes"), [("first", None), ("studio", SIGNAL_STAYS)])
def test_no_fault_shows_that_leaves_all_lit_and_is_not_told(
    name: str, modes: frozenset[str] | None
) -> None:
    """Every single fault of `first`, where nothing is monitored, and of `studio` each after which
    the same signals arrive: where a plain run of the engine has all lit all the time, nothing is
    shown.
    """
    there = stage(name)
    quiet, hidden = there.seen(), 0
    for strike in strikes(there.rig):
        if (modes is None or strike.mode in modes) and lit_everywhere(
            there.rig, full_run(there.rig, strike.faults)
        ):
            hidden += 1
            assert there.seen(*strike.faults) == quiet, strike.name
    assert hidden > 20


def _all_monitored(there: Stage, moment: Moment) -> Symptoms:
    """A leak: as if somebody monitored every thing."""
    things = {n: replace(thing, monitored=True) for n, thing in there.rig.things.items()}
    return symptoms(replace(there.desk, rig=replace(there.rig, things=things)), moment)


def _judging(there: Stage, fault: Fault, failing: tuple[str, ...]) -> Symptoms:
    """A leak: as if an input's signal said whether its picture is right, and which is taken."""
    run = Run(there.base, Script((fault,), failing=frozenset(failing)), 20 * FLICKS + 1)
    run.work(20 * FLICKS + 1)
    moment = moment_of(run, there.desk, 20 * FLICKS)
    poor = {
        node.name: -1
        for number, node in enumerate(there.base.wiring.nodes)
        if audible(node) and run.board.value[number][0] < 6
    }
    return symptoms(there.desk, replace(moment, silent=poor))


def test_the_check_finds_versions_that_leak() -> None:
    for why in ("dead standby, nobody monitors", "cut backup trunk, nobody monitors"):
        name, fault, _ = HIDDEN[why]
        assert fault is not None
        there = stage(name)
        quiet, hidden = there.moment(), there.moment(fault)
        assert _all_monitored(there, hidden) != _all_monitored(there, quiet), why
    for why in ("stale backup: settings are no signal", "standby player sends black"):
        name, fault, failing = HIDDEN[why]
        assert fault is not None
        assert _judging(stage(name), fault, failing) != stage(name).seen(), why


def test_looking_changes_nothing_in_the_run() -> None:
    there = stage("studio")
    script = Script((Fault("backdrop/unit-a", "restart", 0),))
    plain, looked = (Run(there.base, script, 200 * FLICKS) for _ in range(2))
    for second in range(0, 100, 7):
        looked.work(second * FLICKS + 1)
        moment_of(looked, there.desk, second * FLICKS)
    assert looked.run() == plain.run()
