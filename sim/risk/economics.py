"""From weighted shows to money: what a night is expected to cost, how rarely it costs more, whose
doing it was.

In: a `Tally` of nights, the `Hazard`s that they name, a `Contract`. Out: frozen `Losses` and
`Part`s: exact decimals in the contract's currency, chances per show, wall-seconds a show.

A night's loss, and its dark time, is split equally among the hazards that struck in it (one that
struck twice counts once), whichever came first; a hazard's part equally among the suppliers of what
it struck.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import fsum

from sim.rig.terms import Contract
from sim.rig.topology import Rig
from sim.risk.dues import insured
from sim.risk.hazards import Hazard
from sim.risk.nights import Culprits, Night, Tally, tally
from sim.risk.sums import WHOLE, apportioned, chance, in_grains, shared

__all__ = [
    "Losses", "Night", "Part", "Rung", "Split", "Tally", "by_hazard", "by_supplier", "exceedance",
    "exceeded_once_in", "guessed_share", "losses_of", "split", "suppliers_of", "tally",
    "worst_of",
]  # fmt: skip

NOT_SAID = ""
"""The supplier of what nobody gave one."""

# ---- rare losses ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Rung:
    """A loss, the chance a show of at least as much, and of more."""

    loss: Decimal
    at_least: float
    more: float


def exceedance(found: Tally) -> tuple[Rung, ...]:
    """The exceedance curve: no loss, then every loss that was seen, rising."""
    losses = sorted({Decimal(0), *found.by_loss}, reverse=True)
    rungs, above = [], 0
    for loss in losses:
        here = above + found.by_loss.get(loss, 0)
        rungs.append(Rung(loss, chance(here), chance(above)))
        above = here
    return tuple(reversed(rungs))


def exceeded_once_in(shows: int, rungs: Sequence[Rung]) -> Decimal:
    """The loss exceeded once in so many shows: the smallest x with P(loss > x) <= 1 / shows.

    Chances are compared as floats, so that ten nights of weight 0.001 make 1 in 100.
    """
    return next(rung.loss for rung in rungs if rung.more <= 1 / shows)


# ---- whose doing ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Part:
    """What a hazard or a supplier has of the expected loss (None: no contract) and of the dark
    wall-seconds; `guessed`: how much of it rests on placeholders, 0 to 1 (`guessed_share`).
    """

    name: str
    loss: Decimal | None
    dark: float
    guessed: float


@dataclass(frozen=True, slots=True)
class Split:
    """The exact part of each hazard: of the loss (currency's unit), of dark wall-seconds."""

    money: tuple[Fraction, ...]
    dark: tuple[Fraction, ...]


def split(found: Tally, hazards: int) -> Split:
    """Each night's loss and dark time, equally among its culprits; adds up to the whole exactly."""
    money: list[dict[int, int]] = [defaultdict(int) for _ in range(hazards)]
    dark: list[dict[int, int]] = [defaultdict(int) for _ in range(hazards)]
    for culprits, sums in found.by_culprits.items():
        for place in culprits:
            money[place][len(culprits)] += sums.money
            dark[place][len(culprits)] += sums.dark
    return Split(
        tuple(found.money_of(shared(each)) for each in money),
        tuple(shared(each) / WHOLE for each in dark),
    )


def guessed_share(amounts: Sequence[Fraction], hazards: Sequence[Hazard]) -> float:
    """How much of the amounts comes from hazards whose rate is a placeholder, 0 to 1.

    Where all are 0 the strikes themselves are counted: a loss of nothing rests on rates as well.
    """
    whole = sum(amounts, Fraction(0))
    if not whole:
        masses = fsum(h.mass for h in hazards)
        return fsum(h.mass for h in hazards if h.guessed) / masses if masses else 0.0
    guesses = (a for a, h in zip(amounts, hazards, strict=True) if h.guessed)
    return float(sum(guesses, Fraction(0)) / whole)


def by_hazard(found: Tally, hazards: Sequence[Hazard]) -> tuple[Part, ...]:
    """One part for each hazard, in their order; the losses add up to the rounded whole exactly."""
    of = split(found, len(hazards))
    losses = _losses(found, of.money)
    return tuple(
        Part(hazard.key, loss, float(dark), float(hazard.guessed))
        for hazard, loss, dark in zip(hazards, losses, of.dark, strict=True)
    )


def by_supplier(
    found: Tally, hazards: Sequence[Hazard], owners: Sequence[tuple[str, ...]]
) -> tuple[Part, ...]:
    """One part for each supplier, the dearest first (then the darkest, then by name).

    `owners`: for each hazard the suppliers of what it struck (`suppliers_of`).
    """
    of, whose = split(found, len(hazards)), [each or (NOT_SAID,) for each in owners]
    names = sorted({name for each in whose for name in each})
    money = {name: _of_supplier(name, of.money, whose) for name in names}
    dark = {name: _of_supplier(name, of.dark, whose) for name in names}
    losses = _losses(found, [sum(money[name], Fraction(0)) for name in names])
    parts = []
    for name, loss in zip(names, losses, strict=True):
        own = [hazard for hazard, each in zip(hazards, whose, strict=True) if name in each]
        share = guessed_share(money[name] if any(money[name]) else dark[name], own)
        parts.append(Part(name, loss, float(sum(dark[name])), share))
    return tuple(sorted(parts, key=lambda part: (-(part.loss or 0), -part.dark, part.name)))


def _of_supplier(
    name: str, amounts: Sequence[Fraction], whose: Sequence[tuple[str, ...]]
) -> list[Fraction]:
    """Of the amount of each hazard that is this supplier's at all, what is."""
    pairs = zip(amounts, whose, strict=True)
    return [amount / len(of) * of.count(name) for amount, of in pairs if name in of]


def _losses(found: Tally, amounts: Sequence[Fraction]) -> Sequence[Decimal | None]:
    if not found.coins:
        return [None] * len(amounts)
    return apportioned(amounts, in_grains(found.expected))


def suppliers_of(hazard: Hazard, rig: Rig) -> tuple[str, ...]:
    """The suppliers of what a hazard strikes, or of the selectors that fail it, each once."""
    named = [name for strike in hazard.strikes for name in strike.struck] or list(hazard.failing)
    things = [rig.things.get(name.partition("#")[0]) for name in named]
    found = {thing.supplier for thing in things if thing is not None and thing.supplier}
    found = found or {strike.supplier for strike in hazard.strikes if strike.supplier}
    return tuple(sorted(found))


# ---- all of it -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Losses:
    """What the contract costs a show. `expected` = `insurer` + `owner`, exactly, in grains.

    `once_in_100`, `once_in_1000`: as `exceeded_once_in`. `worst`: the worst foreseeable loss, the
    largest that any one fault can cost or that any night seen cost; `worst_by`: keys of the
    hazards that do it. `guessed`: how much of `expected` rests on placeholders.
    """

    currency: str
    expected: Decimal
    insurer: Decimal
    owner: Decimal
    rungs: tuple[Rung, ...]
    once_in_100: Decimal
    once_in_1000: Decimal
    worst: Decimal
    worst_by: tuple[str, ...]
    guessed: float


def losses_of(
    found: Tally, hazards: Sequence[Hazard], contract: Contract, alone: Mapping[int, Decimal]
) -> Losses:
    """`alone`: for hazards that were studied on their own, the most that each alone can cost."""
    expected, rungs = in_grains(found.expected), exceedance(found)
    borne = sum(
        (Fraction(insured(contract, loss)) * n for loss, n in found.by_loss.items()), Fraction(0)
    )
    insurer = in_grains(borne / WHOLE)
    worst, who = worst_of(found, alone)
    return Losses(
        currency=contract.currency,
        expected=expected,
        insurer=insurer,
        owner=expected - insurer,
        rungs=rungs,
        once_in_100=exceeded_once_in(100, rungs),
        once_in_1000=exceeded_once_in(1000, rungs),
        worst=worst,
        worst_by=tuple(hazards[place].key for place in who),
        guessed=guessed_share(split(found, len(hazards)).money, hazards),
    )


def worst_of(found: Tally, alone: Mapping[int, Decimal]) -> tuple[Decimal, Culprits]:
    """The largest loss and who did it: of equal ones a single fault, then the first."""
    seen = max(found.by_loss)
    single = min(alone, key=lambda place: (-alone[place], place), default=None)
    if single is not None and alone[single] >= seen and alone[single] > 0:
        return alone[single], (single,)
    return seen, found.worst_by[seen] if seen else ()
