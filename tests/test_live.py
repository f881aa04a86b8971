"""A rig that is acted on while it runs, against the run that knew everything before.

In: random rigs and scripts (`tests.rigs`), and wall groups of `tests.plans`. Out: equal traces.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from sim.engine.live import Live
from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Trace, cell_lines
from sim.faults import Action, Fault, Script
from sim.rig.topology import Rig, corner
from sim.timebase import FLICKS
from tests.labs import long, rig_of
from tests.rig_scripts import TICK
from tests.rigs import seeded

SEEDS = range(400)


def live_of(rig: Rig, script: Script, until: int) -> Live:
    return Live(Base(rig, corner(rig, "typical")), script, until)


def known_before(rig: Rig, script: Script) -> Trace:
    return run(rig, script, corner(rig, "typical"), rig.length)


def in_steps(rig: Rig, script: Script, rng: Random, late: int = 0) -> Trace:
    """The same, stopping at random instants, with the actions said only when they are due (or so
    many flicks late).
    """
    live = live_of(rig, replace(script, actions=()), rig.length)
    actions = sorted(script.actions, key=lambda action: action.at)
    stops = sorted(rng.randrange(rig.length) for _ in range(6))
    for action in actions:
        for stop in (each for each in stops if each < action.at):
            live.go(stop)
            live.so_far()
        live.act(replace(action, at=action.at + late))
    return live.finish()


def test_a_run_in_steps_equals_a_run_that_knew_everything() -> None:
    acted = 0
    for seed in SEEDS:
        rig, script = seeded(seed)
        assert in_steps(rig, script, Random(seed)) == known_before(rig, script), seed
        acted += bool(script.actions)
    assert acted > len(SEEDS) // 4


def test_that_comparison_can_fail() -> None:
    """Actions a tick late are found in most runs in which any of them matters."""
    found = matters = 0
    for seed in SEEDS:
        rig, script = seeded(seed)
        shown = cell_lines(rig, known_before(rig, script))
        if shown != cell_lines(rig, known_before(rig, replace(script, actions=()))):
            matters += 1
            found += in_steps(rig, script, Random(seed), late=TICK) != known_before(rig, script)
    assert matters > 20
    assert found == matters


@pytest.mark.parametrize("seed", range(60))
def test_a_fault_that_is_said_live_equals_one_that_was_known(seed: int) -> None:
    rig, script = seeded(seed)
    later = tuple(f for f in script.faults if f.at >= 0 and f.mode != "moved")
    before = tuple(f for f in script.faults if f.at < 0)
    live = live_of(rig, Script(before), rig.length)
    for fault in sorted(later, key=lambda fault: fault.at):
        live.go(fault.at - 1)
        live.begin(fault)
    whole = known_before(rig, Script((*before, *later)))
    assert cell_lines(rig, live.finish()) == cell_lines(rig, whole)


RELAYED = rig_of(long("relay-pair"))
MENDED = {
    "dead": Fault("main/relay-main", "dead", FLICKS),
    "flapping": Fault("main/relay-main", "flapping", FLICKS, period=FLICKS, off=FLICKS // 3),
    "stuck": Fault("main/relay-main", "stuck", FLICKS),
    "ends later anyway": Fault("main/relay-main", "dead", FLICKS, 40 * FLICKS),
}


@pytest.mark.parametrize("fault", MENDED.values(), ids=MENDED)
def test_a_fault_that_is_mended_ends_there(fault: Fault) -> None:
    live = live_of(RELAYED, Script((fault,)), RELAYED.length)
    live.go(5 * FLICKS)
    live.mend(7 * FLICKS, (fault.thing,), (fault.mode,), hard=False)
    ended = known_before(RELAYED, Script((replace(fault, until=7 * FLICKS),)))
    lasting = known_before(RELAYED, Script((fault,)))
    shown = cell_lines(RELAYED, live.finish())
    assert shown == cell_lines(RELAYED, ended)
    assert shown != cell_lines(RELAYED, lasting)


def test_a_hard_fault_is_not_mended_softly() -> None:
    fault = Fault("main/relay-main", "stuck", FLICKS, hard=True)
    live = live_of(RELAYED, Script((fault,)), RELAYED.length)
    live.mend(7 * FLICKS, (fault.thing,), (fault.mode,), hard=False)
    assert cell_lines(RELAYED, live.finish()) == cell_lines(
        RELAYED, known_before(RELAYED, Script((fault,)))
    )


def wholeness(*faults: Fault, actions: tuple[Action, ...] = ()) -> list[tuple[float, bool]]:
    live = live_of(RELAYED, Script(faults, actions), RELAYED.length)
    live.finish()
    return [(at / FLICKS, whole) for at, whole in live.whole]


def test_a_rig_on_its_last_backup_is_not_whole() -> None:
    """A relay's start is five seconds (`tests.plans`): until then there is no redundancy."""
    fault = Fault("main/relay-main", "dead", 2 * FLICKS, 10 * FLICKS)
    assert wholeness(fault) == [(0, True), (2, False), (15, True)]
    assert wholeness(Fault("main/r1c1/receiver", "stuck", -1)) == [(0, False)]


def test_a_locked_changeover_is_not_whole() -> None:
    name = "main/unit-a#reference"
    actions = (Action(3 * FLICKS, "lock", name), Action(9 * FLICKS, "unlock", name))
    assert wholeness(actions=actions) == [(0, True), (3, False), (9, True)]
