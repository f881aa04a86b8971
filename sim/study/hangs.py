"""What a wall group hangs on: single points, protections whose failure nobody sees, races, and
units that live off another.

In: a `Laboratory`, the outcomes of all single faults, latent faults. Out: frozen rows, like things
on one. Shares are parts of the group's pixels, times flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.rig.topology import Carrier, Group, Layer, Rig
from sim.study.contingency import Laboratory, Outcome
from sim.study.latent import Latent
from sim.study.outcome import how_many, where
from sim.study.reasons import is_loop
from sim.study.rows import grave
from sim.study.strikes import Strike, role
from sim.study.survival import Ways

Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Dormant:
    """Like latent faults. `monitored`: whether each of them would raise an alarm. `second`: a fault
    (role and mode) that brings them out, with the share not lit after it alone and after both,
    and both by state (as in `STATES`), alone first.
    """

    role: str
    mode: str
    detail: str
    where: tuple[str, ...]
    monitored: bool
    second: str
    alone: Fraction
    together: Fraction
    states: tuple[tuple[Fraction, ...], tuple[Fraction, ...]]

    @property
    def gravity(self) -> tuple[Fraction, ...]:
        """For comparing: what is lost beyond what the second fault costs alone."""
        alone, both = self.states
        return grave([more - less for more, less in zip(both, alone, strict=True)])


@dataclass(frozen=True, slots=True)
class Tie:
    """Two protections (roles) of which it is not known which acts first, for so many faults.

    `restores`: how long the one before needs to bring the picture back; `waits`: how long the
    one behind waits before it leaves (flicks). `example`: one of the faults.
    """

    before: str
    behind: str
    restores: tuple[int, int]
    waits: tuple[int, int]
    faults: int
    example: str


@dataclass(frozen=True, slots=True)
class Handed:
    """A unit that gets layers through the active loop-through of another, with which it loses them;
    `spare`: each of them has another source, in reach without anybody's hand.
    """

    first: str
    second: str
    layers: tuple[str, ...]
    spare: bool


def dormant(laboratory: Laboratory, found: Iterable[Latent]) -> tuple[Dormant, ...]:
    """Latent faults, like ones on one row; those that leave most not lit come first."""
    made: dict[tuple[str, ...], list[Latent]] = {}
    for latent in found:
        second = f"{latent.second.role} {latent.second.mode}"
        made.setdefault((*latent.strike.words, second), []).append(latent)
    rows = (_together(laboratory, key, alike) for key, alike in made.items())
    return tuple(sorted(rows, key=_hidden_weight))


def _together(laboratory: Laboratory, key: tuple[str, ...], alike: Sequence[Latent]) -> Dormant:
    """The row of like latent faults: that of the gravest of them."""
    area, (name, mode, detail, second) = laboratory.canvas.area, key
    struck = where(alike)
    monitored = all(_monitored(laboratory, latent.strike) for latent in alike)
    rows = (
        Dormant(
            name, mode, detail, struck, monitored,
            second, Fraction(of.alone, area), Fraction(of.together, area), _parts(of, area),
        )
        for of in alike
    )  # fmt: skip
    return max(rows, key=lambda row: row.gravity)


def _hidden_weight(row: Dormant) -> tuple[object, ...]:
    return row.monitored, *(-part for part in row.gravity)


def _parts(latent: Latent, area: int) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    alone, both = latent.states
    return tuple(Fraction(n, area) for n in alone), tuple(Fraction(n, area) for n in both)


def _monitored(laboratory: Laboratory, strike: Strike) -> bool:
    wiring, things = laboratory.wiring, laboratory.rig.things
    at = (wiring.selector_node.get(name) for name in strike.struck)
    names = (
        n if k is None else wiring.nodes[k].thing for n, k in zip(strike.struck, at, strict=True)
    )
    return all(things[name].monitored for name in names)


def ties(outcomes: Iterable[Outcome], group: str = "") -> tuple[Tie, ...]:
    """Races, those that touch most faults first; `group`: left out of the names of its things."""
    made: dict[tuple[object, ...], Tie] = {}
    for outcome in outcomes:
        for race in outcome.races:
            before, behind = role(race.before, group), role(race.behind, group)
            key = (before, behind, race.restores, race.waits)
            known = made.get(key)
            made[key] = (
                replace(known, faults=known.faults + how_many(outcome))
                if known
                else Tie(
                    before,
                    behind,
                    race.restores,
                    race.waits,
                    how_many(outcome),
                    outcome.strike.name,
                )
            )
    return tuple(sorted(made.values(), key=lambda t: -t.faults))


def handed_on(rig: Rig, group: Group, ways: Ways | None = None) -> tuple[Handed, ...]:
    """Units of the group that live off another's active loop-through."""
    ways = ways or Ways(rig)
    carriers = {n: c for n in group.carriers if isinstance(c := rig.nodes[n], Carrier)}
    firsts = {node.thing for node in rig.nodes.values() if is_loop(rig, node.name)}
    return tuple(
        handed
        for first in sorted(firsts)
        for carrier in carriers.values()
        if carrier.thing != first and (handed := _handed(rig, ways, first, carrier))
    )


def _handed(rig: Rig, ways: Ways, first: str, carrier: Carrier) -> Handed | None:
    """The layers of a unit that come through another's loop-through."""
    loops = [name for name in ways.nodes_of(first) if is_loop(rig, name)]
    below, alive = set(ways.below(loops)), ways.without((first,)).feeds
    layers = [n for name in carrier.layers if isinstance(n := rig.nodes[name], Layer)]
    touched = [layer for layer in layers if layer.name in below]
    if not touched:
        return None
    spare = all(layer.name in alive for layer in touched)
    return Handed(first, carrier.thing, tuple(layer.layer for layer in touched), spare)
