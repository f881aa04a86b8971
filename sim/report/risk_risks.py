"""The ten largest risks, and where they stand in the risk matrix.

In: a frozen `RiskStudy`. Out: blocks. The matrix is that of MIL-STD-882E, with the scenario's own
thresholds where it has some.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.limits.findings import grouped
from sim.reliability.riskmatrix import RISKS, STANDARD, Matrix, with_edges
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.risk_first import consequence, likelihood
from sim.report.risk_words import INDICATIVE, currency, guessed_share, measured, odds
from sim.report.words import counted, harmless, listed, seconds, supplier_words
from sim.risk.results import RiskRow, RiskStudy, Sway

MOST = 10


def risk_table(study: RiskStudy) -> Iterator[Block]:
    """The ten largest: likelihood, consequence, what is seen, what helps."""
    rows = study.main.rows
    yield Heading(f"The {'ten ' if len(rows) >= MOST else ''}largest risks")
    if not rows:
        yield Para("No risk was found in what was studied.")
        return
    head = ("", "risk", "likelihood", "consequence", "what is seen", "what helps")
    cells = tuple(_cells(study, n, row) for n, row in enumerate(rows[:MOST], 1))
    yield Table(head, cells, frozenset({0}), ruled=True)
    if len(rows) > MOST:
        yield Para(f"{counted(len(rows) - MOST, 'smaller risk')} more: JSON has all.")
    yield Para(
        "Likelihood: the audience sees something wrong by this risk alone. Whose item it is, and "
        "how much of it rests on placeholders, stand below its name."
    )


def _cells(study: RiskStudy, number: int, row: RiskRow) -> tuple[str, ...]:
    many = f" ({grouped(row.count)})" if row.count > 1 else ""
    whose = listed([supplier_words(name) for name in row.suppliers])
    mark = f", {INDICATIVE}" if row.guessed > study.terms.indicative_above else ""
    below = f"{row.cause}{f'; {whose}' if whose else ''}"
    return (
        str(number),
        f"{harmless(row.name)}{many}\n{harmless(below)}\n"
        f"placeholders {guessed_share(row.guessed)}{mark}",
        likelihood(row),
        consequence(row, currency(study)).replace("; ", "\n"),
        harmless(row.seen) or "nothing",
        harmless(row.helps) or "nothing studied here",
    )


# ---- the matrix


def matrix_of(study: RiskStudy) -> Matrix:
    """The matrix with the scenario's thresholds, else as in the standard."""
    edges = study.terms.edges
    return with_edges(edges, "risk matrix") if edges else STANDARD


def matrix_blocks(study: RiskStudy) -> Iterator[Block]:
    """The matrix as a plain table; the ten largest risks stand in it by their numbers."""
    matrix, rows = matrix_of(study), study.main.rows[:MOST]
    yield Heading("Risk matrix")
    whose = "with this scenario's own thresholds" if study.terms.edges else "with its thresholds"
    yield Para(
        f"In the form of MIL-STD-882E, {whose}, for one show. Each field says how grave the risk "
        "is, then the numbers of those of the largest risks that lie in it."
    )
    head = ("", *(f"{n}\n{_edge(matrix, i)}" for i, n in enumerate(matrix.levels)))
    cells = tuple(
        (f"{n} {name}", *(_field(matrix, rows, n, i) for i in range(len(matrix.levels))))
        for n, name in enumerate(matrix.severities, 1)
    )
    yield Table(head, cells, ruled=True)
    meant = zip(matrix.severities, study.severities, strict=False)
    yield Points(tuple(f"{name}: {harmless(said)}." for name, said in meant))
    out = [str(n) for n, row in enumerate(rows, 1) if row.level not in matrix.levels]
    if out:
        yield Para(f"Not placed in the matrix: {listed(out)}.")


def _edge(matrix: Matrix, place: int) -> str:
    if place == len(matrix.edges):
        return f"rarer than {odds(matrix.edges[-1])}"
    return f"from {odds(matrix.edges[place])}"


def _field(matrix: Matrix, rows: tuple[RiskRow, ...], severity: int, place: int) -> str:
    word = RISKS[matrix.rows[severity - 1][place]]
    here = [
        str(number)
        for number, row in enumerate(rows, 1)
        if (row.severity, row.level) == (severity, matrix.levels[place])
    ]
    return f"{word}\n{', '.join(here)}" if here else word


# ---- what moves the answer


def sway_blocks(study: RiskStudy) -> Iterator[Block]:
    """What moves the answer most."""
    if not study.sways:
        return
    known = (f for f in (*study.main.figures, study.main.loss_expected) if f is not None)
    of = next((f for f in known if f.key == study.sway_of), None)
    name = harmless(of.name) if of else "the figure"
    yield Heading("What moves the answer most")
    yield Para(
        f"{name[:1].upper()}{name[1:]}, with one input at the least and at the most of its range, "
        "all others as they are. Measure first what moves it most."
    )
    kind = of.kind if of else ""
    rows = tuple(_sway(each, kind, currency(study)) for each in study.sways)
    yield Table(("input", "source", "at its least", "at its most"), rows)


def _sway(each: Sway, kind: str, code: str) -> tuple[str, ...]:
    ends = [measured(v, kind, code) if kind else seconds(v) for v in (each.low, each.high)]
    return (harmless(each.name), harmless(each.source), *ends)
