"""Drills drawn by likelihood and difficulty: which faults strike, when, where the engineer sits.

In: a `Library`, the hazards of a rig, a difficulty, a seed. Out: a frozen `Drawn`. Single faults
are drawn in proportion to their masses among those that a difficulty admits, pairs in proportion to
the product of theirs (`risk.striking`). The same seed gives the same drill.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from sim.errors import refuse
from sim.practice.causes import Cause, nothing_wrong, singles
from sim.practice.library import Library
from sim.practice.pairs import paired
from sim.rig.topology import Rig
from sim.risk.streams import stream
from sim.risk.striking import Hazard, position, strike_at
from sim.timebase import FLICKS

MOST_ALIKE = 4
"""An easy fault looks like at most so many, itself among them: what half of all faults keep to."""
MOST_TRIES = 20_000
LASTS = 30 * 60 * FLICKS
"""A drawn drill goes on for so long after its fault: time to call a break and to swap a unit."""


@dataclass(frozen=True, slots=True)
class Level:
    """What a difficulty asks. `seen`: some wall stays not lit; `alike`: the most faults that look
    so (0: any number); `hidden`: something that was so before the show, unseen, makes the walls
    look otherwise; `fewer`: so many spares of each type have been used; `near`: the engineer sits
    where the units are; `told`: hints are given.
    """

    seen: bool = False
    alike: int = 0
    hidden: bool = False
    fewer: int = 0
    near: bool = True
    told: bool = False


LEVELS: Mapping[str, Level] = {
    "easy": Level(seen=True, alike=MOST_ALIKE, told=True),
    "middling": Level(),
    "hard": Level(hidden=True, fewer=1, near=False),
}


@dataclass(frozen=True)
class Pool:
    """What may be drawn: single faults with their looks, what may be hidden; `alike`: how many
    faults look like each single one.
    """

    level: Level
    struck: tuple[Cause, ...]
    hidden: tuple[Hazard, ...]
    alike: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """`first`: so since before the show, if anything; `cause` strikes at the flick `at`; `begin`:
    from which flick on the engineer watches; `seat`: where the engineer sits, from 0 to below 1,
    the part of the way through all places; `alike`: how many faults look like `cause`; `shown`:
    whether some wall stays not lit.
    """

    level: Level
    first: Hazard | None
    cause: Cause
    at: int
    begin: int
    seat: float
    alike: int
    shown: bool


def pool_of(library: Library, hazards: Sequence[Hazard], level: Level) -> Pool:
    """Everything that a difficulty admits: of single faults those that anybody can notice.
    Cables patched wrong at load-in are left out: no drill file can say them.
    """
    nothing = nothing_wrong(library).look.sign
    hazards = [hazard for hazard in hazards if _can_be_said(library.rig, hazard)]
    shown = [cause for cause in singles(library, hazards) if cause.look.sign != nothing]
    alike = Counter(cause.look.sign for cause in shown)
    kept = [c for c in shown if _admits(level, c, alike[c.look.sign])]
    hidden = [h for h in hazards if level.hidden and h.early and _unseen(library, h)]
    return Pool(level, tuple(kept), tuple(hidden), tuple(alike[c.look.sign] for c in kept))


def _admits(level: Level, cause: Cause, alike: int) -> bool:
    few = not level.alike or alike <= level.alike
    return few and (bool(cause.look.shown.spots) or not level.seen)


def _can_be_said(rig: Rig, hazard: Hazard) -> bool:
    """Whether every thing that it strikes knows its mode."""
    faults = strike_at(hazard, 0)
    return all(f.thing not in rig.things or f.mode in rig.things[f.thing].modes for f in faults)


def _unseen(library: Library, hazard: Hazard) -> bool:
    return not hazard.strikes or library.look(strike_at(hazard, 0)).unseen


def drawn(pool: Pool, library: Library, seed: int) -> Drawn:
    """The drill of a seed. Raises InputError where nothing is admitted."""
    if not pool.struck or (pool.level.hidden and not pool.hidden):
        raise _nothing()
    draws = stream(seed, "drawn drill")
    when, lead, seat = draws.random(3)
    tries = MOST_TRIES if pool.level.hidden else 1
    heavy = tuple(accumulate(cause.weight for cause in pool.struck))
    dormant = tuple(accumulate(hazard.mass for hazard in pool.hidden))
    for first, second in draws.random((tries, 2)):
        number = chosen(heavy, second)
        cause = pool.struck[number]
        hidden = pool.hidden[chosen(dormant, first)] if pool.level.hidden else None
        both = hidden_by(library, hidden, cause) if hidden else cause
        if both is not None:
            times = _times(cause, library.rig, float(when), float(lead))
            shown = bool(both.look.shown.spots)
            return Drawn(pool.level, hidden, cause, *times, float(seat), pool.alike[number], shown)
    raise _nothing()


def chosen(sums: Sequence[float], u: float) -> int:
    """The number of the one that u, uniform in [0, 1), falls on; `sums`: running sums of masses."""
    return min(bisect_right(sums, u * sums[-1]), len(sums) - 1)


def hidden_by(library: Library, first: Hazard, second: Cause) -> Cause | None:
    """Both, if after what was so before the show the walls look otherwise than after the second
    alone.
    """
    both = paired(library, first, second.hazards[0])
    if both is None:
        return None
    one, two = second.look, both.look
    differ = (one.shown.spots, one.blinked) != (two.shown.spots, two.blinked)
    return both if differ else None


def _times(cause: Cause, rig: Rig, when: float, lead: float) -> tuple[int, int]:
    """When it strikes, and from when on it is watched: 10 to 90 s before; whole frames."""
    at = position(cause.hazards[0], when, rig.length - min(LASTS, rig.length // 2))
    begin = max(at - int((10 + 80 * lead) * FLICKS), 0)
    return at // rig.frame * rig.frame, begin // rig.frame * rig.frame


def _nothing() -> Exception:
    return refuse(
        "--difficulty", "no fault of this rig is so", "easy, middling, hard",
        todo="choose another difficulty, or another topology",
    )  # fmt: skip
