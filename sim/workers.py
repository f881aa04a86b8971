"""Topologies worked out side by side, each in a process of its own where that pays.

In: a `Scenario`, variants, how many processes at most. Out: one `VariantStudy` for each variant,
in their order; the same whatever the number of processes.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_all_start_methods, get_context

from sim.scenario.scenario import Scenario, Variant
from sim.study.study import VariantStudy, study

SMALL = 400
"""Up to so many cabinets, over all topologies, one process is quicker than several."""

Told = Callable[[str], None]


def studies(
    scenario: Scenario, variants: Sequence[Variant], jobs: int = 0, told: Told = lambda label: None
) -> tuple[VariantStudy, ...]:
    """All of them; `told` hears the label of each as it is done. `jobs` 0: one for each core."""
    most = min(jobs or os.cpu_count() or 1, len(variants))
    if most < 2 or _cabinets(scenario) * len(variants) <= SMALL:
        return tuple(_told(study(scenario, each), told) for each in variants)
    with ProcessPoolExecutor(most, get_context(_way())) as pool:
        waiting = {pool.submit(study, scenario, each): each for each in variants}
        for done in as_completed(waiting):
            told(waiting[done].label)
        found = {each: future.result() for future, each in waiting.items()}
    return tuple(found[each] for each in variants)


def _way() -> str:
    """How processes start: copies of this one are quickest, but safe only without threads."""
    alone = threading.active_count() == 1 and "fork" in get_all_start_methods()
    return "fork" if alone else "spawn"


def _told(made: VariantStudy, told: Told) -> VariantStudy:
    told(made.variant.label)
    return made


def _cabinets(scenario: Scenario) -> int:
    return sum(wall.grid[0] * wall.grid[1] for wall in scenario.file.walls.values())


def several(scenario: Scenario, groups: Iterable[str]) -> tuple[str, ...]:
    """The groups among these that have more than one topology to hold against each other."""
    return tuple(group for group in groups if len(scenario.variants(group)) > 1)
