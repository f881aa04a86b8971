"""The names by which reports call the things of a rig, so that people can use them in return.

In: a frozen `Rig`. Out: by each such name the things, selectors or routes that it may mean, in the
rig's order: `cable playout to main/unit-a`, `scaling unit A`, `unit-a`, `input of layer ...`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property

from sim.report.words import plain, unit_words
from sim.rig.topology import Rig, selectors
from sim.study.strikes import role


class Spoken(Mapping[str, tuple[str, ...]]):
    """Names that differ from the thing's own, with all that each may mean; worked out when the
    first of them is looked up.
    """

    def __init__(self, rig: Rig) -> None:
        self.rig = rig

    @cached_property
    def known(self) -> Mapping[str, tuple[str, ...]]:
        return _spoken(self.rig)

    def __getitem__(self, name: str) -> tuple[str, ...]:
        return self.known[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.known)

    def __len__(self) -> int:
        return len(self.known)


def spoken(rig: Rig) -> Mapping[str, tuple[str, ...]]:
    """Names that differ from the thing's own, with all that each may mean."""
    return Spoken(rig)


def _spoken(rig: Rig) -> Mapping[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    of_role: dict[str, tuple[str, ...]] = {}
    for name, group in _named(rig):
        of = role(name, group)
        if of not in of_role:
            of_role[of] = (of, plain(of), unit_words(of))
        short = name.removeprefix(f"{group}/") if group else name
        circuit = f"circuit {name}" if name in rig.things and _is_circuit(rig, name) else name
        for called in (plain(name), short, *of_role[of], circuit):
            if called != name:
                found.setdefault(called, {})[name] = None
    routes = {f"route {route}" for thing in rig.things.values() for route in thing.routes}
    found |= {plain(route): {route: None} for route in sorted(routes) if plain(route) != route}
    return {called: tuple(names) for called, names in found.items()}


def _is_circuit(rig: Rig, name: str) -> bool:
    return rig.things[name].family == "circuit"


def _named(rig: Rig) -> Iterator[tuple[str, str]]:
    """Things, and selectors that can choose, with the group of each."""
    for thing in rig.things.values():
        yield thing.name, thing.group
    for selector, node in selectors(rig):
        if len(node.inputs) > 1:
            yield selector.name, rig.things[node.thing].group
