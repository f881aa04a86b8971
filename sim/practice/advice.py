"""How an engineer comes on over several drills, and what to practise next.

In: a frozen `Review`, `Entry`s of drills that were done, how often each kind of fault strikes in a
show. Out: frozen `Phase`s, `Standing`s, `Due`s. Times are flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import inf
from statistics import median

from sim.practice.results import Entry, kind_of
from sim.practice.review import Effect, Review
from sim.rig.topology import Rig
from sim.risk.striking import Hazard
from sim.timebase import FLICKS

PHASES = ("to notice", "to the first right act", "to the whole picture", "to full redundancy")
ON_THE_WAY = ("walk", "break")
"""Acts without which others cannot be done."""
SLOW = 15 * 60 * FLICKS
"""As slow as this counts like a kind that was never practised (a choice)."""
MOST_NEXT = 3


@dataclass(frozen=True, slots=True)
class Phase:
    """A part of a drill: how long it took, and how much of that the acts that led on and the rig
    itself needed.
    """

    name: str
    took: int
    needed: int
    came: bool = True

    @property
    def spare(self) -> int:
        """What could have been saved."""
        return max(self.took - self.needed, 0)


@dataclass(frozen=True, slots=True)
class Standing:
    """One kind of fault over all drills: how many, how many reached their goal, time to the first
    right act in the order of the drills (None: it did not come), its trend in flicks a drill.
    """

    kind: str
    drills: int
    reached: int
    rights: tuple[int | None, ...]
    trend: Fraction | None

    @property
    def middle(self) -> int | None:
        """The median time; None where the right act came in fewer than half of them."""
        found = median(inf if right is None else right for right in self.rights)
        return None if found == inf else int(found)


@dataclass(frozen=True, slots=True)
class Due:
    """A kind of fault to practise: `part` of what strikes in a show, its median time to the first
    right act (None: not within half of the drills), or `new`: never practised.
    """

    kind: str
    part: float
    new: bool
    middle: int | None


# ---- one drill -----------------------------------------------------------------------------------


def phases(review: Review, best: Review | None = None) -> tuple[Phase, ...]:
    """The parts of a drill, each from the end of the one before. What was needed: as long as the
    same part takes in the best course, if one is known; else what right acts, the ways to them
    and, after the last one, the rig itself took of it.
    """
    ideal = _marks(best) if best else None
    marks, found = _marks(review), list[Phase]()
    times = (review.noticed, review.right, review.picture, review.redundancy)
    for number, name in enumerate(PHASES):
        begin, end = marks[number], marks[number + 1]
        least = ideal[number + 1] - ideal[number] if ideal else _needed(review, begin, end)
        found.append(Phase(name, end - begin, least, times[number] is not None))
    return tuple(found)


def slowest(found: Sequence[Phase]) -> Phase | None:
    """The part in which most could have been saved; None where nothing could."""
    worst = max(found, key=lambda phase: phase.spare)
    return worst if worst.spare else None


def _marks(review: Review) -> list[int]:
    """Flicks from the first fault to the end of each part, rising; what did not come, to the end of
    the drill. A goal that asks for no redundancy ends with the picture.
    """
    plan = review.plan
    last = review.picture if plan.goal == "picture" else review.redundancy
    found = [0]
    for time in (review.noticed, review.right, review.picture, last):
        found.append(max(plan.until - plan.struck if time is None else time, found[-1]))
    return found


def _needed(review: Review, begin: int, end: int) -> int:
    """Flicks of a part that right acts, ways to them and the rig afterwards took."""
    struck, goal = review.plan.struck, review.plan.goal
    leading = _leading(review.effects, goal)
    spans = [(e.done.begin - struck, e.done.end - struck) for e in leading]
    if spans and review.reached:
        spans.append((spans[-1][1], review.plan.until - struck))
    return sum(max(min(b, end) - max(a, begin), 0) for a, b in spans)


def _leading(effects: Sequence[Effect], goal: str) -> list[Effect]:
    """Right acts, and walks and breaks before the last of them."""
    rights = [n for n, each in enumerate(effects) if each.right(goal)]
    last = rights[-1] if rights else -1
    return [
        each
        for n, each in enumerate(effects[: last + 1])
        if n in rights or (each.done.act.do in ON_THE_WAY and each.done.well)
    ]


# ---- several drills ------------------------------------------------------------------------------


def standings(entries: Iterable[Entry]) -> tuple[Standing, ...]:
    """Each kind of fault that was practised, the most often practised first; drills that were
    broken off are left out.
    """
    of: dict[str, list[Entry]] = {}
    for entry in (each for each in entries if not each.what.broken):
        for kind in entry.kinds:
            of.setdefault(kind, []).append(entry)
    found = [_standing(kind, done) for kind, done in of.items()]
    return tuple(sorted(found, key=lambda each: (-each.drills, each.kind)))


def _standing(kind: str, done: Sequence[Entry]) -> Standing:
    rights = tuple(entry.right for entry in done)
    reached = sum(entry.reached for entry in done)
    return Standing(kind, len(done), reached, rights, trend(rights))


def trend(times: Sequence[int | None]) -> Fraction | None:
    """The slope of the least-squares line through the times that are known, by the number of the
    drill; None for fewer than two.
    """
    known = [(n, time) for n, time in enumerate(times) if time is not None]
    if len(known) < 2:
        return None
    count, across = len(known), sum(n for n, _ in known)
    up = sum(time for _, time in known)
    both = sum(n * time for n, time in known)
    squares = sum(n * n for n, _ in known)
    return Fraction(count * both - across * up, count * squares - across * across)


def masses_by_kind(rig: Rig, hazards: Iterable[Hazard]) -> dict[str, float]:
    """Mean strikes a show of each kind of fault that strikes during it and stays."""
    found: dict[str, float] = {}
    for hazard in (each for each in hazards if not each.early and each.lasts is None):
        every = (fault for strike in hazard.strikes for fault in strike.faults)
        faults = [fault for fault in every if not fault.ends]
        for kind in dict.fromkeys(kind_of(rig, fault.thing, fault.mode) for fault in faults):
            found[kind] = found.get(kind, 0.0) + hazard.mass
    return found


def dues(entries: Iterable[Entry], masses: Mapping[str, float]) -> tuple[Due, ...]:
    """What to practise next: likely kinds that are new or slow first. A kind counts by its mass,
    times its median time to the first right act over `SLOW`, 1 at most and for new ones.
    """
    known = {each.kind: each for each in standings(entries)}
    whole = sum(masses.values())
    scored = sorted(masses, key=lambda kind: (-_weight(known.get(kind), masses[kind]), kind))
    return tuple(
        Due(
            kind,
            masses[kind] / whole,
            kind not in known,
            known[kind].middle if kind in known else None,
        )
        for kind in scored[:MOST_NEXT]
    )


def _weight(standing: Standing | None, mass: float) -> float:
    if standing is None or standing.middle is None:
        return mass
    return mass * min(standing.middle / SLOW, 1.0)
