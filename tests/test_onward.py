"""A rig that goes on from event to event, against the run that knew everything before.

In: rigs of a few nodes and faults in flicks. Out: at every flick the same shown, though whole turns
of what flaps were left out; ends of faults, and how they are told, as somebody says them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from sim.engine.live import Live
from sim.engine.onward import Onward, Stage
from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Note, Trace, cell_lines
from sim.engine.symmetry import Kinds, assemble, reach
from sim.faults import Fault, Script
from sim.rig.topology import Rig
from tests.handmade import HEAD, handmade
from tests.small_rigs import END, powered, small

TIMES = {"notice": 7, "back": 30, "hold": 600}
FLAPS = Fault("relay", "flapping", 10, period=100, off=20)


def onward(rig: Rig, faults: Sequence[Fault], ends: dict[int, int]) -> tuple[Trace, list[Stage]]:
    """Faults by their numbers, each said when it begins, and when it ends."""
    base = Base(rig, TIMES)
    struck = [fault.thing for fault in faults]
    part = reach(base.wiring, Kinds(base.wiring, base.board.value), struck)
    going = Onward(base, Script(tuple(faults)), assemble(base.wiring, part))
    begins = {number: fault.at for number, fault in enumerate(faults)}
    for when in sorted({*begins.values(), *ends.values()}):
        starting = [n for n, at in begins.items() if at == when]
        going.event(when, starting, [n for n, at in ends.items() if at == when])
    return going.ended(END), going.stages


def run_clock(stages: Sequence[Stage], when: int) -> int:
    """The flick of the run that stands for one of the show."""
    found = [stage for stage in stages if stage.when <= when]
    if not found:
        return when
    at = found[-1].at + when - found[-1].when
    if found[-1].repeat is None or at < found[-1].repeat[1]:
        return at
    first, second = found[-1].repeat
    return first + (at - first) % (second - first)


def value_at(trace: Trace, at: int) -> object:
    (line,) = trace.shown.values()
    return next(signal for start, signal in reversed(line) if start <= at)


CASES: dict[str, tuple[list[Fault], dict[int, int]]] = {
    "one after the other": (
        [Fault("unit", "dead", 100), Fault("spare", "blanked", 150), Fault("relay", "stuck", 220)],
        {0: 200, 1: 300, 2: 400},
    ),
    "flapping": ([FLAPS], {0: 955}),
    "flapping, and something else": (
        [FLAPS, Fault("unit", "dead", 455), Fault("spare", "dead", 705)],
        {1: 605},
    ),
    "one ends as another begins": (
        [Fault("unit", "dead", 100), Fault("spare", "dead", 200), Fault("relay", "dead", 200)],
        {0: 200, 1: 300},
    ),
    "what the script says of its end does not count": (
        [Fault("unit", "dead", 100, until=150), Fault("relay", "stuck", 300, until=310)],
        {0: 200},
    ),
    "flapping, and something else for a short time": (
        [FLAPS, Fault("unit", "dead", 455)],
        {1: 480},
    ),
    "flapping, and something else for long": ([FLAPS, Fault("unit", "dead", 455)], {1: 905}),
    "the first is said last": ([Fault("unit", "dead", 100), Fault("spare", "stuck", 0)], {}),
    "flapping while something is held up": ([Fault("mains", "tripped", 5), FLAPS], {}),
    "held up, and back in time": ([Fault("mains", "tripped", 5), FLAPS], {0: 555}),
    "held up for a part of every turn": (
        [replace(FLAPS, period=145), Fault("feed", "flapping", 140, period=145, off=40)],
        {},
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_turns_that_are_left_out_change_nothing(case: str) -> None:
    faults, ends = CASES[case]
    trace, stages = onward(powered(), faults, ends)
    known = [replace(fault, until=ends.get(number)) for number, fault in enumerate(faults)]
    whole = run(powered(), Script(tuple(known)), TIMES, END)
    for when in range(END):
        assert value_at(trace, run_clock(stages, when)) == value_at(whole, when), when
    assert bool([s for s in stages if s.repeat]) == ("flapping" in case or "held" in case)


def test_whole_turns_are_left_out_up_to_the_next_event() -> None:
    trace, stages = onward(powered(), [FLAPS], {0: 955})
    assert stages == [Stage(10, 10, (110, 210)), Stage(210, 910), Stage(255, 955)]
    ends = [note for note in trace.notes if note.what == "repaired"]
    assert ends == [Note(255, "relay", "repaired", "flapping")]


def test_turns_are_left_out_before_each_event() -> None:
    _, stages = onward(powered(), *CASES["flapping, and something else for long"])
    assert stages[:4] == [
        Stage(10, 10, (110, 210)), Stage(210, 410), Stage(255, 455, (310, 410)), Stage(410, 810),
    ]  # fmt: skip


@pytest.mark.parametrize("when", [311, 350, *range(407, 414)])
def test_no_turn_is_left_out_that_ends_later_than_the_next_event_nor_played_that_could_be(
    when: int,
) -> None:
    faults = [FLAPS, Fault("unit", "dead", when)]
    trace, stages = onward(powered(), faults, {})
    _, after, event, *_ = stages
    assert event.when == when and 1 <= when - after.when <= FLAPS.period
    whole = run(powered(), Script(tuple(faults)), TIMES, END)
    assert all(value_at(trace, run_clock(stages, n)) == value_at(whole, n) for n in range(END))


def test_only_the_part_that_is_struck_is_played() -> None:
    rig = handmade([("way", "relay", (HEAD,))], {"a": ("way",), "b": (HEAD,)})
    trace, _ = onward(rig, [Fault("relay", "dead", 100)], {})
    assert set(trace.shown) == {"a"}


def test_what_is_held_up_falls_when_it_would_have_fallen() -> None:
    trace, stages = onward(powered(), *CASES["flapping while something is held up"])
    (fell,) = [note.at for note in trace.notes if (note.name, note.what) == ("mains", "down")]
    assert [when for when in range(5, END) if run_clock(stages, when) == fell] == [605]
    left_out = [stage for stage in stages if stage.repeat and stage.when < 605]
    assert left_out and fell < 400


# ---- said live


def live(*faults: Fault) -> Live:
    return Live(Base(small(), {}), Script(faults), END)


@pytest.mark.parametrize("fault", [FLAPS, Fault("relay", "dead", 10)])
def test_the_end_of_a_fault_is_told_and_ends_it_for_good(fault: Fault) -> None:
    going = live(fault)
    going.lift(225, 0)
    trace = going.finish()
    told = [(n.at, n.what, n.detail) for n in trace.notes if n.name == "relay"]
    assert (225, "repaired", fault.mode) in told
    ended = run(small(), Script((replace(fault, until=225),)), {}, END)
    assert cell_lines(small(), trace) == cell_lines(small(), ended)


def test_a_fault_said_live_has_the_next_number() -> None:
    going = live(FLAPS)
    assert going.begin(Fault("unit", "dead", 50)) == 1
    assert going.begin(Fault("unit", "stuck", 60)) == 2
    going.lift(300, 1)
    going.go(299)
    assert [fault.mode for fault in going.faults("unit")] == ["dead", "stuck"]
    going.go(300)
    assert [fault.mode for fault in going.faults("unit")] == ["stuck"]


def test_a_flapping_fault_holds_from_after_its_instant_until_its_end() -> None:
    going = live(replace(FLAPS, until=400))
    for until, holds in ((9, False), (10, False), (20, True), (390, True), (399, True)):
        going.go(until)
        going.run.now = until
        assert bool(going.faults("relay")) is holds, until
    going.run.now = 400
    assert not going.faults("relay")
