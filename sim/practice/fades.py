"""Layers that are faded out on purpose: for each arrangement the same without one of its layers.

In: a frozen `Rig`. Out: the rig with these arrangements beside its own; their names. The engine
knows arrangements only: to fade a layer is to take the one without it, and from then on what lies
below it is meant. A layer under which no other lies everywhere cannot be faded so: that would make
a black wall what is meant.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sim.rig.topology import Group, Rig


def faded(arrangement: str, layer: str) -> str:
    """What an arrangement without one of its layers is called."""
    return f"{arrangement} without {layer}"


def with_fades(rig: Rig) -> tuple[Rig, frozenset[str]]:
    """The rig with an arrangement more for each layer of each arrangement, and their names."""
    found = {name: dict(_fades(group)) for name, group in rig.groups.items()}
    groups = {name: _with(group, found[name]) for name, group in rig.groups.items()}
    return replace(rig, groups=groups), frozenset(each for of in found.values() for each in of)


def layers_of(group: Group, arrangement: str) -> tuple[str, ...]:
    """The layers that lie anywhere in an arrangement."""
    found = (placed.layer for stack in group.stacks for placed in stack[arrangement])
    return tuple(sorted(dict.fromkeys(found)))


def covering(group: Group, arrangement: str) -> tuple[str, ...]:
    """Those of them under which another lies wherever they lie."""
    bottom = {stack[arrangement][-1].layer for stack in group.stacks if stack[arrangement]}
    return tuple(layer for layer in layers_of(group, arrangement) if layer not in bottom)


def _fades(group: Group) -> Iterator[tuple[str, tuple[str, str]]]:
    for arrangement in group.arrangements:
        for layer in covering(group, arrangement):
            if faded(arrangement, layer) not in group.arrangements:
                yield faded(arrangement, layer), (arrangement, layer)


def _with(group: Group, fades: dict[str, tuple[str, str]]) -> Group:
    stacks = tuple(
        {
            **stack,
            **{
                name: tuple(placed for placed in stack[of] if placed.layer != layer)
                for name, (of, layer) in fades.items()
            },
        }
        for stack in group.stacks
    )
    return replace(group, arrangements=(*group.arrangements, *fades), stacks=stacks)
