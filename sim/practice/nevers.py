"""What nobody should ever do on this rig, with the reason and what the model says it costs.

In: a `Bench`. Out: frozen `NeverDo`s. The rules are common practice, without a source unless one
is named; the figures are found by doing it on the model: frames at typical timings.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.faults import Fault
from sim.practice.acts import Act
from sim.practice.remedies import Way, restarting, way_of
from sim.practice.trials import SLOW_FLAP, Bench, Tried
from sim.practice.weighing import Price, priced
from sim.rig.topology import Rig
from sim.timebase import FLICKS

RESTART, BOTH, BREAKER, BACKUP, FIBRE, FLAPPING = (
    "Never restart the only scaling unit while it makes a picture.",
    "Never push settings to both units at once.",
    "Never close a breaker a second time that has tripped again.",
    "Never pull, restart or reseat the backup while the wall runs on it.",
    "Never look into a fibre or a connector, lit or not.",
    "Never leave a large part of a wall coming and going.",
)
WHY = {
    RESTART: "Nothing else makes the picture while it starts; with a second unit the wall still "
    "blinks twice. Wait for a break, or for the show caller's word.",
    BOTH: "A wrong setting is then in both, and the backup shows the same mistake. Push to the "
    "one that is not in use, look at it, then to the other.",
    BREAKER: "It has told twice that there is a fault behind it: fire and shock. Leave it off, "
    "have it found by a qualified electrician under local codes.",
    BACKUP: "After a changeover the backup is the only way left: whoever pulls it to see whether "
    "it works pulls the picture.",
    FIBRE: "The light is invisible and harms the eye (IEC 60825-2).",
    FLAPPING: "More than three flashes in a second over a quarter of the screen can harm "
    "photosensitive viewers (ITU-R BT.1702, WCAG 2.3.1): darken it.",
}


@dataclass(frozen=True, slots=True)
class Example:
    """What it costs here: `after` these have failed ("" nothing), with `things` restarted, reseated
    or set wrong; `price` of it (its `frames` are 0 where it lasts: then `share` shows something
    else than the picture).
    """

    things: tuple[str, ...]
    do: str
    price: Price
    after: str = ""


@dataclass(frozen=True, slots=True)
class NeverDo:
    """A rule, why, and what the model says of it on this rig, the dearest first."""

    what: str
    why: str
    examples: tuple[Example, ...] = ()


def never_do(bench: Bench, groups: Sequence[str]) -> tuple[NeverDo, ...]:
    """The list for these wall groups; a rule that the rig gives no case for stands without one."""
    found = {
        RESTART: [each for name in groups for each in _restarts(bench, name)],
        BOTH: [each for name in groups for each in _settings(bench, name)],
        BACKUP: [each for name in groups for each in _on_the_backup(bench, name)],
    }
    return tuple(NeverDo(what, why, tuple(found.get(what, ()))) for what, why in WHY.items())


def _tried(bench: Bench, faults: Sequence[Fault], ways: Sequence[Way]) -> Tried:
    return bench.tried(faults, ways, bench.part(faults, ways))


def _restarts(bench: Bench, group: str) -> Iterator[Example]:
    """Of units that make the picture now, the one that darkens most."""
    idle = _tried(bench, (), ())
    found = [
        Example((way.acts[0].on,), "restart", priced("", idle, _tried(bench, (), (way,)), bench))
        for way in restarting((group,), bench.site)
        if bench.rig.things[way.acts[0].on].family == "processor"
    ]
    yield from _worst(found)


def _settings(bench: Bench, group: str) -> Iterator[Example]:
    """All units of a group with one wrong setting, where it has several."""
    rig = bench.rig
    units = units_of(rig, group)
    if len(units) < 2:
        return
    stale = tuple(Fault(name, "stale", 0) for name in units)
    area = sum(cell.area for cell in rig.groups[group].cells)
    left = _tried(bench, stale, ()).rest[1] * FLICKS / min(SLOW_FLAP, rig.length)
    share = min(left * bench.area / area, Fraction(1))
    if share:
        walls = tuple(rig.groups[group].walls)
        yield Example(units, "set wrong", Price("", walls, share, 0, left))


def _on_the_backup(bench: Bench, group: str) -> Iterator[Example]:
    """After the loss of something that the wall survives, what of the rest must not be touched."""
    for fault in _survived(bench, group):
        idle = _tried(bench, (fault,), ())
        ways = [way for way in _touching(bench, group) if way.acts[0].on != fault.thing]
        found = [
            Example(
                (way.acts[0].on,),
                way.acts[0].do,
                priced("", idle, _tried(bench, (fault,), (way,)), bench),
                f"{fault.thing} {fault.mode}",
            )
            for way in ways
        ]
        yield from _worst(found)
        return


def _survived(bench: Bench, group: str) -> list[Fault]:
    """Losses of units and fibres after which everything is lit again, the widest blink first."""
    rig, patches = bench.rig, bench.site.desk.patches
    found = []
    for thing in rig.things.values():
        if thing.group != group or thing.family not in ("processor", "relay", "fibre"):
            continue
        fault = Fault(thing.name, "cut" if "cut" in thing.modes else "dead", 0)
        tried = _tried(bench, (fault,), ())
        if tried.dark and not tried.rest[1]:
            found.append((-sum(patches[spot].area for spot in tried.dark), thing.name, fault))
    return [fault for _, _, fault in sorted(found, key=lambda each: each[:2])]


def _touching(bench: Bench, group: str) -> Iterable[Way]:
    yield from restarting((group,), bench.site)
    for thing in bench.rig.things.values():
        if thing.group == group and thing.family == "fibre":
            yield way_of((Act("reseat", thing.name),), bench.site)


def _worst(found: Iterable[Example]) -> Iterator[Example]:
    dear = [each for each in found if each.price.frames]
    yield from sorted(dear, key=lambda e: (-e.price.share * e.price.frames, e.things))[:1]


def units_of(rig: Rig, group: str) -> tuple[str, ...]:
    """The processors that make a group's picture."""
    return tuple(dict.fromkeys(rig.nodes[name].thing for name in rig.groups[group].carriers))
