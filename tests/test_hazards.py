"""What may strike in a show and how often: masses by hand, times against theory, keys.

In: small rigs of `tests.plans` and the shipped river; rates stated by hand. Masses are mean
numbers a show.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import exp, log, sqrt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import weibull_min

from sim.engine.run import run
from sim.faults import Script
from sim.rig.placeholders import CHANCES, RATES
from sim.rig.rates import OwnRate
from sim.rig.terms import Terms, Together
from sim.rig.terms import Tested as LastSeen
from sim.rig.topology import Gate, Rig, corner, selectors
from sim.risk.hazards import CAUSES, Hazard, hazards, position, strike_at
from sim.scenario.loader import load
from sim.study.contingency import Laboratory
from sim.study.effects import Effect
from sim.study.strikes import HOUR, Strike, strikes
from sim.study.study import rig_of
from sim.timebase import FLICKS
from tests.labs import MIRRORED, ONE_WALL, cabinets_by_end, plan_for
from tests.labs import rig_of as checked
from tests.plans import KITS

SHOW = 3 * HOUR
PATCHED = Terms(patch_error=0.001, patch_caught=0.9)


@cache
def plain(topology: str = "crossed-relays") -> Rig:
    """A small rig in a show of three hours, with placeholder rates."""
    return checked(replace(plan_for(topology), length=SHOW))


def rigged(*rates: OwnRate, topology: str = "crossed-relays") -> Rig:
    return replace(plain(topology), rates=rates)


def seen(strike: Strike) -> bool:
    """Everything is seen: `unseen` of a rig without a backup."""
    return False


def hidden(strike: Strike) -> bool:
    """Nothing is seen."""
    return True


def made(rig: Rig, terms: Terms | None = None, unseen: object = seen) -> dict[str, Hazard]:
    assert callable(unseen)
    return {h.key: h for h in hazards(rig, terms or PATCHED, SHOW, unseen)}


# ---- names and masses ----------------------------------------------------------------------------


@pytest.mark.parametrize("topology", [*ONE_WALL, *MIRRORED])
@pytest.mark.parametrize("unseen", [seen, hidden])
def test_every_hazard_has_a_name_and_a_mass(topology: str, unseen: object) -> None:
    assert callable(unseen)
    found = hazards(plain(topology), PATCHED, SHOW, unseen)
    assert len({h.key for h in found}) == len(found)
    assert all(0 < h.mass < 20 and h.cause in CAUSES and h.source for h in found)
    assert all(h.strikes or h.failing for h in found)
    assert {h.cause for h in found if h.early} <= {"load-in", "never tested", "on demand"}
    assert {h.cause for h in found if not h.early} == {"item", "person"}


def test_a_strike_of_the_catalogue_strikes_by_its_rate_times_the_hours() -> None:
    """By hand: 2e-4 an hour, three hours."""
    own = OwnRate("dead", 2e-4, things="main/relay-main", error_factor=2.0, source="ours")
    found = made(rigged(own))
    of = found["main/relay-main dead"]
    assert of.mass == pytest.approx(6e-4, rel=1e-12)
    assert (of.guessed, of.error_factor, of.source, of.cause) == (False, 2.0, "ours", "item")
    other = found["main/relay-backup dead"]
    assert other.guessed
    assert other.mass == pytest.approx(3 * RATES["relay", "dead"].value)


def test_all_strikes_of_the_catalogue_are_there_once() -> None:
    rig = plain()
    found, known = made(rig), {strike.name for strike in strikes(rig)}
    assert {key for key, hazard in found.items() if not hazard.early} == known
    assert {key for key, h in found.items() if h.cause == "person"} == {
        strike.name for strike in strikes(rig) if strike.mode == "moved"
    }


def test_a_hazard_without_mass_is_left_out_and_one_beyond_counting_refused() -> None:
    together = Together("a bad batch", kit=KITS["relay"].name, share=1.0, source="ours")
    found = made(rigged(), Terms(together=(together,)))
    assert "main/relay-main dead" not in found and "main/relay-main stuck" in found
    endless = OwnRate("dead", 1e300, things="main/relay-main", shape=2.0)
    with pytest.raises((ValueError, OverflowError)):
        made(rigged(endless))


# ---- when ----------------------------------------------------------------------------------------


def aged(shape: float, age: float, early: bool = False) -> Hazard:
    return Hazard("x", (), 1.0, shape=shape, age=age, early=early)


UNIFORM = st.floats(0, 1, exclude_max=True)


@given(st.floats(0.3, 8), st.floats(0, 20000), UNIFORM)
def test_times_against_theory(shape: float, age: float, u: float) -> None:
    """Of one that fails within the show, age + t is Weibull's law cut to [age, age + 3 h]: the
    share of its cumulative hazard up to t is u (scipy.stats.weibull_min; whatever its scale).
    """
    t = position(aged(shape, age), u, SHOW)
    assert 0 <= t < SHOW
    law = weibull_min(shape, scale=5000)
    begin, end = -law.logsf(age), -law.logsf(age + 3)
    share = (-law.logsf(age + t / HOUR) - begin) / (end - begin)
    after = (-law.logsf(age + (t + 1) / HOUR) - begin) / (end - begin)
    assert share - 1e-6 <= u <= after + 1e-6


def test_times_of_wear_are_not_uniform() -> None:
    """Shape 2, new: half of those that fail do so before 3 h / sqrt 2. The check above would find
    a uniform time wanting."""
    t = position(aged(2.0, 0.0), 0.5, SHOW)
    assert t == pytest.approx(SHOW / sqrt(2), rel=1e-9)
    assert position(aged(1.0, 0.0), 0.5, SHOW) == SHOW // 2
    law = weibull_min(2.0)
    uniform = law.logsf(1.5) / law.logsf(3.0)
    assert abs(uniform - 0.5) > 0.2


@given(UNIFORM, UNIFORM, st.floats(0.3, 8), st.floats(0, 1e5))
def test_later_draws_strike_later(u: float, v: float, shape: float, age: float) -> None:
    low, high = sorted((u, v))
    of = aged(shape, age)
    assert position(of, low, SHOW) <= position(of, high, SHOW)


def test_what_is_so_before_the_show_strikes_before_it() -> None:
    assert position(aged(1.0, 0.0, early=True), 0.7, SHOW) == -1


def test_the_faults_of_a_hazard_at_a_flick() -> None:
    found = made(plain(), Terms(age_untested=10.0), hidden)
    [fault] = strike_at(found["main/relay-main dead"], 77)
    assert (fault.thing, fault.mode, fault.at, fault.until) == ("main/relay-main", "dead", 77, None)
    [fault] = strike_at(found["main/relay-main dead, never tested"], 77)
    assert (fault.mode, fault.at) == ("dead", -1)
    [fault] = strike_at(found["main/chain-1/jumper-2 flapping, mating"], 77)
    assert (fault.mode, fault.at) == ("flapping", 0), "R5: none flaps before the show"
    lasting = replace(found["main/relay-main dead"], lasts=FLICKS)
    assert strike_at(lasting, 77)[0].until == 77 + FLICKS
    assert strike_at(replace(lasting, early=True), 77)[0].until == FLICKS
    cut = strike_at(found["route north cut"], 5)
    assert {f.at for f in cut} == {5} and len(cut) > 1


# ---- load-in -------------------------------------------------------------------------------------


def test_a_cable_is_mated_at_both_ends() -> None:
    """By hand: 1 - (1 - 0.001)^2 = 0.001999; seen on the wall, of which the line check leaves one
    in ten.
    """
    rig = rigged(OwnRate("dead", 1e-3, family="jumper", per="mating", source="ours"))
    key = "main/chain-1/jumper-2 dead, mating"
    assert made(rig, None, hidden)[key].mass == pytest.approx(-log(1 - 0.001999), rel=1e-9)
    found = made(rig)[key]
    assert found.mass == pytest.approx(-log(1 - 0.001999 * 0.1), rel=1e-9)
    assert (found.early, found.cause, found.guessed) == (True, "load-in", False)
    terms = Terms(patch_caught=0.5, patch_source="ours")
    assert made(rig, terms)[key].mass == pytest.approx(-log(1 - 0.0009995), rel=1e-9)


def test_a_powered_thing_is_powered_up_once_and_a_cable_never() -> None:
    rates = [OwnRate("dead", 1e-3, family=family, per="power-up") for family in ("relay", "jumper")]
    found = made(rigged(*rates), None, hidden)
    assert found["main/relay-main dead, power-up"].mass == pytest.approx(-log(1 - 1e-3))
    assert not any("jumper" in key and key.endswith("power-up") for key in found)


def test_what_is_hidden_is_caught_only_if_it_was_tested_the_same_day() -> None:
    rig = rigged(OwnRate("dead", 1e-3, family="relay", per="load-in"))
    key = "main/relay-main dead, load-in"

    def mass(before: int | None) -> float:
        tested = (LastSeen("main/relay-*", before),)
        return made(rig, replace(PATCHED, tested=tested), hidden)[key].mass

    assert mass(None) == mass(25 * HOUR) == pytest.approx(-log(1 - 1e-3))
    assert mass(2 * HOUR) == pytest.approx(-log(1 - 1e-3 * 0.1))


def test_what_happens_of_itself_or_by_somebody_is_never_so_before_the_show() -> None:
    early = {
        strike.mode
        for hazard in made(plain(), None, hidden).values()
        for strike in hazard.strikes
        if hazard.early
    }
    assert not early & {"restart", "drops", "moved"}
    assert {"dead", "cut", "stale", "patch error"} <= early


def test_a_patch_error_shows_the_wrong_picture() -> None:
    rig = rigged(topology="single-feed")
    laboratory = Laboratory(rig, "main")
    [head] = [h for k, h in made(rig).items() if k.endswith("chain-1/head patch error")]
    effect = laboratory.effect(strike_at(head, 5), "typical")
    assert effect.area(2) > 0 and effect.area(0) == effect.area(1) == 0
    assert effect.area(2) == 3 * 100, "one chain of three cabinets of 10 by 10"


def test_a_patch_error_by_the_most_special_statement() -> None:
    """Of the cable, else of the whole show; of nobody, if it is not said."""
    key, all_of = "main/chain-1/head patch error", Terms(patch_error=0.01, patch_source="ours")
    assert made(plain(), None, hidden)[key].mass == pytest.approx(-log(1 - 0.001))
    stated = made(plain(), all_of, hidden)[key]
    assert stated.mass == pytest.approx(-log(0.99)) and not stated.guessed
    rig = rigged(OwnRate("patch error", 0.02, family="copper", per="load-in"))
    assert made(rig, all_of, hidden)[key].mass == pytest.approx(-log(0.98))
    assert key not in made(plain(), Terms(), hidden)


# ---- never tested --------------------------------------------------------------------------------


def only(*names: str) -> object:
    return lambda strike: strike.where in names


BACKUP = "main/relay-backup"


def test_what_nobody_sees_may_be_dead_since_it_was_last_tested() -> None:
    """By hand: 1e-4 an hour; never tested counts as 500 h, tested 2 h before the show as 2 h."""
    rig = rigged(OwnRate("dead", 1e-4, family="relay"))

    def mass(*tested: LastSeen) -> float:
        found = made(rig, Terms(tested=tested), only(BACKUP))
        assert "main/relay-main dead, never tested" not in found
        return found[f"{BACKUP} dead, never tested"].mass

    assert mass() == mass(LastSeen("*", None)) == pytest.approx(0.05)
    assert 1 - exp(-mass()) == pytest.approx(1 - exp(-1e-4 * 500))
    assert mass(LastSeen("*relay-b*", 2 * HOUR)) == pytest.approx(2e-4)
    assert mass(LastSeen("*unit*", HOUR)) == pytest.approx(0.05)
    first = (LastSeen(BACKUP, 24 * HOUR), LastSeen("*", HOUR))
    assert mass(*first) == pytest.approx(24e-4), "the first that matches counts"


def test_what_is_monitored_is_told_unless_a_valid_picture_still_arrives() -> None:
    rig, unit = plain(), "main/unit-b"
    watched = replace(rig.things[unit], monitored=True)

    def dormant(rig: Rig) -> set[str]:
        found = made(rig, None, only(unit)).values()
        return {h.strikes[0].mode for h in found if h.cause == "never tested"}

    assert dormant(rig) == {"dead", "stale"}
    assert dormant(replace(rig, things={**rig.things, unit: watched})) == {"stale"}


def test_what_wears_has_worn_since_it_was_last_tested() -> None:
    """Shape 2, life 1000 h, age 3000 h, tested 100 h ago: 0.785398 (3^2 - 2.9^2) = 0.463385."""
    rig = rigged(OwnRate("dead", 1e-3, family="relay", shape=2.0, age=3000.0))
    terms = Terms(tested=(LastSeen("*", 100 * HOUR),))
    found = made(rig, terms, only(BACKUP))
    assert found[f"{BACKUP} dead, never tested"].mass == pytest.approx(0.463385, rel=1e-5)
    new = rigged(OwnRate("dead", 1e-3, family="relay", shape=2.0, age=10.0))
    mass = made(new, terms, only(BACKUP))[f"{BACKUP} dead, never tested"].mass
    assert mass == pytest.approx(0.785398 * 0.01**2, rel=1e-5), "it has run for 10 h only"


# ---- on demand -----------------------------------------------------------------------------------


def failing(rig: Rig, terms: Terms | None = None) -> dict[str, Hazard]:
    return {h.failing[0]: h for h in made(rig, terms).values() if h.failing}


def test_each_selector_that_moves_by_itself_may_fail_to() -> None:
    """1 to 5 % untested, 0.1 to 0.5 % tested the same day (general trade knowledge, from memory):
    geometric middles.
    """
    rig = plain()
    found = failing(rig)
    alone = {
        of.name
        for of, node in selectors(rig)
        if of.restore in ("revertive", "non-revertive")
        and len(node.inputs) > 1
        and rig.things[node.thing].family != "receiver"
    }
    assert found.keys() == alone and any("relay" in name for name in alone)
    masses = [h.mass for h in found.values()]
    assert masses == pytest.approx([-log(1 - sqrt(0.01 * 0.05))] * len(alone))
    today = failing(rig, Terms(tested=(LastSeen("*", HOUR),)))
    masses = [h.mass for h in today.values()]
    assert masses == pytest.approx([-log(1 - sqrt(0.001 * 0.005))] * len(alone))
    assert all(h.early and h.strikes == () for h in found.values())


def test_a_stated_chance_on_demand_counts_also_for_receivers() -> None:
    rates = [
        OwnRate("changeover", 0.1, family=family, per="changeover", source="ours")
        for family in ("relay", "receiver")
    ]
    found = failing(rigged(*rates), Terms(tested=(LastSeen("*", HOUR),)))
    relays = [h for name, h in found.items() if "relay" in name]
    assert relays and [h.mass for h in relays] == pytest.approx([-log(0.9)] * len(relays))
    assert sum(1 for h in found.values() if not h.guessed) > len(relays)


def test_a_relay_that_fails_on_demand_leaves_the_wall_dark() -> None:
    """The engine, with and without: the main trunk cut, the relay stays on it."""
    rig = rigged(topology="crossed-relays")
    found = failing(rig)
    [cut] = [s for s in strikes(rig) if s.where == "route north"]
    assert len(cut.faults) >= 1
    trace = {
        name: run(rig, Script(cut.faults, failing=frozenset(of)), corner(rig, "typical"), SHOW)
        for name, of in (("well", ()), ("failing", tuple(found)))
    }
    moved = {
        name: {n.name for n in of.notes if n.what == "switching"} for name, of in trace.items()
    }
    assert moved["well"] & found.keys()
    assert not moved["failing"] & found.keys()


def test_gated_returns_of_one_unit_fail_to_open_together() -> None:
    """The trunk to the heads cut: the gates of the other relay open; if they fail, all stays dark,
    as with standing returns that were cut.
    """
    rig = checked(replace(plan_for("relay-pair", options={"returns": "gated"}), length=SHOW))
    gates = [node for node in rig.nodes.values() if isinstance(node, Gate)]
    found = [h for h in made(rig).values() if h.cause == "on demand" and h.strikes]
    assert len(gates) == 4 and {gate.thing for gate in gates} == {BACKUP}
    [hazard] = found
    assert hazard.mass == pytest.approx(-log(1 - sqrt(0.01 * 0.05)))
    [cut] = [s for s in strikes(rig) if s.where == "route north"]
    never = strike_at(hazard, 0)
    assert {fault.at for fault in never} == {-1}
    well = cabinets_by_end(rig, cut.at(100).faults)
    failed = cabinets_by_end(rig, (*never, *cut.at(100).faults))
    assert set.union(*well.values()) == {6} and set.union(*failed.values()) == {0}
    assert not [h for h in made(plain("relay-pair")).values() if h.failing == () and h.early
                and h.cause == "on demand"]  # fmt: skip


# ---- shared causes -------------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "both"), [(0.02, 2.09604e-5), (0.1, 1.0081e-4)])
def test_the_beta_factor_against_published(share: float, both: float) -> None:
    """Q = (1 - b)^2 q^2 + b q at q = 1e-3 (IEC 61508-6 Annex D, formula from memory)."""
    own = OwnRate("dead", 1e-3 / 3, family="relay", source="ours")
    cause = Together("a bad batch", family="relay", share=share, source="ours")
    found = made(rigged(own), Terms(together=(cause,)))
    one, two = (found[f"main/relay-{which} dead"] for which in ("main", "backup"))
    [shared] = [h for h in found.values() if h.cause == "shared cause"]
    assert one.mass * two.mass + shared.mass == pytest.approx(both, rel=1e-9)
    assert one.mass + shared.mass == pytest.approx(1e-3), "each keeps its own total"
    assert {f.thing for f in strike_at(shared, 0)} == {"main/relay-main", BACKUP}
    assert not shared.guessed
    wrong = one.mass * two.mass / (1 - share) ** 2 + shared.mass
    assert wrong != pytest.approx(both, rel=1e-9), "a share that is not taken off is found"


def test_a_shared_cause_may_end_of_itself_and_wears_as_its_things_do() -> None:
    own = OwnRate("dead", 1e-4, family="relay", shape=2.0, age=100.0)
    cause = Together("heat", family="relay", share=0.5, lasts=FLICKS, source="placeholder; ours")
    found = made(rigged(own), Terms(together=(cause,)))
    [shared] = [h for h in found.values() if h.cause == "shared cause"]
    assert [(f.at, f.until) for f in strike_at(shared, 9)] == [(9, 9 + FLICKS)] * 2
    assert (shared.shape, shared.age, shared.guessed) == (2.0, 100.0, True)
    assert shared.mass == pytest.approx(found["main/relay-main dead"].mass)


def test_one_thing_alone_shares_nothing() -> None:
    cause = Together("a bad batch", family="processor", share=0.1)
    single = made(rigged(topology="single-feed"), Terms(together=(cause,)))
    assert not [h for h in single.values() if h.cause == "shared cause"]
    key = "main/unit-a dead"
    assert single[key].mass == pytest.approx(3 * RATES["processor", "dead"].value)


@given(st.integers(1, 4), st.floats(0.01, 0.9))
def test_each_thing_keeps_its_total_where_rates_differ(times: int, share: float) -> None:
    rates = (
        OwnRate("dead", times * 1e-4, things="main/relay-main"),
        OwnRate("dead", 1e-4, things=BACKUP),
    )
    cause = Together("a bad batch", family="relay", share=share)
    found = made(rigged(*rates), Terms(together=(cause,)))
    [shared] = [h for h in found.values() if h.cause == "shared cause"]
    assert shared.mass == pytest.approx(share * 3e-4)
    assert found["main/relay-main dead"].mass + shared.mass == pytest.approx(times * 3e-4)
    assert found[f"{BACKUP} dead"].mass + shared.mass == pytest.approx(3e-4)


def test_named_things_struck_together_for_a_while() -> None:
    """A dip of one second in one show of a hundred trips both circuits."""
    dip = Together(
        "generator dip", "tripped", things=("house-*",), per_show=0.01, lasts=FLICKS, source="ours"
    )
    found = made(plain(), Terms(together=(dip, dip)))
    first, again = (h for h in found.values() if h.cause == "shared cause")
    assert first.mass == pytest.approx(-log(0.99)) and first.key != again.key
    faults = strike_at(first, 7)
    assert {(f.thing, f.at, f.until) for f in faults} == {
        ("house-1", 7, 7 + FLICKS), ("house-2", 7, 7 + FLICKS),
    }  # fmt: skip
    assert found["house-1 tripped"].mass == pytest.approx(3 * RATES["circuit", "tripped"].value)


def test_routes_may_be_named_and_what_does_not_know_the_mode_is_spared() -> None:
    flood = Together("flood", "cut", things=("route *", "main/unit-a"), per_show=0.5)
    [found] = [
        h for h in made(plain(), Terms(together=(flood,))).values() if h.cause == "shared cause"
    ]
    things = [f.thing for f in strike_at(found, 3)]
    assert len(things) == len({*things}) > 2 and "main/unit-a" not in things


# ---- the shipped river ---------------------------------------------------------------------------


@cache
def river(label: str) -> Laboratory:
    scenario = load("scenarios/river.yaml")
    [variant] = [v for v in scenario.variants("main") if v.label == label]
    rig = rig_of(scenario, variant)[1]
    assert rig is not None
    return Laboratory(rig, "main")


def of_river(label: str) -> tuple[Hazard, ...]:
    laboratory = river(label)

    def unseen(strike: Strike) -> bool:
        return not laboratory.concerns(strike) or laboratory.outcome(strike).verdict == "unseen"

    terms = load("scenarios/river.yaml").terms
    return hazards(laboratory.rig, terms, laboratory.rig.length, unseen)


@pytest.mark.parametrize("label", ["single-feed", "relay-pair", "two-unit"])
def test_what_two_topologies_share_has_one_name(label: str) -> None:
    """Hazards in the show by name: those of things that both have are the same, with one mass."""
    rigs = {name: river(name).rig for name in ("crossed-relays", label)}
    both = set.intersection(*({*rig.things} for rig in rigs.values()))
    assert len(both) > 400
    named = {
        name: {
            h.key: h.mass
            for h in hazards(rig, Terms(), rig.length, seen)
            if h.strikes and {*h.strikes[0].struck} <= both and h.strikes[0].where in both
        }
        for name, rig in rigs.items()
    }
    assert named["crossed-relays"] == pytest.approx(named[label])
    assert len(named[label]) > 2000


def whole_wall_dark(laboratory: Laboratory, effect: Effect, over: int) -> bool:
    """Whether every pixel is dark at once for longer than `over` flicks, in one go."""
    area = sum(area for _, share in effect.lines for _, area in share.walls)
    if area < laboratory.canvas.area or effect.repeat:
        return False
    steps = sorted({at for line, _ in effect.lines for at, _ in line} | {laboratory.rig.length})
    longest = dark = 0
    for begin, end in pairwise(steps):
        now = (next(q for at, q in reversed(line) if at <= begin) for line, _ in effect.lines)
        dark = dark + end - begin if all(quality <= 1 for quality in now) else 0
        longest = max(longest, dark)
    return longest > over


def nights(scale: float = 1.0) -> tuple[float, float]:
    """Chances of a night with a defect that is seen, and with the whole wall dark over 10 s, each
    hazard alone.
    """
    laboratory, visible, whole = river("single-feed"), 0.0, 0.0
    for hazard in of_river("single-feed"):
        if hazard.strikes and laboratory.concerns(hazard.strikes[0]):
            effect = laboratory.effect(hazard.strikes[0].faults, "typical")
            visible += hazard.mass * any(effect.area(state, lasting=False) for state in range(4))
            whole += hazard.mass * whole_wall_dark(laboratory, effect, 10 * FLICKS)
    return 1 - exp(-scale * visible), 1 - exp(-scale * whole)


def agrees(found: tuple[float, float]) -> bool:
    """10 to 40 % of nights, 1 in 500 to 1 in 100 (the trade's experience, from memory)."""
    return 0.1 <= found[0] <= 0.4 and 1 / 500 <= found[1] <= 1 / 100


def test_the_placeholders_give_nights_such_as_the_trade_knows() -> None:
    assert agrees(nights())
    assert not agrees(nights(0.4)) and not agrees(nights(5.0))


@pytest.mark.parametrize(
    ("found", "least", "most"),
    [
        (RATES["fibre", "cut"].value * 10, 0.002, 0.01),
        (CHANCES["relay", "changeover", "changeover"].value, 0.01, 0.05),
        (CHANCES["processor", "stale", "load-in"].value, 0.001, 0.003),
        (1 - exp(-3 * RATES["processor", "moved"].value), 0.005, 0.03),
    ],
)
def test_placeholders_lie_within_the_ranges_they_name(
    found: float, least: float, most: float
) -> None:
    """Ranges from memory: temporary fibre a show day of ten hours, changeovers, human errors."""
    assert least < found < most
    assert found == pytest.approx(sqrt(least * most), rel=0.25)


def test_what_a_scenario_states_on_an_occasion_strikes(tmp_path: Path) -> None:
    """From the text to the masses: a jumper's mating, a route's load-in, a relay's changeover, and
    what records say per show (0.01 in ten minutes: -6 ln 0.99 an hour).
    """
    (tmp_path / "own.yaml").write_text(
        'format: 1\nrates:\n  - {family: "port", mode: "dead", per: "show", mean: 0.01, '
        'source: "ours"}\n',
        encoding="utf-8",
    )
    stated = (
        "rates:\n"
        "  - {family: jumper, mode: dead, rate: 1 % per mating}\n"
        "  - {things: route left edge, mode: cut, rate: 2 % per load-in}\n"
        "  - {type: relay unit, mode: changeover, rate: 3 % per demand}\n"
        "rate_files: own.yaml\nload_in: {patch_error: 0 %, caught: 0 %}\n"
    )
    text = Path("scenarios/first.yaml").read_text(encoding="utf-8")
    (tmp_path / "show.yaml").write_text(f"{text}\n{stated}", encoding="utf-8")
    scenario = load(tmp_path / "show.yaml")
    [variant] = [v for v in scenario.variants("panel") if v.topology == "crossed-relays"]
    rig = rig_of(scenario, variant)[1]
    assert rig is not None
    found = {h.key: h for h in hazards(rig, scenario.terms, rig.length, seen)}
    masses = {key: h.mass for key, h in found.items() if not h.guessed}
    plugged = [mass for key, mass in masses.items() if key.endswith("dead, mating")]
    assert plugged == pytest.approx([-log(0.99**2)] * len(plugged)) and plugged
    assert masses["route left edge cut, load-in"] == pytest.approx(-log(0.98))
    demands = [mass for key, mass in masses.items() if key.endswith("changeover")]
    assert demands == pytest.approx([-log(0.97)] * len(demands)) and demands
    ports = [mass for key, mass in masses.items() if "port" in key]
    assert ports == pytest.approx([-log(0.99)] * len(ports)) and ports
    assert not [key for key in found if key.endswith("patch error")]
