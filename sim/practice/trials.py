"""Ways to act, tried on the rig by the engine: what a wall shows then, and what was done.

In: a `Site`, faults, `Way`s one after the other. Out: frozen `Tried`s. Times are flicks; what is
not lit is in wall-seconds by state, exact. A trial begins ten seconds before the fault; the first
act begins when the slip has been read, and what needs a break finds one just then. All timings are
typical. It is worked out on the part of the rig that can notice any of it, with what is alike
merged, as everything else of single faults.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.engine.live import Live
from sim.engine.symmetry import Cone, Reach, assemble, reach
from sim.faults import Fault, Script
from sim.practice.acts import Act
from sim.practice.costs import usual
from sim.practice.course import Course, DrillPlan, Ground
from sim.practice.desk import Spot
from sim.practice.drill import Done, do_act
from sim.practice.library import Library, shown_by_kind
from sim.practice.moments import lines_of
from sim.practice.planning import BEFORE
from sim.practice.remedies import Site, Way, touched
from sim.rig.topology import Thing
from sim.scenario.scenario import Stretch
from sim.study.readings import STATES, Line, state_of
from sim.timebase import FLICKS

READING = usual("look").time
"""From a fault to the first act by its slip."""
LASTS = 3600 * FLICKS
"""So long a trial looks on: the slowest swap has its effect by then."""
FROZEN = STATES.index("frozen")
SLOW_FLAP = 300 * FLICKS
"""A loose contact is tried with this period, half of it off: its every turn is worked out."""


@dataclass(frozen=True)
class Tried:
    """`lost`: wall-seconds by state (as in `STATES`), `left`: those of the last turn of a loose
    contact in the trial; `dark`: for each spot its dark flicks; `after`: whether anything was not
    lit after the first act could begin; `whole`: whether the rig has its full redundancy in the
    end.
    """

    done: tuple[Done, ...]
    lost: tuple[Fraction, ...]
    left: tuple[Fraction, ...]
    dark: Mapping[Spot, int]
    after: bool
    whole: bool

    @property
    def well(self) -> bool:
        return all(each.well for each in self.done)

    @property
    def cost(self) -> tuple[Fraction, Fraction]:
        """Wall-seconds not lit that everybody sees (not those that are only off the reference), and
        all of them.
        """
        return _added(self.lost)

    @property
    def rest(self) -> tuple[Fraction, Fraction]:
        """The same of the last turn."""
        return _added(self.left)


def _added(by_state: Sequence[Fraction]) -> tuple[Fraction, Fraction]:
    return sum(by_state[:-1], Fraction(0)), sum(by_state, Fraction(0))


class Bench:
    """One site; `library` knows its rig, which lasts as long as a trial, at rest."""

    def __init__(self, site: Site) -> None:
        until = min(BEFORE + LASTS, site.rig.length)
        self.rig = replace(site.rig, length=until)
        self.site = site
        self.library = Library(self.rig, site.desk)
        self.ground = Ground(self.library.base, site.desk)
        self.area = sum(canvas.area for canvas in site.desk.canvases.values())
        self.begin = min(BEFORE + READING, until - 1)
        self.cones: dict[tuple[str, ...], tuple[Reach, Cone]] = {}

    def part(self, faults: Iterable[Fault], ways: Iterable[Way]) -> tuple[Reach, Cone]:
        """The part of the rig that can notice these faults and ways, whichever is done."""
        acts = [act for way in ways for act in way.acts]
        things = [fault.thing for fault in faults]
        things += [name for act in acts for name in _concerned(act, self.site)]
        struck = tuple(dict.fromkeys(filter(None, [*things, self.site.control])))
        if struck not in self.cones:
            found = reach(self.library.wiring, self.library.kinds, struck)
            self.cones[struck] = found, assemble(self.library.wiring, found)
        return self.cones[struck]

    def tried(
        self, faults: Sequence[Fault], ways: Sequence[Way], part: tuple[Reach, Cone]
    ) -> Tried:
        """What comes of faults (at time 0, moved to `BEFORE`) if these ways are taken."""
        plan = self._plan(Script(tuple(map(_moved, faults))))
        live = Live(self.library.base, plan.script, plan.until, within=part[1])
        course = Course(plan, self.ground, live)
        done = [do_act(course, act) for way in ways for act in _acts(way, course)]
        live.go(plan.until)
        run, noticed = live.run, shown_by_kind(live.run, part[1])
        pictures = {run.wiring.nodes[n].name: line for n, line in run.pictures.items()}
        shown = self.library.shown(part[0], noticed, pictures, run.player.wanted)
        return self._told(dict(lines_of(self.site.desk, shown)), done, live.whole[-1][1])

    def _plan(self, script: Script) -> DrillPlan:
        """What nobody said a place of is as near as the desk; breaks are there when needed."""
        site = self.site
        return DrillPlan(
            title="a slip",
            rig=self.rig,
            script=script,
            values=self.library.base.values,
            begin=self.begin,
            place=site.at,
            crew=site.crew,
            places=site.places,
            reach={"": "always", **site.reach},
            breaks=(Stretch("a break", 0, self.rig.length),),
            free=site.free,
        )

    def _told(self, lines: Mapping[Spot, Line], done: Sequence[Done], whole: bool) -> Tried:
        until = self.rig.length
        times = {line: _times(line, until) for line in set(lines.values())}
        rests = {line: _times(line, until, until - SLOW_FLAP) for line in times}
        return Tried(
            done=tuple(done),
            lost=self._added(lines, times),
            left=self._added(lines, rests),
            dark={spot: times[line][0] for spot, line in lines.items() if times[line][0]},
            after=any(any(_times(line, until, self.begin)) for line in times),
            whole=whole,
        )

    def _added(
        self, lines: Mapping[Spot, Line], times: Mapping[Line, Sequence[int]]
    ) -> tuple[Fraction, ...]:
        """Wall-seconds by state; a still that is frozen is as it should be."""
        found = [0] * len(STATES)
        for spot, line in lines.items():
            area = self.site.desk.patches[spot].area
            for state, time in enumerate(times[line]):
                if state != FROZEN or spot not in self.site.desk.still:
                    found[state] += area * time
        return tuple(Fraction(number, self.area * FLICKS) for number in found)


def _times(line: Line, until: int, begin: int = 0) -> list[int]:
    """Flicks in each state from `begin` to `until`, lit left out."""
    found = [0] * (len(STATES) + 1)
    ends = [*(at for at, _ in line[1:]), until]
    for (at, quality), end in zip(line, ends, strict=True):
        if end > begin and at < until:
            found[state_of(quality)] += min(end, until) - max(at, begin)
    return found[:-1]


def _acts(way: Way, course: Course) -> Iterator[Act]:
    if way.place and way.place != course.place:
        yield Act("walk", way.place)
    yield from way.acts


def _moved(fault: Fault) -> Fault:
    """A catalogue's fault, in the trial."""
    until = None if fault.until is None else fault.until + BEFORE
    moved = replace(fault, at=BEFORE, until=until)
    flaps = fault.mode == "flapping"
    return replace(moved, period=SLOW_FLAP, off=SLOW_FLAP // 2) if flaps else moved


def _concerned(act: Act, site: Site) -> Iterator[str]:
    """The things and selectors that an act touches or asks after."""
    rig = site.rig
    if act.do == "select":
        yield act.on
    for name in touched(act, rig):
        yield name
        ports = [port for port in site.desk.ports if name in (port.name, port.unit)]
        for port in ports if act.do in ("swap", "re-patch") else ():
            yield from (port.name, *port.way[:1])
        if act.do == "bypass":
            feeds = rig.things[name].powered_by
            yield from (*feeds, *(feed for each in feeds for feed in rig.things[each].powered_by))
        if act.do in ("take", "re-patch"):
            group = rig.things[name].group
            yield from (t.name for t in rig.things.values() if _sets(t, group))


def _sets(thing: Thing, group: str) -> bool:
    """Whether it is a unit whose settings tell of a group."""
    return thing.family == "processor" and thing.group == group
