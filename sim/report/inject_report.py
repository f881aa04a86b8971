"""One injection told for people: what happened when, what each part lost, the wall at its worst.

In: a frozen `Injection`, its `Rig`, what was injected, the scenario. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sim.limits.findings import grouped
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Lines, Para, Points, Table
from sim.report.events import events
from sim.report.words import counted, harmless, listed, plain, share, wall_words
from sim.rig.topology import Rig
from sim.scenario.scenario import Scenario, Variant
from sim.study.effects import STATES
from sim.study.injection import LETTERS, Injection, Toll, WallMoment
from sim.study.mirrors import PICTURE
from sim.timebase import Rate, show_time
from sim.timecode import time_code

CORNERS = {
    "all-least": "every timing at its least, what shelters the picture at its most",
    "typical": "every timing at its typical value",
    "all-most": "every timing at its most, what shelters the picture at its least",
}
THIS_RUN = FLASHING.replace("some faults here make", "this run makes")
LEGEND = (
    "D dark, C corrupt (torn or sparkling), W wrong picture, F frozen, U unlocked, . lit; a small "
    "letter: only a part of the cabinet"
)
MOST_EVENTS = 200


@dataclass(frozen=True, slots=True)
class Told:
    """Everything that the report of one injection needs."""

    scenario: Scenario
    variants: tuple[Variant, ...]
    rig: Rig
    faults: tuple[str, ...]
    failing: tuple[str, ...]
    result: Injection


def inject_blocks(told: Told) -> Blocks:
    """The whole report."""
    result = told.result
    found: list[Block] = [
        Heading(f"{told.scenario.title}: what happens after {listed(told.faults)}", 1),
        Para(_lead(told)),
        *([Para(THIS_RUN, warning=True)] if result.flashes > 3 else []),
        Heading("What happened"),
        *_events(told),
        Heading("What was lost"),
        *_tolls(told),
        Para(
            "Frames are whole frames of the show; each is counted once, at the worst state that "
            "any part has in it. most not lit: the greatest area at one instant. An audience area "
            "sees a pixel of a mirrored picture if any wall in its view shows it lit."
        ),
        *_moments(told),
        *_pending(told),
        Heading("Cautions"),
        CAUTIONS,
    ]
    return tuple(found)


def _lead(told: Told) -> str:
    topologies = ", ".join(f"{v.group}: {harmless(v.label)}" for v in told.variants)
    failing = listed(map(plain, told.failing))
    fails = f" When called on, these changeovers fail: {failing}." if failing else ""
    return (
        f"Topologies: {topologies}. One run from the start of the show to its end, with "
        f"{CORNERS[told.result.corner]}.{fails} {_outcome(told.result.tolls)}"
    )


def _outcome(tolls: Iterable[Toll]) -> str:
    groups = [toll for toll in tolls if toll.kind == "group"]
    lost = [toll for toll in groups if toll.first is not None]
    if not lost:
        return "Nobody sees anything of it."
    parts = []
    for toll in lost:
        dark = f", {grouped(toll.frames.dark)} of them dark" if toll.frames.dark else ""
        end = "; at the end of the show it is not lit everywhere" if toll.at_end else ""
        frames = counted(_lost(toll), "frame")
        parts.append(f"{toll.group} is not lit everywhere in {frames}{dark}{end}")
    rest = [toll.group for toll in groups if toll.first is None]
    return "; ".join(parts) + (f"; {listed(rest)} loses nothing." if rest else ".")


def _lost(toll: Toll) -> int:
    return sum(toll.frames[:5])


def moment(at: int, told: Scenario) -> str:
    """An instant as the time code of the frame that it lies in."""
    return time_code(at // told.rate.frame, told.rate, told.start)


def _events(told: Told) -> Iterator[Block]:
    found = events(told.rig, told.result.notes)
    scenario = told.scenario
    rows = tuple(
        (moment(e.at, scenario), str(e.at // scenario.rate.frame), _since(e.at, told), e.text)
        for e in found[:MOST_EVENTS]
    )
    yield Table(("time code", "frame", "after", "what"), rows, frozenset({1, 2}))
    if len(found) > MOST_EVENTS:
        yield Para(f"{len(found) - MOST_EVENTS} more events: --format csv has all.")


def _since(at: int, told: Told) -> str:
    """The time since the first thing that happened."""
    first = told.result.notes[0].at
    return "" if at == first else f"+{show_time(at - first, told.scenario.rate)}"


def _tolls(told: Told) -> Iterator[Block]:
    """A line for each part that loses something; a group's only wall is the group."""
    walls = {name: len(group.walls) for name, group in told.rig.groups.items()}
    shown = [t for t in told.result.tolls if t.kind != "wall" or walls[t.group] > 1]
    lost = [toll for toll in shown if toll.first is not None]
    if lost:
        head = ("part", *STATES, "first frame not lit", "last", "most not lit")
        rows = tuple(_toll(toll, told.scenario) for toll in lost)
        yield Table(head, rows, frozenset(range(1, 6)))
    rest = [_part(toll) for toll in shown if toll.first is None]
    if rest:
        yield Para(f"Nothing was lost in {listed(rest)}.")


def _part(toll: Toll) -> str:
    name = harmless(toll.name)
    if toll.kind == "wall":
        return wall_words(name)
    if toll.kind != "view":
        return f"{toll.kind} {name}"
    seen = name if toll.name == PICTURE else f"what {name} sees"
    return f"{seen} of {toll.group}"


def _toll(toll: Toll, scenario: Scenario) -> tuple[str, ...]:
    name = _part(toll)
    frames = tuple(grouped(n) if n else "-" for n in toll.frames[:5])
    if toll.first is None or toll.last is None:
        return (name, *frames, "-", "-", "-")
    first = time_code(toll.first, scenario.rate, scenario.start)
    last = time_code(toll.last, scenario.rate, scenario.start)
    worst = "\n".join(f"{share(part)} {state}" for state, part in toll.worst.items())
    return (name, *frames, first, "to the end" if toll.at_end else last, worst)


def _moments(told: Told) -> Iterator[Block]:
    shown = [m for m in told.result.moment if any(c not in ". " for row in m.rows for c in row)]
    if not shown:
        return
    yield Heading("The walls at the worst moment")
    yield Para(f"At {moment(told.result.worst_at, told.scenario)}, seen from the front. {LEGEND}.")
    for wall in shown:
        yield Lines((wall_words(wall.wall), *_grid(wall)))
    whole = [m.wall for m in told.result.moment if m not in shown]
    if whole:
        yield Para(f"Lit everywhere: {listed(map(wall_words, whole))}.")


def _grid(wall: WallMoment) -> Iterator[str]:
    wide = len(str(len(wall.rows)))
    for number, row in enumerate(wall.rows, 1):
        yield f"  r{number:<{wide}}  {row}"
    columns = len(wall.rows[0]) if wall.rows else 0
    yield " " * (5 + wide) + "".join(str(c % 10) for c in range(1, columns + 1)) + "  column"


def _pending(told: Told) -> Iterator[Block]:
    yield Heading("Still to come when the show ends")
    rate: Rate = told.scenario.rate
    end = told.rig.length
    late = told.result.pending
    texts = [f"{plain(n.name)}: {show_time(n.at - end, rate)} later" for n in late]
    yield Points(tuple(texts[:20])) if texts else Para("Nothing: every start and wait has ended.")


__all__ = ["LETTERS", "Told", "inject_blocks", "moment"]
