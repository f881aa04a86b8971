"""The sample reports in reports/ are what the program writes today, byte for byte.

In: the samples of tests/regenerate.py. Out: a difference shows which line moved.
"""

from __future__ import annotations

import pytest

from tests.regenerate import REPORTS, SAMPLES


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_sample_report_equals_a_fresh_run(name: str) -> None:
    assert (REPORTS / name).read_text(encoding="utf-8") == SAMPLES[name]()


def test_there_is_no_report_that_nobody_makes() -> None:
    assert {path.name for path in REPORTS.iterdir() if path.is_file()} == set(SAMPLES)
