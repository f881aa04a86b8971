"""How often cables are cut: each by itself, and all of a route at once.

In: a frozen `Rig`. Out: a `Rate` (per hour, or the chance at a load-in) for each cable on a route
and for each route. A cable's cuts in all are those of its rate: a share of them takes the whole
route at that place, the rest the cable alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from math import exp, hypot, log

from sim.faults import CUT, WHOLE_ROUTE
from sim.rig.figures import PLACEHOLDER
from sim.rig.placeholders import Rate
from sim.rig.rates import Subject, guessed, in_show, rate_of, scaled, stated
from sim.rig.topology import Rig, Thing
from sim.timebase import FLICKS

HOUR = 3600 * FLICKS


def named(route: str) -> str:
    """A route as things and faults name it."""
    return f"route {route}"


def cut_rates(rig: Rig, per: str = "hour") -> Mapping[str, Rate]:
    """By cable on a route and by route (`named`), `per` hour or load-in, where somebody knows one.

    A route's own rate stands as stated; its cables are then left as if it were not.
    """
    on = _routes(rig)
    taken = {route: _taken(rig, route, things, per) for route, things in on.items()}
    made: dict[str, Rate] = {}
    for thing in (thing for thing in rig.things.values() if thing.routes):
        rate = _of(rig, thing, per)
        if rate is not None:
            made[thing.name] = _less(rig, rate, [taken[route] for route in thing.routes])
    for route, things in on.items():
        length = rig.routes.get(route) or max(thing.length for thing in things)
        own = stated(rig.rates, Subject(named(route), "", length=length), "cut", per)
        found = own or taken[route]
        if found is not None:
            made[named(route)] = found
    return made


def _routes(rig: Rig) -> dict[str, list[Thing]]:
    """What lies on each route, in the order of the rig."""
    found: dict[str, list[Thing]] = {}
    for thing in rig.things.values():
        for route in dict.fromkeys(thing.routes):
            found.setdefault(route, []).append(thing)
    return found


def _of(rig: Rig, cable: Thing, per: str) -> Rate | None:
    """How often a cable is cut in all."""
    if cable.family not in CUT:
        return None
    return rate_of(rig.rates, _subject(cable), "cut", per)


def _subject(cable: Thing) -> Subject:
    return Subject(cable.name, cable.family, cable.kit, cable.length)


def _taken(rig: Rig, route: str, on_it: Sequence[Thing], per: str) -> Rate | None:
    """How often all of a route is cut: as the cable says for which that is oftenest."""
    found = [rate for thing in on_it if (rate := _with(rig, route, thing, per)) is not None]
    return max(found, key=lambda rate: _measure(rig, rate), default=None)


def _with(rig: Rig, route: str, cable: Thing, per: str) -> Rate | None:
    """How many of a cable's cuts take this route with it."""
    rate = _of(rig, cable, per)
    of = replace(_subject(cable), name=named(route))
    share = rate_of(rig.rates, of, WHOLE_ROUTE, "cut")
    if rate is None or share is None or not share.value:
        return None
    made = scaled(rate, share.value * float(_part(rig, route, cable)))
    said = f"{share.value:.3g} of the cuts of a cable on it ({share.source}); those: {rate.source}"
    doubt = guessed(share) or guessed(rate)
    return replace(
        made,
        error_factor=exp(hypot(log(rate.error_factor), log(share.error_factor))),
        source=f"{PLACEHOLDER}; {said}" if doubt else said,
    )


def _part(rig: Rig, route: str, cable: Thing) -> Fraction:
    """The part of a cable that lies on a route; where no lengths are known, of its routes alike."""
    length = rig.routes.get(route)
    if length and cable.length:
        return min(length / cable.length, Fraction(1))
    return Fraction(1, len(dict.fromkeys(cable.routes)))


def _less(rig: Rig, rate: Rate, taken: Sequence[Rate | None]) -> Rate:
    """What its routes leave of a cable's rate: never less than nothing."""
    whole = _measure(rig, rate)
    gone = sum(_measure(rig, each) for each in taken if each is not None)
    return scaled(rate, max(0.0, 1 - gone / whole)) if gone else rate


def _measure(rig: Rig, rate: Rate) -> float:
    """The mean number in a show of what counts by the hour; of all else the chance."""
    return in_show(rate, rig.length / HOUR) if rate.per == "hour" else rate.value
