"""Action slips for people and programs: text, Markdown, JSON.

In: frozen `Slip`s, `NeverDo`s and a `Handover` with the scenario that they are for. Out: blocks,
and a JSON-able document; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sim.limits.findings import grouped
from sim.practice.handover import WALL, Handover, Leg
from sim.practice.nevers import NeverDo
from sim.practice.slips import Slip
from sim.practice.steps import BLINK
from sim.practice.symptoms import ALARMS_COME
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.inject_report import moment
from sim.report.slips_acts import acts_words, cut, example_words
from sim.report.slips_words import Told, all_of, suspect_words, told
from sim.report.values import as_values, head
from sim.report.words import counted, harmless, listed, plain
from sim.rig.topology import Rig
from sim.scenario.scenario import Scenario, Variant
from sim.timebase import FLICKS, show_time

SLIPS = "staylit-slips 1"
LEGS = ("what", "runs by", "other ways")
MOST_TESTED = 8
MOST_LISTED = 30
"""Slips in the list at the head of a text; each has its own below."""
READ = Points(
    (
        "A slip is for all faults that look alike to whoever watches the walls, asks for every "
        "report and waits for alarms. Places that are alike share one; the act was tried at the "
        "place that costs most, under the likeliest faults there.",
        "Order: how often in a show, times what one costs if nobody acts (seconds for which the "
        "whole picture of all walls would not have been lit). Chances: given that it is one of "
        "the faults of the slip; from failure rates, many of them placeholders.",
        "First: of all acts that can be done at once, the one after which most of the picture is "
        f"saved within an hour, on the model; nothing that darkens for more than {BLINK // FLICKS} "
        "s what would be lit, nor helps in fewer than one case of ten. Second: what saves most "
        "after it, else what brings back redundancy. A break is taken to begin when it is needed.",
        "Blinks are frames not lit, least and most over the phase and all ranges of timings; acts "
        "were tried at typical timings. How long hands take is from the crew's figures, else from "
        "memory: time your own crew.",
        ALARMS_COME,
    )
)


@dataclass(frozen=True)
class Found:
    """Everything that the reports on slips need; `variants`: the topology of each group."""

    scenario: Scenario
    variants: tuple[Variant, ...]
    rig: Rig
    slips: tuple[Slip, ...]
    nevers: tuple[NeverDo, ...]
    handover: Handover

    def told(self) -> tuple[Told, ...]:
        """Every slip in words."""
        return tuple(told(slip, self.rig, self.scenario.rate) for slip in self.slips)


def heading(found: Found) -> str:
    """The title of the whole."""
    topologies = ", ".join(f"{cut(v.group)}: {cut(v.label)}" for v in found.variants)
    return f"{harmless(found.scenario.title)}, {topologies}: action slips"


def blocks(found: Found) -> Blocks:
    """The whole report."""
    words = found.told()
    return (
        Heading(heading(found), 1),
        Para(_lead(found)),
        Heading("Slips, dearest first"),
        *_index(found, words),
        *(block for each in words for block in _slip(each)),
        Heading("Never do"),
        *(block for never in found.nevers for block in _never(never, found.rig)),
        Heading("Hand-over"),
        *_handover(found),
        Heading("How to read it"),
        READ,
        Heading("Cautions"),
        CAUTIONS,
    )


def _lead(found: Found) -> str:
    faults = sum(len(slip.strikes) for slip in found.slips)
    acts = sum(bool(slip.first.acts) for slip in found.slips)
    return (
        f"{grouped(faults)} single faults in {counted(len(found.slips), 'slip')}; on "
        f"{grouped(acts)} of them an act comes first, on the others the first thing to do is "
        "nothing. Every act was tried on the model of this rig."
    )


def _index(found: Found, words: Sequence[Told]) -> Iterator[Block]:
    rows = tuple(
        (
            str(each.number),
            each.title,
            suspect_words(slip.suspects[0]),
            short_step(slip, found.rig),
        )
        for each, slip in list(zip(words, found.slips, strict=True))[:MOST_LISTED]
    )
    yield Table(("slip", "what is seen", "likeliest", "first"), rows, frozenset({0}))
    left = len(words) - MOST_LISTED
    if left > 0:
        yield Para(f"{counted(left, 'slip')} more below.")


def short_step(slip: Slip, rig: Rig) -> str:
    """The first act in a few words."""
    many = len(slip.where) > 1
    return acts_words(slip.first.acts, rig, many) if slip.first.acts else "do nothing"


def _slip(each: Told) -> Iterator[Block]:
    where = (("where", each.where),) if each.where else ()
    rows = (
        ("you see", all_of(each.see)),
        *where,
        ("may be", all_of(each.maybe)),
        ("recovers alone", each.alone),
        ("first", all_of(each.first)),
        ("second", all_of(each.second)),
        ("never", all_of(each.never)),
        ("spare", all_of(each.spare)),
        *((("mind", all_of(each.cautions)),) if each.cautions else ()),
    )
    yield Heading(f"Slip {each.number}: {each.title}", 3)
    yield Table((f"slip {each.number}", each.rank), rows)


def _never(never: NeverDo, rig: Rig) -> Iterator[Block]:
    yield Para(f"{never.what} {never.why}")
    if never.examples:
        yield Points(tuple(example_words(example, rig) for example in never.examples))


# ---- hand-over -----------------------------------------------------------------------------------


def _handover(found: Found) -> Iterator[Block]:
    yield Points(tuple(handover_lines(found)))
    yield Table(LEGS, leg_rows(found))
    if found.handover.stocks:
        yield Table(("spare", "in stock", "fitted"), stock_rows(found), frozenset({1, 2}))
    yield Table(("place", "reached", "what stands there"), place_rows(found))


def handover_lines(found: Found) -> Iterator[str]:
    """What is degraded, who is there, when breaks are, what was tested."""
    given, scenario = found.handover, found.scenario
    degraded = listed(cut(plain(name)) for name in given.degraded)
    yield f"Degraded: {degraded or 'nothing that is known'}."
    if given.seen:
        more = f" and {len(given.seen) - 6} more" if len(given.seen) > 6 else ""
        yield f"Shown: {'; '.join(cut(text) for text in given.seen[:6])}{more}."
    tested = [f"{_some(of)} ({show_time(at, scenario.rate)} before)" for of, at in given.tested]
    yield f"Tested as a backup: {'; '.join(tested) or 'nothing'}."
    yield f"Never tested: {_some(given.untested) or 'nothing that is known'}."
    yield f"Technicians: {given.technicians or 'not stated'}. Control link: " + (
        f"{cut(given.control)}." if given.control else "not stated."
    )
    breaks = [
        f"{cut(b.name)} {moment(b.begin, scenario)} to {moment(b.end, scenario)}"
        for b in given.breaks
    ]
    yield f"Breaks: {listed(breaks) or 'none stated'}."
    yield "Where spares lie is not part of a scenario: write it in by hand."


def _some(names: Sequence[str]) -> str:
    more = len(names) - MOST_TESTED
    shown = [cut(name) for name in names[:MOST_TESTED]]
    return listed([*shown, *([f"{grouped(more)} more"] if more > 0 else [])])


def leg_rows(found: Found) -> tuple[tuple[str, ...], ...]:
    """What runs on which leg."""
    return tuple(map(_leg, found.handover.legs))


def _leg(leg: Leg) -> tuple[str, ...]:
    number = f", {counted(leg.count, 'cabinet')}" if leg.kind == WALL else ""
    unit, _, part = leg.of.partition("#")
    first = f"wall {cut(leg.of)}" if leg.kind == WALL else f"{cut(plain(unit))}, {cut(part)}"
    waiting = f"{leg.waiting} valid" if leg.waiting else "none"
    lost = f", {leg.lost} lost" if leg.lost else ""
    by = " > ".join(cut(plain(name)) for name in leg.by)
    return f"{first}{number}", by or "nothing arrives", f"{waiting}{lost}"


def stock_rows(found: Found) -> tuple[tuple[str, ...], ...]:
    """Spares by type."""
    return tuple((cut(s.name), str(s.count), grouped(s.fitted)) for s in found.handover.stocks)


def place_rows(found: Found) -> tuple[tuple[str, ...], ...]:
    """Places with what stands there."""
    return tuple(
        (
            cut(spot.name) or "not stated",
            cut(spot.reach) or "not stated",
            ", ".join(f"{grouped(count)} x {cut(name)}" for name, count in spot.things),
        )
        for spot in found.handover.places
    )


# ---- data ----------------------------------------------------------------------------------------


def document(found: Found) -> dict[str, Any]:
    """All of it as plain values; times in flicks, shares and wall-seconds exact texts."""
    slips = as_values(found.slips)
    for plain_slip, slip in zip(slips, found.slips, strict=True):
        plain_slip["weight"] = slip.weight
        for key, step in (("first", slip.first), ("second", slip.second)):
            plain_slip[key]["says"] = acts_words(step.acts, found.rig, False) if step.acts else ""
    return {
        **head(SLIPS, found.scenario),
        "topologies": [as_values(variant) for variant in found.variants],
        "slips": slips,
        "never": as_values(found.nevers),
        "handover": as_values(found.handover),
    }
