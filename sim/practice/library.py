"""What each fault looks like to those who watch: worked out once, looked up afterwards.

In: a frozen `Rig`, faults, selectors that fail to change over. Out: frozen `Look`s. Worked out on
the part of the rig that can notice, with what is alike merged (`engine.symmetry`); all timings are
typical. Times are flicks.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sim.engine.run import Run
from sim.engine.settling import Base
from sim.engine.signal import Kept, Signal
from sim.engine.symmetry import Cone, Kinds, Reach, assemble, reach
from sim.engine.wiring import wire
from sim.faults import Fault, Script
from sim.practice.desk import Desk, Spot
from sim.practice.moments import (
    DOWN,
    OFF,
    UNLOCKED,
    Moment,
    Shown,
    Trouble,
    audible,
    lines_of,
    named,
    since,
    troubles_of,
)
from sim.practice.symptoms import LIT, Report, Symptoms, looked_at, looks, symptoms
from sim.rig.topology import Rig, Sync, corner
from sim.study.settled import what
from sim.timebase import FLICKS

Reports = tuple[Report, ...]
FLAPS_FOR = 300 * FLICKS
"""So long a loose contact is played: by then it does what it does (its period is seconds)."""


@dataclass(frozen=True, slots=True)
class Look:
    """What a fault comes to: what is seen at the end, and the spots that were not lit for a while
    before, and are lit again (`blinked`). `also`: of a loose contact, what is reported while it
    holds, if that is another thing (`shown` is while it does not): who asks twice may hear either.
    """

    shown: Symptoms
    blinked: frozenset[Spot]
    also: Reports = ()

    @property
    def unseen(self) -> bool:
        """Whether every wall was lit all the time."""
        return not self.shown.spots and not self.blinked

    @property
    def sign(self) -> Hashable:
        """Equal for what nobody can tell apart by watching, asking and waiting."""
        return (self.now, self.blinked)

    @property
    def now(self) -> Hashable:
        """The same for who did not watch before."""
        shown = self.shown
        alarms = tuple((alarm.name, alarm.trouble) for alarm in shown.alarms)
        return (frozenset(shown.spots.items()), shown.reports, alarms, self.also)


@dataclass(frozen=True, slots=True)
class _Kind:
    """What a run came to, by kind of cabinet, node and thing."""

    shown: Mapping[int, Sequence[tuple[int, Signal]]]
    pictures: Mapping[str, Sequence[tuple[int, Kept]]]
    wanted: Mapping[str, Sequence[tuple[int, str]]]
    silent: Mapping[int, int]
    down: Mapping[int, int]
    off: Mapping[int, int]
    own: Mapping[int, Mapping[str, int]]


class Library:
    """What faults of one rig look like; remembers what it has worked out."""

    def __init__(self, rig: Rig, desk: Desk) -> None:
        self.rig, self.desk = rig, desk
        self.wiring = wire(rig)
        self.base = Base(self.wiring, corner(rig, "typical"))
        self.kinds = Kinds(self.wiring, self.base.signals)
        self.known: dict[Hashable, _Kind] = {}
        self.looks: dict[Hashable, Look] = {}
        self.noticed: dict[tuple[str, ...], frozenset[int]] = {}
        board, wiring = self.base.board, self.wiring
        self.quiet: dict[str, list[tuple[int, Signal]]] = {
            name: [(0, (board.cabinet(wiring.cards_of[n])[0], self._carrier(n)))]
            for n, name in wiring.cabinets.items()
        }
        self.still = {wiring.nodes[n].name: [(0, board.picture(n))] for n in wiring.layers_of}

    def _carrier(self, cabinet: int) -> Any:
        return named(self.wiring, self.base.board.cabinet(self.wiring.cards_of[cabinet])[1])

    def look(
        self, faults: Sequence[Fault], failing: Sequence[str] = (), at: int | None = None
    ) -> Look:
        """What is seen at a flick (None: at the end of the show, when all has settled)."""
        at = self._when(faults) if at is None else at
        key = (tuple(faults), tuple(failing), at)
        if key not in self.looks:
            found = self.glance(faults, failing, at)
            also = self._also(faults, failing, at)
            self.looks[key] = replace(found, also=also if also != found.shown.reports else ())
        return self.looks[key]

    def glance(
        self, faults: Sequence[Fault], failing: Sequence[str] = (), at: int | None = None
    ) -> Look:
        """The same without what a loose contact has reported while it holds."""
        moment = self.moment(faults, failing, self._when(faults) if at is None else at)
        return Look(symptoms(self.desk, moment), blinked(moment))

    def _when(self, faults: Sequence[Fault]) -> int:
        end = self.rig.length - 1
        return min([end, *(f.at + FLAPS_FOR // f.period * f.period for f in _loose(faults))])

    def _also(self, faults: Sequence[Fault], failing: Sequence[str], at: int) -> Reports:
        """What is reported in the middle of the next time that a loose contact holds."""
        for fault in _loose(faults):
            begin = (at - fault.at) // fault.period * fault.period + fault.at
            later = begin + (fault.off + fault.period) // 2
            if at <= later < self.rig.length:
                return symptoms(self.desk, self.moment(faults, failing, later)).reports
        return ()

    def changes(self, faults: Sequence[Fault]) -> tuple[int, ...]:
        """The flicks at which any wall changes after these faults, 0 included; sorted."""
        end = self.rig.length - 1
        at = min(end, FLAPS_FOR) if _loose(faults) else end
        lines = self.moment(faults, (), at).lines.values()
        return tuple(sorted({0, *(start for line in lines for start, _ in line)}))

    def cabinets(self, struck: Sequence[str]) -> frozenset[str]:
        """The cabinets that can notice what happens to these things and selectors, or that show a
        picture of which it is a part.
        """
        part = reach(self.wiring, self.kinds, struck)
        of = self.wiring.layers_of.items()
        made = [c for c, layers in of if not part.nodes.keys().isdisjoint(layers)]
        if made:
            units = dict.fromkeys(self.wiring.nodes[carrier].thing for carrier in made)
            part = reach(self.wiring, self.kinds, (*struck, *units))
        return frozenset(self.wiring.cabinets[number] for number in part.cabinets)

    def notices(self, struck: tuple[str, ...]) -> frozenset[int]:
        """The numbers of the nodes that can notice what happens to these things and selectors."""
        if struck not in self.noticed:
            self.noticed[struck] = frozenset(reach(self.wiring, self.kinds, struck).nodes)
        return self.noticed[struck]

    def unit_of(self, kind: str, name: str) -> str:
        """The unit that reports this; "" for a link."""
        ports = {port.name: port.unit for port in self.desk.ports} if kind == "port" else {}
        inputs = {f"{i.name} of {i.unit}": i.unit for i in self.desk.inputs if i.kind == kind}
        return name if kind == "unit" else {**ports, **inputs}.get(name, "")

    def before_unit(
        self, faults: Sequence[Fault], failing: Sequence[str], unit: str, at: int
    ) -> Reports:
        """What a person reads before a unit, monitored or not."""
        return looked_at(self.desk, self.moment(faults, failing, at), unit)

    def moment(self, faults: Sequence[Fault], failing: Sequence[str], at: int) -> Moment:
        """How the rig stands at a flick."""
        struck = (*(fault.thing for fault in faults), *failing)
        part = reach(self.wiring, self.kinds, struck)
        key = (part.signature, what(faults), len(failing), at)
        if key not in self.known:
            script = Script(tuple(faults), failing=frozenset(failing))
            self.known[key] = self._run(part, script, at)
        return self._told(part, self.known[key], at)

    def _run(self, part: Reach, script: Script, at: int) -> _Kind:
        cone = assemble(self.wiring, part)
        run = Run(self.base, script, at + 1, within=cone)
        run.work(at + 1)
        nodes, board = self.wiring.nodes, run.board
        fell, lost = since(run.notes, "down", "up"), since(run.notes, "unlocked", "locked")
        kind = {n: part.nodes[n] for n in cone.inputs}
        down = {n: s for n, s in run.conditions.items() if not s.up and n in part.things}
        return _Kind(
            shown=shown_by_kind(run, cone),
            pictures={nodes[n].name: line for n, line in run.pictures.items()},
            wanted=run.player.wanted,
            silent={
                k: board.changed[n]
                for n, k in kind.items()
                if audible(nodes[n]) and not board.value[n][0]
            },
            down={part.things[n]: fell.get(s.thing.name, -1) for n, s in down.items()},
            off={
                k: lost.get(nodes[n].name, -1)
                for n, k in kind.items()
                if isinstance(nodes[n], Sync) and board.value[n] == UNLOCKED
            },
            own={
                part.things[n]: {
                    t: at for (_, t), at in troubles_of("", s.faults.values(), s.thing.margin)
                }
                for n, s in run.conditions.items()
                if n in part.things and s.faults
            },
        )

    def _told(self, part: Reach, kind: _Kind, at: int) -> Moment:
        nodes = self.wiring.nodes
        return Moment(
            at=at,
            lines=dict(
                lines_of(self.desk, self.shown(part, kind.shown, kind.pictures, kind.wanted))
            ),
            troubles=dict(self._troubles(part, kind)),
            silent={
                nodes[n].name: kind.silent[k]
                for n, k in part.nodes.items()
                if k in kind.silent and audible(nodes[n])
            },
        )

    def shown(
        self,
        part: Reach,
        shown: Mapping[int, Sequence[tuple[int, Signal]]],
        pictures: Mapping[str, Sequence[tuple[int, Kept]]],
        wanted: Mapping[str, Sequence[tuple[int, str]]],
    ) -> Shown:
        """What all walls show if the cabinets of a part show this, by kind. Of cabinets that notice
        nothing only where the pictures under them changed.
        """
        name = self.wiring.cabinets
        noticed = {name[c]: shown[k] for c, k in part.cabinets.items()}
        pictures = {**self.still, **pictures}
        quiet = {} if pictures == self.still else self.quiet
        return Shown({**quiet, **noticed}, pictures, wanted)

    def _troubles(self, part: Reach, kind: _Kind) -> Iterator[tuple[Trouble, int]]:
        for number, of in part.things.items():
            thing = self.wiring.things[number].name
            for trouble, at in kind.own.get(of, {}).items():
                yield (thing, trouble), at
            if of in kind.down:
                yield (thing, DOWN), kind.down[of]
        for number, of in part.nodes.items():
            if of in kind.off and isinstance(self.wiring.nodes[number], Sync):
                yield (self.wiring.nodes[number].thing, OFF), kind.off[of]


def shown_by_kind(run: Run, cone: Cone) -> dict[int, Sequence[tuple[int, Signal]]]:
    """What a run on a part of a rig showed, for each kind of cabinet."""
    return {k: _named(run.wiring, run.shown[c]) for k, c in cone.twin.items()}


def _named(wiring: Any, line: Sequence[tuple[int, Any]]) -> tuple[tuple[int, Signal], ...]:
    return tuple((at, (quality, named(wiring, picture))) for at, (quality, picture) in line)


def _loose(faults: Sequence[Fault]) -> list[Fault]:
    return [fault for fault in faults if fault.mode == "flapping"]


def blinked(moment: Moment) -> frozenset[Spot]:
    """The spots that were not lit for a while, and are lit now."""
    return frozenset(s for s, line in moment.lines.items() if looks(line, moment.at) == LIT)
