"""What the parts of a wall group are called, and what may be said of each kind of part.

In: a `ShowPlan` and one of its groups. Out: pairs (role, name without the group's prefix), in the
order of the signal; the timings that a family of equipment uses. No units.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import chain

from sim.rig.downstream import port_name
from sim.rig.draft import banks_of, full_name, ports_of, strand_names
from sim.rig.forms import Chain, ends, layout, prefix, strands
from sim.rig.plan import GroupPlan, ShowPlan, WallPlan
from sim.rig.wall import cabinet_name

Part = tuple[str, str]
"""A role (a key of a group's kits) and a name."""

ROLE_FAMILY: Mapping[str, str] = {
    "unit": "processor", "relay": "relay", "receiver": "receiver", "port": "port",
    "trunk": "fibre", "patch": "copper", "jumper": "jumper", "supply": "supply",
    "power-jumper": "power-jumper",
}  # fmt: skip
"""The family that each role of a group takes."""

CHANGES = ("start", "detect", "hold_off", "switch", "wait_to_restore")
GATED = ("notice", "return_wait")
TIMED: Mapping[str, tuple[str, ...]] = {
    "processor": (
        *CHANGES, *GATED, "holdover", "relock", "relock_glitch", "reference_detect",
        "reference_hold_off", "reference_switch", "reference_wait_to_restore",
    ),
    "relay": (*CHANGES, *GATED),
    "receiver": (*CHANGES, "keeps_last"),
}  # fmt: skip
"""The timings that a family uses."""


def timings_of(family: str) -> tuple[str, ...]:
    """The timings that a family uses; what only hands on, or feeds, has a start at most."""
    return TIMED.get(family, ("start",))


def nodes(group: GroupPlan) -> Iterator[Part]:
    """Units and relays of a group. Raises KeyError for an unknown topology."""
    made = layout(group)
    yield from (("unit", name) for name in made.units)
    yield from (("relay", name) for name in made.relays)


def parts(show: ShowPlan, group: GroupPlan) -> Iterator[Part]:
    """Everything of a group that a name or pattern can mean. Raises KeyError as `nodes`."""
    yield from nodes(group)
    made, ports = layout(group), ports_of(show)
    banks = banks_of(show, ports)
    for relay in (name for name in made.relays if name not in group.shared):
        for strand in strands(made, relay):
            names = strand_names(strand, banks[full_name(group, relay)])
            yield from (("trunk", name) for name in names)
    for sender, served, end in ends(made):
        yield "port", port_name(sender, ports[group.name, served, end][1])
    yield from chain.from_iterable(map(_chain, made.chains))
    for wall in group.walls:
        yield from _power(wall, prefix(group, wall))


def _chain(made: Chain) -> Iterator[Part]:
    yield "patch", f"{made.name}/head"
    if made.tail:
        yield "patch", f"{made.name}/tail"
    where = made.name.rpartition("/")[0]
    for number, place in enumerate(made.places, 1):
        yield "receiver", f"{cabinet_name(*place, where)}/receiver{made.card}"
        if number > 1:
            yield "jumper", f"{made.name}/jumper-{number}"


def _power(wall: WallPlan, before: str) -> Iterator[Part]:
    for number, places in enumerate(wall.power_chains, 1):
        for piece, place in enumerate(places, 1):
            yield "supply", f"{before}{cabinet_name(*place)}/supply"
            end = "head" if piece == 1 else f"jumper-{piece}"
            yield "power-jumper", f"{before}power-{number}/{end}"
