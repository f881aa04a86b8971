"""Drills driven by known acts: against the engine's own run, and what each act does to the rig.

In: drills on rigs of the shipped scenarios and of `tests.plans`. Out: traces, situations, refusals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from sim.engine.run import run
from sim.engine.signal import cell_lines
from sim.faults import Action, Fault, Script
from sim.practice.acts import Act
from sim.practice.costs import cost_of
from sim.practice.course import DrillPlan
from sim.practice.drill import Done, drill, rehearsed
from sim.rig.terms import Crew, Law, Repair
from sim.rig.topology import Rig, corner
from sim.study.injection import inject, told
from sim.timebase import FLICKS
from tests.labs import long, rig_of
from tests.seen_rigs import stage

MINUTE = 60 * FLICKS
FIX = Law("fixed", 20 * FLICKS)
CREW = Crew(
    1,
    (Repair("swap", FIX, FIX, FIX, family="relay"), Repair("swap", FIX, FIX, FIX, family="fibre")),
    {"fibre box": 1, "fibre": 1},
    "desk",
)


def plan_of(rig: Rig, *faults: Fault, minutes: int = 10, **more: Any) -> DrillPlan:
    rig = replace(rig, length=minutes * MINUTE)
    more = {
        "crew": CREW,
        "place": "here",
        "places": dict.fromkeys(rig.things, "here"),
        "reach": {"here": "always", "there": "in breaks", "roof": "after the show"},
        **more,
    }
    return DrillPlan("t", rig, Script(faults), corner(rig, "typical"), 10 * FLICKS, **more)


RELAYED = rig_of(long("relay-pair"))
CROSSED = rig_of(long("crossed-relays"))
TRUNK = Fault("main/trunk-main-1", "cut", 20 * FLICKS)
RELAY = Fault("main/relay-main", "dead", 20 * FLICKS)
STUCK = Fault("main/relay-main", "stuck", 20 * FLICKS)


def done(plan: DrillPlan, *acts: Act) -> Sequence[Done]:
    return rehearsed(plan, acts)[1].done


# ---- doing nothing -----------------------------------------------------------------------------

NOTHING = {
    "no act": (),
    "waiting": (Act("wait", time=7 * FLICKS),) * 9,
    "looking on": (Act("look"), Act("tell"), Act("ask", "main/unit-a"), Act("wait", time=MINUTE)),
}


@pytest.mark.parametrize("acts", NOTHING.values(), ids=NOTHING)
@pytest.mark.parametrize("fault", (TRUNK, RELAY, STUCK))
def test_doing_nothing_is_the_engines_run(acts: tuple[Act, ...], fault: Fault) -> None:
    plan = plan_of(CROSSED if "cut" not in fault.mode else RELAYED, fault)
    alone = run(plan.rig, plan.script, plan.values, plan.until)
    trace = rehearsed(plan, acts)[1].trace
    assert trace == alone
    assert told(plan.rig, trace) == inject(plan.rig, plan.script)


def test_doing_something_is_not() -> None:
    plan = plan_of(CROSSED, RELAY)
    alone = run(plan.rig, plan.script, plan.values, plan.until)
    trace = rehearsed(plan, (Act("restart", "main/unit-a"),))[1].trace
    assert cell_lines(plan.rig, trace) != cell_lines(plan.rig, alone)


def test_a_shipped_rig_left_alone_is_the_engines_run() -> None:
    rig = stage("river").rig
    plan = plan_of(rig, *(replace(f, at=15 * FLICKS) for f in SHORE), minutes=2)
    trace = rehearsed(plan, NOTHING["waiting"])[1].trace
    assert trace == run(plan.rig, plan.script, plan.values, plan.until)


SHORE = [Fault(f"main/trunk-main-a-{n}", "cut", 0) for n in (1, 2)]

# ---- acts against the engine's own actions and faults ------------------------------------------


def lines(plan: DrillPlan, *acts: Act) -> Any:
    return cell_lines(plan.rig, rehearsed(plan, acts)[1].trace)


def engine(plan: DrillPlan, *faults: Fault, actions: tuple[Action, ...] = ()) -> Any:
    script = Script((*plan.script.faults, *faults), actions)
    return cell_lines(plan.rig, run(plan.rig, script, plan.values, plan.until))


def ends(plan: DrillPlan, *acts: Act) -> list[int]:
    return [each.end for each in done(plan, *acts)]


def test_a_restart_darkens_what_the_engine_says() -> None:
    plan, act = plan_of(CROSSED), Act("restart", "main/unit-a")
    [end] = ends(plan, act)
    assert end == plan.begin + cost_of("restart", plan.rig.things["main/unit-a"], CREW).time
    assert lines(plan, act) == engine(plan, Fault("main/unit-a", "restart", end))
    assert lines(plan, act) != engine(plan)


def test_commands_are_the_engines_actions() -> None:
    plan, selector = plan_of(CROSSED), "main/relay-main#bank 1"
    acts = (Act("select", selector, "1"), Act("lock", selector), Act("unlock", selector))
    times = zip(ends(plan, *acts), ("choose", "lock", "unlock"), strict=True)
    actions = tuple(Action(t, do, selector, 1 if do == "choose" else None) for t, do in times)
    assert lines(plan, *acts) == engine(plan, actions=actions)
    assert lines(plan, *acts[:2]) == engine(plan, actions=actions[:2])


def test_a_swap_takes_the_unit_out_and_brings_it_back_after_its_start() -> None:
    plan = plan_of(CROSSED, STUCK)
    acts = (Act("wait", time=30 * FLICKS), Act("swap", "main/relay-main"))
    begin, end = ends(plan, *acts)
    assert end - begin == 20 * FLICKS
    without = plan_of(CROSSED, replace(STUCK, until=end))
    pulled = Fault("main/relay-main", "dead", begin + 1, end, hard=True)
    assert lines(plan, *acts) == engine(without, pulled)


def test_settings_that_reach_one_unit_leave_the_other_stale() -> None:
    plan = plan_of(CROSSED)
    both = lines(plan, Act("darken", "main/r1c1"), Act("wait", time=9 * MINUTE))
    one = Act("darken", "main/r1c1", unit="main/unit-b")
    [end] = ends(plan, one)
    dark = Fault("main/r1c1/receiver", "blanked", end, hard=True)
    stale = Fault("main/unit-a", "stale", end)
    assert lines(plan, one) == engine(plan, dark, stale)
    assert lines(plan, one) != both


def test_loading_ends_stale_settings() -> None:
    plan = plan_of(CROSSED)
    acts = (Act("darken", "main/r1c1", unit="main/unit-b"), Act("load", "main/unit-a"))
    first, second = ends(plan, *acts)
    dark = Fault("main/r1c1/receiver", "blanked", first, hard=True)
    assert lines(plan, *acts) == engine(plan, dark, Fault("main/unit-a", "stale", first, second))


def test_an_arrangement_taken_on_one_unit_only_is_wrong_on_the_other() -> None:
    plan = plan_of(CROSSED)
    other = plan.rig.groups["main"].arrangements[1]
    one, both = Act("take", "main/unit-b", other), Act("take", "main", other)
    [end] = ends(plan, one)
    assert lines(plan, one) == engine(plan, actions=(Action(end, "take", "main/unit-b", other),))
    assert 3 in {q for line in lines(plan, one).values() for _, q in line}
    assert {q for line in lines(plan, both).values() for _, q in line} == {6}


def test_a_bypassed_cabinet_is_black_and_the_rest_of_its_chain_is_fed() -> None:
    rig = rig_of(long("single-feed"))
    plan = plan_of(rig, Fault("main/r2c1/receiver", "dead", 20 * FLICKS))
    acts = (Act("wait", time=MINUTE), Act("bypass", "main/r2c1"))
    at_end = {
        plan.rig.groups[g].cells[n].cabinet: line[-1][1]
        for (g, n), line in lines(plan, *acts).items()
    }
    assert {name for name, quality in at_end.items() if quality < 6} == {"main/r2c1"}
    alone = {line[-1][1] for line in engine(plan).values()}
    assert 0 in alone


def test_a_re_patched_port_works_again_where_one_is_free() -> None:
    rig = rig_of(long("single-feed", reaches=True))
    port = next(name for name, thing in rig.things.items() if thing.family == "port")
    fault = Fault(port, "dead", 20 * FLICKS)
    acts = (Act("wait", time=MINUTE), Act("re-patch", port))
    free, full = (plan_of(rig, fault, free={"main/unit-a": n}) for n in (1, 0))
    assert {line[-1][1] for line in lines(free, *acts).values()} == {6}
    assert lines(full, *acts) == engine(full)
    assert done(full, *acts)[1].said == "main/unit-a has no free port"
    assert done(free, *acts, Act("re-patch", port))[2].said == "main/unit-a has no free port"


# ---- what cannot be done -----------------------------------------------------------------------


def test_what_is_elsewhere_cannot_be_touched() -> None:
    plan = plan_of(CROSSED, places=dict.fromkeys(CROSSED.things, "there"))
    [swap] = done(plan, Act("swap", "main/relay-main"))
    assert not swap.well and swap.end - swap.begin == 10 * FLICKS
    assert swap.said.startswith("there can be reached in breaks only")
    assert lines(plan, Act("swap", "main/relay-main")) == engine(plan)
    steps = (Act("break"), Act("walk", "there"), Act("swap", "main/relay-main"))
    assert [each.well for each in done(plan, *steps)] == [True, True, True]
    roof = plan_of(CROSSED, places=dict.fromkeys(CROSSED.things, "roof"))
    assert not any(each.well for each in done(roof, Act("break"), Act("walk", "roof"))[1:])


def test_a_spare_is_used_up() -> None:
    plan = plan_of(CROSSED)
    first, second = done(plan, Act("swap", "main/relay-main"), Act("swap", "main/relay-backup"))
    assert first.well and not second.well
    assert second.said == "no spare fibre box is left"


def test_a_spare_strand_on_a_route_that_is_cut_brings_nothing() -> None:
    on_route = [t.name for t in CROSSED.things.values() if t.family == "fibre"]
    rig = replace(
        CROSSED,
        things={
            n: replace(t, routes=("way",)) if n in on_route else t
            for n, t in CROSSED.things.items()
        },
    )
    cut = tuple(Fault(name, "cut", 20 * FLICKS) for name in on_route)
    crew = replace(CREW, spares={"fibre": 9, **{rig.things[on_route[0]].kit: 9}})
    steps = (Act("wait", time=MINUTE), Act("swap", on_route[0]))
    assert "same route" in done(plan_of(rig, *cut, crew=crew), *steps)[1].said
    assert done(plan_of(rig, cut[0], crew=crew), *steps)[1].ended == (0,)


def test_what_does_not_answer_takes_no_command() -> None:
    plan = plan_of(CROSSED, Fault("main/relay-main", "dead", 11 * FLICKS))
    acts = (Act("wait", time=FLICKS * 5), Act("select", "main/relay-main#bank 1", "1"))
    assert done(plan, *acts)[1].said == "main/relay-main does not answer"
    locked = (Act("lock", "main/unit-a#reference"), Act("select", "main/unit-a#reference", "1"))
    assert not done(plan_of(CROSSED), *locked)[1].well


def asked(thing: str, place: str, *faults: Fault) -> str:
    """What a thing of the regatta says to somebody at a place, five seconds after its faults."""
    rig = stage("river").rig
    places = {name: thing.place for name, thing in rig.things.items()}
    reach = dict.fromkeys(("control cabin", "pontoon"), "always")
    plan = plan_of(rig, *faults, places=places, reach=reach, place=place, minutes=2)
    return done(plan, Act("wait", time=10 * FLICKS), Act("ask", thing))[1].said


def test_reports_from_afar_need_the_control_link() -> None:
    cut = Fault("desk to units", "cut", 15 * FLICKS)
    dead = Fault("main/unit-a", "dead", 15 * FLICKS)
    for place, faults, answer in (
        ("pontoon", (), "yes"), ("pontoon", (cut,), "no"), ("pontoon", (dead,), "no"),
        ("control cabin", (cut,), "yes"), ("control cabin", (cut, dead), "no"),
    ):  # fmt: skip
        assert asked("main/unit-a", place, *faults).startswith(
            f"unit main/unit-a: answers {answer}"
        )
    assert "link unknown" in asked("main/port-main-1", "control cabin", cut)
    assert "link yes" in asked("main/port-main-1", "pontoon", cut)


def test_what_nobody_monitors_is_asked_where_it_stands() -> None:
    tripped = Fault("pontoon A", "tripped", 15 * FLICKS)
    assert asked("pontoon A", "pontoon", tripped) == "circuit pontoon A: off"
    assert asked("pontoon A", "control cabin", tripped).startswith("it is at pontoon")
    assert asked("main/chain-1/jumper-2", "pontoon").endswith("tells nothing by itself")


def test_an_act_that_ends_after_the_drill_does_nothing() -> None:
    plan = plan_of(CROSSED, minutes=1)
    acts = (Act("wait", time=45 * FLICKS), Act("restart", "main/unit-a"))
    assert lines(plan, *acts) == engine(plan)
    assert done(plan, *acts)[1].said == "the drill ended first"


# ---- the generator -----------------------------------------------------------------------------


def test_the_same_acts_give_the_same_result() -> None:
    acts = (Act("look"), Act("restart", "main/unit-a"), Act("swap", "main/relay-main"))
    plan = plan_of(CROSSED, STUCK)
    assert rehearsed(plan, acts) == rehearsed(plan, acts)


def test_situations_go_from_begin_to_end() -> None:
    plan = plan_of(CROSSED, STUCK, minutes=1)
    running = drill(plan)
    first = next(running)
    assert (first.at, first.over, first.last) == (plan.begin, False, None)
    last = running.send(Act("wait", time=MINUTE))
    assert (last.at, last.over) == (plan.until, True)
    with pytest.raises(StopIteration):
        running.send(None)


UNSEEN: dict[str, dict[str, Any]] = {
    "spares left": {"crew": replace(CREW, spares={})},
    "free ports": {"free": {"main/unit-a": 0}},
    "the goal": {"goal": "picture"},
    "breaks to come": {"breaks": ()},
    "a changeover that would fail": {"failing": frozenset({"main/relay-main#bank 1"})},
    "a fault to come": {"faults": (Fault("main/unit-a", "dead", 9 * MINUTE),)},
    "a stale backup": {"faults": (Fault("main/unit-b", "stale", 11 * FLICKS),)},
    "a black backup": {"faults": (Fault("main/unit-b", "blanked", 11 * FLICKS),)},
}


@pytest.mark.parametrize("what", UNSEEN)
def test_no_situation_shows_what_cannot_be_seen(what: str) -> None:
    """Spares, ports, what fails later or would fail: situations and all that is said are the same,
    until somebody acts on it. A dead unit in use is seen by the same comparison.
    """
    acts = (Act("look"), Act("ask", "main/unit-a"), Act("tell"), Act("wait", time=MINUTE))

    def told(
        faults: Sequence[Fault] = (), failing: frozenset[str] = frozenset(), **more: Any
    ) -> Any:
        plan = plan_of(CROSSED, *faults, **more)
        plan = replace(plan, script=replace(plan.script, failing=failing))
        return [(s.shown, s.last and s.last.said) for s in rehearsed(plan, acts)[0]][:-1]

    assert told(**UNSEEN[what]) == told()
    assert told((Fault("main/unit-a", "dead", 11 * FLICKS),)) != told()


def test_no_situation_shows_a_hidden_fault() -> None:
    """A dead backup that carries nothing, and a stale one, look like a rig that is whole."""
    look = (Act("look"), Act("wait", time=FLICKS))
    hidden = Fault("main/unit-b", "stale", 11 * FLICKS)
    shown, well = (rehearsed(plan_of(CROSSED, *f), look)[0] for f in ((hidden,), ()))
    assert [s.shown for s in shown] == [s.shown for s in well]
    assert [s.last and s.last.said for s in shown] == [s.last and s.last.said for s in well]
    seen = rehearsed(plan_of(CROSSED, Fault("main/unit-a", "stale", 11 * FLICKS)), look)[0]
    assert [s.shown for s in seen] != [s.shown for s in well]
