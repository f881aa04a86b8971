"""Random small rigs with random scripts, drawn over every rule and mode of the model.

In: a `random.Random` (seeded, or one that Hypothesis holds and shrinks). Out: a small `Rig`
built straight from the dataclasses, and a `Script`. Every time is a whole number
of `TICK` flicks; small integers on purpose, so that many things fall on the same instant.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from hypothesis import strategies as st

from sim.faults import Script
from sim.rig.topology import (
    ALL,
    NOTHING,
    ON_LOSS,
    PASSING,
    RESTORES,
    Cabinet,
    Carrier,
    Cell,
    Display,
    Emit,
    Gate,
    Group,
    Layer,
    Merge,
    Node,
    Pass,
    Placement,
    Rig,
    Select,
    Selector,
    Sync,
    Thing,
)
from sim.timebase import FOREVER, fixed
from tests.rig_scripts import ARRANGEMENTS, TICK, Scripter

FRAME = 4 * TICK
RESTORE_WEIGHTS = (5, 3, 1, 1)
RECTANGLES = ((0, 0, 8, 8), (0, 0, 4, 8), (2, 2, 4, 4))


def seeded(seed: int) -> tuple[Rig, Script]:
    """The rig and script of one seed: the same ones each time."""
    return draw_case(Random(seed))


def draw_case(rng: Random) -> tuple[Rig, Script]:
    rig = Builder(rng).build()
    return rig, Scripter(rng, rig).script()


def cases() -> st.SearchStrategy[tuple[Rig, Script]]:
    """The same for Hypothesis, which shrinks what it draws."""
    return st.randoms(use_true_random=False).map(draw_case)


class Builder:
    """Draws one rig, from the mains to the cells."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.things: dict[str, Thing] = {}
        self.nodes: dict[str, Node] = {}
        self.timings: dict[str, int] = {}
        self.cabinets: dict[str, Cabinet] = {}
        self.carriers: list[str] = []
        self.alike = self.chance(0.4)  # things of one type share their timings
        self.receiver_types: dict[int, tuple[Selector, str]] = {}
        self.circuits: list[str] = []

    def build(self) -> Rig:
        self.draw_circuits()
        self.draw_heads()
        self.draw_processors()
        feeds = self.draw_middle()
        groups = {"wall": self.draw_group("wall", feeds)}
        if self.chance(0.1):
            groups["side"] = self.draw_group("side", feeds)
        return Rig(
            frame=FRAME,
            length=self.rng.randint(48, 74) * TICK,
            things=self.things,
            nodes=self.nodes,
            cabinets=self.cabinets,
            groups=groups,
            timings={key: fixed(flicks) for key, flicks in self.timings.items()},
        )

    # ---- small draws --------------------------------------------------------------------------

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def key(self, what: str, most: int = 8, zero: float = 0.25, ever: float = 0.0) -> str:
        """A new timing key for 0..most ticks or for ever; "" for some of the zeros."""
        if self.chance(zero):
            return ""
        known = [key for key in self.timings if key.rsplit(" ", 1)[0] == what]
        if self.alike and known and self.chance(0.7):
            return known[-1]
        key = f"{what} {len(self.timings)}"
        ticks = self.rng.randint(0, most) * TICK
        self.timings[key] = FOREVER if self.chance(ever) else ticks
        return key

    def thing(self, name: str, family: str, powered_by: tuple[str, ...] | None = None) -> str:
        power = self.feeds_of_power() if powered_by is None else powered_by
        start = self.key("start", 5, 0.35)
        margin = self.rng.choice((0, 1000, 1500)) if family == "fibre" else 0
        self.things[name] = Thing(name, family, start=start, powered_by=power, margin=margin)
        return name

    def feeds_of_power(self) -> tuple[str, ...]:
        many = self.rng.choice((0, 0, 1, 1, 2))
        return tuple(self.rng.sample(self.circuits, min(many, len(self.circuits))))

    def selector(self, name: str, inputs: int, accepts: tuple[int, ...] = (0,)) -> Selector:
        restore = self.rng.choices(RESTORES, RESTORE_WEIGHTS)[0]
        return Selector(
            name=f"choice of {name}",
            detect=self.key("detect", 4),
            hold_off=self.key("hold-off", 3, 0.6),
            switch=self.key("switch", 4, 0.2),
            wait_to_restore=self.key("restore", 6),
            accepts_above=self.rng.choice(accepts),
            restore=restore,
            locked_on=self.rng.randrange(inputs) if restore == "locked" else 0,
        )

    def put(self, node: Node) -> str:
        self.nodes[node.name] = node
        return node.name

    def passing(self, name: str, thing: str, source: str, feels: frozenset[str] = ALL) -> str:
        return self.put(Pass(name=name, thing=thing, inputs=(source,), feels=feels))

    # ---- power, sources, processors -----------------------------------------------------------

    def draw_circuits(self) -> None:
        for number in range(self.rng.randint(1, 2)):
            name = f"circuit {number}"
            above = tuple(self.circuits) if self.chance(0.15) else ()
            self.things[name] = Thing(
                name,
                "circuit",
                powered_by=above,
                hold_up=self.key("hold-up", 6, 0.4, 0.05),
                start=self.key("start", 2, 0.75),
            )
            self.circuits.append(name)

    def draw_heads(self) -> None:
        self.references = []
        for number in range(self.rng.choice((0, 1, 1, 2))):
            thing = self.thing(f"reference {number}", "reference")
            self.references.append(self.put(Emit(name=f"beat {number}", thing=thing)))
        self.sources = []
        for number in range(self.rng.randint(1, 3)):
            thing = self.thing(f"source {number}", "source")
            frame = self.rng.randint(2, 5) * TICK
            node = self.put(Emit(name=f"picture {number}", thing=thing, frame=frame))
            if self.chance(0.2):
                node = self.passing(
                    f"split {number}", self.thing(f"splitter {number}", "distributor"), node
                )
            self.sources.append(node)
            if self.chance(0.15):  # a picture that comes over two links
                other = Emit(name=f"picture {number} again", thing=thing, frame=frame)
                self.sources.append(self.put(other))

    def draw_processors(self) -> None:
        names = [f"L{n}" for n in range(self.rng.choice((1, 2, 2, 3)))]
        self.layer_names = names
        sources = self.sources
        for number in range(self.rng.choice((1, 1, 2))):
            thing = self.thing(f"processor {number}", "processor")
            if number and self.chance(0.4):
                feels = self.rng.choice((NOTHING, PASSING, ALL))
                sources = [self.passing(f"loop {s}", "processor 0", s, feels) for s in self.sources]
            self.draw_processor(number, thing, names, sources)

    def draw_processor(self, number: int, thing: str, names: list[str], sources: list[str]) -> None:
        layers = tuple(self.draw_layer(number, thing, name, sources) for name in names)
        sync = self.draw_sync(number, thing) if self.references and self.chance(0.75) else ""
        self.carriers.append(
            self.put(
                Carrier(
                    name=f"carrier {number}",
                    thing=thing,
                    sync=sync,
                    layers=layers,
                    arrangement="second" if self.chance(0.12) else "first",
                )
            )
        )

    def draw_layer(self, number: int, thing: str, layer: str, sources: list[str]) -> str:
        inputs = tuple(self.rng.sample(sources, self.rng.randint(1, len(sources))))
        name = f"layer {number} {layer}"
        caps = tuple(self.rng.choice((6, 6, 3, 4)) if k else 6 for k in range(len(inputs)))
        return self.put(
            Layer(
                name=name,
                thing=thing,
                inputs=inputs,
                feels=NOTHING,
                selector=self.selector(name, len(inputs), (0, 0, 0, 1, 2, 3, 4)),
                layer=layer,
                on_loss=self.rng.choice(ON_LOSS),
                caps=self.rng.choice(((), caps)),
            )
        )

    def draw_sync(self, number: int, thing: str) -> str:
        references = list(self.references)
        self.rng.shuffle(references)
        inputs = tuple(references[: self.rng.randint(1, len(references))])
        name = f"sync {number}"
        return self.put(
            Sync(
                name=name,
                thing=thing,
                inputs=inputs,
                feels=NOTHING,
                selector=self.selector(name, len(inputs)),
                holdover=self.key("holdover", 6, 0.15, 0.1),
                relock=self.key("relock", 5),
                relock_glitch=self.key("glitch", 3),
            )
        )

    # ---- ports, trunks, relays, seamless pairs --------------------------------------------------

    def draw_middle(self) -> list[str]:
        """Nodes that a chain can be fed from."""
        ends = [self.port(f"out {number}", carrier) for number, carrier in enumerate(self.carriers)]
        if len(ends) < 2:
            ends.append(self.port("out spare", self.carriers[0]))
        ends = [
            self.trunk(number, end) if self.chance(0.6) else end for number, end in enumerate(ends)
        ]
        if self.chance(0.25):
            ends.insert(0, self.merge(ends[0]))
        for number in range(self.rng.choice((0, 1, 1, 2))):
            ends.insert(0, self.relay(number, ends))
        return ends

    def port(self, name: str, source: str) -> str:
        above = (self.nodes[source].thing,) if self.chance(0.5) else ()
        return self.passing(f"{name} fwd", self.thing(name, "port", above), source)

    def trunk(self, number: int, source: str) -> str:
        family = self.rng.choice(("fibre", "fibre", "copper"))
        return self.passing(
            f"trunk {number} fwd", self.thing(f"trunk {number}", family, ()), source
        )

    def merge(self, source: str) -> str:
        legs = tuple(
            self.passing(f"leg {side} fwd", self.thing(f"leg {side}", "fibre", ()), source)
            for side in "ab"
        )
        return self.put(Merge(name="pair", thing=self.thing("joiner", "relay"), inputs=legs))

    def relay(self, number: int, ends: list[str]) -> str:
        inputs = tuple(self.rng.sample(ends, self.rng.randint(1, min(3, len(ends)))))
        name = f"relay {number}"
        selector = self.selector(name, len(inputs), (0, 0, 1, 2, 3, 4))
        thing = self.thing(name, "relay")
        return self.put(Select(name=f"{name} out", thing=thing, inputs=inputs, selector=selector))

    # ---- walls ----------------------------------------------------------------------------------

    def draw_group(self, group: str, feeds: list[str]) -> Group:
        rows = self.rng.choice((1, 1, 1, 2))
        many = self.rng.choice((1, 2, 2, 3, 4)) if rows == 1 else self.rng.choice((1, 2))
        for row in range(rows):
            self.draw_row(group, row, many, feeds)
        return self.draw_cells(group, rows, many)

    def draw_row(self, group: str, row: int, many: int, feeds: list[str]) -> None:
        """A row of cabinets on one chain, or on two with a second card in each cabinet."""
        name = f"{group} {row}"
        supplies = self.draw_supplies(name, many)
        chains = [self.draw_chain(f"{name} a", feeds, supplies)]
        if many < 4 and self.chance(0.3):
            chains.append(self.draw_chain(f"{name} b", feeds[::-1], supplies))
        for column in range(many):
            cards = tuple(chain[column] for chain in chains)
            cabinet = Cabinet(f"{name} {column}", group, group, row, column, cards)
            self.cabinets[cabinet.name] = cabinet

    def draw_supplies(self, group: str, many: int) -> list[tuple[str, ...]]:
        """What powers the receivers of each cabinet: a supply on a power chain, or on circuits."""
        if self.chance(0.4):
            return [()] * many
        chained = self.chance(0.5)
        above: tuple[str, ...] = (self.rng.choice(self.circuits),)
        supplies: list[tuple[str, ...]] = []
        for column in range(many):
            if chained:
                above = (self.thing(f"{group} power jumper {column}", "power-jumper", above),)
            feeds = above if chained else self.feeds_of_power()
            supplies.append((self.thing(f"{group} supply {column}", "supply", feeds),))
        return supplies

    def draw_chain(
        self, chain: str, feeds: list[str], supplies: list[tuple[str, ...]]
    ) -> list[str]:
        """The displays of a chain, with the receivers and jumpers that feed them."""
        receivers = [
            self.thing(f"{chain} receiver {n}", "receiver", s) for n, s in enumerate(supplies)
        ]
        jumpers = [
            self.thing(f"{chain} jumper {n}", "jumper", ()) for n in range(len(receivers) + 1)
        ]
        forward = self.run(chain, "fwd", self.rng.choice(feeds[:2]), receivers, jumpers[:-1])
        kind = self.rng.choice(("open", "standing", "gated"))
        if kind == "open":
            return [self.display(r, (f,)) for r, f in zip(receivers, forward, strict=True)]
        back = self.back(chain, kind, self.rng.choice(feeds[:3]), forward[-1], jumpers[-1])
        returned = self.run(chain, "ret", back, receivers[::-1], jumpers[:0:-1])[::-1]
        return [self.display(*it) for it in zip(receivers, zip(forward, returned), strict=True)]  # noqa: B905

    def run(
        self, chain: str, way: str, start: str, receivers: list[str], jumpers: list[str]
    ) -> list[str]:
        """Pass nodes from `start` through each jumper into its receiver."""
        out = []
        for jumper, receiver in zip(jumpers, receivers, strict=True):
            start = self.passing(f"{jumper} {way}", jumper, start)
            start = self.passing(f"{receiver} {way}", receiver, start, PASSING)
            out.append(start)
        return out

    def back(self, chain: str, kind: str, source: str, last: str, jumper: str) -> str:
        """What feeds the tail: a port, gated or not; the last jumper also brings `last` there."""
        port = self.port(f"{chain} tail port", source)
        if kind == "standing":
            return port
        watch = self.passing(f"{jumper} fwd", jumper, last)
        return self.put(
            Gate(
                name=f"{chain} gate",
                thing=self.nodes[source].thing,
                inputs=(port,),
                watch=watch,
                notice=self.key("notice", 5),
                wait_to_restore=self.key("gate restore", 5),
            )
        )

    def display(self, receiver: str, inputs: tuple[str, ...]) -> str:
        selector = self.selector(receiver, len(inputs), (0, 0, 0, 1, 2, 3))
        keeps = self.key("keeps", 8, 0.3, 0.15)
        if self.alike:
            kind, keeps = self.receiver_types.setdefault(len(inputs), (selector, keeps))
            selector = replace(kind, name=selector.name)
        return self.put(
            Display(name=f"{receiver} shows", thing=receiver, inputs=inputs,
                    selector=selector, keeps_last=keeps)
        )  # fmt: skip

    def draw_cells(self, group: str, rows: int, many: int) -> Group:
        stacks = tuple(self.draw_stack() for _ in range(self.rng.randint(1, 3)))
        cells = tuple(
            Cell(c.name, 8 * c.column + 2 * k, 8 * c.row, 2, 8, self.rng.randrange(len(stacks)))
            for c in self.cabinets.values()
            if c.group == group
            for k in range(self.rng.randint(1, 3))
        )
        return Group(
            name=group,
            topology="drawn",
            walls={group: (rows, many, 8, 8)},
            arrangements=ARRANGEMENTS if self.chance(0.9) else ARRANGEMENTS[::-1],
            stacks=stacks,
            cells=cells,
            carriers=tuple(self.carriers if self.chance(0.8) else self.carriers[:1]),
        )

    def draw_stack(self) -> dict[str, tuple[Placement, ...]]:
        rectangle = dict.fromkeys(self.layer_names, RECTANGLES[0])
        stack = {}
        for arrangement in ARRANGEMENTS:
            over = [name for name in self.layer_names if self.chance(0.75)]
            self.rng.shuffle(over)
            for name in over:
                if self.chance(0.3):
                    rectangle[name] = self.rng.choice(RECTANGLES)
            stack[arrangement] = tuple(Placement(name, *rectangle[name]) for name in over)
        return stack
