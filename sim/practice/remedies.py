"""What may be tried against a fault: ways to act, each of one or several acts.

In: the rig, where its things are, when places can be reached, the spares, faults. Out: frozen
`Way`s. They are candidates only: what they come to is tried on the rig (`trials`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from sim.practice.acts import Act
from sim.practice.costs import spare_of
from sim.practice.desk import Desk
from sim.practice.handwork import sender_of
from sim.practice.mends import mends
from sim.rig.terms import Crew
from sim.rig.topology import Display, Rig, selectors

NOW, BREAK, UNKNOWN, AFTER = "now", "in a break", "place not stated", "after the show"
WHEN = (NOW, UNKNOWN, BREAK, AFTER)
"""When something can be done: from the earliest to the latest; what has no place stands second: it
may be as near as the desk, and nobody has said so.
"""
BY_COMMAND = ("select", "restart", "load")
"""What a processor takes over a control link."""


@dataclass(frozen=True, slots=True)
class Way:
    """Acts one after the other at one `place` ("" where hands are not needed, or unknown)."""

    acts: tuple[Act, ...]
    place: str = ""
    when: str = NOW


@dataclass(frozen=True)
class Site:
    """A rig with what surrounds it: `places` of things ("" unknown), `reach` of places, `desk`:
    where the engineer sits, `free` ports, the crew.
    """

    rig: Rig
    desk: Desk
    at: str
    places: Mapping[str, str]
    reach: Mapping[str, str] = field(default_factory=dict)
    free: Mapping[str, int] = field(default_factory=dict)
    crew: Crew | None = None

    @property
    def control(self) -> str:
        return self.crew.control if self.crew else ""


def mending(things: Iterable[str], site: Site) -> tuple[Way, ...]:
    """Ways that work on what is struck."""
    acts = dict.fromkeys(act for name in things for act in mends(name, site.rig))
    return tuple(way_of((act,), site) for act in acts if _stocked(act, site))


def _stocked(act: Act, site: Site) -> bool:
    """Whether there is the spare or the free port that an act needs."""
    if act.do == "re-patch":
        return site.free.get(sender_of(site.rig, act.on), 0) > 0
    if act.do != "swap":
        return True
    stock = spare_of(site.rig.things[act.on], site.crew)
    return bool(site.crew and site.crew.spares.get(stock, 0))


def choosing(
    groups: Iterable[str], site: Site, moved: Collection[int | str | None]
) -> tuple[Way, ...]:
    """Ways that take something else or set it back: an input on all selectors alike of a unit, an
    arrangement, the settings in use. `moved`: what somebody may have chosen by mistake; then first
    inputs are candidates too, and an arrangement taken by mistake is none: to take it on purpose
    would only call it right.
    """
    of = tuple(groups)
    choices: dict[tuple[str, int], list[Act]] = {}
    for selector, node in selectors(site.rig):
        thing = site.rig.things[node.thing]
        alone = len(node.inputs) < 2 or isinstance(node, Display)
        if alone or thing.group not in of:
            continue
        kind = selector.name.rpartition(" ")[0] if "#bank" in selector.name else selector.name
        for number in range(0 if moved else 1, len(node.inputs)):
            choices.setdefault((kind, number), []).append(Act("select", selector.name, str(number)))
    found = [way_of(tuple(acts), site) for acts in choices.values()]
    for name in of:
        group = site.rig.groups[name]
        units = dict.fromkeys(site.rig.nodes[carrier].thing for carrier in group.carriers)
        found += [way_of((Act("load", unit),), site) for unit in units]
        arrangements = [each for each in group.arrangements if each not in moved]
        found += [way_of((Act("take", name, each),), site) for each in arrangements]
    return tuple(found)


def restarting(groups: Iterable[str], site: Site) -> tuple[Way, ...]:
    """Ways that tempt: restart a unit of these groups, whatever is wrong."""
    of = tuple(groups)
    units = (name for name in site.desk.units if site.rig.things[name].group in of)
    return tuple(way_of((Act("restart", name),), site) for name in units)


def way_of(acts: tuple[Act, ...], site: Site) -> Way:
    """Where and when acts can be done."""
    places = {place for act in acts for place in _hands_at(act, site)}
    when = max((_when(place, site) for place in places), key=WHEN.index, default=NOW)
    return Way(acts, next((place for place in places if place), ""), when)


def _when(place: str, site: Site) -> str:
    reach = site.reach.get(place, "") if place else ""
    return {"always": NOW, "in breaks": BREAK, "": UNKNOWN}.get(reach, AFTER)


def _hands_at(act: Act, site: Site) -> Iterator[str]:
    """The places at which somebody must be for an act."""
    for name in touched(act, site.rig):
        remote = act.do in BY_COMMAND or act.do in ("take", "darken", "light")
        if not (remote and site.rig.things[name].family == "processor" and site.control):
            yield site.places.get(name, "")
        if act.do != "take":
            return


def touched(act: Act, rig: Rig) -> tuple[str, ...]:
    """The things that an act is done to: a selector's unit, a cabinet's first card, all units of a
    group whose arrangement is taken.
    """
    if act.on in rig.things:
        return (act.on,)
    if act.on in rig.groups:
        return tuple(dict.fromkeys(rig.nodes[c].thing for c in rig.groups[act.on].carriers))
    if act.on in rig.cabinets:
        return tuple(rig.nodes[card].thing for card in rig.cabinets[act.on].cards)
    return tuple(node.thing for of, node in selectors(rig) if of.name == act.on)
