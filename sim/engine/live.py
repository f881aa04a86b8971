"""A rig that goes on while somebody acts on it: what is done is said only when it is done.

In: a settled `Base`, a `Script`, an end in flicks; then, at any flick not yet reached, actions,
faults, and ends of faults. Out: what stands at the flick that was reached, and in the end the same
`Trace` as of a run that knew everything before. All times are flicks from the start of the show.
"""

from __future__ import annotations

from collections.abc import Collection
from functools import partial

from sim.engine.nodes import GateState, LayerState, SyncState
from sim.engine.playing import ENDS
from sim.engine.recording import add
from sim.engine.run import Run
from sim.engine.selector import State
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.symmetry import Cone
from sim.faults import Action, Fault, Script
from sim.rig.topology import Node


class Live:
    """One run, step by step. `whole`: from which flick on the rig has its full redundancy, or has
    it not.
    """

    def __init__(self, base: Base, script: Script, until: int, within: Cone | None = None) -> None:
        """`within`: work out only this part of the rig, made for all that is struck or done."""
        self.run = Run(base, script, until, within=within)
        self.until = until
        self.whole: list[tuple[int, bool]] = [(0, self._is_whole())]

    # ---- time

    def go(self, until: int) -> None:
        """Work through all that is due up to a flick and at it."""
        while (when := self.run.env.peek()) <= until:
            self.run.work(int(when) + 1)
            add(self.whole, self.run.now, self._is_whole())

    def finish(self) -> Trace:
        """Work through the rest; what was recorded. Nothing can be done after it."""
        self.go(self.until)
        return self.run.trace()

    def so_far(self) -> Trace:
        """What was recorded up to now: signals, pictures, what is wanted, notes; nothing else."""
        run = self.run
        cabinets, nodes = run.wiring.cabinets, run.wiring.nodes
        return Trace(
            until=run.now,
            shown={
                cabinets[n]: [(at, run.named(v)) for at, v in line] for n, line in run.shown.items()
            },
            pictures={nodes[n].name: list(line) for n, line in run.pictures.items()},
            wanted={name: list(line) for name, line in run.player.wanted.items()},
            notes=list(run.notes),
        )

    # ---- what somebody does, at a flick that was not reached yet

    def act(self, action: Action) -> None:
        """Choose, lock, unlock or take, at the flick of the action."""
        self.run.player.act_at(action.at, action)

    def begin(self, fault: Fault) -> int:
        """A fault that begins (and ends, if it says so) at its flicks; its number."""
        return self.run.player.add(fault)

    def lift(self, at: int, number: int) -> None:
        """End a fault by its number."""
        self.run.at(at, ENDS, partial(self.run.player.stop, number))

    def mend(self, at: int, things: Collection[str], modes: Collection[str], hard: bool) -> None:
        """End all faults of these modes that these things have then; `hard`: also those that no
        restart ends.
        """
        self.run.at(at, ENDS, partial(self._mend, frozenset(things), frozenset(modes), hard))

    def _mend(self, things: frozenset[str], modes: frozenset[str], hard: bool) -> None:
        player = self.run.player
        for number, fault in enumerate(list(player.faults)):
            meant = fault.thing in things and fault.mode in modes and (hard or not fault.hard)
            if meant and player.holds(number):
                player.stop(number)

    # ---- what stands now

    def is_up(self, thing: str) -> bool:
        """Whether a thing is up: alive, powered and started."""
        state = self.run.conditions.get(self.run.wiring.thing_number.get(thing, -1))
        return state is None or state.up

    def comes_up(self) -> tuple[int, ...]:
        """The flicks at which things that are starting will be up, if nothing else happens."""
        values, states = self.run.board.values, self.run.conditions.values()
        return tuple(s.started + values[s.thing.start] for s in states if s.started is not None)

    def faults(self, thing: str) -> tuple[Fault, ...]:
        """The faults that a thing has now."""
        player = self.run.player
        of_thing = ((n, f) for n, f in enumerate(list(player.faults)) if f.thing == thing)
        return tuple(fault for number, fault in of_thing if player.holds(number))

    def chooser(self, selector: str) -> State:
        """How a selector stands; not to be changed."""
        number = self.run.wiring.selector_node[selector]
        memory = self.run.board.memory
        found = memory[number] if number in memory else memory.settled[number]
        return found.chooser if isinstance(found, LayerState | SyncState) else found

    def arrangement(self, carrier: str) -> str:
        """The arrangement that a processor has taken, by the name of its carrier."""
        return self.run.board.arrangement[self.run.wiring.node_number[carrier]]

    def _is_whole(self) -> bool:
        """Whether everything is up and well, every changeover free to move, units set alike."""
        conditions = self.run.conditions.values()
        well = all(s.up and not s.faults and not s.off for s in conditions)
        return well and not self._flaps() and self._all_free() and self._set_alike()

    def _flaps(self) -> bool:
        player = self.run.player
        flapping = (n for n, f in enumerate(player.faults) if f.mode == "flapping")
        return any(player.holds(number) for number in flapping)

    def _all_free(self) -> bool:
        nodes = self.run.wiring.nodes
        return all(_is_free(nodes[n], memory) for n, memory in self.run.board.memory.items())

    def _set_alike(self) -> bool:
        groups = self.run.wiring.rig.groups.values()
        return all(len({self.arrangement(each) for each in of.carriers}) <= 1 for of in groups)


def _is_free(node: Node, memory: object) -> bool:
    """Whether what a node remembers is as it was made to be: not failed, not locked by hand, not
    off its reference.
    """
    if isinstance(memory, GateState):
        return True
    if isinstance(memory, SyncState) and memory.phase not in ("", "locked"):
        return False
    chooser = memory.chooser if isinstance(memory, LayerState | SyncState) else memory
    assert isinstance(chooser, State)
    return not chooser.failed and chooser.mode == node.selector.restore  # type: ignore[attr-defined]
