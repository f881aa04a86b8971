"""Every pair of faults at once: what both leave not lit, without running every pair.

In: small rigs whole, `river`'s main screen by draw. Out: against runs of the whole rig, in which
nothing is merged; all pairs of small rigs against pairs worked out one by one.
"""

from __future__ import annotations

import os
from collections import Counter
from functools import cache
from random import Random

import pytest

from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.shipped import find
from sim.study.contingency import pairs
from sim.study.joint import Joint
from sim.study.laboratory import Laboratory
from sim.study.pairing import Pairing, together
from sim.study.readings import read
from sim.study.strikes import Strike, strikes
from sim.study.study import rig_of as rig_for
from tests.labs import full_run, lines_of, long, rig_of

DRAWN = int(os.environ.get("STAYLIT_PAIRS", "60"))
"""Pairs of the large rig that are run one by one."""


def area(rig: Rig, group: str, one: Strike, other: Strike) -> int:
    """Pixels that two faults leave not lit, the second when all has settled after the first."""
    alone = full_run(rig, one.faults)
    last = max([0, *(note.at for note in alone.notes)])
    when = (alone.repeat[0] if alone.repeat else last) + 1
    trace = full_run(rig, (*one.faults, *other.at(when).faults))
    cells = rig.groups[group].cells
    return sum(
        cells[number].area
        for number, line in lines_of(rig, trace, group).items()
        if read(line, rig.frame, rig.length, trace.repeat).last < 5
    )


def counted(laboratory: Laboratory, struck: list[Strike]) -> Counter[tuple[object, ...]]:
    """Every pair, one by one."""
    return Counter(
        (
            f"{p.first.role} {p.first.mode}",
            f"{p.second.role} {p.second.mode}",
            p.alone,
            p.effect.lost(),
        )
        for p in pairs(laboratory, struck)
    )


def gathered(laboratory: Laboratory, struck: list[Strike]) -> Counter[tuple[object, ...]]:
    found: Counter[tuple[object, ...]] = Counter()
    for each in together(laboratory, struck):
        found[each.first, each.second, each.alone, each.together] += each.count
    return found


@pytest.mark.parametrize(
    "topology",
    ["single-feed", "two-unit", "mirrored-guarded"],
)
def test_all_pairs_of_a_small_rig_against_pairs_one_by_one(topology: str) -> None:
    rig = rig_of(long(topology))
    group = next(iter(rig.groups))
    some = strikes(rig)[:: {"single-feed": 4, "two-unit": 6}.get(topology, 11)]
    laboratory = Laboratory(rig, group)
    struck = [s for s in some if laboratory.concerns(s)]
    assert len(struck) > 20
    assert gathered(laboratory, struck) == counted(Laboratory(rig, group), struck)


@cache
def river() -> tuple[Rig, list[Strike]]:
    scenario = load(find("river"))
    rig = rig_for(scenario, scenario.offered["main"])[1]
    assert rig is not None
    laboratory = Laboratory(rig, "main")
    return rig, [s for s in strikes(rig) if laboratory.concerns(s)]


def drawn(seed: int, number: int) -> list[tuple[Strike, Strike]]:
    """Pairs of a large rig; the first of many is the same, so that alike ones come together."""
    _, struck = river()
    rng = Random(seed)
    firsts = rng.sample(struck, number // 8)
    found = []
    while len(found) < number:
        one, other = rng.choice(firsts), rng.choice(struck)
        if set(one.struck).isdisjoint(other.struck):
            found.append((one, other))
    return found


def wrong(pairing_: Pairing, chosen: list[tuple[Strike, Strike]]) -> list[str]:
    rig, _ = river()
    found = []
    for one, other in chosen:
        ((_, both),) = pairing_.after(one, [other])
        if both != area(rig, "main", one, other):
            found.append(f"{one.name}, {other.name}")
    return found


def test_pairs_of_river_drawn_at_random_against_the_whole_rig() -> None:
    rig, struck = river()
    made = Pairing(Laboratory(rig, "main"))
    for one in Random(5).sample(struck, 6):  # others first, so that what is known is used
        for other in Random(6).sample(struck, 40):
            [*made.after(one, [other])]
    chosen = drawn(7, DRAWN)
    assert not wrong(made, chosen)
    met = [made.single(a).changed & made.single(b).looked for a, b in chosen]
    assert any(met) and not all(met)
    assert made.runs < 6 * 40 + DRAWN


def test_taking_pairs_as_unrelated_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    rig, _ = river()
    monkeypatch.setattr(Pairing, "both", lambda self, a, b: a.lost + b.lost)
    assert wrong(Pairing(Laboratory(rig, "main")), drawn(7, 40))


def test_kinds_that_tell_only_one_of_the_faults_would_be_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A cabinet told by its two kinds alone: where on its chain each fault lies is lost."""
    wrongly = 0
    for topology in ("single-feed",):
        rig = rig_of(long(topology))
        laboratory = Laboratory(rig, "main")
        struck = [s for s in strikes(rig)[::4] if laboratory.concerns(s)]
        right = Pairing(laboratory)
        with monkeypatch.context() as patch:
            patch.setattr(Joint, "cabinet", _by_both)
            blind = Pairing(laboratory)
            told = [[*blind.after(s, struck)] for s in struck]
        wrongly += sum([*right.after(s, struck)] != of for s, of in zip(struck, told, strict=True))
    assert wrongly


def _by_both(joint: Joint, number: int) -> object:
    mine, its = joint.first.cabinets.get(number), joint.second.cabinets.get(number)
    return (mine, its) if None not in (mine, its) else ("first", mine) if mine else ("second", its)
