"""What stands first on a page: the answer in three sentences and one table.

In: what the report of a command is made from. Out: frozen `Answer`s, one for each wall group; the
sentences are those of the report's lead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.limits.findings import grouped
from sim.report import lead, risk_lead
from sim.report.blocks import Blocks, Heading, Para, Table
from sim.report.compare_details import limit_lines, worst_blink, worst_lasting, worst_latent
from sim.report.compare_report import overview
from sim.report.faults_report import lead_of
from sim.report.inject_report import Told, toll_table
from sim.report.inject_report import lead_of as injected
from sim.report.risk_words import (
    about,
    by_chance,
    by_ignorance,
    currency,
    guessed_share,
    shows_of,
    with_unit,
)
from sim.report.words import harmless
from sim.risk.results import Figure, RiskStudy
from sim.scenario.scenario import Scenario
from sim.study.study import Comparison, VariantStudy


@dataclass(frozen=True, slots=True)
class Answer:
    """`name`: of what, where there are several; `said`: what the table holds, in words."""

    name: str
    sentences: tuple[str, ...]
    table: Table | None
    said: str = ""


def compare_answers(groups: Sequence[Comparison], scenario: Scenario) -> tuple[Answer, ...]:
    """The topologies of each group in one table."""
    return tuple(
        Answer(
            f"Wall group {one.group}" * (len(groups) > 1),
            lead.answer(one),
            overview(one, scenario),
            "The topologies side by side; how to read the table is told below.",
        )
        for one in groups
    )


def faults_answers(studies: Sequence[VariantStudy]) -> tuple[Answer, ...]:
    """How many faults last, blink and stay unseen, with the worst of each."""
    return tuple(
        Answer(
            f"Wall group {study.variant.group}, {lead.called(study)}" * (len(studies) > 1),
            lead_of(study) if study.can_be_built else _unbuilt(study),
            _worst(study),
        )
        for study in studies
    )


def _unbuilt(study: VariantStudy) -> tuple[str, ...]:
    return (f"It cannot be built: {'; '.join(map(harmless, study.reasons))}.",)


def _worst(study: VariantStudy) -> Table:
    if not study.can_be_built:
        return Table(("topology", "can be built"), ((lead.called(study), "no"),))
    counts = {v: grouped(study.count(v)) for v in ("lasting", "blink", "unseen")}
    rows = (
        ("lasting", counts["lasting"], worst_lasting(study)),
        ("blink", counts["blink"], worst_blink(study.worst_blink)),
        ("unseen", counts["unseen"], f"latent: {worst_latent(study)}"),
        ("limits", grouped(len(study.verdicts)), limit_lines(study)),
    )
    return Table(("", "how many", "the worst of them"), rows, frozenset({1}))


def inject_answers(told: Told) -> tuple[Answer, ...]:
    """Frames that each group lost, by state."""
    topologies, run, outcome = injected(told)
    groups = [toll for toll in told.result.tolls if toll.kind == "group"]
    return (Answer("", (outcome, topologies, run), toll_table(groups, told.scenario)),)


def risk_answers(studies: Sequence[RiskStudy]) -> tuple[Answer, ...]:
    """The figures that matter most, each with both its doubts."""
    return tuple(
        Answer(
            f"Wall group {study.group}" * (len(studies) > 1),
            risk_lead.answer(study),
            _figures(study),
            "" if study.main.reasons else risk_lead.expected(study),
        )
        for study in studies
    )


def _figures(study: RiskStudy) -> Table:
    head = ("", "about", "by chance", "by ignorance", "rests on placeholders")
    if study.main.reasons:
        return Table(("topology", "can be built"), ((study.main.variant.label, "no"),))
    found = risk_lead.headline_figures(study)
    return Table(head, tuple(_figure(figure, currency(study)) for figure in found))


def _figure(figure: Figure, code: str) -> tuple[str, ...]:
    value = about(figure, code)
    value = shows_of(value) if figure.kind == "chance" else with_unit(value, figure.kind)
    return (
        harmless(figure.name), value, by_chance(figure, code), by_ignorance(figure, code),
        guessed_share(figure.guessed),
    )  # fmt: skip


def lead_apart(blocks: Blocks) -> tuple[tuple[Answer, ...], Blocks]:
    """Any other report: what stands before its first section as the answer, and all the rest.

    What is neither a paragraph nor the first table there stays with the rest.
    """
    ends = [n for n, each in enumerate(blocks) if isinstance(each, Heading) and each.level > 1]
    lead = blocks[: ends[0] if ends else len(blocks)]
    paras = [each for each in lead if isinstance(each, Para) and not each.warning]
    table = next((each for each in lead if isinstance(each, Table)), None)
    taken = [*paras, *([table] if table else [])]
    rest = tuple(each for each in blocks if not any(each is one for one in taken))
    return (Answer("", tuple(para.text for para in paras), table),), rest
