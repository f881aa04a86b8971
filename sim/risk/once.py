"""A long part of a show, told once: one run of the engine that goes on from event to event.

In: a `Laboratory`, the hazards of a rig, what is asked, the strikes of a part of a show. Out: for
each event when it happens (flicks of the show) and what it adds (`Profile`), and how far all
spreads.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import groupby

from sim.engine.onward import Onward, Stage
from sim.engine.symmetry import assemble
from sim.faults import OF_ITSELF, Fault, Script
from sim.risk.channels import Asked
from sim.risk.events import LONG, Piece, Struck, moved, ordered
from sim.risk.hazards import Hazard
from sim.risk.profile import Profile, profile
from sim.study.laboratory import Laboratory
from sim.study.ripple import Ripples, Spreading
from sim.study.settled import Cast, read_out
from sim.study.shown import shown_of
from sim.study.strikes import Strike

Numbers = list[int]


@dataclass(frozen=True, slots=True)
class Plot:
    """Faults and failing selectors in the order of a script; for each event its flick and which
    faults begin and end then, by number.
    """

    script: Script
    events: tuple[tuple[int, Numbers, Numbers], ...]


def told_once(
    laboratory: Laboratory,
    ripples: Ripples,
    asked: Asked,
    hazards: Sequence[Hazard],
    strikes: Sequence[Strike],
    part: Sequence[Struck],
) -> tuple[list[Piece], Spreading]:
    """Whatever a part ever changes is taken to stand for good when it is asked what it meets."""
    plot = plot_of(hazards, strikes, part)
    faults = plot.script.faults
    struck = (*(fault.thing for fault in faults), *sorted(plot.script.failing))
    with _aside(laboratory, struck) as cast:
        cone = assemble(laboratory.wiring, cast.part)
        onward = Onward(laboratory.bases["typical"], plot.script, cone)
        for at, begins, ends in plot.events:
            onward.event(at, begins, ends)
        trace = onward.ended(laboratory.rig.length)
        found = read_out(laboratory.wiring, cast, cone, trace, faults)
        made = profile(shown_of(laboratory, cast, found), asked, laboratory.group.audience, 0)
        ever = ripples.ever(cast, found, {fault.mode for fault in faults})
    return cut(made, onward.stages), Spreading(ever, ever)


@contextmanager
def _aside(laboratory: Laboratory, struck: tuple[str, ...]) -> Iterator[Cast]:
    """The cast of these things together, of which nothing is remembered afterwards, nor of any
    number given out meanwhile: ask for no other cast until then.
    """
    tables: tuple[dict[Hashable, int], ...] = (laboratory.kinds.numbers, laboratory.numbers)
    sizes = [len(table) for table in tables]
    try:
        yield laboratory.cast(struck)
    finally:
        laboratory.casts.pop(struck, None)
        laboratory.spreads.pop(struck, None)
        for table, size in zip(tables, sizes, strict=True):
            while len(table) > size:
                table.popitem()


def plot_of(hazards: Sequence[Hazard], strikes: Sequence[Strike], part: Sequence[Struck]) -> Plot:
    """What there was before the show comes first; a loose contact begins with the show."""
    early: list[Fault] = []
    later: list[Fault] = []
    of: dict[tuple[int, int], list[Fault]] = {}
    order = ordered(part)
    for at, (hazard, begins, turn) in order:
        if begins:
            when = -1 if hazards[hazard].early else at
            made = of[hazard, turn] = [moved(f, when, None) for f in strikes[hazard].faults]
            early += [fault for fault in made if fault.at < 0]
            later += [fault for fault in made if fault.at >= 0]
    number = {id(fault): place for place, fault in enumerate([*early, *later])}
    events = []
    for at, group in groupby(order, key=lambda event: event[0]):
        begins_, ends_ = Numbers(), Numbers()
        for _, (hazard, begins, turn) in group:
            faults = of[hazard, turn]
            if begins:
                begins_ += [number[id(f)] for f in faults if f.at >= 0]
            else:
                ends_ += [number[id(f)] for f in faults if f.mode not in OF_ITSELF]
        events.append((at, begins_, ends_))
    failing = frozenset(name for each in part for name in hazards[each.hazard].failing)
    return Plot(Script((*early, *later), (), failing), tuple(events))


def cut(made: Profile, stages: Sequence[Stage]) -> list[Piece]:
    """A profile of a whole run, cut into its stages, each at its flick of the show."""
    ends = [*(stage.at for stage in stages[1:]), LONG]
    return [(s.when, _between(made, s, end)) for s, end in zip(stages, ends, strict=True)]


def _between(made: Profile, stage: Stage, end: int) -> Profile:
    begin, repeat = stage.at, stage.repeat
    standing = [areas for at, areas in made.steps if at <= begin][-1]
    inner = [(at, areas) for at, areas in made.steps if begin < at < (repeat[1] if repeat else end)]
    steps = ((0, standing), *((at - begin, areas) for at, areas in inner))
    settled = steps[-1][0]
    return Profile(steps, settled, repeat and (repeat[0] - begin, repeat[1] - begin))
