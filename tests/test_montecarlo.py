"""Shows sampled by their number of faults, against chances and dark times worked out by hand.

In: rigs by hand (`tests.handmade`) whose things die often, so that one to four faults are common;
small rigs of every kind. Out: estimates within five standard errors of the truth, and shown to miss
it where a part is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from math import exp

import numpy as np
import pytest
from scipy.integrate import quad

from sim.errors import InputError
from sim.rig.terms import Terms
from sim.risk import montecarlo
from sim.risk.bench import Alone
from sim.risk.field import Field
from sim.risk.montecarlo import COUNTED, PILOT, Effort, sample
from sim.risk.piles import ANY, EACH_ONE, EACH_TWO, EXACT, SAMPLED, Pile, Sampling
from sim.risk.piles import alone as by_itself
from sim.risk.piling import EACH_HAZARD
from sim.risk.shows import Union, beyond, struck, union_of, with_faults
from sim.risk.values import wall_key
from sim.timebase import FLICKS
from tests.handmade import FRAME, HEAD, column, dead, field_of, handmade

SECONDS = 1000
TIMES = (0, 300, 600)
ASKED = Terms(longest=tuple(t * FLICKS for t in TIMES))
CHAIN = {"main": 0.5, "split": 0.3, "tail": 0.4}
WAYS = {"left": 0.5, "right": 0.6, "both": 0.2}
FIRST_OF_PAIR = 5 * PILOT // 6
"""Of six pairs."""
Law = Callable[[float], float]
"""The chance that something has happened by a part of the show, from 0 to 1."""


LONG = 10**15
"""Flicks: beyond the end of any show here."""


def chain(shape: float = 1.0, lasts: int | None = None) -> tuple[Field, Union]:
    """One cabinet at the end of three links; each that dies darkens it to the end (`lasts`: beyond
    it, which has no closed form).
    """
    links = [("main", "main", (HEAD,)), ("split", "split", ("main",)), ("tail", "tail", ("split",))]
    hazards = [dead(name, mass, shape=shape, lasts=lasts) for name, mass in CHAIN.items()]
    return field_of(handmade(links, {"a": ("tail",)}), hazards, ASKED), union_of([hazards])


def ways() -> tuple[Field, Union]:
    """A choice of two ways, and one link for both; the choice takes no time."""
    links = [
        ("left", "left", (HEAD,)),
        ("right", "right", (HEAD,)),
        ("both", "both", ("left", "right")),
    ]
    hazards = [dead(name, mass) for name, mass in WAYS.items()]
    return field_of(handmade(links, {"a": ("both",)}), hazards, ASKED), union_of([hazards])


def in_a_row() -> tuple[Field, Union]:
    """Three cabinets, each fed by the one before."""
    links = [("one", "one", (HEAD,)), ("two", "two", ("one",)), ("three", "three", ("two",))]
    hazards = [
        dead(name, mass) for name, mass in zip(("one", "two", "three"), CHAIN.values(), strict=True)
    ]
    ends = {"a": ("one",), "b": ("two",), "c": ("three",)}
    return field_of(handmade(links, ends), hazards, ASKED), union_of([hazards])


def any_of(masses: Sequence[float], shape: float = 1.0) -> Law:
    return lambda part: 1 - exp(-sum(masses) * part**shape)


def of_ways(part: float) -> float:
    left, right, both = (1 - exp(-mass * part) for mass in WAYS.values())
    return 1 - (1 - both) * (1 - left * right)


def truths(laws: Sequence[Law], any_dark: Law, all_dark: Law) -> dict[str, float]:
    """`laws`: for each cabinet the chance that it is dark by then; it stays so to the end."""
    dark = [quad(law, 0, 1, epsabs=1e-12)[0] * SECONDS for law in laws]
    walls = {wall_key(t * FLICKS): all_dark(1 - t / SECONDS) for t in TIMES}
    return {"dark": any_dark(1), "dark time": sum(dark) / len(dark), **walls}


def row_laws() -> tuple[list[Law], Law, Law]:
    masses = list(CHAIN.values())
    laws = [any_of(masses[: n + 1]) for n in range(3)]
    return laws, laws[2], laws[0]


AGED = truths([any_of([*CHAIN.values()], 2.0)], *[any_of([*CHAIN.values()], 2.0)] * 2)
CASES: dict[str, tuple[Callable[[], tuple[Field, Union]], dict[str, float]]] = {
    "chain": (chain, truths([any_of([*CHAIN.values()])], *[any_of([*CHAIN.values()])] * 2)),
    "ageing chain": (lambda: chain(2.0), AGED),
    "ageing chain, one by one": (lambda: chain(2.0, 2 * SECONDS * FLICKS), AGED),
    "two ways": (ways, truths([of_ways], of_ways, of_ways)),
    "in a row": (in_a_row, truths(*row_laws())),
}


@cache
def sampled(case: str, seed: int = 3, budget: int = 6000) -> Sampling:
    field, union = CASES[case][0]()
    return sample(Alone([field], union), Effort(seed, budget, 1e-6))


def distance(made: Sampling, key: str, truth: float) -> float:
    """From the truth, in standard errors, beyond what more faults than were worked out may do."""
    value = column(made.fields[0], key)
    rest = sum(made.left_out) * made.fields[0].values[value].most
    far = max(abs(made.mean(0, value) - truth) - rest, 0.0)
    return far / (made.error(0, value) + 1e-9 * truth)


@pytest.mark.parametrize("case", CASES)
def test_estimates_against_theory(case: str) -> None:
    made = sampled(case)
    far = {key: distance(made, key, truth) for key, truth in CASES[case][1].items()}
    assert max(far.values()) < 5, far
    assert made.finished and 5000 < made.shows <= 6100


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("key", ["dark", "dark time"])
def test_the_check_fails_for_a_simulation_that_leaves_something_out(case: str, key: str) -> None:
    """Singles alone count what two faults do twice; without three and more it is noticed too."""
    made, truth = sampled(case), CASES[case][1][key]
    for most in (1, 2):
        assert distance(spoilt(made, lambda p, m=most: float(p.faults <= m)), key, truth) > 5
    assert distance(spoilt(made, lambda pile: 0.9), key, truth) > 5


def spoilt(made: Sampling, factor: Callable[[Pile], float]) -> Sampling:
    """With the values of each pile multiplied."""
    piles = [replace(pile, tables=(factor(pile) * pile.tables[0],)) for pile in made.piles]
    return replace(made, piles=tuple(piles))


def test_a_chance_of_one_in_a_million_against_theory() -> None:
    """Two ways that each fail once in a thousand shows: as exact as one pair can be."""
    links = [("left", "left", (HEAD,)), ("right", "right", (HEAD,))]
    hazards = [dead(name, 1e-3) for name in ("left", "right")]
    field = field_of(handmade(links, {"a": ("left", "right")}), hazards, ASKED)
    made = sample(Alone([field], union_of([hazards])), Effort(4, 4000))
    for t in TIMES:
        truth, value = (
            (1 - exp(-1e-3 * (1 - t / SECONDS))) ** 2,
            column(field, wall_key(t * FLICKS)),
        )
        found = made.estimate(0, value)
        assert abs(found.value - truth) <= 5 * made.error(0, value) + 2e-9
        assert found.low <= truth <= found.high


# ---- parts of a sampling -------------------------------------------------------------------------


def test_strata_are_what_they_say() -> None:
    """Chances of the strata and of the rest add up to those of all shows with a fault."""
    for case in CASES:
        made = sampled(case)
        mass = made.union.mass
        assert sum(p.chance for p in made.piles) + made.rest == pytest.approx(1 - exp(-mass))
        assert made.rest == beyond(made.union.most, mass) < 1e-6 * beyond(1, mass)
        for pile in made.piles:
            error = (pile.variance(np.ones((len(pile.shows), 1)))[0] / len(pile.shows)) ** 0.5
            assert abs(pile.shares.sum() - 1) <= 5 * error + 1e-9
            assert bool(pile.ratios) or error < 1e-9
        assert {p.method for p in made.piles if p.faults == 2} == {EACH_TWO}
        singles = {p.method for p in made.piles if p.faults == 1}
        assert singles == ({EACH_ONE} if case.endswith("one by one") else {EXACT})


def test_each_pair_has_its_part_of_the_shows() -> None:
    made = sampled("two ways")
    (pile,) = [p for p in made.piles if p.faults == 2]
    masses = list(WAYS.values())
    pairs = [(a, b) for a in range(3) for b in range(a, 3)]
    begin = 0
    for (a, b), size in zip(pairs, pile.groups, strict=True):
        hazards = {tuple(blow.hazard for blow in show) for show in pile.shows[begin : begin + size]}
        part = masses[a] * masses[b] * (1 if a == b else 2) / sum(masses) ** 2
        assert hazards == {(a, b)} and pile.shares[begin : begin + size].sum() == pytest.approx(
            part
        )
        later = len(pile.shows) - 6 * FIRST_OF_PAIR
        assert size == pytest.approx(FIRST_OF_PAIR + (part + 1 / 6) / 2 * later, abs=12)
        begin += size
    assert begin == len(pile.shows) == len(pile.tables[0]) == len(pile.rows[0])


def test_shows_worked_out_later_belong_to_the_same_pairs_as_their_rows() -> None:
    """Worked out anew, every show of a pile that grew comes to the row that stands beside it."""
    made = sampled("two ways")
    (pile,) = [p for p in made.piles if p.faults == 2]
    assert (made.fields[0].rows(pile.shows) == pile.rows[0]).all()
    apart = [(blow,) for show in pile.shows for blow in show]
    assert (made.fields[0].rows(apart) == pile.singles[0]).all()


def test_what_has_no_closed_form_is_spread_over_the_show() -> None:
    made = sampled("ageing chain, one by one")
    (pile,) = [p for p in made.piles if p.faults == 1]
    assert pile.groups == (EACH_HAZARD,) * 3
    draws = [show[0].draws[0] for show in pile.shows[:EACH_HAZARD]]
    assert [int(u * EACH_HAZARD) for u in draws] == list(range(EACH_HAZARD))


def test_hazards_by_themselves_by_hand() -> None:
    """Of the two ways neither shows anything alone; the common link darkens all, half the show."""
    made = sampled("two ways")
    alone, value = by_itself(made, 0), column(made.fields[0], "dark time")
    assert alone[:, value] == pytest.approx([0, 0, SECONDS / 2])


def test_a_precision_that_is_reached_ends_it() -> None:
    field, union = ways()
    rough = sample(Alone([field], union), Effort(3, 100_000, 0.05))
    assert rough.finished and rough.shows < 4000
    for value in range(len(field.values)):
        mean = rough.mean(0, value)
        assert rough.error(0, value) <= 0.05 * mean or not mean


def test_more_shows_begin_with_the_fewer() -> None:
    few, many = sampled("two ways", budget=2500), sampled("two ways")
    for one, other in zip(few.piles, many.piles, strict=True):
        if one.faults > 2:
            for first, second in zip(groups_of(one), groups_of(other), strict=True):
                count = min(len(first), len(second))
                assert count >= COUNTED // 2 and first[:count] == second[:count]


def groups_of(pile: Pile) -> list[Sequence[object]]:
    """Shows as they come, those of the first look before others, then those of boosted hazards."""
    natural = pile.groups[0] + pile.groups[1]
    return [pile.shows[:natural], pile.shows[natural:]]


def test_shows_that_grew_stand_beside_their_rows_and_shares() -> None:
    """The first look stands first, for a part that was fixed before it: what it found chose what is
    drawn. The part is that of its shows if all shows left were of this number of faults.
    """
    made = sampled("two ways")
    looked = sum(PILOT for p in made.piles if p.faults > 2)
    (pairs,) = [p for p in made.piles if p.faults == 2]
    assert pairs.method == EACH_TWO
    part = PILOT / (PILOT + 6000 - looked - 6 * FIRST_OF_PAIR)
    for pile in (p for p in made.piles if p.faults > 2):
        assert len(set(pile.shows)) == len(pile.shows)
        assert (made.fields[0].rows(pile.shows) == pile.rows[0]).all()
        apart = [(blow,) for show in pile.shows for blow in show]
        assert (made.fields[0].rows(apart) == pile.singles[0]).all()
        assert list(pile.shows[:PILOT]) == with_faults(made.union, made.seed, pile.faults, PILOT)
        assert pile.shares[:PILOT] == pytest.approx(part / PILOT, rel=1e-12)
        ratios = np.array(pile.ratios)[PILOT:]
        whole = 1 / pile.shares[PILOT:] / (pile.groups[1] + pile.groups[2] * ratios)
        assert whole == pytest.approx(1 / (1 - part), rel=1e-12)


def test_an_interval_covers_what_was_not_worked_out() -> None:
    made = sampled("chain")
    value = column(made.fields[0], "dark")
    less = replace(
        made, piles=tuple(p for p in made.piles if p.faults <= 3), rest=beyond(3, made.union.mass)
    )
    found, usual = less.estimate(0, value), made.estimate(0, value)
    assert found.high - found.low > usual.high - usual.low + less.rest
    assert found.low <= CASES["chain"][1]["dark"] <= found.high


def test_shows_of_many_faults_as_they_come_against_theory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not told apart by their number, here from 15 on; a show in 33 has none."""
    monkeypatch.setattr(montecarlo, "MOST_STRATA", 14)
    often = {"left": 1.4, "right": 1.6, "both": 0.5}
    links = [("left", "left", (HEAD,)), ("right", "right", (HEAD,))]
    links.append(("both", "both", ("left", "right")))
    hazards = [dead(name, mass) for name, mass in often.items()]
    field = field_of(handmade(links, {"a": ("both",)}), hazards, ASKED)
    told: list[Sampling] = []
    made = sample(Alone([field], union_of([hazards])), Effort(4, 500_000), told.append)
    looked = next(pile for each in told for pile in each.piles if pile.faults == ANY)
    assert (looked.method, looked.shares.sum()) == (SAMPLED, pytest.approx(1.0))
    (many,) = [pile for pile in made.piles if pile.faults == ANY]
    assert many.weight == many.chance == pytest.approx(1 - exp(-3.5), rel=1e-12)
    assert sum(pile.chance for pile in made.piles) == many.chance and made.rest == 0.0
    assert list(many.shows) == struck(made.union, 4, len(many.shows))
    for t in TIMES:
        left, right, both = (1 - exp(-mass * (1 - t / SECONDS)) for mass in often.values())
        truth = 1 - (1 - both) * (1 - left * right)
        assert distance(made, wall_key(t * FLICKS), truth) < 5
        assert distance(made, wall_key(t * FLICKS), 0.85 * truth) > 5


# ---- interruption --------------------------------------------------------------------------------


@pytest.mark.parametrize("after", [0, 1, 3, 12])
def test_an_interruption_leaves_what_was_done_with_a_wider_interval(after: int) -> None:
    """`after` so many rounds; 0 and 1: before several faults were looked at at all."""
    field, union = ways()
    told: list[Sampling] = []

    class Interrupted(Alone):
        def rows(self, shows: Sequence[object]) -> Sequence[np.ndarray]:
            if not after:
                raise KeyboardInterrupt
            return super().rows(shows)  # type: ignore[arg-type]

    def tell(made: Sampling) -> None:
        told.append(made)
        if len(told) == after:
            raise KeyboardInterrupt

    made = sample(Interrupted([field], union), Effort(3, 6000, 1e-6), tell)
    whole = sampled("two ways")
    assert not made.finished and len(told) == (after or 2) and made.shows < whole.shows
    for key, truth in CASES["two ways"][1].items():
        short, full = (of.estimate(0, column(field, key)) for of in (made, whole))
        assert short.high - short.low > full.high - full.low
        assert short.low <= truth <= short.high
        assert after or short.high - short.low > 0.1 * truth


def test_first_shows_of_each_number_of_faults() -> None:
    """Nothing asked for beyond the first look and the least that counts after it."""
    field, union = ways()
    made = sample(Alone([field], union), Effort(3, 0))
    sizes = {p.faults: len(p.shows) for p in made.piles if p.faults > 1}
    assert sizes.pop(2) in (5 * PILOT + COUNTED, 5 * PILOT // 6 * 6)
    assert set(sizes.values()) == {PILOT + COUNTED}
    assert made.finished
    assert made.fields[0].gauge.frame == FRAME


def test_an_interruption_before_single_faults_are_known_leaves_the_chance_of_a_fault() -> None:
    """Nothing is known but how often anything strikes: that bounds every chance."""
    field, union = ways()

    class Interrupted(Alone):
        def exacts(self) -> Sequence[Sequence[None]]:
            raise KeyboardInterrupt

    made = sample(Interrupted([field], union), Effort(3, 6000))
    found = made.estimate(0, column(field, "dark"))
    assert not made.finished and made.shows == 0
    assert made.exacts == ((None,) * len(union.hazards),)
    assert (found.value, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(1 - exp(-union.mass))


def test_an_interruption_between_single_faults_leaves_those_that_were_summed() -> None:
    """One of two links might be mended, so that it is worked out show by show."""
    links = [("one", "one", (HEAD,)), ("two", "two", ("one",))]
    hazards = [dead("one", 0.01), dead("two", 0.02, lasts=LONG)]
    field = field_of(handmade(links, {"a": ("two",)}), hazards, ASKED)

    class Interrupted(Alone):
        def rows(self, shows: Sequence[object]) -> Sequence[np.ndarray]:
            raise KeyboardInterrupt

    made = sample(Interrupted([field], union_of([hazards])), Effort(3, 6000))
    found = made.estimate(0, column(field, "dark"))
    assert made.untold == pytest.approx(0.02 * exp(-0.03))
    assert [pile.method for pile in made.piles] == [EXACT]
    assert found.low <= 1 - exp(-0.03) <= found.high
    assert not replace(made, untold=0.0).estimate(0, column(field, "dark")).high >= 1 - exp(-0.03)


def test_few_shows_leave_fewer_for_each_hazard_without_a_closed_form() -> None:
    field, union = chain(2.0, LONG)
    least = sample(Alone([field], union), Effort(3, 0)).shows
    for more, each in ((0, 4), (3 * 6, 10), (1000, EACH_HAZARD)):
        made = sample(Alone([field], union), Effort(3, least + more, 1e-6, refuses=True))
        (pile,) = [p for p in made.piles if p.faults == 1]
        assert pile.groups == (each,) * 3 and made.shows <= least + more
        assert distance(made, "dark", CASES["ageing chain"][1]["dark"]) < 5
    with pytest.raises(InputError):
        sample(Alone([field], union), Effort(3, least - 1, refuses=True))


@pytest.mark.parametrize("budget", [3500, 6000])
def test_no_more_shows_are_worked_out_than_asked(budget: int) -> None:
    field, union = ways()
    made = sample(Alone([field], union), Effort(3, budget, 1e-6, refuses=True))
    assert made.shows == sum(len(p.shows) * (p.method != EXACT) for p in made.piles)
    assert 0.9 * budget < made.shows <= budget + 10


def test_fewer_shows_than_a_first_look_takes_are_refused() -> None:
    field, union = ways()
    with pytest.raises(InputError) as told:
        sample(Alone([field], union), Effort(3, 100, refuses=True))
    (problem,) = told.value.problems
    assert (problem.where, problem.found) == ("--shows", "100")
    least = int(problem.allowed.split()[2])
    assert sample(Alone([field], union), Effort(3, least, refuses=True)).shows <= least
    with pytest.raises(InputError):
        sample(Alone([field], union), Effort(3, least - 1, refuses=True))


def test_a_difference_of_which_nothing_was_seen_is_bounded_on_both_sides() -> None:
    """One rig held against itself: no show differs, and more shows narrow what may be hidden."""
    field, union = ways()
    wide, narrow = (
        sample(Alone([field, field], union), Effort(3, budget, 1e-6)) for budget in (3500, 12_000)
    )
    for value in range(len(field.values)):
        few, many = (made.paired(0, 1, value) for made in (wide, narrow))
        assert few.low < few.value == 0.0 < few.high
        assert many.high - many.low < few.high - few.low


def test_what_no_show_had_is_an_upper_bound_never_zero() -> None:
    """A wall that stays dark for longer than the show lasts: none can be, which nobody knows."""
    never = Terms(longest=(2 * SECONDS * FLICKS,))
    field = field_of(
        handmade([("one", "one", (HEAD,))], {"a": ("one",)}), [dead("one", 0.5)], never
    )
    made = sample(Alone([field], union_of([[dead("one", 0.5)]])), Effort(3, 4000))
    found = made.estimate(0, column(field, wall_key(2 * SECONDS * FLICKS)))
    assert found.bound_only and found.low == 0.0 < found.high < 0.05
