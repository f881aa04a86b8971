"""The topologies of a group made ready for simulation.

In: a `Scenario`, the name of a group, variants. Out: a frozen `Setting`: a `Field` for each
topology that can be built, with the `Union` of their hazards, and why the others cannot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sim.executing import Known
from sim.rig.plan import ShowPlan
from sim.rig.topology import Rig, corner
from sim.risk.field import Field, localised
from sim.risk.hazards import Hazard, hazards, position
from sim.risk.mending import mending, place_of
from sim.risk.scenes import Scenes
from sim.risk.shows import Union, union_of
from sim.risk.stretches import Gauge, moments
from sim.risk.values import values_of
from sim.scenario.scenario import Scenario, Variant
from sim.study.contingency import Laboratory
from sim.study.strikes import Strike
from sim.study.study import rig_of


@dataclass(frozen=True)
class Stage:
    """One topology that can be built, before it knows of the others."""

    variant: Variant
    plan: ShowPlan
    rig: Rig
    hazards: tuple[Hazard, ...]


@dataclass(frozen=True)
class Setting:
    """`stages` and `fields` belong together, in the order of the variants; `reasons`: why a variant
    (by label) cannot be built. `known`: how another process makes the same.
    """

    scenario: Scenario
    group: str
    stages: tuple[Stage, ...]
    fields: tuple[Field, ...]
    union: Union
    reasons: Mapping[str, tuple[str, ...]]
    known: Known[Setting]


@dataclass(frozen=True, slots=True)
class Meant:
    """What `setting` was asked for."""

    scenario: Scenario
    group: str
    variants: tuple[Variant, ...]
    plain: bool


def settle(of: Meant) -> Setting:
    """The same setting in another process."""
    return setting(of.scenario, of.group, of.variants, of.plain)


def setting(
    scenario: Scenario, group: str, variants: Sequence[Variant], plain: bool = False
) -> Setting:
    """Everything that a simulation needs. `plain`: as theory has it: nobody mends anything before
    the end, whatever is called on changes over, no loose contact came so to the show, and nothing
    strikes at some times of it rather than at others.
    """
    stages, reasons = [], {}
    for variant in variants:
        plan, rig, unfit = rig_of(scenario, variant)
        if rig is None:
            reasons[variant.label] = unfit
        else:
            found = [h for h in _hazards(scenario, group, rig) if not plain or _compared(h)]
            stages.append(Stage(variant, plan, rig, tuple(found)))
    union = union_of([stage.hazards for stage in stages])
    fields = tuple(field_of(scenario, group, stage, union, plain) for stage in stages)
    known = Known(settle, Meant(scenario, group, tuple(variants), plain))
    return Setting(scenario, group, tuple(stages), fields, union, reasons, known)


def _compared(hazard: Hazard) -> bool:
    """Whether theory knows such a hazard."""
    flaps = any(strike.mode == "flapping" for strike in hazard.strikes)
    ages = hazard.shape != 1 and not hazard.early
    return not hazard.failing and not (hazard.early and flaps) and not ages


def _hazards(scenario: Scenario, group: str, rig: Rig) -> tuple[Hazard, ...]:
    """All hazards that anything of the group can notice."""
    laboratory = Laboratory(rig, group, {"typical": corner(rig, "typical")})

    def unseen(strike: Strike) -> bool:
        return not laboratory.effect(strike.faults, "typical").seen

    found = hazards(rig, scenario.terms, rig.length, unseen)
    return tuple(hazard for hazard in found if _concerns(laboratory, hazard))


def _concerns(laboratory: Laboratory, hazard: Hazard) -> bool:
    if hazard.failing:
        nodes = laboratory.wiring.selector_node
        things = {laboratory.wiring.nodes[nodes[name]].thing for name in hazard.failing}
        return not laboratory.above.isdisjoint(things)
    return any(laboratory.concerns(strike) for strike in hazard.strikes)


def field_of(
    scenario: Scenario, group: str, stage: Stage, union: Union, plain: bool, which: str = "typical"
) -> Field:
    """A topology ready for shows. `which`: where in their ranges all timings lie."""
    rig, terms = stage.rig, scenario.terms
    scenes = Scenes(rig, group, stage.hazards, terms, corner(rig, which))
    whole = rig.length // rig.frame * rig.frame
    gauge = Gauge(scenes.asked, rig.frame, whole, moments(terms.weights))
    reach = {name: place.reach for name, place in scenario.file.places.items()}
    routes = scenario.file.routes
    placed = {t.name: replace(t, place=place_of(t, routes)) for t in rig.things.values()}
    crew = None if plain else terms.crew
    of = mending(scenes, replace(rig, things=placed), crew, scenario.breaks, reach)

    def place(number: int, u: float) -> int:
        return position(stage.hazards[number], u, whole)

    return Field(
        label=stage.variant.label,
        scenes=scenes,
        gauge=gauge,
        values=values_of(gauge, terms),
        terms=terms,
        local=localised(union, scenes),
        place=place,
        endings=of.endings,
        mends=crew is not None,
    )
