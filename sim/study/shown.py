"""The lines that any faults make of a group, with nothing read out of them.

In: a `Laboratory`, faults, selectors that fail to change over. Out: a frozen `Shown`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sim.faults import Fault, Script
from sim.study.effects import LIT, Line, Share
from sim.study.laboratory import Laboratory
from sim.study.mirrors import best_of
from sim.study.settled import Cast, Settled, Spread


@dataclass(frozen=True, slots=True)
class Shown:
    """`lines`: what is not always lit, with what shows it; `views`: the same of mirrored walls
    seen together, with areas (pixels); `settled`: the flick from which nothing changes (for a
    flapping rig: repeats between the flicks of `repeat`).
    """

    lines: tuple[tuple[Line, Share], ...]
    views: Mapping[str, tuple[tuple[Line, int], ...]]
    settled: int
    repeat: tuple[int, int] | None = None


def shown(
    laboratory: Laboratory, faults: Sequence[Fault], failing: Sequence[str] = (), once: bool = False
) -> Shown:
    """What a group shows under these faults with all timings typical; `once`: not remembered."""
    struck = (*(fault.thing for fault in faults), *failing)
    cast = laboratory.cast(struck)
    if once:
        found = laboratory.play(cast, Script(tuple(faults), (), frozenset(failing)), "typical")
    else:
        found = laboratory.settle(cast, faults, "typical", failing)
    return shown_of(laboratory, cast, found)


def shown_of(laboratory: Laboratory, cast: Cast, found: Settled) -> Shown:
    """What a group shows in a run."""
    spread = laboratory.spread(cast)
    areas = [*spread.shares.items()]
    if laboratory.moved(found):
        areas += spread.elsewhere.items()
    line = _reader(laboratory, found)
    made = [(line(kind, stack), share) for (kind, stack), share in areas]
    repeat = found.trace.repeat
    return Shown(
        lines=tuple((of, share) for of, share in made if of != ALWAYS),
        views=_views(spread, line),
        settled=repeat[0] if repeat else found.trace.last,
        repeat=repeat,
    )


ALWAYS: Line = ((0, LIT),)
Reader = Callable[[Any, int], Line]


def _reader(laboratory: Laboratory, found: Settled) -> Reader:
    made: dict[tuple[Any, int], Line] = {}

    def line(kind: Any, stack: int) -> Line:
        if (kind, stack) not in made:
            steps = [(0, (LIT, kind))] if isinstance(kind, str) else found.shown[kind]
            made[kind, stack] = laboratory.showing.line(found.trace, steps, stack)
        return made[kind, stack]

    return line


def _views(spread: Spread, line: Reader) -> dict[str, tuple[tuple[Line, int], ...]]:
    views: dict[str, tuple[tuple[Line, int], ...]] = {}
    for name, pieces in spread.together.items():
        areas: dict[Line, int] = {}
        for spots, area in pieces.items():
            best = best_of(line(kind, stack) for kind, stack in spots)
            if best != ALWAYS:
                areas[best] = areas.get(best, 0) + area
        views[name] = tuple(areas.items())
    return views
