"""A run whose turns are written out against the plain run that plays them all: the same trace.

Small drawn rigs under drawn scripts, to which loose contacts are added that come and go for ever;
the plain run is the one that the oracle is held against.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from random import Random

import pytest

from sim.engine import condition, through
from sim.engine.condition import Condition
from sim.engine.playing import Player
from sim.engine.run import run
from sim.engine.selector import State
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.through import Turns, run_through
from sim.faults import MODES, Action, Fault, Script
from sim.rig.topology import Emit, Rig, Select, Selector, corner
from sim.timebase import FLICKS
from tests.handmade import HEAD
from tests.labs import long, rig_of
from tests.rig_scripts import TICK
from tests.rigs import seeded
from tests.small_rigs import SPARE, small

SEEDS = range(150)
TURNS = 60
PERIODS = (2, 3, 4, 7, 10, 24)


def loose(rig: Rig, rng: Random) -> Fault:
    """One that comes and goes for ever, ticks after the beginning."""
    fit = [name for name, thing in rig.things.items() if "flapping" in MODES[thing.family]]
    period = rng.choice(PERIODS)
    at, off = rng.randrange(30), rng.randrange(1, period)
    return Fault(rng.choice(fit), "flapping", at * TICK, period=period * TICK, off=off * TICK)


def drawn(seed: int) -> tuple[Rig, Script, int]:
    """A rig, its script with one to three loose contacts, and an end far behind it."""
    rng = Random(seed)
    rig, script = seeded(seed)
    more = tuple(loose(rig, rng) for _ in range(rng.choice((1, 1, 1, 2, 3))))
    length = rig.length + rng.randrange(20, TURNS * max(PERIODS)) * TICK
    return rig, replace(script, faults=(*script.faults, *more)), length


def both(seed: int) -> tuple[Trace, Trace]:
    rig, script, until = drawn(seed)
    values = corner(rig, "typical")
    return run(rig, script, values, until), run_through(rig, script, values, until)


def differs(seed: int) -> bool:
    plain, written_out = both(seed)
    return plain != written_out


def test_drawn_scripts_with_loose_contacts_show_what_the_plain_run_shows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found: list[Turns] = []
    rests: list[float] = []
    written = through._written_out

    def noted(trace: Trace, turns: Turns, until: int) -> Trace:
        found.append(turns)
        rests.append((until - turns.second - turns.lag) / turns.period)
        return written(trace, turns, until)

    monkeypatch.setattr(through, "_written_out", noted)
    wrong = [seed for seed in SEEDS if differs(seed)]
    assert not wrong
    assert len(found) > 0.6 * len(SEEDS)
    assert sum(turns.count > 5 for turns in found) > 0.3 * len(SEEDS)
    assert len({turns.period for turns in found}) > 10
    assert all(0 < rest <= 1 for rest in rests), "a turn is played that could be written out"


def timeless(condition: Condition, now: int, held: bool = False) -> Hashable:
    return (condition.up, tuple(condition.faults), tuple(condition.off))


def forgetful(state: State, now: int) -> Hashable:
    return (state.mode, state.on, state.to, state.pending)


BROKEN: list[tuple[object, str, Callable[..., object]]] = [
    (Player, "_turned", lambda self: ()),
    (State, "mark", forgetful),
    (condition, "mark", timeless),
]
"""Each leaves something out of what must be as it was a turn before."""


@pytest.mark.parametrize(("where", "rule", "instead"), BROKEN, ids=["turned", "choosers", "things"])
def test_the_comparison_sees_a_state_that_was_not_looked_at_whole(
    where: object, rule: str, instead: Callable[..., object], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(where, rule, instead)
    assert any(map(differs, SEEDS))


def several(rig: Rig) -> Script:
    """Two loose contacts of other periods, an act, and frames lost for longer than a turn."""
    source = next(n for n in rig.nodes.values() if isinstance(n, Emit) and n.frame)
    return Script(
        (
            Fault(source.thing, "drops", FLICKS, frames=200),
            Fault("main/trunk-main-1", "flapping", 3, period=FLICKS, off=FLICKS // 2),
            Fault("main/chain-1/head", "flapping", 7, period=3 * FLICKS // 2, off=FLICKS // 5),
        ),
        (Action(FLICKS, "choose", next(iter(_choices(rig))), 1),),
    )


def _choices(rig: Rig) -> list[str]:
    return [
        node.selector.name
        for node in rig.nodes.values()
        if getattr(node, "selector", None) is not None and len(node.inputs) > 1
    ]


@pytest.mark.parametrize("seconds", [1, 4, 5, 60, 301])
def test_a_real_rig_shows_what_the_plain_run_shows(seconds: int) -> None:
    rig = rig_of(long("relay-pair"))
    values, script = corner(rig, "typical"), several(rig)
    until = seconds * FLICKS + 12345
    assert run_through(rig, script, values, until) == run(rig, script, values, until)


def test_a_rig_that_has_settled_already_will_do() -> None:
    rig, script, until = drawn(0)
    values = corner(rig, "typical")
    assert run_through(Base(rig, values), script, values, until) == both(0)[0]


@pytest.mark.parametrize("thing", ["main/chain-1/head", "main/trunk-main-1"])
def test_frames_that_are_lost_for_longer_than_a_turn_come_back(thing: str) -> None:
    rig = rig_of(long("relay-pair"))
    source = next(n for n in rig.nodes.values() if isinstance(n, Emit) and n.frame)
    script = Script(
        (
            Fault(source.thing, "drops", FLICKS, frames=20 * FLICKS // source.frame),
            Fault(thing, "flapping", 3, period=FLICKS, off=FLICKS // 2),
        )
    )
    values, until = corner(rig, "typical"), 60 * FLICKS
    plain = run(rig, script, values, until)
    assert any(note.what == "repaired" and note.at > 20 * FLICKS for note in plain.notes)
    assert run_through(rig, script, values, until) == plain


def test_a_turn_in_whose_first_flick_somebody_acts_is_not_taken_to_come_again() -> None:
    """The second choice is made as a turn begins, at which all stands as it will a turn later."""
    chosen = Selector("way#choice", restore="revertive", wait_to_restore="back")
    rig = small(Select(name="way", thing="relay", inputs=(HEAD, SPARE), selector=chosen))
    acts = tuple(Action(at, "choose", "way#choice", 1) for at in (20, 110))
    script = Script((Fault("guest", "flapping", 10, period=100, off=20),), acts)
    plain = run(rig, script, {"back": 30}, 2000)
    assert [at for at, _ in plain.shown["a"]] == [0, 20, 50, 110, 140]
    assert run_through(rig, script, {"back": 30}, 2000) == plain


def test_lines_that_are_alike_are_one_list() -> None:
    """So that a wall of many cabinets under hours of a loose contact has room in memory."""
    rig = rig_of(long("relay-pair"))
    script = Script((Fault("main/trunk-main-1", "flapping", 0, period=FLICKS, off=FLICKS // 2),))
    trace = run_through(rig, script, corner(rig, "typical"), 600 * FLICKS)
    lines = {id(line) for line in trace.shown.values()}
    assert len(lines) == len({tuple(line) for line in trace.shown.values()}) < len(trace.shown)
