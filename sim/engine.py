"""The discrete-event engine: what a rig shows from the first to the last flick of a script.

In: a `Rig` (or its `Wiring`), one value in flicks for each timing key, a `Script`, an end in
flicks. Out: a `Trace`. SimPy's queue holds all that is due; its key (time, rank, order of asking)
is rule R1 of DEVELOPERS.md: script events, then things in the order of power, then nodes in the
order of signals, then kept pictures, then cabinets. What is looked at is worked out from what
stands now, so looking twice changes nothing, and no timer need ever be cancelled.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from functools import partial
from typing import TypeVar

from simpy import Environment
from simpy.events import Event, EventPriority

from sim import condition
from sim.board import Board, Value
from sim.condition import Condition
from sim.faults import Action, Fault, Script
from sim.nodes import renew
from sim.selector import Order
from sim.signal import Note, Signal, Trace
from sim.symmetry import Cone
from sim.timebase import FOREVER
from sim.topology import Emit, Rig
from sim.wiring import Wiring, wire

T = TypeVar("T")

ENDS, BEGINS, ACTS, FIRST_THING = 1, 2, 3, 4
"""Ranks of the script's events within an instant (rule R2); those of things follow."""


class Base:
    """A rig that has settled before time 0 with nothing wrong: what every run of it starts from."""

    def __init__(self, rig: Rig | Wiring, values: Mapping[str, int]) -> None:
        self.wiring = rig if isinstance(rig, Wiring) else wire(rig)
        self.values = values
        self.board = settled(self.wiring, values, {})


def settled(
    wiring: Wiring, values: Mapping[str, int], conditions: Mapping[int, Condition]
) -> Board:
    """The board just before time 0, with what is wrong already (rule R5)."""
    board = Board(wiring, values, conditions)
    for number in range(len(wiring.nodes)):
        renew(board, number)
        board.shown[number] = board.value[number]
    return board


def _ailing(wiring: Wiring, script: Script) -> dict[int, Condition]:
    """The conditions of all things before time 0, as the faults of negative time leave them."""
    early = [(n, f) for n, f in enumerate(script.faults) if f.at < 0 and _lasts(f)]
    if not early:
        return {}
    found = {number: Condition(thing) for number, thing in enumerate(wiring.things)}
    for number, fault in early:
        found[wiring.thing_number[fault.thing]].faults[number] = fault
    for number, state in found.items():
        feeds = [found[feed].up for feed in wiring.powered_by[number]]
        condition.settle(state, condition.powered(feeds))
    return found


def _lasts(fault: Fault) -> bool:
    return fault.until is None or fault.until >= 0


class Run:
    """One run of a script. The environment's clock is in flicks and stays a Python int."""

    def __init__(
        self,
        base: Base,
        script: Script,
        until: int,
        repeats: bool = False,
        within: Cone | None = None,
    ) -> None:
        self.wiring: Wiring | Cone = within or base.wiring
        self.script, self.until = script, until
        self.repeats = repeats
        self.repeat: tuple[int, int] | None = None
        self.seen: dict[Hashable, int] = {}
        self.env = Environment()
        ailing = _ailing(base.wiring, script)
        board = settled(base.wiring, base.values, ailing) if ailing else base.board
        self.conditions = ailing
        self.board = board.branch(self.conditions, self.wiring)
        self.board.failing = script.failing
        self.board.ask = self._ask_node
        self.board.ask_shown = self._ask_shown
        self.board.tell = self._tell
        self.notes: list[Note] = []
        self.asked: set[tuple[int, int]] = set()
        sizes = (FIRST_THING, len(self.wiring.things), len(self.wiring.nodes))
        self.first_node = sizes[0] + sizes[1]
        self.first_shown = self.first_node + sizes[2]
        self.first_cabinet = self.first_shown + sizes[2]
        self.first_picture = self.first_cabinet + len(self.wiring.rig.cabinets)
        self.shown = {n: [(0, board.cabinet(c))] for n, c in self.wiring.cards_of.items()}
        self.pictures = {n: [(0, board.picture(n))] for n in self.wiring.layers_of}
        self.wanted = {
            group.name: [(0, group.arrangements[0])] for group in self.wiring.rig.groups.values()
        }
        self.left: dict[int, dict[int, str]] = {}
        self._plan_script()

    # ---- the queue

    @property
    def now(self) -> int:
        """The present flick: SimPy's clock, which here only ever holds Python ints."""
        return self.env.now  # type: ignore[return-value]

    def at(self, when: int, rank: int, work: Callable[[], None]) -> None:
        """Have `work` done at a flick, at its rank within that instant."""
        if when >= self.until:
            return
        event = Event(self.env)
        event._ok, event._value = True, None
        event.callbacks = [lambda _: work()]
        self.env.schedule(event, EventPriority(rank), when - self.now)

    def look(self, rank: int, when: int, work: Callable[[int], None], number: int) -> None:
        """Have a place looked at, once for each instant."""
        if (when, rank) not in self.asked:
            self.asked.add((when, rank))
            self.at(when, rank, lambda: work(number))

    def _ask_thing(self, number: int, when: int) -> None:
        self.look(FIRST_THING + number, when, self._thing, number)

    def _ask_node(self, number: int, when: int) -> None:
        self.look(self.first_node + number, when, self._node, number)

    def _ask_shown(self, number: int, when: int) -> None:
        self.look(self.first_shown + number, when, self._show, number)

    def _ask_cabinet(self, number: int) -> None:
        self.look(self.first_cabinet + number, self.now, self._cabinet, number)

    def _ask_picture(self, number: int) -> None:
        self.look(self.first_picture + number, self.now, self._picture, number)

    def run(self) -> Trace:
        """Work the script through, to the end or until a flapping rig repeats itself."""
        while self.env.peek() < self.until and self.repeat is None:
            self.env.step()
        return self._trace()

    # ---- what is done at each place

    def _condition(self, number: int) -> Condition:
        if number not in self.conditions:
            self.conditions[number] = Condition(self.wiring.things[number])
        return self.conditions[number]

    def _thing(self, number: int) -> None:
        state = self._condition(number)
        thing = state.thing
        was_up = state.up
        self.board.now = self.now
        feeds = [self._is_up(feed) for feed in self.wiring.powered_by[number]]
        values = self.board.values
        condition.work_out(
            state,
            self.now,
            condition.powered(feeds),
            values[thing.start],
            values[thing.hold_up],
            lambda when: self._ask_thing(number, when),
        )
        if state.up != was_up:
            self._tell(thing.name, "up" if state.up else "down", "")
            for fed in self.wiring.powers[number]:
                self._ask_thing(fed, self.now)
        for node in self.wiring.nodes_of[number]:
            self._ask_node(node, self.now)

    def _is_up(self, number: int) -> bool:
        state = self.conditions.get(number)
        return state is None or state.up

    def _node(self, number: int) -> None:
        board = self.board
        board.now = self.now
        if renew(board, number):
            for reader in self.wiring.readers[number]:
                self._ask_node(reader, self.now)
            for carrier in self.wiring.carriers_of.get(number, ()):
                self._ask_picture(carrier)
        if number in self.wiring.cabinets_of:
            self._ask_shown(number, self.now)

    def _show(self, number: int) -> None:
        self.board.now = self.now
        if self.board.show(number, self.wiring.nodes[number]):  # type: ignore[arg-type]
            for cabinet in self.wiring.cabinets_of[number]:
                self._ask_cabinet(cabinet)

    def _cabinet(self, number: int) -> None:
        _add(self.shown[number], self.now, self.board.cabinet(self.wiring.cards_of[number]))

    def _picture(self, number: int) -> None:
        _add(self.pictures[number], self.now, self.board.picture(number))

    # ---- the script

    def _plan_script(self) -> None:
        for number, fault in enumerate(self.script.faults):
            if fault.at >= 0:
                self._at_fault(fault.at, BEGINS, self._begin, number)
            end = self._end_of(fault)
            if end is not None and end >= 0 and fault.mode not in ("restart", "flapping"):
                self._at_fault(end, ENDS, self._end, number)
        for action in self.script.actions:
            self.at(action.at, ACTS, partial(self._act, action))

    def _at_fault(self, when: int, rank: int, work: Callable[[int], None], number: int) -> None:
        self.at(when, rank, lambda: work(number))

    def _end_of(self, fault: Fault) -> int | None:
        """When a fault ends; drops end with the source frame that they say."""
        if fault.mode != "drops":
            return fault.until
        nodes = self.wiring.nodes_of[self.wiring.thing_number[fault.thing]]
        node = self.wiring.nodes[nodes[0]]
        assert isinstance(node, Emit) and node.frame
        return (fault.at // node.frame + fault.frames) * node.frame

    def _begin(self, number: int) -> None:
        fault = self.script.faults[number]
        self._tell(fault.thing, "fault", fault.mode)
        if fault.mode == "moved":
            self._misplace(number, fault)
            return
        thing = self.wiring.thing_number[fault.thing]
        state = self._condition(thing)
        if fault.mode == "restart":
            state.restarted = True
        elif fault.mode == "flapping":
            self._flap(number, fault, self.now)
        else:
            state.faults[number] = fault
        self._ask_thing(thing, self.now)

    def _end(self, number: int) -> None:
        fault = self.script.faults[number]
        self._tell(fault.thing, "repaired", fault.mode)
        if fault.mode == "moved":
            self._put_back(number, fault)
            return
        thing = self.wiring.thing_number[fault.thing]
        self._condition(thing).faults.pop(number, None)
        self._ask_thing(thing, self.now)

    def _flap(self, number: int, fault: Fault, begin: int) -> None:
        """Begin an off part, and plan its end and the next one."""
        if self.repeats and self._repeated():
            return
        until = self.until if fault.until is None else fault.until
        thing = self.wiring.thing_number[fault.thing]
        self._condition(thing).off.add(number)
        self._ask_thing(thing, begin)
        self.at(min(begin + fault.off, until), ENDS, partial(self._flap_back, number, thing))
        if begin + fault.period < until:
            again = begin + fault.period
            self.at(again, BEGINS, partial(self._flap, number, fault, again))

    def _flap_back(self, number: int, thing: int) -> None:
        self._condition(thing).off.discard(number)
        self._ask_thing(thing, self.now)

    def _repeated(self) -> bool:
        """Whether the rig stands exactly as it stood at an earlier off part; remembers when."""
        mark = fingerprint(self.board, self.now)
        if mark in self.seen:
            self.repeat = (self.seen[mark], self.now)
            return True
        self.seen[mark] = self.now
        return False

    def _misplace(self, number: int, fault: Fault) -> None:
        if fault.thing in self.wiring.selector_node:
            self._order(fault.thing, Order("moved", int(fault.choice or 0), number))
            return
        carriers = self._carriers(fault.thing)
        self.left[number] = {carrier: self.board.arrangement[carrier] for carrier in carriers}
        self._take({carrier: str(fault.choice) for carrier in carriers})

    def _put_back(self, number: int, fault: Fault) -> None:
        if fault.thing in self.wiring.selector_node:
            self._order(fault.thing, Order("left", fault=number))
        else:
            self._take(self.left[number])

    def _take(self, arrangements: Mapping[int, str]) -> None:
        self.board.now = self.now
        for carrier, arrangement in arrangements.items():
            self.board.take(carrier, arrangement)
            self._ask_picture(carrier)

    def _act(self, action: Action) -> None:
        self._tell(action.on, "action", action.do)
        if action.do != "take":
            choice = int(action.choice) if action.choice is not None else -1
            self._order(action.on, Order(action.do, choice))
            return
        carriers = self._carriers(action.on)
        self._take({carrier: str(action.choice) for carrier in carriers})
        names = {self.wiring.nodes[carrier].name for carrier in carriers}
        for group in self.wiring.rig.groups.values():
            if names & set(group.carriers):
                _add(self.wanted[group.name], self.now, str(action.choice))

    def _carriers(self, thing: str) -> list[int]:
        of_thing = self.wiring.nodes_of[self.wiring.thing_number[thing]]
        return [number for number in of_thing if number in self.wiring.layers_of]

    def _order(self, selector: str, order: Order) -> None:
        node = self.wiring.selector_node[selector]
        self.board.orders.setdefault(node, []).append(order)
        self._ask_node(node, self.now)

    # ---- what is recorded

    def _tell(self, name: str, what: str, detail: str) -> None:
        self.notes.append(Note(self.now, name, what, detail))

    def _trace(self) -> Trace:
        names = [node.name for node in self.wiring.nodes]

        def named(value: Value) -> Signal:
            quality, picture = value
            return quality, names[picture] if isinstance(picture, int) else picture

        cabinets = self.wiring.cabinets
        return Trace(
            until=self.until,
            shown={
                cabinets[n]: [(at, named(v)) for at, v in line] for n, line in self.shown.items()
            },
            pictures={names[number]: line for number, line in self.pictures.items()},
            wanted=self.wanted,
            notes=self.notes,
            pending=self._pending(),
            used=frozenset(self.board.used - {""}),
            repeat=self.repeat,
        )

    def _pending(self) -> list[Note]:
        """What was still to come at the end: every place is looked at once more, and what it asks for is noted."""
        due: set[tuple[int, str]] = set()
        board, wiring = self.board, self.wiring
        board.ask = board.ask_shown = lambda n, when: due.add((when, wiring.nodes[n].name))
        board.tell = lambda name, what, detail: None
        for number in list(board.memory):
            renew(board, number)
        for number in list(board.keeps):
            board.show(number, wiring.nodes[number])  # type: ignore[arg-type]
        for number, state in self.conditions.items():
            name = wiring.things[number].name
            condition.ask_again(state, board.values, partial(_add_due, due, name))
        return [Note(when, name, "pending") for when, name in sorted(due) if when < FOREVER]


def _add_due(due: set[tuple[int, str]], name: str, when: int) -> None:
    due.add((when, name))


def fingerprint(board: Board, now: int) -> Hashable:
    """All that a run has changed, with times counted from `now`: equal marks have equal futures."""
    changed = tuple((n, v) for n, v in enumerate(board.value) if board.changed[n] >= 0)
    memory = tuple((n, board.memory[n].mark(now)) for n in sorted(board.memory))
    keeps = tuple((n, kept, since - now) for n, (kept, since) in sorted(board.keeps.items()))
    stuck = tuple(sorted(board.stuck.items(), key=lambda item: item[0]))
    things = tuple(condition.mark(state, now) for _, state in sorted(board.conditions.items()))
    return (changed, memory, keeps, stuck, things, tuple(board.arrangement.values()))


def _add(line: list[tuple[int, T]], at: int, value: T) -> None:
    """Let a step function have this value from `at` on."""
    if line[-1][0] == at:
        line.pop()
    if not line or line[-1][1] != value:
        line.append((at, value))


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
    rig (of the same base; no fault of negative time); the trace then holds only its cabinets.
    """
    base = rig if isinstance(rig, Base) else Base(rig, values)
    return Run(base, script, until, repeats, within).run()
