"""A drill under way: where the engineer is, what is left of spares and ports, how the rig fares.

In: a frozen `DrillPlan`. Out: a `Course`, which `hands` changes; whether a place can be reached, a
unit answers, whose settings an act reaches. All times are flicks from the start of the show.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from sim.engine.live import Live
from sim.engine.settling import Base
from sim.faults import Fault, Script
from sim.practice.acts import Act
from sim.practice.desk import Desk, desk_of
from sim.rig.terms import Crew
from sim.rig.topology import Rig, Thing, selectors
from sim.scenario.scenario import Stretch

GOALS = ("picture", "redundancy", "critical")
"""A whole picture at the end; full redundancy at the end; the latter, and a whole picture through
all critical moments that lie in the drill.
"""


@dataclass(frozen=True, slots=True)
class Hint:
    """Said so many flicks after the first fault."""

    after: int
    text: str


@dataclass(frozen=True)
class DrillPlan:
    """`rig`: its length is the end of the drill; `script`: what the engineer does not know;
    `values`: one in flicks for each timing; `begin`: when the engineer sits down at `place`;
    `places`: where each thing is ("" unknown), `reach`: when a place can be reached; `breaks` of
    the show; `free`: free ports of each unit and relay; `goal`: one of `GOALS`; `moving`: for each
    group the layers that move; `critical`: moments (begin, end), the end not included;
    `fades`: arrangements that are others without a layer (`fades.with_fades`).
    """

    title: str
    rig: Rig
    script: Script
    values: Mapping[str, int]
    begin: int
    place: str = ""
    crew: Crew | None = None
    places: Mapping[str, str] = field(default_factory=dict)
    reach: Mapping[str, str] = field(default_factory=dict)
    breaks: tuple[Stretch, ...] = ()
    free: Mapping[str, int] = field(default_factory=dict)
    hints: tuple[Hint, ...] = ()
    goal: str = "redundancy"
    moving: Mapping[str, frozenset[str]] = field(default_factory=dict)
    critical: tuple[tuple[int, int], ...] = ()
    fades: frozenset[str] = frozenset()

    @property
    def until(self) -> int:
        return self.rig.length

    @property
    def struck(self) -> int:
        """When the first fault strikes that was not there before the show; 0 if all were."""
        return min((fault.at for fault in self.script.faults if fault.at >= 0), default=0)


@dataclass(frozen=True)
class Ground:
    """What all courses of a drill have in common: the settled rig and its desk."""

    base: Base
    desk: Desk


def ground_of(plan: DrillPlan) -> Ground:
    """The ground of a drill."""
    return Ground(Base(plan.rig, plan.values), desk_of(plan.rig, plan.moving))


class Course:
    """The one thing of a drill that changes."""

    def __init__(
        self, plan: DrillPlan, ground: Ground | None = None, live: Live | None = None
    ) -> None:
        """`ground`: of the same plan, where it is known; `live`: its rig, run up to now, where
        somebody made it before.
        """
        ground = ground or ground_of(plan)
        self.plan = plan
        self.live = live or Live(ground.base, plan.script, plan.until)
        self.desk = ground.desk
        self.now = plan.begin
        self.place = plan.place
        self.spares = dict(plan.crew.spares) if plan.crew else {}
        self.free = dict(plan.free)
        self.breaks = list(plan.breaks)
        self.darkened: dict[str, int] = {}
        self.live.go(plan.begin)

    # ---- where things are

    def thing_of(self, act: Act) -> Thing | None:
        """The thing that an act is done to: a selector's unit, a cabinet's first card."""
        rig = self.plan.rig
        if act.on in rig.things:
            return rig.things[act.on]
        if act.on in rig.cabinets:
            return rig.things[rig.nodes[rig.cabinets[act.on].cards[0]].thing]
        found = (node.thing for of, node in selectors(rig) if of.name == act.on)
        name = next(found, "")
        return rig.things.get(name)

    def cards(self, on: str) -> tuple[str, ...]:
        """The receivers of a cabinet, or of all cabinets that a region touches."""
        rig = self.plan.rig
        cabinets = [on] if on in rig.cabinets else self._touched(on)
        cards = (card for cabinet in cabinets for card in rig.cabinets[cabinet].cards)
        return tuple(dict.fromkeys(rig.nodes[card].thing for card in cards))

    def _touched(self, region: str) -> list[str]:
        canvases = self.desk.canvases.values()
        patches = (patch for canvas in canvases for of in canvas.patches.values() for patch in of)
        return [patch.cabinet for patch in patches if region in dict(patch.regions)]

    def unreachable(self, place: str, begin: int, end: int) -> str:
        """Why nobody can be at a place from `begin` to `end`; "" if somebody can."""
        when = self.plan.reach.get(place, "after the show")
        if when == "always":
            return ""
        if when != "in breaks":
            return f"{place or 'the place, which nobody named,'} can be reached after the show only"
        if any(each.begin <= begin and end <= each.end for each in self.breaks):
            return ""
        return f"{place} can be reached in breaks only: wait for one, or call one"

    def away(self, thing: Thing, begin: int, end: int) -> str:
        """Why a thing cannot be touched; "" if it can."""
        place = self.plan.places.get(thing.name, "")
        closed = self.unreachable(place, begin, end)
        if closed or self.place == place:
            return closed
        return f"it is at {place}, and you are at {self.place or 'no place that has a name'}"

    def beyond(self, thing: Thing, begin: int, end: int) -> str:
        """Why a thing can neither be commanded from afar nor touched; "" if it can."""
        touch = self.away(thing, begin, end)
        if not touch or thing.family != "processor":
            return touch
        control = self.plan.crew.control if self.plan.crew else ""
        if control and self.live.is_up(control):
            return ""
        said = "the control link does not answer" if control else "it has no control link"
        return f"{said}; by hand: {touch}"

    # ---- units and their settings

    def units(self, group: str) -> tuple[str, ...]:
        """The processors that make a group's picture."""
        nodes = self.plan.rig.nodes
        return tuple(dict.fromkeys(nodes[c].thing for c in self.plan.rig.groups[group].carriers))

    def shows(self, unit: str) -> str:
        """The arrangement that a processor has taken."""
        nodes = self.plan.rig.nodes
        carriers = (c for group in self.plan.rig.groups.values() for c in group.carriers)
        return self.live.arrangement(next(c for c in carriers if nodes[c].thing == unit))

    def answering(self, units: Iterable[str], at: int) -> Iterator[str]:
        """Those of these units that take a command now."""
        for name in units:
            if self.live.is_up(name) and not self.beyond(self.plan.rig.things[name], at, at):
                yield name

    def diverge(self, units: Iterable[str], told: Iterable[str], at: int) -> tuple[str, ...]:
        """Units that were not told new settings have old ones from now on; their names."""
        left = tuple(name for name in units if name not in set(told))
        for name in left:
            if not any(fault.mode == "stale" for fault in self.live.faults(name)):
                self.live.begin(Fault(name, "stale", at))
        return left
