"""Minimal cut sets of lasting dark: of cells, of walls, regions and the group as a whole.

In: kinds of blows by cabinet. Out: frozen cut sets of one or two blows, and the chance of dark from
them: without repair over a show, or with given rates of failure and repair (per hour).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import expm1

from sim.reliability.cutsets import Cut, Cuts, at_most, chance_of
from sim.reliability.markov import unavailability
from sim.reliability.repairable import single
from sim.reliability.theory_cells import Area, Screen
from sim.reliability.theory_pairs import Cabinets, Kind, lasting
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_sums import simpson


@dataclass(frozen=True, slots=True)
class Part:
    """Blows that do the same to a cell: their names and their mass together."""

    names: frozenset[str]
    mass: float
    early: bool

    def chance(self, share: float) -> float:
        """The chance that one of them has struck after a share of the show."""
        return -expm1(-self.mass * (1.0 if self.early else share))


@dataclass(frozen=True, slots=True)
class CellCuts:
    """The cells of one cabinet with one stack (by number), `pixels` of them. `alike`: equal for
    cells that hang on like things in the same way. `cuts` hold numbers of `parts`, as texts.
    """

    cabinet: str
    wall: str
    stack: int
    pixels: int
    alike: int
    parts: tuple[Part, ...]
    cuts: Cuts

    def named(self) -> Iterator[Cut]:
        """Every cut as names of blows; of alike ones each."""
        for cut in sorted(self.cuts, key=sorted):
            for names in product(*(sorted(self.parts[int(n)].names) for n in sorted(cut))):
                yield frozenset(names)

    def chance(self, share: float) -> float:
        """The chance that it is dark, lasting, after a share (0 to 1) of the show, unrepaired.

        As if the cuts were independent: at most by the third order too high.
        """
        chances = {str(n): part.chance(share) for n, part in enumerate(self.parts)}
        return float(at_most(self.cuts, chances))

    def dark(self, length: int, parts: int = 8) -> float:
        """Pixel-flicks expected dark, lasting, in a show of so many flicks, unrepaired."""
        return self.pixels * length * simpson(self.chance, parts)

    def singles(self) -> frozenset[str]:
        """The names of the blows that darken it alone."""
        alone = (self.parts[int(n)].names for cut in self.cuts if len(cut) == 1 for n in cut)
        return frozenset[str]().union(*alone)


@dataclass(frozen=True, slots=True)
class PlaceCuts:
    """What darkens all of a place, lasting: of a kind (group, wall, region), by names of blows."""

    kind: str
    name: str
    cuts: Cuts


def cell_cuts(on: Calculus, screen: Screen, cabinets: Cabinets, order: int) -> tuple[CellCuts, ...]:
    """The minimal cut sets of every patch, up to an order of 1 or 2."""
    alike: dict[object, int] = {}
    found = []
    for cabinet, kinds in cabinets.kinds.items():
        pairs = list(_pairs(cabinets, cabinet, kinds)) if order > 1 else []
        for patch in screen.patches[cabinet]:
            area = screen.areas[patch]
            alone = {n for n, kind in enumerate(kinds)
                     if lasting(on.steps[cabinets.line(cabinet, kind, area.stack, 0)])}  # fmt: skip
            both = {pair for pair, stacks in pairs if area.stack in stacks and not pair & alone}
            cuts = [frozenset({n}) for n in alone] + sorted(both, key=sorted)
            keys = frozenset(frozenset(kinds[n].key for n in cut) for cut in cuts)
            code = cabinets.codes[cabinets.cones[cabinet].code], area.stack, keys
            number = alike.setdefault(code, len(alike))
            found.append((patch, _cell(area, number, kinds, cuts)))
    return tuple(cell for _, cell in sorted(found, key=lambda pair: pair[0]))


def _pairs(
    cabinets: Cabinets, cabinet: str, kinds: Sequence[Kind]
) -> Iterator[tuple[frozenset[int], frozenset[int]]]:
    """Pairs of kinds with the stacks that they cut, in either order."""
    place = {id(kind): n for n, kind in enumerate(kinds)}
    for first, second, mores in cabinets.of(cabinet):
        stacks = frozenset(stack for stack, more in mores.items() if more.cuts)
        if stacks and first is not second:
            yield frozenset({place[id(first)], place[id(second)]}), stacks


def _cell(
    area: Area, number: int, kinds: Sequence[Kind], cuts: Sequence[frozenset[int]]
) -> CellCuts:
    used = sorted({n for cut in cuts for n in cut})
    new = {n: str(k) for k, n in enumerate(used)}
    return CellCuts(
        cabinet=area.cabinet,
        wall=area.wall,
        stack=area.stack,
        pixels=area.pixels,
        alike=number,
        parts=tuple(_part(kinds[n]) for n in used),
        cuts=frozenset(frozenset(new[n] for n in cut) for cut in cuts),
    )


def _part(kind: Kind) -> Part:
    names = frozenset(hit.blow.name for hit in kind.members)
    return Part(names, kind.mass, kind.early)


# ---- whole places --------------------------------------------------------------------------------


def place_cuts(screen: Screen, cells: Sequence[CellCuts], order: int) -> tuple[PlaceCuts, ...]:
    """What darkens all of the group, of each wall, of each region (all cells that it touches)."""
    found = [PlaceCuts("group", screen.group.name, _whole(cells, order))]
    for wall in screen.group.walls:
        found.append(PlaceCuts("wall", wall, _whole([c for c in cells if c.wall == wall], order)))
    for region in screen.group.regions:
        inside = [c for c, a in zip(cells, screen.areas, strict=True) if region.name in a.regions]
        found.append(PlaceCuts("region", region.name, _whole(inside, order)))
    return tuple(found)


class _Lookup:
    """One cell: which names darken it, alone and with which others."""

    def __init__(self, cell: CellCuts) -> None:
        self.alone = cell.singles()
        self.beside: dict[str, set[str]] = defaultdict(set)
        pairs = [tuple(sorted(cut)) for cut in cell.cuts if len(cut) == 2]
        for one, other in pairs:
            for a, b in ((one, other), (other, one)):
                for name in cell.parts[int(a)].names:
                    self.beside[name] |= cell.parts[int(b)].names

    def dark(self, one: str, other: str) -> bool:
        alone = self.alone
        return one in alone or other in alone or other in self.beside.get(one, ())


def _whole(cells: Sequence[CellCuts], order: int) -> Cuts:
    looks = [_Lookup(cell) for cell in cells]
    if not looks:
        return frozenset()
    alone = frozenset.intersection(*(look.alone for look in looks))
    cuts = {frozenset({name}) for name in alone}
    if order > 1:
        cuts |= {frozenset(pair) for pair in _whole_pairs(looks, alone)}
    return frozenset(cuts)


def _whole_pairs(looks: Sequence[_Lookup], alone: frozenset[str]) -> Iterator[tuple[str, str]]:
    """Pairs of which the first has to do with the first cell; none that darkens all by itself."""
    start = min(looks, key=lambda look: len(look.alone) + len(look.beside))
    for one in sorted((start.alone | start.beside.keys()) - alone):
        left = next(look for look in looks if one not in look.alone)
        for other in sorted((left.alone | left.beside.get(one, set())) - alone):
            if all(look.dark(one, other) for look in looks):
                yield one, other


# ---- with repair ---------------------------------------------------------------------------------


def unavailable(fails: float, mends: float, hours: float | None = None) -> float:
    """The chance that a thing is down: after so many hours from new, or (None) in the long run.

    Rates per hour. L/(L+M) (1 - exp(-(L+M) t)); IEC 61165, value from memory. Raises ValueError.
    """
    if hours is None:
        return float(unavailability(single(fails, mends)))
    both = fails + mends
    if not (fails >= 0 and mends >= 0 and hours >= 0):
        raise ValueError(f"rates {fails!r}, {mends!r}, {hours!r} h: 0 or more")
    return fails / both * -expm1(-both * hours) if both else 0.0


def cut_unavailable(
    cuts: Cuts, rates: Mapping[str, tuple[float, float]], hours: float | None = None
) -> float:
    """The chance that what has these cuts is down, its parts failing and mended independently.

    `rates`: of each part failures and repairs per hour.
    """
    chances = {part: unavailable(*rates[part], hours) for cut in cuts for part in cut}
    return float(chance_of(cuts, chances))
