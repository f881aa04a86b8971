"""Rows that say the same of many names, told once."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from sim.report.check_report import blocks
from sim.report.folding import MOST_APART, NAMED, folded, folded_rows
from sim.report.text import as_text
from sim.scenario.loader import load
from sim.study.checkup import check
from tests.big_walls import Size, big_wall


def test_few_that_say_the_same_stay_apart() -> None:
    rows = [(f"box {number}", "full") for number in range(MOST_APART)]
    assert list(folded(rows)) == rows


def test_many_are_told_in_the_place_of_the_first() -> None:
    rows = [("rack", "empty"), *((f"box {n}", "full") for n in range(12)), ("desk", "empty")]
    assert list(folded(rows)) == [
        ("rack", "empty"),
        ("each of box 0, box 1, box 2 and 9 more", "full"),
        ("desk", "empty"),
    ]
    assert folded_rows([(name, said, "1") for name, said in rows])[1] == (
        "each of box 0, box 1, box 2 and 9 more", "full", "1",
    )  # fmt: skip


@given(st.lists(st.tuples(st.text(max_size=3), st.integers(0, 2)), max_size=40))
def test_every_name_is_told_or_counted(rows: list[tuple[str, int]]) -> None:
    """What is said of how many, by a count that knows nothing of folding."""
    many = Counter(said for _, said in rows)
    told = list(folded(rows))
    for said, number in many.items():
        of = [name for name, each in told if each == said]
        if number <= MOST_APART:
            assert of == [name for name, each in rows if each == said]
        else:
            assert len(of) == 1 and of[0].endswith(f" and {number - NAMED} more")
    assert list(dict.fromkeys(s for _, s in told)) == list(dict.fromkeys(s for _, s in rows))


def test_the_report_of_a_large_wall_names_like_circuits_once(tmp_path: Path) -> None:
    path = tmp_path / "wall.yaml"
    path.write_text(big_wall(Size(100, 100)), encoding="utf-8")
    text = as_text(blocks(check(load(path))), 100)
    assert "each of box 1, box 2, box 3 and 22 more: feeds" in " ".join(text.split())
    assert "box 12" not in text
