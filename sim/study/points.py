"""Single points: what by one fault leaves cells of a wall group without the right picture, lasting.

In: a `Laboratory`, the outcomes of all single faults. Out: frozen rows, like things on one. Shares
are parts of the group's pixels, times flicks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sim.limits.findings import SEVERITIES
from sim.study.contingency import Laboratory, Outcome
from sim.study.effects import STATES
from sim.study.outcome import where
from sim.study.reasons import Reason, Reasons
from sim.study.rows import gravest, span_of, states
from sim.study.strikes import fault_name

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
        return fault_name(self.role, self.mode, self.detail)

    @property
    def gravity(self) -> tuple[Fraction, ...]:
        """For comparing: `gravest`, as for the rows of a comparison."""
        return gravest(self.lost, self.by_state, self.mode)

    @property
    def whole(self) -> tuple[str, ...]:
        """The walls that it takes as a whole."""
        return tuple(wall for wall, part in self.walls if part == 1)


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
            alike.setdefault((*outcome.strike.words, *marks[id(effects)]), []).append(outcome)
    rows = sorted((_point(laboratory, of, reasons) for of in alike.values()), key=_weight)
    return tuple(r for r in rows if r.dark[1]), tuple(r for r in rows if not r.dark[1])


def _dark(outcome: Outcome) -> list[int]:
    """Pixels dark once settled, by corner."""
    return [effect.area(0) for effect in outcome.distinct]


def _point(laboratory: Laboratory, alike: Sequence[Outcome], reasons: Reasons) -> SinglePoint:
    struck = where(alike)
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
        detail=strike.words[2],
        valid=strike.valid,
        where=struck,
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
            reasons.of(strike, bool(max(dark)), pending, laboratory.alike.key(strike.struck)),
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
    return "note" if pixels <= canvas.cabinet else "warning"


def _weight(point: SinglePoint) -> tuple[object, ...]:
    severity = SEVERITIES.index(point.severity)
    grave = (-part for part in point.gravity)
    return severity, *grave, point.valid, point.role, point.mode
