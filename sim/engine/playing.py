"""Playing a script: faults begin, flap and end, people act, each at its place in the instant.

In: a frozen `Script`, the board and the conditions that it changes, a `Clock` that has things done
at a flick and a rank. Out: changes of conditions, orders to selectors, arrangements taken (rules
R2 to R4, R8, R9 of DEVELOPERS.md).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from functools import partial
from typing import Protocol

from sim.engine.board import Board
from sim.engine.condition import Condition
from sim.engine.recording import add, fingerprint
from sim.engine.selector import Order
from sim.engine.symmetry import Cone
from sim.engine.wiring import Wiring
from sim.faults import Action, Fault, Script
from sim.rig.topology import Emit
from sim.timebase import FOREVER

ENDS, BEGINS, ACTS, FIRST_THING = 1, 2, 3, 4
"""Ranks of the script's events within an instant (rule R2); those of things follow."""
MOST_MARKS = 256
"""Off parts of which the state is remembered at once, so that memory has an end."""


class Clock(Protocol):
    """What a player needs of the engine."""

    @property
    def now(self) -> int: ...
    def at(self, when: int, rank: int, work: Callable[[], None]) -> None: ...
    def ask_thing(self, number: int, when: int) -> None: ...
    def ask_node(self, number: int, when: int) -> None: ...
    def ask_picture(self, number: int) -> None: ...
    def condition(self, number: int) -> Condition: ...
    def tell(self, name: str, what: str, detail: str) -> None: ...


class Player:
    """Plays one script. `repeat`: between which flicks a flapping rig repeats itself."""

    def __init__(
        self, clock: Clock, wiring: Wiring | Cone, board: Board, script: Script, repeats: bool
    ) -> None:
        self.clock, self.wiring, self.board, self.script = clock, wiring, board, script
        self.repeats = repeats
        self.repeat: tuple[int, int] | None = None
        self.seen: dict[Hashable, int] = {}
        self.left: dict[int, dict[int, str]] = {}
        self.faults = list(script.faults)
        self.over: set[int] = set()
        self.begun: dict[int, int] = {}
        self.paused: list[tuple[int, int]] = []
        self.masks = False
        self.held: list[int] = []
        self.held_until = FOREVER
        self.last = _last_event(script)
        self.wanted = {
            group.name: [(0, group.arrangements[0])] for group in wiring.rig.groups.values()
        }

    def plan(self) -> None:
        """Have every event of the script done at its flick."""
        for number in range(len(self.faults)):
            self._plan_fault(number)
        for action in self.script.actions:
            self.act_at(action.at, action)

    def _plan_fault(self, number: int) -> None:
        fault = self.faults[number]
        if fault.at >= 0:
            self._at_fault(fault.at, BEGINS, self._begin, number)
        end = self._end_of(fault)
        if end is not None and end >= 0 and fault.mode != "restart":
            self.last = max(self.last, end)
            self._at_fault(end, ENDS, self._end, number)

    def begin_at(self, when: int, number: int) -> None:
        """Have a fault of the script begin at a flick that the script did not know, and end when
        somebody says so (lost source frames: of themselves).
        """
        self.last, self.seen = when, {}
        self.faults[number] = replace(self.faults[number], at=when, until=None)
        self._plan_fault(number)

    def end_at(self, when: int, number: int) -> None:
        """Have a fault of the script that still holds end at a flick."""
        self.last, self.seen = when, {}
        self._at_fault(when, ENDS, self.stop, number)

    def act_at(self, when: int, action: Action) -> None:
        """Have somebody act at a flick that the script did not know."""
        self.clock.at(when, ACTS, partial(self._act, action))

    def add(self, fault: Fault) -> int:
        """Have a fault begin, and end, that the script did not know; its number."""
        self.faults.append(fault)
        self._plan_fault(len(self.faults) - 1)
        return len(self.faults) - 1

    def holds(self, number: int) -> bool:
        """Whether a fault of a thing holds now."""
        fault, now = self.faults[number], self.clock.now
        if fault.mode == "flapping":
            begun = fault.at < now and number not in self.over
            return begun and (fault.until is None or fault.until > now)
        thing = self.wiring.thing_number.get(fault.thing)
        return thing is not None and number in self.clock.condition(thing).faults

    def stop(self, number: int) -> None:
        """End a fault now; when the script would end it no longer counts."""
        fault = self.faults[number]
        if fault.mode == "flapping":
            self.clock.tell(fault.thing, "repaired", fault.mode)
            self._flap_back(number, self.wiring.thing_number[fault.thing])
        else:
            self._end(number)
        self.over.add(number)

    def go_on(self) -> None:
        """Go on after the rig has repeated itself."""
        self.repeat, paused = None, self.paused
        self.seen, self.paused = {}, []
        self.held, self.held_until = [], FOREVER
        for number, begin in paused:
            self._flap(number, self.faults[number], begin)

    def _at_fault(self, when: int, rank: int, work: Callable[[int], None], number: int) -> None:
        self.clock.at(when, rank, lambda: work(number))

    def _end_of(self, fault: Fault) -> int | None:
        """When a fault ends; drops end with the source frame that they say."""
        if fault.mode != "drops":
            return fault.until
        nodes = self.wiring.nodes_of[self.wiring.thing_number[fault.thing]]
        node = self.wiring.nodes[nodes[0]]
        assert isinstance(node, Emit) and node.frame
        return (fault.at // node.frame + fault.frames) * node.frame

    def _begin(self, number: int) -> None:
        fault = self.faults[number]
        self.clock.tell(fault.thing, "fault", fault.mode)
        if fault.mode == "moved":
            self._misplace(number, fault)
            return
        thing = self.wiring.thing_number[fault.thing]
        state = self.clock.condition(thing)
        if fault.mode == "restart":
            state.restarted = True
        elif fault.mode == "flapping":
            self._flap(number, fault, self.clock.now)
        else:
            state.faults[number] = fault
        self.clock.ask_thing(thing, self.clock.now)

    def _end(self, number: int) -> None:
        if number in self.over:
            return
        fault = self.faults[number]
        self.clock.tell(fault.thing, "repaired", fault.mode)
        if fault.mode == "moved":
            self._put_back(number, fault)
            return
        thing = self.wiring.thing_number[fault.thing]
        self.clock.condition(thing).faults.pop(number, None)
        self.clock.ask_thing(thing, self.clock.now)

    def _flap(self, number: int, fault: Fault, begin: int) -> None:
        """Begin an off part, and plan its end and the next one."""
        if number in self.over:
            return
        self.begun[number] = begin
        if self.repeats and self._repeated(fault.period):
            self.paused.append((number, begin))
            return
        until = FOREVER if fault.until is None else fault.until
        thing = self.wiring.thing_number[fault.thing]
        self.clock.condition(thing).off.add(number)
        self.clock.ask_thing(thing, begin)
        self.clock.at(min(begin + fault.off, until), ENDS, partial(self._flap_back, number, thing))
        if begin + fault.period < until:
            again = begin + fault.period
            self.clock.at(again, BEGINS, partial(self._flap, number, fault, again))

    def _flap_back(self, number: int, thing: int) -> None:
        self.clock.condition(thing).off.discard(number)
        self.clock.ask_thing(thing, self.clock.now)

    def _held(self, period: int) -> list[int]:
        """What has been held up for longer than a period: until that ends no state comes twice, if
        the time that is left is a part of it.
        """
        since = self.clock.now - period
        known = self.board.conditions.items()
        return sorted(n for n, s in known if s.unfed is not None and s.unfed <= since)

    def _falls(self, thing: int) -> int:
        """When what is held up falls."""
        state = self.board.conditions[thing]
        assert state.unfed is not None
        return state.unfed + self.board.values[state.thing.hold_up]

    def hasten(self, flicks: int) -> None:
        """Have what is held up fall so much earlier."""
        for thing in self.held:
            state = self.board.conditions[thing]
            assert state.unfed is not None
            state.unfed -= flicks
            self.clock.ask_thing(thing, self._falls(thing))

    def _repeated(self, period: int) -> bool:
        """Whether the rig stands exactly as it stood at an earlier off part; remembers when."""
        held = self._held(period)
        if self.clock.now <= self.last or (held and not self.masks):
            return False
        mark = (fingerprint(self.board, self.clock.now, held), self._turned())
        if mark in self.seen:
            self.repeat = (self.seen[mark], self.clock.now)
            self.held, self.held_until = held, min(map(self._falls, held), default=FOREVER)
            return True
        if len(self.seen) >= MOST_MARKS:
            self.seen = {}
        self.seen[mark] = self.clock.now
        return False

    def _turned(self) -> tuple[tuple[int, int], ...]:
        """How far each loose contact that goes on is in its turn."""
        going = ((n, at) for n, at in self.begun.items() if n not in self.over)
        now = self.clock.now
        return tuple((n, now - at) for n, at in going if self.faults[n].until is None)

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
        self.board.now = self.clock.now
        for carrier, arrangement in arrangements.items():
            self.board.take(carrier, arrangement)
            self.clock.ask_picture(carrier)

    def _act(self, action: Action) -> None:
        self.clock.tell(action.on, "action", action.do)
        if action.do != "take":
            choice = int(action.choice) if action.choice is not None else -1
            self._order(action.on, Order(action.do, choice))
            return
        carriers = self._carriers(action.on)
        self._take({carrier: str(action.choice) for carrier in carriers})
        names = {self.wiring.nodes[carrier].name for carrier in carriers}
        for group in self.wiring.rig.groups.values():
            if names & set(group.carriers):
                add(self.wanted[group.name], self.clock.now, str(action.choice))

    def _carriers(self, thing: str) -> list[int]:
        of_thing = self.wiring.nodes_of[self.wiring.thing_number[thing]]
        return [number for number in of_thing if number in self.wiring.layers_of]

    def _order(self, selector: str, order: Order) -> None:
        node = self.wiring.selector_node[selector]
        self.board.orders.setdefault(node, []).append(order)
        self.clock.ask_node(node, self.clock.now)


def _last_event(script: Script) -> int:
    """The flick of the last thing that a script does, but for flapping that goes on."""
    begins = [fault.at for fault in script.faults] + [action.at for action in script.actions]
    return max([*begins, *(f.until for f in script.faults if f.until is not None)], default=0)
