"""Many inputs tried in a process of their own, watched from outside, and what came of them.

In: targets, how many inputs, a seed. Out: frozen `Row`s; inputs that went wrong, as files. The same
seed gives the same inputs. A process that says nothing for a minute, or dies, took the input with
it that it was at: that one is kept too, and the next process goes on after it.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import resource
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

from tests.fuzz.targets import TARGETS, Target, warm
from tests.fuzz.trying import BROKEN, SLOW, Tried, memory, tried

SILENT = 120.0
"""Seconds after which a process is given up that has not told of another input."""
ADDRESSES = 4_000_000_000
"""Bytes of addresses that a process may have: what asks for more gets a MemoryError."""
SHARES: Mapping[str, float] = {
    "scenario": 6, "check": 1, "rates": 16, "proof": 16, "records": 17, "sheet": 4, "results": 17,
    "drill": 8, "script": 9, "said": 4, "journal": 2,
}  # fmt: skip
"""How many of a hundred inputs each target gets; one that is not here gets as many as `drill`."""


@dataclass
class Row:
    """What came of all inputs of a target: how many of each kind, the slowest, the most memory."""

    name: str
    counts: Counter[str] = field(default_factory=Counter)
    worked: float = 0.0
    slowest: float = 0.0
    waited: float = 0.0
    memory: float = 0.0

    def add(self, found: Tried) -> None:
        self.counts[found.how] += 1
        self.worked += found.worked
        self.slowest = max(self.slowest, found.worked)
        self.waited = max(self.waited, found.waited)
        self.memory = max(self.memory, found.memory)


def shared_out(runs: int, names: list[str]) -> dict[str, int]:
    """How many inputs each target gets, at least so many in all."""
    parts = {name: SHARES.get(name, SHARES["drill"]) for name in names}
    whole = sum(parts.values())
    return {name: -int(-runs * part // whole) for name, part in parts.items()}


def run(
    name: str, runs: int, seed: int, keep: Path, told: Callable[[str], None] = lambda text: None
) -> Row:
    """All inputs of one target."""
    row, begin = Row(name), 0
    while begin < runs:
        begin = _one_process(row, (begin, runs, seed), keep, told)
    return row


def _one_process(
    row: Row, todo: tuple[int, int, int], keep: Path, told: Callable[[str], None]
) -> int:
    """Inputs from the first number on, until a process is through or lost; the next number."""
    begin, runs, seed = todo
    target, (ours, theirs) = TARGETS[row.name], multiprocessing.Pipe(duplex=False)
    how = multiprocessing.get_context("spawn")
    process = how.Process(target=_work, args=(theirs, row.name, todo), daemon=True)
    process.start()
    theirs.close()
    at = begin
    try:
        for at, found in _heard(ours, begin):
            row.add(found)
            if not found.good:
                told(kept(keep, target, target.input(seed, at), found))
        lost = at + 1 < runs
    except TimeoutError:
        lost = True
    process.kill()
    process.join()
    if lost:
        at += at > begin or row.counts.total() > 0
        gone = Tried(
            SLOW if process.exitcode == -9 else BROKEN, SILENT, SILENT, 0.0, "process lost"
        )
        row.add(gone)
        told(kept(keep, target, target.input(seed, at), gone))
    return at + 1


def _heard(ours: Connection, begin: int) -> Iterator[tuple[int, Tried]]:
    while True:
        if not ours.poll(SILENT):
            raise TimeoutError
        try:
            yield ours.recv()
        except EOFError:
            return


def _work(theirs: Connection, name: str, todo: tuple[int, int, int]) -> None:
    """In a process of its own: try them one by one, and tell of each."""
    begin, runs, seed = todo
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESSES, ADDRESSES))
    target = TARGETS[name]
    warm()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(begin, runs):
            theirs.send((number, tried(target, target.input(seed, number), Path(folder))))


def kept(keep: Path, target: Target, made: bytes, found: Tried) -> str:
    """Write an input that went wrong beside the corpus, once for each; what to say of it."""
    name = f"{target.name}-{found.how}-{hashlib.sha256(made).hexdigest()[:12]}{target.ending}"
    keep.mkdir(parents=True, exist_ok=True)
    (keep / name).write_bytes(made)
    return f"{keep / name}: {found.how}, {found.worked:.2f} s, {found.memory:.0f} MB\n{found.said}"


KINDS = ("taken", "refused", "broken", "slow", "large")
HEAD = ("reader", "inputs", *KINDS, "mean ms", "slowest s", "by the clock s", "memory MB")


def table(rows: list[Row]) -> list[list[str]]:
    """Rows as texts, with a last one for all of them."""
    every = Row("all")
    for row in rows:
        every.counts.update(row.counts)
        every.worked += row.worked
        for key in ("slowest", "waited", "memory"):
            setattr(every, key, max(getattr(every, key), getattr(row, key)))
    return [_cells(row) for row in (*rows, every)]


def _cells(row: Row) -> list[str]:
    total = row.counts.total()
    mean = 1000 * row.worked / max(total, 1)
    counts = (str(row.counts[kind]) for kind in KINDS)
    last = (f"{mean:.1f}", f"{row.slowest:.2f}", f"{row.waited:.2f}", f"{row.memory:.0f}")
    return [row.name, str(total), *counts, *last]


__all__ = ["HEAD", "Row", "kept", "memory", "run", "shared_out", "table"]
