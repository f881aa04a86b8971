"""Everything about the risk of one topology, from what was simulated.

In: a `Setting`, a `Sampling`, the place of a topology in it, its values at the ends of all timings.
Out: a frozen `TopologyRisk`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import fsum

from sim.reliability.riskmatrix import STANDARD, Matrix, with_edges
from sim.rig.bill import bill
from sim.rig.terms import Contract
from sim.risk.bands import Kind, bands, guessed
from sim.risk.curve import as_money, attributed, exceedance, once_in
from sim.risk.dues import Dues, dues_of
from sim.risk.economics import suppliers_of, worst_of
from sim.risk.gathered import alone_of, nights_of, pairs_of
from sim.risk.hazards import CAUSES, Hazard
from sim.risk.helps import Guard, Option, guards_by_spare, guards_by_test, helps
from sim.risk.mending import place_of
from sim.risk.nights import Tally, tally
from sim.risk.piles import ANY, Sampling, alone
from sim.risk.prices import kits_struck, price_between, price_of
from sim.risk.recovery import recoveries, single_points
from sim.risk.results import Figure, Help, StratumRow, TopologyRisk
from sim.risk.risks import Judged, bearing, dark_by_kind, hazards_here, risk_rows
from sim.risk.setting import Setting
from sim.risk.streams import Floats
from sim.risk.values import CHANCE, LOSS, SECONDS, Value, due_of
from sim.timebase import FLICKS

LEADING = ("wall", "clause", "defect", "dark", "loss")
"""What a report speaks of first, by the beginning of its key."""
MOST_LEADING = 4
DURING = ("always", "in breaks")


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
    seconds, judged = field.gauge.length / FLICKS, _judged(setting, of, topology, nights)
    common = {
        "variant": stage.variant,
        "bill": made,
        "price": price_of(made),
        "figures": tuple(figure for figure in figures if figure.key != LOSS),
        "leading": leading(field.values, figures, contract),
        "alike": alike(of, topology),
        "rows": risk_rows(judged),
        "helps": helps_of(setting, of, topology, nights),
        "strata": strata(of),
        "shows": of.shows,
        "faults_per_show": sum(hazard.mass for hazard in hazards_here(of, topology)),
        "causes": causes(hazards_here(of, topology)),
        "single_points": single_points(of, topology),
        "longest_recovery": recoveries(of, topology),
        "availability": 1 - dark.found.value / seconds,
        "unfinished": not of.finished,
        "by_supplier": _suppliers(judged),
    }
    if contract is None:
        return TopologyRisk(**common)  # type: ignore[arg-type]
    worst, _ = worst_of(night.tally, night.alone)
    expected = next(figure for figure in figures if figure.key == LOSS)
    made_so_far = TopologyRisk(**common)  # type: ignore[arg-type]
    return _with_losses(made_so_far, expected, exceedance(of, topology), worst)


def _with_losses(
    made: TopologyRisk, expected: Figure, curve: tuple[tuple[Decimal, float], ...], worst: Decimal
) -> TopologyRisk:
    return replace(
        made,
        loss_expected=expected,
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
    values: Sequence[Value], figures: Sequence[Figure], contract: Contract | None
) -> tuple[str, ...]:
    """Keys of the chances to name first: see `TopologyRisk`."""
    often = {figure.key: figure.found.value for figure in figures}
    chances = sorted((v for v in values if v.kind == CHANCE), key=lambda v: -often[v.key])
    walls = [v for v in chances if v.questions and v.clause < 0]
    longest = sorted(walls, key=lambda v: -v.time)[:1]
    clauses = [v for v in chances if v.clause >= 0]
    dearest = sorted(clauses, key=lambda v: -step_due(contract, v)) if contract else []
    order = [*chances[:1], *longest, *dearest, *chances]
    return tuple(dict.fromkeys(v.key for v in order))[:MOST_LEADING]


def step_due(contract: Contract, value: Value) -> Fraction:
    """What the step of a clause that a value speaks of costs."""
    step = contract.clauses[value.clause].steps[value.step]
    return due_of(contract, step.share, step.amount)


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
        what = f"topology {stage.variant.label}"
        options.append(Option(what, loss, tallied.dark - saved[1], price_between(there, here)))
    guards: list[Guard] = [*guards_by_test(of.union.hazards)]
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


def causes(hazards: Sequence[Hazard]) -> tuple[tuple[str, float], ...]:
    """Each cause that there is, with the mean number of its strikes a show."""
    masses = {cause: [h.mass for h in hazards if h.cause == cause] for cause in CAUSES}
    return tuple((cause, fsum(of)) for cause, of in masses.items() if of)


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
