"""Random scripts for a random rig: faults of every mode, actions, changeovers that fail.

In: a `random.Random` and the `Rig`. Out: a `Script`. Every time is a whole number of `TICK`
flicks; instants come from a small pool, so that many things fall on the same one.
"""

from __future__ import annotations

from random import Random

from sim.faults import MODES, Action, Fault, Script
from sim.rig.topology import Display, Layer, Rig, Select, Sync

TICK = 1000
ARRANGEMENTS = ("first", "second")
MODE_WEIGHTS = {
    "moved": 3,
    "stuck": 4,
    "restart": 3,
    "dead": 3,
    "cut": 3,
    "attenuated": 7,
    "drops": 5,
}
FAMILY_WEIGHTS = {
    "circuit": 5, "reference": 5, "source": 4, "processor": 5, "relay": 3, "fibre": 7, "copper": 3,
    "distributor": 2, "port": 2, "receiver": 2, "supply": 1, "power-jumper": 1, "jumper": 1,
    "selector": 1,
}  # fmt: skip
NOT_BEFORE_0 = ("flapping", "drops", "restart", "moved")


class Scripter:
    """Draws what happens to a rig. Instants come from a small pool, so that they coincide."""

    def __init__(self, rng: Random, rig: Rig) -> None:
        self.rng = rng
        self.rig = rig
        self.ticks = rig.length // TICK
        self.pool = [rng.randrange(self.ticks) for _ in range(3)]
        self.inputs = {
            node.selector.name: len(node.inputs)
            for node in rig.nodes.values()
            if isinstance(node, Select | Layer | Sync | Display)
        }
        self.targets = [(name, thing.family) for name, thing in rig.things.items()]
        self.targets += [(name, "selector") for name, many in self.inputs.items() if many > 1]
        self.weights = [FAMILY_WEIGHTS[family] for _, family in self.targets]
        self.focus = rng.choices(self.targets, self.weights, k=2)
        self.favourite = rng.choice(self.worth_choosing())

    def script(self) -> Script:
        faults: list[Fault] = []
        for _ in range(self.rng.randint(1, 4)):
            faults.append(self.fault(*self.target(), self.instant()))
            if self.rng.random() < 0.35:
                faults.append(self.follow_up(faults[-1]))
        share = self.rng.choice((0.0, 0.0, 0.0, 0.2, 0.5))
        failing = {name for name in self.inputs if self.rng.random() < share}
        if share:
            failing.add(self.favourite)
        return Script(tuple(faults[:5]), self.actions(), frozenset(failing))

    def target(self) -> tuple[str, str]:
        if self.rng.random() < 0.4:
            return self.rng.choice(self.focus)
        return self.rng.choices(self.targets, self.weights)[0]

    def follow_up(self, first: Fault) -> Fault:
        """A second fault soon after: of the same thing, or of one that may show what it sends."""
        family = self.rng.choice(("receiver", "receiver", "relay", "processor", "source"))
        near = [it for it in self.targets if it[1] == family]
        if not near or self.rng.random() < 0.4:
            near = [it for it in self.targets if it[0] == first.thing]
        at = max(first.at // TICK, 0) + self.rng.choice((0, 1, 1, 2, 3, 4, 6))
        mode = self.rng.choice(("stuck", "stuck", "restart", ""))
        return self.fault(*self.rng.choice(near), min(at, self.ticks - 1), mode)

    def actions(self) -> tuple[Action, ...]:
        made: list[Action] = []
        for _ in range(self.rng.choice((0, 0, 1, 2, 4))):
            at = self.instant()
            if made and self.rng.random() < 0.4:
                at = min(made[-1].at // TICK + self.rng.choice((0, 1, 2, 4)), self.ticks - 1)
            made.append(self.action(at))
        return tuple(made)

    def instant(self) -> int:
        if self.rng.random() < 0.6:
            near = self.rng.choice((0, 0, 0, 1, 2, 3, 5))
            return min(self.rng.choice(self.pool) + near, self.ticks - 1)
        return self.rng.randrange(self.ticks)

    def fault(self, thing: str, family: str, at: int, mode: str = "") -> Fault:
        modes = MODES[family]
        if mode not in modes:
            mode = self.rng.choices(modes, [MODE_WEIGHTS.get(m, 2) for m in modes])[0]
        if mode not in NOT_BEFORE_0 and self.rng.random() < 0.12:
            at = -self.rng.randint(1, 3)
        period = self.rng.randint(2, 9)
        return Fault(
            thing=thing,
            mode=mode,
            at=at * TICK,
            until=self.until(at),
            hard=self.rng.random() < 0.3,
            period=period * TICK if mode == "flapping" else 0,
            off=self.rng.randint(1, period - 1) * TICK if mode == "flapping" else 0,
            loss=self.rng.choice((500, 1000, 1500, 2000, 2500, 3000))
            if mode == "attenuated"
            else 0,
            frames=self.rng.randint(1, 3) if mode == "drops" else 0,
            choice=self.moved_to(thing) if mode == "moved" else None,
        )

    def until(self, at: int) -> int | None:
        """The end of a fault, in flicks: never, soon, or at an instant of the pool."""
        kind = self.rng.choice(("never", "soon", "soon", "pool"))
        end = max(at, 0) + self.rng.randint(1, self.rng.choice((5, 20)))
        if kind == "pool":
            end = max(self.pool)
        if at < 0 and self.rng.random() < 0.2:
            end = 0
        return None if kind == "never" or end <= at else end * TICK

    def moved_to(self, thing: str) -> int | str:
        if thing in self.inputs:
            return self.rng.randrange(self.inputs[thing])
        return self.rng.choice(ARRANGEMENTS)

    def action(self, tick: int) -> Action:
        do = self.rng.choice(("choose", "choose", "lock", "unlock", "take"))
        at = tick * TICK
        if do == "take":
            processors = [n for n, t in self.rig.things.items() if t.family == "processor"]
            return Action(at, do, self.rng.choice(processors), self.rng.choice(ARRANGEMENTS))
        name = self.favourite
        if self.rng.random() < 0.3:
            name = self.rng.choice(self.worth_choosing())
        choice = self.rng.randrange(self.inputs[name]) if do == "choose" else None
        return Action(at, do, name, choice)

    def worth_choosing(self) -> list[str]:
        """Selectors with more than one input, where there are some."""
        return [name for name, many in self.inputs.items() if many > 1] or list(self.inputs)
