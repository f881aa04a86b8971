"""When what strikes in a show is noticed and mended.

In: a `Scenes`, the `Crew`, breaks, which place can be reached when, the strikes of a show with
their draws. Out: the same strikes with their ends (flicks), by the SimPy model of `response`, or
without it where a fault is the only one. Somebody notices what is monitored, or what the audience
sees and still sees when he looks; nobody notices anything else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from typing import Any

from sim.faults import OF_ITSELF
from sim.rig.figures import TRADE
from sim.rig.terms import PLACEHOLDER, Crew, Law, Repair
from sim.rig.topology import Rig, Thing, selectors
from sim.risk.channels import DEFECT
from sim.risk.laws import draw
from sim.risk.profile import Profile
from sim.risk.response import alone, mended, undisturbed
from sim.risk.scenes import Scenes, Struck
from sim.risk.shows import Blow
from sim.risk.visits import NOT_NOTICED, Incident, Mended
from sim.scenario.scenario import Stretch
from sim.timebase import FLICKS

UNKNOWN_REACH = "after the show"
"""Of a place that nobody named: the unfavourable way."""
UNSEEN = Mended(why=NOT_NOTICED)
"""What becomes of a fault that nobody notices."""


def _between(least: int, most: int) -> Law:
    source = f"{PLACEHOLDER}; {least}..{most} s ({TRADE})"
    return Law("uniform", least * FLICKS, most * FLICKS, source=source)


ALARM = _between(1, 5)
"""From a fault of what is monitored to somebody who knows."""
ALL_DARK, SOME, STANDING = _between(1, 3), _between(5, 60), _between(2, 20)
"""From when it can be seen: a whole wall dark, part of one, a moving picture that stands still."""


@dataclass(frozen=True, slots=True)
class Case:
    """What a hazard means to the crew: its repair (None: none), spare, reach; whether an alarm
    tells; whose healthy twin may be restarted by mistake (a hazard's number, -1: none).
    """

    repair: Repair | None
    spare: str
    reach: str
    alarmed: bool
    twin: int = -1


@dataclass(frozen=True)
class Mending:
    """A crew at one rig. `reach`: for each place when somebody can get there; `cases` by hazard;
    `length`: of the show (flicks).
    """

    scenes: Scenes
    crew: Crew
    breaks: tuple[Stretch, ...]
    length: int
    cases: tuple[Case, ...]
    wholes: Mapping[int, int] = field(default_factory=dict)
    eyes: dict[tuple[int, bool], tuple[int, Law | None]] = field(default_factory=dict)
    deaf: dict[tuple[int, bool], bool] = field(default_factory=dict)

    def endings(self, struck: Sequence[Struck], blows: Sequence[Blow]) -> list[Struck]:
        """The strikes of a show with their ends, and the restarts of what had nothing."""
        if all(self.unnoticed(one) for one in struck):
            return list(struck)
        pairs = list(zip(struck, blows, strict=True))
        incidents = [self._incident(one, blow) for one, blow in pairs]
        noticed = [each for each in incidents if each.noticed is not None]
        lost = [(max(one.begin, 0), None) for one in struck if self._is_control(one.hazard)]
        tended = iter(self._found(noticed, lost) if noticed else ())
        found = [UNSEEN if each.noticed is None else next(tended) for each in incidents]
        ended = [self._ended(one, of) for one, of in zip(struck, found, strict=True)]
        return [*ended, *self._mistakes(struck, found)]

    def unnoticed(self, one: Struck) -> bool:
        """Whether nobody ever notices a hazard, which then lasts to the end of the show."""
        key = one.hazard, one.begin < 0
        if key not in self.deaf:
            self.deaf[key] = self._unnoticed(*key)
        return self.deaf[key]

    def _unnoticed(self, hazard: int, early: bool) -> bool:
        case = self.cases[hazard]
        if self.scenes.hazards[hazard].lasts is not None or self._is_control(hazard):
            return False
        if case.repair is None or not self.scenes.concerned[hazard]:
            return case.repair is None or not case.alarmed
        return not case.alarmed and self._eye(self.scenes.alone(hazard), early)[1] is None

    def _found(
        self, incidents: Sequence[Incident], lost: Sequence[tuple[int, int | None]]
    ) -> tuple[Mended, ...]:
        if len(incidents) == 1:
            return (alone(incidents[0], self.crew, self.breaks, self.length, lost),)
        alike = (incidents, self.crew, self.breaks, self.length, lost)
        return undisturbed(*alike) or mended(*alike)

    def _incident(self, one: Struck, blow: Blow) -> Incident:
        case = self.cases[one.hazard]
        repair = None if self.scenes.hazards[one.hazard].lasts is not None else case.repair
        noticed = self._noticed(one, case, blow.draws[1]) if repair else None
        travel, diagnose, fix, wrong = blow.draws[2:]
        draws = (travel, diagnose, fix)
        return Incident(one.begin, noticed, repair, case.spare, case.reach, draws, wrong)

    def _noticed(self, one: Struck, case: Case, u: float) -> int | None:
        """Flicks until somebody knows; before the show counts from its start."""
        times = [draw(ALARM, u)] if case.alarmed else []
        made = self.scenes.alone(one.hazard) if self.scenes.concerned[one.hazard] else None
        by_eye = self._by_eye(one.hazard, made, one.begin < 0, u) if made else None
        return min([*times, *([by_eye] if by_eye is not None else [])], default=None)

    def _by_eye(self, hazard: int, made: Profile, early: bool, u: float) -> int | None:
        """When somebody sees it, if there is still something to see then."""
        if (hazard, early) not in self.eyes:
            self.eyes[hazard, early] = self._eye(made, early)
        begin, law = self.eyes[hazard, early]
        if law is None:
            return None
        when = begin + draw(law, u)
        if made.repeat is not None and when >= made.repeat[0]:
            return when
        there = [areas for at, areas in made.steps if at <= when or early][-1]
        return when if there[DEFECT] else None

    def _eye(self, made: Profile, early: bool) -> tuple[int, Law | None]:
        """From when there is something to see, how soon it catches the eye (None: never)."""
        steps = made.steps[-1:] if early and made.repeat is None else made.steps
        seen = [at for at, areas in steps if areas[DEFECT]]
        if not seen:
            return 0, None
        return 0 if early else seen[0], self._law(made)

    def _law(self, made: Profile) -> Law:
        """How soon it catches the eye, by the worst of it."""
        for channel, whole in self.wholes.items():
            if any(areas[channel] >= whole for _, areas in made.steps):
                return ALL_DARK
        dark = any(areas[0] for _, areas in made.steps)
        return SOME if dark else STANDING

    def _is_control(self, hazard: int) -> bool:
        return (
            self.crew.control in self.scenes.strikes[hazard].struck if self.crew.control else False
        )

    def _ended(self, one: Struck, of: Mended) -> Struck:
        lasts = self.scenes.hazards[one.hazard].lasts
        end = of.until if lasts is None else max(one.begin, 0) + lasts
        return one if end is None or end >= self.length else replace(one, end=end)

    def _mistakes(self, struck: Sequence[Struck], found: Sequence[Mended]) -> Iterator[Struck]:
        for one, of in zip(struck, found, strict=True):
            twin = self.cases[one.hazard].twin
            if of.wrong is not None and twin >= 0:
                yield Struck(twin, of.wrong)


def mending(
    scenes: Scenes,
    rig: Rig,
    crew: Crew | None,
    breaks: Sequence[Stretch],
    reach: Mapping[str, str],
) -> Mending:
    """Everything about a crew at a rig that does not change from show to show."""
    nobody = crew or Crew(0)
    things = {selector.name: rig.things[node.thing] for selector, node in selectors(rig)}
    cases = tuple(
        _case(scenes, number, rig, {**things, **rig.things}, nobody, reach)
        for number in range(len(scenes.hazards))
    )
    asked = scenes.asked
    wholes = {asked.questions[n].channel: asked.questions[n].over + 1 for n in asked.walls}
    return Mending(scenes, nobody, tuple(breaks), rig.length, cases, wholes)


def _case(
    scenes: Scenes, number: int, rig: Rig, things: Mapping[str, Thing], crew: Crew,
    reach: Mapping[str, str],
) -> Case:  # fmt: skip
    strike = scenes.strikes[number]
    if not strike.faults or strike.mode in OF_ITSELF or not crew.technicians:
        return Case(None, "", UNKNOWN_REACH, False)
    first = scenes.hazards[number].strikes[0]
    thing = things[strike.struck[0]]
    family = "selector" if strike.struck[0] not in rig.things else thing.family
    repair = _repair(crew, first.where, thing, family, first.mode)
    spare = "" if repair is None or repair.by != "swap" else _stock(crew, thing)
    alarmed = any(things[name].monitored for name in strike.struck)
    twin = _twin(scenes, thing) if repair is not None and repair.by != "swap" else -1
    return Case(repair, spare, reach.get(thing.place, UNKNOWN_REACH), alarmed, twin)


def place_of(thing: Thing, routes: Mapping[str, Any]) -> str:
    """Where a thing is: its own place, else that of its first route that has one ("" unknown)."""
    of_routes = (getattr(routes.get(route), "place", None) for route in thing.routes)
    return thing.place or next((place for place in of_routes if place), "")


def _repair(crew: Crew, where: str, thing: Thing, family: str, mode: str) -> Repair | None:
    """The first repair that fits a fault."""
    for repair in crew.repairs:
        named = repair.things and any(fnmatchcase(n, repair.things) for n in (where, thing.name))
        typed = repair.kit and repair.kit == thing.kit
        kin = repair.family and repair.family == family
        if (named or typed or kin) and (not repair.modes or mode in repair.modes):
            return repair
    return None


def _stock(crew: Crew, thing: Thing) -> str:
    """The name of the stock that a spare comes from; one that nobody has if there is none."""
    return next((name for name in (thing.kit, thing.family) if name in crew.spares), "no stock")


def _twin(scenes: Scenes, thing: Thing) -> int:
    """The restart of another thing of the same family in the same group."""
    for number, hazard in enumerate(scenes.hazards):
        strike = hazard.strikes[0] if hazard.strikes else None
        if strike is None or strike.mode != "restart" or strike.where == thing.name:
            continue
        other = scenes.laboratory.rig.things.get(strike.where)
        if other is not None and other.family == thing.family and other.group == thing.group:
            return number
    return -1
