"""What every single fault does to a wall group, frame by frame, for somebody who wants to watch it.

In: a `Laboratory`, strikes (at the first instant of the show). Out: a frozen `Replays`. Frames are
counted from 0, the frame that the fault strikes in; all timings are typical, but for the frames
lost (`Tally`), which run over the phase and over the ranges of the timings. A *spot* is a patch of
the walls (one cabinet's cells with one stack of layers), known by its number in `spots`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sim.engine.signal import Note, Signal, Trace
from sim.engine.symmetry import Reach
from sim.faults import Script
from sim.study.effects import LIT, STATES, Canvas, Effect, Line, Patch, Reading, read
from sim.study.laboratory import Laboratory
from sim.study.ledger import (
    Frames,
    frames_by_state,
    frames_in_states,
    over_phase_together,
    worst_line,
)
from sim.study.mirrors import views_of
from sim.study.outcome import Outcome
from sim.study.rows import flashes_of, weakest
from sim.study.settled import Cast, Settled
from sim.study.strikes import Strike

AFTER = 30
"""Frames that are shown after the last change."""
ALWAYS: Line = ((0, LIT),)
Course = tuple[tuple[int, int], ...]
"""Steps (frame, state as in `STATES`, 5 lit); the first frame is 0."""


@dataclass(frozen=True, slots=True)
class Target:
    """What frames are counted for: the group, a wall, a region, or those who see several walls of
    a mirrored picture (a view), with the spots that it touches.
    """

    kind: str
    name: str
    spots: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Tally:
    """What a target (by number) loses: frames by the worst state of any of it, between the first
    change and the last, least and most over the phase and the timings (None: it never settles).

    `stays`: its worst state once settled, at best and at worst over the timings; 5 is lit.
    """

    target: int
    least: Frames | None
    most: Frames | None
    stays: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Replay:
    """One fault as it happens. `courses`: what spots show, where that is not lit all the time;
    `end`: frames that are told, after which all stays as it is, or, with `repeat` (flicks: first,
    second), goes on as between these; `played`: for each target that loses something the frames
    of those told, by the worst state of any spot of it. `grade`: the weakest of the timings that
    matter; `raced`: two protections race, so that the frames lost are no bound.
    """

    strike: Strike
    verdict: str
    grade: str
    raced: bool
    flashes: int
    courses: tuple[tuple[Course, tuple[int, ...]], ...]
    end: int
    repeat: tuple[int, int] | None
    notes: tuple[Note, ...]
    tallies: tuple[Tally, ...]
    played: tuple[tuple[int, Frames], ...]


@dataclass(frozen=True, slots=True)
class Replays:
    """All faults of one topology of a group that can be noticed there."""

    group: str
    spots: tuple[Patch, ...]
    targets: tuple[Target, ...]
    replays: tuple[Replay, ...]


def spots(canvas: Canvas) -> tuple[Patch, ...]:
    """The patches of a group in the order in which spots are numbered."""
    return tuple(patch for patches in canvas.patches.values() for patch in patches)


def targets(canvas: Canvas) -> tuple[Target, ...]:
    """What frames are counted for, the group first."""
    return tuple(_targets(canvas))


def _targets(canvas: Canvas) -> Iterator[Target]:
    every = tuple(enumerate(spots(canvas)))
    yield Target("group", canvas.group.name, tuple(n for n, _ in every))
    for wall in canvas.group.walls:
        yield Target("wall", wall, tuple(n for n, patch in every if patch.wall == wall))
    for region in canvas.group.regions:
        inside = (n for n, patch in every if region.name in dict(patch.regions))
        yield Target("region", region.name, tuple(inside))
    for name, walls in views_of(canvas.group).items():
        yield Target("view", name, tuple(n for n, patch in every if patch.wall in walls))


def replays(laboratory: Laboratory, struck: Iterable[Strike]) -> Replays:
    """Every strike of these that can be noticed in the group."""
    stage = _Stage(laboratory)
    found = tuple(stage.replay(strike) for strike in struck if laboratory.concerns(strike))
    return Replays(laboratory.group.name, stage.spots, stage.targets, found)


Shown = Mapping[int, Line]
"""Spots that are not lit all the time, with their lines."""


class _Stage:
    """A laboratory with its spots and targets; remembers what lines come to."""

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.spots = spots(laboratory.canvas)
        self.targets = targets(laboratory.canvas)
        self.frame, self.length = laboratory.rig.frame, laboratory.rig.length
        self.spot_of: dict[str, list[tuple[int, int]]] = {}
        for number, patch in enumerate(self.spots):
            self.spot_of.setdefault(patch.cabinet, []).append((number, patch.stack))
        self.within: dict[int, list[int]] = {number: [] for number in range(len(self.spots))}
        for place, target in enumerate(self.targets):
            for number in target.spots if target.kind != "view" else ():
                self.within[number].append(place)
        self.tallied: dict[tuple[int, int], tuple[Tally, ...]] = {}
        self.counted: dict[tuple[frozenset[Line], int], Frames] = {}
        self.cut: dict[tuple[Line, int], Course] = {}

    def replay(self, strike: Strike) -> Replay:
        outcome = self.laboratory.outcome(strike)
        found = self._alone(strike)
        shown = self._shown(found.trace)
        repeat = found.trace.repeat
        end = self._end(shown.values(), found.trace)
        return Replay(
            strike=strike,
            verdict=outcome.verdict,
            grade=weakest(outcome.distinct, self.laboratory.rig.timings),
            raced=bool(outcome.races),
            flashes=max(flashes_of(e, self.laboratory.canvas.area) for e in outcome.distinct),
            courses=tuple(self._courses(shown, end)),
            end=end,
            repeat=repeat,
            notes=tuple(found.trace.notes),
            tallies=self._tallies(strike),
            played=tuple(self._played(shown, end)),
        )

    def _alone(self, strike: Strike) -> Settled:
        """The run of a strike with nothing merged, so that everything goes by its own name."""
        cast = self.laboratory.cast(strike.struck)
        whole = Cast(cast.struck, _unmerged(cast.part), cast.sign)
        return self.laboratory.play(whole, Script(strike.faults), "typical")

    def _shown(self, trace: Trace) -> Shown:
        """What spots show that are not lit all the time; others may show another picture."""
        found: dict[int, Line] = {}
        known: dict[tuple[object, int], Line] = {}
        for cabinet, signals in self._signals(trace):
            for number, stack in self.spot_of[cabinet]:
                key = (tuple(signals), stack)
                if key not in known:
                    known[key] = self.laboratory.line(trace, signals, stack)
                if known[key] != ALWAYS:
                    found[number] = known[key]
        return dict(sorted(found.items()))

    def _signals(self, trace: Trace) -> Iterator[tuple[str, Sequence[tuple[int, Signal]]]]:
        """Cabinets with what they are sent: those that notice, and, where pictures change, all."""
        yield from ((name, of) for name, of in trace.shown.items() if name in self.spot_of)
        if self.laboratory.repainted(trace):
            for name, carrier in self.laboratory.carriers.items():
                if name not in trace.shown and carrier:
                    yield name, [(0, (LIT, carrier))]

    def _end(self, lines: Iterable[Line], trace: Trace) -> int:
        changes = [at for line in lines for at, _ in line]
        last = max([*changes, *(note.at for note in trace.notes), *(trace.repeat or ())], default=0)
        return min(-(-last // self.frame) + AFTER, self.length // self.frame)

    def _courses(self, shown: Shown, end: int) -> Iterator[tuple[Course, tuple[int, ...]]]:
        alike: dict[Course, list[int]] = {}
        for number, line in shown.items():
            alike.setdefault(self._course(line, end), []).append(number)
        for course, numbers in alike.items():
            yield course, tuple(numbers)

    def _course(self, line: Line, end: int) -> Course:
        if (line, end) not in self.cut:
            self.cut[line, end] = course(line, self.frame, end)
        return self.cut[line, end]

    def _played(self, shown: Shown, end: int) -> Iterator[tuple[int, Frames]]:
        there: dict[int, set[Line]] = {}
        for number, line in shown.items():
            for place in self.within[number]:
                there.setdefault(place, set()).add(line)
        for place, lines in sorted(there.items()):
            key = (frozenset(lines), end)
            if key not in self.counted:
                whole = end * self.frame
                self.counted[key] = frames_by_state(worst_line(sorted(lines)), self.frame, whole)
            yield place, self.counted[key]

    def _tallies(self, strike: Strike) -> tuple[Tally, ...]:
        """Worked out once for all strikes that do the same to like parts of the walls."""
        laboratory = self.laboratory
        cast = laboratory.cast(strike.struck)
        key = (id(laboratory.outcome(strike).effects), laboratory.spread(cast).alike)
        if key not in self.tallied:
            self.tallied[key] = tuple(self._tallied(laboratory.outcome(strike)))
        return self.tallied[key]

    def _tallied(self, outcome: Outcome) -> Iterator[Tally]:
        for place, target in enumerate(self.targets):
            cases = [[*self._read(effect, target)] for effect in outcome.distinct]
            if any(cases):
                never = any(effect.repeat for effect in outcome.distinct)
                yield self._tally(place, cases, never)

    def _read(self, effect: Effect, target: Target) -> Iterator[Reading]:
        """What was read of the lines that a target shows and that are not always lit."""
        if target.kind == "view":
            lines = effect.views[target.name].lines if effect.views else ()
            read_of = (read(line, self.frame, self.length, effect.repeat) for line, _ in lines)
            yield from (reading for reading in read_of if reading.worst < len(STATES))
            return
        for reading, (_, share) in zip(effect.readings, effect.lines, strict=True):
            names = share.regions if target.kind == "region" else share.walls
            if target.kind == "group" or target.name in dict(names):
                yield reading

    def _tally(self, place: int, cases: Sequence[Sequence[Reading]], never: bool) -> Tally:
        lasts = [min((r.last for r in of), default=len(STATES)) for of in cases]
        stays = (max(lasts), min(lasts))
        if never:
            return Tally(place, None, None, stays)
        least, most = zip(*(self._frames(of) for of in cases), strict=True)
        return Tally(place, _each(min, least), _each(max, most), stays)

    def _frames(self, of: Sequence[Reading]) -> tuple[Frames, Frames]:
        """Least and most frames of several lines with one phase, each at its worst state."""
        lines = {reading.line: reading for reading in of}
        if not lines:
            return Frames(), Frames()
        if len(lines) == 1:
            return of[0].least, of[0].most
        count = over_phase_together([(1, line) for line in sorted(lines)], self.frame).anywhere
        return count.least, count.most


def _each(choose: Callable[[Iterable[int]], int], of: Iterable[Frames]) -> Frames:
    return Frames(*(choose(counts) for counts in zip(*of, strict=True)))


def _unmerged(part: Reach) -> Reach:
    """The same part of a rig in which everything stands for itself."""
    return replace(
        part,
        things={number: number for number in part.things},
        nodes={number: number for number in part.nodes},
        stands_for={number: number for number in part.nodes},
        cabinets={number: number for number in part.cabinets},
    )


def course(line: Line, frame: int, end: int) -> Course:
    """A line (flicks, quality) as steps of whole frames, from frame 0 to `end`."""
    spans = frames_in_states(line, frame, end * frame)
    steps = sorted((start, state) for state, of in enumerate(spans) for start, _ in of)
    return tuple(steps)
