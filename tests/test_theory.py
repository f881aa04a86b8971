"""Theory's dark times and cut sets against plain arithmetic, published values and the engine.

In: rigs built here, drawn at random, or of the shipped scenarios. Out: dark times by two ways that
share no code but the rig and its times. What differs fails; broken versions of theory must differ.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from math import log
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sim.engine.run import run
from sim.engine.signal import cell_lines
from sim.faults import Fault, Script
from sim.reliability.cutsets import Cuts, chance_of, minimal
from sim.reliability.theory import Blow, single, theory
from sim.reliability.theory_blows import measured, struck
from sim.reliability.theory_cells import Screen
from sim.reliability.theory_choice import Chooser
from sim.reliability.theory_chosen import Gated, Shown
from sim.reliability.theory_cuts import cut_unavailable, unavailable
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_steps import Steps, endless
from sim.reliability.theory_things import _Condition
from sim.rig.topology import Rig, corner
from sim.scenario.loader import load
from sim.study.laboratory import Laboratory
from sim.study.strikes import Strike, strikes
from sim.study.study import rig_of as rig_of_variant
from sim.timebase import FLICKS
from tests.labs import MIRRORED, ONE_WALL, plan_for, rig_of
from tests.rig_scripts import TICK
from tests.rigs import seeded
from tests.theory_rigs import LENGTH, bridge, chain

SCENARIOS = Path(__file__).parents[1] / "scenarios"
Lines = dict[tuple[str, int], list[tuple[int, int]]]


def dead(names: Iterator[str] | list[str], mass: float, early: bool = False) -> tuple[Blow, ...]:
    return tuple(Blow(name, (Fault(name, "dead", 0),), mass, early) for name in names)


# ---- plain arithmetic ----------------------------------------------------------------------------


@pytest.mark.parametrize("many", [1, 2, 7, 20])
def test_a_break_of_an_open_chain_darkens_half_of_it(many: int) -> None:
    """One break uniform over n links: mean dark (n + 1) / 2 cabinets. Plain arithmetic."""
    rig, jumpers = chain(many)
    lost = [single(rig, "wall", blow, {}).area.values[-1] for blow in dead(jumpers, 1.0)]
    assert sum(lost) / many == (many + 1) / 2
    assert lost == list(range(many, 0, -1))


def test_a_break_of_a_chain_fed_from_both_ends_darkens_nothing_for_good() -> None:
    rig, jumpers = chain(20, both_ends=True)
    found = [single(rig, "wall", blow, {}) for blow in dead(jumpers, 1.0)]
    assert [one.area.values[-1] for one in found] == [0] * 21
    assert all(one.dark == 0 for one in found)


def test_a_cabinet_that_dies_is_dark_for_half_of_a_show_in_the_mean() -> None:
    rig, jumpers = chain(1)
    assert single(rig, "wall", dead(jumpers, 1.0)[0], {}).dark == LENGTH / 2
    assert single(rig, "wall", dead(jumpers, 1.0, early=True)[0], {}).dark == LENGTH


RINGS = [(3, "all", 0.9477), (5, "all", 0.885735), (5, 0, 0.959049), (5, 2, 0.926559)]
"""Cabinets on a ring with the unit that feeds them; reliability at p = 0.9 of each of n links: of
all terminals n p^(n-1) - (n-1) p^n, of two 1 - (1 - p^k)(1 - p^(n-k)). Exact."""


@pytest.mark.parametrize(("many", "cabinet", "works"), RINGS)
def test_rings_by_their_cut_sets(many: int, cabinet: int | str, works: float) -> None:
    rig, jumpers = chain(many, both_ends=True)
    found = theory(rig, "wall", dead(jumpers, -log(0.9), early=True), {})
    cells = found.cells if cabinet == "all" else [found.cells[int(cabinet)]]
    cuts = minimal(cut for cell in cells for cut in cell.named())
    chances = dict.fromkeys(jumpers, 0.1)
    assert float(chance_of(cuts, chances)) == pytest.approx(1 - works, abs=1e-12)


def test_the_bridge_has_its_cuts_of_two() -> None:
    """Cuts {sa,sb} {at,bt} of two and two of three (Barlow and Proschan 1975, value from memory).

    With those of three added by hand its unreliability at p = 0.9 is 1 - 0.97848.
    """
    rig, parts = bridge()
    found = theory(rig, "wall", dead(parts, 0.01), {})
    cuts = frozenset(found.cells[0].named())
    assert cuts == {frozenset({"sa", "sb"}), frozenset({"at", "bt"})}
    assert [place.cuts for place in found.places] == [cuts, cuts]
    whole = cuts | {frozenset({"sa", "ab", "bt"}), frozenset({"sb", "ab", "at"})}
    rates = dict.fromkeys(parts, (1.0, 9.0))
    assert cut_unavailable(whole, rates) == pytest.approx(1 - 0.97848, abs=1e-12)
    assert theory(rig, "wall", dead(parts, 0.01), {}, order=1).cells[0].cuts == frozenset()


def test_the_pressure_tank() -> None:
    """NASA Fault Tree Handbook 2002 and an open fault-tree data set: 3.50133491625e-5."""
    q = {"T": 5e-6, "K2": 3e-5, "S": 1e-4, "S1": 3e-5, "K1": 5e-6, "R": 1e-4}
    cuts: Cuts = frozenset(map(frozenset, (["T"], ["K2"], ["S", "S1"], ["S", "K1"], ["S", "R"])))
    rates = {name: (chance, 1 - chance) for name, chance in q.items()}
    assert cut_unavailable(cuts, rates) == pytest.approx(3.50133491625e-5, rel=1e-7)


def test_one_unit_over_time() -> None:
    """IEC 61165, value from memory: L 1e-3, M 0.1: 9.5116e-4 at 1 h, 6.29486e-3 at 10 h."""
    assert unavailable(1e-3, 0.1, 1) == pytest.approx(9.5116e-4, rel=1e-5)
    assert unavailable(1e-3, 0.1, 10) == pytest.approx(6.29486e-3, rel=1e-6)
    assert unavailable(1e-3, 0.1) == pytest.approx(1 - 0.990099010, abs=1e-9)
    assert unavailable(0, 0, 5) == 0


def test_two_links_of_a_ring_in_a_show_by_arithmetic() -> None:
    """A cabinet between two links, each of mass m: dark with (1 - e^(-m t))^2 at t of the show.

    Its mean is 1 - 2 (1 - e^-m) / m + (1 - e^-2m) / 2m. Plain arithmetic.
    """
    rig, jumpers = chain(1, both_ends=True)
    for mass in (0.001, 0.02, 0.1):
        found = theory(rig, "wall", dead(jumpers, mass), {})
        once, twice = (1 - 2.718281828459045 ** -(k * mass) for k in (1, 2))
        exact = LENGTH * (1 - 2 * once / mass + twice / (2 * mass))
        assert abs(found.dark - exact) <= found.bound
        assert found.bound < 3 * mass * LENGTH * mass
        assert found.dark == pytest.approx(exact, rel=2 * mass)


def test_faults_of_one_place_overlap_exactly() -> None:
    """Two that darken the same: 1 - exp(-M t); its mean is 1 - (1 - e^-M) / M. Arithmetic."""
    rig, jumpers = chain(1)
    blows = [*dead(jumpers, 0.7), Blow("again", dead(jumpers, 1.0)[0].faults, 0.8)]
    found = theory(rig, "wall", blows, {}, order=1)
    exact = LENGTH * (1 - (1 - 2.718281828459045**-1.5) / 1.5)
    assert found.first == pytest.approx(LENGTH * 0.75)
    assert found.dark == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize("mass", [-1.0, float("inf"), float("nan")])
def test_a_mass_that_cannot_be_is_refused(mass: float) -> None:
    with pytest.raises(ValueError, match="mass"):
        Blow("it", (), mass)


def test_what_cannot_hold_before_the_show_is_refused() -> None:
    with pytest.raises(ValueError, match="before the show"):
        Blow("it", (Fault("x", "restart", 0),), 1.0, early=True)


# ---- the engine: every cell, at every flick ------------------------------------------------------

RIGS = range(1000)


def by_engine(rig: Rig, script: Script) -> Lines:
    lines = cell_lines(rig, run(rig, script, corner(rig, "typical"), until=rig.length))
    return {key: [(at, int(q)) for at, q in line if at < rig.length] for key, line in lines.items()}


def by_theory(rig: Rig, script: Script) -> Lines:
    on = Calculus(rig, corner(rig, "typical"))
    found = on.under(script.faults, script.failing)
    lines: Lines = {}
    for group in rig.groups.values():
        screen = Screen(on, group.name)
        for number, cell in enumerate(group.cells):
            line = on.steps[screen.quality(found, cell.cabinet, cell.stack)]
            lines[group.name, number] = flat(line, rig.length)
    return lines


def flat(line: Steps, length: int) -> list[tuple[int, int]]:
    """Steps from 0 on, repetitions written out."""
    out = [(0, line.values[0])]
    for at, value in endless(line):
        if at >= length:
            return out
        if at == 0:
            out = [(0, value)]
        elif value != out[-1][1]:
            out.append((at, value))
    raise AssertionError("endless steps end with one that is never reached")


def differing(seed: int) -> bool:
    """Whether the two ways differ for the faults of a seed (operators do nothing here)."""
    rig, script = seeded(seed)
    script = replace(script, actions=())
    return by_engine(rig, script) != by_theory(rig, script)


def test_every_cell_of_random_rigs_under_random_faults() -> None:
    assert [seed for seed in RIGS if differing(seed)] == []


def test_random_rigs_are_worth_comparing() -> None:
    changing = 0
    for seed in range(200):
        rig, script = seeded(seed)
        lines = by_theory(rig, replace(script, actions=()))
        changing += any(len(line) > 2 for line in lines.values())
    assert changing > 100


def no_wait(self: Chooser, *_: Any) -> None:
    original(self, *_)
    self.choice = self.choice._replace(wait=0)


original = Chooser.__init__
BROKEN: list[tuple[type, str, Any]] = [
    (Chooser, "__init__", no_wait),
    (Chooser, "_better", lambda self, now: None),
    (Chooser, "_people", lambda self, now: None),
    (Gated, "_turn", lambda self, now, present: False),
    (_Condition, "_end", lambda self, active, now: None),
    (_Condition, "_loss", lambda self, active: 0),
]
"""One rule at a time put out of action."""


@pytest.mark.parametrize(("kind", "rule", "instead"), BROKEN, ids=[rule for _, rule, _ in BROKEN])
def test_the_comparison_sees_a_broken_rule(
    kind: type, rule: str, instead: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kind, rule, instead)
    assert any(differing(seed) for seed in range(3000))


def flapping(seed: int) -> tuple[Rig, Script]:
    """A random rig in a long show, one of its things coming and going to the end."""
    rig, script = seeded(seed)
    rng = Random(seed)
    name = rng.choice([n for n, thing in rig.things.items() if thing.family != "circuit"])
    period = rng.randrange(2, 20)
    loose = Fault(name, "flapping", TICK, None, period=period * TICK, off=TICK)
    others = [f for f in script.faults if f.mode != "flapping" and f.thing != name][:1]
    return replace(rig, length=600 * TICK), Script((loose, *others), (), script.failing)


def repeats_wrongly(seed: int) -> bool:
    return by_engine(*flapping(seed)) != by_theory(*flapping(seed))


def test_what_comes_and_goes_for_ever_repeats_as_the_engine_goes_on() -> None:
    assert [seed for seed in range(300) if repeats_wrongly(seed)] == []


TOO_SOON = {Chooser: 31, Gated: 842, Shown: 149, _Condition: 1271}
"""The first seed that tells; looked at first."""


@pytest.mark.parametrize("kind", TOO_SOON)
def test_the_comparison_sees_a_repeat_that_is_found_too_soon(
    kind: type, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not repeats_wrongly(TOO_SOON[kind])
    monkeypatch.setattr(kind, "marks", lambda self, now, limit: None)
    assert any(repeats_wrongly(seed) for seed in (TOO_SOON[kind], *range(2000)))


# ---- the engine: expected dark time of every single fault ----------------------------------------


def dark_times(rig: Rig, group: str, of: tuple[Strike, ...], **changed: int) -> list[float]:
    """By theory."""
    on = Calculus(rig, {**corner(rig, "typical"), **changed})
    screen = Screen(on, group)
    blows = (Blow(strike.name, strike.faults, 1.0) for strike in of)
    return [measured(on, screen, struck(on, screen, blow)).dark for blow in blows]


def wrong_strikes(rig: Rig, group: str) -> list[str]:
    """The strikes whose expected dark time differs between the two ways."""
    lab, of = Laboratory(rig, group), strikes(rig)
    ours = dark_times(rig, group, of)
    theirs = [lab.effect(strike.faults, "typical").dark_time for strike in of]
    assert sum(dark > 0 for dark in theirs) > 20
    pairs = zip(of, ours, theirs, strict=True)
    return [s.name for s, a, b in pairs if abs(a - b) > 1e-9 * max(a, b)]


@cache
def shipped(scenario: str, group: str) -> tuple[tuple[str, Rig], ...]:
    """All topologies of a group that can be built."""
    loaded = load(SCENARIOS / f"{scenario}.yaml")
    made = ((v.label or v.topology, rig_of_variant(loaded, v)[1]) for v in loaded.variants(group))
    return tuple((label, rig) for label, rig in made if rig is not None)


STUDIO = ("return-loop", "single-feed", "two-unit", "return-loop, gated returns")


@pytest.mark.parametrize("label", STUDIO)
def test_every_single_fault_of_studio(label: str) -> None:
    assert wrong_strikes(dict(shipped("studio", "backdrop"))[label], "backdrop") == []


@pytest.mark.parametrize("label", ["single-feed", "crossed-relays"])
def test_every_single_fault_of_river(label: str) -> None:
    assert wrong_strikes(dict(shipped("river", "main"))[label], "main") == []


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
@pytest.mark.parametrize("returns", ["standing", "gated"])
def test_every_single_fault_of_small_plans(topology: str, returns: str) -> None:
    plan = replace(plan_for(topology, options={"returns": returns}), length=60 * FLICKS)
    assert wrong_strikes(rig_of(plan), plan.groups[0].name) == []


def test_dark_times_differ_where_a_hold_off_is_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Chooser, "__init__", no_wait)
    assert len(wrong_strikes(dict(shipped("studio", "backdrop"))["return-loop"], "backdrop")) > 50
