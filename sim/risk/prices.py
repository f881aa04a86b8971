"""What a topology costs beyond its risk: money where prices are known, else units and crew hours;
and which spares to carry.

In: a `Bill`, the length of the show (flicks), hazards. Out: exact decimals in the show's currency
(purchase or rental, as the file's prices are), counts, hours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import fsum

from sim.reliability.estimates import spares_for
from sim.rig.bill import CABLES, Bill
from sim.rig.topology import Rig
from sim.risk.figures import Outlay
from sim.risk.hazards import Hazard
from sim.risk.sums import in_grains
from sim.timebase import FLICKS

HOUR = 3600 * FLICKS
MENDED_BY_SPARE = frozenset({"dead", "cut"})
"""Modes after which a thing is changed for a spare; the rest is mended by a restart or in place."""
OLD = "never tested"


def price_of(bill: Bill) -> Decimal | None:
    """The price of all that has one; None where nothing has. `bill.unpriced` names what it leaves
    out: unless that is empty, the price is a part of the whole.
    """
    priced = set(bill.kits) - set(bill.unpriced)
    return in_grains(bill.price) if priced else None


def price_between(more: Bill, less: Bill) -> Decimal | None:
    """How much more one topology costs; None where they differ in something without a price."""
    unknown = {*more.unpriced, *less.unpriced}
    alike = all(
        more.kits.get(name, 0) == less.kits.get(name, 0)
        and more.metres.get(name, 0) == less.metres.get(name, 0)
        for name in unknown
    )
    priced = {*more.kits, *less.kits} - unknown
    return in_grains(more.price - less.price) if alike and priced else None


def outlay_of(bill: Bill, length: int) -> Outlay:
    """`length`: flicks that the crew is there."""
    units = sum(count for family, count in bill.families.items() if family not in CABLES)
    return Outlay(units, bill.families.get("fibre", 0), Fraction(bill.crew * length, HOUR))


# ---- spares --------------------------------------------------------------------------------------


def kits_struck(hazard: Hazard, rig: Rig) -> Counter[str]:
    """How many spares of each type a hazard uses up when it strikes."""
    struck = {
        fault.thing
        for strike in hazard.strikes
        for fault in strike.faults
        if fault.mode in MENDED_BY_SPARE and fault.until is None
    }
    kits = (rig.things[name].kit for name in sorted(struck) if name in rig.things)
    return Counter(kit for kit in kits if kit)


@dataclass(frozen=True, slots=True)
class Carried:
    """Spares to carry of a type: its mean number of failures in all the shows, and how many last
    with the stated confidence.
    """

    kit: str
    mean: float
    spares: int


def spares_to_carry(
    hazards: Sequence[Hazard],
    used: Sequence[Mapping[str, int]],
    shows: int,
    confidence: float,
) -> tuple[Carried, ...]:
    """For each type that fails at all, by name: failures Poisson, their mean the sum of the masses
    of all things of the type, times the shows. What was dead before and never tested is replaced
    once, not in each show. `used`: for each hazard the spares it uses up (`kits_struck`).

    Raises ValueError for fewer than one show, or a confidence not between 0 and 1.
    """
    if shows < 1:
        raise ValueError(f"{shows} shows: at least one")
    means: dict[str, list[float]] = {}
    for hazard, kits in zip(hazards, used, strict=True):
        for kit, count in kits.items():
            times = 1 if hazard.cause == OLD else shows
            means.setdefault(kit, []).append(hazard.mass * count * times)
    sums = {kit: fsum(each) for kit, each in sorted(means.items())}
    return tuple(Carried(k, m, spares_for(m, confidence)) for k, m in sums.items() if m > 0)
