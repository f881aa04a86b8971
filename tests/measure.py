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
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
BEGIN, END = "<!-- measured -->", "<!-- measured: end -->"
HEADER = ("what", "aim", "median", "range", "runs", "date")
FOLDER = "{folder}"
"""In a command: the folder in which what it needs was made."""


@dataclass(frozen=True, slots=True)
class Ran:
    """What one run of a command came to: seconds of processor time of it and all that it started,
    seconds by the clock, the most memory of one process (MiB), what it printed.
    """

    processor: float
    clock: float
    memory: float
    printed: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the table. `read`: its figure from a run; entries of one command share its runs.
    `makes`: makes in a folder what the command needs.
    """

    name: str
    what: str
    aim: str
    command: tuple[str, ...]
    read: Callable[[Ran], float]
    unit: str = "s"
    runs: int = 3
    makes: Callable[[Path], None] | None = None


def staylit(*arguments: str) -> tuple[str, ...]:
    return (sys.executable, "-m", "sim", *arguments)


def benchmark(file: str, word: str) -> tuple[str, ...]:
    chosen = ("-p", "no:randomly", "-p", "no:xdist", "-k", word)
    return (sys.executable, "-m", "pytest", f"tests/bench/{file}", *chosen)


def said(name: str) -> Callable[[Ran], float]:
    """The figure that a benchmark printed under this name (`say` in tests/bench/conftest.py)."""

    def read(ran: Ran) -> float:
        found = re.findall(rf"^{re.escape(name)}: (\S+) \(", ran.printed, re.MULTILINE)
        if len(found) != 1:
            raise ValueError(f"{name} was printed {len(found)} times:\n{ran.printed}")
        return float(found[0])

    return read


def processor(ran: Ran) -> float:
    return ran.processor


def clock(ran: Ran) -> float:
    return ran.clock


def memory(ran: Ran) -> float:
    return ran.memory


COMPARE = staylit("compare", "river")
FLAPPING = "flapping main/trunk-main-a-1 at 0 s every 1 s off 0.5 s"
INJECT = staylit("inject", "river", FLAPPING)
PAIRS = staylit("faults", "river", "--group", "main", "--pairs", "--format", "csv", "--output",
                f"{FOLDER}/pairs.csv")  # fmt: skip
SINGLES = benchmark("test_ratios.py", "single")
LONG = benchmark("test_ratios.py", "hertz")
ORACLE = benchmark("test_ratios.py", "oracle")
DRAWS = benchmark("test_draws.py", "strata")

ENTRIES = (
    Entry(
        "compare-clock", "`staylit compare river`, whole process, by the clock", "5 s",
        COMPARE, clock, runs=7,
    ),
    Entry("compare-processor", "`staylit compare river`, processor time", "",
          COMPARE, processor, runs=7),
    Entry("compare-memory", "`staylit compare river`, most memory of one process", "",
          COMPARE, memory, "MiB", 7),
    Entry(
        "singles", "every single fault of `river`'s main screen (crossed relays), all corners, "
        "processor time", "0.3 s", SINGLES, said("singles"),
    ),
    Entry("pairs-clock", "every pair of them, both orders, to a file, by the clock", "",
          PAIRS, clock, runs=1),
    Entry("pairs-processor", "every pair, processor time", "", PAIRS, processor, runs=1),
    Entry("pairs-memory", "every pair, most memory of one process", "",
          PAIRS, memory, "MiB", 1),
    Entry(
        "singles-bare", "every single fault against a bare SimPy loop of as many environments and "
        "time-outs", "at most 4 times", SINGLES, said("singles-bare"), "times",
    ),
    Entry(
        "singles-bare-merged", "every single fault against only the environments and time-outs "
        "that merged runs still make", "", SINGLES, said("singles-bare-merged"), "times",
    ),
    Entry(
        "long-bare", "three hours of a loose contact at 1 Hz that busies all (main trunk) against "
        "a bare SimPy loop", "at most 3 times", LONG, said("long-bare main/trunk-main-a-1"),
        "times",
    ),
    Entry(
        "long-bare-few", "three hours of one where little changes (scaling unit), likewise",
        "at most 3 times", LONG, said("long-bare main/unit-a"), "times",
    ),
    Entry(
        "long-bare-plain", "the loose main trunk with every turn played (no shortcut), likewise",
        "", LONG, said("long-bare-plain main/trunk-main-a-1"), "times",
    ),
    Entry(
        "oracle-120-frames", "the engine quicker than the tick-stepping oracle, 120 frames of a "
        "dead relay", "at least 100 times", ORACLE, said("oracle-120-frames dead"), "times",
    ),
    Entry(
        "oracle-three-hours", "quicker over three hours (the oracle's reckoned from its cost per "
        "frame)", "at least 100 000 times", ORACLE, said("oracle-three-hours dead"), "times",
    ),
    Entry(
        "strata", "variance of plain sampling over that of strata at equal processor time, a "
        "chance of a few in 10⁹ (`twin`)", "at least 10 000 times", DRAWS, said("strata"),
        "times", 1,
    ),
    Entry(
        "strata-seen", "likewise, a chance of 3 in 10 000 that plain sampling sees (`first`, two "
        "units)", "", DRAWS, said("strata-seen"), "times", 1,
    ),
    Entry("inject-flapping", "`staylit inject river` with the main trunk loose at 1 Hz for three "
          "hours, processor time", "", INJECT, processor, runs=1),
    Entry("inject-memory", "the same injection, most memory", "", INJECT, memory, "MiB", 1),
)  # fmt: skip
"""The table's rows, in order; a new one is added here and measured once with `--only`."""


# ---- running


def ran(command: Sequence[str], folder: Path) -> Ran:
    """Run it once. Raises RuntimeError with its output where it fails (1 is a verdict)."""
    words = [word.replace(FOLDER, str(folder)) for word in command]
    out, errors = folder / "printed", folder / "errors"
    begin = datetime.now(UTC)
    with out.open("w") as printed, errors.open("w") as complained:
        child = subprocess.Popen(words, cwd=ROOT, stdout=printed, stderr=complained, env=alone())
        _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    took = (datetime.now(UTC) - begin).total_seconds()
    text = out.read_text()
    verdict = 1 if "sim" in words else 0
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
    """The kind of machine: processor, cores, Python; no name of a host or of a user."""
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        (model, *_) = [
            line.split(":")[1].strip() for line in lines if line.startswith("model name")
        ]
    except (OSError, ValueError):
        model = platform.machine() or "unknown processor"
    cores = len(os.sched_getaffinity(0))
    return f"{model}, {cores} cores, {platform.system()}, Python {platform.python_version()}"


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
        missing = (entry.what, entry.aim or "-", "not measured", "-", "0", "-")
        yield fresh.get(entry.what) or stood.get(entry.what) or missing


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
