"""A slip in words: what is seen, what it may be, what to do first and second, what never.

In: a frozen `Slip`, the rig that it is for, the show's rate. Out: frozen `Told`: short texts, the
same for every format. Names of a scenario are written out so that none can be markup or a control
character; long ones are cut, and lists say how much more there is (JSON has all).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.limits.findings import grouped
from sim.practice.kindred import BLINKED, Seen
from sim.practice.remedies import BREAK, UNKNOWN
from sim.practice.slips import Slip, Suspect
from sim.practice.steps import Harm, Step
from sim.report.slips_acts import LONGEST, acts_words, cut, price_words, raised
from sim.report.words import (
    counted,
    frames,
    frames_words,
    listed,
    plain,
    seconds,
    share,
    shares,
    unit_words,
)
from sim.rig.topology import Rig
from sim.timebase import Rate, show_time

MOST_SUSPECTS, MOST_PLACES, MOST_REPORTS, MOST_PRICES = 4, 6, 3, 1
FLICKER = (
    "It flashes: more than three times in a second over a quarter of the screen can harm "
    "photosensitive viewers (ITU-R BT.1702, WCAG 2.3.1). Darken it."
)


@dataclass(frozen=True, slots=True)
class Told:
    """A slip in words; every field but `number`, `title` and `alone` is a list of sentences."""

    number: int
    title: str
    rank: str
    where: str
    see: tuple[str, ...]
    maybe: tuple[str, ...]
    alone: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    never: tuple[str, ...]
    spare: tuple[str, ...]
    cautions: tuple[str, ...]


def told(slip: Slip, rig: Rig, rate: Rate) -> Told:
    """A slip in words."""
    return Told(
        number=slip.number,
        title=title(slip),
        rank=_rank(slip),
        where=_where(slip),
        see=tuple(_see(slip)),
        maybe=tuple(_maybe(slip, rate)),
        alone=_alone(slip, rate),
        first=tuple(_step(slip.first, slip, rig, rate)) or (_nothing(slip),),
        second=tuple(_step(slip.second, slip, rig, rate)) or (_no_second(slip),),
        never=tuple(_harm(harm, slip, rig) for harm in slip.nevers) or ("See the never-do list.",),
        spare=tuple(_spares(slip)),
        cautions=(*slip.cautions, *([FLICKER] if slip.flashes else [])),
    )


# ---- what is seen --------------------------------------------------------------------------------


def title(slip: Slip) -> str:
    """The head of a slip: the worst that is seen."""
    if slip.seen:
        lasting = [seen for seen in slip.seen if seen.state != BLINKED]
        alike: dict[tuple[object, ...], list[Seen]] = {}
        for seen in lasting or slip.seen:
            key = (seen.state, seen.cabinets, min(seen.share) == 1)
            alike.setdefault(key, []).append(seen)
        of = [*alike.values()][:2]
        return "; ".join(_look(s[0], listed(cut(each.wall, 40) for each in s)) for s in of)
    return "alarm, the picture stands" if slip.alarms else "nothing to be seen"


def _look(seen: Seen, wall: str) -> str:
    state = "blinked, lit again" if seen.state == BLINKED else seen.state
    if min(seen.share) == 1:
        return f"{wall} all {state}"
    number = frames(seen.cabinets)
    return f"{wall}: {number} cabinet{'s' * (seen.cabinets != (1, 1))} {state}"


def _see(slip: Slip) -> Iterator[str]:
    for seen in slip.seen:
        yield f"{_look(seen, cut(seen.wall, 40))} ({shares(seen.share)} of it)"
    if not slip.seen:
        yield "Every wall is lit."
    yield from _few([said(text) for text in slip.alarms], MOST_REPORTS, "alarm")
    yield from _few([said(text) for text in slip.reports], MOST_REPORTS, "report")
    if not slip.alarms:
        yield "No alarm."


def said(text: str) -> str:
    """A report or an alarm: what it is of may be cut, what it says never."""
    of, colon, says = text.rpartition(": ")
    return f"{cut(of, LONGEST - len(says))}{colon}{says}"


def _few(texts: Sequence[str], most: int, what: str) -> Iterator[str]:
    yield from texts[:most]
    if len(texts) > most:
        yield f"and {counted(len(texts) - most, f'more {what}', f'more {what}s')}"


def _where(slip: Slip) -> str:
    names = [cut(plain(name), 40) for name in slip.where[:MOST_PLACES]]
    more = len(slip.where) - len(names)
    if len(slip.where) == 1:
        return ""
    return f"{counted(len(slip.where), 'place')}: {', '.join(names)}" + (
        f" and {more} more" if more else ""
    )


def _rank(slip: Slip) -> str:
    often = f"once in {_round(1 / slip.likelihood)} shows" if slip.likelihood < 1 else "each show"
    lost = (
        f"{seconds(slip.damage)} s of the whole picture are lost" if slip.damage else "nothing is"
    )
    return f"{often}; if nobody acts, {lost}"


def _round(value: float) -> str:
    return grouped(round(float(f"{value:.2g}")))


# ---- what it may be, what recovers ---------------------------------------------------------------


def _maybe(slip: Slip, rate: Rate) -> Iterator[str]:
    for suspect in slip.suspects[:MOST_SUSPECTS]:
        yield f"{suspect_words(suspect)} ({share(Fraction(suspect.chance))}): {_ends(suspect)}"
    more = slip.suspects[MOST_SUSPECTS:]
    if more:
        rest = sum(suspect.chance for suspect in more)
        kinds = counted(len(more), "other kind")
        yield f"{kinds} of fault ({share(Fraction(min(rest, 1.0)))})"


def suspect_words(suspect: Suspect) -> str:
    """A kind of fault: `receiver dead`, `scaling unit A moved to camera full`."""
    to = f" to {plain(suspect.detail)}" if suspect.detail else ""
    by = f" ({suspect.shared})" if suspect.shared else ""
    return cut(f"{unit_words(suspect.role)} {suspect.mode}{to}{by}".strip())


def _ends(suspect: Suspect) -> str:
    again = "" if suspect.recovers is None else f"blinks {frames_words(suspect.recovers)}"
    if suspect.lasts:
        return f"{again}, part of it lasts" if again else "lasts"
    return again or "costs nothing"


def _alone(slip: Slip, rate: Rate) -> str:
    race = " Two protections race: frames may lie outside." if slip.raced else ""
    if slip.recovers is None:
        return ("Nothing." if slip.lasts else "Nothing is lost: the picture stands.") + race
    most = show_time(slip.recovers[1] * rate.frame, rate)
    within = f"within {frames_words(slip.recovers)} (at most {most})"
    if slip.lasts:
        return f"What only blinks, {within}. The rest does not.{race}"
    return f"All of it, {within}.{race}"


# ---- what to do ----------------------------------------------------------------------------------


def _nothing(slip: Slip) -> str:
    if slip.unseen:
        return "Do nothing: nobody notices it; a test of the backup does."
    if slip.lasts:
        wait = slip.second.when == BREAK and slip.second.saves > 0
        rest = "; if it cannot wait, have a break called." if wait else "."
        return (
            f"Do nothing: no act that can be done now makes it better. Tell the show caller{rest}"
        )
    if slip.recovers is None:
        return "Do nothing to the picture: it stands. Tell the show caller: a leg is lost."
    return "Do nothing: it recovers alone. Tell the show caller: a leg may be lost."


def _no_second(slip: Slip) -> str:
    if slip.first.whole == 1:
        return "Watch it: nothing more is needed."
    lead = "If it was that, watch it; else nothing" if slip.first.whole else "Nothing"
    return f"{lead} that can be done in the show mends it: plan it for after the show."


def _step(step: Step, slip: Slip, rig: Rig, rate: Rate) -> Iterator[str]:
    if not step.acts:
        return
    many = len(slip.where) > 1
    place = f", at {cut(step.place, 40)}" if step.place else ""
    when = {BREAK: ", in a break", UNKNOWN: ", place not stated"}.get(step.when, "")
    yield f"{raised(acts_words(step.acts, rig, many))}{place}{when}."
    asks = any(act.do == "take" for act in step.acts)
    word = " with the show caller's word;" if asks or step.when == BREAK or step.prices else ""
    yield f"Who: {listed(step.who)};{word} takes about {show_time(step.time, rate)}."
    yield f"{_helps(step)}; {_whole(step)}."
    for price in step.prices[:MOST_PRICES]:
        yield f"Price, if it is {cut(plain(price.name))}: {price_words(price)}."


def _helps(step: Step) -> str:
    if not step.helps:
        return "Nothing to win for the picture"
    return f"Helps the picture in {share(step.helps)} of cases"


def _whole(step: Step) -> str:
    if not step.whole:
        return "redundancy stays open"
    return f"full redundancy afterwards in {share(step.whole)} of cases"


def _harm(harm: Harm, slip: Slip, rig: Rig) -> str:
    what = acts_words(harm.acts, rig, len(slip.where) > 1)
    return f"{raised(what)}: {price_words(harm.price)} more, and nothing is won."


def _spares(slip: Slip) -> Iterator[str]:
    found = dict.fromkeys((*slip.first.spares, *slip.second.spares))
    places = [step.place for step in (slip.first, slip.second) if step.spares and step.place]
    place = f", to be fitted at {cut(places[0], 40)}" if places else ""
    for name, count in found:
        yield f"{cut(name)}: {count} in stock{place}"
    if not found:
        yield "none is used"


def all_of(texts: Iterable[str]) -> str:
    """Sentences, each on a line of its own."""
    return "\n".join(texts)
