"""The discrete-event engine: what a rig shows from the first to the last flick of a script.

In: a `Rig` (or its `Wiring`), one value in flicks for each timing key, a `Script`, an end in
flicks. Out: a `Trace`. SimPy's queue holds all that is due; its key (time, rank, order of asking)
is rule R1 of DEVELOPERS.md: script events, then things in the order of power, then nodes in the
order of signals, then kept pictures, then cabinets. What is looked at is worked out from what
stands now, so looking twice changes nothing, and no timer need ever be cancelled.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from simpy import Environment
from simpy.events import Event

from sim.engine import condition
from sim.engine.board import Board, Value
from sim.engine.condition import Condition
from sim.engine.nodes import renew
from sim.engine.playing import FIRST_THING, Player
from sim.engine.recording import add, altered, chooses_otherwise, pending, sends_otherwise
from sim.engine.settling import Base, ailing, pictures, settled, settled_within
from sim.engine.signal import Note, Signal, Trace
from sim.engine.symmetry import Cone
from sim.engine.wiring import Wiring
from sim.faults import Script
from sim.rig.topology import Rig
from sim.timebase import FOREVER


class Due(Event):
    """What comes at its time and never fails; `number`: of the place that is looked at then."""

    _ok, _value = True, None

    def __init__(self, work: Callable[[Due], None], number: int = -1) -> None:
        self.callbacks = [work]
        self.number = number


class Run:
    """One run of a script. The environment's clock is in flicks and stays a Python int; `now` is
    the instant that is being worked out.
    """

    def __init__(
        self,
        base: Base,
        script: Script,
        until: int,
        repeats: bool = False,
        within: Cone | None = None,
        planned: bool = True,
    ) -> None:
        """`planned`: the events of the script happen at the times that it says."""
        self.wiring: Wiring | Cone = within or base.wiring
        self.until = until
        self.env = Environment()
        self.now = 0
        self.conditions = ailing(self.wiring, script)
        board = _settled(base, within, self.conditions)
        self.origin = base.board
        self.board = board.branch(self.conditions, self.wiring)
        self.board.failing = script.failing
        self.board.ask = self.ask_node
        self.board.ask_shown = self._ask_shown
        self.board.tell = self.tell
        self.notes: list[Note] = []
        self.late = False
        self.asked: set[tuple[int, int]] = set()
        sizes = (FIRST_THING, len(self.wiring.things), len(self.wiring.nodes))
        self.first_node = sizes[0] + sizes[1]
        self.first_shown = self.first_node + sizes[2]
        self.first_cabinet = self.first_shown + sizes[2]
        self.first_picture = self.first_cabinet + len(self.wiring.rig.cabinets)
        self.shown = {n: [(0, board.cabinet(c))] for n, c in self.wiring.cards_of.items()}
        self.still = base.pictures if board is base.board else pictures(board)
        self.pictures = dict(self.still)
        self.player = Player(self, self.wiring, self.board, script, repeats)
        if planned:
            self.player.plan()

    # ---- the queue

    def at(self, when: int, rank: int, work: Callable[[], None]) -> None:
        """Have `work` done at a flick, at its rank within that instant."""
        self._plan(when, rank, Due(lambda _: work()))

    def _plan(self, when: int, rank: int, due: Due) -> None:
        if when >= self.until:
            self.late = self.late or when < FOREVER
        else:
            self.env.schedule(due, rank, when - self.now)  # type: ignore[arg-type]

    def look(self, rank: int, when: int, work: Callable[[Due], None], number: int) -> None:
        """Have a place looked at, once for each instant."""
        key = when, rank
        if key not in self.asked:
            self.asked.add(key)
            self._plan(when, rank, Due(work, number))

    def ask_thing(self, number: int, when: int) -> None:
        self.look(FIRST_THING + number, when, self._thing, number)

    def ask_node(self, number: int, when: int) -> None:
        self.look(self.first_node + number, when, self._node, number)

    def _ask_shown(self, number: int, when: int) -> None:
        self.look(self.first_shown + number, when, self._show, number)

    def _ask_cabinet(self, number: int) -> None:
        self.look(self.first_cabinet + number, self.now, self._cabinet, number)

    def ask_picture(self, number: int) -> None:
        self.look(self.first_picture + number, self.now, self._picture, number)

    def run(self) -> Trace:
        """Work the script through, to the end or until a flapping rig repeats itself."""
        self.work(self.until)
        return self.trace()

    def let_go(self) -> None:
        """Nothing more will be asked of it: it holds nothing that holds it, so that all of it goes
        at once and nobody has to sweep.
        """
        vars(self.env).clear()
        vars(self).clear()

    def work(self, until: int) -> None:
        """Work through all that is due before a flick, or until a flapping rig repeats itself."""
        while (when := self.env.peek()) < until and self.player.repeat is None:
            self.now = when  # type: ignore[assignment]
            self.env.step()

    # ---- what is done at each place

    def condition(self, number: int) -> Condition:
        if number not in self.conditions:
            self.conditions[number] = Condition(self.wiring.things[number])
        return self.conditions[number]

    def _thing(self, due: Due) -> None:
        number = due.number
        state = self.condition(number)
        thing = state.thing
        was_up = state.up
        feeds = [self._is_up(feed) for feed in self.wiring.powered_by[number]]
        condition.work_out(
            state,
            self.now,
            condition.powered(feeds),
            self.board.use,
            lambda when: self.ask_thing(number, when),
        )
        if state.up != was_up:
            self.tell(thing.name, "up" if state.up else "down", "")
            for fed in self.wiring.powers[number]:
                self.ask_thing(fed, self.now)
        for node in self.wiring.nodes_of[number]:
            self.ask_node(node, self.now)

    def _is_up(self, number: int) -> bool:
        state = self.conditions.get(number)
        return state is None or state.up

    def _node(self, due: Due) -> None:
        number = due.number
        board = self.board
        board.now = self.now
        if renew(board, number):
            for reader in self.wiring.readers[number]:
                self.ask_node(reader, self.now)
            for carrier in self.wiring.carriers_of.get(number, ()):
                self.ask_picture(carrier)
        if number in self.wiring.cabinets_of:
            self._ask_shown(number, self.now)

    def _show(self, due: Due) -> None:
        number = due.number
        self.board.now = self.now
        if self.board.show(number, self.wiring.nodes[number]):  # type: ignore[arg-type]
            for cabinet in self.wiring.cabinets_of[number]:
                self._ask_cabinet(cabinet)

    def _cabinet(self, due: Due) -> None:
        number = due.number
        add(self.shown[number], self.now, self.board.cabinet(self.wiring.cards_of[number]))

    def _picture(self, due: Due) -> None:
        number = due.number
        if self.pictures[number] is self.still[number]:
            self.pictures[number] = list(self.still[number])
        add(self.pictures[number], self.now, self.board.picture(number))

    def tell(self, name: str, what: str, detail: str) -> None:
        """Note what happened to what."""
        self.notes.append(Note(self.now, name, what, detail))

    def named(self, value: Value) -> Signal:
        quality, picture = value
        live = isinstance(picture, int)
        return quality, self.wiring.nodes[picture].name if live else picture

    def trace(self) -> Trace:
        """What was recorded."""
        cabinets = self.wiring.cabinets
        return Trace(
            until=self.until,
            shown={
                cabinets[n]: [(at, self.named(v)) for at, v in line]
                for n, line in self.shown.items()
            },
            pictures={self.wiring.nodes[n].name: line for n, line in self.pictures.items()},
            wanted=self.player.wanted,
            notes=self.notes,
            pending=pending(self.board, self.conditions) if self.late else [],
            used=frozenset(self.board.used - {""}),
            repeat=self.player.repeat,
            otherwise=sends_otherwise(self.board, self.origin, self.player.repeat is not None),
            chose=chooses_otherwise(self.board, self.origin, self.player.repeat is not None),
            altered=altered(self.board),
            took=frozenset(self.board.arrangement_last),
            examined=self.board.examined,
            last=self.now,
        )


def _settled(base: Base, within: Cone | None, conditions: Mapping[int, Condition]) -> Board:
    """What a run begins with: the base, or what faults of negative time make of it."""
    if not conditions:
        return base.board
    if within is not None:
        board = settled_within(base, within, conditions)
    else:
        board = settled(base.wiring, base.values, conditions)
    board.settled_memory = dict(board.memory)
    numbers = range(len(board.value)) if within is None else within.inputs
    board.unlike = frozenset(n for n in numbers if board.value[n] != base.board.value[n])
    return board


def run(
    rig: Rig | Wiring | Base,
    script: Script,
    values: Mapping[str, int],
    until: int,
    repeats: bool = False,
    within: Cone | None = None,
) -> Trace:
    """Run a script on a rig from time 0 to `until` (flicks).

    `repeats`: stop when a flapping rig repeats itself. `within`: work out only this part of the
    rig (of the same base); the trace then holds only its cabinets.
    """
    base = rig if isinstance(rig, Base) else Base(rig, values)
    made = Run(base, script, until, repeats, within)
    trace = made.run()
    made.let_go()
    return trace
