"""What may strike in a show, worked out once each: when which patches are dark, for how long.

In: a `Calculus`, blows with masses (mean numbers per show). Out: frozen values; dark times are
pixel-flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.faults import Fault
from sim.reliability.theory_cells import Screen, expected_dark, whole_dark
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_steps import Steps, tidy
from sim.reliability.theory_wiring import Found
from sim.rig.topology import Rig

NOT_EARLY = ("flapping", "drops", "restart", "moved")


@dataclass(frozen=True, slots=True)
class Blow:
    """Something that may strike in a show: faults at time 0, to be moved to when it strikes.

    `mass`: the mean number of times in a show, at any time alike; `early`: so already before the
    show starts, mass = -ln(1 - chance). `failing`: selectors whose changeovers all fail from then
    on; that counts in early blows only.
    """

    name: str
    faults: tuple[Fault, ...]
    mass: float
    early: bool = False
    failing: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not 0 <= self.mass < float("inf"):
            raise ValueError(f"{self.name}: mass {self.mass!r}: 0 or more, and finite")
        if self.early and any(fault.mode in NOT_EARLY for fault in self.faults):
            raise ValueError(f"{self.name}: {', '.join(NOT_EARLY)} cannot hold before the show")
        if self.failing and not self.early:
            raise ValueError(f"{self.name}: changeovers fail all night or not: early=True")

    def at(self, when: int) -> tuple[Fault, ...]:
        """Its faults, striking at a flick; early ones just before the show whatever is asked."""
        return tuple(_moved(fault, -1 if self.early else when) for fault in self.faults)


def _moved(fault: Fault, when: int) -> Fault:
    until = fault.until
    if until is not None and when >= 0:
        until += when - fault.at
    return replace(fault, at=when, until=until)


@dataclass(frozen=True, slots=True, eq=False)
class Struck:
    """What one blow does: `dark` maps patches (by number) to when they are dark (a number)."""

    blow: Blow
    found: Found
    dark: Mapping[int, int]
    settled: int


def struck(on: Calculus, screen: Screen, blow: Blow) -> Struck:
    """One blow alone, at time 0 of the show or before it."""
    found = on.under(blow.at(0), blow.failing)
    return Struck(blow, found, screen.dark(found), settles(on, found))


def all_struck(
    rig: Rig, group: str, blows: Iterable[Blow], values: Mapping[str, int]
) -> tuple[Calculus, Screen, tuple[Struck, ...]]:
    """Each blow alone. Raises KeyError for names that the rig does not have, ValueError for blows
    of one name.
    """
    known = tuple(blows)
    if len({blow.name for blow in known}) < len(known):
        raise ValueError("blows: each needs a name of its own")
    on = Calculus(rig, values, 2 * rig.length)
    screen = Screen(on, group)
    return on, screen, tuple(struck(on, screen, blow) for blow in known)


def settles(on: Calculus, found: Found) -> int:
    """The flick from which nothing changes any more, or everything repeats."""
    parts = (found.things, found.nodes, found.pictures, found.cabinets)
    lines = (on.steps[number] for part in parts for number in part.values())
    return max((_settles(line) for line in lines), default=0)


def _settles(line: Steps) -> int:
    return line.start + line.period if line.period else max(line.times[-1], 0)


@dataclass(frozen=True, slots=True)
class Single:
    """One blow: dark pixels over time since it struck, dark pixel-flicks expected in a show in
    which it strikes once (at any time alike, or before it), lasting to its end.
    """

    name: str
    area: Steps
    dark: float


def measured(on: Calculus, screen: Screen, one: Struck) -> Single:
    """What a blow darkens, added up over the group."""
    length = on.rig.length
    pixels: dict[int, int] = {}
    for patch, line in one.dark.items():
        pixels[line] = pixels.get(line, 0) + screen.areas[patch].pixels
    mean = whole_dark if one.blow.early else expected_dark
    dark = sum((size * Fraction(mean(on.steps[n], length)) for n, size in pixels.items()),
               Fraction(0))  # fmt: skip
    return Single(one.blow.name, _added(on, pixels), float(dark))


def _added(on: Calculus, pixels: Mapping[int, int]) -> Steps:
    sizes = tuple(pixels.values())
    key = ("area", sizes)
    number = on.joined(key, tuple(pixels), lambda *dark: weighed(sizes, dark)) if pixels else None
    return tidy((-1,), (0,)) if number is None else on.steps[number]


def weighed(sizes: Sequence[int], dark: Sequence[bool]) -> int:
    """Pixels that are dark."""
    return sum(size for size, on in zip(sizes, dark, strict=True) if on)
