"""Drills in which time runs by itself: with a clock and a sleep of our own, nothing is waited for.

In: lines with the seconds that pass until each is said. Out: what was slept, acts, records.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from sim.asked import Asked
from sim.cli import run
from sim.commands_rehearse import ready
from sim.faults import Script
from sim.pacing import Pace, real
from sim.practice.acts import Act, parse_acts
from sim.practice.drill import Situation, rehearsed
from sim.report.briefing import briefing_lines
from sim.report.situation import situation_lines
from sim.session import Heard, Session, Talk, session
from sim.timebase import FLICKS
from tests.seen_rigs import SCENARIOS

BEGUN = ready(Asked(SCENARIOS / "studio.yaml"), SCENARIOS / "drills" / "studio-dead-port.yaml")
BEGIN = BEGUN.plan.begin
MINUTE, REACH = 60 * FLICKS, "  remote control reaches"


class Desk:
    """Somebody who thinks for so many seconds, then says a line; the clock that this moves."""

    def __init__(
        self, times: float, lines: Iterable[tuple[float, str | None]], tick: float | None = None
    ) -> None:
        self.now, self.slept = 100.0, list[float]()
        self.lines, self.due = iter(lines), None
        self.shown, self.said, self.kept = list[Situation](), list[str](), list[str]()
        self.breaks: Callable[[], None] | None = None
        self.pace = Pace(times, lambda: self.now, self.sleep, tick)

    def sleep(self, seconds: float) -> None:
        if self.breaks:
            self.breaks()
        self.slept.append(seconds)
        self.now += seconds

    def hear(self, tick: float | None = None) -> str | Heard | None:
        seconds, line = self.due or next(self.lines)
        if tick is not None and seconds > tick:
            self.now, self.due = self.now + tick, (seconds - tick, line)
            return Heard.NOTHING_YET
        self.now, self.due = self.now + seconds, None
        return line

    def show(self, now: Situation, before: Situation | None) -> None:
        self.shown.append(now)

    def session(self) -> Session:
        talk = Talk(self.hear, self.show, self.said.append, self.kept.append, self.pace)
        return session(BEGUN.plan, BEGUN.tongue, talk)


def test_acts_take_their_time_and_so_does_thinking() -> None:
    """look takes 20 s, tell 10 s (the middles of the usual ranges)."""
    desk = Desk(1, [(3.5, "look"), (0, "tell"), (1.25, None)])
    found = desk.session()
    assert desk.slept == [20.0, 10.0]
    assert desk.kept == ["wait 3.500 s", "look", "tell", "wait 1.250 s"]
    assert [act.do for act in found.acts] == ["wait", "look", "tell", "wait"]
    assert desk.shown[-1].at - BEGIN == round(34.75 * FLICKS)
    assert desk.now - 100 == 34.75, "the drill and the clock on the wall have gone on alike"


@pytest.mark.parametrize("times", [0.5, 2, 10])
def test_time_runs_so_many_times_faster(times: float) -> None:
    desk = Desk(times, [(4, "look"), (0, None)])
    desk.session()
    assert desk.slept == [20 / times]
    assert desk.kept == [f"wait {4 * times:.3f} s", "look"]
    assert (desk.now - 100) * times == (desk.shown[-1].at - BEGIN) / FLICKS


def test_nonsense_costs_the_time_that_it_takes_to_type() -> None:
    desk = Desk(1, [(2, "jump"), (3, "help"), (1, "look"), (0, "done")])
    desk.session()
    assert desk.kept == ["wait 6.000 s", "look"]
    assert "nothing that can be done" in desk.said[0] and len(desk.said) == 2


def test_an_empty_line_shows_how_it_stands_now() -> None:
    """The port dies ten seconds after the begin."""
    desk = Desk(1, [(9, ""), (4, ""), (0, None)])
    desk.session()
    dark = [bool(situation.shown.spots) for situation in desk.shown]
    assert dark == [False, False, False, True, True]
    assert all(each.last is None or each.last.act.time == FLICKS // 1000 for each in desk.shown)
    assert desk.kept == ["wait 9.000 s", "wait 1 ms", "wait 4.000 s", "wait 1 ms"]


def test_a_drill_ends_by_itself_while_somebody_thinks() -> None:
    desk = Desk(1, [(4 * 3600, "look")])
    found = desk.session()
    assert desk.shown[-1].over and [act.do for act in found.acts] == ["wait"]
    assert desk.slept == []


def test_what_changes_while_somebody_thinks_is_shown_by_itself() -> None:
    """The port dies ten seconds after the begin, the first hint comes half a minute later; who
    looks up every 0.7 s sees it within that, and the record has one wait.
    """
    desk, blind = (Desk(1, [(45, "look"), (0, "done")], tick) for tick in (0.7, None))
    found, other = desk.session(), blind.session()
    at = [(each.at - BEGIN) / FLICKS for each in desk.shown]
    assert [bool(each.shown.spots) for each in desk.shown] == [False, True, True, True, True]
    assert 10 <= at[1] <= 10.7 and 40 <= at[2] <= 40.7 and at[3] == 45
    assert [len(each.hints) for each in desk.shown] == [0, 0, 1, 0, 0], "each hint is given once"
    assert len(blind.shown) == 3 and [len(each.hints) for each in blind.shown] == [0, 1, 0]
    assert desk.kept == blind.kept == ["wait 45.000 s", "look"]
    assert found == other, "looking up changes nothing"


def test_what_remote_control_reaches_is_told_when_it_changes() -> None:
    begun = ready(Asked(SCENARIOS / "river.yaml"), SCENARIOS / "drills" / "river-no-remote.yaml")
    acts = (Act("wait", time=FLICKS), Act("wait", time=MINUTE), Act("wait", time=FLICKS))
    situations, _ = rehearsed(begun.plan, acts)
    told = [
        [
            line
            for line in situation_lines(now, before, begun.plan.rig, begun.scenario)
            if REACH in line
        ]
        for before, now in zip((None, *situations), situations, strict=False)
    ]
    assert "main/unit-a" in told[0][0] and not told[1]
    assert told[2] == [f"{REACH} no unit"] and not told[3]


def test_what_is_told_before_a_drill_says_nothing_of_its_faults() -> None:
    told = list(briefing_lines(BEGUN.plan, BEGUN.variants, BEGUN.scenario, 80))
    other = replace(BEGUN.plan, title="another", script=Script(()), hints=(), values={})
    assert told == list(briefing_lines(other, BEGUN.variants, BEGUN.scenario, 80))
    assert "Goal: full redundancy, by 19:47:00:00." in told
    assert "Free: 8 ports on backdrop/unit-a." in told
    assert max(map(len, told)) <= 80


def test_a_drill_ends_by_itself_though_nothing_is_said() -> None:
    desk = Desk(1, [(9 * 3600, "look")], tick=60)
    found = desk.session()
    assert desk.shown[-1].over and [act.do for act in found.acts] == ["wait"]
    assert desk.now - 100 < 20 * 60, "nobody had to type for it"


def test_without_a_pace_nothing_is_waited_for() -> None:
    desk = Desk(1, [(50, ""), (9, "look"), (7, None)])
    talk = Talk(desk.hear, desk.show, desk.said.append, desk.kept.append)
    session(BEGUN.plan, BEGUN.tongue, talk)
    assert desk.slept == [] and desk.kept == ["look"]


def test_what_was_kept_gives_the_same_drill_again() -> None:
    desk = Desk(7, [(0.1234, "look"), (0.7, "re-patch backdrop/port-a-3"), (3, None)])
    found = desk.session()
    again = parse_acts([(text, "here") for text in desk.kept], BEGUN.tongue)
    assert again == found.acts
    assert rehearsed(BEGUN.plan, again) == rehearsed(BEGUN.plan, found.acts)
    assert rehearsed(BEGUN.plan, again[1:]) != rehearsed(BEGUN.plan, again)


@pytest.mark.parametrize("in_hand", [True, False])
def test_an_interruption_while_time_passes_keeps_what_was_done(in_hand: bool) -> None:
    def stop() -> None:
        raise KeyboardInterrupt

    desk = Desk(1, [(1, "look"), (2, "tell")])
    if in_hand:
        desk.breaks = stop
    else:
        desk.lines = iter([(1, "look")])
        hear = desk.hear
        desk.hear = lambda tick=None: stop() if desk.slept else hear()  # type: ignore[method-assign]
    found = desk.session()
    assert found.interrupted and desk.kept == ["wait 1.000 s", "look"]
    assert [act.do for act in found.acts] == ["wait", "look"]


def test_the_clock_of_the_machine_rises_and_sleeps() -> None:
    pace = real(1000)
    begun = pace.clock()
    pace.pass_by(20 * FLICKS)
    passed = pace.clock() - begun
    assert 0.019 < passed < 20
    assert pace.since(begun).startswith("wait ") and pace.since(pace.clock() + 9) == ""


USAGE = {
    "script": (["--pace", "1", "--script", "s.yaml"], "--pace belongs to a drill without"),
    "slow": (["--pace", "0"], "from 0.1 to 1000"),
    "none": (["--pace", "nan"], "from 0.1 to 1000"),
    "word": (["--pace", "fast"], "from 0.1 to 1000"),
}


@pytest.mark.parametrize("args, said", USAGE.values(), ids=USAGE)
def test_wrong_usage_is_refused(
    args: list[str], said: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert run(["rehearse", "studio", "--drill", "studio-dead-port", *args]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
