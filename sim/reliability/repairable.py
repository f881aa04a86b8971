"""Usual Markov models of units that fail and are mended: alone, in parallel, standing by, with few
crews, with failures that are not taken over.

In: how many, and rates per hour (floats, or Fractions for exact answers). Out: a `StateModel`.
What cannot be is a ValueError. Formulas as in IEC 61165 and MIL-HDBK-338B (values from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.reliability.markov import Move, Number, StateModel

LOST = ", not taken over"
"""Ends the name of a state in which a failure was not taken over."""


def single(fails: Number, mends: Number) -> StateModel:
    """One unit, by its rates per hour."""
    return units(1, 1, fails, mends)


def units(
    count: int,
    crews: int,
    fails: Number,
    mends: Number,
    needed: int = 1,
    running: int | None = None,
) -> StateModel:
    """So many alike units that share repair crews; the whole works while `needed` of them do.

    State `k down`. At most `running` (None: all that work) can fail: the others stand by, cold.
    """
    _check_units(count, crews, needed, running)
    moves = tuple(_unit_moves(count, crews, fails, mends, running))
    names = tuple(_down(k) for k in range(count + 1))
    return StateModel(names, moves, frozenset(names[: count - needed + 1]))


def _down(broken: int) -> str:
    return f"{broken} down"


def _check_units(count: int, crews: int, needed: int, running: int | None) -> None:
    enough = running is None or needed <= running <= count
    if not (count >= 1 and crews >= 0 and 1 <= needed <= count and enough):
        raise ValueError(f"{count} units, {crews} crews, {needed} needed, {running} running")


def _unit_moves(
    count: int, crews: int, fails: Number, mends: Number, running: int | None
) -> Iterator[Move]:
    for k in range(count):
        exposed = count - k if running is None else min(running, count - k)
        yield Move(_down(k), _down(k + 1), exposed * fails)
        yield Move(_down(k + 1), _down(k), min(crews, k + 1) * mends)


def with_coverage(model: StateModel, covered: Number, recovers: Number) -> StateModel:
    """The same, but a failure that it would survive is survived with this chance only.

    Otherwise it goes to a state `... not taken over` that does not work, and from there, at the
    rate `recovers`, to where it would have gone. (Bouricius et al. 1969, idea from memory.)
    """
    if not 0 <= covered <= 1:
        raise ValueError(f"coverage {covered!r}: between 0 and 1")
    place = {state: number for number, state in enumerate(model.states)}
    risky = [m for m in model.moves if m.end in model.working and place[m.end] > place[m.start]]
    others = [move for move in model.moves if move not in risky]
    split = [part for move in risky for part in _split(move, covered)]
    lost = tuple(dict.fromkeys(move.end + LOST for move in risky))
    back = [Move(state, state.removesuffix(LOST), recovers) for state in lost]
    return StateModel((*model.states, *lost), (*others, *split, *back), model.working)


def _split(move: Move, covered: Number) -> tuple[Move, Move]:
    lost = Move(move.start, move.end + LOST, move.rate * (1 - covered))
    return Move(move.start, move.end, move.rate * covered), lost
