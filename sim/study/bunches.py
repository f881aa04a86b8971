"""Every single fault of a rig, told once for all like things that it does the same to.

In: a `Laboratory`. Out: frozen `Outcome`s, each with its bunch; together they stand for the
outcomes of all strikes of the catalogue that can be noticed in the group.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import replace

from sim.rig.topology import Thing
from sim.study.laboratory import Laboratory
from sim.study.outcome import Bunch, Outcome
from sim.study.strikes import Catalogue, role


def bunched(laboratory: Laboratory) -> tuple[Outcome, ...]:
    """The outcomes, in the order of the first strikes of their bunches."""
    catalogue = Catalogue(laboratory.rig)
    bunches = sorted(_alike(laboratory, catalogue), key=lambda bunch: bunch.first)
    made = [_of(laboratory, bunch) for bunch in bunches]
    others = (strike for strike in catalogue.others() if laboratory.concerns(strike))
    return (*made, *map(laboratory.outcome, others))


def _alike(laboratory: Laboratory, catalogue: Catalogue) -> Iterator[Bunch]:
    """The things of each likeness, with each of their modes."""
    found: dict[Hashable, list[int]] = {}
    for number, thing in enumerate(catalogue.things):
        if thing.name in laboratory.above:
            found.setdefault(_likeness(laboratory, catalogue, number, thing), []).append(number)
    for things in found.values():
        for mode in range(len(catalogue.modes_of(catalogue.things[things[0]]))):
            yield Bunch(catalogue, things, mode)


def _likeness(laboratory: Laboratory, catalogue: Catalogue, number: int, thing: Thing) -> Hashable:
    """Equal for things of which every mode does the same, and is told with the same words."""
    key = laboratory.alike.key((thing.name,))
    if key is None:
        return number
    told = (role(thing.name, thing.group), thing.group, thing.supplier, thing.monitored)
    return (key, thing.family, catalogue.drops(thing), told)


def _of(laboratory: Laboratory, bunch: Bunch) -> Outcome:
    catalogue, first = bunch.catalogue, bunch.catalogue.things[bunch.things[0]]
    strike = catalogue.strike(first, catalogue.modes_of(first)[bunch.mode])
    return replace(laboratory.outcome(strike), bunch=bunch)
