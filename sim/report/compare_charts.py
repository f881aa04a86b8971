"""Charts of a comparison: how many single faults last, blink, stay unseen; the worst area.

In: a frozen `Comparison`. Out: frozen `Chart`s; every figure in them stands in a table too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from sim.limits.findings import grouped
from sim.report.charts import EMPTY, HEAVY, MIDDLE, Chart, Row, Rows, Strip
from sim.report.compare_details import label
from sim.report.lead import called
from sim.report.rowtext import worst_words
from sim.report.words import listed, seconds
from sim.study.study import Comparison, VariantStudy

VERDICTS = {"lasting": HEAVY, "blink": MIDDLE, "unseen": EMPTY}
AREA = "Side by side"


def compare_charts(one: Comparison, named: bool) -> tuple[Chart, ...]:
    """All charts of a group; `named`: its name stands in the titles. The worst area has none where
    it is alike in all topologies: the answer says so already.
    """
    if not one.buildable:
        return ()
    table = f"Wall group {one.group}"
    of = f", wall group {one.group}" * named
    made = (
        Chart(
            f"Single faults of each topology, each counted once{of}",
            listed(_counts(study) for study in one.buildable) + ".",
            table,
            Rows(
                tuple(map(_verdicts, one.buildable)),
                tuple((look, verdict) for verdict, look in VERDICTS.items()),
            ),
        ),
        Chart(
            f"The worst that one fault leaves not lit{of}",
            listed(f"{called(study)}: {_worst(study)[1]}" for study in one.buildable) + ".",
            AREA,
            Rows(tuple(map(_area, one.buildable))),
        ),
        _darkness(one, table, of),
    )
    alike = len(one.buildable) > 1 and len({*map(_worst, one.buildable)}) == 1
    return tuple(chart for chart in made if not (alike and chart.table == AREA))


def _counts(study: VariantStudy) -> str:
    numbers = [f"{grouped(study.count(v))} {v}" for v in VERDICTS]
    return f"{called(study)}: {listed(numbers)}"


def _verdicts(study: VariantStudy) -> Row:
    counts = {verdict: study.count(verdict) for verdict in VERDICTS}
    told = ", ".join(f"{grouped(number)} {verdict}" for verdict, number in counts.items())
    return Row(label(study), told, (*_parts(counts.values()),))


def _parts(counts: Iterable[int]) -> Iterator[Strip]:
    """Counts one after the other."""
    start = 0
    for look, number in zip(VERDICTS.values(), counts, strict=True):
        if number:
            yield Strip(start, start + number, look)
        start += number


def _area(study: VariantStudy) -> Row:
    part, told = _worst(study)
    return Row(label(study), told, (Strip(0, float(part)), Strip(float(part), 1, EMPTY)))


def _worst(study: VariantStudy) -> tuple[Fraction, str]:
    """The greatest share that one fault leaves not lit, lasting, in words."""
    found = list(study.worst_lasting.values())
    if not found:
        return Fraction(0), "nothing"
    row = max(found, key=lambda row: row.lasting[1])
    return row.lasting[1], worst_words(row)


def _darkness(one: Comparison, table: str, of: str) -> Chart:
    """Dark time to be expected, which rests on failure rates."""
    rows = tuple(
        Row(label(study), f"{seconds(study.dark)} s", (Strip(0, study.dark),))
        for study in one.buildable
    )
    said = listed(f"{called(study)} {seconds(study.dark)}" for study in one.buildable)
    return Chart(f"Dark wall-seconds to be expected in a show{of}", f"{said}.", table, Rows(rows))
