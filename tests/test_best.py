"""The best course of a drill that the search finds: against every course, and against scripts.

In: drills on `first` in which everything can be reached, all courses of up to two acts counted out;
the drills that come with the program, with their scripts.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from sim import cli
from sim.asked import Asked
from sim.commands_rehearse import ready
from sim.practice.acts import Act, parse_acts
from sim.practice.best import Best, Try, best, play
from sim.practice.course import DrillPlan, ground_of
from sim.practice.files import read_script
from sim.practice.review import review
from sim.report.rehearse_report import Rehearsed, rehearse_blocks
from sim.report.text import as_text
from sim.rig.terms import Crew
from sim.rig.topology import Display, selectors
from sim.study.strikes import strikes
from tests.seen_rigs import stage

ROOT = Path(__file__).parents[1]
DRILLS = sorted(
    path.name.removesuffix(".yaml")
    for path in (ROOT / "scenarios" / "drills").glob("*.yaml")
    if not path.name.endswith(".script.yaml")
)
FIRST = """\
title: counted out
scenario: first
faults:
  - {fault}
until: 00:09:50:00
goal: {goal}
"""


def drill_on_first(tmp_path: Path, fault: str, goal: str) -> DrillPlan:
    """A drill on `first` with everything in reach and one spare of each kind."""
    path = tmp_path / "drill.yaml"
    path.write_text(FIRST.format(fault=fault, goal=goal), encoding="utf-8")
    plan = ready(Asked(ROOT / "scenarios" / "first.yaml"), path).plan
    things = plan.rig.things.values()
    return replace(
        plan,
        place="desk",
        places=dict.fromkeys(plan.rig.things, "desk"),
        reach={"desk": "always"},
        crew=Crew(1, spares={thing.kit or thing.family: 1 for thing in things}),
        free=dict.fromkeys(plan.free, 1),
    )


def every_act(plan: DrillPlan) -> Iterator[Act]:
    """All acts on all things, but for those that change nothing (looking, asking, telling)."""
    rig = plan.rig
    for name, thing in rig.things.items():
        yield from (Act(do, name) for do in ("restart", "reseat", "swap", "load"))
        if thing.family == "port":
            yield Act("re-patch", name)
    for of, node in selectors(rig):
        if len(node.inputs) > 1 and not isinstance(node, Display):
            yield from (Act("select", of.name, str(n)) for n in range(len(node.inputs)))
            yield from (Act(do, of.name) for do in ("lock", "unlock"))
    for name, group in rig.groups.items():
        yield from (Act("take", name, other) for other in group.arrangements)
    for name in rig.cabinets:
        yield from (Act(do, name) for do in ("bypass", "darken"))
    yield Act("break")


def counted_out(plan: DrillPlan) -> list[Try]:
    """Every course of up to two acts; an act that comes to nothing is no first act (it takes time
    and does nothing else).
    """
    ground, acts = ground_of(plan), tuple(every_act(plan))
    root = best(plan, most=0).course.acts[:1]
    ones = [play(plan, (*root, act), ground) for act in acts]
    twos = [play(plan, (*one.acts, act), ground) for one in ones if one.well for act in acts]
    return [play(plan, root, ground), *ones, *twos]


def of_each_kind() -> Iterator[tuple[str, str]]:
    """One fault of each family and mode of `first`."""
    known = set()
    rig = stage("first").rig
    for strike in strikes(rig):
        (first, *more), mode = strike.faults, strike.mode
        kind = (rig.things[first.thing].family if first.thing in rig.things else "", mode)
        if not more and kind not in known and mode not in ("moved", "restart", "drops"):
            known.add(kind)
            yield f"{mode} {first.thing} at 00:01:00:00", "redundancy"


FAULTS = list(of_each_kind()) if os.environ.get("STAYLIT_EVERY_COURSE") else [
    ("blanked panel/unit-a at 00:01:00:00", "picture"),
    ("dead panel/chain-1/jumper-2 at 00:01:00:00", "redundancy"),
    ("corrupt panel/relay-main at 00:01:00:00", "redundancy"),
]  # fmt: skip
"""In the last one the trunk is taken out first: the backup comes in, and the relay is restarted."""


@pytest.mark.parametrize(("fault", "goal"), FAULTS)
def test_the_best_course_on_first_is_the_best_of_all(tmp_path: Path, fault: str, goal: str) -> None:
    plan = drill_on_first(tmp_path, fault, goal)
    all_courses = counted_out(plan)
    found = best(plan).course
    assert found.mark == min(each.mark for each in all_courses)
    assert not found.missed and found.acts[0] == Act("wait", time=plan.struck, until=True)
    assert found.mark < all_courses[0].mark, "something can be done"


def test_a_loose_contact_is_reseated(tmp_path: Path) -> None:
    """It holds from the instant on at which it is off for the first time."""
    fault = "flapping player/to-panel/unit-a at 00:01:00:00"
    acts = best(drill_on_first(tmp_path, fault, "redundancy")).course.acts
    assert [act.do for act in acts] == ["wait", "reseat"]


@cache
def shipped(name: str) -> tuple[DrillPlan, tuple[Act, ...]]:
    path = ROOT / "scenarios" / "drills" / f"{name}.yaml"
    scenario = ROOT / "scenarios" / f"{name.partition('-')[0]}.yaml"
    begun = ready(Asked(scenario), path)
    script = read_script(path.with_suffix(".script.yaml"))
    return begun.plan, parse_acts(script, begun.tongue)


@cache
def searched(name: str, most: int) -> Best:
    return best(shipped(name)[0], most=most)


def beaten(name: str, most: int) -> bool:
    plan, acts = shipped(name)
    return play(plan, acts, ground_of(plan)).mark < searched(name, most).course.mark


ALONE = {
    "river-lost-source", "river-shared-circuit", "studio-dead-port", "studio-lost-reference",
}  # fmt: skip
"""Drills searched without being told of the script, those that are soon done. Of the others
`river-two-faults` needs to be told: the search misses a wait with a change of arrangement after it.
"""


@pytest.mark.parametrize("name", sorted(ALONE))
def test_no_script_beats_the_best_course_that_never_saw_it(name: str) -> None:
    assert not beaten(name, 160)


@pytest.mark.parametrize("name", sorted({*DRILLS} - ALONE))
def test_no_script_beats_the_best_course_that_was_told_of_it(name: str) -> None:
    plan, acts = shipped(name)
    found = best(plan, (acts,), most=20).course
    assert found.mark < play(plan, acts, ground_of(plan)).mark, "its useless acts are left out"


def test_a_search_that_hardly_looks_is_beaten() -> None:
    assert beaten("studio-dead-port", 1)


def test_a_course_that_is_known_before_is_never_better() -> None:
    plan, acts = shipped("studio-dead-port")
    found = best(plan, (acts,), most=1).course
    assert found.mark <= play(plan, acts, ground_of(plan)).mark


def test_nobody_acts_before_the_first_fault() -> None:
    plan, _ = shipped("studio-lost-reference")
    first = searched("studio-lost-reference", 160).course.acts[0]
    assert first == Act("wait", time=plan.struck, until=True) and plan.begin < plan.struck


def best_under_power(tmp_path: Path) -> str:
    """The report on a best course in which a power cable is reseated."""
    scenario = stage("first").scenario
    fault = "corrupt panel/r1c1/receiver at 00:01:00:00"
    plan = drill_on_first(tmp_path, fault, "redundancy")
    made = review(plan, ())
    course = replace(play(plan, (), ground_of(plan)), acts=(Act("reseat", "panel/power-1/head"),))
    return as_text(rehearse_blocks(Rehearsed(scenario, (), made, Best(course, 1))))


def test_the_report_holds_a_drill_against_the_best_course(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    script = ROOT / "scenarios" / "drills" / "studio-dead-port.script.yaml"
    asked = ["rehearse", "studio", "--drill", "studio-dead-port", "--script", str(script)]
    assert cli.run([*asked, "--best"]) == 0
    out = capsys.readouterr().out
    assert "The best course found" in out and "re-patch backdrop/port-a-3" in out
    assert "Power: electrical" not in out
    power = best_under_power(tmp_path)
    assert "- reseat panel/power-1/head" in power and "- Power: electrical" in power
    assert cli.run(asked) == 0
    assert "The best course found" not in capsys.readouterr().out
