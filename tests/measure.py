"""Measures the program and writes README's table: `.venv/bin/python tests/measure.py`.

In: `--only NAME` (several times, if wanted) for some entries, `--list` for their names, `--print`
to write nothing. Out: README.md's table between its marks, with the kind of machine, and for each
row its number of runs, median, range and date. Every figure comes from a program of its own that is
started here; nothing else should run meanwhile. Without `--only` it takes half an hour or so.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))
from tests.measured import ENTRIES, FOLDER, Entry, Ran  # noqa: E402

README = ROOT / "README.md"
BEGIN, END = "<!-- measured -->", "<!-- measured: end -->"
HEADER = ("what", "aim", "median", "range", "runs", "date")


# ---- running


def ran(command: Sequence[str], folder: Path) -> Ran:
    """Run it once. Raises RuntimeError with its output where it fails (1 is a verdict: a limit that
    is not met, a benchmark that misses its aim, an input that went wrong).
    """
    words = [word.replace(FOLDER, str(folder)) for word in command]
    out, errors = folder / "printed", folder / "errors"
    begin = datetime.now(UTC)
    with out.open("w") as printed, errors.open("w") as complained:
        child = subprocess.Popen(words, cwd=ROOT, stdout=printed, stderr=complained, env=alone())
        _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    took = (datetime.now(UTC) - begin).total_seconds()
    text = out.read_text()
    verdict = 1 if {"sim", "pytest", "tests.fuzz"} & set(words) else 0
    if child.returncode not in (0, verdict):
        raise RuntimeError(
            f"{' '.join(words)}: status {child.returncode}\n{text}{errors.read_text()}"
        )
    return Ran(used.ru_utime + used.ru_stime, took, used.ru_maxrss / 1024, text)


def alone() -> dict[str, str]:
    """The environment, with nothing in it that asks pytest for something else."""
    kept = {key: value for key, value in os.environ.items() if key != "PYTEST_ADDOPTS"}
    return {**kept, "PYTHONPATH": str(ROOT)}


def measured(entries: Sequence[Entry]) -> Iterator[tuple[Entry, list[float]]]:
    """The figures of each entry; a command is run as often as the entry asks that wants it most."""
    known: dict[tuple[str, ...], list[Ran]] = {}
    for entry in entries:
        if entry.command not in known:
            runs = max(other.runs for other in entries if other.command == entry.command)
            print(f"{entry.name}: {runs} x {' '.join(entry.command[1:])}", file=sys.stderr)
            known[entry.command] = list(_several(entry, runs))
        yield entry, [entry.read(each) for each in known[entry.command]]


def _several(entry: Entry, runs: int) -> Iterator[Ran]:
    with tempfile.TemporaryDirectory() as name:
        if entry.makes is not None:
            entry.makes(Path(name))
        for _ in range(runs):
            yield ran(entry.command, Path(name))


# ---- the table


def machine() -> str:
    """The kind of machine: processor, cores, Python; no name of a maker, a host or a user."""
    cores = len(os.sched_getaffinity(0))
    kind = platform.machine() or "unknown processor"
    return f"{kind}, {cores} cores, {platform.system()}, Python {platform.python_version()}"


def figure(value: float) -> str:
    """Three digits, thousands apart: 0.412, 12.3, 1 250 000."""
    if value >= 100:
        rounded = float(f"{value:.3g}")
        return f"{rounded:,.0f}".replace(",", " ")
    return f"{value:.3g}"


def row(entry: Entry, figures: Sequence[float]) -> tuple[str, ...]:
    middle = f"{figure(median(figures))} {entry.unit}"
    span = f"{figure(min(figures))} to {figure(max(figures))}" if len(figures) > 1 else "-"
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    return (entry.what, entry.aim or "-", middle, span, str(len(figures)), today)


def table(rows: Iterable[tuple[str, ...]], about: str) -> str:
    """What stands between the marks."""
    lines = [" | ".join(cells) for cells in (HEADER, ("---",) * len(HEADER), *rows)]
    return "\n".join([f"{about}", "", *(f"| {line} |" for line in lines)])


def about() -> str:
    return f"Machine: {machine()}."


def rows_of(text: str) -> list[tuple[str, ...]]:
    """The rows of README's table, without its header."""
    lines = [line for line in shown(text).splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines][2:]


def shown(text: str) -> str:
    """What stands between the marks of a README. Raises ValueError unless both are there once."""
    found = re.findall(rf"^{BEGIN}\n(.*?)^{END}$", text, re.MULTILINE | re.DOTALL)
    if len(found) != 1:
        raise ValueError(f"README.md: need one {BEGIN} with one {END} after it")
    return str(found[0]).strip()


def replaced(text: str, new: str) -> str:
    """A README with another table. Raises ValueError as `shown` does."""
    shown(text)
    before, _, rest = text.partition(f"{BEGIN}\n")
    return f"{before}{BEGIN}\n\n{new}\n\n{END}{rest.partition(END)[2]}"


def updated(
    entries: Sequence[Entry], before: Sequence[tuple[str, ...]]
) -> Iterator[tuple[str, ...]]:
    """All rows: those of these entries measured now, the others as they stood."""
    fresh = {entry.what: row(entry, figures) for entry, figures in measured(entries)}
    stood = {cells[0]: cells for cells in before}
    for entry in ENTRIES:
        said = stood.get(entry.what, ())[2:] or ("not measured", "-", "0", "-")
        yield fresh.get(entry.what) or (entry.what, entry.aim or "-", *said)


def chosen(names: Sequence[str]) -> tuple[Entry, ...]:
    """The entries of these names; all without any. Raises SystemExit for a name that is none."""
    known = [entry.name for entry in ENTRIES]
    unknown = [name for name in names if name not in known]
    if unknown:
        sys.exit(f"--only {unknown[0]}: no such entry\n    allowed: {', '.join(known)}")
    return tuple(entry for entry in ENTRIES if not names or entry.name in names)


def main(arguments: Sequence[str] | None = None) -> None:
    told = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    told.add_argument("--only", action="append", default=[], metavar="NAME")
    told.add_argument("--list", action="store_true", help="name the entries and end")
    told.add_argument("--print", action="store_true", help="print the table, change nothing")
    asked = told.parse_args(arguments)
    if asked.list:
        print(*(f"{entry.name}: {entry.what}" for entry in ENTRIES), sep="\n")
        return
    text = README.read_text(encoding="utf-8")
    if asked.only and rows_of(text) and about() not in shown(text):
        sys.exit(
            f"README's table is from another machine; this is: {machine()}\n    do: measure all"
        )
    new = table(updated(chosen(asked.only), rows_of(text)), about())
    if asked.print:
        print(new)
    else:
        README.write_text(replaced(text, new), encoding="utf-8")


if __name__ == "__main__":
    main()
