"""What a node that chooses sends over time: selectors, references, layers, cards, gates.

In: its thing's condition (up, mask) and what its inputs send, instant by instant (flicks). Out:
signals (quality, picture), a layer's quality, or a card's (signal, kept picture).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sim.faults import Quality
from sim.reliability.theory_choice import Chooser, Turn
from sim.reliability.theory_nodes import ABSENT, Look, Plain, Recipe, Sender, Signal, kept, still
from sim.reliability.theory_steps import NEVER, left
from sim.rig.topology import UNCOVERED

LOSS = {"black": int(Quality.BLACK), "card": int(Quality.WRONG), "uncovered": UNCOVERED}


class Chosen:
    """The signal that a selector feeds; a base for what has one."""

    def __init__(self, recipe: Recipe, look: Look, turns: Sequence[Turn]) -> None:
        assert recipe.choice is not None
        self.recipe = recipe
        self.above = recipe.choice.above
        self.chooser = Chooser(recipe.choice, turns)
        self.sender = Sender(recipe.feels, look)
        self.look = look
        self.sent: Any = ABSENT
        self.wake = NEVER

    def chosen(self, now: int, values: list[Any]) -> Signal:
        """What is fed, capped; absent while nothing is."""
        up, signals = values[0][0], values[1:]
        if self.recipe.caps:
            pairs = zip(signals, self.recipe.caps, strict=True)
            signals = [(min(q, cap), picture) for (q, picture), cap in pairs]
        fine = [signal[0] > self.above for signal in signals]
        if now < 0:
            fed: int | None = self.chooser.settle(up, fine)
        else:
            fed = self.chooser.step(now, up, fine)
        self.wake = self.chooser.wake
        return signals[fed] if up and fed is not None else ABSENT

    def settle(self, values: list[Any]) -> Any:
        return self.step(-1, values)

    def step(self, now: int, values: list[Any]) -> Any:
        raw = self.chosen(now, values)
        self.sent = self.sender.send(now, values[0], raw, self.sent)
        return self.sent

    def marks(self, now: int, limit: int) -> Any:
        return self.chooser.marks(now, limit), self.sender.held


class Following(Chosen):
    """How a processor follows its references: locked, holdover, unlocked, relocking, glitch."""

    def __init__(self, recipe: Recipe, look: Look, turns: Sequence[Turn]) -> None:
        super().__init__(recipe, look, turns)
        holdover, relock, glitch = recipe.times
        self.lasts = {"holdover": holdover, "relocking": relock, "glitch": glitch}
        self.state = ""
        self.since = 0

    def step(self, now: int, values: list[Any]) -> Signal:
        present = self.chosen(now, values)[0] > 0
        if not values[0][0]:
            self.state = ""
        elif not self.state:
            self.state = "locked" if present else "unlocked"
        else:
            while self._move(now, present):
                pass
        ends = self._ends()
        self.wake = self.wake if ends is None else min(self.wake, ends)
        return self._sent()

    def marks(self, now: int, limit: int) -> Any:
        return self.chooser.marks(now, limit), self.state, left(self._ends(), now, limit)

    def _ends(self) -> int | None:
        return self.since + self.lasts[self.state] if self.state in self.lasts else None

    def _sent(self) -> Signal:
        if self.state in ("locked", "holdover"):
            return int(Quality.GOOD), None
        if self.state in ("unlocked", "relocking"):
            return int(Quality.UNLOCKED), None
        return ABSENT

    def _move(self, now: int, present: bool) -> bool:
        after = self._after(now, present)
        if not after:
            return False
        self.state, self.since = after, now
        return True

    def _after(self, now: int, present: bool) -> str:
        ends = self._ends()
        over = ends is not None and now >= ends
        if self.state == "locked":
            return "" if present else "holdover"
        if self.state == "holdover":
            return "locked" if present else "unlocked" if over else ""
        if self.state == "unlocked":
            return "relocking" if present else ""
        if self.state == "relocking":
            return "glitch" if over and present else "" if present else "unlocked"
        return ("locked" if present else "unlocked") if over else ""


class Layered(Chosen):
    """The quality of one layer of a processor."""

    def __init__(self, recipe: Recipe, look: Look, turns: Sequence[Turn]) -> None:
        super().__init__(recipe, look, turns)
        self.quality = 0
        self.held: int | None = None

    def step(self, now: int, values: list[Any]) -> int:
        quality = self.chosen(now, values)[0]
        if quality or not values[0][0]:
            self.held = None
        elif self.recipe.on_loss == "frozen":
            if self.held is None:
                self.held = 0 if now < 0 else still(self.quality)
            quality = self.held
        else:
            quality = LOSS[self.recipe.on_loss]
        self.quality = quality
        return quality

    def marks(self, now: int, limit: int) -> Any:
        return self.chooser.marks(now, limit), self.held


class Shown(Chosen):
    """What a card shows: (its signal, the last picture that it keeps, or None)."""

    def __init__(self, recipe: Recipe, look: Look, turns: Sequence[Turn]) -> None:
        super().__init__(recipe, look, turns)
        self.keeps = recipe.times[0]
        self.last: Signal | None = None
        self.runs_out = 0

    def step(self, now: int, values: list[Any]) -> tuple[Signal, Signal | None]:
        raw = self.chosen(now, values)
        shown = self.last if not self.sent[0] and self.last is not None else self.sent
        out = self.sender.send(now, values[0], raw, shown)
        if out[0] or not values[0][0]:
            self.last = None
        elif self.sent[0] and self.keeps:
            self.last, self.runs_out = kept(self.sent, now, self.look), now + self.keeps
        elif self.last is not None and now >= self.runs_out:
            self.last = None
        self.sent = out
        if self.last is not None:
            self.wake = min(self.wake, self.runs_out)
        return out, self.last

    def marks(self, now: int, limit: int) -> Any:
        runs = None if self.last is None else left(self.runs_out, now, limit)
        return self.chooser.marks(now, limit), self.sender.held, runs


class Gated:
    """A return that is sent while nothing reaches what it watches. Inputs: its own, the watched."""

    def __init__(self, recipe: Recipe, look: Look) -> None:
        self.notice, self.restore = recipe.times
        self.sender = Sender(recipe.feels, look)
        self.sent = ABSENT
        self.on = self.open = False
        self.acts: int | None = None
        self.wake = NEVER

    def settle(self, values: list[Any]) -> Signal:
        self.on, self.open = values[0][0], not values[2][0]
        return self._send(-1, values)

    def step(self, now: int, values: list[Any]) -> Signal:
        up, present = values[0][0], values[2][0] > 0
        if not up or not self.on:
            self.open, self.acts = False, None
        self.on = up
        while up and self._turn(now, present):
            pass
        self.wake = NEVER if self.acts is None else self.acts
        return self._send(now, values)

    def marks(self, now: int, limit: int) -> Any:
        timer = left(self.acts, now, limit), self.acts is None
        return self.on, self.open, timer, self.sender.held

    def _turn(self, now: int, present: bool) -> bool:
        """Whether it opens or closes now; else its timer runs on, begins, or is cleared."""
        if present != self.open:
            self.acts = None
            return False
        if self.acts is None:
            self.acts = now + (self.restore if self.open else self.notice)
        if now < self.acts:
            return False
        self.open, self.acts = not self.open, None
        return True

    def _send(self, now: int, values: list[Any]) -> Signal:
        raw = values[1] if self.open else ABSENT
        self.sent = self.sender.send(now, values[0], raw, self.sent)
        return self.sent


CHOOSING: dict[str, type[Chosen]] = {
    "Select": Chosen,
    "Sync": Following,
    "Layer": Layered,
    "Display": Shown,
}


def machine_of(recipe: Recipe, look: Look, turns: Sequence[Turn]) -> Any:
    """The machine that makes a node's function; its first input is its thing's condition."""
    if recipe.kind in CHOOSING:
        return CHOOSING[recipe.kind](recipe, look, turns)
    return Gated(recipe, look) if recipe.kind == "Gate" else Plain(recipe, look)
