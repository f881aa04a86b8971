"""Everything about the risk of one topology, from what was simulated.

In: a `Setting`, a `Sampling`, the place of a topology in it, its values at the ends of all timings.
Out: a frozen `TopologyRisk`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sim.reliability.riskmatrix import STANDARD, Matrix, with_edges
from sim.rig.bill import bill
from sim.risk.bands import bands, guessed
from sim.risk.channels import DARK
from sim.risk.dues import Dues, dues_of
from sim.risk.economics import by_supplier, losses_of, suppliers_of
from sim.risk.field import Field
from sim.risk.gathered import alone_of, nights_of, pairs_of
from sim.risk.helps import Guard, Option, guards_by_spare, guards_by_test, helps
from sim.risk.nights import Tally, tally
from sim.risk.piles import ANY, Sampling, alone
from sim.risk.prices import kits_struck, price_between, price_of
from sim.risk.results import Figure, Help, StratumRow, TopologyRisk
from sim.risk.risks import Judged, bearing, hazards_here, lasting_alone, risk_rows
from sim.risk.setting import Setting
from sim.risk.streams import Floats
from sim.risk.values import LOSS, SECONDS
from sim.timebase import FLICKS

LEADING = ("wall", "clause", "defect", "dark", "loss")
"""What a report speaks of first, by the beginning of its key."""
MOST_RECOVERIES = 5


@dataclass(frozen=True)
class Night:
    """The nights of one topology added up, with what the contract asks."""

    dues: Dues | None
    tally: Tally
    alone: dict[int, Decimal]


def gathered(setting: Setting, of: Sampling, topology: int) -> Night:
    """All nights of a topology."""
    contract = setting.scenario.terms.contract
    pairs = pairs_of(of.fields[topology].gauge.asked)
    dues = dues_of(contract, pairs) if contract else None
    found = list(nights_of(of, topology))
    return Night(dues, tally(found, dues), alone_of(found, dues) if dues else {})


def topology_risk(
    setting: Setting,
    of: Sampling,
    topology: int,
    nights: Sequence[Night],
    ends: tuple[Floats, Floats] | None,
) -> TopologyRisk:
    """One topology that can be built. `nights` of all of them, for what another would save."""
    stage, field, night = setting.stages[topology], of.fields[topology], nights[topology]
    contract = setting.scenario.terms.contract
    made = bill(stage.plan, stage.rig, setting.group)
    figures = figures_of(of, topology, ends)
    dark = next(figure for figure in figures if figure.key == "dark time")
    seconds = field.gauge.length / FLICKS
    common = {
        "variant": stage.variant,
        "bill": made,
        "price": price_of(made),
        "figures": tuple(figure for figure in figures if figure.key != LOSS),
        "rows": risk_rows(_judged(setting, of, topology, night)),
        "helps": helps_of(setting, of, topology, nights),
        "strata": strata(of),
        "shows": of.shows,
        "faults_per_show": sum(hazard.mass for hazard in hazards_here(of, topology)),
        "single_points": lasting_alone(of, topology),
        "longest_recovery": recoveries(of, topology),
        "availability": 1 - dark.found.value / seconds,
        "unfinished": not of.finished,
        "by_supplier": _suppliers(of, topology, setting, night),
    }
    if contract is None:
        return TopologyRisk(**common)  # type: ignore[arg-type]
    losses = losses_of(night.tally, of.union.hazards, contract, night.alone)
    return TopologyRisk(
        **common,  # type: ignore[arg-type]
        loss_expected=next(figure for figure in figures if figure.key == LOSS),
        loss_100=losses.once_in_100,
        loss_1000=losses.once_in_1000,
        loss_worst=losses.worst,
        exceedance=tuple((rung.loss, rung.more) for rung in losses.rungs),
    )


def figures_of(
    of: Sampling, topology: int, ends: tuple[Floats, Floats] | None
) -> tuple[Figure, ...]:
    """Every value with interval and band, what a report speaks of first in front."""
    field = of.fields[topology]
    spread, parts = bands(of, topology, ends), guessed(of, topology)
    made = [
        Figure(value.key, value.name, value.kind, of.estimate(topology, n), parts[n], spread[n])
        for n, value in enumerate(field.values)
    ]
    return tuple(sorted(made, key=_rank))


def _rank(figure: Figure) -> int:
    first = figure.key.split(" ")[0]
    if figure.kind == SECONDS or figure.key == "frames":
        return len(LEADING)
    return LEADING.index(first) if first in LEADING else len(LEADING)


def _judged(setting: Setting, of: Sampling, topology: int, night: Night) -> Judged:
    labels = [field.label for field in of.fields]
    return Judged(
        of=of,
        topology=topology,
        rig=setting.stages[topology].rig,
        tally=night.tally,
        matrix=matrix_of(setting),
        contract=setting.scenario.terms.contract,
        means=alone(of, topology),
        bearing=bearing(of, topology, labels),
        alone_loss=night.alone,
    )


def matrix_of(setting: Setting) -> Matrix:
    """The risk matrix with the scenario's thresholds."""
    edges = setting.scenario.terms.edges
    return with_edges(edges, "risk.edges") if edges else STANDARD


def _suppliers(
    of: Sampling, topology: int, setting: Setting, night: Night
) -> tuple[tuple[str, Decimal, float], ...]:
    rig = setting.stages[topology].rig
    owners = [suppliers_of(hazard, rig) for hazard in of.union.hazards]
    parts = by_supplier(night.tally, of.union.hazards, owners)
    return tuple((part.name, part.loss or Decimal(0), part.dark) for part in parts)


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
        there, tally_of = bill(stage.plan, stage.rig, setting.group), nights[number].tally
        loss = _money(tally_of.expected) if nights[number].dues else None
        what = f"topology {stage.variant.label}"
        options.append(Option(what, loss, tally_of.dark, price_between(there, here)))
    guards: list[Guard] = [*guards_by_test(of.union.hazards)]
    if crew is not None:
        used = [kits_struck(hazard, rig) for hazard in of.union.hazards]
        guards += guards_by_spare(used, crew.spares, {})
    return helps(nights[topology].tally, options, guards)


def _money(amount: Fraction) -> Decimal:
    return Decimal(round(amount * 1_000_000)) / 1_000_000


def strata(of: Sampling) -> tuple[StratumRow, ...]:
    """How shows were worked out, by their number of faults."""
    found = [StratumRow("none", of.union.chance(0), "known", 0)]
    for pile in of.piles:
        shows = 0 if pile.exact else len(pile.shows)
        faults = "any number" if pile.faults == ANY else str(pile.faults)
        found.append(StratumRow(faults, pile.chance, pile.method, shows))
    if of.rest:
        found.append(StratumRow(f"more than {of.piles[-1].faults}", of.rest, "bounded", 0))
    return tuple(found)


def recoveries(of: Sampling, topology: int) -> tuple[tuple[str, str], ...]:
    """The faults that stay dark longest although something takes over, longest first."""
    field = of.fields[topology]
    found: dict[str, float] = {}
    for place, hazard in enumerate(of.union.hazards):
        number = field.local[place]
        if number < 0 or hazard.early or not field.scenes.strikes[number].faults:
            continue
        strike = hazard.strikes[0]
        name = f"{strike.role} {strike.mode}"
        found[name] = max(found.get(name, 0.0), _recovers(field, number))
    longest = sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple(
        (name, f"{seconds:.3g} s" if seconds != float("inf") else "not before the end of the show")
        for name, seconds in longest[:MOST_RECOVERIES]
        if seconds
    )


def _recovers(field: Field, number: int) -> float:
    """Seconds until nothing is dark any more, nobody mending anything."""
    if not field.scenes.concerned[number]:
        return 0.0
    made = field.scenes.alone(number)
    if made.repeat is not None or made.steps[-1][1][DARK]:
        dark = any(areas[DARK] for _, areas in made.steps)
        return float("inf") if dark else 0.0
    ends = [
        after
        for (_, areas), (after, _) in zip(made.steps, made.steps[1:], strict=False)
        if areas[DARK]
    ]
    return max(ends, default=0) / FLICKS
