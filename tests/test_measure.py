"""README's table of measurements: it has the rows of tests/measure.py, machine and dates.

The numbers are nobody's business here: they are another machine's, on another day.
"""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from tabulate import tabulate

from tests import measure
from tests.fuzz.running import HEAD as TRIED
from tests.fuzz.running import Row, table
from tests.fuzz.trying import BROKEN, REFUSED, SLOW, TAKEN, Tried
from tests.measure import BEGIN, END, HEADER
from tests.measured import ENTRIES, Entry, Ran, processor, said, tried, went_on

TEXT = measure.README.read_text(encoding="utf-8")
RAN = Ran(2.5, 3.25, 80.0, "\nsingles: 0.41 (s)\nsingles-bare: 2.4 (2631 environments)\n")
PAGE = f"# A page\n\n{BEGIN}\n\nMachine: none.\n\n| a | b |\n| --- | --- |\n\n{END}\n\nmore\n"


def test_readme_has_the_rows_of_the_list_in_order() -> None:
    rows = measure.rows_of(TEXT)
    assert [(row[0], row[1]) for row in rows] == [(e.what, e.aim or "-") for e in ENTRIES]
    assert {len(row) for row in rows} == {len(HEADER)}


def test_no_maker_of_a_machine_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    known = Path("/proc/cpuinfo")
    lines = known.read_text().splitlines() if known.exists() else []
    models = {line.split(":")[1].strip() for line in lines if line.startswith("model name")}
    assert [name for name in models if name in TEXT + measure.machine()] == []
    monkeypatch.setattr("platform.machine", lambda: "abacus")
    assert measure.machine().startswith("abacus, ")


def test_readme_says_on_which_machine_and_when() -> None:
    assert re.match(r"Machine: \S.*, \d+ cores, \S+, Python 3\.\d+\.\d+\.\n", measure.shown(TEXT))
    for _, _, middle, span, runs, date in measure.rows_of(TEXT):
        if middle == "not measured":
            assert (span, runs, date) == ("-", "0", "-")
            continue
        assert re.fullmatch(r"[\d .e+-]+( (s|MiB|MB|times))?", middle), middle
        assert re.fullmatch(r"-|[\d .e+-]+ to [\d .e+-]+", span), span
        assert int(runs) >= 1 and (span == "-") == (runs == "1")
        assert re.fullmatch(r"20\d\d-\d\d-\d\d", date)


def test_names_and_rows_are_told_apart() -> None:
    assert len({entry.name for entry in ENTRIES}) == len({e.what for e in ENTRIES}) == len(ENTRIES)
    assert not any("|" in entry.what + entry.aim for entry in ENTRIES)


def test_a_page_without_its_marks_is_refused() -> None:
    for spoilt in (PAGE.replace(BEGIN, ""), PAGE.replace(END, ""), PAGE + PAGE):
        with pytest.raises(ValueError, match="need one"):
            measure.shown(spoilt)


def test_only_what_stands_between_the_marks_changes() -> None:
    new = measure.replaced(PAGE, measure.table([("x", "1")], "Machine: another."))
    assert measure.rows_of(new) == [("x", "1")]
    assert "Machine: another." in new and "none" not in new
    assert new.startswith("# A page\n") and new.endswith(f"{END}\n\nmore\n")


def test_a_figure_is_read_by_its_whole_name() -> None:
    assert said("singles")(RAN) == 0.41
    assert said("singles-bare")(RAN) == 2.4
    with pytest.raises(ValueError, match="printed 0 times"):
        said("single")(RAN)


def test_what_was_tried_is_read_from_the_last_row_of_its_table() -> None:
    first, second = Row("rates"), Row("said")
    for how, worked, most in ((TAKEN, 0.5, 60.0), (REFUSED, 0.1, 90.0), (SLOW, 2.0, 10.0)):
        first.add(Tried(how, worked, 3.0, most))
    second.add(Tried(BROKEN, 0.2, 0.2, 70.0))
    text = tabulate(table([first, second]), TRIED, tablefmt="simple", disable_numparse=True)
    found = replace(RAN, printed=f"said-broken: found\n{text}\n")
    columns = (("inputs",), ("broken", "slow", "large"), ("slowest s",), ("memory MB",))
    assert [tried(*each)(found) for each in columns] == [4, 2, 2.0, 90]


def test_a_kill_counts_where_the_run_went_on_to_the_same_bytes() -> None:
    said = "killed with 3 of 55 lines, status -9\n.killed with 55 of 55 lines, status 1\nF"
    assert went_on(replace(RAN, printed=said)) == 1
    assert went_on(replace(RAN, printed="1 failed")) == 0


def test_every_benchmark_that_is_read_prints_its_name() -> None:
    files = (measure.ROOT / "tests" / "bench").glob("test_*.py")
    printed = "\n".join(path.read_text(encoding="utf-8") for path in files)
    for entry in ENTRIES:
        if "pytest" in entry.command and entry.name != "kills":
            word = entry.name.removesuffix("-few")
            wide = word.startswith("wide")  # its name is put together there
            pattern = rf'"{word.partition("-")[0]}-' if wide else rf'\b{word}[": ]'
            assert re.search(pattern, printed), entry.name


def fake(name: str, code: str, runs: int = 2) -> Entry:
    return Entry(name, name, "", (sys.executable, "-c", code), processor, runs=runs)


def test_a_command_is_run_as_often_as_asked_and_once_for_all_its_entries(tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    code = f"open({str(marks)!r}, 'a').write('x'); print('singles: 7 (s)')"
    one = fake("one", code)
    other = replace(one, name="other", read=said("singles"), runs=3)
    found = {entry.name: figures for entry, figures in measure.measured([one, other])}
    assert marks.read_text() == "xxx"
    assert found["other"] == [7.0] * 3 and len(found["one"]) == 3
    assert all(0 < figure < 5 for figure in found["one"])


def test_processor_time_and_memory_are_those_of_the_command(tmp_path: Path) -> None:
    """Measured from a small process, as from the command line: what a large one starts has been as
    large as that for a moment.
    """
    busy = "import time\nx = bytearray(200 << 20)\nwhile time.process_time() < 0.4: pass"
    small = (
        "import sys; from pathlib import Path; from tests.measure import ran\n"
        "of = ran((sys.executable, '-c', sys.argv[1]), Path(sys.argv[2]))\n"
        "print(of.processor, of.clock, of.memory)"
    )
    words = (sys.executable, "-c", small, busy, str(tmp_path))
    told = subprocess.run(words, cwd=measure.ROOT, capture_output=True, text=True, check=True)
    worked, clock, memory = map(float, told.stdout.split())
    assert 0.4 <= worked < 2
    assert 200 < memory < 300
    assert clock >= 0.4


def test_a_command_that_fails_is_told_with_its_output(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="status 3"):
        measure.ran((sys.executable, "-c", "raise SystemExit(3)"), tmp_path)


def test_what_a_command_needs_is_made_first() -> None:
    code = "import sys; print('singles:', open(sys.argv[1]).read(), '(s)')"
    entry = replace(
        fake("made", code, runs=1),
        command=(sys.executable, "-c", code, "{folder}/seen"),
        read=said("singles"),
        makes=lambda folder: (folder / "seen").write_text("5") and None,
    )
    assert [figures for _, figures in measure.measured([entry])] == [[5.0]]


@pytest.mark.parametrize(
    ("value", "told"),
    [(0.41234, "0.412"), (12.345, "12.3"), (2014000.0, "2 010 000"), (100, "100")],
)
def test_figures_have_three_digits(value: float, told: str) -> None:
    assert measure.figure(value) == told


def test_other_names_are_refused_with_those_that_are_allowed() -> None:
    with pytest.raises(SystemExit, match=r"pears: no such entry\n.*compare-clock"):
        measure.chosen(["pears"])
    assert [entry.name for entry in measure.chosen(["pairs-clock"])] == ["pairs-clock"]
