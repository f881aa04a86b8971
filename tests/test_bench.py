"""The same shows in one process and in several, in strata and as they come, in two topologies.

In: small rigs of two topologies whose things often die or go wrong; two topologies of `river`. Out:
equal bytes on any number of processes; estimates within five standard errors of plain sampling;
differences in the same shows several times more certain than in others.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import sqrt
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from sim.executing import Known
from sim.processes import local
from sim.risk import parcels
from sim.risk.bench import Alone, Several, bench
from sim.risk.field import Field
from sim.risk.hazards import Hazard
from sim.risk.montecarlo import Effort, sample
from sim.risk.piles import Sampling
from sim.risk.setting import setting
from sim.risk.shows import Union, natural, union_of, with_faults
from sim.risk.streams import Floats
from sim.scenario.loader import load
from sim.study.strikes import strikes
from sim.timebase import FLICKS
from tests.handmade import field_of
from tests.labs import long, rig_of
from tests.test_scenes import TERMS

TOPOLOGIES = ("relay-pair", "two-unit")
ASKED = replace(TERMS, longest=(0, 5 * FLICKS))


@cache
def two_topologies() -> tuple[tuple[Field, ...], Union]:
    """Every thirtieth fault of small rigs, each in some six shows of a hundred."""
    known = []
    for topology in TOPOLOGIES:
        rig = rig_of(long(topology, 60))
        struck = [s for s in strikes(rig) if s.mode != "drops"][::30]
        known.append((topology, rig, [Hazard(s.name, (s,), 0.06) for s in struck]))
    union = union_of([hazards for _, _, hazards in known])
    return tuple(
        weighed(field_of(rig, hazards, ASKED, union, label=topology, group="main"))
        for topology, rig, hazards in known
    ), union


def weighed(field: Field) -> Field:
    """The same with a first third of the show that counts twice."""
    gauge = replace(field.gauge, moments=((0, 2.0), (field.gauge.length // 3, 1.0)))
    return replace(field, gauge=gauge)


# ---- as they come --------------------------------------------------------------------------------


def test_strata_and_plain_sampling_agree() -> None:
    """All values of two topologies, and their differences, within five standard errors."""
    fields, union = two_topologies()
    made = sample(Alone(fields, union), Effort(8, 4000, 1e-6))
    plain = as_they_come(fields, union, 10_000)
    missed = set()
    for n, table in enumerate((*plain, plain[0] - plain[1])):
        mean, error = table.mean(axis=0), table.std(axis=0) / sqrt(len(table))
        for value, key in enumerate(v.key for v in fields[0].values):
            found, off = mean_and_error(made, n, value)
            assert abs(found - mean[value]) <= 5 * sqrt(error[value] ** 2 + off**2), (n, key)
            if n < 2:
                ones = sum(p.weight * p.mean(n)[value] for p in made.piles if p.faults == 1)
                missed |= {key} if abs(ones - mean[value]) > 5 * error[value] else set()
    assert missed >= {"defect", "dark"}  # the check fails for single faults alone


def mean_and_error(made: Sampling, n: int, value: int) -> tuple[float, float]:
    """Of one topology, or (2) of the difference."""
    if n < 2:
        return made.mean(n, value), made.error(n, value)
    return made.mean(0, value) - made.mean(1, value), paired_error(made, value)


def as_they_come(fields: tuple[Field, ...], union: Union, count: int) -> list[Floats]:
    shows = natural(union, 8, count)
    tables = [np.zeros((count, len(field.values))) for field in fields]
    for field, table in zip(fields, tables, strict=True):
        table[: len(shows)] = field.table(field.rows(shows))
    return tables


# ---- paired --------------------------------------------------------------------------------------


def paired_error(made: Sampling, value: int) -> float:
    """The standard error of a difference in the same shows, from the piles."""
    parts = [
        pile.weight**2 * pile.variance(pile.tables[0] - pile.tables[1])[value] / len(pile.shows)
        for pile in made.piles
        if not pile.exact
    ]
    return float(sum(parts) ** 0.5)


def gains(made: Sampling) -> dict[str, float]:
    """By how much the variance of a difference is smaller in the same shows than in others, for
    what varies alike (within a factor of two) in both topologies.
    """
    found = {}
    for value, key in enumerate(v.key for v in made.fields[0].values):
        first, second = made.error(0, value) ** 2, made.error(1, value) ** 2
        if min(first, second) > 0 and max(first, second) <= 2 * min(first, second):
            found[key] = (first + second) / max(paired_error(made, value) ** 2, 1e-300)
    return found


@cache
def river() -> Sampling:
    """`crossed-relays` and `two-unit` of the main screen, nothing mended."""
    scenario = load(Path(__file__).parents[1] / "scenarios" / "river.yaml")
    (group, *_) = scenario.file.groups
    wanted = [v for v in scenario.variants(group) if v.label in ("crossed-relays", "two-unit")]
    of = setting(scenario, group, wanted, plain=True)
    return sample(Alone(of.fields, of.union), Effort(5, 1200, 1e-6))


def test_differences_in_the_same_shows_are_far_more_certain() -> None:
    found = gains(river())
    assert {"defect", "dark"} <= set(found)
    assert found["defect"] >= 5 and found["dark"] >= 5


def test_the_check_fails_for_shows_that_are_not_the_same() -> None:
    """The second topology's shows moved on by one: no gain is left."""
    made = river()
    apart = [
        pile
        if pile.exact
        else replace(pile, tables=(pile.tables[0], np.roll(pile.tables[1], 1, 0)))
        for pile in made.piles
    ]
    found = gains(replace(made, piles=tuple(apart)))
    assert found["defect"] < 1.5 and found["dark"] < 1.5


def test_a_paired_interval_is_the_difference_with_its_own_width() -> None:
    made = river()
    for value in range(len(made.fields[0].values)):
        found = made.paired(0, 1, value)
        assert found.value == pytest.approx(made.mean(0, value) - made.mean(1, value), abs=1e-9)
        back = made.paired(1, 0, value)
        assert (back.low, back.high) == pytest.approx((-found.high, -found.low))
        assert found.low <= found.value <= found.high


# ---- processes -----------------------------------------------------------------------------------


class Both(NamedTuple):
    """What every process knows."""

    fields: tuple[Field, ...]
    union: Union


def both(given: None) -> Both:
    """In whichever process."""
    return Both(*two_topologies())


def worked(workers: int, seed: int = 6) -> Sampling:
    known = Known(both, None)
    with local(workers) as who, bench(known, both(None), "two", who) as work:
        assert isinstance(work, Several if workers > 1 else Alone)
        return sample(work, Effort(seed, 1500, 1e-6))


sampled = cache(worked)


def bytes_of(made: Sampling) -> list[bytes]:
    return [
        each.tobytes() for pile in made.piles for each in (*pile.rows, *pile.singles, *pile.tables)
    ]


@pytest.mark.parametrize("workers", [2, 3])
def test_any_number_of_processes_gives_the_same_bytes(
    workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parcels, "HEAVY", 300)  # so that every process has several pieces
    one, many = sampled(1), worked(workers)
    assert bytes_of(one) == bytes_of(many)
    assert one.exacts == many.exacts
    for n in range(2):
        for value in range(len(one.fields[0].values)):
            assert one.estimate(n, value) == many.estimate(n, value)
            assert one.paired(0, 1, value) == many.paired(0, 1, value)


def test_the_same_seed_gives_the_same_bytes_and_another_does_not() -> None:
    assert bytes_of(sampled(1)) == bytes_of(worked(1)) != bytes_of(worked(1, seed=7))


def test_rows_do_not_depend_on_what_was_worked_out_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same shows last to first, and after the memory of scenes was cut short."""
    fields, union = two_topologies()
    shows = with_faults(union, 4, 3, 300)
    expected = fields[0].rows(shows)
    assert (fields[0].rows(shows[::-1])[::-1] == expected).all()
    monkeypatch.setattr("sim.risk.telling.MOST_TALES", 0)
    monkeypatch.setattr("sim.risk.telling.MOST_KEPT", 0)
    assert (fields[0].rows(shows) == expected).all()
