"""Charts of a risk study: loss or dark time by topology, what helps, what moves the answer, how
often a show costs more, the matrix.

In: a frozen `RiskStudy`. Out: frozen `Chart`s; every figure in them is one of the study's, and
stands in a table of the report too.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.reliability.riskmatrix import RISKS, Matrix
from sim.report.charts import (
    BAR,
    CHANCE,
    EMPTY,
    IGNORANCE,
    NOW,
    Chart,
    Field,
    Grid,
    Row,
    Rows,
    Steps,
    Strip,
)
from sim.report.risk_first import MOST_HELPS
from sim.report.risk_lead import compared_figure
from sim.report.risk_risks import MOST, matrix_of
from sim.report.risk_words import (
    about,
    amount,
    built,
    called,
    currency,
    fault_words,
    heading,
    help_words,
    measured,
    odds,
    shows_of,
    titled,
    with_unit,
)
from sim.report.words import listed
from sim.risk.results import Figure, Help, RiskStudy, Sway, TopologyRisk

TONES = {"L": 0, "M": 1, "S": 2, "H": 3}
HELPS, MOVES, MATRIX = "What helps most", "What moves the answer most", "Risk matrix"
"""Headings of the report under which the tables of the same figures stand."""


def risk_charts(study: RiskStudy) -> tuple[Chart, ...]:
    """All charts that the study has figures for."""
    if study.main.reasons:
        return ()
    makers = (_losses, _chances, _helps, _sways, _tail, _matrix)
    return tuple(chart for make in makers for chart in make(study))


def _losses(study: RiskStudy) -> Iterator[Chart]:
    """The expected loss of each topology, without a contract its dark time."""
    found = [(each, compared_figure(study, each)) for each in built(study)]
    known = [(each, figure) for each, figure in found if figure is not None]
    if not known:
        return
    figure, code = known[0][1], currency(study)
    name = heading("expected loss of a show" if code else figure.name, figure.kind)
    table = heading(figure.name, figure.kind) if not code else "Expected loss of a show"
    least = min(known, key=lambda pair: pair[1].found.value)
    most = max(known, key=lambda pair: pair[1].found.value)
    yield Chart(
        f"{name}, by topology",
        f"Least with {_said(*least, code)}, most with {_said(*most, code)}.",
        table,
        _bars(known, code),
    )


def _said(topology: TopologyRisk, figure: Figure, code: str) -> str:
    return f"{called(topology)} ({with_unit(about(figure, code), figure.kind)})"


def _chances(study: RiskStudy) -> Iterator[Chart]:
    """The chance that the first page names first, for each topology."""
    key = next(iter(study.main.leading), "")
    found = [(each, each.figure(key)) for each in built(study)]
    known = [(each, figure) for each, figure in found if figure is not None]
    if known:
        name = heading(known[0][1].name, known[0][1].kind)
        said = listed(f"{called(each)} {shows_of(about(f))}" for each, f in known)
        yield Chart(f"{name}, by topology", f"{said}.", name, _bars(known, ""))


def _bars(known: list[tuple[TopologyRisk, Figure]], code: str) -> Rows:
    rows = tuple(Row(titled(t), about(f, code), (*_strips(f),)) for t, f in known)
    looks = {strip.look for row in rows for strip in row.strips}
    words = {
        BAR: "about", EMPTY: "at most: none seen", CHANCE: "by chance", IGNORANCE: "by ignorance"
    }  # fmt: skip
    return Rows(rows, tuple((look, said) for look, said in words.items() if look in looks))


def _strips(figure: Figure) -> Iterator[Strip]:
    """The value, or all that it may be where nothing was seen; then both its doubts."""
    found = figure.found
    if found.bound_only:
        yield Strip(0, found.high, EMPTY)
    else:
        yield Strip(0, found.value)
        if not found.exact:
            yield Strip(max(found.low, 0), found.high, CHANCE)
    if figure.band is not None and figure.band[1] > 0:
        yield Strip(max(figure.band[0], 0), figure.band[1], IGNORANCE)


def _helps(study: RiskStudy) -> Iterator[Chart]:
    helps, code = study.main.helps[:MOST_HELPS], currency(study)
    if helps:
        what = "saved in a show" if code else "wall-seconds dark saved in a show"
        said = [f"{help_words(each)} {_saved(each, code)[1]}" for each in helps]
        rows = tuple(
            Row(help_words(each), _saved(each, code)[1], (Strip(0, max(_saved(each, code)[0], 0)),))
            for each in helps
        )
        yield Chart(f"{HELPS}: {what}", f"{listed(said)}.", HELPS, Rows(rows))


def _saved(each: Help, code: str) -> tuple[float, str]:
    """What a help saves a show: money where there is a contract, else wall-seconds."""
    most = "at most " * each.bound
    if code and each.saves is not None:
        return float(each.saves), most + amount(each.saves, code)
    return each.spares, most + measured(each.spares, "wall-seconds")


def _sways(study: RiskStudy) -> Iterator[Chart]:
    main = study.main
    known = (f for f in (*main.figures, main.loss_expected) if f is not None)
    of = next((f for f in known if f.key == study.sway_of), None)
    if not study.sways or of is None:
        return
    code = currency(study)
    rows = tuple(_sway(each, of, code) for each in study.sways)
    legend = ((BAR, "from the input's least to its most"), (NOW, "as it is"))
    yield Chart(
        f"{MOVES}: {heading(of.name, of.kind)[:1].lower()}{heading(of.name, of.kind)[1:]}",
        f"{rows[0].name} moves it most: {rows[0].told}.",
        MOVES,
        Rows(rows, legend),
    )


def _sway(each: Sway, of: Figure, code: str) -> Row:
    low, high = sorted((each.low, each.high))
    ends = " to ".join(measured(value, of.kind, code) for value in (each.low, each.high))
    now = Strip(of.found.value, of.found.value, NOW)
    return Row(fault_words(each.name), ends, (Strip(max(low, 0), max(high, 0)), now))


def _tail(study: RiskStudy) -> Iterator[Chart]:
    """How often a show costs more than each amount; drawn where it was seen at two amounts."""
    points = tuple((float(loss), chance) for loss, chance in study.main.exceedance)
    code = currency(study)
    if not code or sum(chance > 0 for _, chance in points) < 2:
        return
    name = f"How often {called(study.main)} costs more"
    loss, chance = points[0]
    what = Steps(
        points, f"a show costs more than, {code}", "in 1 of so many shows",
        lambda value: _plain(value, code), odds,
    )  # fmt: skip
    yield Chart(
        name, f"More than {_plain(loss, code)} {code} in {shows_of(odds(chance))}, and ever rarer "
        "beyond.", name, what,
    )  # fmt: skip


def _plain(value: float, code: str) -> str:
    """An amount without its currency."""
    return amount(value, code).removesuffix(f" {code}")


def _matrix(study: RiskStudy) -> Iterator[Chart]:
    matrix, rows = matrix_of(study), study.main.rows[:MOST]
    placed = [row for row in rows if row.level in matrix.levels]
    said = [
        f"{number} is {RISKS[matrix.rows[r.severity - 1][matrix.levels.index(r.level)]]}"
        for number, r in enumerate(rows, 1) if r in placed
    ]  # fmt: skip
    told = f"By their numbers, risk {listed(said)}." if said else "No risk stands in it."
    grid = Grid(matrix.levels, tuple(_line(study, matrix, n) for n in range(len(matrix.rows))))
    yield Chart(f"{MATRIX}: where the largest risks stand", told, MATRIX, grid)


def _line(study: RiskStudy, matrix: Matrix, severity: int) -> tuple[str, tuple[Field, ...]]:
    rows = study.main.rows[:MOST]
    fields = []
    for place, level in enumerate(matrix.levels):
        letter = matrix.rows[severity][place]
        here = [
            str(n) for n, row in enumerate(rows, 1)
            if (row.severity, row.level) == (severity + 1, level)
        ]  # fmt: skip
        fields.append(Field(RISKS[letter], ", ".join(here), TONES[letter]))
    return matrix.severities[severity], tuple(fields)
