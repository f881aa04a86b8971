"""R3 and R4 for the oracle: which things are up at one tick, and which soft faults end.

It shares no code with `sim/`. In: a thing as the audit dict describes it, and what the world of
`oracles` knows at this instant. Out: its `Life`, changed in place. Times are ticks.
"""

from __future__ import annotations

from dataclasses import dataclass

RESTART_ENDS = ("stuck", "blanked", "corrupt", "unlocked")


@dataclass
class Life:
    """R3, of one thing: is it up, for how long has it been starting, or on its hold-up?"""

    up: bool = False
    starting: int | None = None
    held_up: int | None = None


class Things:
    """The part of the world that works things out, each after what powers it."""

    def thing_step(self, name):
        thing, life, faults = self.things[name], self.life[name], self.in_force.get(name, ())
        powered = not thing["powered_by"] or any(self.life[p].up for p in thing["powered_by"])
        if life.up and powered and not faults and life.held_up is None:
            return
        fit = powered and self.is_whole(thing, faults)
        restarts = fit and any(f["mode"] == "restart" and f["at"] == self.n for f in faults)
        if faults and (restarts or not powered):
            self.end_soft(faults)
        if self.settling:
            life.up = fit
            self.rules["before time 0 dead"] += not fit
        elif thing["family"] == "circuit":
            self.circuit_step(thing, life, fit)
        else:
            self.start_step(thing, life, fit, restarts)

    def is_whole(self, thing, faults):
        loss = 0
        for fault in faults:
            if fault["mode"] in ("dead", "cut", "tripped"):
                return False
            if (
                fault["mode"] == "flapping"
                and (self.n - fault["at"]) % fault["period"] < fault["off"]
            ):
                self.rules["flapping off (ticks)"] += 1
                return False
            if fault["mode"] == "attenuated":
                loss += fault["loss"]
        if loss:
            self.turned("attenuated harmless", thing["name"], loss <= thing["margin"])
            self.turned("attenuated absent", thing["name"], loss > thing["margin"] + 1000)
        return loss <= thing["margin"] + 1000

    def end_soft(self, faults):
        for fault in faults:
            if fault["mode"] in RESTART_ENDS and fault["hard"]:
                self.turned("hard fault survived", id(fault), True)
            elif fault["mode"] in RESTART_ENDS:
                self.rules["soft fault ended by power or restart"] += 1
                fault["ended"] = True

    def circuit_step(self, thing, life, energised):
        if energised and life.held_up is not None:
            as_it_ends = life.held_up + 1 >= self.time(thing["hold_up"])
            self.rules["hold-up saved as it ended"] += as_it_ends
            self.rules["hold-up saved"] += 1
            life.held_up = None
        if energised or not life.up:
            self.start_step(thing, life, energised, False)
            return
        life.held_up = 0 if life.held_up is None else life.held_up + 1
        if life.held_up >= self.time(thing["hold_up"]):
            self.rules["hold-up ended"] += life.held_up > 0
            life.up, life.held_up = False, None

    def start_step(self, thing, life, fit, restarts):
        start = self.time(thing["start"])
        if not fit:
            self.rules["start broken"] += life.starting is not None
            life.up, life.starting = False, None
            return
        if restarts:
            self.rules["restart"] += 1
            self.rules["restart while starting"] += life.starting is not None
            if start > 0:
                life.up, life.starting = False, None
        if life.up:
            return
        self.rules["start began"] += life.starting is None and start > 0
        life.starting = 0 if life.starting is None else life.starting + 1
        if life.starting >= start:
            life.up, life.starting = True, None
