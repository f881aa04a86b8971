"""How a rig stands at one instant, for those who look at it: everything, hidden things included.

In: a `Run` of the engine, worked through up to an instant (flicks). Out: a frozen `Moment`, of
which `symptoms` shows what can be seen. Looking changes nothing in the run.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sim.engine.run import Run
from sim.engine.settling import Base
from sim.engine.signal import Kept, Note, Signal, cabinet_line
from sim.engine.wiring import Wiring
from sim.faults import Fault, Quality, Script
from sim.practice.desk import Desk, Spot
from sim.rig.topology import Layer, Sync
from sim.study.effects import Line

DOWN, DIM, OFF = "down", "dim", "off the reference"
"""Troubles that monitoring can tell: a thing is not up, a fibre brings too little light, a unit
does not follow its reference."""
UNLOCKED = int(Quality.UNLOCKED)
ALWAYS_LIT: Line = ((0, int(Quality.GOOD)),)
Trouble = tuple[str, str]
"""A thing and one of the troubles."""


@dataclass(frozen=True)
class Moment:
    """A rig at the flick `at`.

    `lines`: what each spot has shown up to then, as steps (flick, quality), left out where it was
    always lit; `troubles` that hold, and the nodes from which nothing arrives (`silent`), with the
    flick since when (negative: from before the show).
    """

    at: int
    lines: Mapping[Spot, Line]
    troubles: Mapping[Trouble, int]
    silent: Mapping[str, int]

    @cached_property
    def fallen(self) -> frozenset[str]:
        """The things that are down."""
        return frozenset(name for name, trouble in self.troubles if trouble == DOWN)

    def down(self, thing: str) -> bool:
        return thing in self.fallen


@dataclass(frozen=True)
class Shown:
    """What was recorded of a picture: by cabinet (those that may have changed), by carrier, and
    what was wanted, by group.
    """

    cabinets: Mapping[str, Sequence[tuple[int, Signal]]]
    pictures: Mapping[str, Sequence[tuple[int, Kept]]]
    wanted: Mapping[str, Sequence[tuple[int, str]]]


def moment_under(base: Base, desk: Desk, script: Script, at: int) -> Moment:
    """How a rig stands at a flick of a script, worked out on the whole of it."""
    run = Run(base, script, at + 1)
    run.work(at + 1)
    return moment_of(run, desk, at)


def moment_of(run: Run, desk: Desk, at: int) -> Moment:
    """How the rig of a run stands at a flick up to which it is worked through. `desk` is its own.
    Raises ValueError for a run on a part of a rig.
    """
    wiring = run.wiring
    if not isinstance(wiring, Wiring):
        raise ValueError("a moment needs the run of a whole rig")
    cabinets = {wiring.cabinets[n]: _named(wiring, line) for n, line in run.shown.items()}
    pictures = {wiring.nodes[n].name: line for n, line in run.pictures.items()}
    shown = Shown(cabinets, pictures, run.player.wanted)
    silent = {
        node.name: run.board.changed[number]
        for number, node in enumerate(wiring.nodes)
        if audible(node) and not run.board.value[number][0]
    }
    return Moment(at, dict(lines_of(desk, shown)), dict(_troubles(run)), silent)


def audible(node: object) -> bool:
    """Whether a node hands on a signal; layers and syncs lie inside their unit."""
    return not isinstance(node, Layer | Sync)


def _named(
    wiring: Wiring, line: Sequence[tuple[int, tuple[int, object]]]
) -> list[tuple[int, Signal]]:
    return [(at, (quality, named(wiring, picture))) for at, (quality, picture) in line]


def named(wiring: Wiring, picture: object) -> str | Kept | None:
    """A picture by the name of its carrier, if it is live."""
    return wiring.nodes[picture].name if isinstance(picture, int) else picture  # type: ignore[return-value]


# ---- what the walls show -------------------------------------------------------------------------


def lines_of(desk: Desk, shown: Shown) -> Iterator[tuple[Spot, Line]]:
    """What each spot showed; equal signals are read once."""
    known: dict[tuple[object, ...], Line] = {}
    for group, canvas in desk.canvases.items():
        for cabinet, patches in canvas.patches.items():
            if cabinet not in shown.cabinets:
                continue
            signals = tuple(shown.cabinets[cabinet])
            for patch in patches:
                key = (group, patch.stack, signals)
                if key not in known:
                    known[key] = _line(desk, shown, group, patch.stack, signals)
                if known[key] != ALWAYS_LIT:
                    yield (cabinet, patch.stack), known[key]


def _line(
    desk: Desk, shown: Shown, group: str, stack: int, signals: Sequence[tuple[int, Signal]]
) -> Line:
    layers = desk.rig.groups[group].stacks[stack]
    return tuple(cabinet_line(layers, signals, shown.pictures, shown.wanted[group]))


# ---- what is not well ----------------------------------------------------------------------------


def _troubles(run: Run) -> Iterator[tuple[Trouble, int]]:
    fell = since(run.notes, "down", "up")
    lost = since(run.notes, "unlocked", "locked")
    for number, state in run.conditions.items():
        thing = run.wiring.things[number]
        yield from troubles_of(thing.name, state.faults.values(), thing.margin)
        if not state.up:
            yield (thing.name, DOWN), fell.get(thing.name, -1)
    for number, node in enumerate(run.wiring.nodes):
        if isinstance(node, Sync) and run.board.value[number] == UNLOCKED:
            yield (node.thing, OFF), lost.get(node.name, -1)


def troubles_of(thing: str, faults: Iterable[Fault], margin: int) -> Iterator[tuple[Trouble, int]]:
    """What faults alone make of a thing that is up: a dim fibre, a unit off its reference."""
    found = list(faults)
    dim = [fault for fault in found if fault.mode == "attenuated"]
    if sum(fault.loss for fault in dim) > margin:
        yield (thing, DIM), max(fault.at for fault in dim)
    off = [fault.at for fault in found if fault.mode == "unlocked"]
    if off:
        yield (thing, OFF), min(off)


def since(notes: Sequence[Note], begins: str, ends: str) -> dict[str, int]:
    """When what is so now began, by name."""
    found: dict[str, int] = {}
    for note in notes:
        if note.what == begins:
            found[note.name] = note.at
        elif note.what == ends:
            found.pop(note.name, None)
    return found
