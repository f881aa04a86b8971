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
    that is in it longest, without what stays so.
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
    worst: tuple[tuple[int, int, int], Strike, Effect, Effect] | None = None
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


def _size(one: Effect, other: Effect) -> tuple[int, int, int]:
    """How far two effects are apart: in frames of any state, then in what lasts (pixels), then in
    whether.
    """
    spans = zip((*_frames(one), one.lost_frames), (*_frames(other), other.lost_frames), strict=True)
    frames = max(max(abs(a - c), abs(b - d)) for (a, b), (c, d) in spans)
    lasting = sum(abs(a - b) for a, b in zip(one.all_lasting, other.all_lasting, strict=True))
    return frames, lasting, one.seen != other.seen


def _frames(effect: Effect) -> Frames:
    return tuple(effect.longest(state) for state in range(len(STATES)))
