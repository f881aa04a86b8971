"""Topologies worked out side by side, each in a process of its own where that pays.

In: a `Scenario`, variants, how many processes at most. Out: one `VariantStudy` (or `Watched`) for
each variant, in their order; the same whatever the number of processes.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import active_children, get_all_start_methods, get_context
from multiprocessing.process import BaseProcess
from typing import TypeVar

from sim.children import begin
from sim.leaving import WorkLostError
from sim.scenario.scenario import Scenario, Variant
from sim.study.study import VariantStudy, study
from sim.study.watching import Watched, watch

SMALL = 400
"""Up to so many cabinets, over all topologies, one process is quicker than several."""

Told = Callable[[str], None]
M = TypeVar("M", VariantStudy, Watched)
Work = Callable[[Scenario, Variant], M]


def studies(
    scenario: Scenario,
    variants: Sequence[Variant],
    jobs: int = 0,
    told: Told = lambda label: None,
    modes: frozenset[str] = frozenset(),
) -> tuple[VariantStudy, ...]:
    """All of them; `told` hears the label of each as it is done. `jobs` 0: one for each core.
    `modes`: of the faults that are worked out (none: all).

    Raises WorkLostError if a process is ended from outside, and what the study of one raises.
    """
    return _each(partial(study, modes=modes), scenario, variants, jobs, told)


def watched(
    scenario: Scenario, variants: Sequence[Variant], jobs: int = 0, told: Told = lambda label: None
) -> tuple[Watched, ...]:
    """The same, with every fault frame by frame."""
    return _each(watch, scenario, variants, jobs, told)


def _each(
    work: Work[M], scenario: Scenario, variants: Sequence[Variant], jobs: int, told: Told
) -> tuple[M, ...]:
    most = min(jobs or os.cpu_count() or 1, len(variants))
    if most < 2 or _cabinets(scenario) * len(variants) <= SMALL:
        return tuple(_told(work(scenario, each), told) for each in variants)
    return _side_by_side(work, scenario, variants, most, told)


def _side_by_side(
    work: Work[M], scenario: Scenario, variants: Sequence[Variant], most: int, told: Told
) -> tuple[M, ...]:
    """Each in a process of its own; whatever ends this early ends the processes at once."""
    before = active_children()
    pool = ProcessPoolExecutor(most, get_context(_way()), begin)
    try:
        waiting = {pool.submit(work, scenario, each): each for each in variants}
        for done in as_completed(waiting):
            done.result()
            told(waiting[done].label)
        found = {each: future.result() for future, each in waiting.items()}
    except BrokenProcessPool:
        raise WorkLostError(LOST) from None
    except BaseException:
        _end([child for child in active_children() if child not in before])
        raise
    finally:
        pool.shutdown(cancel_futures=True)
    return tuple(found[each] for each in variants)


LOST = (
    "staylit: a process that worked out a topology was ended from outside, perhaps because memory "
    "ran out\n    do: run it again; `compare --jobs 1` needs no such processes and less memory"
)


def _end(children: Iterable[BaseProcess]) -> None:
    for child in children:
        child.terminate()


def _way() -> str:
    """How processes start: copies of this one are quickest, but safe only without threads."""
    alone = threading.active_count() == 1 and "fork" in get_all_start_methods()
    return "fork" if alone else "spawn"


def _told(made: M, told: Told) -> M:
    told(made.variant.label)
    return made


def _cabinets(scenario: Scenario) -> int:
    return sum(wall.grid[0] * wall.grid[1] for wall in scenario.file.walls.values())


def several(scenario: Scenario, groups: Iterable[str]) -> tuple[str, ...]:
    """The groups among these that have more than one topology to hold against each other."""
    return tuple(group for group in groups if len(scenario.variants(group)) > 1)
