"""R8 for the oracle: what one selector does, tick by tick. It shares no code with `sim/`.

In, at each tick: whether its thing is up, the qualities of its inputs (0..6), what operators
do to it at this instant. Out: the number of the input that it feeds, or None. Times are ticks.
"""

from __future__ import annotations

ABSENT = 0
EVER = float("inf")


class Chooser:
    """One selector. `time` turns a timing key into ticks; `rules` counts what happened."""

    def __init__(self, selector, inputs, time, rules, fails):
        self.name = selector["name"]
        self.wait = time(selector["detect"]) + time(selector["hold_off"])
        self.switch = time(selector["switch"])
        self.wait_to_restore = time(selector["wait_to_restore"])
        self.accepts_above = selector["accepts_above"]
        self.fails = fails
        self.rules = rules
        declared = selector["restore"]
        self.locked = declared == "locked"
        self.restore = "revertive" if declared == "locked" else declared
        self.fed = selector["locked_on"] if self.locked else 0
        self.acceptable = [False] * inputs
        self.acceptable_for = [None] * inputs  # ticks without a break
        self.was_up = False
        self.forget()

    def forget(self):
        self.waited = None  # ticks of a running wait
        self.expired = False
        self.to = None  # the input that it is switching to
        self.left = 0  # ticks of switching still to come
        self.by_operator = False
        self.pending = None  # an operator's choice that has not begun
        self.failed = False

    def busy(self):
        return self.to is not None or self.waited is not None

    def automatic(self):
        return not self.locked and self.restore in ("revertive", "non-revertive")

    def first_acceptable(self):
        return next((k for k, yes in enumerate(self.acceptable) if yes), None)

    def settle(self, up, qualities):
        """R5. A by-hand one has its input even if its node is dead."""
        self.acceptable = [quality > self.accepts_above for quality in qualities]
        if not self.locked:
            self.fed = self.first_acceptable() or 0
        if not up:
            return None
        self.was_up = True
        self.acceptable_for = [EVER if yes else None for yes in self.acceptable]
        self.expired = self.automatic() and self.first_acceptable() is None
        return self.fed

    def step(self, up, qualities, events):
        if not up:
            self.state_lost(events)
            return None
        self.acceptable = [quality > self.accepts_above for quality in qualities]
        for k, yes in enumerate(self.acceptable):
            self.count_acceptable(k, yes)
        if self.waited is not None:
            self.waited += 1
        if not self.was_up:
            self.come_up()
        for what, choice in events:
            self.operator_event(what, choice)
        self.end_switching()
        if self.to is None and self.pending is not None:
            self.begin_choice()
        while self.moves_at_once():
            pass
        return None if self.to is not None else self.fed

    def count_acceptable(self, k, yes):
        ticks = self.acceptable_for[k]
        if yes:
            self.acceptable_for[k] = 0 if ticks is None else ticks + 1
            return
        if ticks is not None and k < self.fed and self.restore == "revertive" and self.was_up:
            self.rules["wait-to-restore broken"] += ticks < self.wait_to_restore
        self.acceptable_for[k] = None

    def state_lost(self, events):
        if self.was_up and self.to is not None:
            self.rules["state lost while switching"] += 1
            self.fed = self.to
        self.was_up = False
        self.acceptable_for = [None] * len(self.acceptable)
        self.forget()
        for _ in events:
            self.rules["operator without effect: not up"] += 1

    def come_up(self):
        self.was_up = True
        if not self.automatic():
            self.rules[
                "locked kept through restart" if self.locked else "by-hand kept through restart"
            ] += 1
            return
        first = self.first_acceptable()
        self.rules["came up with none" if first is None else "came up on first acceptable"] += 1
        self.fed = 0 if first is None else first
        self.expired = first is None

    def operator_event(self, what, choice):
        if what == "lock":
            self.lock()
        elif what == "unlock":
            self.unlock()
        elif what == "moved":
            choice["recall"] = None if self.locked else self.heading_for()
            self.choose(choice["choice"], "moved")
        elif what == "moved ends":
            if choice["recall"] is not None:
                self.choose(choice["recall"], "moved ended")
        else:
            self.choose(choice, "operator choice")

    def heading_for(self):
        if self.pending is not None:
            return self.pending
        return self.fed if self.to is None else self.to

    def choose(self, j, rule):
        if self.locked:
            self.rules["operator without effect: locked"] += 1
            return
        self.rules[rule] += 1
        self.rules["pending choice"] += self.to is not None
        self.pending = j

    def lock(self):
        self.rules["locked"] += not self.locked
        self.rules["locked while switching"] += self.to is not None
        self.locked = True
        self.waited, self.expired, self.pending, self.failed = None, False, None, False

    def unlock(self):
        if self.locked:
            self.rules["unlocked"] += 1
            self.locked = False
            self.restart_restores()

    def restart_restores(self):
        self.acceptable_for = [0 if yes else None for yes in self.acceptable]

    def end_switching(self):
        """Step 1."""
        if self.to is None:
            return
        self.left -= 1
        if self.left > 0:
            return
        self.fed, self.to = self.to, None
        self.rules["switched onto a lost input"] += not self.acceptable[self.fed]
        if self.by_operator:
            self.restart_restores()

    def begin_choice(self):
        """Step 5."""
        j, self.pending = self.pending, None
        self.rules["choice ended a failure"] += self.failed
        self.failed, self.waited, self.expired = False, None, False
        if j == self.fed:
            self.rules["choice of what it is on"] += 1
            self.restart_restores()
        else:
            self.go_to(j, True)
            if self.to is None:
                self.restart_restores()

    def go_to(self, j, by_operator):
        self.waited, self.expired, self.by_operator = None, False, by_operator
        self.rules["switched"] += 1
        if self.switch == 0:
            self.rules["switch of 0"] += 1
            self.fed = j
        else:
            self.to, self.left = j, self.switch

    def moves_at_once(self):
        """Steps 2 and 3, once; true if a switch of 0 has moved it: they are worked out again."""
        was = self.fed
        if self.may_move():
            self.look_after_loss()
        if self.may_move() and self.restore == "revertive":
            self.look_for_better()
        return self.fed != was

    def may_move(self):
        return self.to is None and self.automatic() and not self.failed

    def look_after_loss(self):
        """Step 2."""
        if self.acceptable[self.fed]:
            self.rules["recovered during wait"] += self.waited is not None
            self.rules["recovered as the wait ended"] += (self.waited or 0) >= max(self.wait, 1)
            self.rules["stayed on i after expiry"] += self.expired
            self.waited, self.expired = None, False
            return
        if self.waited is None and not self.expired:
            self.rules["wait began"] += 1
            self.waited = 0
        if self.waited is not None and self.waited >= self.wait:
            self.rules["expired with none"] += self.first_acceptable() is None
            self.waited, self.expired = None, True
        if self.expired and self.first_acceptable() is not None:
            self.demand(self.first_acceptable())

    def look_for_better(self):
        """Step 3."""
        for k in range(self.fed):
            ticks = self.acceptable_for[k]
            if ticks is not None and ticks >= self.wait_to_restore:
                self.rules["restored"] += 1
                self.demand(k)
                return

    def demand(self, j):
        """Step 4."""
        if self.fails:
            self.rules["changeover failed"] += 1
            self.failed, self.waited, self.expired = True, None, False
        else:
            self.go_to(j, False)
