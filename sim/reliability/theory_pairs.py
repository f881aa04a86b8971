"""Two blows in one show: what they darken together and neither alone, or the other way round.

In: a `Calculus`, what each blow does alone, a cabinet with its cone. Out: for the cabinet its blows
in `Kind`s that do the same to it, and for pairs of kinds when it is darker (or less dark) than
what each does alone would make it. The second strikes when the first has settled. Blows that can
never matter to what is dark, whatever else strikes, are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from sim.faults import Quality
from sim.reliability.theory_blows import Struck
from sim.reliability.theory_cells import Screen, spans
from sim.reliability.theory_cones import MORE_THAN_SEEN, Cone, Key, cone, key_of, met_bits
from sim.reliability.theory_rig import Calculus
from sim.reliability.theory_steps import Steps, endless, tidy, value_at
from sim.reliability.theory_things import BITS
from sim.timebase import FLICKS


@dataclass(slots=True, eq=False)
class Kind:
    """Blows that do the same to a cabinet. `mass`: of all together; `bits`: what they touch."""

    key: Key
    members: list[Struck] = field(default_factory=list)
    mass: float = 0.0
    bits: int = 0

    @property
    def early(self) -> bool:
        return self.members[0].blow.early

    @property
    def settled(self) -> int:
        return self.members[0].settled

    @property
    def family(self) -> object:
        """Equal for kinds of which the last one undoes the others: arrangements of one unit."""
        faults = self.members[0].blow.faults
        taken = {f.thing for f in faults if f.mode == "moved" and isinstance(f.choice, str)}
        return taken.pop() if len(faults) == len(taken) == 1 else self.key


class More(NamedTuple):
    """How two blows together differ from both alone, for one stack of cells.

    `dark`: 1 where only both together make it dark, -1 where they make it less dark (a number of a
    function of time since the second strike); `cuts`: whether it stays dark, of neither alone.
    """

    dark: int
    cuts: bool


Pair = tuple[Key, Key]
Mores = Mapping[int, More]
"""By the number of a stack."""


class Cabinets:
    """All cabinets of a group with their kinds; pairs worked out once for all that are alike."""

    def __init__(self, on: Calculus, screen: Screen, blows: Sequence[Struck]) -> None:
        self.on, self.screen = on, screen
        self.alone: dict[tuple[str, Key, int, int], int] = {}
        self.pairs: dict[tuple[int, Pair], Mores] = {}
        self.mattering: dict[str, Sequence[tuple[Kind, Kind, Mores]]] = {}
        self.codes: dict[object, int] = {}
        self.stacks: dict[int, set[int]] = {}
        self.cones = {name: cone(on, name) for name in screen.patches}
        self.kinds = _sorted(on, self.cones, blows)
        self.lost = _lost_frames(on, blows)
        for name, seen in self.cones.items():
            number = self.codes.setdefault(seen.code, len(self.codes))
            own = {screen.areas[patch].stack for patch in screen.patches[name]}
            self.stacks.setdefault(number, set()).update(own)

    def of(self, cabinet: str) -> Sequence[tuple[Kind, Kind, Mores]]:
        """All pairs of kinds, the first to strike first, that matter to a cabinet."""
        if cabinet not in self.mattering:
            self.mattering[cabinet] = tuple(self._matter(cabinet))
        return self.mattering[cabinet]

    def _matter(self, cabinet: str) -> Iterator[tuple[Kind, Kind, Mores]]:
        number = self.codes[self.cones[cabinet].code]
        for first, second in _ordered(self.kinds[cabinet]):
            key = number, (first.key, second.key)
            if key not in self.pairs:
                made = self._pair(cabinet, first, second, self.stacks[number])
                self.pairs[key] = {stack: more for stack, more in made if more is not None}
            if self.pairs[key]:
                yield first, second, self.pairs[key]

    def line(self, cabinet: str, kind: Kind, stack: int, late: int) -> int:
        """When cells are dark under a kind alone that strikes at a flick."""
        key = cabinet, kind.key, stack, late
        if key not in self.alone:
            found, blow = kind.members[0].found, kind.members[0].blow
            if late and not blow.early:
                found = self.on.under(blow.at(late), blow.failing, self.cones[cabinet].within)
            line = self.screen.quality(found, cabinet, stack)
            self.alone[key] = self.screen.darkness(line)
        return self.alone[key]

    def _pair(
        self, cabinet: str, first: Kind, second: Kind, stacks: Iterable[int]
    ) -> Iterator[tuple[int, More | None]]:
        late = self._gap(first, second)
        one, other = first.members[0].blow, _another(first, second).blow
        faults = (*one.at(0), *other.at(late))
        within = self.cones[cabinet].within
        found = self.on.under(faults, one.failing | other.failing, within)
        for stack in stacks:
            both = self.screen.darkness(self.screen.quality(found, cabinet, stack))
            a = self.line(cabinet, first, stack, 0)
            yield stack, self._more(both, a, self.line(cabinet, second, stack, late), late)

    def _gap(self, first: Kind, second: Kind) -> int:
        """When the second strikes: the first has settled, and flaps as it did at the beginning."""
        if first.early and second.early:
            return 0
        flaps = [f.period for f in first.members[0].blow.faults if f.mode == "flapping"]
        unit = lcm(FLICKS, *flaps)
        return min((first.settled // unit + 1) * unit, self.on.rig.length)

    def _more(self, both: int, one: int, other: int, since: int) -> More | None:
        if both == one == other:
            return None
        on = self.on
        key = ("more", since)
        change = on.joined(key, (both, one, other), lambda j, a, b: int(j) - int(a or b))
        tail = on.number(after(on.steps[change], since, on.rig.length))
        if on.steps[tail].values == (0,):
            return None
        lasts = [lasting(on.steps[n]) for n in (both, one, other)]
        return More(tail, lasts[0] and not any(lasts[1:]))


def _sorted(
    on: Calculus, cones: Mapping[str, Cone], blows: Sequence[Struck]
) -> dict[str, list[Kind]]:
    made: dict[str, dict[Key, Kind]] = {name: {} for name in cones}
    hanging = _hanging(cones)
    tolerant = {name for name, seen in cones.items() if _tolerant(on, seen)}
    for one in blows:
        names = dict.fromkeys(name for it in _touched(on, one) for name in hanging.get(it, ()))
        for name in names:
            seen = cones[name]
            key = key_of(on, seen, one)
            if key and not (name in tolerant and _harmless(on, seen, one)):
                kind = made[name].setdefault(key, Kind(key))
                kind.members.append(one)
                kind.mass += one.blow.mass
                kind.bits = kind.bits or met_bits(seen, one)
    return {name: list(kinds.values()) for name, kinds in made.items()}


def _hanging(cones: Mapping[str, Cone]) -> dict[str, list[str]]:
    """The cabinets that hang on each thing and node."""
    found: dict[str, list[str]] = {}
    for name, seen in cones.items():
        for it in seen.within:
            found.setdefault(it, []).append(name)
    return found


def _touched(on: Calculus, one: Struck) -> Iterator[str]:
    yield from one.found.met_things
    for name in (*(f.thing for f in one.blow.faults), *one.blow.failing):
        yield on.chooses.get(name, name)


def _tolerant(on: Calculus, seen: Cone) -> bool:
    """Whether every selector accepts whatever is better than black."""
    chosen = (on.recipe[name].choice for name in seen.node_bits)
    return all(choice is None or choice.above <= Quality.BLACK for choice in chosen)


def _harmless(on: Calculus, seen: Cone, one: Struck) -> bool:
    """Whether all that it does is to make signals corrupt, wrong or unlocked, or lose a frame.

    Where every selector accepts those, nothing turns on them, and no cell is dark of them. A lost
    frame hides what changes within it; that is in the bound.
    """
    more = MORE_THAN_SEEN - {"drops"}
    if one.blow.failing or any(f.mode in more for f in one.blow.faults):
        return False
    changed = (name for name in one.found.things if name in seen.within)
    states = (state for name in changed for state in on.steps[one.found.things[name]].values)
    return all(up and not mask & DARKENING for up, mask in states)


def _lost_frames(on: Calculus, blows: Sequence[Struck]) -> float:
    """Mass times flicks of lost frames: how long something may be hidden by one in a show."""
    frames = {node.thing: getattr(node, "frame", 0) for node in on.rig.nodes.values()}
    faults = ((one.blow.mass, fault) for one in blows for fault in one.blow.faults)
    return sum(m * f.frames * frames.get(f.thing, 0) for m, f in faults if f.mode == "drops")


DARKENING = BITS["stuck"] | BITS["blanked"]


def _ordered(kinds: Sequence[Kind]) -> Iterator[tuple[Kind, Kind]]:
    """Pairs that look at anything in common; early ones first, two early ones once only."""
    for n, first in enumerate(kinds):
        for m, second in enumerate(kinds):
            if not first.bits & second.bits or (second.early and not first.early):
                continue
            if first.early and second.early and m < n:
                continue
            yield first, second


def _another(first: Kind, second: Kind) -> Struck:
    """A member of the second that strikes elsewhere than the first does, where there is one."""
    if first is not second:
        return second.members[0]
    struck = {fault.thing for fault in first.members[0].blow.faults}
    others = (m for m in second.members if struck.isdisjoint(f.thing for f in m.blow.faults))
    return next(others, second.members[0])


def after(line: Steps, since: int, length: int) -> Steps:
    """A function of the time since a flick, over a show; it may still repeat."""
    if not since:
        return line
    first, steps = value_at(line, since), []
    for at, value in endless(line):
        if at >= since + length:
            break
        if at > since:
            steps.append((at - since, value))
        if line.period and at >= max(since, line.start) + line.period:
            break
    start = max(line.start - since, 0)
    steps = [(t, v) for t, v in steps if not line.period or t < start + line.period]
    times, values = (-1, *(t for t, _ in steps)), (first, *(v for _, v in steps))
    return tidy(times, values, start, line.period)


def lasting(line: Steps) -> bool:
    """Whether it is true in the end, or again and again."""
    if line.period:
        return any(v for t, v in zip(*line[:2], strict=True) if t > line.start) or bool(
            value_at(line, line.start)
        )
    return bool(line.values[-1])


# ---- how much a pair adds to a show --------------------------------------------------------------


def weight(line: Steps, length: int, early: int) -> tuple[Fraction, Fraction]:
    """Flicks that a function of -1, 0, 1 adds for each unit of both masses, and of its size.

    `early`: how many of the two are early. Of two that strike at any time alike, the second
    at T after the first with chance density T / length^2, an instant s after the second lies in
    the show for the integral of that over T < length - s: (length - s)^2 / (2 length^2).
    """
    signed = sum((_part(line, sign, length, early) * sign for sign in (1, -1)), Fraction(0))
    size = sum((_part(line, sign, length, early) for sign in (1, -1)), Fraction(0))
    return signed, size


def _part(line: Steps, sign: int, length: int, early: int) -> Fraction:
    chosen = Steps(line.times, tuple(v == sign for v in line.values), line.start, line.period)
    return sum((_integral(span, length, early) for span in spans(chosen, length)), Fraction(0))


def _integral(span: tuple[int, int, int, int], length: int, early: int) -> Fraction:
    """One interval and its repetitions, `period` apart, in closed form."""
    a, b, times, period = span
    steps = times * (times - 1) // 2
    squares = (times - 1) * times * (2 * times - 1) // 6
    if early == 2:
        return Fraction((b - a) * times)
    far, near = length - a, length - b
    if early == 1:
        return Fraction((b - a) * (times * (far + near) - 2 * period * steps), 2 * length)
    once = times * (far**3 - near**3) - 3 * period * steps * (far**2 - near**2)
    return Fraction(once + 3 * period**2 * squares * (far - near), 6 * length**2)
