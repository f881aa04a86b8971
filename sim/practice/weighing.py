"""Ways to act weighed: what each saves under faults that look alike, and what it costs.

In: a `Bench`, causes with their chances, ways. Out: frozen `Table`s of `Tried`s, `Price`s. Savings
are wall-seconds not lit within the trial, exact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from sim.practice.causes import Cause
from sim.practice.remedies import Way
from sim.practice.trials import Bench, Tried

Saving = tuple[Fraction, Fraction]
"""Wall-seconds: of what everybody sees (all states but unlocked), and of all."""
NONE: Saving = (Fraction(0), Fraction(0))


@dataclass(frozen=True, slots=True)
class Price:
    """What an act costs if it is `name` that has failed: up to so many frames more dark (typical)
    on this `share` of these walls; `lost`: wall-seconds more not lit.
    """

    name: str
    walls: tuple[str, ...]
    share: Fraction
    frames: int
    lost: Fraction


@dataclass(frozen=True)
class Table:
    """`tried`: for each way what it comes to under each of the causes; `before`: the same without
    it; `chances` of the causes, exact; `alone`: whether all of them recover alone.
    """

    bench: Bench
    causes: tuple[Cause, ...]
    chances: tuple[Fraction, ...]
    before: tuple[Tried, ...]
    alone: bool
    tried: Mapping[Way, tuple[Tried, ...]] = field(default_factory=dict)

    def saved(self, way: Way) -> Saving:
        """Wall-seconds that a way is expected to save: of what everybody sees, of all."""
        return self._less(way, lambda tried: tried.cost)

    def cost(self, way: Way) -> Saving:
        """Wall-seconds that are expected to be lost with a way."""
        pairs = list(zip(self.chances, (t.cost for t in self.tried[way]), strict=True))
        seen = sum((chance * cost[0] for chance, cost in pairs), Fraction(0))
        return seen, sum((chance * cost[1] for chance, cost in pairs), Fraction(0))

    def cured(self, way: Way) -> Saving:
        """The same of the end of the trial alone: what it leaves better for good."""
        return self._less(way, lambda tried: tried.rest)

    def _less(self, way: Way, of: Callable[[Tried], Saving]) -> Saving:
        found = [(of(b), of(t)) for b, t in zip(self.before, self.tried[way], strict=True)]
        less = [(b[0] - t[0], b[1] - t[1]) for b, t in found]
        weighed = list(zip(self.chances, less, strict=True))
        return (
            sum((chance * each[0] for chance, each in weighed), Fraction(0)),
            sum((chance * each[1] for chance, each in weighed), Fraction(0)),
        )

    def helped(self, way: Way) -> Fraction:
        """The chance that a way saves anything."""
        pairs = zip(self.chances, self.before, self.tried[way], strict=True)
        return sum((c for c, b, t in pairs if t.cost < b.cost), Fraction(0))

    def whole(self, way: Way) -> Fraction:
        """The chance that a way brings back full redundancy where it was not there."""
        pairs = zip(self.chances, self.before, self.tried[way], strict=True)
        return sum((c for c, b, t in pairs if t.whole and not b.whole), Fraction(0))

    def sound(self, way: Way) -> Fraction:
        """The chance that the rig has its full redundancy in the end."""
        pairs = zip(self.chances, self.tried[way], strict=True)
        return sum((chance for chance, tried in pairs if tried.whole), Fraction(0))

    def time(self, way: Way) -> int:
        """Flicks that a way takes, where it is done in full if it can be."""
        done = full(self.tried[way]).done
        return sum(each.end - each.begin for each in done[len(self.before[0].done) :])

    def prices(self, way: Way) -> tuple[Price, ...]:
        """What a way costs under each cause that it makes worse, the dearest first."""
        found = [
            priced(cause.name, before, after, self.bench)
            for cause, before, after in zip(self.causes, self.before, self.tried[way], strict=True)
            if after.cost > before.cost or _darker(before, after)
        ]
        return tuple(sorted(found, key=lambda each: (-each.share * each.frames, -each.lost)))


def table(
    bench: Bench, causes: Sequence[Cause], ways: Iterable[Way], after: tuple[Way, ...] = (),
    alone: bool = False,
) -> Table:  # fmt: skip
    """Every way tried under every cause, after other ways if so."""
    whole = sum(Fraction(cause.weight) for cause in causes)
    return Table(
        bench=bench,
        causes=tuple(causes),
        chances=tuple(Fraction(cause.weight) / whole for cause in causes),
        before=_row(bench, causes, after),
        alone=alone,
        tried={way: _row(bench, causes, (*after, way)) for way in ways},
    )


def _row(bench: Bench, causes: Sequence[Cause], ways: tuple[Way, ...]) -> tuple[Tried, ...]:
    return tuple(
        bench.tried(cause.faults, ways, bench.part(cause.faults, ways)) for cause in causes
    )


def full(tried: Iterable[Tried]) -> Tried:
    """The first in which all was done as it should be, else the first."""
    return max(tried, key=lambda each: each.well)


def _darker(before: Tried, after: Tried) -> bool:
    return any(time > before.dark.get(spot, 0) for spot, time in after.dark.items())


def priced(name: str, before: Tried, after: Tried, bench: Bench) -> Price:
    """What is lost more after an act than before it."""
    more = {spot: time - before.dark.get(spot, 0) for spot, time in after.dark.items()}
    darker = {spot: time for spot, time in more.items() if time > 0}
    patches, canvases = bench.site.desk.patches, bench.site.desk.canvases.values()
    whole = {wall: area for canvas in canvases for wall, area in canvas.walls.items()}
    walls = tuple(sorted({patches[spot].wall for spot in darker}))
    area = sum(patches[spot].area for spot in darker)
    return Price(
        name=name,
        walls=walls,
        share=Fraction(area, sum(whole[wall] for wall in walls) or 1),
        frames=-(-max(darker.values(), default=0) // bench.rig.frame),
        lost=max(after.cost[1] - before.cost[1], Fraction(0)),
    )
