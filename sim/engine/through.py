"""A run to the end of a show in which turns that repeat themselves are written out, not played.

In: a settled `Base` (or its rig), one value in flicks for each timing key, a `Script`, an end in
flicks. Out: the same `Trace` as of `run`. Once the script has nothing more to say but loose
contacts that come and go for ever, and the rig stands exactly as it stood a turn before, every
later turn is that one again: its steps and notes are copied, each so much later.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from sim.engine.run import Run
from sim.engine.settling import Base
from sim.engine.signal import Note, Trace
from sim.engine.wiring import Wiring
from sim.faults import Script
from sim.rig.topology import Rig

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Turns:
    """`count` more turns like that between the flicks `first` and `second`."""

    first: int
    second: int
    count: int

    @property
    def period(self) -> int:
        return self.second - self.first

    @property
    def lag(self) -> int:
        """How much later all is that comes after them."""
        return self.count * self.period


def run_through(
    rig: Rig | Wiring | Base, script: Script, values: Mapping[str, int], until: int
) -> Trace:
    """Run a script from time 0 to `until` (flicks), as `run` does, and much sooner where a loose
    contact comes and goes for long.
    """
    base = rig if isinstance(rig, Base) else Base(rig, values)
    made = Run(base, script, until, repeats=True)
    turns = _play(made)
    trace = made.trace()
    made.let_go()
    return trace if turns is None else _written_out(trace, turns, until)


def _play(made: Run) -> Turns | None:
    """Play all but the turns that can be written out."""
    made.work(made.until)
    player, found = made.player, made.player.repeat
    if found is None:
        return None
    turns = Turns(*found, (made.until - found[1] - 1) // (found[1] - found[0]))
    made.until -= turns.lag
    player.repeats = False
    player.go_on()
    made.work(made.until)
    return turns


def _written_out(trace: Trace, turns: Turns, until: int) -> Trace:
    known: dict[Hashable, list[tuple[int, object]]] = {}
    return replace(
        trace,
        until=until,
        shown={name: _line(line, turns, known) for name, line in trace.shown.items()},
        pictures={name: _line(line, turns, known) for name, line in trace.pictures.items()},
        notes=_notes(trace.notes, turns),
        pending=[_later(note, turns.lag) for note in trace.pending],
        last=trace.last + turns.lag,
    )


def _line(
    line: Sequence[tuple[int, T]], turns: Turns, known: dict[Hashable, list[tuple[int, object]]]
) -> list[tuple[int, T]]:
    """A step function with the turns in it; equal ones are one list."""
    key = tuple(line)
    if key not in known:
        first, second = (bisect_left(line, at, key=_when) for at in (turns.first, turns.second))
        turn = line[first:second]
        copied = [
            (at + later, value)
            for later in range(turns.period, turns.lag + 1, turns.period)
            for at, value in turn
        ]
        rest = [(at + turns.lag, value) for at, value in line[second:]]
        known[key] = [*line[:second], *copied, *rest]
    return known[key]  # type: ignore[return-value]


def _notes(notes: Sequence[Note], turns: Turns) -> list[Note]:
    played = [note for note in notes if note.at < turns.second]
    turn = [(n.at, n.name, n.what, n.detail) for n in played if n.at >= turns.first]
    copied = [
        Note(at + later, name, what, detail)
        for later in range(turns.period, turns.lag + 1, turns.period)
        for at, name, what, detail in turn
    ]
    return [*played, *copied, *(_later(n, turns.lag) for n in notes if n.at >= turns.second)]


def _later(note: Note, flicks: int) -> Note:
    return Note(note.at + flicks, note.name, note.what, note.detail)


def _when(step: tuple[int, object]) -> int:
    return step[0]
