"""A risk report on its topologies: what was studied, side by side, what hangs on one thing.

In: a frozen `RiskStudy`. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.limits.findings import first_few, grouped
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.risk_first import figure_table
from sim.report.risk_words import (
    built,
    called,
    currency,
    duration,
    exact_money,
    fault_words,
    heading,
    more_or_fewer,
    odds,
    shows_of,
    shows_words,
    titled,
)
from sim.report.words import counted, harmless, listed, share
from sim.rig.terms import ClauseTerms, Contract, Step
from sim.risk.results import Paired, RiskStudy, StratumRow, TopologyRisk

CAUSES = {
    "item": "things\nthat fail",
    "person": "people\nwho err",
    "load-in": "mistakes\nat load-in",
    "never tested": "backups\ndead already",
    "on demand": "changeovers\nthat fail",
    "shared cause": "shared\ncauses",
}
"""What may strike, by `striking.CAUSES`."""
FEW = 12
"""So many names are written out; JSON has all."""


def studied_blocks(study: RiskStudy) -> Iterator[Block]:
    """What the figures are about."""
    yield Heading("What was studied")
    yield Points(tuple(_studied(study)))
    yield from _causes(study)
    contract = study.terms.contract
    if contract is not None:
        yield Heading("The contract", 3)
        yield Points(tuple(_contract(study, contract)))


def _studied(study: RiskStudy) -> Iterator[str]:
    names = [called(each) for each in study.topologies]
    group = f"Wall group {harmless(study.group)} of " if study.group else ""
    yield (
        f"{group}{harmless(study.title)}, in one show of "
        f"{duration(study.length)}, with {counted(len(names), 'topology', 'topologies')}: "
        f"{listed(names)}."
    )
    if study.terms.crew is None:
        yield "No repair during the show: no crew is stated."
    else:
        yield "Repair during the show, as the crew below can do it."
    yield "Timings are typical; their ranges, and those of the rates, make the band by ignorance."
    moving = study.terms.moving.get(study.group, frozenset())
    if moving:
        yield f"Layers that move, where a standing picture is a defect: {listed(sorted(moving))}."
    if study.terms.weights:
        number = counted(len(study.terms.weights), "critical moment")
        yield f"Weighted figures count {number} more than the rest of the show."


def _causes(study: RiskStudy) -> Iterator[Block]:
    """What may strike at all, and how often, by topology; what there is none of."""
    there = {cause for each in built(study) for cause, _ in each.causes}
    known = {cause: words for cause, words in CAUSES.items() if cause in there}
    if not known:
        return
    yield Heading("What may strike", 3)
    yield Para("How many of them strike in a show, on average; most of them are seen by nobody.")
    rows = tuple((titled(each), *_masses(each, known)) for each in built(study))
    yield Table(("topology", *known.values()), rows, frozenset(range(1, len(known) + 1)))
    none = [words.replace("\n", " ") for cause, words in CAUSES.items() if cause not in there]
    if none:
        yield Para(f"Of these there is none here: {listed(none)}.")


def _masses(one: TopologyRisk, known: Iterable[str]) -> Iterator[str]:
    of = dict(one.causes)
    return (f"{of[cause]:.3g}" if cause in of else "none" for cause in known)


def _contract(study: RiskStudy, contract: Contract) -> Iterator[str]:
    code = contract.currency
    yield f"Fee: {exact_money(contract.fee, code)}."
    for clause in contract.clauses:
        if clause.group not in ("", study.group):
            continue
        yield f"{harmless(clause.name)} ({clause.kind}): {_clause(clause, code)}."
    cap = "the fee" if contract.cap is None else exact_money(contract.cap, code)
    yield f"All that is due for one show is held to {cap}."
    if contract.cover is not None:
        over = exact_money(contract.deductible, code)
        over = f"what exceeds {over}, " if contract.deductible is not None else ""
        yield f"Insurance bears {over}up to {exact_money(contract.cover, code)}."
    else:
        yield "No insurance is stated."


def _clause(clause: ClauseTerms, code: str) -> str:
    over = f"more than {share(clause.over)} of" if clause.over else "any of"
    of = {"wall": "a wall", "group": "the group"}.get(clause.of, harmless(clause.of))
    where = f"{over} {of} {clause.state} in one go"
    return f"{where} {', '.join(_step(step, code) for step in clause.steps)}"


def _step(step: Step, code: str) -> str:
    parts = [f"{share(step.share)} of the fee"] if step.share else []
    parts += [exact_money(step.amount, code)] if step.amount is not None else []
    return f"for over {duration(step.time)}: {' and '.join(parts) or 'nothing'}"


# ---- side by side


def compared_blocks(study: RiskStudy) -> Iterator[Block]:
    """Figures that are no chances, differences in the same shows, the tail of the loss."""
    yield Heading("Topologies compared")
    yield _overview(study)
    kinds = {f.key: f.name for t in built(study) for f in t.figures if f.kind != "chance"}
    again = _alike(study, list(kinds))
    for key, name in kinds.items():
        if key not in again:
            yield from figure_table(study, key, name)
    for key, first in again.items():
        yield Para(
            f"{heading(kinds[key], '')}: the same in every figure as {harmless(kinds[first])}."
        )
    yield from _paired(study, frozenset(again))
    yield from _tail(study, study.main)


def _alike(study: RiskStudy, keys: list[str]) -> dict[str, str]:
    """Of these figures, those that are the same as an earlier one in all topologies, with that."""
    seen: dict[tuple[object, ...], str] = {}
    again = {}
    for key in keys:
        figures = [each.figure(key) for each in built(study)]
        mark = tuple((f.kind, f.found, f.band, f.guessed) if f else None for f in figures)
        if seen.setdefault(mark, key) != key:
            again[key] = seen[mark]
    return again


def _overview(study: RiskStudy) -> Table:
    head = ("topology", "faults\na show", "single\npoints", "shows\nsimulated", "price")
    rows = tuple(_row(each, currency(study)) for each in study.topologies)
    keep = 5 if currency(study) else 4
    return Table(head[:keep], tuple(row[:keep] for row in rows), frozenset({1, 2, 3, 4}))


def _row(one: TopologyRisk, code: str) -> tuple[str, ...]:
    if one.reasons:
        return (titled(one), "cannot be built", "-", "-", "-")
    return (
        titled(one), f"{one.faults_per_show:.3g}", grouped(len(one.single_points)),
        grouped(one.shows), exact_money(one.price, code),
    )  # fmt: skip


def _paired(study: RiskStudy, without: frozenset[str]) -> Iterator[Block]:
    if not study.paired:
        return
    yield Heading("Differences in the same shows", 3)
    yield Para(
        "The same faults strike all topologies in each show; what they have in common does not "
        f"blur the differences to {called(study.main)}."
    )
    rows = tuple(_difference(study, each) for each in study.paired if each.key not in without)
    head = ("topology", "of what", "difference", "by chance", "shows")
    yield Table(head, rows, frozenset({4}))


def _difference(study: RiskStudy, each: Paired) -> tuple[str, ...]:
    value, span = more_or_fewer(each.found, _kind(study, each.key), currency(study))
    shows = grouped(each.found.shows) if each.found.shows else "-"
    return (harmless(each.label), harmless(each.name), value, span, shows)


def _kind(study: RiskStudy, key: str) -> str:
    """What a figure is, by the first topology that has it; the expected loss is money."""
    found = (f for t in built(study) for f in (*t.figures, t.loss_expected) if f is not None)
    return next((f.kind for f in found if f.key == key), "wall-seconds")


def _tail(study: RiskStudy, main: TopologyRisk) -> Iterator[Block]:
    code = currency(study)
    if not code or not main.exceedance:
        return
    yield Heading(f"How often {called(main)} costs more", 3)
    rows = tuple(
        (exact_money(loss, code), shows_of(odds(chance)) if chance else "none seen")
        for loss, chance in main.exceedance
    )
    yield Table(("a show costs more than", "happens in"), rows, frozenset({0}))


# ---- single points


def single_blocks(study: RiskStudy) -> Iterator[Block]:
    """What hangs on one thing, by topology."""
    yield Heading("Single points")
    yield Para(
        "Things, routes and circuits of which one fault leaves the whole group dark for good, "
        "named with the fault that does it. What darkens a part stands in the list of single "
        "faults (`staylit faults`)."
    )
    yield Points(tuple(_single(each) for each in built(study)))


def _single(one: TopologyRisk) -> str:
    if not one.single_points:
        return f"{called(one)}: none."
    names = [fault_words(name) for name in one.single_points]
    return f"{called(one)} ({len(names)}): {first_few(names, FEW)}."


def strata_blocks(study: RiskStudy) -> Iterator[Block]:
    """How the shows were worked out, by the number of faults in them: once where it is the same
    for all topologies.
    """
    alike: dict[tuple[StratumRow, ...], list[TopologyRisk]] = {}
    for one in (each for each in built(study) if each.strata):
        alike.setdefault(one.strata, []).append(one)
    for strata, of in alike.items():
        names = f" of {listed(called(each) for each in of)}" if len(alike) > 1 else ""
        yield Heading(f"Shows by their number of faults{names}: {shows_words(of[0].shows)}", 3)
        rows = tuple(
            (harmless(s.faults), odds(s.chance), harmless(s.method), grouped(s.shows))
            for s in strata
        )
        head = ("faults in\nthe show", "such a show", "worked out", "shows")
        yield Table(head, rows, frozenset({3}))
