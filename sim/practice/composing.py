"""A drawn drill as a drill file, and the text of a drill file.

In: a frozen `Drawn`, its seed and difficulty, the scenario, the rig. Out: a frozen `DrillFile`, as
if a trainer had written it, whose title does not give the cause away; YAML that reads back as it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from sim.faults import Fault
from sim.harmless import shows
from sim.practice.costs import spare_of
from sim.practice.drawing import LASTS, Drawn
from sim.practice.files import LISTS, TEXTS, DrillFile, Said
from sim.rig.topology import Rig
from sim.risk.mending import place_of
from sim.risk.striking import Hazard, strike_at
from sim.scenario.scenario import Scenario, Variant
from sim.study.fault_writing import fault_line, instant_line

HERE = "the drawn drill"
"""In the place of a file's name."""


@dataclass(frozen=True)
class Order:
    """What was asked for: the scenario by its file's name, the topology, the seed and the word of
    the difficulty.
    """

    name: str
    variant: Variant
    seed: int
    difficulty: str


def drill_file(drawn: Drawn, order: Order, scenario: Scenario, rig: Rig) -> DrillFile:
    """The drill that a trainer would have written."""
    rate, start = scenario.rate, scenario.start
    until = min(drawn.at + LASTS, rig.length)
    said = {
        "title": f"drawn with seed {order.seed}, {order.difficulty}",
        "scenario": order.name if shows(order.name) else "",
        "group": order.variant.group,
        "topology": order.variant.label,
        "begin": instant_line(drawn.begin, rate, start),
        "until": instant_line(until // rig.frame * rig.frame, rate, start),
        "place": _seat(drawn, scenario),
        "goal": "picture" if drawn.shown else "redundancy",
    }
    faults = [*_faults(drawn.first), *strike_at(drawn.cause.hazards[0], drawn.at)]
    return DrillFile(
        name=HERE,
        said={key: (text, HERE) for key, text in said.items() if text},
        faults=_said(fault_line(fault, rig, rate, start) for fault in faults),
        fails=_said(drawn.first.failing if drawn.first else ()),
        spares=tuple((kit, (str(n), HERE)) for kit, n in _spares(drawn, scenario, rig).items()),
        hints=tuple(_hints(drawn, scenario, rig) if drawn.level.told else ()),
    )


def _faults(first: Hazard | None) -> tuple[Fault, ...]:
    return strike_at(first, 0) if first else ()


def _said(texts: Iterable[str]) -> tuple[Said, ...]:
    return tuple((text, HERE) for text in texts)


def _seat(drawn: Drawn, scenario: Scenario) -> str:
    """Where the units are; else one of all places that can be left and reached at any time."""
    if drawn.level.near:
        return ""
    open_ones = [name for name, of in scenario.file.places.items() if of.reach == "always"]
    return open_ones[int(drawn.seat * len(open_ones))] if open_ones else ""


def _spares(drawn: Drawn, scenario: Scenario, rig: Rig) -> Mapping[str, int]:
    """Fewer of each type where the difficulty asks; in an easy drill one for each thing struck of
    which the scenario says nothing.
    """
    crew = scenario.terms.crew
    if drawn.level.fewer and crew:
        return {kit: max(count - drawn.level.fewer, 0) for kit, count in crew.spares.items()}
    if not drawn.level.told or crew:
        return {}
    things = (rig.things[name] for name in sorted(drawn.cause.things) if name in rig.things)
    return {thing.kit or thing.family: 1 for thing in things if not spare_of(thing, crew)}


def _hints(drawn: Drawn, scenario: Scenario, rig: Rig) -> Iterator[tuple[Said, Said]]:
    more = drawn.alike - 1
    alike = f"{more} other faults of this rig look" if more != 1 else "one other fault looks"
    yield ("1 min", HERE), (f"{alike} just like this" if more else "no other looks so", HERE)
    struck = (rig.things[name] for name in sorted(drawn.cause.things) if name in rig.things)
    places = dict.fromkeys(place_of(thing, scenario.file.routes) for thing in struck)
    named = " or ".join(place for place in places if place)
    if named:
        yield ("3 min", HERE), (f"it is at {named}", HERE)


# ---- the text of a file --------------------------------------------------------------------------


def drill_text(file: DrillFile) -> str:
    """A drill file that reads back as this one."""
    return "".join(f"{line}\n" for line in _lines(file))


def _lines(file: DrillFile) -> Iterator[str]:
    yield from (f"{key}: {_text(file.text(key))}" for key in TEXTS if file.text(key))
    for key in LISTS:
        texts = [text for text, _ in getattr(file, key)]
        yield from (f"{key}:", *(f"  - {_text(text)}" for text in texts)) if texts else ()
    if file.spares:
        yield f"spares: {{{', '.join(f'{_text(kit)}: {n}' for kit, (n, _) in file.spares)}}}"
    if file.hints:
        yield "hints:"
    for (after, _), (text, _) in file.hints:
        yield f"  - {{after: {_text(after)}, text: {_text(text)}}}"


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
