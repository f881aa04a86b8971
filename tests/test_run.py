"""What a run leaves behind (`Trace`), on rigs of a few nodes written by hand; flicks throughout."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from sim.engine.run import Run, run
from sim.engine.settling import Base
from sim.engine.signal import Note, Trace
from sim.engine.symmetry import Kinds, assemble, reach
from sim.engine.wiring import wire
from sim.faults import Action, Fault, Script
from sim.rig.topology import Rig, Select, Selector
from tests.handmade import HEAD, handmade
from tests.small_rigs import END, SPARE, following, gated, line_of, played, powered, small, told

TIMES = {"notice": 7, "back": 30}


def names(rig: Rig, numbers: Iterable[int]) -> set[str]:
    nodes = wire(rig).nodes
    return {nodes[number].name for number in numbers}


CHOICE = {"detect": 3, "hold": 4, "switch": 50, "back": 60}


def choosing(restore: str, inputs: tuple[str, ...] = (HEAD, SPARE)) -> Rig:
    times = {"detect": "detect", "hold_off": "hold", "switch": "switch", "wait_to_restore": "back"}
    chosen = Selector("way#choice", restore=restore, **times)  # type: ignore[arg-type]
    return small(Select(name="way", thing="relay", inputs=inputs, selector=chosen))


@pytest.mark.parametrize(
    ("restore", "lost", "used"),
    [
        ("revertive", (END - 5, None), {"detect", "hold"}),
        ("revertive", (100, None), {"detect", "hold", "switch"}),
        ("revertive", (100, 200), {"detect", "hold", "switch", "back"}),
        ("non-revertive", (100, 200), {"detect", "hold", "switch"}),
        ("by-hand", (100, 200), set()),
    ],
)
def test_a_timing_counts_as_used_once_a_timer_of_it_was_armed(
    restore: str, lost: tuple[int, int | None], used: set[str]
) -> None:
    assert played(choosing(restore), [Fault("unit", "dead", *lost)], **CHOICE).used == used


def test_while_a_selector_goes_over_it_is_not_content_with_what_it_goes_to() -> None:
    """On its second input of three from the beginning, and back to the first when that is there."""
    rig = choosing("revertive", (HEAD, SPARE, "guest/out"))
    (way,) = [n for n, node in enumerate(wire(rig).nodes) if node.name == "way"]
    lost = [Fault("unit", "dead", -1, 100)]
    waiting = run(rig, Script(tuple(lost)), CHOICE, 130)
    assert (waiting.examined[way], played(rig, lost, **CHOICE).examined[way]) == (2, 3)


def test_an_arrangement_taken_in_one_group_is_not_wanted_in_another() -> None:
    rig = small()
    other = replace(rig.groups["wall"], name="side", carriers=(SPARE,))
    both = replace(rig, groups={**rig.groups, "side": other})
    trace = played(both, [Action(50, "take", "spare", "other")])
    assert trace.wanted == {"wall": [(0, "show")], "side": [(0, "show"), (50, "other")]}


def test_a_thing_that_dies_and_comes_back_is_told_of_once_each_time() -> None:
    trace = played(small(), [Fault("relay", "dead", 10, 20), Fault("relay", "corrupt", 30, 40)])
    assert told(trace, "relay") == [
        (10, "fault", "dead"), (10, "down", ""), (20, "repaired", "dead"), (20, "up", ""),
        (30, "fault", "corrupt"), (40, "repaired", "corrupt"),
    ]  # fmt: skip
    assert {note.name for note in trace.notes} == {"relay", "a#choice"}


@pytest.mark.parametrize(
    ("until", "ends"),
    [
        (155, [(155, "repaired", "flapping")]),
        (115, [(115, "repaired", "flapping"), (115, "up", "")]),
    ],
)
def test_the_end_of_a_loose_contact_is_told_whether_it_is_on_then_or_off(
    until: int, ends: list[tuple[int, str, str]]
) -> None:
    trace = played(small(), [Fault("relay", "flapping", 10, until, period=100, off=20)])
    assert told(trace, "relay")[-len(ends) :] == ends
    assert [note.what for note in trace.notes].count("repaired") == 1
    assert trace.last == until


def test_what_a_lost_unit_leaves_behind() -> None:
    rig = gated()
    trace = played(rig, [Fault("unit", "dead", 100)], **TIMES)
    assert (trace.until, trace.last, trace.repeat) == (END, 107, None)
    ever = {"unit/camera", "unit/out", "gate", "way", "a/card"}
    assert names(rig, trace.otherwise) == names(rig, trace.altered) == ever
    assert names(rig, trace.chose) == {"gate", "way"}
    assert trace.took == frozenset() and not trace.pending
    assert trace.used == {"notice"}
    looked = {wire(rig).nodes[n].name: count for n, count in trace.examined.items()}
    assert looked["way"] == 2 and trace.wanted == {"wall": [(0, "show")]}


def test_what_a_unit_that_is_back_leaves_behind() -> None:
    rig = gated()
    trace = played(rig, [Fault("unit", "dead", 100, 200)], **TIMES)
    assert names(rig, trace.altered) == {"unit/camera", "unit/out", "gate", "way", "a/card"}
    assert (trace.otherwise, trace.chose, trace.last) == (frozenset(), frozenset(), 230)


def test_what_was_dead_before_is_otherwise_without_having_changed() -> None:
    rig = gated()
    trace = played(rig, [Fault("unit", "dead", -1)], **TIMES)
    assert names(rig, trace.altered) == names(rig, trace.otherwise) >= {"unit/out", "way"}
    assert names(rig, trace.chose) == {"gate", "way"} and trace.last == 0


@pytest.mark.parametrize(("begins", "pending"), [(END - 7, True), (END - 8, False)])
def test_a_timer_that_has_not_run_out_at_the_end_is_pending(begins: int, pending: bool) -> None:
    trace = played(gated(), [Fault("unit", "dead", begins)], **TIMES)
    assert list(trace.pending) == [Note(END, "gate", "pending")] * pending
    assert bool(told(trace, "gate")) != pending


def test_what_took_another_arrangement_is_said() -> None:
    rig = small()
    trace = played(rig, [Action(50, "take", "unit", "show")])
    assert names(rig, trace.took) == {"unit/out"}
    assert told(trace, "unit") == [(50, "action", "take")]


def test_a_flapping_rig_repeats_itself_from_one_off_part_to_the_next() -> None:
    flapping = Script((Fault("relay", "flapping", 10, period=100, off=20),))
    trace: Trace = run(small(), flapping, {}, END, repeats=True)
    assert trace.repeat == (110, 210)
    assert run(small(), flapping, {}, END).repeat is None
    (line,) = trace.shown.values()
    assert [(at, quality) for at, (quality, _) in line] == [
        (0, 6), (10, 0), (30, 6), (110, 0), (130, 6),
    ]  # fmt: skip


def three(detect: str = "") -> Rig:
    """A relay that chooses among the unit, the spare, and the spare again."""
    chosen = Selector("way#choice", detect=detect)
    inputs = (HEAD, SPARE, SPARE)
    return small(Select(name="way", thing="relay", inputs=inputs, selector=chosen))


def looked(rig: Rig, trace: Trace) -> int:
    return trace.examined[wire(rig).node_number["way"]]


def test_inputs_are_looked_at_up_to_the_one_that_contents() -> None:
    lost = [Fault("unit", "dead", 100, 200)]
    spare = played(three(), [Fault("spare", "corrupt", 100, 200)])
    assert (looked(three(), spare), spare.altered != frozenset()) == (1, True)
    trace = played(three(), lost)
    assert looked(three(), trace) == 2
    waited = played(three("detect"), lost, detect=5)
    assert looked(three("detect"), waited) == 3
    assert told(waited, "way#choice") == [
        (100, "lost", HEAD), (105, "switching", SPARE), (105, "on", SPARE),
        (200, "switching", HEAD), (200, "on", HEAD),
    ]  # fmt: skip
    assert waited.used == {"detect"}


def test_a_restart_is_a_single_event_that_nothing_ends() -> None:
    trace = played(small(), [Fault("unit", "restart", 100, 200)])
    assert told(trace, "unit") == [(100, "fault", "restart")]


def test_a_rig_repeats_itself_only_when_nothing_else_is_under_way() -> None:
    """The holdover runs out at 355; from the next off part on each is like the one before."""
    faults = (
        Fault("clock", "dead", 5),
        Fault("relay", "flapping", 10, period=100, off=20),
    )
    times = {"holdover": 350, "relock": 20, "glitch": 3}
    trace = run(following(), Script(faults), times, END, repeats=True)
    assert trace.repeat == (410, 510)


MODES = ("dead", "stuck", "blanked", "corrupt")
TIMES_OF_A_FAULT = ((-1, 50), (-1, None), (100, 300))


@pytest.mark.parametrize("thing", ["camera", "unit", "spare", "gate", "relay", "a"])
@pytest.mark.parametrize(("begins", "ends"), TIMES_OF_A_FAULT)
def test_a_part_of_a_rig_fares_as_in_the_whole(thing: str, begins: int, ends: int | None) -> None:
    rig = gated()
    base = Base(rig, TIMES)
    part = reach(base.wiring, Kinds(base.wiring, base.board.value), [thing])
    for mode in MODES:
        script = Script((Fault(thing, mode, begins, ends, hard=True),))
        merged = run(base, script, TIMES, END, within=assemble(base.wiring, part))
        whole = run(rig, script, TIMES, END)
        assert merged.shown == {name: whole.shown[name] for name in merged.shown}
        assert merged.shown or all(line == [(0, (6, "unit/out"))] for line in whole.shown.values())
        assert set(merged.pending) == set(whole.pending)
        assert merged.otherwise == whole.otherwise & merged.otherwise


@pytest.mark.parametrize("at", [1, 2, 3, 100])
def test_a_card_of_a_part_keeps_what_it_showed_from_the_beginning(at: int) -> None:
    rig = gated()
    base = Base(rig, TIMES)
    part = reach(base.wiring, Kinds(base.wiring, base.board.value), ["spare", "a"])
    script = Script((Fault("spare", "blanked", -1), Fault("a", "stuck", at)))
    merged = run(base, script, TIMES, END, within=assemble(base.wiring, part))
    assert merged.shown == run(rig, script, TIMES, END).shown
    assert [(when, quality) for when, (quality, _) in merged.shown["a"]] == [(0, 6), (at, 4)]


def test_a_rig_with_something_held_up_does_not_repeat_itself_until_that_has_fallen() -> None:
    """It falls at 605, and the gate opens at 612, within the turn that begins at 610."""
    rig = powered()
    faults = (Fault("mains", "tripped", 5), Fault("relay", "flapping", 10, period=100, off=20))
    trace = run(rig, Script(faults), {**TIMES, "hold": 600}, END, repeats=True)
    assert trace.repeat == (710, 810)


def test_a_run_leaves_what_it_started_from_as_it_was() -> None:
    """So that the next run from there is the same."""
    base = Base(small(), {})
    script = Script((Fault("camera", "dead", 100, 200),), (Action(50, "take", "unit", "other"),))
    first, second = (run(base, script, {}, END) for _ in range(2))
    assert first == second and len(first.pictures[HEAD]) == 4
    assert [len(line) for line in base.pictures.values()] == [1, 1]


def test_in_a_rig_of_three_things_each_place_is_looked_at() -> None:
    """A source, a unit and a card, of which the first and the last fail together."""
    rig = handmade([], {"a": (HEAD,)})
    assert len(rig.things) == 3
    faults = [Fault("camera", "dead", 100), Fault("a", "dead", 100, 200)]
    assert line_of(rig, faults) == [(0, 6), (100, 0), (200, 1)]


def test_a_part_has_only_the_cabinets_that_can_notice() -> None:
    rig = handmade([("way", "relay", (HEAD,))], {"a": ("way",), "b": (HEAD,)})
    base = Base(rig, {})
    part = reach(base.wiring, Kinds(base.wiring, base.board.value), ["relay"])
    script = Script((Fault("relay", "dead", 100),))
    assert set(run(rig, script, {}, END).shown) == {"a", "b"}
    assert set(run(base, script, {}, END, within=assemble(base.wiring, part)).shown) == {"a"}


def test_working_up_to_a_flick_leaves_what_is_due_at_it() -> None:
    going = Run(Base(small(), {}), Script((Fault("relay", "dead", 100),)), END)
    going.work(100)
    assert going.notes == [] and going.now == 0
    going.work(101)
    assert going.notes[0] == Note(100, "relay", "fault", "dead")


def test_shares_of_a_flapping_rig_are_of_all_that_ever_changed() -> None:
    rig = gated()
    flapping = Script((Fault("unit", "flapping", 10, period=100, off=20),))
    trace = run(rig, flapping, TIMES, END, repeats=True)
    assert trace.repeat is not None and names(rig, trace.otherwise) == names(rig, trace.altered)
    assert {"gate", "way"} <= names(rig, trace.chose)
