"""Topologies worked out side by side, each in a process of its own where that pays.

In: a `Scenario`, variants, who works. Out: one `VariantStudy` (or `Watched`) for each variant, in
their order; the same whoever works.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeVar

from sim.asked import Asked, modes_of
from sim.errors import refuse
from sim.executing import Executor, Known, Plain, Task
from sim.executors import How, carried_out
from sim.processes import given
from sim.scenario.scenario import Scenario, Variant
from sim.study.study import VariantStudy, study
from sim.study.watching import Watched, watch
from sim.typed import heard, said

FORMS = "text, markdown, json or csv"
SMALL = 400
"""Up to so many cabinets, over all topologies, one process is quicker than several."""

STUDY: Plain[VariantStudy] = Plain(
    lambda made: said(VariantStudy, made),
    lambda text: heard(VariantStudy, text),
    lambda variant, made: made.variant == variant,
)
"""How a topology that is worked out stands in a journal."""
Told = Callable[[str], None]
M = TypeVar("M", VariantStudy, Watched)


def studies(
    scenario: Scenario, variants: Sequence[Variant], executor: Executor | None = None,
    told: Told = lambda label: None, modes: frozenset[str] = frozenset(),
) -> tuple[VariantStudy, ...]:  # fmt: skip
    """All of them; `told` hears the label of each as it is done. Without an executor: as many
    processes as pay. `modes`: of the faults that are worked out (none: all).

    Raises WorkLostError if processes are ended from outside, and what the study of one raises.
    """
    work = partial(study, modes=modes)
    return _each(Task("study", work, Known(itself, scenario), STUDY), variants, executor, told)


def watched(
    scenario: Scenario, variants: Sequence[Variant], executor: Executor | None = None,
    told: Told = lambda label: None,
) -> tuple[Watched, ...]:  # fmt: skip
    """The same, with every fault frame by frame."""
    return _each(Task("watch", watch, Known(itself, scenario)), variants, executor, told)


def _each(
    task: Task[Scenario, Variant, M], variants: Sequence[Variant], executor: Executor | None,
    told: Told,
) -> tuple[M, ...]:  # fmt: skip
    found: dict[int, M] = {}
    with given(executor, most(task.known.given, len(variants))) as workers:
        for number, made in workers.each(task, variants):
            told(variants[number].label)
            found[number] = made
    return tuple(found[number] for number in range(len(variants)))


def worked(
    scenario: Scenario, variants: Sequence[Variant], asked: Asked, how: How, told: Told
) -> tuple[tuple[VariantStudy, ...], tuple[Watched, ...]]:
    """Topologies worked out as asked for; for a page also every fault frame by frame, which no
    journal keeps.
    """
    if asked.page and how.checkpoint:
        raise refuse("--checkpoint", "keeps nothing of a page", FORMS, todo="name another format")
    least = replace(how, workers=most(scenario, len(variants), how.workers))
    with carried_out(scenario, asked.path, ("compare", variants), least) as executor:
        if not asked.page:
            return studies(scenario, variants, executor, told, modes_of(asked)), ()
        made = watched(scenario, variants, executor, told)
        return tuple(each.study for each in made), made


def most(scenario: Scenario, variants: int, workers: int = 0) -> int:
    """How many processes pay, of so many at most (0: one for each core)."""
    small = _cabinets(scenario) * variants <= SMALL
    return 1 if small else max(min(workers or os.cpu_count() or 1, variants), 1)


def itself(scenario: Scenario) -> Scenario:
    """All that must be known is the scenario."""
    return scenario


def _cabinets(scenario: Scenario) -> int:
    return sum(wall.grid[0] * wall.grid[1] for wall in scenario.file.walls.values())


def several(scenario: Scenario, groups: Iterable[str]) -> tuple[str, ...]:
    """The groups among these that have more than one topology to hold against each other."""
    return tuple(group for group in groups if len(scenario.variants(group)) > 1)
