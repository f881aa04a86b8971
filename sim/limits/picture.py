"""What of a group's picture nobody would see as planned: layers under others, parts without any.

In: a frozen `Group` with its stacks and cells (pixels), how layers answer a loss. Out: frozen
findings, notes all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from sim.limits.findings import Finding
from sim.rig.topology import Carrier, Group, Layer, Placement, Rig

SMALL = Fraction(1, 1000)
"""A share of the picture below which bare background is not worth a note."""


def picture_findings(rig: Rig) -> Iterator[Finding]:
    """Hidden layers and bare background, group by group."""
    for group in rig.groups.values():
        yield from _hidden(rig, group)
        yield from _bare(group)


def _hidden(rig: Rig, group: Group) -> Iterator[Finding]:
    """Layers that lie under others wherever they are placed, also where those give way."""
    numbers = {cell.stack for cell in group.cells}
    stacks = [of for number in numbers for of in group.stacks[number].values()]
    seen = _seen(stacks, _giving_way(rig, group))
    for layer in sorted({each.layer for of in stacks for each in of} - seen):
        text = f"the layer {layer} lies wholly under others in every arrangement"
        todo = "the first layer written is on top: put it further up, or leave it out"
        yield Finding("note", "picture", group.name, text, todo)


def _seen(stacks: Iterable[Sequence[Placement]], giving_way: frozenset[str]) -> set[str]:
    """The layers on top of some stack, or under layers that are left out when they are lost."""
    seen = set()
    for stack in stacks:
        for placement in stack:
            seen.add(placement.layer)
            if placement.layer not in giving_way:
                break
    return seen


def _giving_way(rig: Rig, group: Group) -> frozenset[str]:
    carriers = [node for name in group.carriers if isinstance(node := rig.nodes[name], Carrier)]
    layers = [rig.nodes[name] for carrier in carriers for name in carrier.layers]
    return frozenset(n.layer for n in layers if isinstance(n, Layer) and n.on_loss == "uncovered")


def _bare(group: Group) -> Iterator[Finding]:
    """The part of the picture meant that no layer covers."""
    meant = group.arrangements[0]
    area = sum(cell.area for cell in group.cells)
    bare = sum(cell.area for cell in group.cells if not group.stacks[cell.stack][meant])
    if bare and Fraction(bare, area) >= SMALL:
        text = f"no layer covers {bare} of its {area} pixels in {meant}: they show the background"
        figures = (("pixels", bare), ("share", Fraction(bare, area)))
        yield Finding("note", "picture", group.name, text, "cover them, or mean it so", figures)
