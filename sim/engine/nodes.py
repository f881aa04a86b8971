"""What each kind of node sends at one instant, and what it remembers from one to the next.

In: a `Board` with the signals of all nodes before it worked out. Out: the signal of a node put
on that board, and when to look again. Rules R6 to R11 of DEVELOPERS.md, one function a kind;
the queue that says when is the engine's.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from copy import copy
from dataclasses import dataclass
from typing import Any

from sim.engine import selector
from sim.engine.board import ABSENT, Board, Value
from sim.engine.selector import State
from sim.faults import SOFT, Quality
from sim.rig.topology import (
    UNCOVERED,
    Carrier,
    Display,
    Emit,
    Gate,
    Layer,
    Merge,
    Node,
    Pass,
    Select,
    Sync,
)

GOOD = int(Quality.GOOD)
UNLOCKED = int(Quality.UNLOCKED)
ON_LOSS = {"black": int(Quality.BLACK), "card": int(Quality.WRONG), "uncovered": UNCOVERED}


@dataclass(slots=True)
class GateState:
    """`since`: from when the change that would turn it has been under way (None: it is not)."""

    alive: bool = False
    open: bool = False
    since: int | None = None

    def copied(self) -> GateState:
        return copy(self)

    @property
    def on(self) -> int:
        return int(self.open)

    def mark(self, now: int) -> Hashable:
        return (self.alive, self.open, None if self.since is None else self.since - now)


@dataclass(slots=True)
class SyncState:
    """Its selector, and the phase (locked, holdover, unlocked, relocking, glitch) it has been in
    since when.
    """

    chooser: State
    phase: str = ""
    since: int = 0

    @property
    def on(self) -> int:
        return self.chooser.on

    def copied(self) -> SyncState:
        return SyncState(self.chooser.copied(), self.phase, self.since)

    def mark(self, now: int) -> Hashable:
        timed = self.phase in PHASE_KEYS
        return (self.chooser.mark(now), self.phase, self.since - now if timed else None)


@dataclass(slots=True)
class LayerState:
    """Its selector, and the quality it has kept since its input was lost (None: not lost)."""

    chooser: State
    kept: int | None = None

    @property
    def on(self) -> int:
        return self.chooser.on

    def copied(self) -> LayerState:
        return LayerState(self.chooser.copied(), self.kept)

    def mark(self, now: int) -> Hashable:
        return (self.chooser.mark(now), self.kept)


def renew(board: Board, number: int) -> bool:
    """Work a node out; True if what it sends is new."""
    return board.put(number, _sent(board, number, board.wiring.nodes[number]))


def _sent(board: Board, number: int, node: Node) -> Any:
    condition = board.conditions.get(board.wiring.thing_of[number])
    if condition is not None and not condition.up:
        return _lose(board, number, node)
    raw = RULES[type(node)](board, number, node)
    if condition is None or not node.feels:
        return raw
    if condition.stuck and "stuck" in node.feels:
        raw = _stand(board, number, node)
    else:
        board.stuck.pop(number, None)
    cap = condition.cap if node.feels == SOFT else condition.cap_for(node.feels)
    return raw if raw[0] <= cap else (cap, raw[1])


def _stand(board: Board, number: int, node: Node) -> Value:
    if number not in board.stuck:
        earlier = board.shown_before if isinstance(node, Display) else board.before
        board.stuck[number] = board.kept(earlier(number))
    return board.stuck[number]


def _lose(board: Board, number: int, node: Node) -> Any:
    """Its thing is not up: it sends nothing and forgets what does not outlive that."""
    board.stuck.pop(number, None)
    board.orders.pop(number, None)
    if board.settling and getattr(node, "selector", None) is not None:
        _set_by_hand(board, number, node)
    if board.memory.has(number):
        _forget(board.memory[number])
    return 0 if isinstance(node, Layer | Sync) else ABSENT


def _set_by_hand(board: Board, number: int, node: Any) -> None:
    """A by-hand selector of a dead thing stands somewhere too before time 0 (rule R5)."""
    if node.selector.restore != "by-hand":
        return
    qualities = _offered(board, number, node)
    on = next((i for i, q in enumerate(qualities) if q > node.selector.accepts_above), 0)
    chooser = State("by-hand", on=on)
    made = {Layer: LayerState, Sync: SyncState}.get(type(node))
    board.memory[number] = made(chooser) if made else chooser


def _offered(board: Board, number: int, node: Any) -> list[int]:
    """The qualities of a selector's inputs, as it sees them."""
    signals = [board.value[i][0] for i in board.inputs[number]]
    caps = node.caps if isinstance(node, Layer) else ()
    return [min(pair) for pair in zip(signals, caps, strict=True)] if caps else signals


def _forget(memory: Any) -> None:
    if isinstance(memory, GateState):
        memory.alive = False
    elif isinstance(memory, SyncState):
        memory.phase = ""
        selector.lose(memory.chooser)
    elif isinstance(memory, LayerState):
        memory.kept = None
        selector.lose(memory.chooser)
    else:
        selector.lose(memory)


def _emit(board: Board, number: int, node: Emit) -> Value:
    return (GOOD, None)


def _pass(board: Board, number: int, node: Pass) -> Value:
    return board.value[board.inputs[number][0]]  # type: ignore[no-any-return]


def _merge(board: Board, number: int, node: Merge) -> Value:
    legs = [board.value[leg] for leg in board.inputs[number]]
    return next((leg for leg in legs if leg[0]), ABSENT)


def _select(board: Board, number: int, node: Select | Display) -> Value:
    signals = [board.value[i] for i in board.inputs[number]]
    state = board.remembered(number, lambda: State(node.selector.restore))
    fed = board.feed(number, state, node.selector, [signal[0] for signal in signals])
    return signals[fed] if fed >= 0 else ABSENT


def _layer(board: Board, number: int, node: Layer) -> int:
    qualities = _offered(board, number, node)
    memory = board.remembered(number, lambda: LayerState(State(node.selector.restore)))
    fed = board.feed(number, memory.chooser, node.selector, qualities)
    quality = qualities[fed] if fed >= 0 else 0
    if quality:
        memory.kept = None
        return quality
    if node.on_loss != "frozen":
        return ON_LOSS[node.on_loss]
    if memory.kept is None:
        memory.kept = min(int(Quality.FROZEN), board.before(number))
    return int(memory.kept)


def _carrier(board: Board, number: int, node: Carrier) -> Value:
    syncs = board.inputs[number]
    quality = board.value[syncs[0]] if syncs else GOOD
    return (quality, number) if quality else ABSENT


def _gate(board: Board, number: int, node: Gate) -> Value:
    passed, watched = (board.value[i] for i in board.inputs[number])
    state = board.remembered(number, GateState)
    _turn(board, number, node, state, present=watched[0] > 0)
    return passed if state.open else ABSENT


def _turn(board: Board, number: int, node: Gate, state: GateState, present: bool) -> None:
    """Move a gate on: it opens when the forward signal has been missing for `notice`, closes when
    it is back for long enough.
    """
    if not state.alive:
        state.alive, state.since = True, None
        state.open = board.settling and not present
    if state.open != present:
        state.since = None
        return
    state.since = board.now if state.since is None else state.since
    key = node.wait_to_restore if state.open else node.notice
    board.used.add(key)
    if board.now - state.since < board.values[key]:
        board.ask(number, state.since + board.values[key])
        return
    state.open, state.since = not state.open, None
    board.tell(node.name, "gate opens" if state.open else "gate closes", "")


def _sync(board: Board, number: int, node: Sync) -> int:
    memory = board.remembered(number, lambda: SyncState(State(node.selector.restore)))
    signals = _offered(board, number, node)
    fed = board.feed(number, memory.chooser, node.selector, signals)
    present = fed >= 0 and signals[fed] > 0
    if not memory.phase:
        memory.phase, memory.since = "locked" if present else "unlocked", board.now
    while (phase := _next_phase(board, node, memory, present)) != memory.phase:
        memory.phase, memory.since = phase, board.now
        board.tell(node.name, phase, "")
    due = memory.since + board.values[PHASE_KEYS.get(phase, _no_key)(node)]
    if phase in PHASE_KEYS and due > board.now:
        board.ask(number, due)
    return {"glitch": 0, "unlocked": UNLOCKED, "relocking": UNLOCKED}.get(phase, GOOD)


def _no_key(node: Sync) -> str:
    return ""


PHASE_KEYS: dict[str, Callable[[Sync], str]] = {
    "holdover": lambda node: node.holdover,
    "relocking": lambda node: node.relock,
    "glitch": lambda node: node.relock_glitch,
}


def _next_phase(board: Board, node: Sync, memory: SyncState, present: bool) -> str:
    phase = memory.phase
    over = False
    if phase in PHASE_KEYS:
        key = PHASE_KEYS[phase](node)
        board.used.add(key)
        over = board.now - memory.since >= board.values[key]
    if phase == "locked":
        return phase if present else "holdover"
    if phase == "holdover":
        return "locked" if present else "unlocked" if over else phase
    if phase == "unlocked":
        return "relocking" if present else phase
    if phase == "relocking":
        return "unlocked" if not present else "glitch" if over else phase
    return ("locked" if present else "unlocked") if over else phase


RULES: dict[type[Node], Callable[[Board, int, Any], Any]] = {
    Emit: _emit,
    Pass: _pass,
    Merge: _merge,
    Select: _select,
    Display: _select,
    Layer: _layer,
    Carrier: _carrier,
    Gate: _gate,
    Sync: _sync,
}
