"""A rig that is acted on while it runs, against the run that knew everything before.

In: random rigs and scripts (`tests.rigs`), wall groups of `tests.plans`, rigs of a few nodes. Out:
equal traces; what is up, chosen and whole at an instant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

import pytest

from sim.engine.live import Live
from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Trace, cell_lines
from sim.engine.symmetry import Cone, Kinds, assemble, reach
from sim.faults import Action, Fault, Script
from sim.rig.topology import Rig, Thing, corner
from sim.timebase import FLICKS
from tests.handmade import HEAD, handmade
from tests.labs import long, rig_of
from tests.rig_scripts import TICK
from tests.rigs import seeded
from tests.small_rigs import END, SPARE, following, gated, played, small

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


# ---- what stands now, on rigs of a few nodes; flicks


def small_live(rig: Rig, *faults: Fault, **values: int) -> Live:
    return Live(Base(rig, values), Script(faults), END)


def test_a_thing_is_up_until_it_fails_and_again_when_it_is_back() -> None:
    live = small_live(small(), Fault("relay", "dead", 10, 20))
    seen = []
    for until in (9, 10, 19, 20):
        live.go(until)
        seen.append((live.is_up("relay"), live.is_up("unit")))
    assert seen == [(True, True), (False, True), (False, True), (True, True)]


def part_of(rig: Rig, struck: str) -> tuple[Base, Cone]:
    base = Base(rig, {"notice": 7, "back": 30})
    kinds = Kinds(base.wiring, base.board.value)
    return base, assemble(base.wiring, reach(base.wiring, kinds, [struck]))


@pytest.mark.parametrize("struck", ["unit", "relay", "a"])
def test_of_a_part_one_cabinet_of_each_kind_is_told_and_what_is_outside_is_up(struck: str) -> None:
    rig = handmade([("way", "relay", (HEAD,))], {"a": ("way",), "b": (HEAD,)})
    base, part = part_of(rig, struck)
    live = Live(base, Script((Fault(struck, "dead", 10),)), END, part)
    live.go(500)
    assert [name for name in rig.things if not live.is_up(name)] == [struck]
    assert set(live.so_far().shown) == set(live.finish().shown) == {"a"}


def test_choosers_outside_a_part_stand_as_they_stood_whatever_was_wrong_before() -> None:
    base, part = part_of(gated(), "relay")
    live = Live(base, Script((Fault("relay", "dead", -1),)), END, part)
    outside = ("unit/camera#choice", "spare/camera#choice")
    assert [live.chooser(name).on for name in outside] == [0, 0]


def test_what_is_starting_says_when_it_will_be_up() -> None:
    rig = small()
    slow = replace(rig, things={**rig.things, "relay": Thing("relay", "relay", start="start")})
    live = small_live(slow, Fault("relay", "dead", 10, 20), start=50)
    seen = []
    for until in (15, 30, 70):
        live.go(until)
        seen.append(live.comes_up())
    assert seen == [(), (70,), ()]


def test_a_chooser_stands_on_the_input_that_it_feeds() -> None:
    live = small_live(gated(), Fault("unit", "dead", 100), notice=7, back=30)
    live.act(Action(50, "lock", "spare/camera#choice"))
    seen = []
    for until in (99, 107):
        live.go(until)
        names = ("way#choice", "spare/camera#choice", "unit/camera#choice")
        seen.append([(live.chooser(name).on, live.chooser(name).mode) for name in names])
    assert seen == [
        [(0, "revertive"), (0, "locked"), (0, "revertive")],
        [(1, "revertive"), (0, "locked"), (0, "revertive")],
    ]
    synced = small_live(following(), holdover=50, relock=40, glitch=5)
    assert synced.chooser("unit/sync#choice").on == 0


def test_what_was_recorded_so_far_is_the_beginning_of_it_all() -> None:
    faults = (Fault("unit", "dead", 100, 200), Fault("relay", "stuck", 400))
    live = small_live(gated(), *faults, notice=7, back=30)
    live.act(Action(50, "take", "unit", "other"))
    live.act(Action(450, "take", "unit", "third"))
    live.go(300)
    early = live.so_far()
    whole = live.finish()
    assert early.until == 230
    for name in ("shown", "pictures", "wanted"):
        lines = getattr(whole, name).items()
        assert getattr(early, name) == {k: [s for s in of if s[0] <= 300] for k, of in lines}
    assert early.notes == [note for note in whole.notes if note.at <= 300]
    assert len(early.shown["a"]) > 2 and len(early.pictures[HEAD]) > 2
    assert early.wanted == {"wall": [(0, "show"), (50, "other")]}


def test_what_ends_as_another_fault_begins_ends_first() -> None:
    live = small_live(small(), Fault("relay", "dead", 100))
    live.begin(Fault("relay", "blanked", 200))
    live.lift(200, 0)
    known = played(small(), [Fault("relay", "dead", 100, 200), Fault("relay", "blanked", 200)])
    assert live.finish().shown == known.shown


@pytest.mark.parametrize(("hard", "after"), [(True, 6), (False, 1)])
def test_a_hard_fault_is_mended_by_who_mends_hard_ones(hard: bool, after: int) -> None:
    live = small_live(small(), Fault("relay", "blanked", 100, hard=True))
    live.mend(200, ["relay"], ["blanked"], hard=hard)
    assert live.finish().shown["a"][-1][1][0] == after


def whole_of(rig: Rig, events: Sequence[Fault | Action], **values: int) -> list[tuple[int, bool]]:
    live = small_live(rig, *(each for each in events if isinstance(each, Fault)), **values)
    for action in (each for each in events if isinstance(each, Action)):
        live.act(action)
    live.finish()
    return live.whole


def test_a_rig_is_whole_again_at_the_flick_at_which_all_is_back() -> None:
    assert whole_of(small(), [Fault("relay", "dead", 10, 11)]) == [
        (0, True), (10, False), (11, True),
    ]  # fmt: skip
    dead = Fault("unit", "dead", 100, 200)
    assert whole_of(gated(), [dead], notice=7, back=30) == [(0, True), (100, False), (200, True)]


def test_a_rig_with_a_loose_contact_is_not_whole_while_it_holds_either() -> None:
    flaps = Fault("relay", "flapping", 10, 395, period=100, off=20)
    assert whole_of(small(), [flaps]) == [(0, True), (10, False), (395, True)]
    assert whole_of(small(), [replace(flaps, until=None)]) == [(0, True), (10, False)]


def test_a_unit_off_its_reference_is_not_whole_until_it_has_locked_again() -> None:
    lost = Fault("clock", "dead", 100, 300)
    times = {"holdover": 50, "relock": 40, "glitch": 5}
    assert whole_of(following(), [lost], **times) == [(0, True), (100, False), (345, True)]


def test_units_that_took_other_arrangements_are_not_whole() -> None:
    rig = small()
    both = replace(rig.groups["wall"], carriers=(HEAD, SPARE))
    takes = [Action(50, "take", "unit", "other"), Action(80, "take", "spare", "other")]
    made = replace(rig, groups={"wall": both})
    assert whole_of(made, takes) == [(0, True), (50, False), (80, True)]
