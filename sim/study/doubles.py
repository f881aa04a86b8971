"""Every double fault of a topology as rows: like pairs together, the worst first.

In: a `Scenario`, a variant, who works; what pairs leave not lit (`pairing`). Out: frozen
`PairRow`s, the same whoever works. Shares are exact parts of the group's pixels.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.executing import Executor, Here, Json, Known, Plain, Task, holding, run
from sim.scenario.scenario import Scenario, Variant
from sim.study.laboratory import Laboratory
from sim.study.pairing import Pairing, Together
from sim.study.strikes import strikes
from sim.study.study import rig_of

CHUNKS = 64
"""Into so many parts the pairs of a topology are cut, about."""
Chunk = tuple[int, ...]
"""The numbers of the faults that come first."""
Modes = tuple[str, ...]
Told = Callable[[str], None]


def nobody(label: str) -> None:
    """Nobody hears of parts done."""


@dataclass(frozen=True, slots=True)
class PairRow:
    """Like pairs of faults in one order: how many, and the share not lit after both, against each
    alone.
    """

    first: str
    second: str
    count: int
    alone: tuple[Fraction, Fraction]
    together: Fraction


def pair_rows(found: Iterable[Together], area: int) -> tuple[PairRow, ...]:
    """Pairs by what they have in common, worst first."""
    made = (
        PairRow(
            first=each.first,
            second=each.second,
            count=each.count,
            alone=(Fraction(each.alone[0], area), Fraction(each.alone[1], area)),
            together=Fraction(each.together, area),
        )
        for each in found
    )
    return tuple(sorted(made, key=lambda r: (-r.together, r.first, r.second, r.alone)))


class Doubles:
    """What a process must know: a topology's single faults, of some modes only where these are
    named, and what alike pairs came to so far.
    """

    def __init__(self, laboratory: Laboratory, modes: Collection[str] = ()) -> None:
        every = strikes(laboratory.rig, frozenset(modes))
        self.struck = [strike for strike in every if laboratory.concerns(strike)]
        self.pairing = Pairing(laboratory)
        self.area = laboratory.canvas.area

    def chunks(self) -> list[Chunk]:
        """The numbers of all faults that come first, cut so that each chunk meets pairs that are
        alike: faults that do the same to like parts of the rig. The same on any machine.
        """
        alike: dict[int, list[int]] = {}
        for number, strike in enumerate(self.struck):
            alike.setdefault(self.pairing.laboratory.sign(strike), []).append(number)
        least = max(len(self.struck) // CHUNKS, 1)
        found: list[Chunk] = []
        begun: list[int] = []
        for numbers in alike.values():
            begun += numbers
            if len(begun) >= least:
                found.append(tuple(begun))
                begun = []
        return [*found, tuple(begun)] if begun else found

    def pairs_of(self, chunk: Chunk) -> int:
        """How many pairs a chunk has: all but those of faults that strike a thing in common."""
        things: dict[str, set[int]] = {}
        for number, strike in enumerate(self.struck):
            for thing in strike.struck:
                things.setdefault(thing, set()).add(number)
        of = (set().union(*(things[t] for t in self.struck[number].struck)) for number in chunk)
        return sum(len(self.struck) - len(common) for common in of)

    def fits(self, chunk: Chunk, made: tuple[Together, ...]) -> bool:
        """Whether that can be what a chunk comes to."""
        return sum(each.count for each in made) == self.pairs_of(chunk)


def doubles_of(given: tuple[Scenario, Variant, Modes]) -> Doubles:
    """What must be known of a topology. Raises ValueError if it cannot be built."""
    scenario, variant, modes = given
    _, rig, reasons = rig_of(scenario, variant)
    if rig is None:
        raise ValueError("; ".join(reasons))
    return Doubles(Laboratory(rig, variant.group), modes)


def counted(known: Doubles, chunk: Chunk) -> tuple[Together, ...]:
    """All pairs of which one of these faults comes first."""
    return known.pairing.counted([known.struck[number] for number in chunk], known.struck)


def study_pairs(
    scenario: Scenario, variant: Variant, executor: Executor | None = None, told: Told = nobody,
    modes: Modes = (),
) -> tuple[PairRow, ...]:  # fmt: skip
    """Every pair of single faults of a topology (of these modes; none: of all), both orders; none
    if it cannot be built. `told` hears how far it is.
    """
    _, rig, _ = rig_of(scenario, variant)
    if rig is None:
        return ()
    doubles = Doubles(Laboratory(rig, variant.group), modes)
    known = Known(doubles_of, (scenario, variant, modes))
    plain = replace(PAIRS, fits=doubles.fits)
    task = Task(f"pairs of {variant.group}, {variant.label}", counted, known, plain)
    counts: Counter[tuple[str, str, tuple[int, int], int]] = Counter()
    chunks = doubles.chunks()
    with holding(known, doubles):
        for done, made in enumerate(run(executor or Here(), task, chunks), 1):
            told(f"{variant.label}, {done} of {len(chunks)} parts")
            for each in made:
                counts[each.first, each.second, each.alone, each.together] += each.count
    found = (Together(*of, count) for of, count in counts.items())
    return pair_rows(found, doubles.area)


def _said(of: tuple[Together, ...]) -> Json:
    return [[e.first, e.second, *e.alone, e.together, e.count] for e in of]


def _read(said: Json) -> tuple[Together, ...]:
    """Raises ValueError for what are no pairs."""
    try:
        found = tuple(
            Together(str(first), str(second), (one, other), both, count)
            for first, second, one, other, both, count in said
        )
    except TypeError as error:
        raise ValueError("no pairs") from error
    numbers = [n for e in found for n in (*e.alone, e.together, e.count)]
    if not all(type(n) is int and n >= 0 for n in numbers):
        raise ValueError("no pixels or no count")
    return found


PAIRS = Plain(_said, _read)
"""How pairs stand in a journal."""
