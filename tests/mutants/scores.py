"""The score of each module: `python -m tests.mutants scores` writes SCORES.md.

In: how many mutants each file has, and what was found about them. Out: a table with the kind of
machine and the dates; the names of those that no test noticed. Read by tests/test_scores.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.mutants.results import ENDED, LEFT, Result

HERE = Path(__file__).parent
SCORES, SURVIVORS = HERE / "SCORES.md", HERE / "SURVIVORS.md"
HEADER = ("module", "file", "mutants", "judged", "noticed", "of them ended", "score", "judged on")
WHOLE = "all"


@dataclass(frozen=True)
class Score:
    """`made`: how many mutants there are; `judged` of them; `noticed` of those; `ended` of those:
    no test failed, but processor time or memory ran out.
    """

    module: str
    file: str
    made: int
    judged: int
    noticed: int
    ended: int
    dates: str

    @property
    def share(self) -> str:
        return f"{100 * self.noticed / self.judged:.1f} %" if self.judged else "-"

    def cells(self) -> tuple[str, ...]:
        counts = (self.made, self.judged, self.noticed, self.ended)
        return (self.module, self.file, *map(str, counts), self.share, self.dates)


def score(module: str, file: str, made: int, results: Sequence[Result]) -> Score:
    left = sum(result.state in LEFT for result in results)
    ended = sum(result.state == ENDED for result in results)
    dates = sorted({result.date for result in results})
    span = " to ".join(dict.fromkeys([dates[0], dates[-1]])) if dates else "-"
    return Score(module, file, made, len(results), len(results) - left, ended, span)


def scores(module: str, made: Mapping[str, int], results: Sequence[Result]) -> Iterator[Score]:
    """Of a module, then, where it has several, of each of its files."""
    yield score(module, WHOLE, sum(made.values()), results)
    for file, count in sorted(made.items()):
        if len(made) > 1:
            found = [result for result in results if result.name.split(":")[0] == file]
            yield score(module, file, count, found)


def page(rows: Sequence[Score], left: Mapping[str, Sequence[str]], machine: str) -> str:
    """`left`: for each module the mutants that no test noticed."""
    cells = [HEADER, ("---",) * len(HEADER), *(row.cells() for row in rows)]
    table = "\n".join(f"| {' | '.join(line)} |" for line in cells)
    lists = "\n".join(f"\n## {module}\n\n{_list(names)}" for module, names in left.items())
    return (
        "# Scores of mutants\n\nWritten by `python -m tests.mutants scores`; never by hand. Why "
        "each one is left is in SURVIVORS.md.\n\n"
        f"Machine: {machine}.\n\n{table}\n\n# Left\n{lists}"
    )


def _list(names: Sequence[str]) -> str:
    return "".join(f"- `{name}`\n" for name in names)


# ---- read again


def rows_of(text: str) -> list[tuple[str, ...]]:
    """The table's rows, without its header."""
    lines = [line for line in text.splitlines() if line.startswith("| ")]
    return [tuple(line.strip("| ").split(" | ")) for line in lines[2:]]


def left_of(text: str) -> dict[str, set[str]]:
    """For each module the mutants that are left, `file:function:number`."""
    return {module: set(re.findall(r"^- `(\S+)`$", part, re.M)) for module, part in _parts(text)}


def explained(text: str) -> dict[str, set[str]]:
    """The same of SURVIVORS.md, where a mutant is `function:number, number`, under the heading of
    its module and, if that has several files, after the file in bold.
    """
    return {module: set(_explained(part)) for module, part in _parts(text)}


def _explained(part: str) -> Iterator[str]:
    file = ""
    for bold, function, numbers in re.findall(r"\*\*(\S+)\*\*|`([\w.]+):([\d, ]+)`", part):
        file = bold or file
        for number in filter(None, numbers.split(", ")):
            yield f"{file}:{function}:{number}"


def _parts(text: str) -> Iterator[tuple[str, str]]:
    _, *parts = re.split(r"^## (\w+)$", text, flags=re.M)
    return zip(parts[::2], parts[1::2], strict=True)
