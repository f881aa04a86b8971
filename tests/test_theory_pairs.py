"""What theory says of two faults in a show, and of whole shows, against the engine.

In: small rigs, all ordered pairs of some of their faults, random shows with fixed seeds. Out: what
pairs add to the dark time by plain integration over the engine's lines; the mean of random shows.
Versions of theory that leave something out must fail the same comparison.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import expm1, hypot
from random import Random
from statistics import fmean, stdev

import pytest

from sim.engine.run import run
from sim.engine.signal import cell_lines
from sim.faults import Fault, Script
from sim.reliability.theory import Blow, Theory, theory
from sim.reliability.theory_sums import three_or_more
from sim.rig.topology import Rig, corner
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.labs import plan_for, rig_of

HOUR = 3600 * FLICKS
LATE = HOUR // 2
SOME = ("dead", "cut", "tripped", "blanked", "stuck", "restart", "moved")
Spans = list[tuple[int, int]]


@cache
def small(topology: str, seed: int = 5) -> tuple[Rig, tuple[Blow, ...]]:
    """A wall of two cabinets in a show of an hour, some of its faults, with unequal masses."""
    name, _, two = topology.partition(", ")
    options = {"cards": 2} if two else {}
    rig = rig_of(replace(plan_for(name, rows=2, columns=1, options=options), length=HOUR))
    known = [s for s in strikes(rig) if s.mode in SOME]
    chosen = Random(seed).sample(known, 30)
    early = ("dead", "cut", "tripped", "stuck")
    return rig, tuple(
        Blow(s.name, s.faults, 0.001 + 0.0001 * n, n % 5 == 0 and s.mode in early)
        for n, s in enumerate(chosen)
    )


@cache
def dark_cells(topology: str, faults: tuple[Fault, ...], length: int) -> dict[int, Spans]:
    """When the cells of a small rig are dark, by the engine."""
    rig = replace(small(topology)[0], length=length)
    lines = cell_lines(rig, run(rig, Script(faults), corner(rig, "typical"), until=length))
    found = {}
    for (_, number), line in lines.items():
        ends = [at for at, _ in line[1:]] + [length]
        spans = zip(line, ends, strict=True)
        found[number] = [(at, end) for (at, q), end in spans if q < 2 and at < end]
    return found


def on(spans: Spans, at: int) -> bool:
    return any(start <= at < end for start, end in spans)


def ordered(topology: str, first: Blow, second: Blow) -> float:
    """What two add to the dark time of a show beyond each alone, for masses of 1."""
    late = 0 if first.early else LATE
    scripts = ((*first.at(0), *second.at(late)), first.at(0), second.at(late))
    ways = [dark_cells(topology, faults, late + HOUR) for faults in scripts]
    total = 0.0
    for number, cell in enumerate(small(topology)[0].groups["main"].cells):
        spans = [way[number] for way in ways]
        ends = {max(t, late) for way in spans for span in way for t in span}
        edges = sorted({late, late + HOUR, *ends})
        for a, b in pairwise(edges):
            both, one, other = (on(way, a) for way in spans)
            more = int(both) - int(one or other)
            total += cell.area * more * weight(a - late, b - late, first.early + second.early)
    return total


def weight(start: int, end: int, early: int) -> float:
    """The integral of the chance that a time after the second strike lies in the show."""
    if early == 2:
        return end - start
    u, v = HOUR - start, HOUR - end
    return (u * u - v * v) / (2 * HOUR) if early else (u**3 - v**3) / (6 * HOUR**2)


def second_by_engine(topology: str) -> tuple[float, int]:
    """The sum over all pairs in both orders, and how many of them add anything."""
    _, blows = small(topology)
    total, many = 0.0, 0
    for n, first in enumerate(blows):
        for m, second in enumerate(blows):
            if second.early and (not first.early or m < n):
                continue
            share = 0.5 if first is second and first.early else 1.0
            adds = ordered(topology, first, second) * share
            total += adds * first.mass * second.mass
            many += adds != 0
    return total, many


@cache
def found(topology: str) -> Theory:
    rig, blows = small(topology)
    return theory(rig, "main", blows, corner(rig, "typical"))


TOPOLOGIES = ("single-feed", "single-feed, cards", "two-unit", "relay-pair", "crossed-relays")


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_every_pair_of_a_small_rig(topology: str) -> None:
    exact, many = second_by_engine(topology)
    assert many > 10
    assert found(topology).second == pytest.approx(exact, rel=1e-9)


def test_the_comparison_of_pairs_sees_what_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """A version that takes every pair for harmless that shares no thing."""
    import sim.reliability.theory_pairs as pairs

    monkeypatch.setattr(pairs, "met_bits", lambda seen, one: 1 << min(map(
        len, (fault.thing for fault in one.blow.faults))))  # fmt: skip
    rig, blows = small("relay-pair")
    broken = theory(rig, "main", blows, corner(rig, "typical"))
    exact, _ = second_by_engine("relay-pair")
    assert broken.second != pytest.approx(exact, rel=1e-3)


# ---- whole shows ---------------------------------------------------------------------------------

SHOWS = 10_000
"""Shows with at least one fault; those without are never dark."""
TIMES = 2
"""How much more often than in `small` faults strike."""


def often(topology: str, times: float) -> tuple[Blow, ...]:
    blows = small(topology)[1]
    return tuple(replace(b, name=f"{b.name} {n}", mass=b.mass * times) for n, b in enumerate(blows))


@cache
def shows(topology: str) -> list[float]:
    """Dark pixel-flicks of random shows with a fixed seed, by the engine."""
    rng, blows = Random(11), often(topology, TIMES)
    areas = [cell.area for cell in small(topology)[0].groups["main"].cells]
    return [dark_show(topology, areas, struck_by(rng, blows)) for _ in range(SHOWS)]


def dark_show(topology: str, areas: list[int], faults: tuple[Fault, ...]) -> float:
    cells = dark_cells.__wrapped__(topology, faults, HOUR)
    return sum(areas[n] * (b - a) for n, spans in cells.items() for a, b in spans)


def struck_by(rng: Random, blows: tuple[Blow, ...]) -> tuple[Fault, ...]:
    """What strikes in one show that has anything strike."""
    faults: tuple[Fault, ...] = ()
    while not faults:
        many = ((blow, poisson(rng, blow.mass)) for blow in blows)
        faults = tuple(f for b, n in many for _ in range(n) for f in b.at(rng.randrange(HOUR)))
    return faults


def poisson(rng: Random, mean: float) -> int:
    """How many events of a unit rate fall before the mean."""
    at, many = rng.expovariate(1.0), 0
    while at < mean:
        at, many = at + rng.expovariate(1.0), many + 1
    return many


def apart(topology: str, times: float) -> float:
    """Theory less the mean of shows, in roots of (standard error squared plus bound squared)."""
    rig = small(topology)[0]
    said = theory(rig, "main", often(topology, times), corner(rig, "typical"))
    any_fault = -expm1(-sum(blow.mass for blow in often(topology, TIMES)))
    mean, error = fmean(shows(topology)), stdev(shows(topology)) / SHOWS**0.5
    return (said.dark - mean * any_fault) / hypot(error * any_fault, said.bound)


@pytest.mark.parametrize("topology", ["single-feed", "relay-pair", "crossed-relays"])
def test_random_shows_have_the_mean_that_theory_says(topology: str) -> None:
    assert abs(apart(topology, TIMES)) < 4


@pytest.mark.parametrize("topology", ["single-feed", "relay-pair"])
@pytest.mark.parametrize("share", [0.8, 1.25])
def test_the_comparison_of_shows_sees_faults_too_rare_or_frequent(
    topology: str, share: float
) -> None:
    assert abs(apart(topology, TIMES * share)) > 5


def test_the_bound_holds_what_the_second_order_adds() -> None:
    """To first order theory leaves out pairs: its bound must cover them."""
    rig, blows = small("crossed-relays")
    first = theory(rig, "main", blows, corner(rig, "typical"), order=1)
    assert first.second == 0 and first.bound > abs(found("crossed-relays").second)
    assert first.bound > found("crossed-relays").bound


def test_three_or_more_of_a_few() -> None:
    """Binomial: of five at 0.3, 1 - P(0) - P(1) - P(2) = 0.16308. Exact."""
    assert three_or_more([0.3] * 5) == pytest.approx(0.16308, abs=1e-12)
    assert three_or_more([0.3] * 2) == 0


# ---- cut sets ------------------------------------------------------------------------------------


@pytest.mark.parametrize("topology", ["two-unit", "crossed-relays"])
def test_cut_sets_are_what_the_engine_leaves_dark(topology: str) -> None:
    """Every cell and every set of one or two: dark in the end in one order or the other."""
    _, blows = small(topology)
    by_name = {blow.name: blow for blow in blows}
    said = [frozenset(cell.named()) for cell in found(topology).cells]
    cells = small(topology)[0].groups["main"].cells
    patch = {(c.cabinet, c.stack): n for n, c in enumerate(found(topology).cells)}
    for number, cell in enumerate(cells):
        alone = {name for name, blow in by_name.items() if ends_dark(topology, blow)[number]}
        cuts = {frozenset({name}) for name in alone}
        left = sorted(by_name.keys() - alone)
        for n, one in enumerate(left):
            for other in left[n + 1 :]:
                orders = ((one, other), (other, one))
                if any(ends_dark(topology, *map(by_name.get, pair))[number] for pair in orders):  # type: ignore[arg-type]
                    cuts.add(frozenset({one, other}))
        assert said[patch[cell.cabinet, cell.stack]] == cuts
    assert Counter(map(len, said[0])).keys() == {1, 2}


@cache
def ends_dark(topology: str, first: Blow, second: Blow | None = None) -> list[bool]:
    if second is not None and second.early and not first.early:
        return ends_dark(topology, second, first)
    late = 0 if first.early else LATE
    more = second.at(late) if second is not None else ()
    cells = dark_cells(topology, (*first.at(0), *more), late + HOUR)
    return [on(spans, late + HOUR - 1) for _, spans in sorted(cells.items())]
