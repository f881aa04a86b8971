"""What a wall group hangs on: single points, protections whose failure nobody sees, races, and
units that live off another.

In: a `Laboratory`, the outcomes of all single faults, latent faults. Out: frozen rows, like things
on one. Shares are parts of the group's pixels, times flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.limits.findings import SEVERITIES
from sim.rig.topology import Carrier, Group, Layer, Rig
from sim.study.contingency import Laboratory, Outcome
from sim.study.effects import STATES
from sim.study.latent import Latent
from sim.study.reasons import Reason, Reasons, is_loop
from sim.study.rows import grave, gravest, span_of, states
from sim.study.strikes import Strike, role
from sim.study.survival import Ways

Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class SinglePoint:
    """Like things, routes, circuits or choices, one fault of which leaves cells dark, lasting (or,
    where `dark` is 0, without the right picture).

    `valid`: a valid signal still arrives. `dark`, `lost`: shares dark and not lit, least and most
    over things and timings; a least of 0 dark: only with some timings. `by_state`: the same for
    each state, as in `STATES`. `walls`: the share of each
    wall that is dark (or not lit), at most. `severity`: serious if it takes a whole wall, note if
    no more than one cabinet, else warning.
    """

    role: str
    mode: str
    detail: str
    valid: bool
    where: tuple[str, ...]
    dark: Span
    lost: Span
    by_state: tuple[Span, ...]
    walls: tuple[tuple[str, Fraction], ...]
    states: tuple[str, ...]
    severity: str
    reasons: tuple[Reason, ...]

    @property
    def count(self) -> int:
        return len(self.where)

    @property
    def name(self) -> str:
        return f"{self.role} {self.mode}" + (f" to {self.detail}" if self.detail else "")

    @property
    def gravity(self) -> tuple[Fraction, ...]:
        """For comparing: `gravest`, as for the rows of a comparison."""
        return gravest(self.lost, self.by_state, self.mode)

    @property
    def whole(self) -> tuple[str, ...]:
        """The walls that it takes as a whole."""
        return tuple(wall for wall, part in self.walls if part == 1)


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


def single_points(
    laboratory: Laboratory, outcomes: Iterable[Outcome], reasons: Reasons
) -> tuple[tuple[SinglePoint, ...], tuple[SinglePoint, ...]]:
    """What leaves cells dark, and what leaves them not lit but not dark; the gravest first."""
    alike: dict[tuple[object, ...], list[Outcome]] = {}
    marks: dict[int, tuple[object, ...]] = {}
    for outcome in outcomes:
        effects = outcome.effects
        if id(effects) not in marks:
            dark, lasting = any(_dark(outcome)), states(outcome, lasting=True)
            marks[id(effects)] = outcome.verdict, dark, lasting
        if marks[id(effects)][0] == "lasting":
            alike.setdefault((*_named(outcome.strike), *marks[id(effects)]), []).append(outcome)
    rows = sorted((_point(laboratory, of, reasons) for of in alike.values()), key=_weight)
    return tuple(r for r in rows if r.dark[1]), tuple(r for r in rows if not r.dark[1])


def _named(strike: Strike) -> tuple[str, str, str]:
    return strike.role, strike.mode, role(strike.detail, strike.group) if strike.detail else ""


def _dark(outcome: Outcome) -> list[int]:
    """Pixels dark once settled, by corner."""
    return [effect.area(0) for effect in outcome.distinct]


def _point(laboratory: Laboratory, alike: Sequence[Outcome], reasons: Reasons) -> SinglePoint:
    where = tuple(outcome.strike.where for outcome in alike)
    first = {id(outcome.effects): outcome for outcome in alike[::-1]}
    alike = [first[key] for key in dict.fromkeys(id(outcome.effects) for outcome in alike)]
    worst = max(alike, key=lambda o: (max(_dark(o)), max(_lost(o))))
    least = min(alike, key=lambda o: (max(_dark(o)), max(_lost(o))))
    strike, area = worst.strike, laboratory.canvas.area
    dark = [pixels for outcome in alike for pixels in _dark(outcome)]
    walls = tuple(_walls(laboratory, alike, bool(max(dark))))
    pending = tuple(dict.fromkeys(n for e in worst.distinct for n in e.pending))
    return SinglePoint(
        role=strike.role,
        mode=strike.mode,
        detail=role(strike.detail, strike.group) if strike.detail else "",
        valid=strike.valid,
        where=where,
        dark=span_of(dark, area),
        lost=span_of([pixels for outcome in alike for pixels in _lost(outcome)], area),
        by_state=tuple(
            span_of([e.area(state) for outcome in alike for e in outcome.distinct], area)
            for state in range(len(STATES))
        ),
        walls=walls,
        states=states(worst, lasting=True),
        severity=_severity(laboratory, walls),
        reasons=_spanned(
            reasons.of(strike, bool(max(dark)), pending),
            reasons.of(least.strike, bool(max(dark))) if least is not worst else (),
        ),
    )


def _spanned(worst: Iterable[Reason], least: Iterable[Reason]) -> tuple[Reason, ...]:
    """The reasons of the worst of like faults, with the cabinets that the least one is about."""
    fewest = {reason.kind: reason.cabinets for reason in least}
    return tuple(replace(reason, fewest=fewest.get(reason.kind, 0)) for reason in worst)


def _lost(outcome: Outcome) -> list[int]:
    return [effect.lost() for effect in outcome.distinct]


def _walls(
    laboratory: Laboratory, alike: Sequence[Outcome], dark: bool
) -> Iterator[tuple[str, Fraction]]:
    effects = [e for outcome in alike for e in outcome.distinct]
    for wall, area in laboratory.canvas.walls.items():
        areas = (e.lasting[wall] for e in effects)
        most = max(a[0] if dark else sum(a) for a in areas)
        if most:
            yield wall, Fraction(most, area)


def _severity(laboratory: Laboratory, walls: Iterable[tuple[str, Fraction]]) -> str:
    canvas, parts = laboratory.canvas, list(walls)
    if any(part == 1 for _, part in parts):
        return "serious"
    pixels = sum(part * canvas.walls[wall] for wall, part in parts)
    cabinet = max(sum(patch.area for patch in of) for of in canvas.patches.values())
    return "note" if pixels <= cabinet else "warning"


def _weight(point: SinglePoint) -> tuple[object, ...]:
    severity = SEVERITIES.index(point.severity)
    grave = (-part for part in point.gravity)
    return severity, *grave, point.valid, point.role, point.mode


def dormant(laboratory: Laboratory, found: Iterable[Latent]) -> tuple[Dormant, ...]:
    """Latent faults, like ones on one row; those that leave most not lit come first."""
    area = laboratory.canvas.area
    made: dict[tuple[str, ...], list[Dormant]] = {}
    for latent in found:
        strike, second = latent.strike, f"{latent.second.role} {latent.second.mode}"
        detail = role(strike.detail, strike.group) if strike.detail else ""
        row = Dormant(
            strike.role, strike.mode, detail, (strike.where,), _monitored(laboratory, strike),
            second, Fraction(latent.alone, area), Fraction(latent.together, area),
            _parts(latent, area),
        )  # fmt: skip
        key = (strike.role, strike.mode, detail, second)
        made.setdefault(key, []).append(row)
    return tuple(sorted(map(_together, made.values()), key=_hidden_weight))


def _hidden_weight(row: Dormant) -> tuple[object, ...]:
    return row.monitored, *(-part for part in row.gravity)


def _parts(latent: Latent, area: int) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]]:
    alone, both = latent.states
    return tuple(Fraction(n, area) for n in alone), tuple(Fraction(n, area) for n in both)


def _together(alike: Sequence[Dormant]) -> Dormant:
    return replace(
        max(alike, key=lambda row: row.gravity),
        where=tuple(name for row in alike for name in row.where),
        monitored=all(row.monitored for row in alike),
    )


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
                replace(known, faults=known.faults + 1)
                if known
                else Tie(before, behind, race.restores, race.waits, 1, outcome.strike.name)
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
    loops = [name for name in ways.nodes_of[first] if is_loop(rig, name)]
    below, alive = set(ways.below(loops)), ways.without((first,)).feeds
    layers = [n for name in carrier.layers if isinstance(n := rig.nodes[name], Layer)]
    touched = [layer for layer in layers if layer.name in below]
    if not touched:
        return None
    spare = all(layer.name in alive for layer in touched)
    return Handed(first, carrier.thing, tuple(layer.layer for layer in touched), spare)
