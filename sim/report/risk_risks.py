"""The ten largest risks, and where they stand in the risk matrix.

In: a frozen `RiskStudy`. Out: blocks. The matrix is that of MIL-STD-882E, with the scenario's own
thresholds where it has some.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.limits.findings import grouped
from sim.reliability.riskmatrix import RISKS, STANDARD, Matrix, with_edges
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.risk_first import consequence, likelihood, owner, seen_words
from sim.report.risk_words import (
    INDICATIVE,
    currency,
    fault_words,
    heading,
    measured,
    odds,
    shows_of,
)
from sim.report.words import counted, harmless, listed, seconds
from sim.risk.results import RiskRow, RiskStudy, Sway

MOST = 10


def risk_table(study: RiskStudy) -> Iterator[Block]:
    """The ten largest: likelihood, consequence, what is seen, what helps."""
    rows = study.main.rows[:MOST]
    many = "ten largest risks" if len(rows) == MOST else "largest risks"
    marked = [row.guessed > study.terms.indicative_above for row in rows]
    everywhere = bool(rows) and all(marked)
    yield Heading(f"The {many}" + f" ({INDICATIVE})" * everywhere)
    if not rows:
        yield Para("No risk was found in what was studied.")
        return
    yield Para(
        "Likelihood: that the audience sees something wrong by this risk, alone or together with "
        "other faults; none seen: in no simulated show. Consequence: what it takes "
        "from a show, on average and at worst. Below each name stand how many there are, "
        "the cause, whose item. What is seen: of the worst of them, by itself, at typical timings; "
        "a blink is over once the rig has settled, all else lasts."
    )
    head = ("", "risk", "likelihood", "consequence", "what is seen", "what helps")
    cells = tuple(
        _cells(study, number, row, mark and not everywhere)
        for number, (row, mark) in enumerate(zip(rows, marked, strict=True), 1)
    )
    yield Table(head, cells, frozenset({0}), ruled=True)
    if len(study.main.rows) > MOST:
        more = counted(len(study.main.rows) - MOST, "smaller risk")
        yield Para(f"JSON has {more} more.")


def _cells(study: RiskStudy, number: int, row: RiskRow, marked: bool) -> tuple[str, ...]:
    many = f"{grouped(row.count)}; " if row.count > 1 else ""
    whose = listed([owner(name) for name in row.suppliers])
    below = f"{many}{row.cause}{f'; {whose}' if whose else ''}"
    return (
        str(number),
        f"{fault_words(row.name)}\n({harmless(below)})",
        likelihood(row) + f"\n{INDICATIVE}" * marked,
        "\n".join(consequence(row, currency(study))),
        seen_words(study, row),
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
        "is, then the numbers of those of the largest risks that lie in it. Severity is what one "
        "night comes to, by the thresholds below, which are this program's own choice; the chance "
        "is that of a show in which the risk brings such a night or a worse one, alone or with "
        "others, whenever in the show it strikes. Each risk stands at the severity at which the "
        "matrix finds it gravest, of equal ones where it is likelier."
    )
    first = ("at least 1 in", *(odds(edge)[5:] for edge in matrix.edges), "rarer")
    cells = tuple(
        (f"{n} {name}", *(_field(matrix, rows, n, i) for i in range(len(matrix.levels))))
        for n, name in enumerate(matrix.severities, 1)
    )
    yield Table(("", *matrix.levels), (first, *cells), ruled=True)
    meant = zip(matrix.severities, study.severities, strict=False)
    yield Points(tuple(f"{name}: {harmless(said)}." for name, said in meant))
    yield from _placed(study, matrix)
    out = [str(n) for n, row in enumerate(rows, 1) if row.level not in matrix.levels]
    if out:
        yield Para(f"In no simulated show seen to do harm, so not in the matrix: {listed(out)}.")


def _placed(study: RiskStudy, matrix: Matrix) -> Iterator[Block]:
    """Why each of the largest risks stands where it does."""
    rows = [(n, r) for n, r in enumerate(study.main.rows[:MOST], 1) if r.level in matrix.levels]
    if not rows:
        return
    head = ("", "risk", "brings a night that is", "in", "risk is")
    cells = tuple(
        (
            str(number),
            f"{fault_words(row.name)} ({harmless(row.cause)})",
            matrix.severities[row.severity - 1] + " or worse" * (row.severity > 1),
            shows_of(odds(row.reaches[row.severity - 1])),
            RISKS[matrix.rows[row.severity - 1][matrix.levels.index(row.level)]],
        )
        for number, row in rows
    )
    yield Table(head, cells, frozenset({0}))


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
    name = heading(of.name, of.kind) if of else "The figure"
    yield Heading("What moves the answer most")
    yield Para(
        f"{name}, with one input at the least and at the most of its range, "
        "all others as they are. Measure first what moves it most."
    )
    kind = of.kind if of else ""
    rows = tuple(_sway(each, kind, currency(study)) for each in study.sways)
    yield Table(("input", "source", "at its least", "at its most"), rows)


def _sway(each: Sway, kind: str, code: str) -> tuple[str, ...]:
    ends = [measured(v, kind, code) if kind else seconds(v) for v in (each.low, each.high)]
    return (fault_words(each.name), harmless(each.source), *ends)
