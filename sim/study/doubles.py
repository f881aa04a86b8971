"""Every double fault of a topology as rows: like pairs together, the worst first.

In: a `Scenario`, a variant; what pairs leave not lit (`pairing`). Out: frozen `PairRow`s. Shares
are exact parts of the group's pixels.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from sim.scenario.scenario import Scenario, Variant
from sim.study.laboratory import Laboratory
from sim.study.pairing import Together, together
from sim.study.strikes import strikes
from sim.study.study import rig_of


@dataclass(frozen=True, slots=True)
class PairRow:
    """Like pairs of faults in one order: how many, and the share not lit after both, against each
    alone.
    """

    first: str
    second: str
    count: int
    alone: tuple[Fraction, Fraction]
    together: Fraction


def pair_rows(found: Iterable[Together], area: int) -> tuple[PairRow, ...]:
    """Pairs by what they have in common, worst first."""
    made = (
        PairRow(
            first=each.first,
            second=each.second,
            count=each.count,
            alone=(Fraction(each.alone[0], area), Fraction(each.alone[1], area)),
            together=Fraction(each.together, area),
        )
        for each in found
    )
    return tuple(sorted(made, key=lambda r: (-r.together, r.first, r.second, r.alone)))


def study_pairs(scenario: Scenario, variant: Variant) -> tuple[PairRow, ...]:
    """Every pair of single faults of a topology, both orders."""
    _, rig, _ = rig_of(scenario, variant)
    if rig is None:
        return ()
    laboratory = Laboratory(rig, variant.group)
    struck = [s for s in strikes(rig) if laboratory.concerns(s)]
    return pair_rows(together(laboratory, struck), laboratory.canvas.area)
