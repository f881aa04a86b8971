"""What can be pulled, switched off or chosen by hand to try a protection, and what that does.

In: a frozen `Rig`. Out: frozen `Pull`s; the trace of one, with timings of one's choice (flicks).
Hold-ups count as endless here, as a pull ends before a battery does; what is switched off at the
output of its battery falls at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from sim.engine.live import Live
from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.wiring import Wiring, wire
from sim.faults import Action, Fault, Script
from sim.practice.protections import Protection, Seen, acted, protections, seen
from sim.rig.topology import Rig, Thing, corner, selectors
from sim.timebase import FLICKS, FOREVER

UNPLUG, OFF, OUTPUT, RESTART, CHOOSE = (
    "unplug", "switch off", "switch off the output of", "restart", "choose by hand",
)  # fmt: skip
HORIZON = 7200 * FLICKS
"""Flicks that a pull is played for: all that starts or waits has ended by then."""
RANKS: Mapping[str, int] = {
    "copper": 1, "fibre": 2, "source": 3, "reference": 3, "distributor": 4, "relay": 4,
    "processor": 4, "jumper": 6, "circuit": 7, "receiver": 8, "supply": 8, "power-jumper": 8,
}  # fmt: skip
"""How much each kind asks of the hands that do it, the least first: power and height last."""
CABLE_MODES = {"copper": "cut", "fibre": "cut", "jumper": "dead", "power-jumper": "dead"}
RESTARTED = ("relay", "processor")


@dataclass(frozen=True, slots=True)
class Pull:
    """`do` and the thing (or, chosen by hand, the unit) that it is done to, by name; `choices`:
    selectors and inputs (numbers from 0) that are chosen; `rank` as in `RANKS`; `flat`: the key of
    a hold-up that does not help; `ends`: of itself.
    """

    do: str
    on: str
    mode: str = ""
    rank: int = 0
    choices: tuple[tuple[str, int], ...] = ()
    flat: str = ""

    @property
    def ends(self) -> bool:
        return self.do == RESTART

    @property
    def name(self) -> str:
        return f"{self.do} {self.on}"

    def script(self, until: int | None) -> Script:
        """What happens from time 0 on, put back at a flick (None: never)."""
        if self.choices:
            acts = [Action(0, "choose", name, choice) for name, choice in self.choices]
            back = [Action(until, "choose", name, 0) for name, _ in self.choices] if until else []
            return Script(actions=(*acts, *back))
        return Script((Fault(self.on, self.mode, 0, None if self.ends else until),))


def pulls(rig: Rig) -> tuple[Pull, ...]:
    """Everything that one person can pull, switch or choose at one place."""
    of_things = (pull for thing in rig.things.values() for pull in _of(rig, thing))
    return (*of_things, *_by_hand(rig))


def _of(rig: Rig, thing: Thing) -> Iterator[Pull]:
    family, name = thing.family, thing.name
    rank = RANKS.get(family, 0)
    if family in CABLE_MODES:
        yield Pull(UNPLUG, name, CABLE_MODES[family], rank)
    elif family == "circuit":
        held = bool(thing.hold_up and rig.timings[thing.hold_up].most)
        flat = thing.hold_up if held else ""
        yield Pull(OUTPUT if held else OFF, name, "tripped", rank, flat=flat)
        if held and not thing.powered_by:
            yield Pull(OFF, name, "tripped", rank)
    elif rank and family != "port":
        if family in RESTARTED:
            yield Pull(RESTART, name, "restart", rank)
        yield Pull(OFF, name, "dead", rank)


def _by_hand(rig: Rig) -> Iterator[Pull]:
    """For each unit and input number: all its by-hand selectors that have that input."""
    found: dict[tuple[str, int], list[str]] = {}
    for selector, node in selectors(rig):
        if selector.restore == "by-hand":
            for number in range(1, len(node.inputs)):
                found.setdefault((node.thing, number), []).append(selector.name)
    for (thing, number), names in found.items():
        yield Pull(
            f"{CHOOSE} input {number + 1} of", thing, choices=tuple((n, number) for n in names)
        )


@dataclass
class Bench:
    """A rig on which pull after pull is tried, each from everything as it should be."""

    rig: Rig
    wiring: Wiring = field(init=False)
    base: Base = field(init=False)
    protections: tuple[Protection, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.wiring = wire(self.rig)
        self.base = Base(self.wiring, corner(self.rig, "typical"))
        self.protections = protections(self.rig)

    def values(self, pull: Pull, given: Mapping[str, int]) -> dict[str, int]:
        """Timings with which a pull is played: hold-ups without end, one that is cut off none."""
        held = {thing.hold_up for thing in self.rig.things.values() if thing.hold_up}
        endless = {key: FOREVER for key in held if self.rig.timings[key].most}
        return {**given, **endless, **({pull.flat: 0} if pull.flat else {})}

    def play(self, pull: Pull, given: Mapping[str, int], until: int | None = None) -> Trace:
        """The run of a pull, put back at a flick (None: never)."""
        values = self.values(pull, given)
        return run(self.base.at(values), pull.script(until), values, HORIZON)

    def acts(self, pull: Pull, which: str = "typical") -> frozenset[Protection]:
        """The protections that a pull makes act, all timings at one corner."""
        told = self.told(pull, self.play(pull, corner(self.rig, which)))
        return frozenset(p for p in self.protections if acted(self.rig, p, told))

    def told(self, pull: Pull, trace: Trace) -> Seen:
        """What the run of a pull tells."""
        names = [node.name for node in self.wiring.nodes]
        unfed = (pull.on,) if pull.mode == "tripped" and not pull.flat else ()
        return seen(trace, names, unfed)

    def held(self, pull: Pull) -> Live:
        """The rig as it stands while something stays pulled (what restarts: stays off)."""
        off = Pull(OFF, pull.on, "dead", flat=pull.flat) if pull.ends else pull
        values = self.values(pull, corner(self.rig, "typical"))
        live = Live(self.base.at(values), off.script(None), HORIZON)
        live.go(HORIZON - 1)
        return live
