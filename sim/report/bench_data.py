"""What every fault does, as JSON for a page on which it can be watched: the break bench.

In: a `Scenario`, and for each topology its `Rig`, `Variant` and frozen `Replays`. Out: a document
of plain lists and numbers, in which equal parts stand once and are spoken of by their number. All
that a page shows comes from here; frames count from the one that the fault strikes in. The
numbers mean:

- `spots`: wall, place, stack; `sets`, `targets`: runs of spots (first, last, first, last ...);
- `courses`: frame, state, frame, state ...; a state (as in `states`) holds until the next;
- `counts`: target, frames by state at least, at most (null: it never settles), the state in which
  it stays at best, at worst; `played`: target, frames by state within the frames told;
- `events` of an outcome: frame, time, kind (as in `kinds`), template;
- `faults`: name, mode, detail, what a report calls it, parts, outcome, counts, played, grade,
  names that fill the templates, whether a race makes the frames no bound.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sim.report.bench_tables import Once, Template, forms, runs, template
from sim.report.events import Teller
from sim.report.scheme import scheme
from sim.report.words import harmless, plain, struck_words, wall_words
from sim.rig.cabinets import beside
from sim.rig.topology import Rig, Stack
from sim.scenario.scenario import Scenario, Variant
from sim.study.deeds import KINDS, deeds, inputs_of
from sim.study.effects import STATES
from sim.study.replay import Replay, Replays
from sim.study.screen import Target
from sim.timebase import FLICKS, clock_time, show_time, whole_frames
from sim.timecode import code_number

FORMAT = "staylit bench 1"
MOST_EVENTS = 2000
"""So many events of one fault are told (a script can have a million)."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One topology to be watched: `about` says what the drawing's numbers mean."""

    variant: Variant
    rig: Rig
    replays: Replays
    about: str = ""


def bench_document(scenario: Scenario, shown: Sequence[Shown]) -> dict[str, Any]:
    """The whole document, for topologies of any groups (first come, first numbered)."""
    groups = list(dict.fromkeys(each.variant.group for each in shown))
    first = {g: next(each for each in shown if each.variant.group == g) for g in groups}
    return {
        "format": FORMAT,
        "title": harmless(scenario.title),
        "clock": _clock(scenario, shown[0].replays.origin if shown else 0),
        "states": [*STATES, "lit"],
        "kinds": list(KINDS),
        "groups": [_group(n, first[g]) for n, g in enumerate(groups)],
        "topologies": [
            _Topology(scenario, each).document(n, groups.index(each.variant.group))
            for n, each in enumerate(shown)
        ],
    }


def _clock(scenario: Scenario, origin: int) -> dict[str, Any]:
    rate = scenario.rate
    return {
        "rate": rate.label,
        "nominal": rate.base,
        "drop": rate.drop_frame,
        "first": code_number(scenario.start, rate) + origin,
        "frames": whole_frames(scenario.length, rate) - origin,
        "frame_flicks": rate.frame,
        "seconds_per_frame": [rate.frame, FLICKS],
    }


def _group(number: int, shown: Shown) -> dict[str, Any]:
    group = shown.rig.groups[shown.variant.group]
    walls = list(group.walls)
    cabinets = Once[str]()
    return {
        "name": harmless(group.name),
        "id": f"group-{number}",
        "spots": [
            [walls.index(p.wall), _place(shown.rig, p.cabinet), p.stack, cabinets.of(p.cabinet)]
            for p in shown.replays.spots
        ],
        "stacks": [_stack(stack) for stack in group.stacks],
        "walls": [
            {"name": harmless(wall), "title": wall_words(wall), "id": f"wall-{number}-{place}"}
            for place, wall in enumerate(walls)
        ],
        "targets": [_target(target) for target in shown.replays.targets],
    }


def _place(rig: Rig, cabinet: str) -> str:
    found = rig.cabinets[cabinet]
    return f"r{found.row + 1}c{found.column + 1}"


def _stack(stack: Stack) -> str:
    """What a stack is made of, by arrangement."""
    made = {
        name: " over ".join([*(harmless(p.layer) for p in of), "background"])
        for name, of in stack.items()
    }
    first = next(iter(made.values()))
    told = [f"{harmless(n)}: {text}" for n, text in [*made.items()][1:] if text != first]
    return "; ".join([first, *told])


def _target(target: Target) -> dict[str, Any]:
    words = {"wall": wall_words(target.name), "view": f"what {harmless(target.name)} sees"}
    title = words.get(target.kind, f"{target.kind} {harmless(target.name)}")
    return {
        "kind": target.kind,
        "name": harmless(target.name),
        "title": title,
        "spots": runs(target.spots),
    }


class _Topology:
    """Gathers what the faults of one topology share."""

    def __init__(self, scenario: Scenario, shown: Shown) -> None:
        self.scenario, self.shown, self.rig = scenario, shown, shown.rig
        self.names, self.words, self.modes = Once[str](), Once[str](), Once[str]()
        self.sets, self.parts = Once[tuple[int, ...]](), Once[tuple[int, ...]]()
        self.courses, self.templates = Once[tuple[int, ...]](), Once[Template]()
        self.counts, self.played, self.outcomes = Once[Any](), Once[Any](), Once[Any]()
        self.teller, self.inputs = Teller(self.rig), inputs_of(self.rig)

    def document(self, number: int, group: int) -> dict[str, Any]:
        variant = self.shown.variant
        faults = [self.fault(replay) for replay in self.shown.replays.replays]
        items = [
            [item.title, [self.names.of(harmless(name)) for name in item.names]]
            for item in scheme(self.rig).items.values()
        ]
        return {
            "group": group,
            "id": f"topology-{number}",
            "label": harmless(variant.label),
            "title": harmless(variant.topology),
            "offered": variant.offered,
            "about": self.shown.about,
            "items": items,
            "cabinets": [*self.cabinets()],
            "names": self.names.values,
            "words": self.words.values,
            "modes": self.modes.values,
            "sets": self.sets.values,
            "parts": self.parts.values,
            "courses": self.courses.values,
            "templates": self.templates.values,
            "counts": self.counts.values,
            "played": self.played.values,
            "outcomes": [
                dict(
                    zip(
                        ("verdict", "courses", "end", "repeats", "events", "flashes"),
                        of,
                        strict=True,
                    )
                )
                for of in self.outcomes.values
            ],
            "faults": faults,
        }

    def fault(self, replay: Replay) -> list[Any]:
        strike = replay.strike
        sets = tuple(self.sets.of(tuple(runs(numbers))) for _, numbers in replay.courses)
        courses = tuple(
            self.courses.of(tuple(n for step in course for n in step))
            for course, _ in replay.courses
        )
        told, fill = self.told(replay)
        outcome = (
            replay.verdict, courses, replay.end, self.repeats(replay), told, replay.flashes,
        )  # fmt: skip
        tallies = tuple((t.target, t.least, t.most, *t.stays) for t in replay.tallies)
        return [
            self.names.of(harmless(strike.where)),
            self.modes.of(strike.mode),
            plain(strike.detail),
            self.words.of(struck_words(strike.role, strike.mode)),
            self.parts.of(sets),
            self.outcomes.of(outcome),
            self.counts.of(tallies),
            self.played.of(replay.played),
            replay.grade,
            [self.names.of(name) for name in fill],
            replay.raced,
        ]

    def repeats(self, replay: Replay) -> str:
        if replay.repeat is None:
            return ""
        first, second = replay.repeat
        every = show_time(second - first, self.scenario.rate)
        return f"From frame {first // self.rig.frame} on this goes on for ever, every {every}."

    def told(self, replay: Replay) -> tuple[tuple[Any, ...], list[str]]:
        """The events, as templates, and the names that fill them."""
        found = self.teller.events(replay.notes)[:MOST_EVENTS]
        kinds = deeds(self.inputs, replay.notes)
        kind_of = {
            (n.at, n.name, n.what): KINDS.index(kind)
            for n, kind in zip(replay.notes, kinds, strict=True)
        }
        fill = list(dict.fromkeys(form for event in found for form in forms(event)))
        fill = [form for form in fill if any(form in event.text for event in found)]
        order = sorted(fill, key=len, reverse=True)
        told = tuple(
            (
                max(0, event.at // self.rig.frame),
                clock_time(event.at) if event.at >= 0 else "before",
                kind_of.get((event.at, event.names[0], event.what), len(KINDS) - 1),
                self.templates.of(template(event.text, order, fill)),
            )
            for event in found
        )
        return told, fill

    def cabinets(self) -> Iterator[list[int]]:
        """The things of each cabinet, in the order of the spots."""
        near = beside(self.rig)
        for name in dict.fromkeys(patch.cabinet for patch in self.shown.replays.spots):
            yield [self.names.of(harmless(thing)) for thing in near[name]]
