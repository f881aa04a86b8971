"""What one name in a scenario or a report means: its value, where it is from, what it moves.

In: a `Scenario` and an item: a timing (`relay unit.detect`), an equipment type, a thing, a route,
a circuit, a limit, the place of an assumption, or a word. Out: a frozen `Explanation`, or an
InputError that names the nearest items. Times are flicks, shares parts of a group's pixels.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from sim.faults import MODES
from sim.rig.bill import all_kits
from sim.rig.equipment import TYPES
from sim.rig.kit import Kit
from sim.rig.rates import KM, Subject, rate_of
from sim.rig.topology import Rig
from sim.scenario.kits import Assumption, kit_of, short_path
from sim.scenario.plan import plan_of
from sim.scenario.scenario import Scenario, Variant
from sim.study.alternatives import alternatives
from sim.study.contingency import Laboratory, singles
from sim.study.glossary import GLOSSARY, struck_by
from sim.study.item_names import Speaking, item_meant, no_item
from sim.study.points import single_points
from sim.study.promises import verdicts
from sim.study.reasons import Reasons
from sim.study.rows import rows
from sim.study.strikes import Strike, strikes
from sim.study.study import rig_of
from sim.study.swings import swing
from sim.study.told import (
    AssumptionTold,
    Explanation,
    FigureTold,
    LimitTold,
    Outcomes,
    PlaceTold,
    RateTold,
    ThingTold,
    TimingTold,
    Told,
    TypeTold,
    WordTold,
)

__all__ = ["Explanation", "explain"]


def explain(scenario: Scenario, item: str, speaking: Speaking = lambda rig: {}) -> Explanation:
    """Explain an item; `speaking` gives the other names by which things are known. Raises
    InputError with the nearest names if there is none of that name, with all if there are several.
    """
    name = " ".join(item.split())
    found = next(_meanings(scenario, name), None)
    if found is None:
        rigs = (rig for offered in (True, False) for rig, _ in _rigs(scenario, offered))
        meant = item_meant(name, rigs, speaking, _labels(scenario))
        found = next(_meanings(scenario, meant), None) if meant else None
    if found is None:
        raise no_item(name, _names(scenario))
    return found


def _labels(scenario: Scenario) -> dict[str, list[str]]:
    """The labels of each group's limits, in the order in which reports count them."""
    found = {}
    for rig, variants in _rigs(scenario, offered=True):
        for variant in variants:
            judged = verdicts(scenario.limits, Laboratory(rig, variant.group).canvas, ())
            found[variant.group] = [verdict.limit.label for verdict in judged]
    return found


def _meanings(scenario: Scenario, name: str) -> Iterator[Explanation]:
    """What the name can mean, the first meaning first: in the rig offered, anywhere, in others."""
    offered = tuple(scenario.offered.values())
    rig = next((rig for rig, _ in _rigs(scenario, offered=True)), None)
    for kind, told in _in_rig(rig, offered, name) if rig else ():
        yield Explanation(scenario, name, kind, told, offered)
    for kind, told in _anywhere(scenario, rig, offered, name):
        yield Explanation(scenario, name, kind, told, offered)
    for other, variants in _rigs(scenario, offered=False):
        for kind, told in _in_rig(other, variants, name):
            yield Explanation(scenario, name, kind, told, variants)
    for kind, told in _unused(scenario, name):
        yield Explanation(scenario, name, kind, told, offered)


def _rigs(scenario: Scenario, offered: bool) -> Iterator[tuple[Rig, tuple[Variant, ...]]]:
    """The rig offered, or those with one group varied; one that cannot be built is left out."""
    usual = scenario.offered
    choices = [v for group in scenario.groups for v in scenario.variants(group)[1:]]
    for choice in [usual[scenario.groups[0]]] if offered else choices:
        _, rig, _ = rig_of(scenario, choice)
        if rig is not None:
            yield rig, tuple({**usual, choice.group: choice}.values())


def _in_rig(rig: Rig, variants: tuple[Variant, ...], name: str) -> Iterator[tuple[str, Told]]:
    """A timing, a thing, a circuit, a route of this rig."""
    key, route = short_path(name), name.removeprefix("route ")
    if key in rig.timings:
        yield "timing", _timing(rig, variants, key)
    if name in rig.things:
        kind = "circuit" if rig.things[name].family == "circuit" else "thing"
        yield kind, _thing(rig, variants, name)
    if route in {r for thing in rig.things.values() for r in thing.routes}:
        yield "route", _route(rig, variants, route)


def _anywhere(
    scenario: Scenario, rig: Rig | None, variants: tuple[Variant, ...], name: str
) -> Iterator[tuple[str, Told]]:
    """An equipment type, a limit, a word."""
    kit = _kit(scenario, name)
    if kit is not None:
        yield "equipment type", _type(scenario, rig, kit)
    if rig is not None and any(limit.label == name for limit in scenario.limits):
        yield "limit", _limit(scenario, rig, variants, name)
    word = name.lower()
    if word in GLOSSARY:
        yield "word", WordTold(word, GLOSSARY[word], struck_by(word))


def _unused(scenario: Scenario, name: str) -> Iterator[tuple[str, Told]]:
    """An assumption, or a field of a type, that no rig has as a timing."""
    key = short_path(name)
    for assumption in scenario.assumptions:
        if key in (assumption.path, short_path(assumption.path)):
            yield "assumption", _assumed(scenario, assumption)
    yield from _of_type(scenario, key)


def _assumed(scenario: Scenario, assumption: Assumption) -> Told:
    """A timing as it is; anything else with what other values would change."""
    before, _, field = short_path(assumption.path).rpartition(".")
    kit = _kit(scenario, before) if assumption.path.startswith("equipment.") else None
    if kit is not None and field in kit.timings:
        return assumption
    return AssumptionTold(assumption, alternatives(scenario, assumption))


# ---- timings and types


def _timing(rig: Rig, variants: tuple[Variant, ...], key: str) -> TimingTold:
    return TimingTold(
        key=key,
        timing=rig.timings[key],
        users=len(set(_users(rig, key))),
        swings=tuple(swing(Laboratory(rig, v.group), key) for v in variants),
    )


def _users(rig: Rig, key: str) -> Iterator[str]:
    """The things that have a timing: their own, or one of their nodes'."""
    for thing in rig.things.values():
        if key in (thing.start, thing.hold_up):
            yield thing.name
    for node in rig.nodes.values():
        held = [node, getattr(node, "selector", None)]
        if any(key in _texts(each) for each in held if each is not None):
            yield node.thing


TIMED = (
    "detect", "hold_off", "switch", "wait_to_restore", "keeps_last", "notice", "holdover",
    "relock", "relock_glitch",
)  # fmt: skip


def _texts(held: object) -> list[str]:
    return [getattr(held, field, "") for field in TIMED]


def _kit(scenario: Scenario, name: str) -> Kit | None:
    """The equipment type of this name, in use or not."""
    used = {kit.name: kit for kit in all_kits(plan_of(scenario))}
    if name in used:
        return used[name]
    if name in TYPES or name in scenario.file.equipment:
        return kit_of(name, scenario.file.equipment, scenario.rate, (1, 1))
    return None


def _of_type(scenario: Scenario, name: str) -> Iterator[tuple[str, Told]]:
    """A field of an equipment type: a timing that nothing here uses, or a figure that is said."""
    before, _, field = name.rpartition(".")
    kit = _kit(scenario, before) if before else None
    if kit is None:
        return
    if field in kit.timings:
        yield "timing", TimingTold(name, kit.timings[field], 0, ())
    for holder in (kit.limits, kit.optics, kit):
        value = getattr(holder, field, None)
        if isinstance(value, int | Fraction | str) and not field.startswith("_"):
            yield "figure", FigureTold(before, field, str(value))


def _type(scenario: Scenario, rig: Rig | None, kit: Kit) -> TypeTold:
    before = f"equipment.{kit.name}."
    entry = scenario.file.equipment.get(kit.name)
    things = rig.things.values() if rig else ()
    own = plan_of(scenario).rates
    return TypeTold(
        kit=kit,
        like=(entry.like,) if entry and entry.like else (),
        things=tuple(thing.name for thing in things if thing.kit == kit.name),
        assumptions=tuple(a for a in scenario.assumptions if a.path.startswith(before)),
        rates=tuple(
            RateTold(mode, rate.per_hour, rate.error_factor, rate.source, rate.own)
            for mode in MODES[kit.family]
            if (rate := rate_of(own, Subject("", kit.family, kit.name, KM), mode))
        ),
    )


# ---- things, routes, circuits, limits


def _thing(rig: Rig, variants: tuple[Variant, ...], name: str) -> ThingTold:
    thing = rig.things[name]
    own = {node.name for node in rig.nodes.values() if node.thing == name}
    above = [rig.nodes[i].thing for n in own for i in rig.nodes[n].reads if i not in own]
    below = [n.thing for n in rig.nodes.values() if n.name not in own and own & set(n.reads)]
    powers = [other.name for other in rig.things.values() if name in other.powered_by]
    return ThingTold(
        name=name,
        family=thing.family,
        kit=thing.kit,
        supplier=thing.supplier,
        place=thing.place,
        monitored=thing.monitored,
        powered_by=thing.powered_by,
        takes_from=tuple(sorted({*above} - {name})),
        feeds=tuple(sorted({*below} - {name})),
        powers=tuple(powers),
        routes=thing.routes,
        outcomes=_outcomes(rig, variants, [s for s in strikes(rig) if _on(rig, s) == name]),
    )


def _on(rig: Rig, strike: Strike) -> str:
    """The thing that a strike is about: a wrong choice is one of the thing that chooses."""
    node = rig.nodes.get(strike.where)
    return node.thing if node is not None else strike.where


def _route(rig: Rig, variants: tuple[Variant, ...], route: str) -> PlaceTold:
    things = tuple(thing.name for thing in rig.things.values() if route in thing.routes)
    struck = [s for s in strikes(rig) if s.where == f"route {route}"]
    return PlaceTold(route, things, _outcomes(rig, variants, struck))


def _outcomes(
    rig: Rig, variants: tuple[Variant, ...], struck: list[Strike]
) -> tuple[Outcomes, ...]:
    """What these strikes do in each group that can notice them."""
    found = []
    for variant in variants:
        laboratory = Laboratory(rig, variant.group)
        made = singles(laboratory, struck)
        if made:
            reasons = Reasons(rig, laboratory.group, laboratory.wiring)
            points, spoilers = single_points(laboratory, made, reasons)
            told = rows(made, laboratory.canvas.area, rig.length, rig.timings)
            found.append(Outcomes(variant.group, variant, told, (*points, *spoilers)))
    return tuple(found)


def _limit(scenario: Scenario, rig: Rig, variants: tuple[Variant, ...], label: str) -> LimitTold:
    meant = [limit for limit in scenario.limits if limit.label == label]
    found = []
    for variant in variants:
        laboratory = Laboratory(rig, variant.group)
        if verdicts(meant, laboratory.canvas, ()):
            made = singles(laboratory, strikes(rig))
            judged = verdicts(meant, laboratory.canvas, made)
            found += [(variant.group, variant, verdict) for verdict in judged]
    return LimitTold(label, tuple(found))


# ---- nothing of that name


def _names(scenario: Scenario) -> Iterator[str]:
    for rig, _ in (*_rigs(scenario, offered=True), *_rigs(scenario, offered=False)):
        yield from rig.things
        yield from rig.timings
        yield from (route for thing in rig.things.values() for route in thing.routes)
    yield from TYPES
    yield from scenario.file.equipment
    yield from (limit.label for limit in scenario.limits)
    yield from (assumption.path for assumption in scenario.assumptions)
    yield from GLOSSARY
