"""Whether what a scenario promises is kept: met, perhaps met, not met, or not studied.

In: the scenario's `Limit`s and the `Outcome`s of a group. Out: a frozen `Verdict` for each limit.
A limit is met if no fault can break it whatever the phase and wherever in their ranges the
timings lie; not met if some fault breaks it however they lie; perhaps met in between, and where
protections race, so that the ends of the ranges bound nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.scenario.scenario import Limit
from sim.study.effects import (
    STATES,
    Canvas,
    Effect,
    Line,
    area_of,
    part_of,
    state_of,
    targets_of,
)
from sim.study.outcome import Outcome, each_strike
from sim.study.strikes import Strike

MET, PERHAPS, NOT, OPEN = "met", "perhaps met", "not met", "not studied"
LOSSES = frozenset({"dead", "cut"})


@dataclass(frozen=True, slots=True)
class Verdict:
    """`breakers`: the faults that break the limit for certain, `suspects`: those that may."""

    limit: Limit
    verdict: str
    breakers: tuple[Strike, ...] = ()
    suspects: tuple[Strike, ...] = ()

    @property
    def narrow(self) -> bool:
        """Whether the limit judges only things that die and cables that are cut."""
        return self.limit.any == "single dead or cut"


def verdicts(
    limits: Iterable[Limit],
    canvas: Canvas,
    outcomes: Sequence[Outcome],
    modes: frozenset[str] = frozenset(),
) -> tuple[Verdict, ...]:
    """The verdict on every limit that concerns this group (by single faults). `modes`: those of all
    outcomes, where others were left out (none: no other); then what none of them breaks, and
    others may, is not studied.
    """
    name = canvas.group.name
    return tuple(
        _left_open(_verdict(limit, canvas, outcomes), modes)
        for limit in limits
        if limit.group in ("", name) and targets(limit, canvas)
    )


def _left_open(verdict: Verdict, modes: frozenset[str]) -> Verdict:
    enough = not modes or (verdict.narrow and modes >= LOSSES)
    return verdict if enough or verdict.verdict == NOT else Verdict(verdict.limit, OPEN)


def _verdict(limit: Limit, canvas: Canvas, outcomes: Sequence[Outcome]) -> Verdict:
    if limit.any == "double fault":
        return Verdict(limit, OPEN)
    meant = [o for o in outcomes if limit.any == "single fault" or o.strike.mode in LOSSES]
    alike = {id(o.effects): o for o in meant}
    found_by = {which: judge(limit, canvas, o) for which, o in alike.items()}
    judged = [(o, found_by[id(o.effects)]) for o in meant]
    breakers = each_strike(outcome for outcome, found in judged if found == NOT)
    suspects = each_strike(outcome for outcome, found in judged if found == PERHAPS)
    verdict = NOT if breakers else PERHAPS if suspects else MET
    return Verdict(limit, verdict, breakers, suspects)


def judge(limit: Limit, canvas: Canvas, outcome: Outcome) -> str:
    """met, perhaps met or not met by this one fault."""
    spans = [_longest(limit, canvas, e) for e in outcome.distinct]
    surely = [least > limit.frames for least, _ in spans]
    possibly = [most > limit.frames for _, most in spans]
    if all(surely) and not (outcome.races and not outcome.typical.lasts):
        return NOT
    racing = bool(outcome.races) and _could_break(limit, canvas, outcome)
    return PERHAPS if any(possibly) or racing else MET


def _could_break(limit: Limit, canvas: Canvas, outcome: Outcome) -> bool:
    """Whether a race may break a limit that no corner breaks.

    It cannot where too little is ever in the state, nor where the limit is longer than all
    changeovers of the fault together, each at its most and taken there and back.
    """
    if 2 * outcome.slowest <= limit.time:
        return False
    for effect in outcome.distinct:
        for target in targets(limit, canvas):
            lines, total = lines_of(target, canvas, effect)
            ever = sum(a for line, a in lines if any(_in_state(q, limit.state) for _, q in line))
            if ever > limit.over * total:
                return True
    return False


def broken(limit: Limit, canvas: Canvas, effect: Effect) -> bool:
    """Whether an effect breaks the limit at some phase."""
    return _longest(limit, canvas, effect)[1] > limit.frames


def targets(limit: Limit, canvas: Canvas) -> tuple[str, ...]:
    """What the limit speaks of in this group: names of walls, a region, a view, or the group."""
    return targets_of(limit.of, canvas)


ENDLESS = 1 << 62
"""More frames than any limit allows."""


def _longest(limit: Limit, canvas: Canvas, effect: Effect) -> tuple[int, int]:
    """Frames, least and most over the phase, of the longest stretch over the limit's share."""
    worst = (0, 0)
    for target in targets(limit, canvas):
        lines, total = lines_of(target, canvas, effect)
        if sum(area for _, area in lines) <= limit.over * total:
            continue
        for length in stretches(lines, limit.state, limit.over * total):
            worst = max(worst, touched(length, canvas.frame))
    return worst


def touched(length: int | None, frame: int) -> tuple[int, int]:
    """Frames that one outage touches, least and most over the phase; None: it lasts."""
    if length is None:
        return ENDLESS, ENDLESS
    whole = -(-length // frame)
    return whole, whole + 1


def lines_of(target: str, canvas: Canvas, effect: Effect) -> tuple[list[tuple[Line, int]], int]:
    """The lines of a target with their areas, and its whole area (pixels)."""
    total = area_of(target, canvas, effect.views)
    if target in effect.views:
        return list(effect.views[target].lines), total
    audience = canvas.group.audience
    return [(line, part_of(target, share, audience)) for line, share in effect.lines], total


def stretches(lines: Sequence[tuple[Line, int]], state: str, over: Fraction) -> list[int | None]:
    """Lengths (flicks) of the stretches in which more area than `over` is in the state; None: to
    the end.
    """
    spans = _spans(lines, state, lambda total: total > over)
    return [None if end is None else end - begin for begin, end in spans]


def dark_stretches(
    lines: Sequence[tuple[Line, int]], at_least: Fraction
) -> list[tuple[int, int | None]]:
    """The stretches (flicks; end None: to the end) in which at least this area is dark."""
    return _spans(lines, "dark", lambda total: total >= at_least)


def _spans(
    lines: Sequence[tuple[Line, int]], state: str, enough: Callable[[int], bool]
) -> list[tuple[int, int | None]]:
    changes: dict[int, int] = {}
    for line, area in lines:
        inside = False
        for at, quality in line:
            now = _in_state(quality, state)
            if now != inside:
                changes[at] = changes.get(at, 0) + (area if now else -area)
                inside = now
    found: list[tuple[int, int | None]] = []
    total, begin = 0, None
    for at in sorted(changes):
        total += changes[at]
        if enough(total) and begin is None:
            begin = at
        elif not enough(total) and begin is not None:
            found.append((begin, at))
            begin = None
    return [*found, (begin, None)] if begin is not None else found


def _in_state(quality: int, state: str) -> bool:
    if state == "not lit":
        return state_of(quality) < len(STATES)
    return state_of(quality) == STATES.index(state)
