"""One injection told for people: what happened when, what each part lost, the wall at its worst and
when the show ends.

In: a frozen `Injection`, its `Rig`, what was injected, the scenario. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.limits.findings import grouped
from sim.report.blocks import CAUTIONS, FLASHING, Block, Blocks, Heading, Lines, Para, Points, Table
from sim.report.events import Run, events, folded
from sim.report.words import counted, harmless, listed, plain, share, wall_words
from sim.rig.topology import Rig
from sim.scenario.scenario import Scenario, Variant
from sim.study.effects import STATES
from sim.study.injection import LETTERS, Injection, Toll, WallMoment
from sim.study.mirrors import PICTURE
from sim.timebase import Rate, clock_time, show_time
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
ONLY_CAMERAS = " (only cameras see it)"


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
        Para(" ".join(lead_of(told))),
        *([Para(THIS_RUN, warning=True)] if result.flashes > 3 else []),
        Heading("What happened"),
        *_events(told),
        Heading("What was lost"),
        *_tolls(told),
        Para(
            "Frames are whole frames of the show; each is counted once, at the worst state that "
            "any part has in it. Shares are of the area. An audience area sees a pixel of a "
            "mirrored picture if any wall in its view shows it lit."
        ),
        *_worst_moment(told),
        *_end(told),
        *_pending(told),
        Heading("Cautions"),
        CAUTIONS,
    ]
    return tuple(found)


def lead_of(told: Told) -> tuple[str, str, str]:
    """What was run, how, and what came of it."""
    topologies = ", ".join(f"{v.group}: {harmless(v.label)}" for v in told.variants)
    failing = listed(map(plain, told.failing))
    fails = f" When called on, these changeovers fail: {failing}." if failing else ""
    return (
        f"Topologies: {topologies}.",
        "One run from the start of the show to its end, with "
        f"{CORNERS[told.result.corner]}.{fails}",
        _outcome(told.result.tolls),
    )


def _outcome(tolls: Iterable[Toll]) -> str:
    """What each group shows for how many frames, and what is left of it at the end."""
    groups = [toll for toll in tolls if toll.kind == "group"]
    lost = [toll for toll in groups if toll.first is not None]
    if not lost:
        return "Nobody sees anything of it."
    parts = [f"Group {harmless(toll.name)}: {_frames(toll)}; {_left(toll)}." for toll in lost]
    rest = [f"group {harmless(toll.name)}" for toll in groups if toll.first is None]
    return " ".join([*parts, *([f"Nothing is lost in {listed(rest)}."] if rest else [])])


def _frames(toll: Toll) -> str:
    """`11 frames dark and 3 unlocked, which only cameras see`."""
    found = [(number, state) for number, state in zip(toll.frames, STATES, strict=False) if number]
    texts = [f"{grouped(number)} {state}" for number, state in found]
    (number, state), *_ = found
    texts[0] = f"{counted(number, 'frame')} {state}"
    return listed(texts) + (ONLY_CAMERAS if state == STATES[-1] else "")


def _left(toll: Toll) -> str:
    if not toll.end:
        return "all of it is lit at the end of the show"
    return f"at the end of the show {listed(_shares(toll.end))}"


def _shares(parts: Mapping[str, Fraction]) -> list[str]:
    return [f"{share(part)} {state}" for state, part in parts.items()]


def moment(at: int, told: Scenario) -> str:
    """An instant as the time code of the frame that it lies in."""
    return time_code(at // told.rate.frame, told.rate, told.start)


def _events(told: Told) -> Iterator[Block]:
    found = folded(events(told.rig, told.result.notes))
    yield from _before(told)
    if not found:
        return
    scenario = told.scenario
    rows = tuple(
        (
            moment(e.at, scenario),
            str(e.at // scenario.rate.frame),
            _since(e.at, told),
            _said(r, told),
        )
        for r in found[:MOST_EVENTS]
        for e in [r.event]
    )
    yield Table(("time code", "frame", "after", "what"), rows, frozenset({1, 2}))
    if len(found) > MOST_EVENTS:
        yield Para(f"{len(found) - MOST_EVENTS} more events: --format csv has all.")


def _said(run: Run, told: Told) -> str:
    """An event, and how it goes on where many like ones follow it."""
    if not run.more:
        return run.event.text
    every = show_time(run.every, told.scenario.rate)
    until = moment(run.until, told.scenario)
    return f"{run.event.text}; and so on, every {every}, {run.more} times more, until {until}"


def _before(told: Told) -> Iterator[Block]:
    """What stands from before the show happens at no instant of it."""
    earlier = [fault for fault in told.faults if BEFORE in fault]
    if not earlier:
        return
    stand = "stands" if len(earlier) == 1 else "stand"
    names = listed(map(harmless, earlier))
    said = f"{names}: {stand} from before the show, so at no instant in it."
    lost = any(toll.first is not None for toll in told.result.tolls)
    if len(earlier) == len(told.faults) and not lost:
        said += (
            " Nobody sees it. Whether a second fault would then cost more, so that it is latent, "
            "is told by `staylit faults`."
        )
    yield Para(said)


BEFORE = "before the show"


def _since(at: int, told: Told) -> str:
    """The time since the first thing that happened."""
    first = told.result.notes[0].at
    return "" if at == first else f"+{clock_time(at - first)}"


def _tolls(told: Told) -> Iterator[Block]:
    """A line for each part that loses something; a group's only wall is the group."""
    walls = {name: len(group.walls) for name, group in told.rig.groups.items()}
    shown = [t for t in told.result.tolls if t.kind != "wall" or walls[t.group] > 1]
    lost = [toll for toll in shown if toll.first is not None]
    if lost:
        yield toll_table(lost, told.scenario)
        yield Table(
            ("share", "most at one instant", "at the end of the show"), tuple(map(_area, lost))
        )
    rest = [_part(toll) for toll in shown if toll.first is None]
    if rest:
        yield Para(f"Nothing was lost in {listed(rest)}.")


def toll_table(tolls: Sequence[Toll], scenario: Scenario) -> Table:
    """Frames in each state that any of these parts is in."""
    states = [n for n, _ in enumerate(STATES) if any(toll.frames[n] for toll in tolls)]
    names = (STATES[n] for n in states)
    rows = tuple(_toll(toll, states, scenario) for toll in tolls)
    return Table(("frames", *names, "first", "last"), rows, frozenset(range(1, len(states) + 1)))


def _part(toll: Toll) -> str:
    name = harmless(toll.name)
    if toll.kind == "wall":
        return wall_words(name)
    if toll.kind != "view":
        return f"{toll.kind} {name}"
    seen = name if toll.name == PICTURE else f"what {name} sees"
    return f"{seen} of {toll.group}"


def _toll(toll: Toll, states: Iterable[int], scenario: Scenario) -> tuple[str, ...]:
    name = _part(toll)
    frames = tuple(grouped(toll.frames[n]) if toll.frames[n] else "-" for n in states)
    if toll.first is None or toll.last is None:
        return (name, *frames, "-", "-")
    first = time_code(toll.first, scenario.rate, scenario.start)
    last = time_code(toll.last, scenario.rate, scenario.start)
    return (name, *frames, first, "to the end" if toll.at_end else last)


def _area(toll: Toll) -> tuple[str, ...]:
    return (_part(toll), ", ".join(_shares(toll.worst)), ", ".join(_shares(toll.end)) or "lit")


def _worst_moment(told: Told) -> Iterator[Block]:
    if any(map(_hurt, told.result.moment)):
        yield Heading("The walls at the worst moment")
        yield Para(
            f"At {moment(told.result.worst_at, told.scenario)}, seen from the front. {LEGEND}."
        )
        yield from _walls(told.result.moment)


def _end(told: Told) -> Iterator[Block]:
    """The walls when the show ends, unless nothing ever showed."""
    result = told.result
    if not any(map(_hurt, result.moment)):
        return
    yield Heading("The walls at the end of the show")
    since = f"Nothing has changed on them since {moment(result.changed_at, told.scenario)}."
    if not any(map(_hurt, result.at_end)):
        yield Para(f"{since} All walls are lit everywhere.")
    elif result.at_end == result.moment:
        yield Para(f"{since} They stay as they were at the worst moment.")
    else:
        yield Para(since)
        yield from _walls(result.at_end)


def _hurt(wall: WallMoment) -> bool:
    return any(letter not in ". " for row in wall.rows for letter in row)


def _walls(found: Sequence[WallMoment]) -> Iterator[Block]:
    for wall in filter(_hurt, found):
        yield Lines((wall_words(wall.wall), *_grid(wall)))
    whole = [wall_words(wall.wall) for wall in found if not _hurt(wall)]
    if whole:
        yield Para(f"Lit everywhere: {listed(whole)}.")


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


__all__ = ["LETTERS", "Told", "inject_blocks", "lead_of", "moment", "toll_table"]
