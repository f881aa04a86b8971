"""Whether what is said of things by name, type or family fits them: rates, repairs, tests, causes.

In: the rigs of a valid scenario. Out: problems in five parts, by the rules in `RATED_RULES`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from fnmatch import fnmatchcase

from sim.errors import Problem
from sim.faults import CABLES, MODES
from sim.scenario.kits import family_of
from sim.scenario.messages import Path
from sim.scenario.rate_entries import miscounted
from sim.scenario.rigs import Found, Rigs, everything
from sim.scenario.risk_entries import SHARED_MODES

WHOSE = ("things", "type", "family")
Known = list[tuple[str, str]]
"""Names with their families."""


def _rates(on: Rigs) -> Found:
    """A rate is of one thing, type or family, which knows its mode, and is stated once."""
    told: set[tuple[str | None, ...]] = set()
    known = list(everything(on)) if on.scenario.file.rates else []
    for number, entry in enumerate(on.scenario.file.rates):
        path: Path = ("rates", number)
        whose = (entry.things, entry.kit, entry.family)
        if sum(each is not None for each in whose) != 1:
            yield _whose(on, path, "rate", any(whose))
            continue
        if (*whose, entry.mode, entry.per) in told:
            found = f"a second rate of {entry.mode} of the same"
            yield on.wrong(path, found, ["each once"], "", "delete one of the two")
        told.add((*whose, entry.mode, entry.per))
        families = _matched(known, entry.things) if entry.things else ()
        if entry.things and not families:
            yield _unmatched(on, (*path, "things"), known, entry.things)
            continue
        of = families or _of(on, entry.kit, entry.family)
        for wrong in miscounted(entry, of):
            yield on.wrong((*path, wrong.key), *wrong[1:])


def _repairs(on: Rigs) -> Found:
    """A repair is of things, a type or a family, which know the modes that it mends."""
    crew = on.scenario.file.crew
    known = list(everything(on)) if crew and crew.repairs else []
    for number, entry in enumerate(crew.repairs if crew else ()):
        path: Path = ("crew", "repairs", number)
        whose = (bool(entry.things), bool(entry.kit), bool(entry.family))
        if sum(whose) != 1:
            yield _whose(on, path, "repair", any(whose))
            continue
        lost = [each for each in entry.things if not _matched(known, each)]
        for pattern in lost:
            yield _unmatched(on, (*path, "things"), known, pattern)
        things = (family for each in entry.things for family in _matched(known, each))
        of = tuple(dict.fromkeys(things)) or _of(on, entry.kit, entry.family)
        if not lost:
            yield from _modes(on, (*path, "modes"), of, entry.modes)
        if entry.by != "swap" and of and {*of} <= {*CABLES}:
            found = f"{entry.by} of a {' or '.join(of)}, which nobody can restart"
            yield on.wrong((*path, "by"), found, ["swap"], "", "write by: swap")


def _tested(on: Rigs) -> Found:
    """What was tested is there, and is named once."""
    told: set[str] = set()
    known = list(everything(on)) if on.scenario.file.tested else []
    for number, entry in enumerate(on.scenario.file.tested):
        path: Path = ("tested", number, "things")
        for pattern in entry.things:
            if pattern in told:
                found = f"{pattern!r} a second time: only the first counts"
                yield on.wrong(path, found, ["each once"], "", "delete one of the two")
            elif not _matched(known, pattern):
                yield _unmatched(on, path, known, pattern)
            told.add(pattern)


def _together(on: Rigs) -> Found:
    """A shared cause strikes things that there are, or identical units, in a mode they know."""
    told: set[str] = set()
    known = list(everything(on)) if on.scenario.file.together else []
    for number, entry in enumerate(on.scenario.file.together):
        path: Path = ("together", number)
        if entry.name in told:
            todo = "rename one of the two"
            yield on.wrong(path, f"{entry.name!r} a second time", ["each name once"], "", todo)
        told.add(entry.name)
        whose = (bool(entry.things), bool(entry.kit), bool(entry.family))
        if sum(whose) != 1:
            yield _whose(on, path, "shared cause", any(whose))
        elif entry.things:
            for pattern in entry.things:
                yield from _struck(on, path, known, pattern, entry.mode)
        else:
            of = _of(on, entry.kit, entry.family)
            yield from _modes(on, (*path, "mode"), of, (entry.mode,), SHARED_MODES)


def _struck(on: Rigs, path: Path, known: Known, pattern: str, mode: str) -> Found:
    of = _matched(known, pattern)
    if not of:
        yield _unmatched(on, (*path, "things"), known, pattern)
    else:
        yield from _modes(on, (*path, "mode"), of, (mode,), SHARED_MODES)


def _whose(on: Rigs, path: Path, what: str, several: bool) -> Problem:
    found = f"a {what} of more than one" if several else f"a {what} must say whose it is"
    return on.wrong(path, found, WHOSE, "", "keep one of the three")


def _unmatched(on: Rigs, path: Path, known: Known, pattern: str) -> Problem:
    found, near = f"{pattern!r} matches nothing of this rig", pattern.replace("*", "")
    return on.wrong(path, found, [n for n, _ in known], near, "correct the name, or delete it")


def _of(on: Rigs, kit: str | None, family: str | None) -> tuple[str, ...]:
    return (family or family_of(kit or "", on.scenario.file.equipment),)


def _modes(
    on: Rigs, path: Path, of: tuple[str, ...], said: Iterable[str], among: Collection[str] = ()
) -> Found:
    known = dict.fromkeys(mode for each in of for mode in MODES[each])
    modes = tuple(mode for mode in known if not among or mode in among)
    for mode in said:
        if mode not in modes:
            found = f"{mode!r} is no fault mode of a {' or '.join(of)}"
            yield on.wrong(path, found, modes, mode, "choose another")


def _matched(known: Known, pattern: str) -> tuple[str, ...]:
    """The families of the things whose names match."""
    return tuple(dict.fromkeys(family for name, family in known if fnmatchcase(name, pattern)))


RATED_RULES = (_rates, _repairs, _tested, _together)
