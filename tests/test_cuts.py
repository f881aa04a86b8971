"""How often cables are cut: alone and with their whole route, one total for each.

In: the small rig of `tests.plans`, rates stated by hand. Masses are mean numbers in a show of
three hours.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import exp, hypot, log
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.faults import CUT
from sim.rig.cuts import cut_rates
from sim.rig.placeholders import CHANCES, RATES
from sim.rig.rates import OwnRate, Subject, in_show, rate_of
from sim.rig.terms import Terms
from sim.rig.topology import Rig, Thing
from sim.risk.hazards import Hazard, hazards
from sim.scenario.loader import load, scenario_from
from sim.study.strikes import HOUR, Strike, strikes
from sim.study.study import rig_of as rig_of_variant
from tests.labs import plan_for, rig_of

SHOW = 3 * HOUR
HOURS = 3.0
SHARE = CHANCES["fibre", "whole route", "cut"].value


def cable(name: str, *routes: str, length: int = 100, family: str = "fibre") -> Thing:
    return Thing(name, family, routes=routes, length=Fraction(length))


def laid(*cables: Thing, rates: tuple[OwnRate, ...] = (), **lengths: int) -> Rig:
    """Cables and nothing else, on routes of these lengths (metres)."""
    routes = {name: Fraction(length) for name, length in lengths.items()}
    things = {thing.name: thing for thing in cables}
    return Rig(1, SHOW, things, {}, {}, {}, {}, rates, routes)


def total(rig: Rig, name: str, per: str = "hour") -> float:
    """How often a cable is cut in all: by itself, and with its routes."""
    found = cut_rates(rig, per)
    routes = (found[f"route {route}"] for route in rig.things[name].routes)
    return found[name].value + sum(rate.value for rate in routes)


FIBRE = RATES["fibre", "cut"].value


@pytest.mark.parametrize("per", ["hour", "load-in"])
def test_a_cable_is_cut_as_often_as_its_rate_says(per: str) -> None:
    """By itself and with its route together; both at the full rate would be twice that."""
    rig = laid(cable("a", "north"), cable("b", "north"), north=100)
    whole = FIBRE if per == "hour" else CHANCES["fibre", "cut", per].value
    found = cut_rates(rig, per)
    assert found["route north"].value == pytest.approx(SHARE * whole)
    assert found["a"].value == found["b"].value == pytest.approx((1 - SHARE) * whole)
    assert total(rig, "a", per) == pytest.approx(whole)
    assert 2 * whole != pytest.approx(total(rig, "a", per))


PER_KM = OwnRate("cut", 1e-3, family="fibre", per_km=True, source="ours")


@given(st.lists(st.integers(1, 2000), min_size=1, max_size=4), st.floats(0.01, 1))
def test_each_route_takes_by_its_own_length(lengths: list[int], share: float) -> None:
    """1e-3 an hour and km: a route's share of that by its length, a cable's total by its own."""
    names = [f"r{n}" for n in range(len(lengths))]
    own = (PER_KM, OwnRate("whole route", share, family="fibre", per="cut", source="ours"))
    long = cable("long", *names, length=sum(lengths))
    short = cable("short", names[0], length=lengths[0])
    rig = laid(long, short, rates=own, **dict(zip(names, lengths, strict=True)))
    found = cut_rates(rig)
    for name, length in zip(names, lengths, strict=True):
        assert found[f"route {name}"].value == pytest.approx(share * length * 1e-6)
    assert total(rig, "long") == pytest.approx(sum(lengths) * 1e-6)
    assert total(rig, "short") == pytest.approx(lengths[0] * 1e-6)
    assert not any(rate.source.startswith("placeholder") for rate in found.values())


def test_where_no_lengths_are_known_a_cables_routes_take_alike() -> None:
    rig = laid(cable("a", "north", "mast", length=0), cable("b", "north", "mast", length=0))
    found = cut_rates(rig)
    assert found["route north"].value == found["route mast"].value
    assert found["route north"].value == pytest.approx(SHARE * FIBRE / 2)
    assert total(rig, "a") == pytest.approx(FIBRE)


def test_a_route_goes_as_often_as_the_cable_says_that_is_cut_oftenest() -> None:
    """Fibre 4.5e-4, copper 3e-5 an hour: the copper is cut with the fibre, and never less often
    than their route.
    """
    rig = laid(cable("glass", "north"), cable("wire", "north", family="copper"), north=100)
    found = cut_rates(rig)
    assert found["route north"].value == pytest.approx(SHARE * FIBRE)
    assert total(rig, "glass") == pytest.approx(FIBRE)
    assert found["wire"].value == 0 < RATES["copper", "cut"].value < found["route north"].value


def test_a_stated_route_stands_as_stated_and_leaves_its_cables_as_they_are() -> None:
    own = OwnRate("cut", 0.5, things="route north", source="ours", error_factor=2.0)
    rig = laid(cable("a", "north"), rates=(own,), north=100)
    found = cut_rates(rig)
    route = found["route north"]
    assert (route.value, route.source, route.own, route.error_factor) == (0.5, "ours", True, 2.0)
    assert found["a"] == cut_rates(replace(rig, rates=()))["a"]
    long = replace(own, per_km=True)
    assert cut_rates(replace(rig, rates=(long,)))["route north"].value == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("whose", "taken"), [({"things": "route n*"}, 0.5), ({"family": "fibre"}, 0.5),
                         ({"kit": "trunk"}, 0.5), ({"things": "route south"}, SHARE)],
)  # fmt: skip
def test_the_share_is_stated_of_a_route_a_type_or_a_family(
    whose: dict[str, str], taken: float
) -> None:
    own = OwnRate("whole route", 0.5, per="cut", source="ours", **whose)  # type: ignore[arg-type]
    rig = laid(replace(cable("a", "north"), kit="trunk"), rates=(own,), north=100)
    assert cut_rates(rig)["route north"].value == pytest.approx(taken * FIBRE)


def test_with_no_share_no_cut_takes_the_route_and_with_all_each_does() -> None:
    def of(share: float) -> dict[str, float]:
        own = OwnRate("whole route", share, family="fibre", per="cut")
        rig = laid(cable("a", "north"), rates=(own,), north=100)
        return {name: rate.value for name, rate in cut_rates(rig).items()}

    assert of(0.0) == {"a": FIBRE}
    assert of(1.0) == {"a": 0.0, "route north": FIBRE}


def test_a_route_is_as_uncertain_as_rate_and_share_together() -> None:
    """Of a product of two lognormal numbers the logarithms' variances add up."""
    fibre, share = RATES["fibre", "cut"], CHANCES["fibre", "whole route", "cut"]
    route = cut_rates(laid(cable("a", "north"), north=100))["route north"]
    wide = exp(hypot(log(fibre.error_factor), log(share.error_factor)))
    assert route.error_factor == pytest.approx(wide) and wide > fibre.error_factor
    assert route.source.startswith("placeholder") and share.source in route.source


def test_what_wears_shares_its_cumulative_hazard() -> None:
    own = OwnRate("cut", 1e-3, family="fibre", shape=2.0, age=500.0, source="ours")
    rig = laid(cable("a", "north"), rates=(own,), north=100)
    plain = cut_rates(replace(rig, things={"a": replace(rig.things["a"], routes=())}))
    assert plain == {}, "on no route: by its rate alone"
    found = {name: in_show(rate, HOURS) for name, rate in cut_rates(rig).items()}
    whole = 0.7853981634 * (0.503**2 - 0.5**2)
    assert sum(found.values()) == pytest.approx(whole, rel=1e-9)
    assert found["route north"] == pytest.approx(SHARE * whole, rel=1e-9)


# ---- in a show -----------------------------------------------------------------------------------


def seen(strike: Strike) -> bool:
    return False


def small(*rates: OwnRate) -> Rig:
    return replace(rig_of(replace(plan_for("crossed-relays"), length=SHOW)), rates=rates)


def hidden(strike: Strike) -> bool:
    return True


def cutting(rig: Rig, terms: Terms, unseen: object = seen) -> dict[str, list[Hazard]]:
    """By thing all hazards in which it is cut."""
    assert callable(unseen)
    found: dict[str, list[Hazard]] = {}
    for hazard in hazards(rig, terms, SHOW, unseen):
        for fault in (fault for strike in hazard.strikes for fault in strike.faults):
            if fault.mode == "cut":
                found.setdefault(fault.thing, []).append(hazard)
    return found


@pytest.mark.parametrize("cause", ["item", "never tested"])
def test_hazards_of_a_cable_add_up_to_its_rate(cause: str) -> None:
    """In the show by three hours; never tested by the 500 h of the placeholder."""
    hours = {"item": HOURS, "never tested": 500.0}[cause]
    rig = small(OwnRate("cut", 1e-5, family="fibre", source="ours"))
    cables = {t.name for t in rig.things.values() if t.family == "fibre" and t.routes}
    found = cutting(rig, Terms(), hidden)
    assert cables
    for name in cables:
        masses = [hazard.mass for hazard in found[name] if hazard.cause == cause]
        assert len(masses) == 1 + len(rig.things[name].routes)
        assert sum(masses) == pytest.approx(1e-5 * hours)


def test_load_in_damages_a_cable_once() -> None:
    rig = small(OwnRate("cut", 0.01, family="fibre", per="load-in", source="ours"))
    cables = [t for t in rig.things.values() if t.family == "fibre" and t.routes]
    found = cutting(rig, Terms(), hidden)
    assert cables
    for thing in cables:
        masses = [h.mass for h in found[thing.name] if h.key.endswith("load-in")]
        assert len(masses) == 1 + len(thing.routes)
        assert 1 - exp(-sum(masses)) == pytest.approx(0.01, rel=2e-3)


def test_a_route_of_a_stated_rate_counts_where_only_stated_ones_do() -> None:
    """Its share is a placeholder, and says so; what it is a share of is not."""
    rig = small(OwnRate("cut", 1e-5, family="fibre", source="ours"))
    found = {h.key: h for h in hazards(rig, Terms(stated_only=True), SHOW, seen)}
    route = found["route north cut"]
    assert route.guessed and route.mass == pytest.approx(SHARE * 3e-5)
    strike = next(strike for strike in strikes(rig) if strike.where == "route north")
    assert not strike.known and strike.rate == pytest.approx(SHARE * 1e-5)


# ---- as a scenario says it -----------------------------------------------------------------------


def of_first(said: str) -> dict[str, float]:
    """Cut rates of the shipped small rig with one more stated rate, by name."""
    text = Path("scenarios/first.yaml").read_text(encoding="utf-8")
    scenario = scenario_from(f"{text}\nrates: [{{{said}}}]\n")
    rig = rig_of_variant(scenario, scenario.offered["panel"])[1]
    assert rig is not None
    return {name: rate.value for name, rate in cut_rates(rig).items()}


@pytest.mark.parametrize(
    ("said", "taken"),
    [
        ("things: route left hand, mode: whole route, rate: 30 % per cut", 0.3),
        ("family: fibre, mode: whole route, rate: 100 % per cut", 1.0),
        ("type: fibre trunk, mode: whole route, rate: 0.05 per cut", 0.05),
        ("things: route right hand, mode: whole route, rate: 30 % per cut", SHARE),
    ],
)
def test_a_scenario_states_how_many_cuts_take_the_route(said: str, taken: float) -> None:
    found = of_first(said)
    assert found["route left hand"] == pytest.approx(taken * FIBRE)
    assert found["panel/trunk-main-1"] == pytest.approx((1 - taken) * FIBRE, abs=1e-15)


def test_none_at_all_may_be_said_of_routes_only() -> None:
    assert "route left hand" not in of_first("family: fibre, mode: whole route, rate: 0 % per cut")
    with pytest.raises(InputError, match="not above 0"):
        of_first("family: fibre, mode: cut, rate: 0 per h")


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("family: fibre, mode: whole route, rate: 1 per year", "whole route of a fibre per hour"),
        ("family: fibre, mode: cut, rate: 20 % per cut", "cut of a fibre per cut"),
        ("family: relay, mode: whole route, rate: 20 % per cut", "is no fault mode of a relay"),
        ("family: fibre, mode: whole route, rate: 120 % per cut", "is certain"),
    ],
)
def test_a_share_that_cannot_be_is_refused(said: str, found: str) -> None:
    with pytest.raises(InputError) as caught:
        of_first(said)
    [problem] = caught.value.problems
    assert found in problem.found and problem.allowed and problem.todo


@pytest.mark.parametrize("name", ["first", "river", "studio", "atrium"])
def test_every_cable_of_the_shipped_shows_is_cut_as_often_as_its_rate_says(name: str) -> None:
    scenario = load(f"scenarios/{name}.yaml")
    variant = scenario.offered[scenario.groups[0]]
    rig = rig_of_variant(scenario, variant)[1]
    assert rig is not None
    routed = [thing for thing in rig.things.values() if thing.routes and thing.family in CUT]
    for thing in routed:
        of = Subject(thing.name, thing.family, thing.kit, thing.length)
        rate = rate_of(rig.rates, of, "cut")
        assert rate is not None and total(rig, thing.name) == pytest.approx(rate.value)
    assert len(routed) > 5
