"""What a run leaves behind: step functions, what was still to come, a mark of its whole state.

In: the board and the conditions at the end of a run. Out: notes of what is pending (flicks),
and marks: equal marks have equal futures.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from functools import partial
from typing import TypeVar

from sim.engine import condition
from sim.engine.board import Board
from sim.engine.condition import Condition
from sim.engine.nodes import renew
from sim.engine.signal import Note
from sim.rig.topology import Display
from sim.timebase import FOREVER

T = TypeVar("T")


def add(line: list[tuple[int, T]], at: int, value: T) -> None:
    """Let a step function have this value from `at` on."""
    if line[-1][0] == at:
        line.pop()
    if not line or line[-1][1] != value:
        line.append((at, value))


def sends_otherwise(board: Board, origin: Board, repeats: bool) -> frozenset[int]:
    """The nodes that send something else now than on the board with nothing wrong.

    Where the rig repeats itself: all that ever did.
    """
    ever = altered(board)
    return ever if repeats else frozenset(n for n in ever if board.value[n] != origin.value[n])


def chooses_otherwise(board: Board, origin: Board, repeats: bool) -> frozenset[int]:
    """The nodes that choose otherwise, and the carriers that have taken another arrangement."""
    settled = origin.memory.settled or origin.memory
    known = {**board.settled_memory, **board.memory}
    chose = {
        n for n, now in known.items() if repeats or n not in settled or now.on != settled[n].on
    }
    took = {n for n, taken in board.arrangement.items() if taken != origin.arrangement[n]}
    return frozenset(chose | took)


def altered(board: Board) -> frozenset[int]:
    """The nodes that ever sent something else than on the board with nothing wrong."""
    return frozenset(board.touched | board.unlike)


def pending(board: Board, conditions: Mapping[int, Condition]) -> list[Note]:
    """What was still to come: every place is looked at once more, and what it asks for is noted."""
    due: set[tuple[int, str]] = set()
    wiring = board.wiring
    board.ask = lambda n, when: due.add((when, wiring.nodes[n].name))
    board.tell = lambda name, what, detail: None
    for number in list(board.memory):
        renew(board, number)
    for number in board.keeps:
        due.add((_runs_out(board, number), wiring.nodes[number].name))
    for number, state in conditions.items():
        name = wiring.things[number].name
        condition.ask_again(state, board.values, partial(_add_due, due, name))
    return [Note(when, name, "pending") for when, name in sorted(due) if when < FOREVER]


def _add_due(due: set[tuple[int, str]], name: str, when: int) -> None:
    due.add((when, name))


def _runs_out(board: Board, number: int) -> int:
    """When the picture that a card keeps is gone: `FOREVER` or more, never."""
    node = board.wiring.nodes[number]
    assert isinstance(node, Display)
    return board.keeps[number][1] + board.values[node.keeps_last]


def _left(board: Board, number: int, now: int) -> int:
    """How long from `now` a card has still to keep its picture; for ever stays for ever."""
    ends = _runs_out(board, number)
    return FOREVER if ends >= FOREVER else ends - now


def fingerprint(board: Board, now: int, held: Sequence[int] = ()) -> Hashable:
    """All that a run has changed, with times counted from `now`: equal marks have equal futures,
    but for when the things that are held up fall.
    """
    changed = tuple((n, board.value[n]) for n in sorted(board.touched))
    memory = tuple((n, board.memory[n].mark(now)) for n in sorted(board.memory))
    keeps = tuple((n, kept, _left(board, n, now)) for n, (kept, _) in sorted(board.keeps.items()))
    stuck = tuple(sorted(board.stuck.items(), key=lambda item: item[0]))
    things = tuple(
        condition.mark(state, now, number in held)
        for number, state in sorted(board.conditions.items())
    )
    return (tuple(held), changed, memory, keeps, stuck, things, tuple(board.arrangement.values()))
