"""What a risk study rests on: rates used, when backups were tested, spares, whose items.

In: a `Setting`'s stage, the `Terms`. Out: rows of the register, frozen, in the words of a report.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase
from fractions import Fraction

from sim.rig.terms import Law, Terms
from sim.rig.topology import Rig
from sim.risk.bands import Kind, by_kind, name_of_kind
from sim.risk.figures import NOTICED
from sim.risk.hazards import Hazard
from sim.risk.mending import ALARM, ALL_DARK, SOME, STANDING, UNKNOWN_REACH, place_of
from sim.risk.prices import OLD, Carried, kits_struck, spares_to_carry
from sim.risk.results import Backing, RateUsed, SpareShare
from sim.scenario.kits import Assumption
from sim.scenario.models import ScenarioFile
from sim.timebase import Timing

DURING = ("always", "in breaks")
"""When places can be reached during the show."""
CONFIDENCE = Fraction(19, 20)
"""Spares are to last with this probability."""


def rates_used(hazards: Sequence[Hazard]) -> tuple[RateUsed, ...]:
    """Every kind of hazard with how many strike in a show."""
    kinds = by_kind(hazards)
    return tuple(_used(kind, [hazards[n] for n in places]) for kind, places in kinds.items())


def _used(kind: Kind, of: Sequence[Hazard]) -> RateUsed:
    masses = sorted({hazard.mass for hazard in of})
    least, most = f"{masses[0]:.3g}", f"{masses[-1]:.3g}"
    value = least if least == most else f"{least} to {most}"
    what = f"{name_of_kind(kind)} ({kind[2]})"
    guessed = any(hazard.guessed for hazard in of)
    grade = "placeholder" if guessed else "stated"
    factor = max(hazard.error_factor for hazard in of)
    return RateUsed(what, f"{value} per show", factor, of[0].source, grade, len(of))


def backings(terms: Terms, hazards: Iterable[Hazard]) -> tuple[Backing, ...]:
    """What was tested when, and of what nobody said anything."""
    of = [(h, {name for strike in h.strikes for name in strike.struck}) for h in hazards]
    names = set().union(*(struck for _, struck in of))
    found = [
        Backing((each.things,), each.before, each.evidence, there=_any(names, each.things))
        for each in terms.tested
    ]
    silent = [
        h.strikes[0].role
        for h, struck in of
        if h.cause == OLD and not any(_any(struck, each.things) for each in terms.tested)
    ]
    if silent:
        found.append(Backing(tuple(dict.fromkeys(silent)), None, stated=False))
    return tuple(found)


def _any(names: Iterable[str], pattern: str) -> bool:
    return any(fnmatchcase(name, pattern) for name in names)


def spares(hazards: Sequence[Hazard], rig: Rig, shows: int) -> tuple[Carried, ...]:
    """How many spares of each type last so many shows."""
    return spares_to_carry(
        hazards, [kits_struck(h, rig) for h in hazards], shows, float(CONFIDENCE)
    )


def spare_shares(terms: Terms, rig: Rig) -> tuple[SpareShare, ...]:
    """Spares carried of every type in the rig, those of which there are any first."""
    stock = terms.crew.spares if terms.crew else {}
    found = []
    for (kit, family), installed in sorted(_kits(rig).items()):
        name = kit if kit in stock or family not in stock else family
        carried = stock.get(name, 0)
        of = "" if name == kit else family
        found.append(SpareShare(kit, installed, carried, Fraction(carried, installed), of))
    return tuple(sorted(found, key=lambda each: each.carried == 0))


def _kits(rig: Rig) -> Counter[tuple[str, str]]:
    """How many things of each type (with its family) are in the rig."""
    return Counter((thing.kit, thing.family) for thing in rig.things.values() if thing.kit)


def suppliers_of_rig(rig: Rig, group: str) -> dict[str, int]:
    """How many things of a group, or of none, each supplier brings."""
    things = [thing for thing in rig.things.values() if thing.group in ("", group)]
    found = Counter(thing.supplier for thing in things)
    return dict(sorted(found.items()))


def timings_stated(rig: Rig, assumptions: Iterable[Assumption]) -> tuple[tuple[str, Timing], ...]:
    """The timings of a rig that are no assumptions, by type and name."""
    assumed = {each.path for each in assumptions}
    known = rig.timings.items()
    return tuple((key, timing) for key, timing in known if _path(key) not in assumed)


def _path(key: str) -> str:
    kit, _, name = key.rpartition(".")
    return f"equipment.{kit}.timings.{name}"


def reach_counts(rig: Rig, file: ScenarioFile) -> tuple[tuple[str, int], ...]:
    """How many things can be reached when, by the places of `file`."""
    reach = {name: place.reach for name, place in file.places.items()}
    places = (place_of(thing, file.routes) for thing in rig.things.values())
    found = Counter(reach.get(place, UNKNOWN_REACH) for place in places)
    return tuple((when, found[when]) for when in (*DURING, UNKNOWN_REACH) if found[when])


def notices(terms: Terms) -> tuple[tuple[str, Law], ...]:
    """How soon somebody knows of a fault, where there is a crew."""
    laws = zip(NOTICED, (ALARM, ALL_DARK, SOME, STANDING), strict=True)
    return tuple(laws) if terms.crew else ()
