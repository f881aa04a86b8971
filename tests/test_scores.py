"""Scores of mutants as they are written down: what is left is explained, what is said is measured.

In: tests/mutants/SCORES.md, SURVIVORS.md, the developers' page; results written here. Out: nothing
left without a reason, no reason for what is not left, no other figure than the measured one. The
measuring itself (`python -m tests.mutants`) is no part of this.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.mutants import results
from tests.mutants.modules import MODULES
from tests.mutants.results import ENDED, KILLED, SURVIVED, UNSEEN, Result, mark_of
from tests.mutants.scores import (
    HEADER,
    SCORES,
    SURVIVORS,
    WHOLE,
    explained,
    left_of,
    page,
    rows_of,
    scores,
)

PAGE = SCORES.read_text(encoding="utf-8")
ROWS = [dict(zip(HEADER, row, strict=True)) for row in rows_of(PAGE)]
DEVELOPERS = Path(__file__).parents[1] / "DEVELOPERS.md"
AIM = 0.9


@pytest.mark.parametrize("module", MODULES)
def test_each_mutant_that_is_left_has_a_reason_and_nothing_else_has(module: str) -> None:
    named = explained(SURVIVORS.read_text(encoding="utf-8"))[module]
    files = list(MODULES[module].files)
    if len(files) == 1:
        named = {f"{files[0]}{name}" for name in named}
    assert named == left_of(PAGE)[module]


@pytest.mark.parametrize("module", MODULES)
def test_of_each_module_nine_in_ten_are_noticed(module: str) -> None:
    (row,) = [row for row in ROWS if (row["module"], row["file"]) == (module, WHOLE)]
    judged, noticed = int(row["judged"]), int(row["noticed"])
    assert noticed >= AIM * judged
    assert row["score"] == f"{100 * noticed / judged:.1f} %"
    assert judged - noticed == len(left_of(PAGE)[module])


@pytest.mark.parametrize("module", MODULES)
def test_every_mutant_was_judged_but_of_files_of_which_a_part_is_drawn(module: str) -> None:
    rows = {row["file"]: row for row in ROWS if row["module"] == module}
    files = list(MODULES[module].files)
    for file in files:
        row = rows[file if len(files) > 1 else WHOLE]
        assert int(row["judged"]) == MODULES[module].drawn.get(file, int(row["mutants"]))


def test_files_add_up_to_their_module() -> None:
    for name, module in MODULES.items():
        if len(module.files) == 1:
            continue
        rows = [row for row in ROWS if row["module"] == name]
        whole, parts = rows[0], rows[1:]
        assert {row["file"] for row in parts} == set(module.files)
        for column in ("mutants", "judged", "noticed", "of them ended"):
            assert int(whole[column]) == sum(int(row[column]) for row in parts)


def test_the_page_says_on_which_machine_and_when() -> None:
    assert re.search(r"^Machine: \S.*, \d+ cores, \S+, Python 3\.\d+\.\d+\.$", PAGE, re.M)
    day = r"20\d\d-\d\d-\d\d"
    assert all(re.fullmatch(f"{day}( to {day})?", row["judged on"]) for row in ROWS)


@pytest.mark.parametrize("module", MODULES)
def test_the_developers_page_says_the_score_that_was_measured(module: str) -> None:
    (line,) = [
        line for line in DEVELOPERS.read_text(encoding="utf-8").splitlines()
        if line.startswith("- Mutants (")
    ]  # fmt: skip
    (score,) = [row["score"] for row in ROWS if (row["module"], row["file"]) == (module, WHOLE)]
    assert f"{module} {score}" in line


# ---- how they are written


def found(state: str, name: str, date: str = "2026-01-02") -> Result:
    return Result(state, 0.5, name, mark_of(name), date, "tests/test_a.py::test_b[one two]")


FOUND = [
    found(KILLED, "sim.a:f:1"),
    found(ENDED, "sim.a:f:2"),
    found(SURVIVED, "sim.a:g.h:3", "2026-01-04"),
    found(UNSEEN, "sim.b:f:1"),
]


def test_what_ended_was_noticed_and_what_no_test_comes_by_was_not() -> None:
    whole, one, other = scores("m", {"sim.a": 5, "sim.b": 1}, FOUND)
    assert whole.cells() == (
        "m", "all", "6", "4", "2", "1", "50.0 %", "2026-01-02 to 2026-01-04",
    )  # fmt: skip
    assert one.cells()[1:7] == ("sim.a", "5", "3", "2", "1", "66.7 %")
    assert other.cells() == ("m", "sim.b", "1", "1", "0", "0", "0.0 %", "2026-01-02")


def test_a_file_of_which_nothing_was_judged_has_no_score() -> None:
    (only,) = scores("m", {"sim.a": 5}, [])
    assert only.cells() == ("m", "all", "5", "0", "0", "0", "-", "-")


def test_a_page_reads_as_it_was_written() -> None:
    rows = list(scores("m", {"sim.a": 5, "sim.b": 1}, FOUND))
    text = page(rows, {"m": ["sim.a:g.h:3", "sim.b:f:1"], "n": []}, "none")
    assert rows_of(text) == [row.cells() for row in rows]
    assert left_of(text) == {"m": {"sim.a:g.h:3", "sim.b:f:1"}, "n": set()}


def test_reasons_are_read_by_module_file_and_function() -> None:
    text = (
        "# P\n\n## m\n\n**sim.a**\n\n- `f:1, 2`, `g.h:3`: why `not` this: 4.\n\n**sim.b**\n`f:5`\n"
    )
    named = {"sim.a:f:1", "sim.a:f:2", "sim.a:g.h:3", "sim.b:f:5"}
    assert explained(text) == {"m": named}


def test_results_read_as_they_were_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(results, "OUT", tmp_path / "mutants")
    assert results.known("m") == {}
    results.write("m", FOUND)
    assert results.known("m") == {result.name: result for result in FOUND}
