"""The risks of one topology: like hazards together, with what each costs and what would help.

In: a `Sampling`, the place of a topology, its nights added up, what it means where a help comes
from. Out: `RiskRow`s, the gravest first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import exp

from sim.reliability.riskmatrix import Matrix
from sim.rig.terms import Contract
from sim.rig.topology import Rig
from sim.risk.bands import Kind, by_kind, name_of_kind
from sim.risk.curve import as_money
from sim.risk.economics import suppliers_of
from sim.risk.field import Field
from sim.risk.hazards import Hazard
from sim.risk.piles import Sampling, alone
from sim.risk.reaching import chances
from sim.risk.recovery import sight
from sim.risk.results import RiskRow
from sim.risk.severity import gravest
from sim.risk.streams import Floats

DEFECT_VALUE, DARK_VALUE = 0, 2
HELPS: Mapping[str, str] = {
    "never tested": "test it before the show",
    "on demand": "make it change over once before the show",
    "load-in": "check every line at the line check",
    "person": "lock the choice; a second pair of eyes",
    "shared cause": "keep supply and settings apart",
}
"""By cause; what fails by itself is helped by a topology that bears it, or by a spare."""


@dataclass(frozen=True)
class Judged:
    """One topology with all that its rows are judged by. `means`: of single hazards (`alone`);
    `parts`: what each hazard has of every value (`attributed`); `bearing`: for each kind of hazard
    a topology in which it makes far less dark; `alone_loss`: for each hazard the most that it alone
    cost.
    """

    of: Sampling
    topology: int
    rig: Rig
    matrix: Matrix
    contract: Contract | None
    means: Floats
    parts: Floats
    bearing: Mapping[Kind, str]
    alone_loss: Mapping[int, Decimal]

    @property
    def field(self) -> Field:
        return self.of.fields[self.topology]


def risk_rows(by: Judged) -> tuple[RiskRow, ...]:
    """All kinds of hazards that this topology has."""
    here = {
        kind: [place for place in all_of if by.field.local[place] >= 0]
        for kind, all_of in by_kind(by.of.union.hazards).items()
    }
    kinds = {kind: places for kind, places in here.items() if places}
    fee = by.contract.fee if by.contract else None
    reaching = chances(by.of, by.topology, fee, list(kinds.values())).tolist()
    pairs = zip(kinds.items(), reaching, strict=True)
    rows = [_row(by, kind, places, reaches) for (kind, places), reaches in pairs]
    return tuple(sorted(rows, key=_gravity))


def _gravity(row: RiskRow) -> tuple[Decimal, float, float, str]:
    return -(row.loss or Decimal(0)), -row.dark, -row.defect, row.name


def _row(by: Judged, kind: Kind, places: Sequence[int], reaches: Sequence[float]) -> RiskRow:
    hazards = [by.of.union.hazards[place] for place in places]
    masses, parts = [hazard.mass for hazard in hazards], by.parts[list(places)].sum(axis=0)
    mass, sums = sum(masses), masses @ by.means[list(places)]
    worst = max((by.alone_loss.get(place, Decimal(0)) for place in places), default=Decimal(0))
    darkest = max(places, key=lambda n: (by.means[n, DARK_VALUE], by.means[n, DEFECT_VALUE]))
    severity, level = gravest(by.matrix, reaches)
    return RiskRow(
        name=name_of_kind(kind),
        cause=kind[2],
        count=len(places),
        suppliers=tuple(sorted({s for h in hazards for s in suppliers_of(h, by.rig)})),
        mass=mass,
        defect=1 - exp(-float(sums[DEFECT_VALUE])),
        dark=max(float(parts[DARK_VALUE]), 0.0),
        guessed=sum(h.mass for h in hazards if h.guessed) / mass,
        seen=sight(by.field, by.field.local[darkest]),
        helps=HELPS.get(kind[2]) or by.bearing.get(kind) or _mends(kind),
        loss=as_money(float(parts[-1])) if by.contract else None,
        worst=worst if by.contract else None,
        reaches=tuple(reaches),
        severity=severity,
        level=level,
    )


def _mends(kind: Kind) -> str:
    if kind[1] == "tripped":
        return "a second circuit; a qualified person to reset it"
    if kind[0].startswith("route "):
        return "a second route"
    return "a spare, and somebody who fits it"


def dark_by_kind(of: Sampling, topology: int) -> dict[Kind, float]:
    """Wall-seconds a show that each kind of hazard makes dark by itself in a topology."""
    means = alone(of, topology)[:, DARK_VALUE]
    masses = [hazard.mass for hazard in of.union.hazards]
    kinds = by_kind(of.union.hazards).items()
    return {kind: sum(masses[n] * float(means[n]) for n in places) for kind, places in kinds}


def bearing(
    totals: Sequence[Mapping[Kind, float]], topology: int, labels: Sequence[str]
) -> dict[Kind, str]:
    """For each kind of hazard the topology in which it makes least dark, if less than half.
    `totals`: of each topology (`dark_by_kind`).
    """
    found = {}
    for kind, here in totals[topology].items():
        best = min(range(len(labels)), key=lambda number: (totals[number][kind], number))
        if here > 0 and totals[best][kind] < here / 2:
            found[kind] = f"topology {labels[best]}"
    return found


def hazards_here(of: Sampling, topology: int) -> list[Hazard]:
    """The hazards of one topology."""
    local = of.fields[topology].local
    return [hazard for place, hazard in enumerate(of.union.hazards) if local[place] >= 0]
