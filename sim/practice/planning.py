"""From a drill as written to a drill that can be run, on a rig of its scenario.

In: a `DrillFile`, a `Scenario`, the rig and plan of the topology meant, other names for things.
Out: a frozen `DrillPlan` (flicks). Raises InputError with the place in the file. What is not said:
a drill begins ten seconds before its first fault and lasts a quarter of an hour from it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.faults import Fault, Script
from sim.limits.loads import outlets
from sim.practice.acts import Spoken, Tongue
from sim.practice.course import GOALS, DrillPlan, Hint
from sim.practice.fades import with_fades
from sim.practice.files import DrillFile, Said
from sim.practice.handwork import sender_of
from sim.rig.plan import ShowPlan
from sim.rig.terms import Crew
from sim.rig.topology import Rig, corner, selectors
from sim.risk.mending import place_of
from sim.scenario.scenario import Scenario
from sim.study.fault_text import parse_fault
from sim.timebase import FLICKS, parse_time
from sim.timecode import parse_instant

BEFORE, LASTS = 10 * FLICKS, 15 * 60 * FLICKS
T = TypeVar("T")


def tongue_of(scenario: Scenario, rig: Rig, spoken: Spoken) -> Tongue:
    """What names mean in the acts of a drill."""
    return Tongue(rig, scenario.rate, scenario.start, tuple(scenario.file.places), spoken)


def plan_of_drill(
    file: DrillFile, scenario: Scenario, show: ShowPlan, rig: Rig, spoken: Spoken
) -> DrillPlan:
    """The drill that a file means on a rig."""
    until = _instant(file, "until", scenario, rig.length)
    faults = _faults(file, scenario, replace(rig, length=min(until, rig.length)), spoken)
    struck = min((fault.at for fault in faults if fault.at >= 0), default=0)
    begin = _instant(file, "begin", scenario, max(0, struck - BEFORE))
    until = until if file.text("until") else min(struck + LASTS, rig.length)
    if not begin < until <= rig.length:
        allowed = "after its begin, and within the show"
        raise refuse(file.where("until"), "the drill ends at no such time", allowed)
    failing = frozenset(_failing(file, rig, spoken))
    places = places_of(scenario, rig)
    fading, fades = with_fades(replace(rig, length=until))
    return DrillPlan(
        title=file.text("title"),
        rig=fading,
        script=Script(faults, failing=failing),
        values=corner(rig, "typical"),
        begin=begin,
        place=_place(file, scenario, rig, places),
        crew=_crew(file, scenario),
        places=places,
        reach={name: place.reach for name, place in scenario.file.places.items()},
        breaks=scenario.breaks,
        free=free_ports(show),
        hints=tuple(
            Hint(parse_time(after, scenario.rate, where), text)
            for (after, where), (text, _) in file.hints
        ),
        goal=_known(file, "goal", GOALS, "redundancy"),
        moving=scenario.terms.moving,
        fades=fades,
        critical=tuple((start, end) for start, end, _ in scenario.terms.weights),
    )


def places_of(scenario: Scenario, rig: Rig) -> dict[str, str]:
    """Where each thing is ("" unknown); a port is where its unit is."""
    places = {name: place_of(of, scenario.file.routes) for name, of in rig.things.items()}
    ports = (name for name, thing in rig.things.items() if thing.family == "port")
    return places | {name: places[sender_of(rig, name)] for name in ports}


def free_ports(show: ShowPlan) -> dict[str, int]:
    """Free ports of each unit and relay."""
    return {each.name: each.free or 0 for each in outlets(show) if each.what == "port"}


def desk_place(places: Mapping[str, str], rig: Rig) -> str:
    """Where the engineer sits if nobody says it: at the first unit whose place has a name."""
    units = (places[name] for name, of in rig.things.items() if of.family == "processor")
    return next(filter(None, units), "")


def _each(texts: Iterable[Said], do: Callable[[str, str], T]) -> list[T]:
    """Every text read; all problems in one error, each with its place in the file."""
    problems: list[Problem] = []
    made: list[T] = []
    for text, where in texts:
        try:
            made.append(do(text, where))
        except InputError as error:
            problems += [replace(each, where=f"{where}: {each.where}") for each in error.problems]
    if problems:
        raise InputError(problems)
    return made


def _faults(file: DrillFile, scenario: Scenario, rig: Rig, spoken: Spoken) -> tuple[Fault, ...]:
    """The faults; `rig` ends with the drill."""

    def read(text: str, where: str) -> tuple[Fault, ...]:
        try:
            return parse_fault(text, rig, scenario.rate, scenario.start, spoken)
        except InputError as error:
            raise InputError(map(_of_the_drill, error.problems)) from None

    found = [fault for of in _each(file.faults, read) for fault in of]
    if not found:
        raise refuse(file.name, "a drill without a fault", "at least one under `faults:`")
    return tuple(found)


def _of_the_drill(problem: Problem) -> Problem:
    """To a fault the end of the drill is that of the show."""
    found, allowed = (
        said.replace("of the show", "of the drill").replace("within the show", "within the drill")
        for said in (problem.found, problem.allowed)
    )
    return replace(problem, found=found, allowed=allowed)


def _instant(file: DrillFile, key: str, scenario: Scenario, usual: int) -> int:
    if not file.text(key):
        return usual
    return parse_instant(file.text(key), scenario.rate, scenario.start, file.where(key))


def _failing(file: DrillFile, rig: Rig, spoken: Spoken) -> list[str]:
    known = [of.name for of, node in selectors(rig) if len(node.inputs) > 1]

    def read(text: str, where: str) -> str:
        meant = [text] if text in known else [n for n in spoken.get(text, ()) if n in known]
        if len(meant) == 1:
            return meant[0]
        few, near = ", ".join(known[:4]), nearest_name(text, known)
        raise refuse("fails", f"{text!r} is no one changeover", f"such as {few}", near)

    return _each(file.fails, read)


def _place(file: DrillFile, scenario: Scenario, rig: Rig, places: dict[str, str]) -> str:
    return _known(file, "place", (*scenario.file.places,), desk_place(places, rig))


def _known(file: DrillFile, key: str, known: tuple[str, ...], usual: str) -> str:
    said = file.text(key)
    if said and said not in known:
        near = nearest_name(said, known)
        raise refuse(file.where(key), f"no {key} {said!r}", ", ".join(known), near)
    return said or usual


def _crew(file: DrillFile, scenario: Scenario) -> Crew | None:
    """The crew of the scenario, with the spares that the drill leaves it."""
    crew = scenario.terms.crew
    if not file.spares:
        return crew
    spares = dict(crew.spares) if crew else {}
    for kit, (count, where) in file.spares:
        if not (count.isascii() and count.isdigit() and len(count) < 5):
            raise refuse(where, f"{count!r} spares", "a whole number from 0 to 9999")
        if crew and kit not in crew.spares:
            near = nearest_name(kit, crew.spares)
            raise refuse(where, f"the crew has no spare {kit!r}", ", ".join(crew.spares), near)
        spares[kit] = int(count)
    return replace(crew, spares=spares) if crew else Crew(1, spares=spares)
