"""The risk of a show for people: the first page, then what an auditor asks.

In: frozen `RiskStudy`s, one for each wall group. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.report.blocks import Block, Blocks, Heading
from sim.report.risk_answers import answer_blocks
from sim.report.risk_first import first_page
from sim.report.risk_lead import lead_blocks
from sim.report.risk_register import closing_blocks, method_blocks, register_blocks
from sim.report.risk_risks import matrix_blocks, risk_table, sway_blocks
from sim.report.risk_topologies import compared_blocks, single_blocks, studied_blocks
from sim.report.words import harmless
from sim.risk.results import RiskStudy


def risk_blocks(studies: Iterable[RiskStudy]) -> Blocks:
    """The whole report, one group after the other."""
    return tuple(block for study in studies for block in _study(study))


def _study(study: RiskStudy) -> Iterator[Block]:
    group = f", wall group {study.group}" if study.group else ""
    yield Heading(harmless(f"{study.title}{group}: risk of a show"), 1)
    yield from lead_blocks(study)
    if study.main.reasons:
        yield from (*studied_blocks(study), *closing_blocks(study))
        return
    yield from first_page(study)
    yield from studied_blocks(study)
    yield from _found(study)
    yield from register_blocks(study)
    yield from method_blocks(study)
    yield from closing_blocks(study)


def _found(study: RiskStudy) -> Iterator[Block]:
    yield from compared_blocks(study)
    yield from single_blocks(study)
    yield from risk_table(study)
    yield from matrix_blocks(study)
    yield from sway_blocks(study)
    yield from answer_blocks(study)
