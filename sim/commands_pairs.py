"""What `staylit faults --pairs` does, apart from the command line: every double fault.

In: the path of a scenario, what was asked, who works. Out: frozen `Made`. Raises StaylitError.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from sim.asked import Asked, Made, modes_of, rig_for, variants_of, written
from sim.errors import refuse
from sim.executors import HERE, How, carried_out
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant

Told = Callable[[str], None]
MOST_STRIKES = 4000
"""Double faults are worked out for at most so many single ones."""
FEW_STRIKES = 500
"""Double faults of fewer single ones are no work for another process."""


def pairs(asked: Asked, how: How = HERE, told: Told = lambda label: None) -> Made:
    """Every double fault. Raises InputError on rigs of more than `MOST_STRIKES` single ones."""
    from sim.report.jsondoc import as_json, pairs_document
    from sim.report.pairs_report import pairs_blocks
    from sim.report.tables import pairs_csv
    from sim.study.doubles import study_pairs

    scenario = load(asked.path)
    variants, modes = variants_of(scenario, asked), tuple(sorted(modes_of(asked)))
    most = max(_number_of_strikes(scenario, variant, modes) for variant in variants)
    workers = how.workers or (1 if most < FEW_STRIKES else 0)
    work = ("pairs", tuple((v.group, v.label) for v in variants), modes)
    with carried_out(scenario, asked.path, work, replace(how, workers=workers)) as executor:
        found = [(v, study_pairs(scenario, v, executor, told, modes)) for v in variants]
    if asked.format == "json":
        return Made(as_json(pairs_document(found, scenario, modes)))
    if asked.format == "csv":
        return Made(pairs_csv(found))
    named = [(f"Wall group {v.group}, {v.label}", rows) for v, rows in found]
    return Made(written(pairs_blocks(named, scenario, modes), asked))


def _number_of_strikes(scenario: Scenario, variant: Variant, modes: Sequence[str]) -> int:
    """Raises InputError if there are too many for all of their pairs."""
    from sim.limits.findings import grouped
    from sim.study.strikes import strikes

    number = len(strikes(rig_for(scenario, variant), frozenset(modes)))
    if number > MOST_STRIKES:
        raise refuse(
            "--pairs",
            f"{variant.group}, {variant.label} has {grouped(number)} single faults, which "
            f"makes some {grouped(number * (number - 1))} pairs",
            f"at most {grouped(MOST_STRIKES)} single faults",
            todo="try pairs one by one: staylit inject SCENARIO FAULT FAULT",
        )
    return number
