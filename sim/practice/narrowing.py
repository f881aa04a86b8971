"""From counted frames to narrower timings, by intervals: no value that could be true is left out.

In: a model of what a pull costs (flicks, for timings in flicks), counts of a camera. Out: ranges by
timing key, and the counts that contradict the model or each other.

A camera that shows n frames in a state which comes m times saw it for more than (n - m) / rate and
less than (n + m) / rate. The wall shows whole frames of length F, so that what lasted d was shown
for at least d and less than d + 2 m F. What a pull costs is taken to rise with every delay and to
fall with what shelters the picture; where trial points show that it does not, the count is not
used. Then each timing is held between the values with which the others, at their ends, still meet
the count (hull consistency).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from sim.timebase import FLICKS, Timing

TRIALS, DEEP, ROUNDS = 12, 14, 6

Values = Mapping[str, int]
Cost = Callable[[Values], int]
"""What a pull costs at these timings, in flicks."""
Box = Mapping[str, Timing]


@dataclass(frozen=True, slots=True)
class Count:
    """`frames` of a camera with `rate` frames a second, of something that happens at most `times`
    times; `cost` gives how long it lasts, by the timings `keys`; `test`: which test it was counted
    in.
    """

    label: str
    frames: int
    rate: Fraction
    times: int
    cost: Cost
    keys: tuple[str, ...]
    test: str = ""


@dataclass(frozen=True, slots=True)
class Clash:
    """Counts that cannot be true together, or of one that it cannot; what the model allows and what
    was counted, both in flicks, least and most.
    """

    labels: tuple[str, ...]
    model: tuple[int, int]
    counted: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Narrowed:
    """`box`: all ranges, narrowed or not; `by`: for each narrowed key the counts that did it;
    `unused`: counts that a race of protections makes useless.
    """

    box: Box
    by: Mapping[str, tuple[str, ...]]
    clashes: tuple[Clash, ...]
    unused: tuple[str, ...]


def lasted(frames: int, rate: Fraction, times: int, frame: int) -> tuple[int, int]:
    """Between which flicks something lasted that a camera shows in so many frames; `frame`: flicks
    of the wall's.
    """
    if not frames:
        times = max(times, 1)
    shown_most = -(-(frames + times) * FLICKS // (rate * frame)) - 1
    seen_least = Fraction(frames - times) * FLICKS / (rate * frame)
    shown_least = int(seen_least // 1) + 1 if frames >= times > 0 and frames else 0
    least = (shown_least - 2 * times) * frame + 1
    return max(0, least), max(0, int(shown_most) * frame)


def narrow(box: Box, counts: Sequence[Count], frame: int) -> Narrowed:
    """The ranges that the counts leave. Counts that clash narrow nothing, nor do others that speak
    of the same timings.
    """
    unused = tuple(count.label for count in counts if not _rises(box, count))
    left = [count for count in counts if count.label not in unused]
    clashes: list[Clash] = []
    while True:
        made, by, clash = _narrowed(box, left, frame)
        if clash is None:
            return Narrowed(made, by, tuple(clashes), unused)
        count, found = clash
        out = _same_test(count, left) if len(found.labels) == 1 else _kin(box, count, left)
        alone = len(found.labels) == 1
        clashes.append(found if alone else replace(found, labels=tuple(o.label for o in out)))
        left = [each for each in left if each not in out]


def _same_test(count: Count, counts: Iterable[Count]) -> list[Count]:
    """The counts of one test: where one is wrong, no other is trusted."""
    return [each for each in counts if each is count or (each.test and each.test == count.test)]


def _kin(box: Box, count: Count, counts: Iterable[Count]) -> list[Count]:
    """The counts that depend on any timing that this one depends on."""
    mine = _felt(box, count)
    return [each for each in counts if each is count or mine & _felt(box, each)]


def _felt(box: Box, count: Count) -> frozenset[str]:
    """The timings that move what a count counts, from either end of the box."""
    low, high = _ends(box)
    first, last = count.cost(low), count.cost(high)
    return frozenset(
        key
        for key in count.keys
        if count.cost({**low, key: high[key]}) != first
        or count.cost({**high, key: low[key]}) != last
    )


def _narrowed(
    box: Box, counts: Sequence[Count], frame: int
) -> tuple[Box, dict[str, tuple[str, ...]], tuple[Count, Clash] | None]:
    made, by = dict(box), dict[str, tuple[str, ...]]()
    for _ in range(ROUNDS):
        before = dict(made)
        for count in counts:
            clash = _clash(box, made, count, frame)
            if clash is not None:
                return made, by, (count, clash)
            bounds = lasted(count.frames, count.rate, count.times, frame)
            for key in count.keys:
                held = _held(made, count, key, bounds)
                if held != made[key]:
                    made[key] = held
                    by[key] = tuple(dict.fromkeys((*by.get(key, ()), count.label)))
        if made == before:
            break
    return made, by, None


def _clash(box: Box, made: Box, count: Count, frame: int) -> Clash | None:
    counted = lasted(count.frames, count.rate, count.times, frame)
    for ranges, labels in ((box, (count.label,)), (made, (count.label, ""))):
        low, high = _ends(ranges)
        model = count.cost(low), count.cost(high)
        if model[0] > counted[1] or model[1] < counted[0]:
            return Clash(labels, model, counted)
    return None


def _ends(box: Box) -> tuple[dict[str, int], dict[str, int]]:
    """The timings with which pulls cost least, and most."""
    low = {key: timing.at("all-least") for key, timing in box.items()}
    return low, {key: timing.at("all-most") for key, timing in box.items()}


def _held(box: Box, count: Count, key: str, bounds: tuple[int, int]) -> Timing:
    """The range of one timing that the count leaves, the others anywhere in theirs."""
    low, high = _ends(box)
    least, most = bounds
    cheap, dear = low[key], high[key]

    def affordable(value: int) -> bool:
        return count.cost({**low, key: value}) <= most

    def enough(value: int) -> bool:
        return count.cost({**high, key: value}) >= least

    dearest = dear if affordable(dear) else _last(affordable, cheap, dear)
    cheapest = cheap if enough(cheap) else _last(enough, dear, cheap)
    one, other = sorted((cheapest, dearest))
    typical = min(max(box[key].typical, one), other)
    return replace(box[key], least=one, typical=typical, most=other)


def _last(holds: Callable[[int], bool], good: int, bad: int) -> int:
    """From a value at which something holds to one at which it does not: the last that holds."""
    while abs(bad - good) > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good


def _rises(box: Box, count: Count) -> bool:
    """Whether no trial point shows a cost that falls where it must rise: along each timing, with
    the others at either end and in the middle, and between points drawn at random.
    """
    low, high = _ends(box)
    usual = {key: timing.typical for key, timing in box.items()}
    along = all(
        _climbs(count.cost, {**others}, key, low[key], high[key], DEEP)
        for key in count.keys
        for others in (low, usual, high)
    )
    return along and _drawn(box, count)


def _climbs(cost: Cost, others: Values, key: str, one: int, other: int, deep: int) -> bool:
    """Whether the cost rises from a value of one timing to another; looked at again between points
    that are on no straight line with the middle.
    """
    middle = (one + other) // 2
    first, half, last = (cost({**others, key: value}) for value in (one, middle, other))
    if not first <= half <= last:
        return False
    straight = (half - first) * abs(other - one) == (last - first) * abs(middle - one)
    whole = not abs(other - one) or (last - first) % abs(other - one) == 0
    if (straight and whole) or not deep:
        return True
    halves = ((one, middle), (middle, other))
    return all(_climbs(cost, others, key, *ends, deep - 1) for ends in halves)


def _drawn(box: Box, count: Count) -> bool:
    draw = Random(count.label)
    low, high = _ends(box)
    for _ in range(TRIALS if count.keys else 0):
        some = {key: _between(draw, low[key], high[key]) for key in count.keys}
        more = {key: _between(draw, some[key], high[key]) for key in count.keys}
        if count.cost({**low, **some}) > count.cost({**low, **more}):
            return False
    return True


def _between(draw: Random, one: int, other: int) -> int:
    """Any value between two; an end as often as not."""
    ends = sorted((one, other))
    return draw.choice([one, other, draw.randint(*ends), draw.randint(*ends)])
