"""What darkens a place for good: minimal cut sets by theory alone, with their chances.

In: a `Scenario`, the name of a group, what was asked. Out: a frozen `CutStudy`. Chances are of one
show in which nobody mends anything, and of a standing installation in which each item that fails
stands mended so many hours later. Nothing here simulates.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from math import prod

from sim import __version__
from sim.reliability.cutsets import Cuts, at_most
from sim.reliability.theory import CellCuts, PlaceCuts, Theory, theory
from sim.reliability.theory_cuts import Part, unavailable
from sim.reliability.theory_sums import simpson
from sim.rig.topology import corner
from sim.risk.asked import RiskAsked
from sim.risk.bands import kind_of, name_of_kind
from sim.risk.cuts import CellRow, CutStudy, PlaceRow, TopologyCuts, Way
from sim.risk.hazards import Hazard
from sim.risk.setting import Stage, setting
from sim.risk.shows import beyond
from sim.risk.verifying import WITHOUT, blows
from sim.scenario.digest import digest_of
from sim.scenario.scenario import Scenario
from sim.study.strikes import HOUR
from sim.timebase import FLICKS

LEFT_OUT = (f"Left out: {WITHOUT}",)
MOST_WAYS = 10
"""Of each place so many ways to lose it are listed."""
Told = Callable[[str], None]
Chances = Mapping[str, float]


def cuts_of(
    scenario: Scenario,
    group: str,
    wanted: RiskAsked,
    order: int,
    mended: float,
    told: Told = lambda label: None,
) -> CutStudy:
    """Every topology of a group that can be built, or the one wanted; cut sets of up to `order`
    (1 or 2) faults. `mended`: hours after which what failed stands mended.
    """
    variants = [v for v in scenario.variants(group) if wanted.topology in ("", v.label)]
    found = list[TopologyCuts]()
    assumed: tuple[str, ...] = LEFT_OUT
    for stage in setting(scenario, group, variants, plain=True).stages:
        told(stage.variant.label)
        values = corner(stage.rig, "typical")
        made = theory(stage.rig, group, blows(stage), values, order)
        found.append(_topology(stage, made, mended))
        assumed = (*LEFT_OUT, *made.assumes)
    return CutStudy(
        group, scenario.title, order, mended, tuple(found), assumed, __version__,
        digest_of(scenario),
    )  # fmt: skip


def _topology(stage: Stage, made: Theory, mended: float) -> TopologyCuts:
    scale = 1.0 / (made.area * FLICKS)
    hazards = {hazard.key: hazard for hazard in stage.hazards}
    return TopologyCuts(
        topology=stage.variant.label,
        first=made.first * scale,
        overlap=made.overlap * scale,
        second=made.second * scale,
        dark=made.dark * scale,
        bound=made.bound * scale,
        beyond=beyond(made.order, sum(hazard.mass for hazard in stage.hazards)),
        places=tuple(_place(place, hazards, made.length, mended) for place in _apart(made.places)),
        cells=tuple(_cells(made, scale)),
    )


# ---- places --------------------------------------------------------------------------------------


def _apart(places: Sequence[PlaceCuts]) -> list[PlaceCuts]:
    """The places, without the group where it is one wall."""
    walls = [place for place in places if place.kind == "wall"]
    return [place for place in places if place.kind != "group" or len(walls) > 1]


def _place(place: PlaceCuts, hazards: Mapping[str, Hazard], length: int, mended: float) -> PlaceRow:
    names = sorted({name for cut in place.cuts for name in cut})
    of = [(name, hazards[name]) for name in names]

    def by(share: float) -> float:
        return float(at_most(place.cuts, {name: struck(hazard, share) for name, hazard in of}))

    last = {name: struck(hazard, 1.0) for name, hazard in of}
    lasting = {name: down(hazard, length, mended) for name, hazard in of}
    return PlaceRow(
        kind=place.kind,
        name=place.name,
        singles=sum(len(cut) == 1 for cut in place.cuts),
        pairs=sum(len(cut) == 2 for cut in place.cuts),
        chance=by(1.0),
        share=simpson(by, 8),
        long_run=float(at_most(place.cuts, lasting)),
        ways=tuple(_ways(place.cuts, hazards, last)),
    )


def struck(hazard: Hazard, share: float) -> float:
    """The chance that a hazard has struck after a share (0 to 1) of a show."""
    return Part(frozenset({hazard.key}), hazard.mass, hazard.early).chance(share)


def down(hazard: Hazard, length: int, mended: float) -> float:
    """The share of time for which a hazard holds in the long run, each time for a mean of `mended`
    hours; nothing of what strikes before a show only.
    """
    return 0.0 if hazard.early else unavailable(hazard.mass * HOUR / length, 1.0 / mended)


def _ways(cuts: Cuts, hazards: Mapping[str, Hazard], chances: Chances) -> Iterator[Way]:
    """The likeliest kinds of cut sets."""
    ways: Counter[tuple[str, ...]] = Counter()
    sums: dict[tuple[str, ...], float] = defaultdict(float)
    for cut in sorted(cuts, key=sorted):
        kinds = tuple(sorted(name_of_kind(kind_of(hazards[name])) for name in cut))
        ways[kinds] += 1
        sums[kinds] += prod(chances[name] for name in sorted(cut))
    likeliest = sorted(sums, key=lambda kinds: (-sums[kinds], kinds))
    for kinds in likeliest[:MOST_WAYS]:
        yield Way(kinds, ways[kinds], sums[kinds])


# ---- cells ---------------------------------------------------------------------------------------


def _cells(made: Theory, scale: float) -> Iterator[CellRow]:
    """Cells that hang on like things in the same way, together; those dark longest first."""
    alike: dict[int, list[CellCuts]] = defaultdict(list)
    for cell in made.cells:
        alike[cell.alike].append(cell)
    rows = [_cell(cells, made.length, scale) for cells in alike.values()]
    yield from sorted(rows, key=lambda row: (-row.dark / row.pixels, row.cabinet))


def _cell(cells: Sequence[CellCuts], length: int, scale: float) -> CellRow:
    first = cells[0]
    counts = Counter(len(cut) for cut in first.named())
    return CellRow(
        cabinet=first.cabinet,
        cabinets=len({cell.cabinet for cell in cells}),
        pixels=sum(cell.pixels for cell in cells),
        singles=counts[1],
        pairs=counts[2],
        chance=first.chance(1.0),
        dark=sum(cell.pixels for cell in cells) / first.pixels * first.dark(length) * scale,
    )
