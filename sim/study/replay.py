"""What every single fault does to a wall group, frame by frame, for somebody who wants to watch it.

In: a `Laboratory` and strikes at the first instant of the show; or one run of any script. Out: a
frozen `Replays`. Frames are counted from 0, the frame that the fault strikes in; all timings are
typical, but for the frames lost (`Tally`), which run over the phase and over the ranges of the
timings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from sim.engine.signal import Note, Trace
from sim.faults import Script
from sim.rig.topology import Rig
from sim.study.effects import LIT, STATES, Canvas, Effect, Line, Patch, Reading, read
from sim.study.flashing import flashes
from sim.study.injection import shown_on
from sim.study.laboratory import Laboratory
from sim.study.ledger import Frames, over_phase_together
from sim.study.mirrors import Kind
from sim.study.named import Namer
from sim.study.outcome import Outcome
from sim.study.rows import flashes_of, weakest
from sim.study.screen import Course, Screen, Shown, Target
from sim.study.settled import Settled
from sim.study.strikes import Strike

AFTER = 30
"""Frames that are shown after the last change."""
ALWAYS: Line = ((0, LIT),)


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
    """All faults of one topology of a group that can be noticed there. `origin`: the frame of the
    show that frames are counted from.
    """

    group: str
    spots: tuple[Patch, ...]
    targets: tuple[Target, ...]
    replays: tuple[Replay, ...]
    origin: int = 0


def replays(laboratory: Laboratory, struck: Iterable[Strike]) -> Replays:
    """Every strike of these that can be noticed in the group."""
    stage = _Stage(laboratory)
    found = tuple(stage.replay(strike) for strike in struck if laboratory.concerns(strike))
    return Replays(laboratory.group.name, stage.screen.spots, stage.screen.targets, found)


def scripted(rig: Rig, group: str, script: Script, trace: Trace, texts: Sequence[str]) -> Replays:
    """One run of the whole rig, to the end of the show, as the only fault: `texts` say what was
    asked for. Frames are counted from the one that the first of its faults strikes in.
    """
    screen = Screen(Canvas(rig, rig.groups[group]))
    number = {(patch.cabinet, patch.stack): n for n, patch in enumerate(screen.spots)}
    lines = {number[p.cabinet, p.stack]: line for p, line in shown_on(screen.canvas, trace)}
    shown = {n: line for n, line in sorted(lines.items()) if line != ALWAYS}
    origin = max(0, min((fault.at for fault in script.faults), default=0)) // rig.frame
    end = told_until(screen, shown, trace, origin)
    everything = [(lines[n], patch.area) for n, patch in enumerate(screen.spots)]
    replay = Replay(
        strike=Strike("; ".join(texts), "as asked", script.faults, "script", group),
        verdict=_verdict(shown.values()),
        grade="",
        raced=False,
        flashes=flashes(everything, screen.canvas.area),
        courses=screen.courses(shown, end, origin),
        end=end,
        repeat=None,
        notes=tuple(replace(note, at=note.at - origin * rig.frame) for note in trace.notes),
        tallies=(),
        played=screen.played(shown, end, origin),
    )
    return Replays(group, screen.spots, screen.targets, (replay,), origin)


def _verdict(lines: Iterable[Line]) -> str:
    ends = [line[-1][1] for line in lines]
    return "unseen" if not ends else "lasting" if min(ends) < LIT else "blink"


def told_until(screen: Screen, shown: Shown, trace: Trace, origin: int = 0) -> int:
    """Frames from the origin until nothing changes any more, and a few."""
    changes = [at for line in shown.values() for at, _ in line]
    last = max([*changes, *(note.at for note in trace.notes), *(trace.repeat or ())], default=0)
    after = -(-last // screen.frame) - origin + AFTER
    return max(1, min(after, screen.frames_left(origin)))


class _Stage:
    """A laboratory with its walls; remembers what strikes that are alike lose."""

    def __init__(self, laboratory: Laboratory) -> None:
        self.laboratory = laboratory
        self.screen = Screen(laboratory.canvas)
        self.namer = Namer(laboratory)
        self.spot_of = {
            laboratory.cabinet_number[name]: of for name, of in self.screen.spot_of.items()
        }
        self.tallied: dict[tuple[int, int], tuple[Tally, ...]] = {}

    def replay(self, strike: Strike) -> Replay:
        outcome = self.laboratory.outcome(strike)
        found = self.laboratory.settled(strike)
        trace, shown = found.trace, self._shown(strike, found)
        end = told_until(self.screen, shown, trace)
        return Replay(
            strike=strike,
            verdict=outcome.verdict,
            grade=weakest(outcome.distinct, self.laboratory.rig.timings),
            raced=bool(outcome.races),
            flashes=max(flashes_of(e, self.laboratory.canvas.area) for e in outcome.distinct),
            courses=self.screen.courses(shown, end),
            end=end,
            repeat=trace.repeat,
            notes=self.namer.notes(found, self.laboratory.part(strike), strike.struck),
            tallies=self._tallies(strike),
            played=self.screen.played(shown, end),
        )

    def _shown(self, strike: Strike, found: Settled) -> Shown:
        """What spots show that are not lit all the time; where a picture changes, also those that
        notice nothing else.
        """
        laboratory = self.laboratory
        kinds: dict[int, Kind] = {**laboratory.part(strike).cabinets}
        if laboratory.moved(found):
            kinds = {**laboratory.undisturbed.carriers, **kinds}
        shown = {
            number: laboratory.showing.of(found, kind, stack).line
            for cabinet, kind in kinds.items()
            for number, stack in self.spot_of.get(cabinet, ())
        }
        return {number: line for number, line in sorted(shown.items()) if line != ALWAYS}

    def _tallies(self, strike: Strike) -> tuple[Tally, ...]:
        """Worked out once for all strikes that do the same to like parts of the walls."""
        laboratory = self.laboratory
        cast = laboratory.cast(strike.struck)
        key = (id(laboratory.outcome(strike).effects), laboratory.spread(cast).alike)
        if key not in self.tallied:
            self.tallied[key] = tuple(self._tallied(laboratory.outcome(strike)))
        return self.tallied[key]

    def _tallied(self, outcome: Outcome) -> Iterator[Tally]:
        for place, target in enumerate(self.screen.targets):
            cases = [[*self._read(effect, target)] for effect in outcome.distinct]
            if any(cases):
                never = any(effect.repeat for effect in outcome.distinct)
                yield self._tally(place, cases, never)

    def _read(self, effect: Effect, target: Target) -> Iterator[Reading]:
        """What was read of the lines that a target shows and that are not always lit."""
        if target.kind == "view":
            lines = effect.views[target.name].lines if effect.views else ()
            read_of = (
                read(line, self.screen.frame, self.screen.length, effect.repeat)
                for line, _ in lines
            )
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
        count = over_phase_together(
            [(1, line) for line in sorted(lines)], self.screen.frame
        ).anywhere
        return count.least, count.most


def _each(choose: Callable[[Iterable[int]], int], of: Iterable[Frames]) -> Frames:
    return Frames(*(choose(counts) for counts in zip(*of, strict=True)))
