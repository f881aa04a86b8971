"""What one node sends over time, made from what its inputs send over time.

In: its thing's condition (up, mask) and what its inputs send, instant by instant (flicks). Out:
signals (quality, picture); nodes without a choice that takes time. A picture is None,
the name of a carrier (live), or a kept one: (arrangement, ((layer, quality), ...)).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from sim.faults import Quality
from sim.reliability.theory_choice import Choice
from sim.reliability.theory_steps import NEVER
from sim.reliability.theory_things import CAPS, STUCK
from sim.rig.topology import UNCOVERED

Signal = tuple[int, Any]
Look = Callable[[str, int], Any]
"""The picture that a carrier had just before an instant: (arrangement, ((layer, quality), ...))."""
ABSENT: Signal = (0, None)
FROZEN = int(Quality.FROZEN)


class Recipe(NamedTuple):
    """What counts of a node: `kind` is its class; `feels` a mask; `times` its own, in flicks."""

    kind: str
    feels: int
    choice: Choice | None = None
    times: tuple[int, ...] = ()
    caps: tuple[int, ...] = ()
    on_loss: str = ""
    name: str = ""


def still(quality: int) -> int:
    """At most frozen; a layer that is left out stays so."""
    return quality if quality == UNCOVERED else min(quality, FROZEN)


def kept(signal: Signal, now: int, look: Look) -> Signal:
    """What stands of a signal from now on."""
    quality, picture = signal
    if not quality:
        return ABSENT
    if isinstance(picture, str):
        arrangement, layers = look(picture, now)
        picture = arrangement, tuple((name, still(q)) for name, q in layers)
    return min(quality, FROZEN), picture


class Sender:
    """What leaves a node: its own value, or the one it is stuck with, no better than it can be."""

    def __init__(self, feels: int, look: Look) -> None:
        self.feels, self.look = feels, look
        self.held: Signal | None = None

    def send(self, now: int, condition: tuple[bool, int], raw: Signal, before: Signal) -> Signal:
        """`before`: what was sent (or shown) just before; before time 0 nothing is kept."""
        up, mask = condition
        mask &= self.feels
        if not (up and mask & STUCK):
            self.held = None
        elif self.held is None:
            self.held = ABSENT if now < 0 else kept(before, now, self.look)
        quality, picture = raw if self.held is None else self.held
        if not (up and quality):
            return ABSENT
        return min(quality, CAPS[mask]), picture


class Plain:
    """Emit, pass, merge, carrier: no choice that takes time."""

    def __init__(self, recipe: Recipe, look: Look) -> None:
        self.raw = PLAIN[recipe.kind]
        self.name = recipe.name
        self.sender = Sender(recipe.feels, look)
        self.sent = ABSENT
        self.wake = NEVER

    def settle(self, values: list[Any]) -> Signal:
        return self.step(-1, values)

    def step(self, now: int, values: list[Any]) -> Signal:
        raw = self.raw(self.name, values[1:])
        self.sent = self.sender.send(now, values[0], raw, self.sent)
        return self.sent

    def marks(self, _now: int, _limit: int) -> Any:
        return self.sender.held


def _carried(name: str, inputs: Sequence[Signal]) -> Signal:
    quality = inputs[0][0] if inputs else int(Quality.GOOD)
    return (quality, name) if quality else ABSENT


PLAIN: dict[str, Callable[[str, Sequence[Signal]], Signal]] = {
    "Emit": lambda _, __: (int(Quality.GOOD), None),
    "Pass": lambda _, inputs: inputs[0],
    "Merge": lambda _, inputs: next((one for one in inputs if one[0]), ABSENT),
    "Carrier": _carried,
}
