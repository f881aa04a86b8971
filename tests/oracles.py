"""A second simulator, slow and obvious, to hold the engine against. It shares no code with `sim/`.

In: the audit dict of a rig (plain JSON values), a script as plain dicts, {timing key: flicks},
the tick in flicks (every time in rig and script is a whole number of ticks) and the end in
flicks. Out: for each cell, keyed (group, number), its quality 0..6 on each tick interval
[n, n+1), and a Counter of how often each rule was exercised.

Each tick is one instant: script events, things, nodes from source to receiver, kept pictures
that run out, cabinets. The rules R1..R16 are those in DEVELOPERS.md, "The rules made exact".
All times inside are ticks; counters count ticks that have passed.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from tests.oracle_choosers import ABSENT, EVER, Chooser
from tests.oracle_nodes import GOOD, LEFT_OUT, NOTHING, WRONG, Nodes
from tests.oracle_things import Life, Things

STATES = ("dark", "dark", "corrupt", "wrong", "frozen", "unlocked", "lit")
FOR_EVER = 1 << 60


@dataclass
class Result:
    """What every cell was, tick by tick, and how often each rule was exercised."""

    lines: dict[tuple[str, int], list[int]]
    rules: Counter
    nodes: list[dict[str, tuple]] = field(default_factory=list)


def simulate(audit, script, values, tick, end, remember=False) -> Result:
    """Step the rig from 0 to `end` (flicks); with `remember` the nodes' values are kept too."""
    world = World(audit, script, values, tick)
    return world.run(world.ticks(end), remember)


def frame_states(line, frame, length) -> list[str]:
    """R15: the states of the whole frames of a cell. `frame` and `length` in ticks."""
    states = []
    for k in range(length // frame):
        worst = min(line[k * frame : (k + 1) * frame])
        states.append(STATES[worst])
    return states


class World(Things, Nodes):
    """The whole rig and what it is doing."""

    def __init__(self, audit, script, values, tick):
        graph = audit["graph"]
        self.tick = tick
        self.values = {key: self.ticks(flicks) for key, flicks in values.items()}
        self.rules = Counter()
        self.things = {thing["name"]: thing for thing in graph["things"]}
        self.nodes = {node["id"]: node for node in audit["nodes"]}
        self.cabinets = {cabinet["name"]: cabinet for cabinet in graph["cabinets"]}
        self.groups = {group["name"]: group for group in graph["groups"]}
        self.thing_order = in_order({name: t["powered_by"] for name, t in self.things.items()})
        self.node_order = in_order({name: self.read_by(node) for name, node in self.nodes.items()})
        self.node_rules = [
            (node, getattr(self, "raw_" + node["kind"]))
            for node in map(self.nodes.get, self.node_order)
        ]
        self.read_script(script)
        self.life = {name: Life() for name in self.things}
        self.choosers = {
            name: Chooser(node["selector"], len(node["inputs"]), self.time, self.rules,
                          node["selector"]["name"] in script["failing"])
            for name, node in self.nodes.items() if "selector" in node
        }  # fmt: skip
        self.choosers_above = {name: self.above(name) for name in self.choosers}
        self.carriers = {
            name: node for name, node in self.nodes.items() if node["kind"] == "carrier"
        }
        self.arrangement = {name: node["arrangement"] for name, node in self.carriers.items()}
        self.intended = {name: group["arrangements"][0] for name, group in self.groups.items()}
        self.value = dict.fromkeys(self.nodes, NOTHING)  # what each node sends
        self.kept = {}  # of stuck nodes: what they send instead
        self.layer_kept = {}  # of layers that freeze on loss, while they do
        self.gate = {
            name: [False, None] for name, node in self.nodes.items() if node["kind"] == "gate"
        }
        self.sync = {}  # name: [state, ticks in it], only while its thing is up
        self.last = {}  # of displays: [kept picture, ticks left]
        self.before = self.value
        self.shown = dict.fromkeys(
            self.nodes, NOTHING
        )  # what displays show, kept pictures included
        self.turned_true = {}

    def read_by(self, node):
        """All nodes that this one looks at."""
        reads = list(node["inputs"]) + list(node.get("layers", []))
        reads += [node["sync"]] if node.get("sync") else []
        return reads + ([node["watch"]] if "watch" in node else [])

    def above(self, name):
        """The selectors between a node and the sources, for the count of nested ones."""
        found = set()
        for other in self.read_by(self.nodes[name]):
            found |= self.above(other) | ({other} & set(self.choosers))
        return found

    def ticks(self, flicks):
        if flicks is None or flicks >= FOR_EVER:
            return EVER
        if flicks % self.tick:
            raise ValueError(f"{flicks} flicks is no whole number of ticks")
        return flicks // self.tick

    def time(self, key):
        return self.values[key] if key else 0

    def read_script(self, script):
        self.faults = [dict(fault) for fault in script["faults"]]
        for fault in self.faults:
            fault["at"], fault["until"] = self.ticks(fault["at"]), self.ticks(fault["until"])
            fault["period"], fault["off"] = self.ticks(fault["period"]), self.ticks(fault["off"])
            fault["ended"] = False
            fault["recall"] = None
        self.actions = [{**action, "at": self.ticks(action["at"])} for action in script["actions"]]

    def run(self, end, remember):
        result = Result({}, self.rules)
        self.settle()
        for n in range(end):
            self.step(n)
            if remember:
                result.nodes.append(dict(self.value))
            for key, quality in self.cell_qualities():
                result.lines.setdefault(key, []).append(quality)
        return result

    def turned(self, rule, key, holds):
        """Count a rule each time that what it is about turns true."""
        if holds and not self.turned_true.get((rule, key)):
            self.rules[rule] += 1
        self.turned_true[rule, key] = holds

    # ---- one instant ------------------------------------------------------------------------

    def settle(self):
        """R5: the state just before time 0."""
        self.n = -1
        self.settling = True
        self.events = {}
        self.work_out()
        self.settling = False

    def step(self, n):
        self.n = n
        self.before = dict(self.value)
        self.shown_before = dict(self.shown)
        self.arrangement_before = dict(self.arrangement)
        self.script_events()
        self.work_out()

    def work_out(self):
        self.in_force = {}
        for fault in self.faults:
            if fault["at"] <= self.n < fault["until"] and not fault["ended"]:
                self.in_force.setdefault(fault["thing"], []).append(fault)
        for name in self.thing_order:
            self.thing_step(name)
        for node, rule in self.node_rules:
            self.node_step(node, rule)
        self.run_out()

    def script_events(self):
        """R2, as far as choices go; faults that simply hold are looked up by `in_force`."""
        self.events = {}
        for fault in self.faults:
            if fault["mode"] == "moved" and fault["until"] == self.n:
                self.moved(fault, "moved ends")
        for fault in self.faults:
            if fault["mode"] == "moved" and fault["at"] == self.n:
                self.moved(fault, "moved")
        for action in self.actions:
            if action["at"] == self.n:
                self.act(action)

    def moved(self, fault, what):
        if fault["thing"] not in self.things:
            self.events.setdefault(fault["thing"], []).append((what, fault))
        elif what == "moved":
            self.rules["moved arrangement"] += 1
            mine = [c for c, node in self.carriers.items() if node["thing"] == fault["thing"]]
            fault["recall"] = {carrier: self.arrangement[carrier] for carrier in mine}
            self.arrangement.update(dict.fromkeys(mine, fault["choice"]))
        else:
            self.rules["moved arrangement ended"] += 1
            self.arrangement.update(fault["recall"])

    def act(self, action):
        if action["do"] != "take":
            self.events.setdefault(action["on"], []).append((action["do"], action["choice"]))
            return
        self.rules["take"] += 1
        for carrier, node in self.carriers.items():
            if node["thing"] == action["on"]:
                self.arrangement[carrier] = action["choice"]
                for name, group in self.groups.items():
                    if carrier in group["carriers"]:
                        self.intended[name] = action["choice"]

    # ---- cabinets and cells ---------------------------------------------------------------------

    def on_cabinet(self, cabinet):
        """R13."""
        cards = cabinet["cards"]
        for card in cards:
            if self.value[card][0] > ABSENT:
                self.turned("second card shown", cabinet["name"], card != cards[0])
                return self.value[card]
        for card in cards:
            if card in self.last:
                self.turned("second card's kept shown", cabinet["name"], card != cards[0])
                return self.last[card][0]
        return NOTHING

    def cell_qualities(self):
        on = {name: self.on_cabinet(cabinet) for name, cabinet in self.cabinets.items()}
        for name, group in self.groups.items():
            for number, cell in enumerate(group["cells"]):
                stack = group["stacks"][cell["stack"]]
                yield (name, number), self.cell_quality(on[cell["cabinet"]], stack, name)

    def cell_quality(self, seen, stack, group):
        """R14."""
        quality, picture = seen
        if quality == ABSENT or picture is None:
            return ABSENT
        if isinstance(picture, str):
            arrangement = self.arrangement[picture]
            layers = {}
            for name in self.carriers[picture]["layers"]:
                layers[self.nodes[name]["layer"]] = self.value[name][0]
        else:
            arrangement, layers = picture
        wanted = stack[self.intended[group]][0] if stack[self.intended[group]] else None
        top, top_quality = None, GOOD
        for placement in stack[arrangement]:
            if layers[placement["layer"]] != LEFT_OUT:
                top, top_quality = placement, layers[placement["layer"]]
                break
        if top != wanted:
            self.rules["another layer than wanted (ticks)"] += 1
            top_quality = min(top_quality, WRONG)
        return min(quality, top_quality)


def in_order(reads: dict[str, list[str]]) -> list[str]:
    """Names so that each comes after all that it reads."""
    order: list[str] = []
    while len(order) < len(reads):
        ready = [n for n in reads if n not in order and all(other in order for other in reads[n])]
        if not ready:
            raise ValueError("the graph runs in a circle")
        order += ready
    return order
