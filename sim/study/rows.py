"""Outcomes of like faults on one row: `any receiver dead`, 144 of them.

In: the `Outcome`s of a group and its area. Out: frozen `FaultRow`s, worst first. Shares are exact
parts of the group's pixels, times flicks, rates per hour.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.study.effects import STATES, Effect
from sim.study.flashing import QUARTER, flashes, unrolled
from sim.study.outcome import VERDICTS, Outcome
from sim.study.strikes import fault_name, role
from sim.timebase import FLICKS, GRADES, Timing

HOUR = 3600 * FLICKS
Span = tuple[Fraction, Fraction]
EACH = range(len(STATES))


@dataclass(frozen=True, slots=True)
class FaultRow:
    """Like faults: same role, mode, verdict and states.

    `where` names the things (or routes, selectors). `frames`: not lit in whatever state, of the
    cell that is dark longest (where none is: corrupt longest, and so on); `state_frames`: for each
    state (as in `STATES`) those of the cell that is in it longest; both least and most over
    things, phase and timings. `lasting`, `ever`: shares of the group not lit once settled and at
    any time; `state_lasting`, `state_ever`: the same for each state, a cell counted at its worst;
    `states` once settled, `states_seen` at any time.
    `grade` is the weakest grade of a timing range that matters (empty: none does). `rate` adds
    up all of them, per hour; `dark` is the dark wall-seconds expected in a show from all of them;
    `guessed`: the part of `dark` that rests on placeholder rates; `flashes` the most flashes
    of a quarter of the group within a second.
    """

    role: str
    mode: str
    detail: str
    valid: bool
    verdict: str
    where: tuple[str, ...]
    frames: tuple[int, int]
    state_frames: tuple[tuple[int, int], ...]
    lasting: Span
    ever: Span
    state_lasting: tuple[Span, ...]
    state_ever: tuple[Span, ...]
    states: tuple[str, ...]
    states_seen: tuple[str, ...]
    regions: tuple[str, ...]
    suppliers: tuple[str, ...]
    grade: str
    races: tuple[str, ...]
    pending: tuple[str, ...]
    rate: float
    dark: float
    guessed: float = 0.0
    flashes: int = 0

    @property
    def count(self) -> int:
        return len(self.where)

    @property
    def name(self) -> str:
        return fault_name(self.role, self.mode, self.detail)

    @property
    def dark_frames(self) -> tuple[int, int]:
        """Dark frames of the cell that is dark longest, least and most."""
        return self.state_frames[0]

    @property
    def gravity(self) -> tuple[Fraction, ...]:
        """For comparing rows that last: `gravest`."""
        return gravest(self.lasting, self.state_lasting, self.mode)

    @property
    def weight(self) -> tuple[Fraction, ...]:
        """For comparing blinks: the share that is ever in each state times the frames of the cell
        that is in it longest, dark first; always at most.
        """
        pairs = zip(self.state_ever, self.state_frames, strict=True)
        return tuple(share[1] * frames[1] for share, frames in pairs)

    @property
    def spoils_all(self) -> bool:
        """Whether each of them leaves nothing lit, however the timings lie."""
        return self.lasting[0] == 1

    @property
    def may_spoil_all(self) -> bool:
        """Whether one of them leaves nothing lit, be it with some timings only."""
        return self.lasting[1] == 1


def grave(shares: Sequence[Fraction]) -> tuple[Fraction, ...]:
    """For comparing losses by state: what the audience loses (all states but unlocked, which only
    cameras see), then the share in each state, dark first.
    """
    return sum(shares[:-1], Fraction(0)), *shares


def gravest(lost: Span, states: Sequence[Span], mode: str) -> tuple[Fraction, ...]:
    """For comparing what lasts, the greatest first: what the audience loses at most (states that
    do not come together are not added up); what is dark for certain; the share at most in each
    state, dark first; what never comes back before what comes and goes.

    `lost`, `states`: shares not lit, and in each state, least and most.
    """
    visible, *parts = grave([span[1] for span in states])
    steady = Fraction(mode != "flapping")
    return min(visible, lost[1]), states[0][0], *parts, steady


def rows(
    outcomes: Iterable[Outcome], area: int, length: int, timings: Mapping[str, Timing]
) -> tuple[FaultRow, ...]:
    """All outcomes as rows: lasting ones by area, then blinks by frames, then the unseen."""
    alike: dict[tuple[object, ...], list[Outcome]] = {}
    for outcome in outcomes:
        alike.setdefault(_key(outcome), []).append(outcome)
    made = [_row(of, area, length, timings) for of in alike.values()]
    return tuple(sorted(made, key=_weight))


def _key(outcome: Outcome) -> tuple[object, ...]:
    strike = outcome.strike
    detail = role(strike.detail, strike.group)
    return strike.role, strike.mode, detail, outcome.verdict, states(outcome, lasting=True)


def states(outcome: Outcome, lasting: bool) -> tuple[str, ...]:
    """The states other than lit that some cell shows, worst first, under any corner."""
    return tuple(
        name
        for number, name in enumerate(STATES)
        if any(e.area(number, lasting) for e in outcome.distinct)
    )


def _row(
    alike: Sequence[Outcome], area: int, length: int, timings: Mapping[str, Timing]
) -> FaultRow:
    first = alike[0].strike
    unlike = list({id(outcome.effects): outcome for outcome in alike}.values())
    effects = [*{id(e): e for outcome in unlike for e in outcome.distinct}.values()]
    typical = [(o.strike.rate, o.typical) for o in alike]
    return FaultRow(
        role=first.role,
        mode=first.mode,
        detail=role(first.detail, first.group) if first.detail else "",
        valid=first.valid,
        verdict=alike[0].verdict,
        where=tuple(outcome.strike.where for outcome in alike),
        frames=_widest(outcome.lost_frames() for outcome in unlike),
        state_frames=tuple(_widest(e.longest(state) for e in effects) for state in EACH),
        lasting=span_of([e.lost() for e in effects], area),
        ever=span_of([e.lost(lasting=False) for e in effects], area),
        state_lasting=tuple(span_of([e.area(state) for e in effects], area) for state in EACH),
        state_ever=tuple(span_of([e.area(s, False) for e in effects], area) for s in EACH),
        states=states(alike[0], lasting=True),
        states_seen=_joined(states(outcome, lasting=False) for outcome in unlike),
        regions=_joined(e.regions for e in effects),
        suppliers=_joined([o.strike.supplier] for o in alike if o.strike.supplier),
        grade=weakest(effects, timings),
        races=_joined([f"{r.before} and {r.behind}"] for o in alike[:1] for r in o.races),
        pending=_joined(e.pending for e in effects),
        rate=sum(rate for rate, _ in typical),
        guessed=_expected([o for o in alike if not o.strike.known], length, area),
        dark=_expected(alike, length, area),
        flashes=max(flashes_of(e, area) for e in effects),
    )


def _expected(outcomes: Iterable[Outcome], length: int, area: int) -> float:
    """Dark wall-seconds to be expected in a show."""
    total = sum(o.strike.rate * o.typical.dark_time for o in outcomes)
    return total * length / HOUR / area / FLICKS


def flashes_of(effect: Effect, area: int) -> int:
    """The most flashes of a quarter of the area within a second."""
    if effect.area(0, lasting=False) < area * QUARTER:
        return 0
    lines = [(unrolled(line, effect.repeat), s.walls) for line, s in effect.lines]
    return flashes([(line, sum(a for _, a in walls)) for line, walls in lines], area)


def _widest(spans: Iterable[tuple[int, int]]) -> tuple[int, int]:
    least, most = zip(*spans, strict=True)
    return min(least), max(most)


def span_of(areas: Sequence[int], area: int) -> Span:
    """The least and the greatest of these areas (pixels), as shares of `area`."""
    return Fraction(min(areas), area), Fraction(max(areas), area)


def _joined(parts: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for part in parts for name in part))


def weakest(effects: Iterable[Effect], timings: Mapping[str, Timing]) -> str:
    """The weakest grade of the timing ranges that these effects were set by; empty: none was."""
    used = {key for e in effects for key in e.used}
    grades = [t.grade for key in used if (t := timings[key]).least != t.most]
    return max(grades, key=GRADES.index, default="")


def _weight(row: FaultRow) -> tuple[object, ...]:
    order = VERDICTS.index(row.verdict)
    grave = row.gravity if row.verdict == "lasting" else row.weight
    return order, *(-part for part in grave), row.name
