"""Which things of a rig a fault text speaks of: by full name, pattern, route, or a name of reports.

In: a text after its mode, the rig, other names by which things are known. Out: the names of things
or selectors, and what follows them in the text. The longest name that fits is meant, so that
`desk to units` is one name. Raises InputError with what is allowed and the nearest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fnmatch import fnmatchcase

from sim.errors import InputError, nearest_name, refuse
from sim.rig.topology import Rig, selectors

SPLIT = re.compile(r"\s+(before the show|hard|at|for|every|off|by|losing|to)(?=\s|$)")
Spoken = Mapping[str, tuple[str, ...]]
"""Other names than its own by which a thing, a selector or a `route NAME` is known; a name may mean
several.
"""
NAMES = "see the names with `staylit draw SCENARIO --format json`"
QUOTES = "put a fault in one pair of quotes: staylit inject SCENARIO 'dead THING at 5 s'"
FEW = 4


def cut_name(
    text: str, mode: str, rig: Rig, spoken: Spoken, where: str
) -> tuple[tuple[str, ...], str]:
    """The things that the beginning of `text` means, and the rest of it."""
    cuts = [*(match.start() for match in SPLIT.finditer(f" {text}")), len(text) + 1]
    parts = [(f" {text}"[:cut].strip(), f" {text}"[cut:]) for cut in cuts]
    for name, rest in reversed(parts):
        if found := _meant(name, rig, spoken, mode, where):
            return found, rest
    if not parts[0][0]:
        raise refuse(where, "names no thing", "a thing, a pattern, or `route NAME`", todo=QUOTES)
    raise _unable([name for name, _ in reversed(parts)], mode, rig, spoken, where)


def _meant(name: str, rig: Rig, spoken: Spoken, mode: str, where: str) -> tuple[str, ...]:
    """What a whole name means, of what can have this mode; empty if nothing."""
    known = able(rig, mode)
    if name in known:
        return (name,)
    name = next((of for of in spoken.get(name, ()) if of.startswith("route ")), name)
    if re.search(r"[*?[]", name):
        return tuple(each for each in known if fnmatchcase(each, name))
    if name.startswith("route "):
        return _on_route(name.removeprefix("route ").strip(), rig, known)
    one_of = [each for each in spoken.get(" ".join(name.split()), ()) if each in known]
    route = _on_route(name, rig, known)
    if len(one_of) + bool(route) > 1:
        found = [*one_of, *([f"route {name}"] if route else [])]
        raise several(name, found, where, "write one of them, or a pattern with * for several")
    return (*one_of, *route)


def able(rig: Rig, mode: str) -> dict[str, None]:
    """The things that can have a mode, in the rig's order; for `moved` also selectors."""
    things = dict.fromkeys(thing.name for thing in rig.things.values() if mode in thing.modes)
    if mode != "moved":
        return things
    return {**things, **dict.fromkeys(s.name for s, node in selectors(rig) if len(node.inputs) > 1)}


def _on_route(route: str, rig: Rig, known: Iterable[str]) -> tuple[str, ...]:
    """The things on a route that are known."""
    things = (rig.things[name] for name in known if name in rig.things)
    return tuple(thing.name for thing in things if route in thing.routes)


def several(name: str, found: Sequence[str], where: str, todo: str) -> InputError:
    """A name that may mean several, with the first few of them."""
    more = f" and {len(found) - FEW} more" if len(found) > FEW else ""
    return refuse(
        where, f"{name!r} may be any of {len(found)}", ", ".join(found[:FEW]) + more, todo=todo
    )


def _unable(names: Sequence[str], mode: str, rig: Rig, spoken: Spoken, where: str) -> InputError:
    """Nothing of these names, the longest first, can have the mode."""
    for name in names:
        modes = dict.fromkeys(
            m for thing in _any(name, rig, spoken) for m in rig.things[thing].modes
        )
        if modes:
            found = f"{name!r} is there, but is nothing that can be {mode}"
            return refuse(where, found, f"its modes: {', '.join(modes)}", todo=NAMES)
    name, known = names[-1], able(rig, mode)
    routes = tuple(_routes(rig))
    if name.startswith("route "):
        route = name.removeprefix("route ").strip()
        todo, near = "name the route as the scenario has it", nearest_name(route, routes)
        return refuse(where, f"no cable lies on route {route!r}", ", ".join(routes), near, todo)
    others = [other for other, of in spoken.items() if any(each in known for each in of)]
    near = nearest_name(name, [*known, *routes, *others])
    allowed = "a thing of the rig, a pattern with *, or `route NAME`"
    return refuse(where, f"there is no {name!r} that can be {mode}", allowed, near, NAMES)


def _any(name: str, rig: Rig, spoken: Spoken) -> Iterator[str]:
    """Things that a name means, whatever their modes."""
    route = name.removeprefix("route ")
    for thing in rig.things.values():
        meant = thing.name in spoken.get(name, ()) or route in thing.routes
        if meant or thing.name == name or fnmatchcase(thing.name, name):
            yield thing.name


def _routes(rig: Rig) -> dict[str, None]:
    return dict.fromkeys(route for thing in rig.things.values() for route in thing.routes)
