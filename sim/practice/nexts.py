"""What to look at or try next: what tells the suspects apart best for a minute of effort.

In: `Cause`s with their weights, a `Library`. Out: frozen `Next`s, the best first. As the outcome of
a look or test is sure under each cause, what it is expected to tell is the entropy of its outcome,
in bits (Shannon; Cover and Thomas, Elements of Information Theory, section 2.4, from memory:
I(X; Y) = H(Y) - H(Y | X), and H(Y | X) = 0).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log2

from sim.practice.causes import Cause
from sim.practice.efforts import BY_FAMILY, EFFORTS, SWAPS
from sim.practice.library import Library
from sim.practice.match import helps

LEAST_BITS = 1e-6
"""What is expected to tell less than that tells nothing."""
MOST_SWAPPED = 20
"""Of the things that may be at fault, so many of the likeliest may be tried with another."""
AFTER, BREAKS, ALWAYS = "after the show", "in breaks", "always"
Outcome = Callable[[Cause], Hashable]


@dataclass(frozen=True, slots=True)
class Next:
    """One look or test: `kind` (of `EFFORTS`) at `name`; expected `bits`; `minutes`; when the place
    can be reached; what to mind.
    """

    kind: str
    name: str
    bits: float
    minutes: float
    source: str
    reach: str = ALWAYS
    cautions: tuple[str, ...] = ()

    @property
    def worth(self) -> float:
        """Bits a minute."""
        return self.bits / self.minutes


def nexts(causes: Sequence[Cause], library: Library, reach: Mapping[str, str]) -> tuple[Next, ...]:
    """All looks and tests that tell something, the best first. `reach`: when each thing can be
    got at (missing: always).
    """
    found = [*_looks(causes, library), *_swaps(causes, library, reach)]
    telling = [each for each in found if each.bits > LEAST_BITS]
    return tuple(sorted(telling, key=lambda n: (n.reach == AFTER, -n.worth, n.kind, n.name)))


def bits(weights: Iterable[float]) -> float:
    """The entropy of outcomes with these weights, in bits."""
    found = [weight for weight in weights if weight > 0]
    whole = sum(found)
    return max(0.0, -sum(w / whole * log2(w / whole) for w in found)) if whole else 0.0


def told_by(causes: Sequence[Cause], outcome: Outcome) -> float:
    """How many bits an outcome is expected to tell of which cause it is."""
    return bits(_sums([outcome(cause) for cause in causes], causes))


def _looks(causes: Sequence[Cause], library: Library) -> Iterator[Next]:
    desk = library.desk
    walls = [wall for canvas in desk.canvases.values() for wall in canvas.walls]
    for wall in walls:
        inside = frozenset(s for s, patch in desk.patches.items() if patch.wall == wall)
        yield _next("look at a wall", wall, causes, lambda c, at=inside: _picture(c, at))  # type: ignore[misc]
    yield _next("read the alarms", "", causes, _alarms)
    for unit in desk.units:
        if desk.rig.things[unit].monitored:
            kind = "ask a unit for its report"
            yield _next(kind, unit, causes, lambda c, u=unit: _reports(c, u))  # type: ignore[misc]
        else:
            kind = "stand before a unit"
            yield _next(kind, unit, causes, lambda c, u=unit: _before(library, c, u))  # type: ignore[misc]


def _next(kind: str, name: str, causes: Sequence[Cause], outcome: Outcome) -> Next:
    effort = EFFORTS[kind]
    return Next(kind, name, told_by(causes, outcome), effort.minutes, effort.source)


def _picture(cause: Cause, inside: frozenset[tuple[str, int]]) -> Hashable:
    return frozenset((s, seen) for s, seen in cause.look.shown.spots.items() if s in inside)


def _alarms(cause: Cause) -> Hashable:
    shown = cause.look.shown
    links = tuple(report for report in shown.reports if report.kind == "link")
    return (tuple((alarm.name, alarm.trouble) for alarm in shown.alarms), links)


def _reports(cause: Cause, unit: str) -> Hashable:
    told = (*cause.look.shown.reports, *cause.look.also)
    return tuple(report for report in told if report.unit == unit)


def _before(library: Library, cause: Cause, unit: str) -> Hashable:
    return library.before_unit(cause.faults, cause.failing, unit, cause.look.shown.at)


def _swaps(causes: Sequence[Cause], library: Library, reach: Mapping[str, str]) -> Iterator[Next]:
    """A good one in the place of each likely thing: it helps, or changes nothing. Of several that
    would tell the same, at the same effort, the likeliest.
    """
    told_so = set[Hashable]()
    weights: dict[str, float] = {}
    for cause in causes:
        for thing in sorted(cause.things):
            weights[thing] = weights.get(thing, 0.0) + cause.weight
    for thing in sorted(weights, key=lambda name: -weights[name])[:MOST_SWAPPED]:
        family = library.rig.things[thing].family
        helped = tuple(helps(library, cause, thing) for cause in causes)
        kind, when = SWAPS[family], reach.get(thing, ALWAYS)
        if (helped, kind, when) in told_so:
            continue
        told_so.add((helped, kind, when))
        told = bits(_sums(helped, causes))
        effort = EFFORTS[kind]
        yield Next(kind, thing, told, effort.minutes, effort.source, when, BY_FAMILY[family])


def _sums(outcomes: Sequence[Hashable], causes: Sequence[Cause]) -> list[float]:
    """The weights of the causes under which each outcome comes."""
    weights: dict[Hashable, float] = {}
    for of, cause in zip(outcomes, causes, strict=True):
        weights[of] = weights.get(of, 0.0) + cause.weight
    return list(weights.values())
