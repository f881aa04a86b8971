"""How far one timing moves what single faults cost, all other timings typical.

In: a `Laboratory` and a timing's key. Out: a frozen `Swing`. Frames are those of the cell that
is longest in a state, least and most over the phase.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.study.contingency import Laboratory
from sim.study.decisive import ends
from sim.study.effects import STATES, Effect
from sim.study.strikes import Strike, strikes

Frames = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Swing:
    """In one group: `faults` single faults that arm this timing, `moved` of them cost other frames
    at its most than at its least, or another verdict. `worst`: the fault that it moves most (None:
    none), with its frames and verdict at each end: for each state of `STATES` those of the cell
    that is in it longest, of those that come back.
    """

    group: str
    faults: int
    moved: int
    worst: str | None = None
    at_least: Frames = ()
    at_most: Frames = ()
    verdicts: tuple[str, str] = ("unseen", "unseen")


def swing(laboratory: Laboratory, key: str) -> Swing:
    """Every single fault of the catalogue at both ends of the timing. Raises KeyError."""
    names = ends(laboratory, key)
    users, moved = 0, 0
    worst: tuple[tuple[int, int, int, int], Strike, Effect, Effect] | None = None
    for strike in strikes(laboratory.rig):
        if not laboratory.concerns(strike):
            continue
        if key not in laboratory.effect(strike.faults, "typical").used:
            continue
        users += 1
        one, other = (laboratory.effect(strike.faults, which) for which in names)
        size = _size(one, other)
        moved += any(size)
        if any(size) and (worst is None or size > worst[0]):
            worst = size, strike, one, other
    name = laboratory.group.name
    if worst is None:
        return Swing(name, users, moved)
    _, strike, one, other = worst
    return Swing(
        group=name,
        faults=users,
        moved=moved,
        worst=strike.name,
        at_least=_frames(one),
        at_most=_frames(other),
        verdicts=(one.verdict, other.verdict),
    )


def _size(one: Effect, other: Effect) -> tuple[int, int, int, int]:
    """How far two effects are apart: in frames of what comes back, in what lasts (pixels), in
    whether, in frames of anything.
    """
    lasting = sum(abs(a - b) for a, b in zip(one.all_lasting, other.all_lasting, strict=True))
    back, every = (_apart(_frames(one, b), _frames(other, b)) for b in (True, False))
    return back, lasting, one.seen != other.seen, every


def _apart(one: Frames, other: Frames) -> int:
    pairs = zip(one, other, strict=True)
    return max(max(abs(a - c), abs(b - d)) for (a, b), (c, d) in pairs)


def _frames(effect: Effect, back: bool = True) -> Frames:
    """For each state the frames of the cell that is in it longest, of those that are lit again at
    the end, or of all.
    """
    found = [r for r in effect.readings if not back or r.last == len(STATES)]
    spans = [[(r.most[n], r.least[n]) for r in found] for n in range(len(STATES))]
    return tuple(max(of, default=(0, 0))[::-1] for of in spans)
