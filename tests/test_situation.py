"""A situation of a drill on a terminal: lines no longer than it is wide, walls whole.

In: lines written by hand. Out: what is broken, and what is not.
"""

from __future__ import annotations

import pytest

from sim.report.situation import within

REPORT = (
    "    reference input house sync/to-main/unit-a of main/unit-a: signal yes (a reference "
    "arrives; whether the unit follows it is unknown)"
)


@pytest.mark.parametrize(
    "line", [REPORT, "    r1c1 and " + "what stands there " * 9, "  hint: a" * 20]
)
@pytest.mark.parametrize("width", [60, 80, 100])
def test_words_are_broken_whatever_they_begin_with(line: str, width: int) -> None:
    made = within(line, width)
    assert len(made) > 1 and max(map(len, made)) <= width
    assert " ".join(" ".join(made).split()) == " ".join(line.split())


def test_a_row_of_a_wall_stays_whole() -> None:
    for row in ("    r1   " + "F" * 80, "    r12  " + "DDf.u." * 13, "    r100 " + "." * 80):
        assert within(row, 60) == [row]
