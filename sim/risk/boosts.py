"""Which hazards are worth drawing more often: those in whose company shows go wrong.

In: a first `Sampling`, which values are to be precise. Out: for each hazard of the union how many
times likelier it is to be drawn (importance sampling; the shares of shows set it right again).
"""

from __future__ import annotations

import numpy as np

from sim.risk.bands import by_kind
from sim.risk.piles import SAMPLED, Pile, Sampling
from sim.risk.streams import Floats

MOST = 30.0
"""No hazard is boosted more than this."""


def boosted(of: Sampling, keys: tuple[str, ...] = ()) -> list[float]:
    """One number for each hazard, equal within a kind (role, mode, cause). `keys`: of the values
    that count; () all.
    """
    score = np.zeros(len(of.union.hazards))
    for pile in of.piles:
        if pile.method == SAMPLED:
            struck = [blow.hazard for show in pile.shows for blow in show]
            parts = _parts(of, pile, keys).repeat([len(show) for show in pile.shows])
            np.add.at(score, struck, parts)
    masses = np.array([hazard.mass for hazard in of.union.hazards])
    typical = score.sum() / masses.sum()
    found = np.ones(len(masses))
    for places in by_kind(of.union.hazards).values():
        if typical > 0:
            dense = score[places].sum() / masses[places].sum() / typical
            found[places] = min(max(dense**0.5, 1.0), MOST)
    return [float(each) for each in found]


def _parts(of: Sampling, pile: Pile, keys: tuple[str, ...]) -> Floats:
    """How much each show of a pile has of all values, each against its mean."""
    total = np.zeros(len(pile.shows))
    for topology, field in enumerate(of.fields):
        for place, value in enumerate(field.values):
            mean = of.mean(topology, place)
            if mean > 0 and (not keys or value.key in keys):
                total += np.abs(pile.tables[topology][:, place]) / mean
    return total * pile.weight / len(pile.shows)
