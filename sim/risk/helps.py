"""What helps most: what another topology, a test, a spare, a protection would save, and its price.

In: a `Tally` of the nights of the topology offered, its hazards, what else could be had. Out:
`Help`s, what saves most first: exact decimals (a show), wall-seconds (a show).

What a test, a spare or a protection saves is worked out on the nights already seen: a night is held
against the mean of the nights in which only its other hazards struck (none: it costs nothing).
Where no such night was seen it saves the part that is split off to the hazards in question. It
says "at most": as if the test, spare or protection were perfect.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sim.risk.figures import SECOND_WAY, SPARE, TEST, Help
from sim.risk.hazards import Hazard
from sim.risk.nights import Culprits, Sums, Tally
from sim.risk.sums import WHOLE, in_grains, shared

YES, NOT_FOR_PENALTIES, UNKNOWN = "yes", "not worth it for penalties alone", ""
NOTHING = 1e-9
"""What spares less than this part of the darkness offered spares none (floats differ that far)."""


@dataclass(frozen=True, slots=True)
class Option:
    """Something that can be had whole: the expected loss a show with it (None: no contract), dark
    wall-seconds a show, how much more it costs than what is offered (None: nobody said a price).
    """

    what: str
    loss: Decimal | None
    dark: float
    price: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Guard:
    """Something that would make hazards harmless, of a kind (see `Help`). `gone`: their places;
    `spares` None: all of them; else only the next one that strikes after so many, for which there
    is no spare.
    """

    what: str
    gone: frozenset[int]
    price: Decimal | None = None
    spares: int | None = None
    kind: str = SECOND_WAY
    many: bool = False


@dataclass(frozen=True, slots=True)
class Move:
    """Nights, one of `among` equal parts of them, that would be as if only `rest` had struck."""

    culprits: Culprits
    rest: Culprits
    among: int = 1


# ---- candidates ----------------------------------------------------------------------------------


def by_role(hazards: Sequence[Hazard], causes: Collection[str]) -> dict[str, frozenset[int]]:
    """The places of the hazards of these causes, by the role of what they strike."""
    found: dict[str, set[int]] = defaultdict(set)
    for place, hazard in enumerate(hazards):
        if hazard.cause in causes and hazard.strikes:
            found[hazard.strikes[0].role].add(place)
    return {role: frozenset(found[role]) for role in sorted(found)}


def guards_by_test(hazards: Sequence[Hazard]) -> tuple[Guard, ...]:
    """One test for each role of which something was never tested."""
    found = by_role(hazards, ("never tested",))
    return tuple(
        Guard(role, gone, kind=TEST, many=several(hazards, gone)) for role, gone in found.items()
    )


def guards_by_protection(
    hazards: Sequence[Hazard], prices: Mapping[str, Decimal] | None = None
) -> tuple[Guard, ...]:
    """One protection for each role that fails by itself; `prices` by role."""
    known = prices or {}
    found = by_role(hazards, ("item",))
    return tuple(
        Guard(role, gone, known.get(role), many=several(hazards, gone))
        for role, gone in found.items()
    )


def several(hazards: Sequence[Hazard], places: Collection[int]) -> bool:
    """Whether these strike at more than one thing or route."""
    return len({strike.where for n in places for strike in hazards[n].strikes}) > 1


def guards_by_spare(
    used: Sequence[Mapping[str, int]], held: Mapping[str, int], prices: Mapping[str, Decimal]
) -> tuple[Guard, ...]:
    """One more spare of each type. `used`: for each hazard the spares it uses up, by type
    (`kits_struck`); `held`: spares in stock, what is not named none; `prices` of one, by type.
    """
    kits = sorted({kit for each in used for kit in each})
    return tuple(
        Guard(
            kit,
            frozenset(place for place, each in enumerate(used) if kit in each),
            prices.get(kit),
            held.get(kit, 0),
            SPARE,
        )
        for kit in kits
    )


# ---- what they save ------------------------------------------------------------------------------


def touching(found: Tally) -> dict[int, list[Culprits]]:
    """For each hazard the sets of culprits that it is one of."""
    index: dict[int, list[Culprits]] = defaultdict(list)
    for culprits in found.by_culprits:
        for place in culprits:
            index[place].append(culprits)
    return index


def moves(index: Mapping[int, Sequence[Culprits]], guard: Guard) -> Iterator[Move]:
    """What the guard makes of the nights that it touches (`index`: of `touching`). Of several
    hazards that lack a spare each is as likely to be the one that gets it.
    """
    for first in sorted(guard.gone):
        for culprits in index.get(first, ()):
            hit = [place for place in culprits if place in guard.gone]
            if hit[0] != first:
                continue
            if guard.spares is None:
                yield Move(culprits, tuple(p for p in culprits if p not in guard.gone))
            elif len(hit) > guard.spares:
                rests = (tuple(p for p in culprits if p != gone) for gone in hit)
                yield from (Move(culprits, rest, len(hit)) for rest in rests)


def saved(found: Tally, moved: Iterable[Move]) -> tuple[Fraction, float]:
    """What is saved a show: loss (currency's unit), dark wall-seconds; each at least 0."""
    money: dict[int, int] = defaultdict(int)
    dark: dict[int, int] = defaultdict(int)
    kept: dict[Culprits, dict[int, int]] = {}
    for move in moved:
        sums, among, times = found.by_culprits[move.culprits], move.among, 1
        if move.rest and not _seen(found, move.rest).parts:
            times, among = len(move.culprits) - len(move.rest), among * len(move.culprits)
        else:
            parts = kept.setdefault(move.rest, defaultdict(int))
            parts[among] += sums.parts
        money[among] += times * sums.money
        dark[among] += times * sums.dark
    left = [(shared(parts), _seen(found, rest)) for rest, parts in kept.items()]
    like = [(parts / sums.parts, sums) for parts, sums in left if sums.parts]
    less = shared(money) - sum((share * sums.money for share, sums in like), Fraction(0))
    lit = shared(dark) - sum((share * sums.dark for share, sums in like), Fraction(0))
    return found.money_of(max(less, Fraction(0))), float(max(lit, Fraction(0)) / WHOLE)


def _seen(found: Tally, culprits: Culprits) -> Sums:
    return found.by_culprits.get(culprits, Sums())


def worth_of(saves: Decimal | None, price: Decimal | None, shows: int) -> str:
    """Whether penalties saved over so many shows exceed the price; UNKNOWN without either."""
    if saves is None or price is None:
        return UNKNOWN
    return YES if saves * shows > price else NOT_FOR_PENALTIES


def helps(
    found: Tally, options: Sequence[Option], guards: Sequence[Guard], shows: int = 1
) -> tuple[Help, ...]:
    """All that would help against what is offered, what saves most first (of equal ones what spares
    most darkness, then the cheapest, then by name); what neither saves nor spares is left out.

    `shows`: over how many the price is paid. Raises ValueError for fewer than one.
    """
    if shows < 1:
        raise ValueError(f"{shows} shows: at least one")
    index, least = touching(found), NOTHING * found.dark
    made = [_of_option(found, option, shows) for option in options]
    for guard in guards:
        money, dark = saved(found, moves(index, guard))
        amount = in_grains(money) if found.coins else None
        worth, kind = worth_of(amount, guard.price, shows), guard.kind
        made.append(Help(guard.what, amount, dark, guard.price, worth, kind, True, guard.many))
    return tuple(sorted((h for h in made if (h.saves or 0) > 0 or h.spares > least), key=_rank))


def _rank(each: Help) -> tuple[Decimal, float, bool, Decimal, str]:
    nothing = Decimal(0)
    unpriced, name = each.price is None, f"{each.kind} {each.what}"
    return -(each.saves or nothing), -each.spares, unpriced, each.price or nothing, name


def _of_option(found: Tally, option: Option, shows: int) -> Help:
    has_money = found.coins and option.loss is not None
    saves = in_grains(found.expected) - (option.loss or Decimal(0)) if has_money else None
    worth = worth_of(saves, option.price, shows)
    return Help(option.what, saves, found.dark - option.dark, option.price, worth)
