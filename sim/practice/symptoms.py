"""What people can see of a rig at one instant: walls, reports, alarms, what remote control reaches.

In: a `Desk` and a `Moment` of its rig. Out: frozen `Symptoms`; times are flicks, shares exact
parts of an area. Nothing but this is shown: what nobody monitors and no wall shows stays hidden,
and so does which input is taken, what stands by, and what settings say.
A report says what it proves: a link that is up proves cable, port and card, never the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from sim.faults import STATE_NAMES
from sim.practice.desk import PICTURE, Desk, Spot
from sim.practice.moments import DIM, DOWN, OFF, Moment
from sim.risk.mending import ALARM
from sim.study.effects import Line
from sim.timebase import FLICKS

LIT, FROZEN, JUMPING = "lit", "frozen", "jumping"
SEEN = ("dark", "corrupt", "wrong", "frozen", "unlocked", JUMPING)
"""What a spot may look like when it is not lit."""
LATELY = 5 * FLICKS
"""How far back a person takes a change for one that still goes on (placeholder; from memory)."""
ALARM_AFTER = (ALARM.a + ALARM.b) // 2
"""Flicks from a trouble of something monitored to its alarm: the middle of what `risk` draws."""
ALARMS_COME = (
    f"An alarm comes about {ALARM_AFTER // FLICKS} s after what it tells of (placeholder, from "
    "memory: time your own)."
)
YES, NO, UNKNOWN, WEAK = "yes", "no", "unknown", "weak"


@dataclass(frozen=True, slots=True)
class Place:
    """A wall, a region, or what else a report speaks of: shares by what is seen, lit left out."""

    name: str
    group: str
    states: Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class Report:
    """What a unit or a link reports of `name`; `kind`: unit, port, input, reference input or link;
    `says`: yes, no, weak, or unknown where the unit does not answer.
    """

    kind: str
    name: str
    unit: str
    says: str

    @property
    def text(self) -> str:
        """The report as a sentence."""
        return f"{self.kind} {self.name}: {WHAT[self.kind]} {self.says}{REST[self.kind, self.says]}"

    @property
    def proves(self) -> str:
        """What it proves, and what not."""
        return PROVES[self.kind, self.says]


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something monitored is in trouble since a flick, and people are told `after` flicks more."""

    name: str
    trouble: str
    since: int
    after: int

    @property
    def text(self) -> str:
        return f"alarm {self.name}: {self.trouble}"


@dataclass(frozen=True, slots=True)
class Symptoms:
    """All that is seen at the flick `at`.

    `spots`: what each spot looks like that is not lit; `places` add them up; `reports` of what is
    monitored; `alarms` that have come; `reached`: the units that remote control still reaches.
    """

    at: int
    spots: Mapping[Spot, str]
    places: tuple[Place, ...]
    reports: tuple[Report, ...]
    alarms: tuple[Alarm, ...]
    reached: tuple[str, ...]

    @property
    def all_well(self) -> bool:
        """Whether the walls are lit, no alarm has come and no report says no."""
        return not self.spots and not self.alarms and all(r.says == YES for r in self.reports)


def symptoms(desk: Desk, moment: Moment) -> Symptoms:
    """What can be seen of a rig as it stands."""
    spots = {spot: seen for spot, seen in _spots(desk, moment) if seen != LIT}
    return Symptoms(
        at=moment.at,
        spots=spots,
        places=tuple(_places(desk, spots)),
        reports=tuple(_reports(desk, moment)),
        alarms=tuple(_alarms(desk, moment)),
        reached=tuple(_reached(desk, moment)),
    )


def looked_at(desk: Desk, moment: Moment, unit: str) -> tuple[Report, ...]:
    """What a person reads who stands before a unit, monitored or not."""
    return tuple(_of_unit(desk, moment, unit, not moment.down(unit)))


def settled(shown: Symptoms) -> Symptoms:
    """The same without the instant and without when what began: for holding two against each
    other.
    """
    alarms = tuple(replace(alarm, since=0) for alarm in shown.alarms)
    return replace(shown, at=0, alarms=alarms)


# ---- the walls -----------------------------------------------------------------------------------


def _spots(desk: Desk, moment: Moment) -> Iterator[tuple[Spot, str]]:
    for spot, line in moment.lines.items():
        seen = looks(line, moment.at)
        yield spot, LIT if seen == FROZEN and spot in desk.still else seen


def looks(line: Line, at: int) -> str:
    """What a spot looks like at a flick; what came back to a look that it had lately is jumping."""
    lately: list[str] = []
    for start, quality in reversed(line):
        if start <= at:
            lately.append(STATE_NAMES[quality])
            if start <= at - LATELY:
                break
    looked = [look for look, _ in groupby(lately)]
    return JUMPING if len(set(looked)) < len(looked) else looked[0]


def _places(desk: Desk, spots: Mapping[Spot, str]) -> Iterator[Place]:
    parts: dict[str, dict[str, int]] = {}
    for spot, seen in spots.items():
        patch = desk.patches[spot]
        for name, area in ((patch.wall, patch.area), *patch.regions):
            of = parts.setdefault(name, {})
            of[seen] = of.get(seen, 0) + area
    for group, canvas in desk.canvases.items():
        for name, area in (*canvas.walls.items(), *canvas.regions.items()):
            of = parts.get(name, {})
            yield Place(name, group, {s: Fraction(of[s], area) for s in SEEN if s in of})


# ---- reports -------------------------------------------------------------------------------------


def _monitored(desk: Desk, name: str) -> bool:
    return desk.rig.things[name].monitored


def _reached(desk: Desk, moment: Moment) -> Iterator[str]:
    """Units that are monitored and answer; with control links, while one of them stands."""
    linked = not desk.controls or not all(map(moment.down, desk.controls))
    return (u for u in desk.units if linked and _monitored(desk, u) and not moment.down(u))


def _reports(desk: Desk, moment: Moment) -> Iterator[Report]:
    reached = frozenset(_reached(desk, moment))
    for unit in desk.units:
        if _monitored(desk, unit):
            yield from _of_unit(desk, moment, unit, unit in reached)
    for link, nodes in desk.links.items():
        if _monitored(desk, link):
            weak = (link, DIM) in moment.troubles
            says = NO if _silent(moment, nodes) is not None else WEAK if weak else YES
            yield Report("link", link, "", says)


def _of_unit(desk: Desk, moment: Moment, unit: str, answers: bool) -> Iterator[Report]:
    yield Report("unit", unit, unit, YES if answers else NO)
    for port in desk.ports:
        if port.unit == unit:
            whole = moment.fallen.isdisjoint((port.name, *port.way))
            yield Report("port", port.name, unit, _said(answers, whole))
    for taken in desk.inputs:
        if taken.unit == unit:
            arrives = not any(node in moment.silent for node in taken.nodes)
            name = f"{taken.name} of {unit}"
            yield Report(taken.kind, name, unit, _said(answers, arrives))


def _said(answers: bool, holds: bool) -> str:
    return (YES if holds else NO) if answers else UNKNOWN


WHAT = {
    "unit": "answers",
    "port": "link",
    PICTURE: "signal",
    "reference input": "signal",
    "link": "light",
}
SAYS = {
    **dict.fromkeys(WHAT, (YES, NO, UNKNOWN)),
    "unit": (YES, NO),
    "link": (YES, NO, WEAK),
}
"""What each kind of report may say."""
NO_PICTURE = ", picture unknown"
REST = {
    (kind, says): NO_PICTURE if says in (YES, WEAK) and kind != "reference input" else ""
    for kind in WHAT
    for says in (YES, NO, UNKNOWN, WEAK)
}
PROVES = {
    ("unit", YES): "the unit has power and answers; what picture it sends is unknown",
    ("unit", NO): "the unit, its power or the way to it has failed; what it sends is unknown",
    ("port", YES): "port, cable and first card are joined and live; the picture is unknown",
    ("port", NO): "port, cable, first card or its power has failed, or a plug is out",
    (PICTURE, YES): "something valid arrives: it may be black, standing, torn or wrong",
    (PICTURE, NO): "nothing valid arrives: source, cable or what lies between has failed",
    ("reference input", YES): "a reference arrives; whether the unit follows it is unknown",
    ("reference input", NO): "no reference arrives: generator, cable or its power has failed",
    ("link", YES): "light arrives with enough margin; the picture is unknown",
    ("link", WEAK): "light arrives, below the margin: a dirty or bent fibre; picture unknown",
    ("link", NO): "no light arrives: the fibre, or what sends into it, has failed",
    **{(kind, UNKNOWN): "nothing: the unit that would say it does not answer" for kind in WHAT},
}


# ---- alarms --------------------------------------------------------------------------------------

ANSWER, LIGHT, MARGIN, SYNC = (
    "does not answer", "nothing arrives", "too little light", "off its reference",
)  # fmt: skip
ALARMS = (ANSWER, LIGHT, MARGIN, SYNC)
CALLED = {DOWN: ANSWER, DIM: MARGIN, OFF: SYNC}


def _alarms(desk: Desk, moment: Moment) -> Iterator[Alarm]:
    """Of what is monitored, as soon as they have come; in the order of the rig."""
    begun = dict(_begun(desk, moment))
    troubled = {name for name, _ in begun}
    for name in filter(troubled.__contains__, desk.rig.things) if begun else ():
        for trouble in ALARMS:
            since = begun.get((name, trouble))
            if since is None or not _monitored(desk, name):
                continue
            after = 0 if since < 0 else ALARM_AFTER
            if moment.at >= max(since, 0) + after:
                yield Alarm(name, trouble, since, after)


def _begun(desk: Desk, moment: Moment) -> Iterator[tuple[tuple[str, str], int]]:
    """Every trouble with its flick; a link knows only whether anything arrives at its end, not
    whether it or what sends into it has failed.
    """
    for (name, trouble), since in moment.troubles.items():
        if trouble != DOWN or name not in desk.links:
            yield (name, CALLED[trouble]), since
    for name, nodes in desk.links.items():
        since_when = _silent(moment, nodes)
        if since_when is not None:
            yield (name, LIGHT), since_when


def _silent(moment: Moment, nodes: Iterable[str]) -> int | None:
    """Since when nothing arrives by any of these nodes; None: something does."""
    since = [moment.silent.get(node) for node in nodes]
    known = [at for at in since if at is not None]
    return max(known) if known and len(known) == len(since) else None
