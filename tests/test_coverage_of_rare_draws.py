"""How often intervals hold the truth of rare chances, through the simulation's own draw.

In: a stand-in for the engine (`tests.stand_in`), 3000 repeated simulations with stated seeds.
Out: the part of them whose interval holds the truth by hand; simulations with a step left out,
which fail the same check. Usual chances are in `test_coverage_of_draws`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim.risk import montecarlo
from sim.risk.montecarlo import Effort
from sim.risk.piles import Sampling
from tests.stand_in import FEW, StandIn, covered, steps

REPEATS = 3000
"""The standard error of what they find is 0.4 of 100 (0.2 with 10 000, where they found 95.7)."""
PLENTY = {"left": 0.1, "right": 0.1, "both": 0.001, "idle": 0.5}
"""What has no part in it strikes most often: the others are boosted."""


def unweighted(made: Sampling) -> Sampling:
    """As if boosted hazards had been drawn no oftener than others: no weights."""
    piles = [
        replace(p, shares=np.full(len(p.shows), 1 / len(p.shows))) if p.ratios else p
        for p in made.piles
    ]
    return replace(made, piles=tuple(piles))


@pytest.mark.timeout(1800)
def test_rare_chances_are_covered_in_at_least_94_of_100_against_theory(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A simulation that takes boosted hazards for no likelier than they are fails it."""
    monkeypatch.setattr(montecarlo, "FEW_PAIRS", 0)
    steps(monkeypatch, 60, 30, 300)
    effort = Effort(budget=900, precision=0.03)
    assert max(StandIn(PLENTY).truths()) < 0.011
    found = covered(PLENTY, effort, REPEATS)
    assert (found >= 0.94).all(), found
    assert covered(PLENTY, effort, FEW, unweighted).min() < 0.9
