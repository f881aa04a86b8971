"""What is merged behaves as the whole: the cone of a strike against a run of the full rig.

In: every topology with every option, random rigs; strikes, pairs of strikes, random faults. Out:
equal areas by line (flicks, quality), equal repeats, equal timings used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cache
from random import Random
from typing import Any

import pytest

from sim.engine import symmetry
from sim.engine.run import run
from sim.engine.settling import settled
from sim.engine.wiring import wire
from sim.faults import Fault, Script
from sim.rig.plan import ShowPlan
from sim.rig.refusals import cannot
from sim.rig.topology import Rig, corner
from sim.study.contingency import CORNERS, Laboratory
from sim.study.strikes import strikes
from sim.timebase import FLICKS, FOREVER
from tests.labs import (
    MIRRORED,
    ONE_WALL,
    areas_by_line,
    effect_areas,
    full_run,
    laboratory,
    lit_everywhere,
    plan_for,
    timed,
)
from tests.plans import FRAME, group, show, source, wall
from tests.rig_scripts import Scripter
from tests.rigs import seeded

OPTIONS: dict[str, dict[str, Any]] = {
    "plain": {},
    "shared routes": {"routes": "shared"},
    "diverse routes": {"routes": "diverse"},
    "single power": {"power": "single"},
    "double power": {"power": "double"},
    "one reference": {"references": "one"},
    "no fallback": {"fallback": "none"},
    "two cards": {"cards": 2},
    "seamless": {"seamless": True},
    "gated": {"returns": "gated"},
    "gated and single power": {"returns": "gated", "power": "single"},
    "seamless, two cards, shared": {"seamless": True, "cards": 2, "routes": "shared"},
}


def sized(topology: str, options: dict[str, Any], **more: Any) -> ShowPlan:
    """A small plan whose chains, power chains and layers cross each other."""
    if topology in MIRRORED:
        return plan_for(topology, options=options, **more)
    return plan_for(topology, rows=2, columns=3, options=options, **more)


COMBINATIONS = [
    pytest.param(topology, name, id=f"{topology}, {name}")
    for topology in (*ONE_WALL, *MIRRORED)
    for name, options in OPTIONS.items()
    if not cannot(sized(topology, options), "banks" if topology in MIRRORED else "main")
]


@cache
def built(topology: str, name: str) -> Laboratory:
    """The laboratory of a topology with options of this name."""
    return laboratory(sized(topology, OPTIONS[name]))


def differences(lab: Laboratory, faults: Sequence[Fault], which: str = "typical") -> list[str]:
    """How the effect of some faults differs from what the full rig shows."""
    merged = lab.effect(faults, which)
    trace = full_run(lab.rig, faults, which)
    found = []
    if effect_areas(merged) != areas_by_line(lab.rig, trace, lab.group.name):
        found.append(f"areas differ under {faults}")
    if merged.repeat != trace.repeat:
        found.append(f"repeats {merged.repeat} not {trace.repeat} under {faults}")
    if merged.used != trace.used:
        found.append(f"timings {merged.used ^ trace.used} under {faults}")
    late = [n for n in trace.pending if trace.until <= n.at < FOREVER] if not trace.repeat else []
    if bool(merged.pending) != bool(late):
        found.append(f"pending {merged.pending} not {late} under {faults}")
    return found


def test_nearly_every_combination_can_be_built() -> None:
    assert len(COMBINATIONS) >= 55


@pytest.mark.parametrize(("topology", "name"), COMBINATIONS)
def test_the_merged_cone_of_every_strike_equals_the_full_rig(topology: str, name: str) -> None:
    lab = built(topology, name)
    struck = strikes(lab.rig)
    assert len(struck) > 100
    assert not [line for strike in struck for line in differences(lab, strike.faults)]


PAIRS = 40


@pytest.mark.parametrize(("topology", "name"), COMBINATIONS)
def test_the_merged_cone_of_two_strikes_equals_the_full_rig(topology: str, name: str) -> None:
    lab = built(topology, name)
    assert not [line for faults in some_pairs(lab.rig, PAIRS) for line in differences(lab, faults)]


def some_pairs(rig: Rig, many: int) -> Iterator[tuple[Fault, ...]]:
    """Pairs of strikes on different things; the second while the first may be under way."""
    rng = Random(11)
    struck = strikes(rig)
    while many:
        one, other = rng.sample(struck, 2)
        if set(one.struck) & set(other.struck):
            continue
        when = rng.choice((0, 1, FRAME, 2 * FRAME, 3 * FRAME, 5 * FRAME, FLICKS, 7 * FLICKS))
        first = ended(one.faults, when + FRAME // 2 if rng.random() < 0.3 else None)
        yield (*first, *ended(other.at(when).faults, when + FLICKS if rng.random() < 0.3 else None))
        many -= 1


def ended(faults: Sequence[Fault], until: int | None) -> tuple[Fault, ...]:
    """The same faults, repaired at a flick."""
    return tuple(replace(fault, until=until) for fault in faults)


KEEPS = [0, FRAME // 2, 4 * FRAME, FOREVER]


@pytest.mark.parametrize("keeps", KEEPS)
@pytest.mark.parametrize("on_loss", ["black", "frozen", "card", "uncovered"])
def test_kept_pictures_and_lost_layers_are_merged_as_the_full_rig_shows_them(
    keeps: int, on_loss: str
) -> None:
    base = group(wall(2, 2), topology="crossed-relays", kits=timed("receiver", keeps_last=keeps))
    layers = tuple(replace(layer, on_loss=on_loss) for layer in base.layers)
    lab = laboratory(show(replace(base, layers=layers)))
    found = [line for s in strikes(lab.rig) for line in differences(lab, s.faults)]
    found += [line for f in some_pairs(lab.rig, PAIRS) for line in differences(lab, f)]
    assert not found


def shared_differences(shared: dict[str, str]) -> list[str]:
    """Of two groups of which the second takes something of the first, each in its laboratory."""
    one, two = group(wall(2, 2)), group(wall(1, 3), name="side", shared=shared)
    rig = laboratory(show(one, two)).rig
    labs = [Laboratory(rig, name) for name in ("main", "side")]
    return [d for lab in labs for s in strikes(rig) for d in differences(lab, s.faults)]


def test_groups_that_share_a_unit_are_each_merged_as_the_full_rig_shows_them() -> None:
    assert not shared_differences({"unit-a": "main/unit-a"})


def test_a_group_fed_by_a_relay_of_another_group_is_merged_as_the_full_rig_shows_it() -> None:
    """Its cabinets then show the other group's carrier, whose layers may change under them."""
    assert not shared_differences({"unit-a": "main/unit-a", "relay-main": "main/relay-main"})


def powered_by_column() -> ShowPlan:
    """Receivers at the same place of their chains, on different circuits."""
    screen = wall(2, 3)
    apart = replace(screen, power_chains=screen.chains, circuits=(("house-1",), ("house-2",)))
    return show(group(apart, topology="relay-pair"))


def test_power_that_runs_along_the_data_is_merged_as_the_full_rig_shows_it() -> None:
    lab = laboratory(powered_by_column())
    faults = [*(s.faults for s in strikes(lab.rig)), *some_pairs(lab.rig, 2 * PAIRS)]
    assert not [line for each in faults for line in differences(lab, each)]


@pytest.mark.parametrize("second", ["own", "loop-through"])
def test_second_units_with_other_sources_are_merged_as_the_full_rig_shows_them(second: str) -> None:
    own = {"own": "other", "own_same": False} if second == "own" else {}
    plan = show(group(wall(2, 2), topology="two-unit"))
    sources = tuple(
        replace(source(s.name), second=second, **own) if s.name == "cam" else s
        for s in (*plan.sources, source("other"))
    )
    lab = laboratory(replace(plan, sources=sources))
    assert not [d for s in strikes(lab.rig) for d in differences(lab, s.faults)]


# ---- random rigs

SEEDS = range(900)


def healthy(rig: Rig) -> bool:
    """Whether it shows the right picture before anything happens, from carriers of its groups.

    A laboratory stands on that: what notices nothing stays lit, on the carrier that it was on.
    """
    trace = run(rig, Script(), corner(rig, "typical"), rig.length)
    own = {name: set(group.carriers) for name, group in rig.groups.items()}
    fed = all(trace.shown[c.name][0][1][1] in own[c.group] for c in rig.cabinets.values())
    lab = Laboratory(rig, next(iter(rig.groups)))
    return fed and lit_everywhere(rig, trace) and all(lab.carriers.values())


def random_faults(rng: Random, rig: Rig) -> tuple[Fault, ...]:
    """One to three faults from time 0 on, no thing or selector twice."""
    faults = [f for _ in range(3) for f in Scripter(rng, rig).script().faults if f.at >= 0]
    by_thing = {fault.thing: fault for fault in faults}
    return tuple(by_thing.values())[: rng.choice((1, 1, 2, 3))]


@cache
def healthy_rig(seed: int) -> Rig | None:
    """A random rig, if it is healthy."""
    rig, _ = seeded(seed)
    return rig if healthy(rig) else None


def random_differences(seed: int) -> list[str] | None:
    """None if the rig is not healthy."""
    rig = healthy_rig(seed)
    if rig is None:
        return None
    rng = Random(seed)
    labs = [Laboratory(rig, name) for name in rig.groups]
    scripts = [random_faults(rng, rig) for _ in range(4)]
    return [f"seed {seed}: {d}" for lab in labs for s in scripts for d in differences(lab, s)]


def test_random_rigs_are_merged_as_the_full_rig_shows_them() -> None:
    found = [random_differences(seed) for seed in SEEDS]
    tried = [each for each in found if each is not None]
    assert len(tried) >= 500
    assert not [line for each in tried for line in each]


# ---- the comparison sees what it should see


def _all_things_alike(of: Callable[..., dict[int, int]]) -> Callable[..., dict[int, int]]:
    def kinds_of(*given: Any) -> dict[int, int]:
        return dict.fromkeys(of(*given), -2)

    return kinds_of


BROKEN = [
    (symmetry, "_only_hands_on", lambda wiring, number: bool(wiring.powered_by[number])),
    (symmetry, "_firsts", lambda kind: dict.fromkeys(kind, min(kind))),
    (symmetry, "_thing_kinds", _all_things_alike(symmetry._thing_kinds)),
]


@pytest.mark.parametrize(("where", "name", "instead"), BROKEN, ids=[name for _, name, _ in BROKEN])
def test_the_comparison_sees_what_is_merged_wrongly(
    where: Any, name: str, instead: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(where, name, instead)
    assert any(differences_or_error())


def differences_or_error() -> Iterator[list[str]]:
    """Differences on a rig with much to merge; a merged run that breaks down is one too."""
    lab = laboratory(powered_by_column())
    trips = [strike for strike in strikes(lab.rig) if strike.mode == "tripped"]
    both = [(*a.faults, *b.at(FRAME).faults) for a in trips for b in trips if a is not b]
    for faults in (*both, *(s.faults for s in strikes(lab.rig)), *some_pairs(lab.rig, PAIRS)):
        try:
            yield differences(lab, faults)
        except Exception as error:
            yield [repr(error)]


def test_the_random_faults_are_seen() -> None:
    """Agreement on rigs where nothing ever shows would prove nothing."""
    changed = 0
    for seed in SEEDS[:150]:
        if (rig := healthy_rig(seed)) is not None:
            faults = random_faults(Random(seed), rig)
            changed += bool(areas_by_line(rig, full_run(rig, faults), next(iter(rig.groups))))
    assert changed >= 40


@pytest.mark.parametrize(("topology", "name"), COMBINATIONS)
def test_with_any_timings_a_rig_has_settled_alike_before_time_0(topology: str, name: str) -> None:
    wiring = wire(built(topology, name).rig)
    choices = [corner(wiring.rig, which) for which in CORNERS]
    choices += [dict.fromkeys(wiring.rig.timings, flicks) for flicks in (0, FLICKS, FOREVER)]
    boards = [settled(wiring, values, {}) for values in choices]
    marks = [
        ({n: memory.mark(0) for n, memory in board.memory.items()}, board.value, board.shown)
        for board in boards
    ]
    assert len(marks) == 6 and marks[0][0]
    assert all(mark == marks[0] for mark in marks)


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
def test_what_is_lost_after_two_strikes_is_what_their_effect_says(topology: str) -> None:
    lab = built(topology, "plain")
    pairs = list(some_pairs(lab.rig, 60))
    lost = [lab.lost(faults, "typical") for faults in pairs]
    assert len(set(lost)) > 3
    assert lost == [lab.effect(faults, "typical").lost() for faults in pairs]
