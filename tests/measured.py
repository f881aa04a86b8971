"""The rows of README's table of measurements: what is run, and how its figure is read.

In: what runs of commands came to. Out: frozen `Entry`s with a figure from each run. A new row is
added to `ENTRIES` and measured once: `tests/measure.py --only NAME`.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.fuzz.running import HEAD

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


def noted(name: str, unit: str) -> Callable[[Ran], float]:
    """The figure with this unit in the brackets after it."""

    def read(ran: Ran) -> float:
        (found,) = re.findall(
            rf"^{re.escape(name)}: .*?([\d.]+) {unit}\b", ran.printed, re.MULTILINE
        )
        return float(found)

    return read


def tried(*columns: str) -> Callable[[Ran], float]:
    """The sum of these columns in the last row of the table that `python -m tests.fuzz` prints."""

    def read(ran: Ran) -> float:
        (row,) = re.findall(r"^all +(.*)$", ran.printed, re.MULTILINE)
        cells = dict(zip(HEAD[1:], row.split(), strict=True))
        return sum(float(cells[column]) for column in columns)

    return read


def went_on(ran: Ran) -> float:
    """How often a run that was killed went on to the same bytes (`tests/test_resuming.py`)."""
    return len(re.findall(r"killed with \d+ of \d+ lines, status -9$", ran.printed, re.MULTILINE))


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
DEAD_OR_CUT = staylit("faults", "river", "--group", "main", "--pairs", "--mode", "dead", "--mode",
                      "cut", "--format", "csv", "--output", f"{FOLDER}/pairs.csv")  # fmt: skip
WIDE = benchmark("test_sizes.py", "dead_or_cut")
WIDEST_CHECK = benchmark("test_sizes.py", "100_000 and check")
WIDEST_INJECT = benchmark("test_sizes.py", "100_000 and inject")
WORKERS = benchmark("test_workers.py", "two_processes")
MILLION = staylit("risk", "river", "--group", "main", "--topology", "crossed-relays", "--plain",
                  "--shows", "1000000", "--output", f"{FOLDER}/risk.json")  # fmt: skip
SINGLES = benchmark("test_ratios.py", "single")
LONG = benchmark("test_ratios.py", "hertz")
ORACLE = benchmark("test_ratios.py", "oracle")
DRAWS = benchmark("test_draws.py", "strata")
FUZZ = (sys.executable, "-m", "tests.fuzz", "--runs", "100000", "--seed", "2", "--keep",
        f"{FOLDER}/found")  # fmt: skip
KILLS = ("env", "STAYLIT_KILLS=20", sys.executable, "-m", "pytest", "tests/test_resuming.py",
         "-k", "killed_goes_on", "-s", "-p", "no:randomly", "-p", "no:xdist")  # fmt: skip

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
    Entry("pairs-clock", "every pair of them, both orders, to a file, by the clock", "120 s",
          PAIRS, clock, runs=1),
    Entry("pairs-processor", "every pair, processor time", "", PAIRS, processor, runs=1),
    Entry("pairs-memory", "every pair, most memory of one process of two", "500 MiB",
          PAIRS, memory, "MiB", 1),
    Entry("dead-cut-clock", "every pair of dead or cut of them, both orders, by the clock",
          "10 s", DEAD_OR_CUT, clock),
    Entry(
        "wide-time", "a wall of 10 000 cabinets, every dead or cut, processor time", "20 s", WIDE,
        said("wide-10000"),
    ),
    Entry(
        "wide-memory", "every dead or cut of 10 000 cabinets, most memory", "600 MB", WIDE,
        noted("wide-10000", "MB"), "MB",
    ),
    Entry(
        "wide-exponent", "with which power of their number that time grows, from 1 000 to 10 000 "
        "cabinets", "at most 1.1", WIDE, said("wide-exponent"), "",
    ),
    Entry(
        "widest-check", "`check` of a wall of 100 000 cabinets, processor time", "60 s",
        WIDEST_CHECK, said("widest-check"), runs=1,
    ),
    Entry(
        "widest-check-memory", "`check` of 100 000 cabinets, most memory", "2 000 MB", WIDEST_CHECK,
        noted("widest-check", "MB"), "MB", 1,
    ),
    Entry(
        "widest-inject", "one `inject` there, processor time", "60 s", WIDEST_INJECT,
        said("widest-inject"), runs=1,
    ),
    Entry(
        "widest-inject-memory", "that `inject`, most memory", "2 000 MB", WIDEST_INJECT,
        noted("widest-inject", "MB"), "MB", 1,
    ),
    Entry(
        "workers", "two processes against one, two million shows sampled plainly, by the clock",
        "at least 1.8 times", WORKERS, said("workers"), "times", 1,
    ),
    Entry("million", "a million shows with a fault of `river`'s main screen (crossed relays), "
          "sampled plainly, by the clock", "", MILLION, clock, runs=1),
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
        "dead relay", "at least 100 times", ORACLE, said("oracle-120-frames dead"), "times", 1,
    ),
    Entry(
        "oracle-three-hours", "quicker over three hours (the oracle's reckoned from its cost per "
        "frame)", "at least 100 000 times", ORACLE, said("oracle-three-hours dead"), "times", 1,
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
    Entry("fuzz-inputs", "inputs changed at random, over everything that reads a file",
          "at least 100 000", FUZZ, tried("inputs"), "", 1),
    Entry(
        "fuzz-wrong", "how many of them broke it (traceback), took over 2 s of processor time, or "
        "over 500 MB", "0", FUZZ, tried("broken", "slow", "large"), "", 1,
    ),
    Entry("fuzz-slowest", "the slowest of them, processor time", "2 s", FUZZ, tried("slowest s"),
          runs=1),
    Entry("fuzz-memory", "the most memory while they were tried", "500 MB", FUZZ,
          tried("memory MB"), "MB", 1),
    Entry("kills", "kills of `staylit risk` at random moments (SIGKILL), after which the same "
          "command went on to the same bytes", "20 of 20", KILLS, went_on, "", 1),
)  # fmt: skip
"""The table's rows, in order."""
