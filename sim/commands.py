"""What each command does, apart from the command line: from plain values to a text and a status.

In: the path of a scenario and what was asked. Out: frozen `Made`: the text and the exit status (0
done, 1 a stated limit is not met by the topology offered). Raises StaylitError.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from sim.asked import Asked, Made, groups_of, rig_for, status_of, variants_of, written
from sim.commands_pairs import pairs
from sim.commands_practice import diagnose
from sim.commands_proof import proof, proof_read
from sim.commands_risk import cut_sets, risk, verify
from sim.commands_slips import slips
from sim.errors import nearest_name, refuse
from sim.executors import HERE, How
from sim.harmless import visible
from sim.memory import uncollected
from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant
from sim.study.promises import NOT
from sim.study.study import Comparison

if TYPE_CHECKING:
    from sim.study.checkup import GroupCheck
    from sim.study.watching import Watched

__all__ = [
    "check", "compare_in", "compared", "cut_sets", "diagnose", "draw", "explain", "faults",
    "inject", "pairs", "proof", "proof_read", "rates", "risk", "slips", "verify",
]  # fmt: skip

Told = Callable[[str], None]


@dataclass(frozen=True)
class Compared:
    """What `compare` found, ready for any format."""

    scenario: Scenario
    groups: tuple[Comparison, ...]
    status: int
    watched: tuple[Watched, ...] = ()


def compared(asked: Asked, how: How = HERE, told: Told = lambda label: None) -> Compared:
    """All topologies of each group that has several, or of the one group asked for."""
    from sim import workers
    from sim.study import study

    scenario = load(asked.path)
    groups = groups_of(scenario, asked)
    groups = workers.several(scenario, groups) if not asked.group else groups
    if not groups:
        raise refuse(
            str(asked.path),
            "no wall group has a topology to compare with the one offered",
            todo="name some under `against:`",
        )
    variants = [variant for group in groups for variant in scenario.variants(group)]
    made, watched = workers.worked(scenario, variants, asked, how, told)
    found = tuple(
        study.compare(scenario, group, [each for each in made if each.variant.group == group])
        for group in groups
    )
    return Compared(scenario, found, status_of(made), watched)


def compare_in(found: Compared, asked: Asked) -> Made:
    """A comparison in the format asked for."""
    from sim.report.compare_report import compare_blocks
    from sim.report.jsondoc import as_json, compare_document
    from sim.report.tables import compare_csv

    if asked.format == "json":
        return Made(as_json(compare_document(found.groups, found.scenario)), found.status)
    if asked.format == "csv":
        return Made(compare_csv(found.groups), found.status)
    if asked.page:
        from sim.benches import bench_of
        from sim.report.pages import compare_page

        bench = bench_of(found.scenario, found.watched)
        return Made(compare_page(found.groups, found.scenario, bench, asked.sheet), found.status)
    return Made(written(compare_blocks(found.groups, found.scenario), asked), found.status)


def faults(asked: Asked, told: Told = lambda label: None) -> Made:
    """Every single fault of one topology of each group meant."""
    from sim import workers
    from sim.report.faults_report import faults_blocks
    from sim.report.jsondoc import as_json, faults_document
    from sim.report.tables import faults_csv

    scenario = load(asked.path)
    made, watched = workers.worked(scenario, variants_of(scenario, asked), asked, HERE, told)
    if asked.page:
        from sim.benches import bench_of
        from sim.report.pages import faults_page

        bench = bench_of(scenario, watched)
        return Made(faults_page(made, scenario, bench, asked.sheet), status_of(made))
    if asked.format == "json":
        return Made(as_json(faults_document(made, scenario)), status_of(made))
    if asked.format == "csv":
        return Made(faults_csv(made), status_of(made))
    return Made(written(faults_blocks(made, scenario), asked), status_of(made))


def inject(asked: Asked, texts: Sequence[str], fails: Sequence[str], timing: str) -> Made:
    """One run with these faults, and with changeovers that fail."""
    from sim.faults import Script
    from sim.report.inject_report import Told, inject_blocks
    from sim.report.jsondoc import as_json, inject_document
    from sim.report.tables import inject_csv
    from sim.spoken import spoken
    from sim.study import injection
    from sim.study.fault_text import parse_faults

    scenario = load(asked.path)
    chosen = variants_of(scenario, asked) if asked.topology else ()
    groups_of(scenario, asked)
    variants = tuple({**scenario.offered, **{v.group: v for v in chosen}}.values())
    main = chosen[0] if chosen else variants[0]
    rig = rig_for(scenario, main)
    struck = parse_faults(texts, rig, scenario.rate, scenario.start, spoken(rig))
    failing = _failing(rig, fails)
    script = Script(struck, failing=frozenset(failing))
    trace = injection.ran(rig, script, timing)
    result = injection.told(rig, trace, timing)
    if asked.format == "json":
        return Made(as_json(inject_document(result, variants, texts, failing, scenario)))
    if asked.format == "csv":
        return Made(inject_csv(result, scenario))
    told = Told(scenario, variants, rig, tuple(texts), failing, result)
    if asked.page:
        from sim.benches import bench_of_script
        from sim.report.pages import inject_page

        bench = bench_of_script(scenario, variants, rig, (script, trace), texts)
        return Made(inject_page(told, bench, asked.sheet))
    return Made(written(inject_blocks(told), asked))


def _failing(rig: Rig, patterns: Sequence[str]) -> tuple[str, ...]:
    """The selectors that these patterns match. Raises InputError for one that matches none."""
    from sim.rig.topology import selectors
    from sim.spoken import spoken
    from sim.study.fault_names import NAMES

    names = [selector.name for selector, node in selectors(rig) if len(node.inputs) > 1]
    called = spoken(rig) if patterns else {}
    found: list[str] = []
    for pattern in patterns:
        also = called.get(pattern, ())
        matched = [each for each in names if fnmatchcase(each, pattern)]
        matched = [pattern] if pattern in names else matched or [n for n in names if n in also]
        if not matched:
            found_none, few = f"no changeover is called {pattern!r}", ", ".join(names[:4])
            raise refuse(
                "--fails", found_none, f"such as {few}", nearest_name(pattern, names), NAMES
            )
        found += matched
    return tuple(dict.fromkeys(found))


def check(asked: Asked) -> Made:
    """What can be said before anything fails: findings, single points, assumptions."""
    from sim.report import check_report
    from sim.report.jsondoc import as_json
    from sim.study import checkup

    scenario = load(asked.path)
    groups_of(scenario, asked)
    chosen = variants_of(scenario, asked)[0] if asked.topology else None
    with uncollected():
        found = checkup.check(scenario, asked.group, chosen)
    status = int(any(_broken(group) for group in found.groups if group.variant.offered))
    if asked.format == "json":
        return Made(as_json(check_report.document(found)), status)
    if asked.format == "csv":
        return Made(check_report.csv(found), status)
    return Made(written(check_report.blocks(found), asked), status)


def _broken(group: GroupCheck) -> bool:
    return bool(group.reasons) or any(verdict.verdict == NOT for verdict in group.verdicts)


def explain(asked: Asked, item: str) -> Made:
    """What one name in a scenario or a report means: its value, where it is from, what it moves."""
    from sim.report import explain_report
    from sim.report.jsondoc import as_json
    from sim.spoken import spoken
    from sim.study import explanation

    found = explanation.explain(load(asked.path), item, spoken)
    if asked.format == "json":
        return Made(as_json(explain_report.document(found)))
    if asked.format == "csv":
        return Made(explain_report.csv(found))
    return Made(written(explain_report.blocks(found), asked))


def rates(asked: Asked) -> tuple[Made, str]:
    """What an owner's records say of failure rates; also the text of a file of these rates."""
    from sim.reliability.beside import own_rates
    from sim.reliability.learned import rates_text
    from sim.reliability.records import read_records
    from sim.report import rates_report
    from sim.report.jsondoc import as_json

    found = own_rates(read_records(asked.path), visible(asked.path.name))
    file = rates_text((line.learned for line in found.lines), found.source)
    if asked.format == "json":
        return Made(as_json(rates_report.rates_document(found))), file
    if asked.format == "csv":
        return Made(rates_report.rates_csv(found)), file
    return Made(written(rates_report.rates_blocks(found), asked)), file


def draw(asked: Asked, mark: bool) -> Made:
    """The rig as a picture, as GraphML, or in the audit format. `mark`: what takes all."""
    scenario = load(asked.path)
    chosen = variants_of(scenario, asked) if asked.topology else ()
    groups_of(scenario, asked)
    main = chosen[0] if chosen else scenario.offered[asked.group or scenario.groups[0]]
    rig = rig_for(scenario, main)
    if asked.format == "json":
        from sim.rig.audit import as_json

        return Made(json.dumps(as_json(rig), indent=1) + "\n")
    if asked.format == "graphml":
        from sim.rig.audit import as_graphml

        return Made(as_graphml(rig))
    from sim.report import drawing

    return Made(drawing.draw(rig, _takers(scenario, main, rig) if mark else {}))


def _takers(scenario: Scenario, variant: Variant, rig: Rig) -> dict[str, str]:
    """Things and routes of which one fault takes the whole picture, with the modes that do."""
    from sim.report.rowtext import mode_of
    from sim.study.study import study

    modes: dict[str, dict[str, None]] = {}
    for row in study(scenario, variant).rows:
        for where in row.where if row.spoils_all else ():
            node = rig.nodes.get(where)
            name = node.thing if node is not None else where.partition("#")[0]
            modes.setdefault(name.removeprefix("route "), {})[mode_of(row)] = None
    routes = {route for thing in rig.things.values() for route in thing.routes}
    return {n: ", ".join(of) for n, of in modes.items() if n in rig.things or n in routes}
