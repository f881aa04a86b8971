"""One rig, ready for strike after strike.

In: a frozen `Rig`, the name of a group, faults. Out: what they do to the group, as frozen `Effect`s
and `Outcome`s. Each is worked out by the engine on the part of the rig that can notice it, with
what is alike merged; what behaves alike elsewhere is worked out once (`symmetry`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Signal, Trace, cabinet_line
from sim.engine.symmetry import Kinds, Reach, assemble, reach
from sim.engine.wiring import Wiring, wire
from sim.faults import Fault, Script
from sim.rig.topology import Emit, Group, Rig, corner
from sim.study.effects import (
    LIT,
    Canvas,
    Effect,
    Key,
    Line,
    Reading,
    Share,
    View,
    effect,
    read,
    shares,
)
from sim.study.mirrors import Piece, pieces, view, views_of
from sim.study.outcome import CORNERS, Outcome
from sim.study.races import Ladder
from sim.study.strikes import Strike
from sim.timebase import FOREVER


@dataclass(frozen=True, slots=True)
class Settled:
    """What a run comes to: by kind the signals of cabinets, the nodes that stand otherwise, the
    number of inputs that selectors looked at; and the timers left.
    """

    trace: Trace
    shown: Mapping[int, Sequence[tuple[int, Signal]]]
    pending: tuple[str, ...]
    otherwise: frozenset[int]
    examined: Mapping[int, int]
    drops: tuple[int, int] | None


class Laboratory:
    """One rig, ready for strike after strike: its wiring, its bases by corner, what was found
    before.
    """

    def __init__(self, rig: Rig, group: str, values: Mapping[str, Mapping[str, int]] | None = None):
        self.rig = rig
        self.group = rig.groups[group]
        self.canvas = Canvas(rig, self.group)
        self.wiring: Wiring = wire(rig)
        given = values or {which: corner(rig, which) for which in CORNERS}
        self.bases = {which: Base(self.wiring, values) for which, values in given.items()}
        self.quiet = next(iter(self.bases.values())).board.value
        self.kinds = Kinds(self.wiring, self.quiet)
        board = next(iter(self.bases.values())).board
        self.still = {
            self.wiring.nodes[n].name: [(0, board.picture(n))] for n in self.wiring.layers_of
        }
        self.cabinet_number = {name: number for number, name in self.wiring.cabinets.items()}
        wall_of = {name: cabinet.wall for name, cabinet in rig.cabinets.items()}
        self.pieces = {
            name: pieces(self.group, wall_of, walls) for name, walls in views_of(self.group).items()
        }
        self.above = _above(self.wiring, _own(self.wiring, self.group))
        self.ladder = Ladder(rig)
        self.known: dict[Key, Settled] = {}
        self.readings: dict[Key, Reading] = {}
        self.carriers = {name: self._quiet_carrier(name) for name in self.canvas.patches}
        self.live = frozenset(name for name in self.carriers.values() if name)
        self.cones: dict[tuple[str, ...], tuple[Reach, dict[Key, Share]]] = {}

    def add_corner(self, name: str, values: Mapping[str, int]) -> None:
        """Make a further choice of timings (flicks by key) known under a name."""
        if name not in self.bases:
            self.bases[name] = Base(self.wiring, values)

    def outcome(self, strike: Strike) -> Outcome:
        """A single fault under all corners."""
        first = self.effect(strike.faults, "typical")
        effects = {"typical": first}
        loose = any(_ranges(self.rig, key) for key in first.used)
        for which in ("all-least", "all-most"):
            effects[which] = self.effect(strike.faults, which) if loose else first
        if not (loose and first.seen):
            return Outcome(strike, effects)
        trace = self.trace(strike.faults, "typical")
        notes = [note for note in trace.notes if note.name in self.above]
        return Outcome(strike, effects, self.ladder.races(notes), self.ladder.slowest(notes))

    def effect(self, faults: Sequence[Fault], which: str) -> Effect:
        """What these faults do under one corner."""
        part, cast = self._cone(tuple(fault.thing for fault in faults))
        found, key = self._settle(part, faults, which)
        trace = found.trace
        known = [(self._reading(found, key, kind, stack), s) for (kind, stack), s in cast.items()]
        moved = any(trace.pictures[c] != self.still[c] for c in self.live)
        if moved:
            known += self._elsewhere(found, key, part)
        views = self._views(part, found, key, moved) if known else {}
        return effect(self.canvas, known, views, found.pending, trace.repeat, trace.used)

    def trace(self, faults: Sequence[Fault], which: str) -> Trace:
        """The run itself, for one that looks alike."""
        return self._settle(self._cone(tuple(f.thing for f in faults))[0], faults, which)[0].trace

    def settled_at(self, faults: Sequence[Fault], which: str) -> int:
        """The flick from which nothing changes any more (for a flapping rig: repeats)."""
        trace = self.trace(faults, which)
        if trace.repeat:
            return trace.repeat[0]
        return max([0, *(note.at for note in trace.notes)])

    def concerns(self, strike: Strike) -> bool:
        """Whether anything of the group hangs on what is struck: a cabinet, a unit or a layer of
        it.
        """
        return not self.above.isdisjoint(strike.struck)

    def part(self, strike: Strike) -> Reach:
        """The part of the rig that can notice a strike."""
        return self._cone(strike.struck)[0]

    def settled(self, strike: Strike) -> Settled:
        """What the run of a strike comes to, by kind, with all timings typical."""
        return self._settle(self.part(strike), strike.faults, "typical")[0]

    def _cone(self, struck: tuple[str, ...]) -> tuple[Reach, dict[Key, Share]]:
        """What can notice, and how much of the walls shows what kind of cabinet and stack."""
        if struck not in self.cones:
            part = reach(self.wiring, self.kinds, struck)
            patches = (
                ((kind, patch.stack), patch)
                for cabinet, kind in part.cabinets.items()
                for patch in self.canvas.patches.get(self.wiring.cabinets[cabinet], ())
            )
            self.cones[struck] = part, shares(patches)
        return self.cones[struck]

    def _settle(self, part: Reach, faults: Sequence[Fault], which: str) -> tuple[Settled, Key]:
        key = (part.signature, _what(faults), which)
        if key not in self.known:
            flaps = any(f.mode == "flapping" and f.until is None for f in faults)
            base = self.bases[which]
            until = max(self.rig.length, 1)
            cone = assemble(self.wiring, part)
            trace = run(base, Script(tuple(faults)), base.values, until, flaps, within=cone)
            shown = {k: trace.shown[self.wiring.cabinets[c]] for k, c in cone.twin.items()}
            otherwise = frozenset(part.nodes[n] for n in trace.otherwise)
            examined = {part.nodes[n]: count for n, count in trace.examined.items()}
            self.known[key] = Settled(
                trace, shown, _pending(trace), otherwise, examined, self._drops(faults)
            )
        return self.known[key], key

    def _drops(self, faults: Sequence[Fault]) -> tuple[int, int] | None:
        """The frame of the source and the number lost, if that is all that happens."""
        if len(faults) != 1 or faults[0].mode != "drops":
            return None
        wiring = self.wiring
        node = wiring.nodes[wiring.nodes_of[wiring.thing_number[faults[0].thing]][0]]
        return (node.frame, faults[0].frames) if isinstance(node, Emit) else None

    def _reading(self, found: Settled, key: Key, kind: Any, stack: int) -> Reading:
        """The line of one kind of cabinet (a number) or of an untouched one (its carrier), read."""
        where = (key, kind, stack)
        if where not in self.readings:
            shown = [(0, (LIT, kind))] if isinstance(kind, str) else found.shown[kind]
            line = self._line(found.trace, shown, stack)
            self.readings[where] = read(
                line, self.rig.frame, self.rig.length, found.trace.repeat, found.drops
            )
        return self.readings[where]

    def _elsewhere(self, found: Settled, key: Key, part: Reach) -> list[tuple[Reading, Share]]:
        """The cabinets that cannot notice the strike themselves, when layers change under them."""
        touched = {self.wiring.cabinets[cabinet] for cabinet in part.cabinets}
        patches = (
            ((self.carriers[cabinet], patch.stack), patch)
            for cabinet, of in self.canvas.patches.items()
            if cabinet not in touched
            for patch in of
        )
        return [
            (self._reading(found, key, carrier, stack), share)
            for (carrier, stack), share in shares(patches).items()
        ]

    def _views(self, part: Reach, found: Settled, key: Key, moved: bool) -> dict[str, View]:
        """What is lost of a mirrored picture to those who see several walls of it."""
        return {
            name: view(self._grouped(cut, part, found, key, moved), self._reader(found))
            for name, cut in self.pieces.items()
        }

    def _grouped(
        self, cut: Sequence[Piece], part: Reach, found: Settled, key: Key, moved: bool
    ) -> dict[tuple[Line, ...], int]:
        """Areas by the lines of their spots; what some untouched wall shows lit is left out."""
        areas: dict[tuple[Line, ...], int] = {}
        numbers, kinds = self.cabinet_number, part.cabinets
        for piece in cut:
            if not moved and any(numbers[cabinet] not in kinds for cabinet, _ in piece.spots):
                continue
            lines = tuple(
                self._reading(found, key, self._kind(cabinet, kinds), stack).line
                for cabinet, stack in piece.spots
            )
            areas[lines] = areas.get(lines, 0) + piece.area
        return areas

    def _kind(self, cabinet: str, kinds: Mapping[int, int]) -> int | str:
        return kinds.get(self.cabinet_number[cabinet], self.carriers[cabinet])

    def _reader(self, found: Settled) -> Callable[[Line], Reading]:
        repeat = found.trace.repeat
        return lambda line: read(line, self.rig.frame, self.rig.length, repeat, found.drops)

    def _quiet_carrier(self, cabinet: str) -> str:
        """The carrier that a cabinet shows while nothing is wrong."""
        card = self.rig.cabinets[cabinet].cards[0]
        picture = self.quiet[self.wiring.node_number[card]][1]
        return "" if picture is None else self.wiring.nodes[picture].name

    def _line(self, trace: Trace, shown: Sequence[tuple[int, Signal]], stack: int) -> Line:
        steps = self.group.stacks[stack]
        wanted = trace.wanted[self.group.name]
        return tuple(cabinet_line(steps, shown, trace.pictures, wanted))


def _own(wiring: Wiring, group: Group) -> frozenset[int]:
    """The nodes that show or make the group's picture: its cards, its carriers and their layers."""
    cards = [
        card
        for number, name in wiring.cabinets.items()
        if wiring.rig.cabinets[name].group == group.name
        for card in wiring.cards_of[number]
    ]
    carriers = [wiring.node_number[name] for name in group.carriers]
    return frozenset([*cards, *carriers, *(n for c in carriers for n in wiring.layers_of[c])])


def _above(wiring: Wiring, own: frozenset[int]) -> frozenset[str]:
    """The names of all things and selectors on which these nodes hang."""
    nodes, things = set(own), set[int]()
    for number in range(len(wiring.nodes) - 1, -1, -1):
        if number in nodes:
            nodes.update(wiring.inputs[number])
            things.add(wiring.thing_of[number])
    for number in range(len(wiring.things) - 1, -1, -1):
        if number in things:
            things.update(wiring.powered_by[number])
    selectors = {name for name, node in wiring.selector_node.items() if node in nodes}
    return frozenset({*(wiring.things[number].name for number in things), *selectors})


def _what(faults: Sequence[Fault]) -> tuple[Key, ...]:
    """All of the faults but the names of what they strike; which of them strike the same thing."""
    names = [fault.thing for fault in faults]
    return tuple(
        (
            f.mode,
            f.at,
            f.until,
            f.hard,
            f.choice,
            f.period,
            f.off,
            f.loss,
            f.frames,
            names.index(f.thing),
        )
        for f in faults
    )


def _ranges(rig: Rig, key: str) -> bool:
    timing = rig.timings[key]
    return timing.least != timing.most


def _pending(trace: Trace) -> tuple[str, ...]:
    late = [note for note in trace.pending if note.at >= trace.until and note.at < FOREVER]
    return tuple(note.name for note in late) if trace.repeat is None else ()
