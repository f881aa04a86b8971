"""Faults that look alike, place by place, and places that are alike put together.

In: a `Library`, `Cause`s (single faults, each with its look). Out: frozen `Kin`: one for each kind
of picture, with all places at which the rig may show it. Places are alike if the same kinds of
faults may be behind what is seen there, and the same states, blinks and alarms show.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.practice.causes import Cause, total
from sim.practice.desk import Desk
from sim.practice.library import Look
from sim.practice.symptoms import SEEN
from sim.rig.topology import Rig
from sim.study.strikes import Strike, role

Kind = tuple[str, str, str, str]
"""Group, role, mode, what it was moved to: a kind of fault, wherever it strikes."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a wall shows: so many cabinets (least and most over the places), and what part of the
    wall; `state` is "blinked" for what is lit again.
    """

    wall: str
    state: str
    cabinets: tuple[int, int]
    share: tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Kin:
    """`places`: for each place its causes, the likeliest first; the places in the rig's order."""

    places: tuple[tuple[Cause, ...], ...]

    @property
    def causes(self) -> tuple[Cause, ...]:
        return tuple(cause for place in self.places for cause in place)

    @property
    def mass(self) -> float:
        """Mean number of strikes in a show."""
        return total(self.causes)


def kindred(causes: Iterable[Cause], desk: Desk) -> tuple[Kin, ...]:
    """Every cause in exactly one kin, in the order of the first of each."""
    alike: dict[Hashable, list[Cause]] = {}
    for cause in causes:
        alike.setdefault(cause.look.sign, []).append(cause)
    kin: dict[Hashable, list[tuple[Cause, ...]]] = {}
    for of in alike.values():
        place = tuple(sorted(of, key=lambda cause: (-cause.weight, cause.name)))
        kin.setdefault(_likeness(place, desk), []).append(place)
    return tuple(Kin(tuple(places)) for places in kin.values())


def _likeness(place: Sequence[Cause], desk: Desk) -> Hashable:
    look = place[0].look
    kinds = frozenset(kind for cause in place for kind in kinds_of(cause, desk.rig))
    alarms = frozenset((role_of(a.name, desk.rig), a.trouble) for a in look.shown.alarms)
    return kinds, frozenset(_states(look, desk)), alarms


def _states(look: Look, desk: Desk) -> Iterator[tuple[str, str]]:
    """Group and state, for all that is seen; like walls of a group count as one."""
    of = {wall: name for name, group in desk.rig.groups.items() for wall in group.walls}
    for spot, state in look.shown.spots.items():
        yield of[desk.patches[spot].wall], state
    for spot in look.blinked:
        yield of[desk.patches[spot].wall], BLINKED


BLINKED = "blinked"


def kinds_of(cause: Cause, rig: Rig) -> tuple[Kind, ...]:
    """What kinds of faults a cause is: of a shared cause each strike."""
    return tuple(_kind(strike, rig) for hazard in cause.hazards for strike in hazard.strikes)


def _kind(strike: Strike, rig: Rig) -> Kind:
    detail = short_role(strike.detail, strike.group, rig) if strike.detail else ""
    return strike.group, short_role(strike.where, strike.group, rig), strike.mode, detail


def role_of(thing: str, rig: Rig) -> str:
    """The role of a thing, told without its group, wall and numbers."""
    return short_role(thing, rig.things[thing].group if thing in rig.things else "", rig)


def short_role(name: str, group: str, rig: Rig) -> str:
    """A role without the wall that it belongs to, where its group has several."""
    found = role(name, group)
    walls = rig.groups[group].walls if group in rig.groups else ()
    return next((found.removeprefix(f"{w}/") for w in walls if found.startswith(f"{w}/")), found)


# ---- what is seen --------------------------------------------------------------------------------


def seen_in(kin: Kin, desk: Desk) -> tuple[Seen, ...]:
    """What shows, over all its places; of several walls of a group that each show it at some
    places, the names are put together.
    """
    spans: dict[tuple[str, str], dict[str, list[tuple[int, Fraction]]]] = {}
    of = {wall: name for name, group in desk.rig.groups.items() for wall in group.walls}
    for place in kin.places:
        for (wall, state), found in _walls(place[0].look, desk).items():
            spans.setdefault((of[wall], state), {}).setdefault(wall, []).append(found)
    shown = [seen for (_, state), walls in spans.items() for seen in _told(walls, state, kin)]
    return tuple(sorted(shown, key=lambda seen: _order(seen, list(of))))


def _order(seen: Seen, walls: Sequence[str]) -> tuple[bool, int, int]:
    """What still shows before what blinked, the worst state first, walls in the rig's order."""
    states = (*SEEN, BLINKED)
    first = next(n for n, wall in enumerate(walls) if seen.wall.startswith(wall))
    return seen.state == BLINKED, states.index(seen.state), first


def _told(
    by_wall: Mapping[str, list[tuple[int, Fraction]]], state: str, kin: Kin
) -> Iterator[Seen]:
    """One line for walls of which each place shows one; else one for each wall."""
    apart = sum(map(len, by_wall.values())) <= len(kin.places) and len(by_wall) > 1
    groups = [(" or ".join(by_wall), [f for of in by_wall.values() for f in of])] if apart else None
    for wall, found in groups or by_wall.items():
        counts, parts = [n for n, _ in found], [part for _, part in found]
        yield Seen(wall, state, (min(counts), max(counts)), (min(parts), max(parts)))


def _walls(look: Look, desk: Desk) -> dict[tuple[str, str], tuple[int, Fraction]]:
    """For each wall and state how many cabinets show it, and on what part of the wall."""
    spots = [*look.shown.spots.items(), *((spot, BLINKED) for spot in look.blinked)]
    cabinets: dict[tuple[str, str], set[str]] = {}
    areas: dict[tuple[str, str], int] = {}
    whole = {wall: area for canvas in desk.canvases.values() for wall, area in canvas.walls.items()}
    for spot, state in sorted(spots):
        patch = desk.patches[spot]
        cabinets.setdefault((patch.wall, state), set()).add(patch.cabinet)
        areas[patch.wall, state] = areas.get((patch.wall, state), 0) + patch.area
    return {key: (len(of), Fraction(areas[key], whole[key[0]])) for key, of in cabinets.items()}


def where_in(kin: Kin) -> tuple[str, ...]:
    """For each place what the likeliest cause strikes there."""
    return tuple(
        place[0].hazards[0].strikes[0].where
        if len(place[0].hazards[0].strikes) == 1
        else place[0].name
        for place in kin.places
    )
