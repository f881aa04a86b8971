"""Shows as the simulation hands them on, each with its part of probability, and all added up.

In: `Night`s (flicks, wall-seconds), a contract's `Dues`. Out: a frozen `Tally` of whole numbers:
sums are exact over the weights as given, so that the order of the nights does not matter.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sim.risk.dues import Dues, owed, passed
from sim.risk.sums import WHOLE, parts_of

Culprits = tuple[int, ...]
"""Places of the hazards that struck in a night, rising, each once."""
SUM_OFF = 1e-9
"""By how much the weights of all nights may miss 1."""


@dataclass(frozen=True, slots=True)
class Night:
    """One show, or many alike. `weight`: its part of probability; all, the one without a fault
    among them, sum to 1. `longest`: flicks, in the order of `dues.asked`; `culprits`: places of the
    hazards that struck; `dark`: wall-seconds.
    """

    weight: float
    longest: tuple[int, ...] = ()
    culprits: tuple[int, ...] = ()
    dark: float = 0.0


@dataclass(frozen=True, slots=True)
class Sums:
    """Of nights with the same culprits: probability in WHOLEths, the same times loss (in smallest
    coins), the same times dark wall-seconds.
    """

    parts: int = 0
    money: int = 0
    dark: int = 0


@dataclass(frozen=True, slots=True)
class Tally:
    """All nights added up: by who struck, by what was lost. `worst_by`: for each loss the fewest
    culprits that cost it; `coins`: smallest coins in the currency's unit; 0 without a contract.
    """

    by_culprits: Mapping[Culprits, Sums]
    by_loss: Mapping[Decimal, int]
    worst_by: Mapping[Decimal, Culprits]
    coins: int

    @property
    def expected(self) -> Fraction:
        """The exact mean loss of a show, in the currency's unit; 0 without a contract."""
        return self.money_of(sum(sums.money for sums in self.by_culprits.values()))

    def money_of(self, money: int | Fraction) -> Fraction:
        """A sum over coins and WHOLEths in the currency's unit."""
        return Fraction(money, WHOLE * self.coins) if self.coins else Fraction(0)

    @property
    def dark(self) -> float:
        """Mean dark wall-seconds of a show."""
        return float(Fraction(sum(sums.dark for sums in self.by_culprits.values()), WHOLE))


def tally(nights: Iterable[Night], dues: Dues | None) -> Tally:
    """All nights added up exactly. Raises ValueError for weights that do not sum to 1, and for a
    loss or dark time that nobody caused.
    """
    coins = 10**dues.places if dues else 0
    losses: dict[tuple[int, ...], tuple[Decimal, int]] = {}
    sums: dict[Culprits, list[int]] = {}
    by_loss: dict[Decimal, int] = defaultdict(int)
    worst: dict[Decimal, Culprits] = {}
    for night in nights:
        steps = passed(dues, night.longest) if dues else ()
        if steps not in losses:
            losses[steps] = _in_coins(dues, steps)
        loss, money = losses[steps]
        parts, culprits = parts_of(night.weight), night.culprits
        if len(culprits) > 1:
            culprits = tuple(sorted(set(culprits)))
        if not culprits and (loss or night.dark):
            raise ValueError(f"{night}: a loss has a cause")
        entry = sums.setdefault(culprits, [0, 0, 0])
        entry[0] += parts
        entry[1] += parts * money
        entry[2] += parts_of(night.weight * night.dark)
        by_loss[loss] += parts
        if loss not in worst or _rank(culprits) < _rank(worst[loss]):
            worst[loss] = culprits
    if abs(sum(by_loss.values()) / WHOLE - 1) > SUM_OFF:
        raise ValueError(f"weights sum to {sum(by_loss.values()) / WHOLE!r}: 1")
    return Tally({c: Sums(*s) for c, s in sorted(sums.items())}, by_loss, worst, coins)


def _in_coins(dues: Dues | None, steps: tuple[int, ...]) -> tuple[Decimal, int]:
    """What is due, and how many of the smallest coins that is."""
    loss = owed(dues, steps) if dues else Decimal(0)
    return loss, int(loss.scaleb(dues.places)) if dues else 0


def _rank(culprits: Culprits) -> tuple[int, Culprits]:
    """The fewest first."""
    return len(culprits), culprits
