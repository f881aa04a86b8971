"""What was found about each mutant, kept between runs in `build/mutants/MODULE.txt`.

In and out: a line for each mutant: state, seconds of processor time, name, mark, date, the test
that failed. The mark is one of the changed function: what is said of a mutant counts only as long
as its function reads as it did.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

OUT = Path("build/mutants")
KILLED, ENDED, SURVIVED, UNSEEN = "killed", "ended", "survived", "unseen"
LEFT = (SURVIVED, UNSEEN)
"""No test failed; no test comes by."""


@dataclass(frozen=True)
class Result:
    """`by`: the test that failed; `seconds` of processor time; `date`: YYYY-MM-DD."""

    state: str
    seconds: float
    name: str
    mark: str
    date: str
    by: str

    def __str__(self) -> str:
        words = (f"{self.state:9} {self.seconds:7.2f}", self.name, self.mark, self.date, self.by)
        return " ".join(words).rstrip()


def mark_of(source: str) -> str:
    return hashlib.sha256(source.encode()).hexdigest()[:8]


def known(module: str) -> dict[str, Result]:
    """What stands in the file of a module, by the mutant's name."""
    path = path_of(module)
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return {result.name: result for result in map(_read, lines)}


def write(module: str, results: Iterable[Result]) -> None:
    OUT.mkdir(parents=True, exist_ok=True)
    text = "".join(f"{result}\n" for result in results)
    path_of(module).write_text(text, encoding="utf-8")


def path_of(module: str) -> Path:
    return OUT / f"{module}.txt"


def _read(line: str) -> Result:
    state, seconds, name, mark, date, *by = line.split(maxsplit=5)
    return Result(state, float(seconds), name, mark, date, "".join(by))
