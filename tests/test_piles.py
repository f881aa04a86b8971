"""How often the intervals of estimates hold the truth: 10 000 repeated estimates with stated seeds.

In: two ways to a cabinet and a link for both, whose faults come often or rarely; many shows of each
number of faults, drawn and worked out once by the program. Out: each repetition takes some of them
anew (as many as the simulation looks at first, or a few times that) into piles of its own, whose
estimates are the program's (`Sampling.estimate`). Truths are worked out by hand. Intervals made a
tenth narrower are shown to fail the same check.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import exp

import numpy as np
import pytest

from sim.reliability.estimates import Estimate
from sim.rig.terms import Terms
from sim.risk.bench import Alone
from sim.risk.field import Field
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import SAMPLED, Pile, Sampling
from sim.risk.piling import Drawn, piled, twos
from sim.risk.shows import union_of, with_faults
from sim.risk.streams import stream
from sim.risk.values import wall_key
from sim.timebase import FLICKS
from tests.handmade import HEAD, column, dead, field_of, handmade

REPEATS = 10_000
SECONDS = 1000
POOL = {2: 60_000, 3: 35_000, 4: 12_000, 5: 5000, 6: 3000}
"""Shows of each number of faults to take from (of more: 1000)."""
TAKEN = {2: 600, 3: 400, 4: 150}
"""Shows of each in a repetition (of more: 100)."""
OFTEN = {"left": 0.8, "right": 0.9, "both": 0.2}
RARELY = {"left": 0.03, "right": 0.02, "both": 0.001}
AFTER = (100, 400, 800)
"""A wall dark for longer than so many seconds: chances of 0.40, 0.25 and 0.06."""


def rig_of(masses: dict[str, float]) -> Field:
    links = [
        ("left", "left", (HEAD,)),
        ("right", "right", (HEAD,)),
        ("both", "both", ("left", "right")),
    ]
    hazards = [dead(name, mass) for name, mass in masses.items()]
    terms = Terms(longest=tuple(t * FLICKS for t in AFTER))
    return field_of(handmade(links, {"a": ("both",)}), hazards, terms)


def truth(masses: dict[str, float], after: int) -> float:
    """Dark for longer than `after`: both ways, or the link, died so long before the end."""
    part = 1 - after / SECONDS
    left, right, both = (1 - exp(-mass * part) for mass in masses.values())
    return 1 - (1 - both) * (1 - left * right)


@cache
def pool(seed: int, **masses: float) -> Sampling:
    """The program's own piles, far larger than any estimate needs."""
    field = rig_of(masses)
    work = Alone([field], union_of([field.scenes.hazards]))
    made = sample(work, Effort(seed, 0))
    (single,) = [pile for pile in made.piles if pile.faults == 1]
    more = [twos(work, seed, None, POOL[2])]
    for faults in range(3, made.union.most + 1):
        shows = with_faults(made.union, seed, faults, POOL.get(faults, 1000))
        more.append(piled(work, Drawn(faults, SAMPLED, shows, [1 / len(shows)] * len(shows))))
    return replace(made, piles=(single, *more))


def taken(of: Sampling, repeat: int) -> Sampling:
    """Piles of a few shows each, taken from the large ones by the repetition's own stream."""
    draw = stream(1, "repeat", repeat)
    return replace(of, piles=tuple(some(pile, draw) for pile in of.piles))


def some(pile: Pile, draw: np.random.Generator) -> Pile:
    if pile.exact:
        return pile
    count = TAKEN.get(pile.faults, 100)
    groups: tuple[int, ...] = ()
    if pile.groups:
        chosen, groups = of_groups(np.array(pile.groups), count, draw)
        parts = np.add.reduceat(pile.shares, np.cumsum(pile.groups) - np.array(pile.groups))
        shares = np.repeat(parts / groups, groups)
    else:
        chosen, shares = draw.integers(0, len(pile.shows), count), np.full(count, 1 / count)
    tables = (pile.tables[0][chosen],)
    return replace(
        pile, shows=pile.shows[: len(shares)], shares=shares, tables=tables, groups=groups
    )


def of_groups(
    sizes: np.ndarray, count: int, draw: np.random.Generator
) -> tuple[np.ndarray, tuple[int, ...]]:
    """So many shows in all, from each group its part, two at least."""
    begins = np.cumsum(sizes) - sizes
    each = np.maximum(np.round(count * sizes / sizes.sum()).astype(int), 2)
    chosen = [b + draw.integers(0, n, k) for b, n, k in zip(begins, sizes, each, strict=True)]
    return np.concatenate(chosen), tuple(each.tolist())


def held(found: Estimate, true: float, narrower: float) -> bool:
    """Whether the interval, made narrower about its value, holds the truth."""
    low, high = (found.value + narrower * (end - found.value) for end in (found.low, found.high))
    return low <= true <= high


def coverage(of: Sampling, masses: dict[str, float], narrower: tuple[float, ...]) -> np.ndarray:
    """Shape (narrower, after): the part of the repetitions that hold the truth."""
    columns = [column(of.fields[0], wall_key(t * FLICKS)) for t in AFTER]
    true = [truth(masses, t) for t in AFTER]
    hits = np.zeros((len(narrower), len(AFTER)))
    for repeat in range(REPEATS):
        made = taken(of, repeat)
        for n, (value, expected) in enumerate(zip(columns, true, strict=True)):
            found = made.estimate(0, value)
            hits[:, n] += [held(found, expected, part) for part in narrower]
    return hits / REPEATS


@pytest.mark.timeout(600)
def test_usual_chances_are_covered_in_94_to_96_of_100_against_theory() -> None:
    true = [truth(OFTEN, t) for t in AFTER]
    assert min(true) > 0.05 and max(true) < 0.5
    whole, narrow = coverage(pool(17, **OFTEN), OFTEN, (1.0, 0.9))
    assert (whole >= 0.94).all() and (whole <= 0.96).all(), whole
    assert (narrow < 0.94).all(), narrow


@pytest.mark.timeout(600)
def test_rare_chances_are_covered_in_at_least_94_of_100_against_theory() -> None:
    """From one show in 700 to one in 5000; half as wide is too narrow."""
    true = [truth(RARELY, t) for t in AFTER]
    assert max(true) < 1 / 700 and min(true) < 1 / 4000
    whole, narrow = coverage(pool(18, **RARELY), RARELY, (1.0, 0.5))
    assert (whole >= 0.94).all(), whole
    assert narrow.min() < 0.94, narrow
