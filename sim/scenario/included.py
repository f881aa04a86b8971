"""The files that a scenario names: rates of an owner's records, what tests of the real rig showed.

In: a `Scenario`, the name of its file (their paths are meant from there), what reads a text into a
`Document`. Out: the scenario with what they say. Raises InputError with every problem of a file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from sim.errors import InputError
from sim.scenario.document import Document
from sim.scenario.files import read_text
from sim.scenario.proof_files import Proved, proved_of, still_assumed, with_tested
from sim.scenario.rate_files import learned_of
from sim.scenario.scenario import Scenario

NAMING = ("rate_files", "proof_files")
"""Keys under which a scenario names other files."""
Read = Callable[[str, str], Document]


def with_files(scenario: Scenario, name: str, read: Read) -> Scenario:
    """The scenario with the rates and the tests of the files that it names."""
    rates = _read(scenario.file.rate_files, name, read)
    learned = tuple(rate for each in rates for rate in learned_of(each.tree, each.where))
    proved = Proved()
    for each in _read(scenario.file.proof_files, name, read):
        more = proved_of(each.tree, each.where, scenario.file, scenario.rate)
        proved = proved.joined(more)
    return replace(
        scenario,
        learned=learned,
        proved=proved,
        terms=with_tested(scenario.terms, proved),
        assumptions=still_assumed(scenario.assumptions, proved.timings),
    )


def files_of(scenario: Scenario, name: str | Path) -> tuple[Path, ...]:
    """The files that a scenario names, seen from its own file."""
    named = (*scenario.file.rate_files, *scenario.file.proof_files)
    return tuple(Path(name).parent / each for each in named)


def _read(files: Iterable[str], name: str, read: Read) -> Iterator[Document]:
    for file in files:
        path = Path(name).parent / file
        document = read(read_text(path), str(path))
        if document.problems:
            raise InputError(document.problems)
        yield document
