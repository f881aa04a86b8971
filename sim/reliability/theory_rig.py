"""A whole rig under some faults: every thing and node as a function of time, once each.

In: a frozen `Rig`, one value in flicks for each timing key, faults. Out: which functions are other
than with no fault. Each is worked out from its inputs' whole functions, in the order of the graph;
what has equal inputs and an equal recipe is worked out once, however often it is asked for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from heapq import heappop, heappush
from typing import Any

from sim.faults import Fault
from sim.reliability.theory_choice import turns_of
from sim.reliability.theory_chosen import machine_of
from sim.reliability.theory_nodes import ABSENT, Recipe, Signal
from sim.reliability.theory_steps import Steps, constant, just_before, tidy, walk
from sim.reliability.theory_things import STUCK, condition
from sim.reliability.theory_wiring import Found, Wired
from sim.rig.topology import Carrier, Display, Emit, Node, Rig


class Calculus(Wired):
    """A rig with its timings, what it does with no fault, and all functions found so far."""

    def __init__(self, rig: Rig, values: Mapping[str, int], limit: int | None = None) -> None:
        super().__init__(rig, values, limit)
        self.quiet = Found()
        self.quiet = _Run(self, (), frozenset(), None).found(self.thing_rank, self.node_rank)

    def under(
        self, faults: Sequence[Fault], failing: frozenset[str] = frozenset(),
        within: frozenset[str] | None = None,
    ) -> Found:  # fmt: skip
        """What some faults change; `failing`: selectors whose changeovers all fail.

        `within`: look at no other things and nodes than these.
        """
        chosen = {self.chooses[f.thing] for f in faults if isinstance(f.choice, int)}
        chosen |= {self.chooses[name] for name in failing}
        things = dict.fromkeys(f.thing for f in faults if not isinstance(f.choice, int))
        return _Run(self, faults, failing, within).found(things, chosen)


class _Run:
    """One set of faults, worked through the graph from what they strike."""

    def __init__(
        self, on: Calculus, faults: Sequence[Fault], failing: frozenset[str],
        within: frozenset[str] | None,
    ) -> None:  # fmt: skip
        self.on, self.failing, self.within = on, failing, within
        self.quiet = on.quiet
        self.made = Found()
        self.faults: dict[str, list[Fault]] = defaultdict(list)
        for fault in faults:
            self.faults[fault.thing].append(fault)
        self.queue: list[tuple[int, str]] = []
        self.queued: set[str] = set()

    def found(self, things: Iterable[str], nodes: Iterable[str]) -> Found:
        self._things(things)
        for name in nodes:
            self._push(name)
        cards: list[str] = []
        while self.queue:
            self._node(heappop(self.queue)[1], cards)
        for name in dict.fromkeys(c for card in cards for c in self.on.cabinets_of[card]):
            self._cabinet(name)
        return self.made

    def _push(self, name: str) -> None:
        if name not in self.queued and (self.within is None or name in self.within):
            self.queued.add(name)
            heappush(self.queue, (self.on.node_rank[name], name))

    # ---- things -----------------------------------------------------------------------------

    def _things(self, things: Iterable[str]) -> None:
        on = self.on
        todo = [(on.thing_rank[name], name) for name in things if name in on.thing_rank]
        todo.sort()
        waiting = {name for _, name in todo}
        while todo:
            name = heappop(todo)[1]
            if self._changed_thing(name):
                for below in on.powers[name]:
                    if below not in waiting and (self.within is None or below in self.within):
                        waiting.add(below)
                        heappush(todo, (on.thing_rank[below], below))

    def _changed_thing(self, name: str) -> bool:
        """Works a thing out; whether what it powers must be looked at too."""
        on, old = self.on, self.quiet.things.get(name)
        new = self._condition(name, 0)
        self.made.met_things[name] = new, self._powers(name)
        faults = self.faults.get(name, ())
        if new != old:
            self.made.things[name] = new
        if new != old or any(f.mode in ("moved", "drops") for f in faults):
            for node in on.nodes_of[name]:
                self._push(node)
        return old is None or self._up(new) != self._up(old)

    def _condition(self, name: str, frame: int) -> int:
        on = self.on
        faults = tuple(replace(f, thing="") for f in self.faults.get(name, ()))
        powers = self._powers(name)
        key = ("thing", on.make[name], powers, faults, frame)
        if key not in on.known:
            above = [on.steps[n] for n in powers]
            on.known[key] = on.number(condition(on.make[name], above, faults, on.limit, frame))
        return on.known[key]

    def _powers(self, name: str) -> tuple[int, ...]:
        return tuple(self._up(self._thing(n)) for n in self.on.rig.things[name].powered_by)

    def _thing(self, name: str) -> int:
        found = self.made.things.get(name)
        return self.quiet.things[name] if found is None else found

    def _up(self, number: int) -> int:
        return self.on.joined("up", (number,), lambda condition: condition[0])

    # ---- nodes ------------------------------------------------------------------------------

    def _node(self, name: str, cards: list[str]) -> None:
        on = self.on
        node = on.rig.nodes[name]
        self.made.met_nodes.add(name)
        if isinstance(node, Carrier):
            self._picture(name, node)
        new, old = self._value(node), self.quiet.nodes.get(name)
        if new != old:
            self.made.nodes[name] = new
            for reader in on.readers[name]:
                self._push(reader)
            cards += [name] if isinstance(node, Display) else []

    def _value(self, node: Node) -> int:
        on = self.on
        recipe, turns = on.recipe[node.name], ()
        if recipe.choice is not None:
            recipe, turns = self._chosen(node, recipe)
        state = self._state(node)
        reads = node.reads if not isinstance(node, Carrier) else ((node.sync,) * bool(node.sync))
        inputs = (state, *(self._signal(name) for name in reads))
        seen = self._seen() if self._keeps(node, state) else ()
        key = (recipe, turns, inputs, tuple(seen))
        if key not in on.known:
            on.known[key] = self._walked(recipe, turns, inputs, dict(seen))
        return on.known[key]

    def _walked(self, recipe: Recipe, turns: Any, inputs: Any, seen: Mapping[str, int]) -> int:
        on = self.on
        pictures = {name: on.steps[number] for name, number in seen.items()}

        def look(carrier: str, now: int) -> Any:
            return just_before(pictures[carrier], now)

        steps = [on.steps[n] for n in inputs]
        if recipe.kind == "Pass" and steps[0] == SOUND:
            return int(inputs[1])
        machine = machine_of(recipe, look, turns)
        alarms = [turn[0] for turn in turns]
        return on.number(walk(steps, machine, on.limit, alarms, list(pictures.values())))

    def _chosen(self, node: Node, recipe: Recipe) -> tuple[Recipe, Any]:
        name = node.selector.name  # type: ignore[attr-defined]
        assert recipe.choice is not None
        if name in self.failing:
            recipe = recipe._replace(choice=recipe.choice._replace(failing=True))
        return recipe, turns_of(self.faults.get(name, ()))

    def _state(self, node: Node) -> int:
        """The condition of its thing, for a source with the frames that it loses."""
        faults = self.faults.get(node.thing, ())
        if isinstance(node, Emit) and node.frame and any(f.mode == "drops" for f in faults):
            return self._condition(node.thing, node.frame)
        return self._thing(node.thing)

    def _signal(self, name: str) -> int:
        found = self.made.nodes.get(name)
        return self.quiet.nodes[name] if found is None else found

    def _keeps(self, node: Node, state: int) -> bool:
        recipe = self.on.recipe[node.name]
        if isinstance(node, Display) and recipe.times[0]:
            return True
        return any(mask & STUCK & recipe.feels for _, mask in self.on.steps[state].values)

    def _seen(self) -> list[tuple[str, int]]:
        """The pictures of all carriers so far: those above the node at hand are among them."""
        return sorted({**self.quiet.pictures, **self.made.pictures}.items())

    def _picture(self, name: str, node: Carrier) -> None:
        """Works out a carrier's picture."""
        on = self.on
        arrangement = on.number(arranged(node.arrangement, self.faults.get(node.thing, ())))
        layers = [self._signal(layer) for layer in node.layers]
        names = on.layer_names[name]

        def paint(now: str, *qualities: int) -> Any:
            return now, tuple(zip(names, qualities, strict=True))

        new = on.joined(("picture", names), (arrangement, *layers), paint)
        if new != self.quiet.pictures.get(name):
            self.made.pictures[name] = new

    def _cabinet(self, name: str) -> None:
        cards = tuple(self._signal(card) for card in self.on.rig.cabinets[name].cards)
        new = self.on.joined("cabinet", cards, on_cabinet)
        if new != self.quiet.cabinets.get(name):
            self.made.cabinets[name] = new


SOUND = constant((True, 0))


def arranged(first: str, faults: Sequence[Fault]) -> Steps:
    """The arrangement that a processor has taken, under wrong ones taken by mistake."""
    moves = [(f.at, True, n, f) for n, f in enumerate(faults) if f.mode == "moved"]
    ends = [(f.until, False, n, f) for _, _, n, f in moves if f.until is not None]
    events = sorted([*moves, *ends], key=lambda e: e[:3])
    now, times, values = first, [-1], [first]
    before: dict[int, str] = {}
    for at, begins, number, fault in events:
        if begins:
            before[number] = now
        now = str(fault.choice) if begins else before[number]
        times.append(at)
        values.append(now)
    last = dict(zip(times, values, strict=True))
    return tidy(list(last), list(last.values()))


def on_cabinet(*cards: tuple[Signal, Signal | None]) -> Signal:
    """What a cabinet shows: its first card that has a signal, else the first that keeps one."""
    for signal, _ in cards:
        if signal[0]:
            return signal
    return next((last for _, last in cards if last is not None), ABSENT)
