"""What somebody says he has seen or heard, taken apart: `main dark`, `port ...: link no`.

In: texts, the `Desk` they speak of. Out: frozen `Item`s, each with what it means; every problem of
all texts in one InputError.

Seen: a place, then what it looks like: `main dark` (some of it), `main all dark`, `main/r3c2
frozen`, `middle lit` (all of it, now), `main steady` (lit all the time), `main blinked` (lit
again), `all else steady` (what no other text speaks of), `nothing` (all is lit).
Reported: the sentence, such as `port NAME: link no`, as heard once; `link steadily no`; `link comes
and goes`.
Where the intended picture does not move nobody sees it stand: such spots are left out of what is
said to be frozen, unless a place has no others.
A place is a wall, a region, a group, a cabinet, or a pattern of cabinets such as `main/r*c3`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

from sim.errors import InputError, Problem, nearest_name, refuse
from sim.practice.desk import Desk, Spot
from sim.practice.symptoms import ALARMS, FROZEN, LIT, SAYS, SEEN, WHAT
from sim.study.fault_names import NAMES

STEADY, BLINKED = "steady", "blinked"
WORDS = (*SEEN, LIT, STEADY, BLINKED)
ELSE = "all else"
STEADILY, LOOSE = "steadily ", "comes and goes"
"""What may be said of a report: the same whenever somebody asks, or now this and now that."""
HELPED, SAME = "helped", "no change"
"""What putting a good one in the place of a thing may show."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What spots look like: some of them, or `whole`, all."""

    text: str
    spots: frozenset[Spot]
    word: str
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Heard:
    """A report of a unit or link, or an alarm (`says`: which trouble, "" any, "none"). Heard once,
    or `steady`: whenever somebody asked; it may also come and go.
    """

    text: str
    kind: str
    name: str
    says: str
    steady: bool = False


@dataclass(frozen=True, slots=True)
class Tried:
    """A good one was put in the place of a thing: something got better, or nothing changed."""

    text: str
    name: str
    says: str


Item = Sight | Heard | Tried


def evidence(seen: Sequence[str], reports: Sequence[str], desk: Desk) -> tuple[Item, ...]:
    """All that was seen and reported. Raises InputError with every problem."""
    problems: list[Problem] = []
    found: list[Item] = []
    for option, texts in (("--seen", seen), ("--report", reports)):
        for text in texts:
            try:
                where = f"{option} {text!r}"
                said = " ".join(text.split())
                found.append(
                    _sight(said, desk, where) if option == "--seen" else _heard(said, desk, where)
                )
            except InputError as error:
                problems += error.problems
    if not found and not problems:
        todo = "say something: --seen 'WALL dark', or --report 'port ...: link no'"
        raise refuse("staylit diagnose", "nothing is said to be seen or reported", "", todo=todo)
    if problems:
        raise InputError(problems)
    return tuple(_elsewhere(found, desk))


def _elsewhere(found: Iterable[Item], desk: Desk) -> Iterable[Item]:
    """`all else` means the spots that no other text speaks of."""
    items = list(found)
    sights = [i for i in items if isinstance(i, Sight) and not _rest(i)]
    rest = frozenset(desk.patches).difference(*(sight.spots for sight in sights))
    return [replace(i, spots=rest) if isinstance(i, Sight) and _rest(i) else i for i in items]


def _rest(sight: Sight) -> bool:
    return sight.text.startswith(ELSE)


# ---- what is seen --------------------------------------------------------------------------------


def _sight(text: str, desk: Desk, where: str) -> Sight:
    if text == "nothing":
        return Sight(text, frozenset(desk.patches), LIT, True)
    place, _, word = text.rpartition(" ")
    if word not in WORDS:
        near = nearest_name(word, WORDS)
        todo = "write a place, then what it looks like: --seen 'main dark'"
        raise refuse(where, f"{word!r} is not how a place looks", ", ".join(WORDS), near, todo)
    whole = word in (LIT, STEADY)
    if place.endswith(" all"):
        place, whole = place.removesuffix(" all"), True
    spots = _spots(place, desk, where)
    return Sight(text, (spots - desk.still or spots) if word == FROZEN else spots, word, whole)


def _spots(place: str, desk: Desk, where: str) -> frozenset[Spot]:
    """The spots that a place means."""
    if place == ELSE:
        return frozenset(desk.patches)
    found = {s for s, p in desk.patches.items() if place in (p.wall, p.cabinet)}
    found |= {s for s, p in desk.patches.items() if place in (name for name, _ in p.regions)}
    if place in desk.canvases:
        found |= {s for s, p in desk.patches.items() if p.cabinet in desk.canvases[place].patches}
    if not found and re.search(r"[*?[]", place):
        found = {spot for spot in desk.patches if fnmatchcase(spot[0], place)}
    if not found:
        raise _no_place(place, desk, where)
    return frozenset(found)


def _no_place(place: str, desk: Desk, where: str) -> InputError:
    names = list(desk.canvases)
    for canvas in desk.canvases.values():
        names += [*canvas.walls, *canvas.regions]
    cabinets = sorted({cabinet for cabinet, _ in desk.patches})
    allowed = (
        f"{', '.join(dict.fromkeys(names))}, a cabinet such as {cabinets[0]}, a pattern with *"
    )
    near = nearest_name(place, names) or nearest_name(place, cabinets)
    found = f"there is no place {place!r}" if place else "names no place"
    return refuse(where, found, allowed, near, "write the place as the scenario has it")


# ---- what is reported ----------------------------------------------------------------------------

REPORT = re.compile(
    rf"(?P<kind>{'|'.join(sorted(WHAT, key=len, reverse=True))}|alarm|swap) (?P<name>.+?)"
    r"(?:: ?(?P<rest>.+))?"
)


def _heard(text: str, desk: Desk, where: str) -> Heard | Tried:
    if text == "no alarm":
        return Heard(text, "alarm", "", "none")
    match = REPORT.fullmatch(text)
    if match is None:
        allowed = f"{', '.join(WHAT)}, alarm or swap, then a name, a colon and what it says"
        todo = "write it as `staylit diagnose` prints reports, such as 'port NAME: link no'"
        near = nearest_name(text.partition(" ")[0], (*WHAT, "alarm", "swap"))
        raise refuse(where, "is no report", allowed, near, todo)
    kind, name, rest = match["kind"], match["name"], (match["rest"] or "").strip()
    known = names_of(desk)[kind]
    if name not in known:
        few = ", ".join(known[:4]) + (f" and {len(known) - 4} more" if len(known) > 4 else "")
        found = f"there is no {kind} {name!r}"
        allowed = few or f"this rig has no {kind} to speak of"
        raise refuse(where, found, allowed, nearest_name(name, known), NAMES)
    if kind == "swap":
        return Tried(text, name, _one_of(rest, (HELPED, SAME), where))
    if kind == "alarm":
        return Heard(text, kind, name, _one_of(rest, ALARMS, where) if rest else "")
    said = rest.removesuffix(", picture unknown").removeprefix(WHAT[kind]).strip()
    steady, said = said.startswith(STEADILY), said.removeprefix(STEADILY)
    return Heard(text, kind, name, _one_of(said, (*SAYS[kind], LOOSE), where), steady)


def _one_of(said: str, allowed: Sequence[str], where: str) -> str:
    if said in allowed:
        return said
    found = f"says {said!r}" if said else "does not say what it says"
    raise refuse(
        where,
        found,
        ", ".join(allowed),
        nearest_name(said, allowed),
        "end it with : and one of these",
    )


def names_of(desk: Desk) -> dict[str, list[str]]:
    """What each kind of report may be about."""
    found = {
        "unit": list(desk.units),
        "port": [port.name for port in desk.ports],
        "link": list(desk.links),
        "alarm": [thing.name for thing in desk.rig.things.values() if thing.monitored],
        "swap": list(desk.rig.things),
    }
    for taken in desk.inputs:
        found.setdefault(taken.kind, []).append(f"{taken.name} of {taken.unit}")
    return {kind: found.get(kind, []) for kind in (*WHAT, "alarm", "swap")}
