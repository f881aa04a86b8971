"""What theory says about the dark in a show: expected dark area, cut sets, how far it can be off.

In: a frozen `Rig`, a group, blows with masses (mean numbers per show), one value in flicks for each
timing key. Out: a frozen `Theory`; areas in pixels, dark times in pixel-flicks of one show without
repair. Nothing here knows the engine; `assumes` says what is taken for granted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sim.reliability.theory_blows import Blow, Single, Struck, all_struck, measured, struck
from sim.reliability.theory_cells import Screen
from sim.reliability.theory_cuts import CellCuts, PlaceCuts, cell_cuts, place_cuts
from sim.reliability.theory_pairs import Cabinets
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_sums import Order, first_bound, overlap_of, second_order
from sim.rig.topology import Rig

__all__ = ["Blow", "CellCuts", "PlaceCuts", "Single", "Theory", "single", "theory"]

ASSUMES = (
    "Blows strike independently, each a Poisson number of times in a show, at any time alike; "
    "early ones before it.",
    "Nothing is repaired before the end of the show.",
    "Single faults overlap exactly: a cell is dark when any that struck makes it dark by itself.",
    "Of two faults the second strikes when the first has settled; both orders count, each with "
    "half of the chance. A second one that strikes sooner is in the bound.",
    "A loose contact comes and goes in step with the second fault; between two single faults its "
    "share of the time counts.",
    "Three or more faults count as their single and pairwise effects; the rest is in the bound.",
    "Every timing has its typical value, or the one given.",
)


@dataclass(frozen=True, slots=True)
class Theory:
    """A group under its blows.

    `singles`: each blow alone; `first`: the sum of mass times dark over blows, overlaps counted
    twice; `overlap`: what falls away as single faults overlap (0 or more); `second`: what pairs add
    (or, below 0, take away) beyond that; `dark` = first - overlap + second: pixel-flicks expected
    dark in a show; `bound`: what all that is left out can add or take at most, pixel-flicks;
    `area`: pixels; `length`: flicks. `cells`: minimal cut sets of cells, alike ones together;
    `places`: of the group, walls and regions, as a whole.
    """

    singles: tuple[Single, ...]
    first: float
    overlap: float
    second: float
    dark: float
    bound: float
    area: int
    length: int
    order: int
    cells: tuple[CellCuts, ...]
    places: tuple[PlaceCuts, ...]
    assumes: tuple[str, ...] = ASSUMES

    @property
    def share(self) -> float:
        """The share of area and time that is dark."""
        return self.dark / (self.area * self.length)


def single(rig: Rig, group: str, blow: Blow, values: Mapping[str, int]) -> Single:
    """What one blow darkens by itself. Raises KeyError for names that the rig does not have."""
    on = Calculus(rig, values)
    screen = Screen(on, group)
    return measured(on, screen, struck(on, screen, blow))


def theory(
    rig: Rig, group: str, blows: Iterable[Blow], values: Mapping[str, int], order: int = 2
) -> Theory:
    """All that theory says of a group, up to an order of 1 or 2 faults.

    Raises KeyError for names that the rig does not have, ValueError for another order or for blows
    of one name.
    """
    if order not in (1, 2):
        raise ValueError(f"order {order!r}: 1 or 2")
    return _theory(*all_struck(rig, group, blows, values), order)


def _theory(on: Calculus, screen: Screen, hits: Sequence[Struck], order: int) -> Theory:
    singles = tuple(measured(on, screen, hit) for hit in hits)
    first = sum(one.dark * hit.blow.mass for one, hit in zip(singles, hits, strict=True))
    overlap = overlap_of(on, screen, hits)
    cabinets = Cabinets(on, screen, hits)
    found = second_order(on, screen, cabinets) if order > 1 else Order(0.0, 0.0)
    bound = found.bound if order > 1 else first_bound(screen, cabinets, on.rig.length)
    cells = cell_cuts(on, screen, cabinets, order)
    return Theory(
        singles=singles,
        first=first,
        overlap=overlap,
        second=found.dark,
        dark=first - overlap + found.dark,
        bound=bound,
        area=sum(area.pixels for area in screen.areas),
        length=on.rig.length,
        order=order,
        cells=cells,
        places=place_cuts(screen, cells, order),
    )
