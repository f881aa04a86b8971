"""What a pull costs the place that is filmed, asked again and again with other timings.

In: a `Bench`, a `Step` of its sheet, a phase (while pulled, once put back), timings by key in
flicks. Out: flicks in the state that the camera counts. Worked out on the part of the rig that can
notice the pull, with what is alike merged (`engine.symmetry`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sim.engine.run import run
from sim.engine.signal import Kept, Signal, cabinet_line
from sim.engine.symmetry import Kinds, assemble, reach
from sim.faults import Quality
from sim.practice.filming import SEEN, Walls, outages, parted, time_at
from sim.practice.pulls import HORIZON, Bench
from sim.practice.testsheet import Step
from sim.study.effects import STATES, Line
from sim.study.ledger import worst_line

PULLED, BACK = "while pulled", "put back"
GOOD = int(Quality.GOOD)
Where = tuple[int | str, int]
"""A kind of cabinet, or the carrier of one that notices nothing, and a stack."""


class Meter:
    """One step and phase of one rig."""

    def __init__(self, bench: Bench, walls: Walls, step: Step, phase: str) -> None:
        self.bench, self.step, self.phase = bench, step, phase
        board, wiring = bench.base.board, bench.wiring
        struck = tuple(name for name, _ in step.pull.choices) or (step.pull.on,)
        self.part = reach(wiring, Kinds(wiring, bench.base.signals), struck)
        self.cone = assemble(wiring, self.part)
        self.still = {wiring.nodes[n].name: [(0, board.picture(n))] for n in wiring.layers_of}
        self.group = bench.rig.groups[walls.targets[step.filmed.target]]
        self.places = tuple(dict.fromkeys(self._places(walls)))

    def _places(self, walls: Walls) -> Iterator[Where]:
        """What lies in the place that is filmed, each kind of it once."""
        target, wiring = self.step.filmed.target, self.bench.wiring
        number = {name: n for n, name in wiring.cabinets.items()}
        for cabinet, patches in walls.canvases[self.group.name].patches.items():
            for patch in patches:
                if target == patch.wall or any(target == name for name, _ in patch.regions):
                    kind = self.part.cabinets.get(number[cabinet])
                    yield (self._carrier(number[cabinet]) if kind is None else kind), patch.stack

    def _carrier(self, cabinet: int) -> str:
        picture = self.bench.base.board.cabinet(self.bench.wiring.cards_of[cabinet])[1]
        return "" if picture is None else self.bench.wiring.nodes[picture].name

    def line(self, values: Mapping[str, int]) -> Line:
        """The filmed place at its worst, for the phase alone."""
        line = tuple(worst_line(dict.fromkeys(self._lines(values))))
        pulled, back, before = parted(line, self.step.hold)
        return pulled if self.phase == PULLED else ((0, before), *back)

    def _lines(self, values: Mapping[str, int]) -> Iterator[Line]:
        given = self.bench.values(self.step.pull, values)
        script = self.step.pull.script(self.step.hold)
        trace = run(self.bench.base.at(given), script, given, HORIZON, within=self.cone)
        pictures: Mapping[str, Sequence[tuple[int, Kept]]] = {**self.still, **trace.pictures}
        cabinets, wanted = self.bench.wiring.cabinets, trace.wanted[self.group.name]
        for kind, stack in self.places:
            shown: Sequence[tuple[int, Signal]] = (
                [(0, (GOOD, kind))]
                if isinstance(kind, str)
                else trace.shown[cabinets[self.cone.twin[kind]]]
            )
            yield tuple(cabinet_line(self.group.stacks[stack], shown, pictures, wanted))

    def times(self, values: Mapping[str, int]) -> int:
        """How many times the state comes."""
        return outages(self.line(values), self.quality)

    def __call__(self, values: Mapping[str, int]) -> int:
        """How long it lasts in all, in flicks; FOREVER if it stays."""
        return time_at(self.line(values), self.quality)

    @property
    def quality(self) -> int:
        """The best quality that the camera counts."""
        state = self.step.filmed.state
        return STATES.index(state) + 1 if state else SEEN


class Known:
    """A cost that is worked out once for the same timings."""

    def __init__(self, meter: Meter, keys: Sequence[str]) -> None:
        self.meter, self.keys = meter, keys
        self.known: dict[tuple[int, ...], int] = {}

    def __call__(self, values: Mapping[str, int]) -> int:
        key = tuple(values[each] for each in self.keys)
        if key not in self.known:
            self.known[key] = self.meter(values)
        return self.known[key]
