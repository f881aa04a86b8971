"""First looks, and what is drawn after them: how many shows, boosted how, and what each stands for.

In: three links in a row, of one hazard each. Out: counts and shares, exactly.
"""

from __future__ import annotations

import pytest

from sim.risk import montecarlo
from sim.risk.bench import Alone
from sim.risk.boosts import boosted
from sim.risk.montecarlo import COUNTED, PILOT, After, Effort, sample
from sim.risk.pairs import shows_of
from sim.risk.piles import Pile, Sampling
from sim.risk.shows import likelier, with_faults
from tests.test_efforts import FIELD, PAIR, UNION, WORK


def test_pairs_that_are_not_told_apart_get_a_longer_first_look(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A thousand shows, as where they are too many; and what is drawn later leaves it as long."""
    monkeypatch.setattr(montecarlo, "FEW_PAIRS", 0)
    made = sample(WORK, Effort(3, 0))
    looked = {pile.faults: pile.groups[0] for pile in made.piles if pile.ratios}
    assert looked == {PAIR: 1000, **dict.fromkeys(range(3, UNION.most + 1), PILOT)}


def test_half_of_what_is_drawn_later_is_boosted_as_the_first_look_said() -> None:
    """By the values that were asked for. Whoever is told nothing gets the same."""
    told: list[Sampling] = []
    asked = Effort(3, 0, keys=(FIELD.values[-1].key,))
    one = sample(Alone([FIELD], UNION), asked, told.append)
    other = sample(Alone([FIELD], UNION), asked)
    assert one.finished and told[-1].finished is False and told[0].untold == 0.0
    assert (one.shows, one.seed, one.untold) == (other.shows, 3, 0.0)
    looked = [each for each in told if each.rest == one.rest and not _grew(each)][-1]
    assert [each.shares.sum() for each in looked.piles] == pytest.approx([1.0] * len(looked.piles))
    (pairs,) = [each for each in one.piles if each.faults == PAIR]
    assert list(pairs.shows[:4]) == shows_of(UNION, 3, (0, 0), 4)
    boosts = boosted(looked, asked.keys)
    assert max(boosts) > 1.0 and boosts != boosted(looked)
    for grown in (each for each in one.piles if each.ratios):
        natural = grown.groups[0] + grown.groups[1]
        drawn = with_faults(UNION, 3, grown.faults, grown.groups[2], boosts)
        assert list(grown.shows[natural:]) == drawn
        assert list(grown.shows[:natural]) == with_faults(UNION, 3, grown.faults, natural)


def _grew(made: Sampling) -> bool:
    return any(each.ratios for each in made.piles)


BOOSTS = (1.0, 2.0, 4.0)


def test_what_is_drawn_after_a_first_look_adds_to_what_is_there() -> None:
    """Half as they come and half boosted, each from the first that was not drawn yet; each stands
    for what both ways to draw it leave of its chance, the first look for a part fixed before it.
    """
    looked = montecarlo._pilot(WORK, Effort(3), 3, few=False)
    after = After(BOOSTS, 600)
    once = montecarlo._boosted(WORK, 3, looked, 100, after)
    twice = montecarlo._boosted(WORK, 3, once, 41, after)
    assert (once.groups, twice.groups) == ((PILOT, 50, 50), (PILOT, 71, 70))
    for made in (once, twice):
        natural, often = made.groups[0] + made.groups[1], made.groups[2]
        assert list(made.shows[:natural]) == with_faults(UNION, 3, 3, natural)
        assert list(made.shows[natural:]) == with_faults(UNION, 3, 3, often, BOOSTS)
        assert made.shares[:PILOT] == pytest.approx([PILOT / (PILOT + 600) / PILOT] * PILOT)
        ratios = likelier(UNION, BOOSTS, 3, made.shows[PILOT:])
        each = 600 / (PILOT + 600) / (made.groups[1] + often * ratios)
        assert made.shares[PILOT:] == pytest.approx(each)


@pytest.mark.parametrize("budget", [0, 9000])
def test_a_first_look_keeps_the_part_that_it_is_of_all_that_is_left_then(budget: int) -> None:
    """As if all shows that are left were of its number of faults; of those that count at least."""
    told: list[Sampling] = []
    made = sample(WORK, Effort(3, budget, precision=10.0), told.append)
    left = max(budget - [each for each in told if not _grew(each)][-1].shows, COUNTED)
    grown: list[Pile] = [pile for pile in made.piles if pile.ratios]
    for pile in grown:
        first = pile.groups[0]
        assert pile.shares[:first].sum() == pytest.approx(first / (first + left))
    assert len(grown) > 2
