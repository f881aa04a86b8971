"""What a filled test sheet shows: what was tested when, which timings it narrows, what contradicts.

In: a frozen `Rig`, the rows of a filled sheet. Out: a frozen `Proof`. Frames of the camera narrow
the timings that a pull used (`narrowing`); pulls that worked date the things that carried the show
meanwhile. Times are flicks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from sim.practice.filled import Filled
from sim.practice.filming import Walls
from sim.practice.meter import BACK, PULLED, Known, Meter
from sim.practice.narrowing import Box, Clash, Count, narrow
from sim.practice.protections import Protection
from sim.practice.pulls import Bench, Pull
from sim.practice.testsheet import Step, step_of
from sim.rig.topology import Rig, corner
from sim.study.outcome import CORNERS
from sim.timebase import Timing

BETWEEN = 6
"""Points within the ranges at which outages are counted, besides the corners."""


@dataclass(frozen=True, slots=True)
class Trial:
    """A row of the sheet, and what the model expects of that pull."""

    row: Filled
    step: Step


@dataclass(frozen=True, slots=True)
class Better:
    """A timing that counts narrowed: its key, what it was, what it is, and by which counts."""

    key: str
    before: Timing
    after: Timing
    by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """`failed`: rows whose backup did not take over, `lost` their protections; `clashes`: counts
    that contradict the model or each other; `unused`: counts that tell nothing, with the reason;
    `tried`: protections that are proved to work; `left`: those that no row tried.
    """

    trials: tuple[Trial, ...]
    failed: tuple[Trial, ...]
    better: tuple[Better, ...]
    clashes: tuple[Clash, ...]
    unused: tuple[tuple[str, str], ...]
    tried: tuple[Protection, ...]
    lost: tuple[Protection, ...]
    left: tuple[Protection, ...]


def proof(
    rig: Rig,
    rows: Iterable[Filled],
    wanted: Callable[[Protection], bool] = lambda each: True,
) -> Proof:
    """What the rows show. `wanted`: the protections that the sheet is about."""
    bench, walls = Bench(rig), Walls(rig)
    trials = tuple(_trial(bench, walls, row) for row in rows)
    worked = [trial for trial in trials if trial.row.worked]
    counts, useless = _counts(bench, walls, worked)
    made = narrow(rig.timings, counts, rig.frame)
    failed = [trial for trial in trials if not trial.row.worked]
    tried = _acts(worked)
    lost = _acts(failed) - tried
    raced = [
        (label, "it does not rise with every timing: protections race") for label in made.unused
    ]
    return Proof(
        trials=trials,
        failed=tuple(failed),
        lost=tuple(p for p in bench.protections if p in lost),
        better=tuple(_better(rig.timings, made.box, made.by)),
        clashes=made.clashes,
        unused=(*useless, *raced),
        tried=tuple(p for p in bench.protections if p in tried),
        left=tuple(p for p in bench.protections if p not in tried | lost and wanted(p)),
    )


def _acts(trials: Iterable[Trial]) -> frozenset[Protection]:
    return frozenset(each for trial in trials for each in trial.step.acts)


def _trial(bench: Bench, walls: Walls, row: Filled) -> Trial:
    return Trial(row, step_of(bench, walls, row.pull, bench.acts(row.pull), {}))


def _better(box: Box, made: Box, by: Mapping[str, tuple[str, ...]]) -> Iterator[Better]:
    for key, labels in by.items():
        before, after = box[key], made[key]
        inside = after.least <= before.typical <= after.most
        typical = before.typical if inside else (after.least + after.most) // 2
        now = replace(after, typical=typical, grade=_grade(before, after))
        yield Better(key, before, now, labels)


def _grade(before: Timing, after: Timing) -> str:
    """Measured, if no more than half of the range is left."""
    halved = 2 * (after.most - after.least) <= before.most - before.least
    return "measured" if halved else before.grade


# ---- what a count speaks of


def _counts(
    bench: Bench, walls: Walls, trials: Sequence[Trial]
) -> tuple[list[Count], list[tuple[str, str]]]:
    """The counts that tell a time, and those that do not."""
    found: list[Count] = []
    useless: list[tuple[str, str]] = []
    for trial in trials:
        for phase, frames in ((PULLED, trial.row.pulled), (BACK, trial.row.back)):
            if frames is None:
                continue
            label = f"line {trial.row.line}, {trial.row.pull.name}, {phase}"
            if trial.step.filmed.lasting:
                useless.append((label, "it stays so until it is put back"))
            else:
                found.append(_count(bench, walls, trial, phase, frames, label))
    return found, useless


def _count(bench: Bench, walls: Walls, trial: Trial, phase: str, frames: int, label: str) -> Count:
    meter = Meter(bench, walls, trial.step, phase)
    pull, hold = trial.step.pull, trial.step.hold
    traces = {w: bench.play(pull, corner(bench.rig, w), hold) for w in CORNERS}
    used = frozenset[str]().union(*(trace.used for trace in traces.values()))
    held = {thing.hold_up for thing in bench.rig.things.values()}
    timings = bench.rig.timings
    keys = [k for k in timings if k in used - held and timings[k].least < timings[k].most]
    times = max(meter.times(values) for values in _points(bench.rig, label))
    cost, test = Known(meter, keys), f"line {trial.row.line}"
    return Count(label, frames, trial.row.rate, max(times, 1), cost, tuple(keys), test)


def _points(rig: Rig, label: str) -> Iterator[dict[str, int]]:
    """The corners of all timings, and a few values between them."""
    yield from (corner(rig, which) for which in CORNERS)
    draw = Random(label)
    for _ in range(BETWEEN):
        yield {key: draw.randint(t.least, t.most) for key, t in rig.timings.items()}


def by_name(pulls: Iterable[Pull]) -> dict[str, Pull]:
    """Pulls by what a sheet calls them."""
    return {pull.name: pull for pull in pulls}
