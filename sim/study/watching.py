"""One topology worked out, with what every fault does frame by frame beside it.

In: a `Scenario`, one of its variants. Out: a frozen `Watched`.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.scenario.scenario import Scenario, Variant
from sim.study.replay import Replays, replays
from sim.study.strikes import strikes
from sim.study.study import VariantStudy, studied


@dataclass(frozen=True, slots=True)
class Watched:
    """`replays` is None where the topology cannot be built."""

    study: VariantStudy
    replays: Replays | None

    @property
    def variant(self) -> Variant:
        return self.study.variant


def watch(scenario: Scenario, variant: Variant) -> Watched:
    """Everything about one topology of one group, and all its faults frame by frame."""
    found, laboratory = studied(scenario, variant)
    if laboratory is None:
        return Watched(found, None)
    return Watched(found, replays(laboratory, strikes(laboratory.rig)))
