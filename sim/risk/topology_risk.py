"""Everything about the risk of one topology, from what was simulated.

In: a `Setting`, a `Sampling`, the place of a topology in it, its values at the ends of all timings.
Out: a frozen `TopologyRisk`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from math import fsum

from sim.reliability.riskmatrix import STANDARD, Matrix, with_edges
from sim.rig.bill import bill
from sim.risk.bands import bands, guessed
from sim.risk.curve import as_money, attributed, exceedance, once_in
from sim.risk.dues import Dues
from sim.risk.economics import borne, suppliers_of, worst_of
from sim.risk.hazards import CAUSES, Hazard
from sim.risk.helping import Night, helps_of
from sim.risk.piles import ANY, Sampling, alone
from sim.risk.prices import outlay_of, price_of
from sim.risk.recovery import recoveries, single_points
from sim.risk.register import notices, reach_counts, timings_stated
from sim.risk.results import Figure, StratumRow, TopologyRisk
from sim.risk.risks import Judged, bearing, hazards_here, risk_rows
from sim.risk.setting import Setting
from sim.risk.streams import Floats
from sim.risk.values import CHANCE, LOSS, SECONDS, Value
from sim.timebase import FLICKS

LEADING = ("wall", "clause", "defect", "dark", "loss")
"""What a report speaks of first, by the beginning of its key."""
MOST_LEADING = 4


def topology_risk(
    setting: Setting,
    of: Sampling,
    topology: int,
    nights: Sequence[Night],
    ends: tuple[Floats, Floats] | None,
) -> TopologyRisk:
    """One topology that can be built. `nights` of all of them, for what another would save."""
    contract = setting.scenario.terms.contract
    figures, judged = figures_of(of, topology, ends), _judged(setting, of, topology, nights)
    made = replace(
        _known(setting, of, topology),
        figures=tuple(figure for figure in figures if figure.key != LOSS),
        leading=leading(of.fields[topology].values, figures, nights[topology].dues),
        rows=risk_rows(judged),
        by_supplier=_suppliers(judged),
        helps=helps_of(setting, of, topology, nights),
    )
    dark = next(figure for figure in figures if figure.key == "dark time")
    seconds = of.fields[topology].gauge.length / FLICKS
    made = replace(made, availability=1 - dark.found.value / seconds)
    if contract is None:
        return made
    curve, night = exceedance(of, topology), nights[topology]
    shared = None if contract.cover is None else borne(curve, contract)
    expected = next(figure for figure in figures if figure.key == LOSS)
    made = replace(made, loss_expected=expected, loss_borne=shared)
    return _with_rare_losses(made, curve, worst_of(night.tally, night.alone)[0])


def _known(setting: Setting, of: Sampling, topology: int) -> TopologyRisk:
    """What needs no figures: what it is made of, what may strike, how it was worked out."""
    stage, here = setting.stages[topology], hazards_here(of, topology)
    made = bill(stage.plan, stage.rig, setting.group)
    return TopologyRisk(
        variant=stage.variant,
        bill=made,
        price=price_of(made),
        outlay=outlay_of(made, stage.rig.length),
        strata=strata(of),
        shows=of.shows,
        faults_per_show=sum(hazard.mass for hazard in here),
        causes=causes(here),
        timings=timings_stated(stage.rig, setting.scenario.assumptions),
        notices=notices(setting.scenario.terms),
        reach=reach_counts(stage.rig, setting.scenario.file),
        alike=alike(of, topology),
        single_points=single_points(of, topology),
        longest_recovery=recoveries(of, topology),
        unfinished=not of.finished,
    )


def _with_rare_losses(
    made: TopologyRisk, curve: tuple[tuple[Decimal, float], ...], worst: Decimal
) -> TopologyRisk:
    return replace(
        made,
        loss_100=once_in(100, curve),
        loss_1000=once_in(1000, curve),
        loss_worst=worst,
        exceedance=curve,
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


def leading(
    values: Sequence[Value], figures: Sequence[Figure], dues: Dues | None
) -> tuple[str, ...]:
    """Keys of the chances to name first: see `TopologyRisk`."""
    often = {figure.key: figure.found.value for figure in figures}
    chances = sorted((v for v in values if v.kind == CHANCE), key=lambda v: -often[v.key])
    walls = [v for v in chances if v.questions and v.clause < 0]
    longest = sorted(walls, key=lambda v: -v.time)[:1]
    clauses = [v for v in chances if v.clause >= 0]
    dearest = sorted(clauses, key=lambda v: -step_due(dues, v)) if dues else []
    order = [*chances[:1], *longest, *dearest, *chances]
    return tuple(dict.fromkeys(v.key for v in order))[:MOST_LEADING]


def step_due(dues: Dues, value: Value) -> Decimal:
    """What the step of a clause that a value speaks of costs."""
    place = dues.times[value.clause].index(value.time)
    return dues.amounts[value.clause][place + 1]


def alike(of: Sampling, topology: int) -> tuple[str, ...]:
    """The topologies that the same shows do not tell apart from one by what they are compared by:
    the interval of the difference holds 0.
    """
    keys = [value.key for value in of.fields[topology].values]
    column = keys.index(LOSS if LOSS in keys else "dark time")
    others = [n for n in range(len(of.fields)) if n != topology]
    found = {of.fields[n].label: of.paired(topology, n, column) for n in others}
    return tuple(label for label, each in found.items() if each.low <= 0 <= each.high)


def _judged(setting: Setting, of: Sampling, topology: int, nights: Sequence[Night]) -> Judged:
    labels = [field.label for field in of.fields]
    return Judged(
        of=of,
        topology=topology,
        rig=setting.stages[topology].rig,
        matrix=matrix_of(setting),
        contract=setting.scenario.terms.contract,
        means=alone(of, topology),
        parts=attributed(of, topology),
        bearing=bearing([night.dark for night in nights], topology, labels),
        alone_loss=nights[topology].alone,
    )


def matrix_of(setting: Setting) -> Matrix:
    """The risk matrix with the scenario's thresholds."""
    edges = setting.scenario.terms.edges
    return with_edges(edges, "risk.edges") if edges else STANDARD


def _suppliers(by: Judged) -> tuple[tuple[str, Decimal, float], ...]:
    """The parts of each supplier, the dearest first; what nobody is named for stands under ""."""
    keys = [value.key for value in by.field.values]
    sums: dict[str, list[float]] = {}
    for hazard, row in zip(by.of.union.hazards, by.parts, strict=True):
        owners = suppliers_of(hazard, by.rig) or ("",)
        for owner in owners:
            entry = sums.setdefault(owner, [0.0, 0.0])
            entry[0] += float(row[keys.index(LOSS)]) / len(owners) if LOSS in keys else 0.0
            entry[1] += float(row[keys.index("dark time")]) / len(owners)
    found = [(name, as_money(loss), dark) for name, (loss, dark) in sums.items() if loss or dark]
    return tuple(sorted(found, key=lambda part: (-part[1], -part[2], part[0])))


def causes(hazards: Sequence[Hazard]) -> tuple[tuple[str, float], ...]:
    """Each cause that there is, with the mean number of its strikes a show."""
    masses = {cause: [h.mass for h in hazards if h.cause == cause] for cause in CAUSES}
    return tuple((cause, fsum(of)) for cause, of in masses.items() if of)


def strata(of: Sampling) -> tuple[StratumRow, ...]:
    """How shows were worked out, by their number of faults."""
    found = [StratumRow("none", of.union.chance(0), "known", 0)]
    for pile in of.piles:
        faults = "any number" if pile.faults == ANY else str(pile.faults)
        found.append(StratumRow(faults, pile.chance, pile.method, pile.worked))
    if of.untold:
        found.append(StratumRow("1, others", of.untold, "bounded", 0))
    if of.rest:
        most = max((pile.faults for pile in of.piles), default=1)
        found.append(StratumRow(f"more than {most}", of.rest, "bounded", 0))
    return tuple(found)
