"""What one single fault does to a wall group, under all-least, typical and all-most timings.

In: a `Strike`, an `Effect` for each corner, the races. Out: a frozen `Outcome` with its verdict.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Protocol, TypeVar

from sim.study.effects import Effect
from sim.study.races import Race
from sim.study.strikes import Catalogue, Strike

CORNERS = ("all-least", "typical", "all-most")
VERDICTS = ("lasting", "blink", "unseen")
"""Worst first."""


T = TypeVar("T")
MOST_MODES = 64
"""More modes than any thing has."""


@dataclass(frozen=True, slots=True)
class Bunch:
    """Strikes of like things that do the same and are told with the same words. `things`: their
    numbers in the catalogue, ascending; `mode`: its number among the modes of each.
    """

    catalogue: Catalogue
    things: Sequence[int]
    mode: int

    @property
    def first(self) -> int:
        """The place of the first of them."""
        return self.things[0] * MOST_MODES + self.mode

    @property
    def places(self) -> list[int]:
        """Where they stand among all strikes: things in order, then the modes of each."""
        return [number * MOST_MODES + self.mode for number in self.things]

    def names(self) -> list[str]:
        """The names of the things."""
        return [self.catalogue.things[number].name for number in self.things]

    def strikes(self) -> list[Strike]:
        """Every one of them."""
        things = [self.catalogue.things[number] for number in self.things]
        of, mode = self.catalogue, self.catalogue.modes_of(things[0])[self.mode]
        return [of.strike(thing, mode) for thing in things]


class Told(Protocol):
    """Something that is told of a strike, or of a bunch of which it is the first."""

    @property
    def strike(self) -> Strike: ...

    @property
    def bunch(self) -> Bunch | None: ...


LAST = 1 << 60
"""The place of what is no thing's: after all things."""


def where(told: Iterable[Told]) -> tuple[str, ...]:
    """What all of these strike: things in the order of the catalogue, all else as it is given."""
    return _in_order(
        (of, [each.strike.where] if of is None else of.names())
        for each in told
        for of in [each.bunch]
    )


def each_strike(told: Iterable[Told]) -> tuple[Strike, ...]:
    """Every strike of these, in the same order."""
    return _in_order(
        (of, [each.strike] if of is None else of.strikes()) for each in told for of in [each.bunch]
    )


def how_many(told: Told) -> int:
    """For how many strikes it is told."""
    return 1 if told.bunch is None else len(told.bunch.things)


def _in_order(told: Iterable[tuple[Bunch | None, Sequence[T]]]) -> tuple[T, ...]:
    """What is said of each strike of bunches, by their places."""
    found: list[tuple[int, T]] = []
    for of, said in told:
        found += zip([LAST] if of is None else of.places, said, strict=True)
    return tuple([each for _, each in sorted(found, key=itemgetter(0))])


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a strike does, by corner. `effects` has all three corners, equal ones where no timing
    matters; `distinct`: one of them for all corners that share it.

    `races`: pairs of protections whose order depends on where in their ranges they lie; then the
    span between the corners is no bound; `slowest` is then the sum of all waits and changeovers
    that take part, each at its most (flicks).

    `bunch`: the strikes that it is told for; None: for its own only.
    """

    strike: Strike
    effects: Mapping[str, Effect]
    races: tuple[Race, ...] = ()
    slowest: int = 0
    bunch: Bunch | None = field(default=None, compare=False)
    distinct: tuple[Effect, ...] = field(init=False, compare=False)

    def of(self, strike: Strike) -> Outcome:
        """The same for a strike that does the same."""
        made = object.__new__(Outcome)
        for name in ("effects", "races", "slowest", "distinct"):
            object.__setattr__(made, name, getattr(self, name))
        object.__setattr__(made, "strike", strike)
        object.__setattr__(made, "bunch", None)
        return made

    @property
    def typical(self) -> Effect:
        return self.effects["typical"]

    def __post_init__(self) -> None:
        apart = {id(effect): effect for effect in self.effects.values()}
        object.__setattr__(self, "distinct", tuple(apart.values()))

    @property
    def verdict(self) -> str:
        """lasting, blink or unseen: the worst of the corners."""
        found = {effect.verdict for effect in self.distinct}
        return next(verdict for verdict in VERDICTS if verdict in found)

    @property
    def settled(self) -> bool:
        """Whether no timer is left that had not run out when the show ended."""
        return not any(e.pending for e in self.distinct)

    def frames(self, state: int = 0) -> tuple[int, int]:
        """Least and most frames in a state of the cell that is in it longest, over phase and
        timing range.
        """
        spans = [effect.longest(state) for effect in self.distinct]
        return min(least for least, _ in spans), max(most for _, most in spans)

    def lost_frames(self) -> tuple[int, int]:
        """The same for frames in which the worst cell is not lit, in whatever state."""
        spans = [effect.lost_frames for effect in self.distinct]
        return min(least for least, _ in spans), max(most for _, most in spans)
