"""The board: every signal of a rig at this instant and just before it, and all that is remembered.

In: a `Wiring`, the timing values, the conditions of the things. Out: a `Board`, on which
`nodes` works and from which the engine reads. Rules R7, R8, R12 and R13 of DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from copy import copy
from typing import Any

from sim.engine import selector
from sim.engine.condition import Condition
from sim.engine.selector import NEVER, Instant, Order, State, Times
from sim.engine.signal import Kept, frozen, still
from sim.engine.symmetry import Cone
from sim.engine.tables import Memory, Table, copied, is_small
from sim.engine.wiring import Wiring
from sim.rig.topology import Carrier, Display, Layer, Node, Selector, Sync

Value = tuple[int, Any]
"""A signal inside the engine: quality, and None, the number of a live carrier, or a Kept picture.
"""
ABSENT: Value = (0, None)


Ask = Callable[[int, int], None]
"""Asked with (node number, flick): look at this node again then."""
Tell = Callable[[str, str, str], None]
"""Told (name, what happened, the other party)."""


class Board:
    """All signals of a rig at one instant.

    Tables are by node number; `now` is set by the engine.
    """

    def __init__(
        self, wiring: Wiring, values: Mapping[str, int], conditions: Mapping[int, Condition]
    ) -> None:
        self.wiring: Wiring | Cone = wiring
        self.values = {**values, "": 0}
        self.conditions = conditions
        self.now = -1
        self.settling = True
        size = len(wiring.nodes)
        self.value: Table = [_nothing(node) for node in wiring.nodes]
        self.last: Table = [ABSENT] * size
        self.changed: Table = [-2] * size
        self.shown: Table = [ABSENT] * size
        self.memory = Memory()
        self.stuck: dict[int, Value] = {}
        self.keeps: dict[int, tuple[Value, int]] = {}
        self.orders: dict[int, list[Order]] = {}
        self.layer_names = {
            carrier: tuple(n.layer for i in layers if isinstance(n := wiring.nodes[i], Layer))
            for carrier, layers in wiring.layers_of.items()
        }
        self.arrangement = {n: _arrangement(wiring.nodes[n]) for n in wiring.layers_of}
        self.arrangement_last: dict[int, tuple[int, str]] = {}
        self.failing: frozenset[str] = frozenset()
        self.used: set[str] = set()
        self.touched: set[int] = set()
        self.unlike: frozenset[int] = frozenset()
        self.settled_memory: Mapping[int, Any] = {}
        self.examined: dict[int, int] = {}
        self.ask: Ask = lambda number, when: None
        self.ask_shown: Ask = lambda number, when: None
        self.tell: Tell = lambda name, what, detail: None
        self.inputs: Mapping[int, Sequence[int]] | Sequence[Sequence[int]] = wiring.inputs

    def branch(self, conditions: Mapping[int, Condition], wiring: Wiring | Cone) -> Board:
        """A board that goes on from this settled one, which must stay as it is."""
        twin = copy(self)
        twin.conditions, twin.wiring, twin.inputs = conditions, wiring, wiring.inputs
        small = is_small(len(wiring.inputs), len(self.wiring.nodes))
        for name in ("value", "last", "changed", "shown"):
            setattr(twin, name, copied(getattr(self, name), small))
        twin.memory = self.memory.onward()
        twin.stuck, twin.keeps, twin.orders = dict(self.stuck), {}, {}
        twin.arrangement, twin.arrangement_last = dict(self.arrangement), {}
        twin.used, twin.touched, twin.examined = set(), set(), {}
        twin.settling = False
        return twin

    def unsettled(
        self, numbers: Collection[int], conditions: Mapping[int, Condition], wiring: Wiring | Cone
    ) -> Board:
        """A board on which these nodes have still to settle; all others stand as on this one."""
        twin = self.branch(conditions, wiring)
        twin.settling, twin.now = True, self.now
        kept = twin.memory.settled
        twin.memory = Memory({n: of for n, of in kept.items() if n not in numbers})
        for number in numbers:
            twin.value[number] = _nothing(wiring.nodes[number])
            twin.shown[number] = twin.last[number] = ABSENT
            twin.changed[number] = -2
        return twin

    def timed(self, values: Mapping[str, int]) -> Board:
        """The same settled board with other timings; what it holds is shared."""
        twin = copy(self)
        twin.values = {**values, "": 0}
        return twin

    def use(self, key: str) -> int:
        """A timing in flicks; the run then remembers that it mattered."""
        self.used.add(key)
        return self.values[key]

    # ---- signals

    def put(self, number: int, sent: Any) -> bool:
        """What a node sends from now on; True if that is new."""
        if sent == self.value[number]:
            return False
        if self.changed[number] != self.now:
            self.last[number], self.changed[number] = self.value[number], self.now
        self.value[number] = sent
        self.touched.add(number)
        return True

    def before(self, number: int) -> Any:
        """What a node sent just before this instant."""
        return self.last[number] if self.changed[number] == self.now else self.value[number]

    def up(self, number: int) -> bool:
        """Whether the thing of a node is up."""
        condition = self.conditions.get(self.wiring.thing_of[number])
        return condition is None or condition.up

    # ---- pictures

    def kept(self, value: Value) -> Value:
        """A signal as it is kept: at most frozen, its picture standing as it was just before this
        instant.
        """
        quality, picture = value
        if isinstance(picture, int):
            picture = still(self.picture_before(picture))
        return (frozen(quality), picture) if quality else ABSENT

    def picture(self, carrier: int) -> Kept:
        """The arrangement and layers of a carrier now."""
        layers = zip(self.layer_names[carrier], self.wiring.layers_of[carrier], strict=True)
        return Kept(self.arrangement[carrier], tuple((name, self.value[n]) for name, n in layers))

    def picture_before(self, carrier: int) -> Kept:
        """The same, just before this instant."""
        at, earlier = self.arrangement_last.get(carrier, (-2, ""))
        taken = earlier if at == self.now else self.arrangement[carrier]
        layers = zip(self.layer_names[carrier], self.wiring.layers_of[carrier], strict=True)
        return Kept(taken, tuple((name, self.before(n)) for name, n in layers))

    def take(self, carrier: int, arrangement: str) -> None:
        """The arrangement that a carrier shows from now on."""
        if self.arrangement_last.get(carrier, (-2, ""))[0] != self.now:
            self.arrangement_last[carrier] = (self.now, self.arrangement[carrier])
        self.arrangement[carrier] = arrangement

    # ---- displays

    def shown_before(self, number: int) -> Value:
        """What a card showed just before this instant, until `show` is asked, which is after all
        nodes have been worked out.
        """
        found: Value = self.shown[number]
        return found

    def show(self, number: int, node: Display) -> bool:
        """Work out what a card shows, with what it keeps; True if its cabinet must look."""
        out = self.value[number]
        kept_before = number in self.keeps
        if out[0] or not self.up(number):
            self.keeps.pop(number, None)
        else:
            self._keep(number, node)
        self.shown[number] = out if out[0] else self.keeps.get(number, (ABSENT, 0))[0]
        return self.changed[number] == self.now or kept_before != (number in self.keeps)

    def _keep(self, number: int, node: Display) -> None:
        lasts = self.values[node.keeps_last]
        if self.changed[number] == self.now and self.last[number][0]:
            self.used.add(node.keeps_last)
            if lasts:
                self.keeps[number] = (self.kept(self.last[number]), self.now)
                self.ask_shown(number, self.now + lasts)
        elif number in self.keeps and self.now - self.keeps[number][1] >= lasts:
            del self.keeps[number]
            self.tell(node.name, "ran out", "")

    def cabinet(self, cards: Sequence[int]) -> Value:
        """What a cabinet shows."""
        for card in cards:
            if self.value[card][0]:
                return self.value[card]  # type: ignore[no-any-return]
        return next((self.keeps[card][0] for card in cards if card in self.keeps), ABSENT)

    # ---- selectors

    def feed(self, number: int, state: State, of: Selector, qualities: Sequence[int]) -> int:
        """Work a selector out; the input that it feeds, or -1."""
        orders = self.orders.pop(number, ())
        acceptable = [quality > of.accepts_above for quality in qualities]
        if acceptable[0] and not orders and selector.content(state):
            selector.note_since(state, acceptable, self.now)
            self.examined.setdefault(number, 1)
            return 0
        values = self.values
        times = Times(
            values[of.detect] + values[of.hold_off], values[of.switch], values[of.wait_to_restore]
        )
        instant = Instant(
            self.now, acceptable, times, of.restore, self._demand(of), self._teller(number, of)
        )
        selector.work_out(state, instant, orders, of.locked_on)
        self._count_used(state, of)
        self._count_examined(number, state, acceptable)
        due = selector.next_look(state, times)
        if due < NEVER:
            self.ask(number, due)
        return state.fed

    def _demand(self, of: Selector) -> Callable[[], bool]:
        return lambda: of.name in self.failing

    def _teller(self, number: int, of: Selector) -> Callable[[str, int], None]:
        inputs = self.wiring.nodes[number].inputs

        def tell(what: str, choice: int) -> None:
            if what in ("lost", "switching"):
                self.used.update((of.detect, of.hold_off) if what == "lost" else (of.switch,))
            self.tell(of.name, what, inputs[choice])

        return tell

    def _count_used(self, state: State, of: Selector) -> None:
        if (
            state.automatic
            and state.mode == "revertive"
            and any(since is not None for since in state.since[: state.on])
        ):
            self.used.add(of.wait_to_restore)

    def _count_examined(self, number: int, state: State, acceptable: Sequence[bool]) -> None:
        content = state.to < 0 and acceptable[state.on]
        looked_at = state.on + 1 if content else len(acceptable)
        self.examined[number] = max(self.examined.get(number, 0), looked_at)

    def remembered(self, number: int, fresh: Callable[[], Any]) -> Any:
        """What a node remembers, made afresh if it never did."""
        if not self.memory.has(number):
            self.memory[number] = fresh()
        return self.memory[number]


def _nothing(node: Node) -> Any:
    """What a node sends that sends nothing; layers and syncs have a bare quality."""
    return 0 if isinstance(node, Layer | Sync) else ABSENT


def _arrangement(node: Node) -> str:
    assert isinstance(node, Carrier)
    return node.arrangement
