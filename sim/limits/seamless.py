"""Whether each seamless pair of a rig can work: one sender, and a buffer that evens out its paths.

In: a built `Rig`. Out: serious findings, none if all pairs work; each is also a reason why the
topology cannot be built. Both legs are followed for every choice that the selectors above can
make together (a selector above both legs stands alike for both). Flicks, exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import prod

from sim.limits.findings import Finding, in_words, micro
from sim.rig.topology import Merge, Rig

MOST_CHOICES = 4096
"""Choices followed one by one; with more, a pair is refused rather than believed."""


@dataclass(frozen=True, slots=True)
class Legs:
    """The two legs under one choice of the selectors above: where from, how late (flicks)."""

    senders: tuple[str, str]
    delays: tuple[Fraction, Fraction]

    @property
    def difference(self) -> Fraction:
        """Flicks."""
        return abs(self.delays[0] - self.delays[1])


def seamless_problems(rig: Rig) -> tuple[Finding, ...]:
    """Serious findings for all pairs that cannot work."""
    pairs = (node for node in rig.nodes.values() if isinstance(node, Merge))
    return tuple(found for node in pairs for found in _problems(rig, node))


def _problems(rig: Rig, node: Merge) -> Iterator[Finding]:
    above = choosers(rig, node)
    many = prod(above.values())
    if many > MOST_CHOICES:
        text = (
            f"{in_words(node.name)}: the changeovers above it can stand in {many} ways, too many "
            "to follow"
        )
        yield Finding("serious", "seamless", node.thing, text, "feed the pair more simply")
        return
    every = tuple(legs(rig, node, dict(choice)) for choice in _choices(above))
    apart = next((each.senders for each in every if each.senders[0] != each.senders[1]), None)
    if apart:
        text = (
            f"the legs of {in_words(node.name)} can carry two senders' packets, those of "
            f"{in_words(apart[0])} and {in_words(apart[1])}"
        )
        todo = "feed both legs from one sender"
        yield Finding("serious", "seamless", node.thing, text, todo)
    most = max(each.difference for each in every)
    if most > node.buffer:
        yield _too_far(node, most)


def _too_far(node: Merge, most: Fraction) -> Finding:
    text = (
        f"the paths of {in_words(node.name)} differ by up to {micro(most)}, "
        f"and its buffer evens out {micro(Fraction(node.buffer))}"
    )
    todo = "make the two ways more equal in length, or take a unit with a larger buffer"
    figures = (("difference, flicks", most), ("buffer, flicks", node.buffer))
    return Finding("serious", "seamless", node.thing, text, todo, figures)


def choosers(rig: Rig, node: Merge) -> dict[str, int]:
    """Nodes above a pair that choose among inputs, with how many each has."""
    found: dict[str, int] = {}
    todo = list(node.inputs)
    seen: set[str] = set()
    while todo:
        above = rig.nodes[todo.pop()]
        if above.name not in seen:
            seen.add(above.name)
            todo += above.inputs
            if len(above.inputs) > 1:
                found[above.name] = len(above.inputs)
    return found


def _choices(above: Mapping[str, int]) -> Iterator[Iterator[tuple[str, int]]]:
    for numbers in product(*(range(many) for many in above.values())):
        yield zip(above, numbers, strict=True)


def legs(rig: Rig, node: Merge, choice: Mapping[str, int]) -> Legs:
    """Both legs of a pair where each chooser above feeds the input that `choice` names."""
    (one, here), (other, there) = (_walk(rig, name, choice) for name in node.inputs)
    return Legs((one, other), (here, there))


def _walk(rig: Rig, name: str, choice: Mapping[str, int]) -> tuple[str, Fraction]:
    """Where a signal comes from, and the delay from there to `name`, both ends counted."""
    delay = Fraction(0)
    while (node := rig.nodes[name]).inputs:
        delay += node.delay
        name = node.inputs[choice.get(name, 0)]
    return name, delay + node.delay
