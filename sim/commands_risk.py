"""What `staylit risk` does, apart from the command line: from plain values to a text and a status.

In: the path of a scenario, what was asked. Out: frozen `Made`: the text and the exit status (0
done, 1 a stated limit is not met by the topology offered, or simulation and theory differ, 130
interrupted). Raises StaylitError.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.asked import Asked, Made, groups_of, rig_for, variants_of, written
from sim.errors import refuse
from sim.executors import HERE, How, carried_out
from sim.leaving import INTERRUPTED
from sim.risk.asked import RiskAsked
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario

if TYPE_CHECKING:
    from sim.report.bench_view import Bench
    from sim.risk.results import RiskStudy

Told = Callable[[str], None]
ONE_EACH = "run it once with --verify and once with --plain"


@dataclass(frozen=True)
class Risked:
    """What `risk` found of each group meant, ready for any format."""

    scenario: Scenario
    studies: tuple[RiskStudy, ...]


def risk(asked: Asked, wanted: RiskAsked, told: Told = lambda label: None, how: How = HERE) -> Made:
    """How likely a bad night is, of each group meant; an interrupted study says so, with 130."""
    return risk_in(risked(asked, wanted, told, how), asked)


def risked(
    asked: Asked, wanted: RiskAsked, told: Told = lambda label: None, how: How = HERE
) -> Risked:
    """The study of each group meant."""
    from sim.risk.promised import judged
    from sim.risk.study import risk_of

    scenario, found = load(asked.path), []
    groups = _risked(scenario, asked)
    with carried_out(scenario, asked.path, ("risk", groups, wanted), how) as executor:
        for group in groups:
            study = risk_of(scenario, group, wanted, told, executor)
            found.append(judged(study, scenario, group))
    return Risked(scenario, tuple(found))


def risk_in(of: Risked, asked: Asked) -> Made:
    """Studies of risk in the format asked for."""
    from sim.report.jsondoc import as_json
    from sim.report.risk_data import risk_csv, risk_document
    from sim.report.risk_report import risk_blocks

    found = of.studies
    status = INTERRUPTED if any(study.unfinished for study in found) else 0
    status = status or int(any(study.unmet for study in found))
    if asked.format == "json":
        return Made(as_json(risk_document(found)), status)
    if asked.format == "csv":
        return Made(risk_csv(found), status)
    if asked.page:
        from sim.report.pages import risk_page

        return Made(risk_page(found, _bench(of.scenario, found), asked.sheet), status)
    return Made(written(risk_blocks(found), asked), status)


def _bench(scenario: Scenario, found: Sequence[RiskStudy]) -> Bench | None:
    """Every fault of the topologies of a study, to be watched."""
    from sim import workers
    from sim.benches import bench_of

    meant = [each.variant for study in found for each in study.topologies]
    return bench_of(scenario, workers.watched(scenario, meant))


def verify(
    asked: Asked, wanted: RiskAsked, told: Told = lambda label: None, how: How = HERE
) -> Made:
    """Simulation against theory, of each group meant; 1 where they differ."""
    if wanted.plain:
        raise refuse("--plain", "asked together with --verify", "one of the two", todo=ONE_EACH)
    from sim.report.jsondoc import as_json
    from sim.report.verify_report import verify_blocks, verify_csv, verify_document
    from sim.risk.verifying import verify_of

    scenario = load(asked.path)
    groups = _risked(scenario, asked)
    with carried_out(scenario, asked.path, ("verify", groups, wanted), how) as executor:
        found = [verify_of(scenario, each, wanted, told, executor) for each in groups]
    for one in found:
        _something(scenario, one.group, one.rows)
    status = int(not all(one.passed for one in found))
    if asked.format == "json":
        return Made(as_json(verify_document(found)), status)
    if asked.format == "csv":
        return Made(verify_csv(found), status)
    return Made(written(verify_blocks(found), asked), status)


def cut_sets(
    asked: Asked, wanted: RiskAsked, order: int, mended: float, told: Told = lambda label: None
) -> Made:
    """Minimal cut sets of up to `order` faults, of each group meant; `mended`: hours."""
    from sim.report.cuts_report import cuts_blocks, cuts_csv, cuts_document
    from sim.report.jsondoc import as_json
    from sim.risk.cutting import cuts_of

    scenario = load(asked.path)
    groups = _risked(scenario, asked)
    found = [cuts_of(scenario, each, wanted, order, mended, told) for each in groups]
    for one in found:
        _something(scenario, one.group, one.topologies)
    if asked.format == "json":
        return Made(as_json(cuts_document(found)))
    if asked.format == "csv":
        return Made(cuts_csv(found))
    return Made(written(cuts_blocks(found), asked))


def _something(scenario: Scenario, group: str, made: Sequence[object]) -> None:
    """Raises InputError if nothing was worked out of a group."""
    if not made:
        none = "none of its topologies can be built, so that nothing was worked out"
        todo = f"`staylit check` says why; or name another group: {', '.join(scenario.groups)}"
        raise refuse(group, none, "a topology that can be built", todo=todo)


def _risked(scenario: Scenario, asked: Asked) -> Sequence[str]:
    """The groups meant; with a topology, the group that has it. Raises InputError if that topology
    cannot be built.
    """
    if not asked.topology:
        return groups_of(scenario, asked)
    [variant] = variants_of(scenario, asked)
    rig_for(scenario, variant)
    return [variant.group]
