"""python -m tests.mutants MODULE: mutants of one module, judged by the tests chosen for it.

In: a name of `MODULES`, or `scores`. Out: `build/mutants/MODULE.txt`, a line for each mutant as it
is judged, and `MODULE.survivors`, what each of those was; the score on the terminal; or SCORES.md
from all that was judged. See README.md here.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from random import Random

import pytest
from hypothesis import Phase, settings

from tests.measure import machine
from tests.mutants.judge import Judge, Verdict
from tests.mutants.made import Mutant, mutants_of
from tests.mutants.modules import MODULES, SEED, Module
from tests.mutants.results import LEFT, Result, known, path_of, write
from tests.mutants.scores import SCORES, Score, page, scores

QUIET = "-q --assert=plain --tb=no -p no:randomly -p no:cacheprovider -p no:xdist -p no:benchmark"


def main() -> None:
    asked = _asked()
    if asked.module == "scores":
        _write_scores()
        return
    module = MODULES[asked.module]
    os.environ.update(module.variables)
    _without_shrinking()
    made = _mutants(module)
    every = _taken(module, made)
    results = _valid(known(asked.module), every)
    mutants = [m for m in every if asked.only in m.name and _is_meant(asked, results.get(m.name))]
    if not (asked.survivors or asked.only or asked.new):
        results = {}
    print(f"{len(mutants)} mutants")
    _judge(mutants, module, asked, results)
    _tell_left(asked.module, every)
    found = list(_valid(known(asked.module), every).values())
    for each in scores(asked.module, _counts(made), found):
        print(*each.cells())


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants")
    parser.add_argument("module", choices=[*sorted(MODULES), "scores"])
    parser.add_argument("--only", default="", help="mutants whose name has this in it")
    parser.add_argument("--survivors", action="store_true", help="only those left last time")
    parser.add_argument("--new", action="store_true", help="only those never judged (go on)")
    parser.add_argument("--by", default="", help="only these test files (short names)")
    parser.add_argument("--slower", action="store_true", help="all tests, the slower ones too")
    return parser.parse_args()


def _is_meant(asked: argparse.Namespace, result: Result | None) -> bool:
    if asked.survivors:
        return result is not None and result.state in LEFT
    return not asked.new or result is None


def _mutants(module: Module) -> list[Mutant]:
    return [m for file in module.files for m in mutants_of(file)]


def _valid(results: Mapping[str, Result], mutants: Sequence[Mutant]) -> dict[str, Result]:
    """What still counts: of mutants that are what they were."""
    marks = {m.name: m.mark for m in mutants}
    return {name: each for name, each in results.items() if marks.get(name) == each.mark}


def _taken(module: Module, mutants: Sequence[Mutant]) -> list[Mutant]:
    """Those that are to be judged: of each file all, or a part drawn of them."""
    found = []
    for file in module.files:
        of = [m for m in mutants if m.module == file]
        order = Random(SEED).sample(of, len(of)) if file in module.drawn else of
        found += order[: module.drawn.get(file)]
    return found


def _counts(mutants: Sequence[Mutant]) -> dict[str, int]:
    files = [m.module for m in mutants]
    return {file: files.count(file) for file in dict.fromkeys(files)}


def _judge(
    mutants: Sequence[Mutant],
    module: Module,
    asked: argparse.Namespace,
    results: Mapping[str, Result],
) -> None:
    found = dict(results)
    write(asked.module, found.values())

    def judges(mutant: Mutant) -> list[str]:
        return [_path(n) for n in asked.by.split() or module.tests(mutant.module, asked.slower)]

    def tell(verdict: Verdict) -> None:
        mutant, today = verdict.mutant, f"{datetime.now(UTC):%Y-%m-%d}"
        found[mutant.name] = Result(
            verdict.state, verdict.seconds, mutant.name, mutant.mark, today, verdict.by
        )
        write(asked.module, found.values())

    tests = dict.fromkeys(name for mutant in mutants for name in judges(mutant))
    judge = Judge(mutants, judges, tell, every=asked.slower)
    status = pytest.main([*QUIET.split(), *tests], [judge]) if mutants else 0
    if status not in (0, 5):
        raise SystemExit(f"pytest ended with {int(status)}")


def _path(name: str) -> str:
    """A test file by its short name; with a folder in it, the name is whole."""
    return f"tests/{name}.py" if "/" in name else f"tests/test_{name}.py"


def _tell_left(module: str, mutants: Sequence[Mutant]) -> None:
    """What each of those left was, to be read by people."""
    results = _valid(known(module), mutants)
    left = _left(mutants, results)
    text = "".join(f"{results[m.name].state} {m.name}\n{m.change}\n\n" for m in left)
    path_of(module).with_suffix(".survivors").write_text(text, encoding="utf-8")


def _write_scores() -> None:
    rows: list[Score] = []
    left: dict[str, list[str]] = {}
    for name, module in MODULES.items():
        made = _mutants(module)
        mutants = _taken(module, made)
        results = _valid(known(name), mutants)
        rows += scores(name, _counts(made), [*results.values()])
        left[name] = [m.name for m in _left(mutants, results)]
    SCORES.write_text(page(rows, left, machine()), encoding="utf-8")


def _left(mutants: Sequence[Mutant], results: Mapping[str, Result]) -> list[Mutant]:
    return [m for m in mutants if m.name in results and results[m.name].state in LEFT]


def _without_shrinking() -> None:
    """What fails has failed: no smaller example is looked for."""
    settings.register_profile(
        "mutants",
        derandomize=True,
        deadline=None,
        database=None,
        phases=(Phase.explicit, Phase.generate),
    )
    os.environ["HYPOTHESIS_PROFILE"] = "mutants"


main()
