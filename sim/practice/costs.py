"""What an act costs in time, and where that figure comes from.

In: an act's word, the thing that it is done to, the crew of a scenario. Out: frozen `Cost`s: flicks
and a source. What a scenario's crew says counts; the rest are placeholders: ranges of general trade
knowledge, from memory, of which the middle is taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase

from sim.rig.figures import TRADE, Fact, timing, trade
from sim.rig.terms import PLACEHOLDER, Crew, Law, Repair
from sim.rig.topology import Thing
from sim.scenario.mending import JUMPER, RESET, SWAPS, TRAVEL, law_of
from sim.timebase import FLICKS

USUAL: Mapping[str, Fact] = {
    "look": trade("10", "30", "s"),
    "ask": trade("5", "15", "s"),
    "walk": TRAVEL,
    "tell": trade("5", "15", "s"),
    "select": trade("3", "10", "s"),
    "take": trade("2", "8", "s"),
    "fade": trade("2", "8", "s"),
    "lock": trade("3", "10", "s"),
    "unlock": trade("3", "10", "s"),
    "restart": RESET,
    "reseat": trade("10", "40", "s"),
    "re-patch": trade("1", "4", "min"),
    "bypass": JUMPER,
    "darken": trade("5", "20", "s"),
    "light": trade("5", "20", "s"),
    "load": trade("0.5", "2", "min"),
    "break": trade("0.5", "3", "min"),
}
"""What an act takes where the scenario does not say it; of settings: for each unit."""
PULLED = 2 * FLICKS
"""For so long a plug is out while it is reseated (a guess)."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Flicks, at least one."""

    time: int
    source: str


def usual(do: str, times: int = 1) -> Cost:
    """What an act takes, `times` over. Raises KeyError for what has no cost of its own."""
    made = timing(do, USUAL[do], 0)
    return Cost(made.typical * times, f"{PLACEHOLDER}; {USUAL[do]} ({TRADE})")


def cost_of(do: str, thing: Thing | None, crew: Crew | None) -> Cost:
    """What an act on a thing takes: as the crew says it, else as is usual."""
    if do == "walk":
        travel = next((repair.travel for repair in (crew.repairs if crew else ())[::-1]), None)
        return usual(do) if travel is None else _cost(travel)
    if do not in ("swap", "restart") or thing is None:
        return usual(do)
    found = _repair(do, thing, crew)
    if found is not None:
        return _cost(found.fix)
    if do == "restart":
        return usual(do)
    return _cost(law_of(SWAPS.get(thing.family, SWAPS["processor"])))


def _repair(do: str, thing: Thing, crew: Crew | None) -> Repair | None:
    """The first repair of a thing that is done so."""
    ways = ("swap",) if do == "swap" else ("restart", "remote")
    for repair in crew.repairs if crew else ():
        named = bool(repair.things) and fnmatchcase(thing.name, repair.things)
        kin = (bool(repair.kit) and thing.kit == repair.kit) or thing.family == repair.family
        if repair.by in ways and (named or kin):
            return repair
    return None


def spare_of(thing: Thing, crew: Crew | None) -> str:
    """The name of the stock that a spare of a thing comes from ("": there is none)."""
    stock = crew.spares if crew else {}
    return next((name for name in (thing.kit, thing.family) if name in stock), "")


def _cost(law: Law) -> Cost:
    return Cost(max(typical(law), 1), law.source)


def typical(law: Law) -> int:
    """One time (flicks) that stands for a law: what it mostly is, the middle of a range, the median
    of a lognormal law, the mean of an exponential one.
    """
    if law.kind == "uniform":
        return (law.a + law.b) // 2
    return law.c if law.kind == "triangular" else law.a
