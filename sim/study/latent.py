"""Faults that nobody sees until a second one strikes.

In: a `Laboratory` and the outcomes of all single faults. Out: a frozen `Latent` for each unseen
fault after which some other single dead or cut leaves more not lit than it would alone. Alike
faults are tried once; the first second fault found is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sim.study.contingency import distinct, likeness, lost_together, pair
from sim.study.footprint import Footprints
from sim.study.laboratory import Laboratory
from sim.study.outcome import Bunch, Outcome
from sim.study.strikes import Strike

SECOND = frozenset({"dead", "cut"})


@dataclass(frozen=True, slots=True)
class Latent:
    """`strike` is unseen; `second` then leaves `together` pixels not lit, and `alone` by itself;
    `states`: both by state (as in `STATES`), alone first. `bunch`: as of an outcome.
    """

    strike: Strike
    second: Strike
    states: tuple[tuple[int, ...], tuple[int, ...]]
    bunch: Bunch | None = None

    @property
    def alone(self) -> int:
        return sum(self.states[0])

    @property
    def together(self) -> int:
        return sum(self.states[1])


def latents(laboratory: Laboratory, outcomes: Sequence[Outcome]) -> tuple[Latent, ...]:
    """All latent faults, in the order of the outcomes."""
    partners = distinct(laboratory, _partners(outcomes))
    footprints = Footprints(laboratory)
    known: dict[object, Latent | None] = {}
    found = []
    for outcome in outcomes:
        if outcome.verdict != "unseen":
            continue
        key = likeness(laboratory, outcome.strike)
        if key not in known:
            known[key] = _first(footprints, outcome.strike, partners)
        latent = known[key]
        if latent is not None:
            found.append(replace(latent, strike=outcome.strike, bunch=outcome.bunch))
    return tuple(found)


def _partners(outcomes: Iterable[Outcome]) -> list[Outcome]:
    """Second faults, those of one thing that touch most of the walls first."""
    able = [o for o in outcomes if o.strike.mode in SECOND]
    return sorted(able, key=lambda o: (len(o.strike.faults), -o.typical.lost(lasting=False)))


def _first(footprints: Footprints, strike: Strike, partners: Iterable[Outcome]) -> Latent | None:
    laboratory, struck = footprints.laboratory, frozenset(strike.struck)
    for outcome in partners:
        second = outcome.strike
        if not footprints.can_meet(strike, second) or not struck.isdisjoint(second.struck):
            continue
        alone = outcome.typical.lost()
        if alone == laboratory.canvas.area:
            continue
        if lost_together(laboratory, strike, second) > alone:
            both = pair(laboratory, strike, second)
            states = outcome.typical.all_lasting, both.all_lasting
            return Latent(strike, second, states)
    return None
