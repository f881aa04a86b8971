"""The mean dark time of whole shows, whatever strikes in them and however often.

In: a frozen `Rig`, a group, blows with masses (mean numbers per show), one value in flicks for each
timing key. Out: a frozen `Whole`; pixel-flicks of one show without repair. Nothing here knows the
engine; `assumes` says what is taken for granted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, expm1

from sim.reliability.theory_blows import Blow, Struck, all_struck, measured
from sim.reliability.theory_cells import Screen
from sim.reliability.theory_histories import Care, Rest, rest_of
from sim.reliability.theory_pairs import Cabinets
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_sums import CHANGES, overlap_of, pairs_of, pixels_of, soon, worth_of
from sim.rig.topology import Rig

CARE = Care()
ERRORS = 3
"""So many standard errors of what is drawn go into the bound."""
ASSUMES = (
    "Blows strike independently, each a Poisson number of times in a show, at any time alike; "
    "early ones before it.",
    "Nothing is repaired before the end of the show.",
    "Single faults overlap exactly: a cell is dark when any that struck makes it dark by itself.",
    "Two faults that alone struck what a cabinet hangs on, in either order, count exactly, the "
    "second once the first has settled; one that strikes sooner is in the bound.",
    "Three and more: theory's own histories with a seed, each worked out whole by functions of "
    f"time; {ERRORS} standard errors of theirs are in the bound.",
    "What comes and goes for ever goes on as in its last turn, until something else strikes.",
    "Every timing has its typical value, or the one given.",
)


@dataclass(frozen=True, slots=True)
class Whole:
    """A group under its blows, pixel-flicks a show.

    `first`: the sum of mass times dark over blows; `overlap`: what falls away where single faults
    overlap; `pairs`: what two faults add beyond that where no third struck; `rest`: what three and
    more add, with the standard error `error` over `histories`; `bound`: what all that is left out
    can add or take at most, with `ERRORS` times `error`; `area`: pixels; `length`: flicks.
    """

    first: float
    overlap: float
    pairs: float
    rest: float
    error: float
    histories: int
    bound: float
    area: int
    length: int
    assumes: tuple[str, ...] = ASSUMES

    @property
    def dark(self) -> float:
        """Expected dark in a show."""
        return self.first - self.overlap + self.pairs + self.rest


def whole(
    rig: Rig, group: str, blows: Iterable[Blow], values: Mapping[str, int], care: Care = CARE
) -> Whole:
    """The mean of all shows. `care`: how far to go where it must be drawn.

    Raises KeyError for names that the rig does not have, ValueError for blows of one name.
    """
    return _whole(*all_struck(rig, group, blows, values), care)


def _whole(on: Calculus, screen: Screen, hits: Sequence[Struck], care: Care) -> Whole:
    first = sum(measured(on, screen, hit).dark * hit.blow.mass for hit in hits)
    overlap = overlap_of(on, screen, hits)
    cabinets = Cabinets(on, screen, hits)
    pairs, left = _two(on, screen, cabinets)
    rest: Rest = rest_of(on, screen, cabinets, first - overlap + pairs, care)
    return Whole(
        first=first,
        overlap=overlap,
        pairs=pairs,
        rest=rest.dark,
        error=rest.error,
        histories=rest.histories,
        bound=left + ERRORS * rest.error,
        area=sum(area.pixels for area in screen.areas),
        length=on.rig.length,
    )


NEGLIGIBLE = 1e-7
"""Where nothing or two alone strike a cabinet with less chance than this, its pairs are bounded."""


def _two(on: Calculus, screen: Screen, cabinets: Cabinets) -> tuple[float, float]:
    """What pairs add where exactly two blows strike a cabinet, and what is left out at most."""
    length, worth = on.rig.length, worth_of(on)
    pairs = bound = 0.0
    for cabinet, kinds in cabinets.kinds.items():
        pixels = pixels_of(screen, cabinet)
        mass = sum(kind.mass for kind in kinds)
        alone = exp(-mass)
        left = cabinets.lost * -expm1(-mass) * CHANGES
        if alone * mass * mass / 2 < NEGLIGIBLE:
            left += alone * mass * mass / 2 * length
        else:
            pairs += alone * pairs_of(cabinets, cabinet, pixels, worth)[0]
            left += alone * soon(kinds, length)
        bound += sum(pixels.values()) * left
    return pairs, bound
