"""One rig, ready for strike after strike.

In: a frozen `Rig`, the name of a group, faults. Out: what they do to the group, as frozen `Effect`s
and `Outcome`s. Each is worked out by the engine on the part of the rig that can notice it, with
what is alike merged; what behaves alike elsewhere is worked out once (`symmetry`).
"""

from __future__ import annotations

from collections.abc import Container, Hashable, Mapping, Sequence
from functools import cached_property, partial

from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Trace
from sim.engine.symmetry import Cone, Kinds, Reach, assemble, reach
from sim.engine.wiring import Wiring, wire
from sim.faults import Fault, Script
from sim.rig.topology import Rig, corner
from sim.study.alike import Alike
from sim.study.concern import above
from sim.study.effects import (
    Canvas,
    Effect,
    Key,
    Line,
    View,
    effect,
)
from sim.study.mirrors import Cut, by_cabinet, pieces, together, view, views_of
from sim.study.outcome import CORNERS, Outcome
from sim.study.races import Ladder
from sim.study.settled import Cast, Casts, Settled, Spread, read_out, what
from sim.study.showing import Showing
from sim.study.strikes import Strike
from sim.study.undisturbed import Undisturbed, shown_by


class Laboratory:
    """One rig, ready for strike after strike: its wiring, its bases by corner, what was found
    before.
    """

    def __init__(
        self,
        rig: Rig,
        group: str,
        values: Mapping[str, Mapping[str, int]] | None = None,
        canvas: Canvas | None = None,
    ) -> None:
        """`values`: by corner, flicks for each timing; `canvas`: one that has more regions."""
        self.rig = rig
        self.group = rig.groups[group]
        self.canvas = canvas or Canvas(rig, self.group)
        self.wiring: Wiring = wire(rig)
        given = values or {which: corner(rig, which) for which in CORNERS}
        base = Base(self.wiring, next(iter(given.values())))
        self.bases = {which: base.at(values) for which, values in given.items()}
        self.quiet = base.signals
        self.kinds = Kinds(self.wiring, self.quiet)
        still = {n: base.board.picture(n) for n in self.wiring.layers_of}
        self.still = {self.wiring.nodes[n].name: [(0, of)] for n, of in still.items()}
        self.cabinet_number = {name: number for number, name in self.wiring.cabinets.items()}
        self.pieces = self._pieces()
        self.painting = {n for c, layers in self.wiring.layers_of.items() for n in (c, *layers)}
        self.above = above(self.wiring, self.group)
        self.ladder = Ladder(rig)
        self.ranged = {key for key, timing in rig.timings.items() if timing.least != timing.most}
        self.known: dict[Key, Settled] = {}
        self.showing = Showing(rig, self.group, self.still)
        self.carriers = {name: self._quiet_carrier(name) for name in self.canvas.patches}
        self.undisturbed = Undisturbed(self.carriers, self.cabinet_number, self.canvas.patches)
        self.casts = Casts()
        self.latest: tuple[Cast, Cone] | None = None
        self.numbers: dict[Hashable, int] = {}
        self.spreads: dict[tuple[str, ...], Spread] = {}
        self.effects: dict[tuple[int, int], Effect] = {}
        self.outcomes: dict[Key, Outcome] = {}
        alone = None if self.pieces else self.canvas.patches
        self.alike = Alike(self.wiring, self.kinds, alone, still)

    @cached_property
    def spots(self) -> dict[int, tuple[tuple[int, int], ...]]:
        """Stacks and areas (pixels) of each cabinet, by number."""
        return self.undisturbed.spots()

    def _pieces(self) -> dict[str, Cut]:
        """The picture cut into what lies in one spot on each wall, for each set of walls."""
        wall_of = {name: cabinet.wall for name, cabinet in self.rig.cabinets.items()}
        return {
            name: by_cabinet(pieces(self.group, wall_of, walls), self.cabinet_number)
            for name, walls in views_of(self.group).items()
        }

    def forget(self, single: Container[tuple[str, ...]]) -> None:
        """Keep what is known of these single strikes and of runs with one fault, drop the rest."""
        self.casts.forget(single)
        self.spreads = {struck: made for struck, made in self.spreads.items() if struck in single}
        self.known = {key: made for key, made in self.known.items() if len(key[1]) < 2}
        self.latest = None
        self.showing.forget()
        self.effects.clear()

    def add_corner(self, name: str, values: Mapping[str, int]) -> None:
        """Make a further choice of timings (flicks by key) known under a name."""
        if name not in self.bases:
            self.bases[name] = self.bases["typical"].at(values)

    def outcome(self, strike: Strike) -> Outcome:
        """A single fault under all corners."""
        sign, alike = self.alike.of(strike.struck, self._likeness)
        key = (sign, what(strike.faults), alike)
        if key not in self.outcomes:
            cast = self.cast(strike.struck)
            self.outcomes[key] = self._outcome(strike, cast, self.spread(cast))
        return self.outcomes[key].of(strike)

    def _outcome(self, strike: Strike, cast: Cast, spread: Spread) -> Outcome:
        found = self.settle(cast, strike.faults, "typical")
        first = self._effect(spread, found)
        effects = {"typical": first}
        loose = not first.used.isdisjoint(self.ranged)
        for which in ("all-least", "all-most"):
            other = self.settle(cast, strike.faults, which) if loose else found
            effects[which] = self._effect(spread, other)
        if not (loose and first.seen):
            return Outcome(strike, effects)
        notes = [note for note in found.trace.notes if note.name in self.above]
        return Outcome(strike, effects, self.ladder.races(notes), self.ladder.slowest(notes))

    def effect(self, faults: Sequence[Fault], which: str) -> Effect:
        """What these faults do under one corner."""
        cast = self.cast(tuple(fault.thing for fault in faults))
        return self._effect(self.spread(cast), self.settle(cast, faults, which))

    def lost(self, faults: Sequence[Fault], which: str) -> int:
        """Pixels not lit once settled: `effect(...).lost()`, found more quickly."""
        cast = self.cast(tuple(fault.thing for fault in faults))
        found = self.settle(cast, faults, which)
        if self.moved(found):
            return self.effect(faults, which).lost()
        areas: dict[Key, int] = {}
        for cabinet, kind in cast.part.cabinets.items():
            for stack, area in self.spots.get(cabinet, ()):
                areas[kind, stack] = areas.get((kind, stack), 0) + area
        return sum(area for (k, s), area in areas.items() if self.showing.of(found, k, s).last < 5)

    def moved(self, found: Settled) -> bool:
        """Whether pictures change, so that also cabinets that notice nothing may show another."""
        return any(found.trace.pictures[c] != self.still[c] for c in self.undisturbed.live)

    def _effect(self, spread: Spread, found: Settled) -> Effect:
        key = (found.number, spread.alike)
        if key not in self.effects:
            self.effects[key] = self._added_up(spread, found)
        return self.effects[key]

    def _added_up(self, spread: Spread, found: Settled) -> Effect:
        trace, moved = found.trace, self.moved(found)
        areas = [*spread.shares.items(), *(spread.elsewhere.items() if moved else ())]
        known = [(self.showing.of(found, kind, stack), share) for (kind, stack), share in areas]
        views = self._views(spread, found) if known else {}
        return effect(self.canvas, known, views, found.pending, trace.repeat, trace.used)

    def trace(self, faults: Sequence[Fault], which: str) -> Trace:
        """The run itself, for one that looks alike."""
        return self.settle(self.cast(tuple(f.thing for f in faults)), faults, which).trace

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
        return self.cast(strike.struck).part

    def sign(self, strike: Strike) -> int:
        """Equal for strikes of which the parts that can notice are alike."""
        return self.alike.of(strike.struck, self._likeness)[0]

    def settled(self, strike: Strike) -> Settled:
        """What the run of a strike comes to, by kind, with all timings typical."""
        return self.settle(self.cast(strike.struck), strike.faults, "typical")

    def cast(self, struck: tuple[str, ...]) -> Cast:
        """What can notice anything that happens to these things and selectors."""
        if struck not in self.casts:
            part = reach(self.wiring, self.kinds, struck)
            self.casts.keep(Cast(struck, part, self._number(part.signature)))
        return self.casts[struck]

    def _likeness(self, struck: tuple[str, ...]) -> tuple[int, int]:
        cast = self.cast(struck)
        return cast.sign, self.spread(cast).alike

    def spread(self, cast: Cast) -> Spread:
        """How much of the walls shows which kind of cabinet and stack."""
        if cast.struck not in self.spreads:
            kinds = cast.part.cabinets
            pictures = not cast.part.nodes.keys().isdisjoint(self.painting)
            of = shown_by(kinds, self.undisturbed.patches)
            rest = self.undisturbed.without(kinds) if pictures else {}
            mirrored = pictures and self.pieces
            others = (
                {n: c for n, c in self.undisturbed.carriers.items() if n not in kinds}
                if mirrored
                else {}
            )
            seen = {name: together(cut, kinds, others) for name, cut in self.pieces.items()}
            marks = (tuple(of.items()), tuple(rest.items()))
            alike = self._number((*marks, *(tuple(shown.items()) for shown in seen.values())))
            self.spreads[cast.struck] = Spread(of, rest, seen, alike)
        return self.spreads[cast.struck]

    def _number(self, key: Hashable) -> int:
        return self.numbers.setdefault(key, len(self.numbers))

    def settle(
        self, cast: Cast, faults: Sequence[Fault], which: str, failing: Sequence[str] = ()
    ) -> Settled:
        """The run of these faults (the cast is theirs, and of the selectors that are `failing` to
        change over, if any, after them), worked out once for all that look alike.
        """
        key = (cast.sign, what(faults), which, len(failing))
        if key not in self.known:
            script = Script(tuple(faults), failing=frozenset(failing))
            cone = self._cone(cast)
            self.known[key] = self.play(cast, script, which, len(self.known), cone)
        return self.known[key]

    def _cone(self, cast: Cast) -> Cone:
        """Its part, assembled; modes and corners of one cast come one after the other."""
        if self.latest is None or self.latest[0] is not cast:
            self.latest = (cast, assemble(self.wiring, cast.part))
        return self.latest[1]

    def play(
        self, cast: Cast, script: Script, which: str, number: int = -1, merged: Cone | None = None
    ) -> Settled:
        """The run of a script, not remembered. `merged`: the part of the cast, assembled before."""
        faults, base = script.faults, self.bases[which]
        flaps = any(f.mode == "flapping" and f.until is None for f in faults)
        cone = merged or assemble(self.wiring, cast.part)
        trace = run(base, script, base.values, max(self.rig.length, 1), flaps, within=cone)
        return read_out(self.wiring, cast, cone, trace, faults, number)

    def _views(self, spread: Spread, found: Settled) -> dict[str, View]:
        """What is lost of a mirrored picture to those who see several walls of it."""
        views = {}
        for name, shown in spread.together.items():
            areas: dict[tuple[Line, ...], int] = {}
            for spots, area in shown.items():
                lines = tuple([self.showing.of(found, kind, stack).line for kind, stack in spots])
                areas[lines] = areas.get(lines, 0) + area
            views[name] = view(areas, partial(self.showing.read, found))
        return views

    def _quiet_carrier(self, cabinet: str) -> str:
        """The carrier that a cabinet shows while nothing is wrong."""
        card = self.rig.cabinets[cabinet].cards[0]
        picture = self.quiet[self.wiring.node_number[card]][1]
        return "" if picture is None else self.wiring.nodes[picture].name
