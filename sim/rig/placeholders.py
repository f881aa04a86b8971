"""How often generic equipment fails: placeholders, until an owner's records take their stead.

In: the ranges of `figures`. Out: `RATES`, per hour, and `CHANCES`, on an occasion (a load-in, a
mating, a power-up, a changeover). No rate here is evidence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from types import MappingProxyType

from sim.faults import CHANGEOVER, CUT, WHOLE_ROUTE
from sim.rig.figures import PLACEHOLDER, PRACTICE, RANGES, TRADE


@dataclass(frozen=True, slots=True)
class Rate:
    """How often a mode strikes; the truth may be `error_factor` times more or less.

    `value`: per hour, or the chance on each occasion that `per` names (`faults.OCCASIONS`). By the
    hour 1 / `value` is the mean life, `shape` the Weibull shape (1: exponential), `age` the hours
    that it has run before the show. `own`: stated for the rig at hand; else it comes from the
    catalogue and is no evidence.
    """

    value: float
    error_factor: float
    source: str = PLACEHOLDER
    own: bool = False
    per: str = "hour"
    shape: float = 1.0
    age: float = 0.0

    @property
    def per_hour(self) -> float:
        """The value of one that counts by the hour."""
        return self.value


GUESSED = 10.0
"""Error factor of a placeholder: a guess is held to be right within a power of ten."""
RANGED = sqrt(10)
"""Where the trade names a range: the widest of these (`CRASH`) has its ends so far from its middle,
and the narrower are from memory as it is.
"""
STATED = 3.0
"""Of a rate that is stated without one."""


def doubt(source: str) -> float:
    """The error factor of what is stated without one: as a placeholder's if it is one."""
    return GUESSED if source.startswith(PLACEHOLDER) else STATED


CRASH = f"{PLACEHOLDER}; geometric middle of 1e-4..1e-3 per hour ({TRADE})"
SHOW_DAY = 10
"""Hours of a show day in which a temporary cable can be damaged: line check to the last visitor."""
DAMAGED = (
    f"{PLACEHOLDER}; geometric middle of 0.2..1 % per show day ({TRADE}), a show day taken as "
    f"{SHOW_DAY} h"
)
LAID = f"{PLACEHOLDER}; laying it taken to damage as much as a show day, 0.2..1 % ({TRADE})"
TRAVELLED = (
    f"{PLACEHOLDER}; 1e-5 for such a thing in one place, three times that for one that travels and "
    "is mounted by hand for every show"
)
MODULE = (
    f"{PLACEHOLDER}; as dead: what lies behind the card (modules, their cables) is no thing of its "
    "own, and part of a cabinet dark is taken as all of it"
)
HANDLED = f"{PLACEHOLDER}; plugged by hand, in weather and vibration: loose contacts come first"
MAINS = (
    f"{PLACEHOLDER}; a public supply fails about once a year, 1.1e-4 (value from memory); "
    "temporary distribution, overloads and pulled plugs taken as twice that"
)
ERRS = f"{PLACEHOLDER}; visible operator error 0.5..3 % per show ({TRADE})"
PLUGGED = f"{PLACEHOLDER}; a contact that passed nobody's eye when it was plugged"
DIRT = f"{PLACEHOLDER}; dirt on an end face is the commonest trouble with fibre ({PRACTICE})"
COLD = f"{PLACEHOLDER}; power supplies die when switched on rather than when running ({PRACTICE})"
TOGETHER = (
    f"{PLACEHOLDER}; geometric middle of 10..40 % of cuts, which nobody has measured: two units "
    "share 1 to 10 % of their failures (IEC 61508-6, value from memory), cables in one run more"
)
LEFT_OLD = (
    f"{PLACEHOLDER}; geometric middle of 0.001..0.003 omissions an item with a written procedure "
    "(NUREG/CR-1278, value from memory): settings of one unit not brought up to date"
)


def geometric(of: str) -> float:
    """The geometric middle of a range of `figures`."""
    return sqrt(float(RANGES[of].least) * float(RANGES[of].most))


def _rates(
    family: str, per_hour: Mapping[str, float], source: str = PLACEHOLDER, factor: float = GUESSED
) -> dict[tuple[str, str], Rate]:
    return {(family, mode): Rate(value, factor, source) for mode, value in per_hour.items()}


_CUT = geometric("temporary fibre damaged") / SHOW_DAY

RATES: Mapping[tuple[str, str], Rate] = MappingProxyType(
    {
        **_rates("source", {
            "blanked": 1e-4, "stuck": 1e-4, "corrupt": 3e-5, "stale": 1e-4, "unlocked": 3e-5,
            "drops": 1e-3, "flapping": 3e-5, "restart": 1e-4,
        }),
        ("source", "dead"): Rate(3.2e-4, RANGED, CRASH),
        **_rates("reference", {"dead": 1e-5, "flapping": 3e-6, "restart": 1e-5}),
        **_rates("distributor", {"dead": 1e-5, "corrupt": 3e-6, "flapping": 3e-6, "restart": 3e-6}),
        **_rates("processor", {
            "dead": 3e-5, "blanked": 1e-5, "stuck": 3e-5, "corrupt": 1e-5, "stale": 3e-5,
            "unlocked": 3e-5, "flapping": 3e-6, "restart": 3e-5,
        }),
        ("processor", "moved"): Rate(5e-3, RANGED, ERRS),
        **_rates("relay", {
            "dead": 1e-5, "blanked": 3e-6, "stuck": 3e-6, "corrupt": 3e-6, "flapping": 3e-6,
            "restart": 1e-5,
        }),
        **_rates("port", {"dead": 3e-6, "corrupt": 1e-6, "flapping": 1e-6}),
        ("fibre", "cut"): Rate(_CUT, RANGED, DAMAGED),
        **_rates("fibre", {"attenuated": 1e-4, "corrupt": 3e-5, "flapping": 3e-5}),
        **_rates("copper", {"cut": 3e-5, "corrupt": 3e-5, "flapping": 3e-5}),
        **_rates("jumper", {"dead": 1e-5, "corrupt": 1e-5}),
        **_rates("jumper", {"flapping": 3e-5}, source=HANDLED),
        **_rates("receiver", {"dead": 3e-5}, source=TRAVELLED),
        **_rates("receiver", {"blanked": 3e-5}, source=MODULE),
        **_rates("receiver", {
            "stuck": 3e-6, "corrupt": 3e-6, "stale": 1e-6, "unlocked": 1e-6,
            "flapping": 3e-6, "restart": 3e-6,
        }),
        **_rates("supply", {"dead": 3e-5}, source=TRAVELLED),
        **_rates("supply", {"flapping": 3e-6, "restart": 3e-6}),
        **_rates("power-jumper", {"dead": 1e-5}),
        **_rates("power-jumper", {"flapping": 1e-5}, source=HANDLED),
        **_rates("circuit", {"tripped": 3e-4}, MAINS),
        **_rates("control-link", {"cut": 3e-5}),
        **_rates("selector", {"moved": 1e-4}),
    }
)  # fmt: skip
"""Placeholder failure rates for every mode of every family, per hour; none is evidence."""


def _on(
    per: str, mode: str, chance: float, source: str, *families: str, factor: float = GUESSED
) -> dict[tuple[str, str, str], Rate]:
    made = Rate(chance, factor, source, per=per)
    return {(family, mode, per): made for family in families}


_UNTESTED, _TESTED = "changeover fails, untested", "changeover fails, tested the same day"


def _changeover(of: str) -> Rate:
    source = f"{PLACEHOLDER}; geometric middle of {RANGES[of]} ({TRADE})"
    return Rate(geometric(of), RANGED, source, per=CHANGEOVER)


TESTED_TODAY = _changeover(_TESTED)
"""That a changeover fails which was seen to work the same day."""
CHANCES: Mapping[tuple[str, str, str], Rate] = MappingProxyType(
    {
        **dict.fromkeys(
            ((family, CHANGEOVER, CHANGEOVER) for family in ("processor", "relay")),
            _changeover(_UNTESTED),
        ),
        **_on("load-in", "stale", sqrt(0.001 * 0.003), LEFT_OLD, "processor", factor=RANGED),
        **_on("load-in", "cut", geometric("temporary fibre damaged"), LAID, "fibre", factor=RANGED),
        **_on("mating", "attenuated", 3e-4, DIRT, "fibre"),
        **_on("mating", "flapping", 1e-4, PLUGGED, "copper", "jumper", "power-jumper"),
        **_on("mating", "cut", 3e-5, PLUGGED, "copper", "control-link"),
        **_on("mating", "dead", 3e-5, PLUGGED, "jumper", "power-jumper"),
        **_on("power-up", "dead", 1e-4, COLD, "source", "processor", "relay", "supply"),
        **_on("power-up", "dead", 3e-5, COLD, "reference", "distributor", "receiver"),
        **_on("cut", WHOLE_ROUTE, sqrt(0.1 * 0.4), TOGETHER, *CUT, factor=RANGED),
    }
)
"""Placeholder chances on an occasion, by family, mode and what it counts per; none is evidence.

Of these faults the line check before the show finds most that somebody sees or is told of.
"""
