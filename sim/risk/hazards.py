"""What may strike in a show, and how often: every hazard of a rig, each with a name of its own.

In: a frozen `Rig`, its `Terms`. Out: frozen `Hazard`s. A hazard that two topologies share has one
name in both, so that the same show strikes both alike. Masses are mean numbers of strikes a show.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from math import isfinite

from sim.rig.rates import in_show
from sim.rig.terms import Terms
from sim.rig.topology import Rig
from sim.risk.beforehand import at_load_in, never_tested, on_demand, patched
from sim.risk.shared import shared
from sim.risk.striking import BEFORE, CAUSES, Hazard, Show, counts, made_of, position, strike_at
from sim.study.strikes import HOUR, Strike, strikes

__all__ = ["BEFORE", "CAUSES", "Hazard", "hazards", "position", "strike_at"]


def hazards(
    rig: Rig, terms: Terms, length: int, unseen: Callable[[Strike], bool]
) -> tuple[Hazard, ...]:
    """All that may strike in a show of `length` flicks, in the order of the catalogue.

    `unseen`: whether a strike (at time 0, alone) leaves everything lit all the time. What is
    never to be expected is left out; where only stated rates count (`Terms.stated_only`), so is
    what rests on placeholders. Raises ValueError if two hazards have one key or a mass is
    not finite.
    """
    show = Show(rig, terms, length / HOUR, cache(unseen))
    found = strikes(rig)
    causes = tuple(shared(show, found))
    lost = Counter[str]()
    for hazard, of in causes:
        lost.update(dict.fromkeys(of, hazard.mass))
    made = [
        *_in_show(show, found, lost),
        *at_load_in(show, found),
        *patched(show),
        *never_tested(show, found),
        *on_demand(show),
        *(hazard for hazard, _ in causes),
    ]
    return _checked(made)


def _checked(made: Iterable[Hazard]) -> tuple[Hazard, ...]:
    found = tuple(hazard for hazard in made if hazard.mass != 0)
    again = [key for key, count in Counter(h.key for h in found).items() if count > 1]
    if again:
        raise ValueError(f"several hazards of one name: {', '.join(again)}")
    wrong = [h.key for h in found if not (isfinite(h.mass) and h.mass > 0)]
    if wrong:
        raise ValueError(f"hazards that strike endlessly or less than never: {', '.join(wrong)}")
    return found


def _in_show(show: Show, found: Iterable[Strike], lost: Counter[str]) -> Iterator[Hazard]:
    """Each strike with a rate, less what shared causes take of it."""
    for strike in found:
        if strike.law is None or not counts(show, strike.law):
            continue
        mass = in_show(strike.law, show.hours) - lost[strike.name]
        cause = "person" if strike.mode == "moved" else "item"
        made = made_of(strike.name, (strike,), max(mass, 0.0), strike.law, cause)
        yield replace(made, shape=strike.law.shape, age=strike.law.age)
