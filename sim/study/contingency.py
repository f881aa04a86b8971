"""What every fault does to a wall group: singles under all corners, and pairs.

In: a `Laboratory`, strikes. Out: frozen `Outcome`s and `Pair`s.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sim.faults import Fault
from sim.study.effects import Effect
from sim.study.laboratory import Laboratory
from sim.study.outcome import CORNERS, Outcome
from sim.study.strikes import Strike

__all__ = [
    "CORNERS", "Laboratory", "Outcome", "Pair", "distinct", "likeness",
    "lost_together", "pair", "pairs", "singles",
]  # fmt: skip


def singles(laboratory: Laboratory, struck: Iterable[Strike]) -> tuple[Outcome, ...]:
    """The outcome of every one of these strikes that can be noticed in the group."""
    return tuple(laboratory.outcome(s) for s in struck if laboratory.concerns(s))


def likeness(laboratory: Laboratory, strike: Strike) -> object:
    """Equal for faults that do the same to like parts of the rig."""
    return laboratory.sign(strike), strike.mode, strike.detail


def distinct(laboratory: Laboratory, outcomes: Iterable[Outcome]) -> list[Outcome]:
    """The first outcome of each likeness."""
    first: dict[object, Outcome] = {}
    for outcome in outcomes:
        first.setdefault(likeness(laboratory, outcome.strike), outcome)
    return list(first.values())


@dataclass(frozen=True, slots=True)
class Pair:
    """Two different faults, the second when the first has settled; `alone`: pixels not lit after
    each alone.
    """

    first: Strike
    second: Strike
    effect: Effect
    alone: tuple[int, int]

    @property
    def worse(self) -> bool:
        """Whether the two together leave more not lit than each alone leaves when added up."""
        return self.effect.lost() > sum(self.alone)


def pair(laboratory: Laboratory, first: Strike, second: Strike, which: str = "typical") -> Effect:
    """What a second strike adds when the first has settled (which is still there unless it ended of
    itself).
    """
    return laboratory.effect(_both(laboratory, first, second, which), which)


def lost_together(laboratory: Laboratory, first: Strike, second: Strike) -> int:
    """Pixels not lit after both, with all timings typical."""
    return laboratory.lost(_both(laboratory, first, second, "typical"), "typical")


def _both(laboratory: Laboratory, first: Strike, second: Strike, which: str) -> tuple[Fault, ...]:
    when = laboratory.settled_at(first.faults, which) + 1
    return (*first.faults, *second.at(when).faults)


def pairs(laboratory: Laboratory, struck: Sequence[Strike]) -> tuple[Pair, ...]:
    """Every pair of two different strikes on different things, in both orders."""
    lost = {s.name: laboratory.effect(s.faults, "typical").lost() for s in struck}
    return tuple(
        Pair(one, other, pair(laboratory, one, other), (lost[one.name], lost[other.name]))
        for one in struck
        for other in struck
        if not set(one.struck) & set(other.struck)
    )
