"""Under a list of single faults stands how to read the columns that are there, and no others.

In: the faults of `first`, some of them left out. Out: the text of the report.
"""

from __future__ import annotations

from dataclasses import replace

from sim.report.faults_report import faults_blocks
from sim.report.text import as_text
from sim.study.study import VariantStudy
from tests.pages import comparison, first


def told(study: VariantStudy, *verdicts: str) -> str:
    rows = tuple(row for row in study.rows if row.verdict in verdicts)
    return as_text(faults_blocks([replace(study, rows=rows)], first()))


def test_a_column_that_is_not_there_is_not_explained() -> None:
    study = comparison().groups[0].offered
    both, lasting, none = told(study, "blink", "lasting"), told(study, "lasting"), told(study)
    for word in ("- frames not lit:", "- grade:"):
        assert word in both and word not in lasting and word not in none
    for word in ("- how many:", "- area:"):
        assert word in both and word in lasting and word not in none
