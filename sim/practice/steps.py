"""Which act comes first, which second, and which never: found by trying them all on the rig.

In: a `Bench`, faults that look alike with their chances, ways to act. Out: frozen `Step`s and
`Harm`s. The first act is the one that is expected to save most of the picture (wall-seconds not lit
within the trial; what is only off the reference counts last), so that the picture is best soonest;
if none saves anything: do nothing. The second saves most after it, or else brings back redundancy.
What an act costs any of the faults is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.practice.acts import Act
from sim.practice.cautions import FIBRE, HEIGHT, POWER, cautions_of
from sim.practice.costs import spare_of
from sim.practice.remedies import AFTER, BREAK, NOW, UNKNOWN, Site, Way, touched
from sim.practice.trials import Bench
from sim.practice.weighing import NONE, Price, Table, full, table
from sim.timebase import FLICKS

ELECTRICIAN = "a qualified electrician under local codes"
RIGGER = "a trained person, secured, under local rules for work at height"
OPTICIAN = "somebody trained on fibre"
DESK = "the engineer at the desk"
HANDS = "a technician at the thing"
BLINK = 5 * FLICKS
"""A wall may be made dark for so long without a break (a judgement, from memory)."""
WORTH = Fraction(1, 10)
"""What helps with a smaller chance is no first act (a judgement, from memory)."""
MOST_HARMS = 2
"""So many acts that do harm are named on a slip, the worst first."""


@dataclass(frozen=True, slots=True)
class Step:
    """What to do. `acts`: () is nothing; `things` that are touched; `when`: one of `remedies.WHEN`;
    `who` may do it; `time` that it takes (flicks, the way included); `sources` of that; `saves`:
    wall-seconds not lit that it is expected to save; `helps`: the chance that it saves any;
    `whole`: that there is full redundancy then; `prices`: of the faults that it makes worse.
    """

    acts: tuple[Act, ...] = ()
    things: tuple[str, ...] = ()
    place: str = ""
    when: str = NOW
    who: tuple[str, ...] = ()
    time: int = 0
    sources: tuple[str, ...] = ()
    saves: Fraction = Fraction(0)
    helps: Fraction = Fraction(0)
    whole: Fraction = Fraction(0)
    prices: tuple[Price, ...] = ()
    cautions: tuple[str, ...] = ()
    spares: tuple[tuple[str, int], ...] = ()


NOTHING = Step()


@dataclass(frozen=True, slots=True)
class Harm:
    """An act that saves nothing here, and what it costs at worst."""

    acts: tuple[Act, ...]
    things: tuple[str, ...]
    price: Price


# ---- choosing ------------------------------------------------------------------------------------


def first_of(found: Table) -> Way | None:
    """The way that saves most of what can be done at once, helps often enough, and darkens nothing
    for longer than a blink; where all recovers alone, it must cost nothing either. None: nothing
    is worth it.
    """
    return _best(found, [way for way in found.tried if _bearable(found, way)])


def _bearable(found: Table, way: Way) -> bool:
    if way.when not in (NOW, UNKNOWN) or found.helped(way) < WORTH:
        return False
    prices = found.prices(way)
    return not prices if found.alone else not _blinds(prices, found.bench)


def _blinds(prices: Iterable[Price], bench: Bench) -> bool:
    return any(price.frames * bench.rig.frame > BLINK for price in prices)


def _best(found: Table, ways: Iterable[Way]) -> Way | None:
    """The way that saves most, of those that save anything and either leave it better for good or
    cost nothing meanwhile.
    """
    able = [w for w in ways if found.saved(w) > NONE]
    able = [w for w in able if found.cured(w) > NONE or not found.prices(w)]
    return max(able, key=lambda way: (*found.saved(way), -found.time(way)), default=None)


def second_of(found: Table) -> Way | None:
    """The way that saves most of all that the show allows; else the one most likely to bring back
    redundancy; None: neither can be had.
    """
    able = [way for way in found.tried if way.when != AFTER]
    best = None if found.alone else _best(found, able)
    whole = [way for way in able if found.whole(way)]
    key = lambda way: (found.whole(way), *found.saved(way), -found.time(way))  # noqa: E731
    return best or max(whole, key=key, default=None)


@dataclass(frozen=True)
class Order:
    """The first way and the second, each with the table in which it was found."""

    first: Way | None
    found: Table
    second: Way | None
    later: Table


def in_order(chosen: Order) -> Order:
    """The two ways the other way round, if the second can be done first and more is saved so."""
    first, second, found = chosen.first, chosen.second, chosen.found
    if first is None or second is None or second not in found.tried:
        return chosen
    if found.saved(second) <= NONE or not _bearable(found, second):
        return chosen
    turned = table(found.bench, found.causes, (first,), (second,), found.alone)
    better = turned.cost(first) < chosen.later.cost(second)
    return Order(second, found, first, turned) if better else chosen


def step_of(found: Table, way: Way | None) -> Step:
    """A way with all that is to be said of it. What darkens more than a blink, or brings redundancy
    alone at a price, waits for a break.
    """
    if way is None:
        return NOTHING
    site, prices = found.bench.site, found.prices(way)
    dear = _blinds(prices, found.bench) or (found.saved(way) <= NONE and bool(prices))
    waits = dear and way.when in (NOW, UNKNOWN)
    things = tuple(dict.fromkeys(n for act in way.acts for n in touched(act, site.rig)))
    cautions = cautions_in(way.acts, site)
    done = full(found.tried[way]).done[len(found.before[0].done) :]
    return Step(
        acts=way.acts,
        things=things,
        place=way.place,
        when=BREAK if waits else way.when,
        who=_who(way, cautions),
        time=found.time(way),
        sources=tuple(dict.fromkeys(f"{each.act.do}: {each.cost.source}" for each in done)),
        saves=found.saved(way)[1],
        helps=found.helped(way),
        whole=found.sound(way),
        prices=prices,
        cautions=cautions,
        spares=tuple(_spares(way.acts, site)),
    )


def cautions_in(acts: Iterable[Act], site: Site) -> tuple[str, ...]:
    """What must be told before these acts, each once."""
    rig = site.rig
    found = [
        text
        for act in acts
        for name in touched(act, rig)[:1]
        for text in cautions_of(act, rig.things[name])
    ]
    return tuple(dict.fromkeys(found))


def _who(way: Way, cautions: Sequence[str]) -> tuple[str, ...]:
    trained = {POWER: ELECTRICIAN, HEIGHT: RIGGER, FIBRE: OPTICIAN}
    found = tuple(trained[text] for text in cautions if text in trained)
    return found or ((HANDS,) if way.place or way.when != NOW else (DESK,))


def _spares(acts: Iterable[Act], site: Site) -> Iterable[tuple[str, int]]:
    for act in acts:
        if act.do == "swap" and site.crew:
            stock = spare_of(site.rig.things[act.on], site.crew)
            yield stock, site.crew.spares.get(stock, 0)


def harms_of(found: Table, but: Iterable[Way | None]) -> tuple[Harm, ...]:
    """Acts that are expected to save nothing and cost something, the dearest first; of each kind of
    act the worst.
    """
    site, left = found.bench.site, set(but)
    worst: dict[str, Harm] = {}
    for way in found.tried:
        prices = found.prices(way)
        if way in left or not prices or found.saved(way) > NONE:
            continue
        things = tuple(dict.fromkeys(n for act in way.acts for n in touched(act, site.rig)))
        harm = Harm(way.acts, things, prices[0])
        kind = way.acts[0].do
        if kind not in worst or _grave(harm) > _grave(worst[kind]):
            worst[kind] = harm
    return tuple(sorted(worst.values(), key=_grave, reverse=True)[:MOST_HARMS])


def _grave(harm: Harm) -> tuple[Fraction, Fraction]:
    return harm.price.share * harm.price.frames, harm.price.lost
