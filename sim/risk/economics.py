"""The worst foreseeable loss, what an insurer bears, whose item it was.

In: a `Tally` of nights, an exceedance curve, a `Contract`, a `Hazard` with its rig. Out: exact
decimals in the contract's currency, places of hazards, suppliers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from sim.rig.terms import Contract
from sim.rig.topology import Rig
from sim.risk.dues import insured
from sim.risk.hazards import Hazard
from sim.risk.nights import Culprits, Tally
from sim.risk.sums import in_grains


def worst_of(found: Tally, alone: Mapping[int, Decimal]) -> tuple[Decimal, Culprits]:
    """The largest loss and who did it: of equal ones a single fault, then the first. `alone`: for
    hazards that were studied on their own, the most that each alone can cost.
    """
    seen = max(found.by_loss)
    single = min(alone, key=lambda place: (-alone[place], place), default=None)
    if single is not None and alone[single] >= seen and alone[single] > 0:
        return alone[single], (single,)
    return seen, found.worst_by[seen] if seen else ()


def borne(curve: Sequence[tuple[Decimal, float]], contract: Contract) -> tuple[Decimal, Decimal]:
    """Of the expected loss of a show what an insurer bears and what the owner does, in grains.
    `curve`: losses, rising from 0, each with the chance of more.
    """
    chances = [1.0, *(more for _, more in curve)]
    pairs = list(zip(curve, chances, strict=False))
    parts = [(loss, Fraction(before) - Fraction(more)) for (loss, more), before in pairs]
    insurer = sum((Fraction(insured(contract, loss)) * part for loss, part in parts), Fraction(0))
    whole = sum((Fraction(loss) * part for loss, part in parts), Fraction(0))
    return in_grains(insurer), in_grains(whole) - in_grains(insurer)


def suppliers_of(hazard: Hazard, rig: Rig) -> tuple[str, ...]:
    """The suppliers of what a hazard strikes, or of the selectors that fail it, each once."""
    named = [name for strike in hazard.strikes for name in strike.struck] or list(hazard.failing)
    things = [rig.things.get(name.partition("#")[0]) for name in named]
    found = {thing.supplier for thing in things if thing is not None and thing.supplier}
    found = found or {strike.supplier for strike in hazard.strikes if strike.supplier}
    return tuple(sorted(found))
