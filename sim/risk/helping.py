"""What would help a topology most: another one, one more test, one more spare, a second way.

In: a `Setting`, a `Sampling`, the place of a topology, the nights of all (`Night`). Out: `Help`s,
what saves most first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sim.rig.bill import bill
from sim.risk.bands import Kind
from sim.risk.dues import Dues, dues_of
from sim.risk.gathered import alone_of, nights_of
from sim.risk.helps import (
    Guard,
    Option,
    guards_by_protection,
    guards_by_spare,
    guards_by_test,
    helps,
)
from sim.risk.mending import place_of
from sim.risk.nights import Tally, tally
from sim.risk.piles import Sampling
from sim.risk.prices import kits_struck, price_between
from sim.risk.register import DURING
from sim.risk.results import Help
from sim.risk.risks import dark_by_kind
from sim.risk.setting import Setting
from sim.risk.values import LOSS, pairs_of


@dataclass(frozen=True)
class Night:
    """The nights of one topology added up, with what the contract asks, and what each kind of
    hazard makes dark by itself.
    """

    dues: Dues | None
    tally: Tally
    alone: dict[int, Decimal]
    dark: dict[Kind, float]


def gathered(setting: Setting, of: Sampling, topology: int) -> Night:
    """All nights of a topology."""
    contract = setting.scenario.terms.contract
    pairs = pairs_of(of.fields[topology].gauge.asked)
    dues = dues_of(contract, pairs) if contract else None
    found = list(nights_of(of, topology))
    costs = alone_of(found, dues) if dues else {}
    return Night(dues, tally(found, dues), costs, dark_by_kind(of, topology))


def helps_of(
    setting: Setting, of: Sampling, topology: int, nights: Sequence[Night]
) -> tuple[Help, ...]:
    """What another topology, one more test, one more spare would save."""
    own, rig = setting.stages[topology], setting.stages[topology].rig
    here, crew = bill(own.plan, rig, setting.group), setting.scenario.terms.crew
    options = []
    for number, stage in enumerate(setting.stages):
        if number == topology:
            continue
        there, tallied = bill(stage.plan, stage.rig, setting.group), nights[topology].tally
        saved = _saved(of, topology, number)
        if not any(saved):
            continue
        loss = _money(tallied.expected - Fraction(saved[0])) if nights[number].dues else None
        options.append(
            Option(stage.variant.label, loss, tallied.dark - saved[1], price_between(there, here))
        )
    hazards = of.union.hazards
    guards: list[Guard] = [*guards_by_test(hazards), *guards_by_protection(hazards)]
    if crew is not None:
        used = [kits_struck(hazard, rig) for hazard in of.union.hazards]
        near = reachable_kits(setting, topology)
        mendable = [{kit: n for kit, n in each.items() if kit in near} for each in used]
        guards += guards_by_spare(mendable, crew.spares, {})
    return helps(nights[topology].tally, options, guards)


def reachable_kits(setting: Setting, topology: int) -> frozenset[str]:
    """The types of which some thing can be reached during the show."""
    file, rig = setting.scenario.file, setting.stages[topology].rig
    reach = {name: place.reach for name, place in file.places.items()}
    near = [t.kit for t in rig.things.values() if reach.get(place_of(t, file.routes)) in DURING]
    return frozenset(near)


def _saved(of: Sampling, topology: int, other: int) -> tuple[float, float]:
    """Loss and dark time that another topology saves, as far as the same shows tell it: 0 where
    the interval of the difference holds 0.
    """
    keys = [value.key for value in of.fields[topology].values]
    found = []
    for key in (LOSS, "dark time"):
        told = of.paired(topology, other, keys.index(key)) if key in keys else None
        found.append(told.value if told is not None and told.low > 0 else 0.0)
    return found[0], found[1]


def _money(amount: Fraction) -> Decimal:
    return Decimal(round(amount * 1_000_000)) / 1_000_000
