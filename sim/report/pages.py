"""The page of each command: its report, the answer first, charts, what was assumed.

In: what the reports of the commands are made from; the break bench where there is one; a paper
("" as whoever prints it has). Out: HTML.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.report import page_answers as answers
from sim.report.bench_view import Bench
from sim.report.blocks import Blocks
from sim.report.check_report import assumed
from sim.report.compare_charts import compare_charts
from sim.report.compare_report import compare_blocks
from sim.report.faults_report import faults_blocks
from sim.report.inject_report import Told, inject_blocks
from sim.report.page import Report, page
from sim.report.risk_charts import risk_charts
from sim.report.risk_report import risk_blocks
from sim.risk.results import RiskStudy
from sim.scenario.scenario import Scenario
from sim.study.study import Comparison, VariantStudy


def compare_page(
    groups: Sequence[Comparison], scenario: Scenario, bench: Bench | None = None, paper: str = ""
) -> str:
    """The topologies of each group held against each other."""
    charts = tuple(c for one in groups for c in compare_charts(one, len(groups) > 1))
    blocks = _with_assumed(compare_blocks(groups, scenario), scenario)
    first = answers.compare_answers(groups, scenario)
    return page([Report(blocks, charts)], first, bench, paper)


def faults_page(
    studies: Sequence[VariantStudy], scenario: Scenario, bench: Bench | None = None, paper: str = ""
) -> str:
    """Every single fault of one topology of each group."""
    blocks = _with_assumed(faults_blocks(studies, scenario), scenario)
    return page([Report(blocks)], answers.faults_answers(studies), bench, paper)


def inject_page(told: Told, bench: Bench | None = None, paper: str = "") -> str:
    """One injection."""
    blocks = _with_assumed(inject_blocks(told), told.scenario)
    return page([Report(blocks)], answers.inject_answers(told), bench, paper)


def risk_page(studies: Sequence[RiskStudy], bench: Bench | None = None, paper: str = "") -> str:
    """The risk of a show, of each group."""
    reports = [Report(risk_blocks([study]), risk_charts(study)) for study in studies]
    return page(reports, answers.risk_answers(studies), bench, paper)


def blocks_page(blocks: Blocks, paper: str = "") -> str:
    """Any other report."""
    lead, rest = answers.lead_apart(blocks)
    return page([Report(rest)], lead, paper=paper)


def _with_assumed(blocks: Blocks, scenario: Scenario) -> Blocks:
    """The report, and what stands for all that the scenario does not say."""
    return (*blocks, *assumed(scenario.assumptions))
