"""How a rig stands before time 0: settled with whatever is wrong already.

In: a `Rig` or its `Wiring`, one value in flicks for each timing key, faults of negative time.
Out: a `Board` and the conditions of the things, from which runs branch off (rule R5).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from typing import Any

from sim.engine import condition
from sim.engine.board import Board
from sim.engine.condition import Condition
from sim.engine.nodes import renew
from sim.engine.signal import Kept
from sim.engine.symmetry import Cone
from sim.engine.wiring import Wiring, wire
from sim.faults import Fault, Script
from sim.rig.topology import Rig


class Base:
    """A rig that has settled before time 0 with nothing wrong: what every run of it starts from.

    `pictures`: the line of each carrier's picture, by number, while it stays as it is.
    """

    def __init__(self, rig: Rig | Wiring, values: Mapping[str, int]) -> None:
        self.wiring = rig if isinstance(rig, Wiring) else wire(rig)
        self.values = values
        self.board = settled(self.wiring, values, {})
        self.pictures = pictures(self.board)

    @property
    def signals(self) -> Sequence[Any]:
        """What each node sends, by number."""
        assert isinstance(self.board.value, list)
        return self.board.value

    def at(self, values: Mapping[str, int]) -> Base:
        """The same rig with other timings: as no timer runs before time 0, it has settled alike."""
        twin = copy(self)
        twin.values, twin.board = values, self.board.timed(values)
        return twin


def pictures(board: Board) -> dict[int, list[tuple[int, Kept]]]:
    """The line of each carrier's picture, by number, as it begins on a settled board."""
    return {number: [(0, board.picture(number))] for number in board.wiring.layers_of}


def settled(
    wiring: Wiring, values: Mapping[str, int], conditions: Mapping[int, Condition]
) -> Board:
    """The board just before time 0, with what is wrong already (rule R5)."""
    board = Board(wiring, values, conditions)
    for number in range(len(wiring.nodes)):
        renew(board, number)
        board.shown[number] = board.value[number]
    return board


def settled_within(base: Base, cone: Cone, conditions: Mapping[int, Condition]) -> Board:
    """The same for a part of a rig: all else stands as with nothing wrong."""
    board = base.board.unsettled(cone.inputs.keys(), conditions, cone)
    for number in sorted(cone.inputs):
        renew(board, number)
        board.shown[number] = board.value[number]
    return board


def ailing(wiring: Wiring | Cone, script: Script) -> dict[int, Condition]:
    """The conditions of all things before time 0, as the faults of negative time leave them."""
    early = [(n, f) for n, f in enumerate(script.faults) if f.at < 0 and _lasts(f)]
    if not early:
        return {}
    numbers = sorted(wiring.powers) if isinstance(wiring, Cone) else range(len(wiring.things))
    found = {number: Condition(wiring.things[number]) for number in numbers}
    for number, fault in early:
        found[wiring.thing_number[fault.thing]].faults[number] = fault
    for number, state in found.items():
        feeds = [feed not in found or found[feed].up for feed in wiring.powered_by[number]]
        condition.settle(state, condition.powered(feeds))
    return found


def _lasts(fault: Fault) -> bool:
    return fault.until is None or fault.until >= 0
