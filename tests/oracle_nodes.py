"""R6, R7 and R9 to R12 for the oracle: what one node sends at one tick.

It shares no code with `sim/`.

In: a node as the audit dict describes it, and what the world of `oracles` knows at this
instant. Out: the node's value, (quality 0..6, picture), or for a layer (quality 0..7, None).
A picture is None, the name of a carrier (live), or (arrangement, {layer: quality}) (kept).
"""

from __future__ import annotations

from tests.oracle_choosers import ABSENT, EVER

BLACK, CORRUPT, WRONG, FROZEN, UNLOCKED, GOOD, LEFT_OUT = range(1, 8)
CAPS = {"blanked": BLACK, "corrupt": CORRUPT, "stale": WRONG, "unlocked": UNLOCKED}
ON_LOSS = {"black": BLACK, "card": WRONG, "uncovered": LEFT_OUT}
NOTHING = (ABSENT, None)


class Nodes:
    """The part of the world that works nodes out, each from its inputs of this same instant."""

    def node_step(self, node, rule):
        """R6: `rule` gives the raw value of a node of this kind."""
        up = self.life[node["thing"]].up
        raw = rule(node, up)
        if node["kind"] in ("sync", "layer"):
            self.value[node["id"]] = raw
            return
        self.value[node["id"]] = self.limited(node, raw, up)
        if node["kind"] == "display":
            self.keep_last(node, up)

    def limited(self, node, raw, up):
        """R6 and R7: what a node sends in place of its raw value, for its thing's health."""
        name, faults = node["id"], self.in_force.get(node["thing"], ())
        if not up:
            self.kept.pop(name, None)
            return NOTHING
        if not faults and node["kind"] != "emit":
            self.kept.pop(name, None)
            return raw if raw[0] > ABSENT else NOTHING
        faults = [fault for fault in faults if not fault["ended"]]
        modes = {fault["mode"] for fault in faults} & set(node["feels"])
        drops = self.drops(node)
        self.rules["stuck and drops at once (ticks)"] += drops and "stuck" in modes
        if "stuck" in modes or drops:
            if name not in self.kept:
                self.kept[name] = self.kept_now(node)
            raw = self.kept[name]
        else:
            self.kept.pop(name, None)
        if self.dimmed(node, faults):
            modes.add("corrupt")
        quality = min([raw[0], *(CAPS[mode] for mode in modes if mode in CAPS)])
        return (quality, raw[1]) if quality > ABSENT else NOTHING

    def drops(self, node):
        if node["kind"] != "emit" or not node["frame"]:
            return False
        frame = self.ticks(node["frame"])
        for fault in self.faults:
            mine = fault["mode"] == "drops" and fault["thing"] == node["thing"]
            if mine and fault["at"] <= self.n < (fault["at"] // frame + fault["frames"]) * frame:
                self.rules["drops (ticks)"] += 1
                return True
        return False

    def dimmed(self, node, faults):
        if "corrupt" not in node["feels"]:
            return False
        loss = sum(fault["loss"] for fault in faults if fault["mode"] == "attenuated")
        dim = loss > self.things[node["thing"]]["margin"]
        if loss:
            self.turned("attenuated corrupt", node["id"], dim)
        return dim

    def kept_now(self, node):
        """R7: what a node that becomes stuck at this instant sends from now on."""
        if self.settling:
            self.rules["stuck before time 0"] += 1
            return NOTHING
        display = node["kind"] == "display"
        sent = (self.shown_before if display else self.before)[node["id"]]
        self.rules["stuck display" if display else "stuck began"] += 1
        self.rules["stuck began with absent"] += sent[0] == ABSENT
        self.rules["stuck black kept"] += sent[0] == BLACK
        self.rules["stuck carrier"] += node["kind"] == "carrier"
        shows_kept = display and sent != self.before[node["id"]]
        self.rules["stuck display while keeping a picture"] += shows_kept
        return self.made_kept(sent)

    def made_kept(self, sent):
        """The still picture that is left of a value sent just before this instant."""
        quality, picture = sent
        if quality == ABSENT:
            return NOTHING
        if isinstance(picture, str):
            layers = {}
            for name in self.carriers[picture]["layers"]:
                was = self.before[name][0]
                self.rules["kept without a layer left out"] += was == LEFT_OUT
                layers[self.nodes[name]["layer"]] = (
                    LEFT_OUT if was == LEFT_OUT else min(was, FROZEN)
                )
            picture = (self.arrangement_before[picture], layers)
        return (min(quality, FROZEN), picture)

    def raw_emit(self, node, up):
        return (GOOD, None)

    def raw_pass(self, node, up):
        return self.value[node["inputs"][0]]

    def raw_select(self, node, up):
        fed = self.chosen(node, up, [self.value[i][0] for i in node["inputs"]])
        return NOTHING if fed is None else self.value[node["inputs"][fed]]

    raw_display = raw_select

    def chosen(self, node, up, qualities):
        """R8: the number of the input that a selector feeds now, or None."""
        chooser = self.choosers[node["id"]]
        if self.settling:
            return chooser.settle(up, qualities)
        fed = chooser.step(up, qualities, self.events.get(chooser.name, ()))
        if chooser.busy():
            nested = any(self.choosers[name].busy() for name in self.choosers_above[node["id"]])
            self.turned("nested selectors both busy", node["id"], nested)
        return fed

    def raw_merge(self, node, up):
        first, second = (self.value[leg] for leg in node["inputs"])
        took = first[0] == ABSENT and second[0] > ABSENT
        self.turned("merge took second leg", node["id"], took)
        return first if first[0] > ABSENT else second

    def raw_gate(self, node, up):
        """R11: [is it open, ticks for which its one timer has run]."""
        state, reached = self.gate[node["id"]], self.value[node["watch"]][0] > ABSENT
        if not up:
            self.gate[node["id"]] = [False, None]
            return NOTHING
        if self.settling:
            state[:] = [not reached, None]
        elif reached != state[0]:
            if state[1] is not None:
                self.rules["gate restore broken" if state[0] else "gate notice broken"] += 1
            state[1] = None
        else:
            state[1] = 0 if state[1] is None else state[1] + 1
            if state[1] >= self.time(node["wait_to_restore" if state[0] else "notice"]):
                self.rules["gate closed" if state[0] else "gate opened"] += 1
                state[:] = [not state[0], None]
        return self.value[node["inputs"][0]] if state[0] else NOTHING

    def raw_sync(self, node, up):
        """R9: the state goes on until it stands still."""
        name = node["id"]
        fed = self.chosen(node, up, [self.value[i][0] for i in node["inputs"]])
        present = fed is not None and self.value[node["inputs"][fed]][0] > ABSENT
        if not up:
            self.sync.pop(name, None)
            return NOTHING
        if name not in self.sync:
            self.sync[name] = ["locked" if present else "unlocked", 0]
            self.rules["unlocked at start"] += not present
        else:
            self.sync[name][1] += 1
        while self.sync_moves(node, self.sync[name], present):
            pass
        state = self.sync[name][0]
        if state == "glitch":
            return NOTHING
        return (GOOD if state in ("locked", "holdover") else UNLOCKED, None)

    def sync_moves(self, node, sync, present):
        state, ticks = sync
        to = None
        if state == "locked" and not present:
            to, rule = "holdover", "holdover began"
        elif state == "holdover" and present:
            to, rule = "locked", "holdover recovered"
            self.rules["holdover recovered as it ended"] += ticks >= self.time(node["holdover"])
        elif state == "holdover" and ticks >= self.time(node["holdover"]):
            to, rule = "unlocked", "holdover ended"
        elif state == "unlocked" and present:
            to, rule = "relocking", "relock began"
        elif state == "relocking" and not present:
            to, rule = "unlocked", "relock broken"
        elif state == "relocking" and ticks >= self.time(node["relock"]):
            to, rule = "glitch", "glitch"
        elif state == "glitch" and ticks >= self.time(node["relock_glitch"]):
            to = "locked" if present else "unlocked"
            rule = "glitch ended " + to
        if to is None:
            return False
        self.rules[rule] += 1
        sync[:] = [to, 0]
        return True

    def raw_layer(self, node, up):
        """R10: a layer's quality; LEFT_OUT is one of them."""
        name, qualities = node["id"], []
        for number, other in enumerate(node["inputs"]):
            cap = node["caps"][number] if node["caps"] else GOOD
            qualities.append(min(self.value[other][0], cap))
        fed = self.chosen(node, up, qualities)
        quality = ABSENT if fed is None else qualities[fed]
        lost = up and quality == ABSENT
        self.turned("layer " + node["on_loss"], name, lost)
        if up and quality > ABSENT:
            self.rules["layer caps (ticks)"] += quality < self.value[node["inputs"][fed]][0]
        if not lost:
            self.layer_kept.pop(name, None)
            return (quality if up else ABSENT, None)
        if node["on_loss"] != "frozen":
            return (ON_LOSS[node["on_loss"]], None)
        if name not in self.layer_kept:
            was = ABSENT if self.settling else self.before[name][0]
            self.layer_kept[name] = min(was, FROZEN)
        return (self.layer_kept[name], None)

    def raw_carrier(self, node, up):
        return (self.value[node["sync"]][0] if node["sync"] else GOOD, node["id"])

    def keep_last(self, node, up):
        name, out = node["id"], self.value[node["id"]]
        if not up or out[0] > ABSENT:
            self.last.pop(name, None)
        elif not self.settling and self.before[name][0] > ABSENT:
            keeps = self.time(node["keeps_last"])
            if keeps > 0:
                self.last[name] = [self.made_kept(self.before[name]), keeps]
                self.rules["kept picture began"] += 1
                self.rules["kept for ever"] += keeps == EVER
        elif name in self.last:
            self.last[name][1] -= 1

    def run_out(self):
        """R1 (d), and what each display then shows."""
        for name in [name for name, (_, left) in self.last.items() if left <= 0]:
            del self.last[name]
            self.rules["kept picture ran out"] += 1
        for name, node in self.nodes.items():
            if node["kind"] == "display":
                kept = self.last[name][0] if name in self.last else NOTHING
                self.shown[name] = self.value[name] if self.value[name][0] > ABSENT else kept
