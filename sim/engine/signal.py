"""What each cell shows: pure functions over signals, pictures and stacks of layers.

In: what a run recorded (`Trace`: who showed which signal from which flick on). Out: for each
cell a step function of its quality, sorted (start flick, quality 0..6) from 0 on.
A signal is (quality, picture); a picture is None, the name of a carrier (live), or `Kept`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

from sim.faults import Quality
from sim.rig.topology import UNCOVERED, Placement, Rig, Stack

T = TypeVar("T")
FROZEN = int(Quality.FROZEN)
WRONG = int(Quality.WRONG)
GOOD = int(Quality.GOOD)


class Kept(NamedTuple):
    """A picture that stands: the arrangement and the quality of every layer (7: left out), as they
    were.
    """

    arrangement: str
    layers: tuple[tuple[str, int], ...]


Picture = str | Kept | None
Signal = tuple[int, Picture]
Line = list[tuple[int, int]]
"""A step function: (start flick, quality), sorted, from 0 on."""


@dataclass(frozen=True, slots=True)
class Note:
    """Something that happened in a run: when (flicks), to what, which kind of event, and the other
    party if there is one.
    """

    at: int
    name: str
    what: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Trace:
    """What a run recorded.

    `shown`: cabinet -> [(flick, signal)]; `pictures`: carrier -> [(flick, Kept)] (its arrangement
    and layers, live); `wanted`: group -> [(flick, arrangement)]; `notes`: events in order;
    `pending`: timers that had not run out at the end, as notes at the flick when they would;
    `used`: timing keys that a timer was set by; `otherwise`: numbers of nodes that send something
    else at the end than with nothing wrong, `chose`: of those that then choose otherwise or have
    taken another arrangement; `altered` and `took`: of those that ever sent something else, of
    carriers that ever took another arrangement; `examined`: how many of its inputs a
    selector ever looked at, in order, before it was content; `repeat`: (first, second) flicks
    between which a flapping rig repeats itself, if it was asked for and found; `last`: the flick
    of the last thing that was looked at, from which on no timer runs.
    """

    until: int
    shown: Mapping[str, Sequence[tuple[int, Signal]]]
    pictures: Mapping[str, Sequence[tuple[int, Kept]]]
    wanted: Mapping[str, Sequence[tuple[int, str]]]
    notes: Sequence[Note] = ()
    pending: Sequence[Note] = ()
    used: frozenset[str] = field(default_factory=frozenset)
    otherwise: frozenset[int] = field(default_factory=frozenset)
    chose: frozenset[int] = field(default_factory=frozenset)
    altered: frozenset[int] = field(default_factory=frozenset)
    took: frozenset[int] = field(default_factory=frozenset)
    examined: Mapping[int, int] = field(default_factory=dict)
    repeat: tuple[int, int] | None = None
    last: int = 0


def frozen(quality: int) -> int:
    """The quality of something that stands still: at most frozen; a layer that is left out stays
    so.
    """
    return quality if quality == UNCOVERED else min(quality, FROZEN)


def still(picture: Kept) -> Kept:
    """A live picture's layers as a kept picture holds them."""
    return Kept(picture.arrangement, tuple((name, frozen(q)) for name, q in picture.layers))


def seen(stack: Stack, picture: Kept) -> tuple[Placement | None, int]:
    """The topmost layer over a stack that is not left out, and its quality; below all the
    background, good.
    """
    qualities = dict(picture.layers)
    for placement in stack[picture.arrangement]:
        quality = qualities[placement.layer]
        if quality != UNCOVERED:
            return placement, quality
    return None, GOOD


def cell_quality(stack: Stack, quality: int, picture: Kept, wanted: str) -> int:
    """The quality of a cell: the worse of the carrier and the layer seen, which is at best wrong if
    it is not the one wanted.
    """
    placement, layer = seen(stack, picture)
    intended = next(iter(stack[wanted]), None)
    return min(quality, layer if placement == intended else min(layer, WRONG))


def cabinet_line(
    stack: Stack,
    shown: Sequence[tuple[int, Signal]],
    pictures: Mapping[str, Sequence[tuple[int, Kept]]],
    wanted: Sequence[tuple[int, str]],
) -> Line:
    """The quality of the cells with this stack, on a cabinet that shows these signals."""
    line: Line = []
    for start, end, (quality, picture) in _spans(shown):
        for at, now, target in _views(start, end, picture, pictures, wanted):
            level = cell_quality(stack, quality, now, target) if now is not None else 0
            if not line or line[-1][1] != level:
                line.append((at, level))
    return line


def _spans(
    steps: Sequence[tuple[int, Signal]],
) -> Iterator[tuple[int, int | None, Signal]]:
    for number, (start, signal) in enumerate(steps):
        yield start, steps[number + 1][0] if number + 1 < len(steps) else None, signal


def _views(
    start: int,
    end: int | None,
    picture: Picture,
    pictures: Mapping[str, Sequence[tuple[int, Kept]]],
    wanted: Sequence[tuple[int, str]],
) -> Iterator[tuple[int, Kept | None, str]]:
    """Every instant in [start, end) from which the picture or the intention is another one."""
    if picture is None:
        yield start, None, ""
        return
    live = pictures[picture] if isinstance(picture, str) else [(0, picture)]
    if len(live) == 1 and len(wanted) == 1:
        yield start, live[0][1], wanted[0][1]
        return
    steps = {start, *(at for at, _ in (*live, *wanted) if at > start and (end is None or at < end))}
    for at in sorted(steps):
        yield at, at_time(live, at), at_time(wanted, at)


def at_time(steps: Sequence[tuple[int, T]], at: int) -> T:
    """The value of a step function at a flick not before its first step."""
    return next(value for start, value in reversed(steps) if start <= at)


def cell_lines(rig: Rig, trace: Trace) -> dict[tuple[str, int], Line]:
    """For each (group, number of the cell in it) the step function of its quality."""
    return {
        (group.name, number): cabinet_line(
            group.stacks[cell.stack],
            trace.shown[cell.cabinet],
            trace.pictures,
            trace.wanted[group.name],
        )
        for group in rig.groups.values()
        for number, cell in enumerate(group.cells)
    }
