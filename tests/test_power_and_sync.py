"""Power and references: shared circuits, starts, power chains that cross the data, holdover, drift.

In: small plans. Out: exact lines (flicks, quality), cabinets by plain reachability.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from sim.faults import Fault, Quality
from sim.rig.plan import CircuitPlan, ShowPlan, WallPlan
from sim.rig.refusals import cannot
from sim.rig.topology import Rig
from sim.rig.wall import Place
from sim.study.strikes import strikes
from sim.timebase import FLICKS, fixed, rate, slip_interval
from tests.labs import (
    MIRRORED,
    ONE_WALL,
    full_run,
    laboratory,
    lines_of,
    lit_everywhere,
    lost_cabinets,
    rig_of,
    strike_on,
    timed,
)
from tests.plans import FRAME, banks, group, main, show, wall

LIT, DARK, UNLOCKED = int(Quality.GOOD), int(Quality.ABSENT), int(Quality.UNLOCKED)
RELAY_START = 300 * FRAME


# ---- circuits


def on_circuits(main_relay: str, backup_relay: str, **more: object) -> ShowPlan:
    """A relay pair whose relays have one circuit each, of their own or shared."""
    powered = (
        ("unit-*", ("house-1", "house-2")), ("relay-main", (main_relay,)),
        ("relay-backup", (backup_relay,)),
    )  # fmt: skip
    plan = main("relay-pair", powered=powered)
    extra = (CircuitPlan("stage-1", **more), CircuitPlan("stage-2", **more))  # type: ignore[arg-type]
    return replace(plan, circuits=(*plan.circuits, *extra))


def test_a_tripped_circuit_darkens_both_relays_if_they_share_it_until_they_have_started() -> None:
    rig = rig_of(on_circuits("stage-1", "stage-1"))
    trip = Fault("stage-1", "tripped", FLICKS, 2 * FLICKS)
    lines = set(lines_of(rig, full_run(rig, [trip]), "main").values())
    assert lines == {((0, LIT), (FLICKS, DARK), (2 * FLICKS + RELAY_START, LIT))}


def test_on_circuits_of_their_own_one_trip_is_a_blink() -> None:
    lab = laboratory(on_circuits("stage-1", "stage-2"))
    outcome = {
        s.where: lab.outcome(s) for s in strikes(lab.rig) if s.where in ("stage-1", "stage-2")
    }
    assert outcome["stage-1"].verdict == "blink" and outcome["stage-2"].verdict == "unseen"
    shared = laboratory(on_circuits("stage-1", "stage-1"))
    one = shared.outcome(strike_on(shared.rig, "stage-1", "tripped"))
    assert one.typical.area(0) == shared.canvas.area


def test_hold_up_bridges_a_trip_that_ends_in_time_and_delays_one_that_does_not() -> None:
    plan = on_circuits("stage-1", "stage-1", hold_up=fixed(FLICKS))
    rig = rig_of(plan)
    short = Fault("stage-1", "tripped", 0, FLICKS)
    assert lit_everywhere(rig, full_run(rig, [short]))
    longer = Fault("stage-1", "tripped", 0, FLICKS + 1)
    lines = set(lines_of(rig, full_run(rig, [longer]), "main").values())
    assert lines == {((0, LIT), (FLICKS, DARK), (FLICKS + 1 + RELAY_START, LIT))}


def test_starts_follow_one_another() -> None:
    """Circuit, supply, card: each begins when what powers it has ended its own."""
    slow = CircuitPlan("house-1", start=fixed(7))
    plan = replace(main("relay-pair"), circuits=(slow, CircuitPlan("house-2")))
    groups = tuple(
        replace(each, powered=(("*", ("house-2",)),), walls=(_on(each.walls[0], "house-1"),))
        for each in plan.groups
    )
    sources = tuple(replace(each, circuits=()) for each in plan.sources)
    rig = rig_of(replace(plan, groups=groups, sources=sources))
    trip = Fault("house-1", "tripped", FLICKS, 2 * FLICKS)
    back = 2 * FLICKS + 7 + 30 * FRAME + 120 * FRAME
    lines = set(lines_of(rig, full_run(rig, [trip]), "main").values())
    assert lines == {((0, LIT), (FLICKS, DARK), (back, LIT))}


def _on(screen: WallPlan, circuit: str) -> WallPlan:
    return replace(screen, circuits=((circuit,),))


# ---- power chains that cross the data

ISLAND: tuple[Place, ...] = (
    *((1, c) for c in range(4)), *((0, c) for c in range(4)), *((2, c) for c in range(4)),
)  # fmt: skip
"""The middle row first: what dies after it leaves the middle row cut off from both ends."""
SNAKE: tuple[Place, ...] = tuple((r, 3 - c if r == 1 else c) for r in range(3) for c in range(4))
POWERED: dict[str, tuple[tuple[Place, ...], ...]] = {
    "by row": tuple(tuple((r, c) for c in range(4)) for r in range(3)),
    "by column": tuple(tuple((r, c) for r in range(3)) for c in range(4)),
    "snake": (SNAKE,),
    "island": (ISLAND,),
}


def dead_after(chain: Sequence[Place], first: int) -> set[Place]:
    """The cabinets of a power chain from its place number `first` on."""
    return set(chain[first:])


def still_fed(dead: set[Place], chains: Sequence[Sequence[Place]], tails: bool) -> set[Place]:
    """Cabinets that a chain's head, or its tail if it has a return, reaches past living ones."""
    fed: set[Place] = set()
    for chain in chains:
        for way in (chain, tuple(reversed(chain))) if tails else (chain,):
            for place in way:
                if place in dead:
                    break
                fed.add(place)
    return fed


def crossed_plan(topology: str, power: str, cards: int) -> ShowPlan:
    screen = replace(wall(3, 4), power_chains=POWERED[power], circuits=(("house-1", "house-2"),))
    one = replace(group(screen, topology=topology), mirrored=False)
    if topology in MIRRORED:
        one = group(screen, replace(screen, name="twin"), topology=topology)
    return show(replace(one, options=replace(one.options, cards=cards)))


def returns(topology: str, cards: int) -> bool:
    return topology not in ("single-feed", "mirrored") or cards == 2


POWER_CASES = [
    (topology, power, cards)
    for topology in (*ONE_WALL, *MIRRORED)
    for power in POWERED
    for cards in (1, 2)
    if not cannot(crossed_plan(topology, power, cards), "main")
]


@pytest.mark.parametrize(("topology", "power", "cards"), POWER_CASES)
def test_a_dead_power_jumper_darkens_what_follows_and_what_that_cuts_off_and_no_more(
    topology: str, power: str, cards: int
) -> None:
    plan = crossed_plan(topology, power, cards)
    rig = rig_of(plan)
    screen = plan.groups[0].walls[0]
    where = f"main/{screen.name}/" if topology in MIRRORED else "main/"
    for number, chain in enumerate(POWERED[power], 1):
        for first in range(len(chain)):
            jumper = f"{where}power-{number}/" + (f"jumper-{first + 1}" if first else "head")
            dead = dead_after(chain, first)
            fed = still_fed(dead, screen.chains, returns(topology, cards))
            lost = {f"{where}r{r + 1}c{c + 1}" for r in range(3) for c in range(4)
                    if (r, c) in dead or (r, c) not in fed}  # fmt: skip
            assert lost_cabinets(rig, [Fault(jumper, "dead", 0)]) == lost


def test_every_topology_is_among_the_power_cases_and_islands_do_get_cut_off() -> None:
    assert {topology for topology, _, _ in POWER_CASES} == {*ONE_WALL, *MIRRORED}
    assert len(POWER_CASES) >= 40
    dead = dead_after(ISLAND, 4)
    assert still_fed(dead, wall(3, 4).chains, True) == set()
    assert still_fed(dead_after(ISLAND, 8), wall(3, 4).chains, True) == {
        (r, c) for r in (0, 1) for c in range(4)
    }


# ---- references

HOLDOVER = 900 * FRAME


def referenced(references: str, topology: str = "relay-pair") -> Rig:
    plan = main(topology, options={"references": references})
    return rig_of(replace(plan, length=60 * FLICKS))


def test_a_lost_reference_does_nothing_until_holdover_ends_and_darkens_no_frame() -> None:
    rig = referenced("one")
    trace = full_run(rig, [Fault("sync-1", "dead", 3 * FLICKS)])
    lines = set(lines_of(rig, trace, "main").values())
    assert lines == {((0, LIT), (3 * FLICKS + HOLDOVER, UNLOCKED))}
    lab = laboratory(replace(main("relay-pair", options={"references": "one"}), length=60 * FLICKS))
    outcome = lab.outcome(strike_on(lab.rig, "sync-1", "dead"))
    assert outcome.verdict == "lasting" and outcome.frames() == (0, 0)
    assert outcome.typical.area(4) == lab.canvas.area == outcome.typical.lost()


def test_a_second_reference_takes_over_unseen() -> None:
    rig = referenced("two")
    assert lit_everywhere(rig, full_run(rig, [Fault("sync-1", "dead", 3 * FLICKS)]))
    both = [Fault("sync-1", "dead", 0), Fault("sync-2", "dead", FLICKS)]
    lines = set(lines_of(rig, full_run(rig, both), "main").values())
    assert lines == {((0, LIT), (FLICKS + HOLDOVER, UNLOCKED))}


@pytest.mark.parametrize(("early", "seen"), [(1, False), (0, False), (-1, True)])
def test_a_reference_back_before_holdover_ends_changes_nothing(early: int, seen: bool) -> None:
    """At the very instant that it ends, it is back: faults and repairs come first."""
    rig = referenced("one")
    gone = Fault("sync-1", "dead", 0, HOLDOVER - early)
    assert lit_everywhere(rig, full_run(rig, [gone])) != seen


def test_a_reference_back_later_costs_the_relock_and_its_glitch() -> None:
    """Relock 60 frames, then one frame dark, which always runs to its end; receivers wait two."""
    rig = referenced("one")
    gone = Fault("sync-1", "dead", 0, 30 * FLICKS)
    glitch = 30 * FLICKS + 60 * FRAME
    lines = set(lines_of(rig, full_run(rig, [gone]), "main").values())
    assert lines == {((0, LIT), (HOLDOVER, UNLOCKED), (glitch, DARK), (glitch + FRAME, LIT))}


@pytest.mark.parametrize(("label", "seconds"), [("60", "1666.7"), ("59.94", "1668.3")])
def test_slip_interval_at_10_ppm_against_theory(label: str, seconds: str) -> None:
    """1 / (f x |drift|), plain arithmetic, to the printed tenth of a second."""
    found = slip_interval(rate(label), Fraction(10))
    assert f"{float(found):.1f}" == seconds
    assert found == slip_interval(rate(label), Fraction(-10))
    assert abs(found * rate(label).per_second * Fraction(10, 10**6)) == 1


def test_a_restarted_unit_without_its_reference_is_unlocked_at_once() -> None:
    kits = timed("unit", start=60 * FRAME)
    rig = rig_of(main("relay-pair", kits=kits, options={"references": "one"}))
    faults = [Fault("sync-1", "dead", 0), Fault("main/unit-a", "restart", FLICKS)]
    lines = set(lines_of(rig, full_run(rig, faults), "main").values())
    assert lines == {((0, LIT), (FLICKS, DARK), (2 * FLICKS, UNLOCKED))}


def test_a_mirrored_pair_of_walls_loses_both_to_the_circuit_of_its_unit() -> None:
    lab = laboratory(banks("mirrored-guarded", powered=(("*", ("house-1",)),)))
    trip = lab.outcome(strike_on(lab.rig, "house-1", "tripped"))
    assert trip.typical.area(0) == lab.canvas.area
