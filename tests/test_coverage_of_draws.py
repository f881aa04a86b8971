"""How often intervals hold the truth of usual chances, through the simulation's own draw.

In: a stand-in for the engine (`tests.stand_in`), thousands of repeated simulations with stated
seeds. Out: the part of them whose interval holds the truth by hand; simulations with a step left
out, which fail the same check. Rare chances are in `test_coverage_of_rare_draws`.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.risk import montecarlo
from sim.risk.montecarlo import Effort
from sim.risk.piles import Sampling
from tests.stand_in import FEW, StandIn, covered, steps

OFTEN = {"left": 0.4, "right": 0.5, "both": 0.08, "idle": 0.02}


def lessened(made: Sampling) -> Sampling:
    """What two faults do beyond each alone, a quarter too small."""
    piles = [replace(p, tables=(p.tables[0] * (0.75 if p.faults == 2 else 1),)) for p in made.piles]
    return replace(made, piles=tuple(piles))


@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    ("few", "size", "budget", "repeats"),
    [(0, (60, 40, 300), 1300, 2000), (12_000, (100, 50, 400), 2000, 2500)],
)
def test_usual_chances_are_covered_in_94_to_96_of_100_against_theory(
    few: int,
    size: tuple[int, int, int],
    budget: int,
    repeats: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Pairs sampled, and each by itself, in fewer repetitions than of rare chances, as these are
    what the draw is hard for (10 000 of usual ones are in `test_piles`). A simulation that leaves
    out a quarter of what pairs do fails it.
    """
    monkeypatch.setattr(montecarlo, "FEW_PAIRS", few)
    steps(monkeypatch, *size)
    effort = Effort(budget=budget, precision=0.02)
    true = StandIn(OFTEN).truths()
    assert 0.05 < min(true) < max(true) < 0.5
    found = covered(OFTEN, effort, repeats)
    assert (found >= 0.94).all() and (found <= 0.96).all(), found
    assert covered(OFTEN, effort, FEW, lessened).min() < 0.9
