"""What somebody at the desk can do in a drill, and how it is written: `restart main/unit-a`.

In: texts, the rig they speak of, other names by which its things are known. Out: frozen `Act`s
(times in flicks); a text that means nothing is refused with what is allowed and the nearest name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.practice.fades import layers_of
from sim.rig.topology import Rig, selectors
from sim.timebase import Rate, parse_time
from sim.timecode import parse_instant

Spoken = Mapping[str, tuple[str, ...]]
"""Other names than its own by which a thing or a selector is known; one may mean several."""


@dataclass(frozen=True, slots=True)
class Act:
    """`do`: a key of `ACTS`; `on`: a thing, selector, place, cabinet, region or group; `to`: an
    input (a number), an arrangement; `unit`: the only unit whose settings are changed ("": all of
    the group's); `time`: of a wait (flicks), or with `until` the flick that it lasts to.
    """

    do: str
    on: str = ""
    to: str = ""
    unit: str = ""
    time: int = 0
    until: bool = False


ACTS: Mapping[str, str] = {
    "wait": "wait TIME, wait until TIME CODE",
    "look": "look (at the walls and the place where you are)",
    "ask": "ask THING (for its report)",
    "walk": "walk to PLACE",
    "tell": "tell (the show caller what happens)",
    "select": "select INPUT on SELECTOR",
    "take": "take ARRANGEMENT on UNIT or GROUP",
    "fade": "fade LAYER on UNIT or GROUP (until an arrangement is taken)",
    "lock": "lock SELECTOR",
    "unlock": "unlock SELECTOR",
    "restart": "restart THING (a tripped circuit: switch it on again)",
    "reseat": "reseat THING (a cable, a port)",
    "swap": "swap THING (with a spare)",
    "re-patch": "re-patch PORT [on UNIT only] (its cable to a free port)",
    "bypass": "bypass CABINET",
    "darken": "darken CABINET or REGION [on UNIT only]",
    "light": "light CABINET or REGION [on UNIT only] (after darken)",
    "load": "load UNIT (with the settings in use)",
    "break": "break (have the show caller call one)",
}
"""What can be done, and how it is written."""
COMMON = {
    "reboot": "restart", "replace": "swap", "reset": "restart", "choose": "select", "go": "walk",
    "repatch": "re-patch", "plug": "reseat", "check": "look", "blank": "darken", "pause": "break",
    "hide": "fade",
}  # fmt: skip
"""What people may call an act, and the word that is nearest to it."""


@dataclass(frozen=True)
class Tongue:
    """What names mean at one rig: `rate` and `start` of its time code, places, other names."""

    rig: Rig
    rate: Rate
    start: str
    places: tuple[str, ...]
    spoken: Spoken


def parse_act(text: str, tongue: Tongue, where: str) -> Act:
    """The act that a text means. Raises InputError."""
    words = " ".join(text.split())
    do, _, rest = words.partition(" ")
    do = "re-patch" if do == "repatch" else do
    if do not in ACTS:
        near = COMMON.get(do.lower()) or nearest_name(do, ACTS)
        raise refuse(where, f"{do!r} is nothing that can be done", ", ".join(ACTS), near)
    return _READ[do](do, rest, tongue, where)


def _bare(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    return Act(do)


def _wait(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    until = rest.startswith("until ")
    if not rest:
        raise refuse(where, "does not say how long", ACTS[do])
    if until:
        at = parse_instant(rest.removeprefix("until "), tongue.rate, tongue.start, where)
        return Act(do, time=at, until=True)
    return Act(do, time=parse_time(rest, tongue.rate, where))


def _walk(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    place = rest.removeprefix("to ").strip()
    return Act(do, _one_of(place, tongue.places, {}, where, "place"))


def _thing(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    return Act(do, _one_of(rest, tongue.rig.things, tongue.spoken, where, "thing"))


def _chooser(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    return Act(do, _selector(rest, tongue, where))


def _selector(name: str, tongue: Tongue, where: str) -> str:
    known = [of.name for of, node in selectors(tongue.rig) if len(node.inputs) > 1]
    return _one_of(name, known, tongue.spoken, where, "selector")


def _select(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    what, on = _parted(do, rest, where)
    selector = _selector(on, tongue, where)
    node = next(n for of, n in selectors(tongue.rig) if of.name == selector)
    known: dict[str, int] = {}
    for number, name in enumerate(node.inputs):
        thing = tongue.rig.nodes[name].thing
        for each in (name, thing, thing.partition("/")[0], f"input {number + 1}"):
            known.setdefault(each, number)
    return Act(do, selector, str(known[_one_of(what, known, tongue.spoken, where, "input")]))


def _take(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    what, on = _parted(do, rest, where)
    units = [thing.name for thing in tongue.rig.things.values() if thing.family == "processor"]
    on = _one_of(on, [*tongue.rig.groups, *units], tongue.spoken, where, "unit or group")
    group = on if on in tongue.rig.groups else tongue.rig.things[on].group
    known = tongue.rig.groups[group].arrangements
    return Act(do, on, _one_of(what, known, {}, where, "arrangement"))


def _fade(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    what, on = _parted(do, rest, where)
    units = [thing.name for thing in tongue.rig.things.values() if thing.family == "processor"]
    on = _one_of(on, [*tongue.rig.groups, *units], tongue.spoken, where, "unit or group")
    group = tongue.rig.groups[on if on in tongue.rig.groups else tongue.rig.things[on].group]
    known = dict.fromkeys(of for each in group.arrangements for of in layers_of(group, each))
    return Act(do, on, _one_of(what, known, {}, where, "layer"))


def _parted(do: str, rest: str, where: str) -> tuple[str, str]:
    what, mark, on = rest.rpartition(" on ")
    if not mark:
        raise refuse(where, "does not say what of which", ACTS[do])
    return what.strip(), on.strip()


ONLY = re.compile(r"(?P<what>.+?) on (?P<unit>.+?)(?: only)?")


def _set(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    """An act on settings: of all units of a group, or of one only."""
    found, rig = ONLY.fullmatch(rest), tongue.rig
    known: Iterable[str] = rig.cabinets
    if do == "re-patch":
        known = [thing.name for thing in rig.things.values() if thing.family == "port"]
    else:
        known = [*rig.cabinets, *(r.name for g in rig.groups.values() for r in g.regions)]
    on = _one_of(found["what"] if found else rest, known, tongue.spoken, where, "such thing")
    units = [thing.name for thing in rig.things.values() if thing.family == "processor"]
    unit = _one_of(found["unit"], units, tongue.spoken, where, "unit") if found else ""
    return Act(do, on, unit=unit)


def _cabinet(do: str, rest: str, tongue: Tongue, where: str) -> Act:
    return Act(do, _one_of(rest, tongue.rig.cabinets, {}, where, "cabinet"))


def _one_of(name: str, known: Iterable[str], spoken: Spoken, where: str, kind: str) -> str:
    """The one of `known` that a name means. Raises InputError."""
    known = dict.fromkeys(known)
    if name in known:
        return name
    meant = [each for each in spoken.get(name, ()) if each in known]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise refuse(where, f"{name!r} may be any of {len(meant)}", ", ".join(meant[:4]))
    called = [other for other, of in spoken.items() if any(each in known for each in of)]
    few = ", ".join([*known][:6]) + (" ..." if len(known) > 6 else "")
    near = nearest_name(name, known) or nearest_name(name, called)
    raise refuse(where, f"no {kind} {name!r}", few, near)


_READ: Mapping[str, Callable[[str, str, Tongue, str], Act]] = {
    "wait": _wait, "look": _bare, "ask": _thing, "walk": _walk, "tell": _bare, "select": _select,
    "take": _take, "fade": _fade, "lock": _chooser, "unlock": _chooser, "restart": _thing,
    "reseat": _thing, "swap": _thing, "re-patch": _set, "bypass": _cabinet, "darken": _set,
    "light": _set, "load": _thing, "break": _bare,
}  # fmt: skip


def parse_acts(texts: Iterable[tuple[str, str]], tongue: Tongue) -> tuple[Act, ...]:
    """Acts from (text, place in its file); every problem in one error."""
    problems: list[Problem] = []
    made: list[Act] = []
    for text, where in texts:
        try:
            made.append(parse_act(text, tongue, where))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(made)
