"""python -m tests.mutants MODULE: mutants of one module, judged by the tests chosen for it.

In: a name of `MODULES`. Out: `build/mutants/MODULE.txt`, a line for each mutant as it is judged,
and `MODULE.survivors`, what each of those was; the score on the terminal. See README.md here.
"""

from __future__ import annotations

import argparse
import os
import random
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import Phase, settings

from tests.mutants.judge import ENDED, KILLED, SURVIVED, UNSEEN, Judge, Verdict
from tests.mutants.made import Mutant, mutants_of
from tests.mutants.modules import MODULES, Module

OUT = Path("build/mutants")
QUIET = "-q --assert=plain --tb=no -p no:randomly -p no:cacheprovider -p no:xdist -p no:benchmark"


def main() -> None:
    asked = _asked()
    module = MODULES[asked.module]
    os.environ.update(module.variables)
    _without_shrinking()
    mutants = _mutants(module, asked)
    results = _results(asked.module) if asked.survivors or asked.only or asked.new else {}
    if asked.survivors:
        mutants = [m for m in mutants if _state(results, m) in (SURVIVED, UNSEEN)]
    if asked.new:
        mutants = [m for m in mutants if not _state(results, m)]
    print(f"{len(mutants)} mutants")
    tests = asked.by.split() or [*module.tests, *(module.slower if asked.slower else ())]
    _judge(mutants, [_path(name) for name in tests], asked, results)
    print(_score(_results(asked.module)))


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants")
    parser.add_argument("module", choices=sorted(MODULES))
    parser.add_argument("--only", default="", help="mutants whose name has this in it")
    parser.add_argument("--survivors", action="store_true", help="only those left last time")
    parser.add_argument("--new", action="store_true", help="only those never judged (go on)")
    parser.add_argument("--by", default="", help="only these test files (short names)")
    parser.add_argument("--slower", action="store_true", help="all tests, the slower ones too")
    return parser.parse_args()


def _state(results: dict[str, str], mutant: Mutant) -> str:
    return (results.get(mutant.name, "").split() or [""])[0]


def _mutants(module: Module, asked: argparse.Namespace) -> list[Mutant]:
    """All mutants of the files taken whole, and a drawn part of those of the others."""
    found = [m for name in module.whole for m in mutants_of(name)]
    drawn = [m for name in module.drawn for m in mutants_of(name)]
    if drawn:
        found += random.Random(module.seed).sample(drawn, module.sample)
    return [mutant for mutant in found if asked.only in mutant.name]


def _judge(
    mutants: Sequence[Mutant],
    tests: Sequence[str],
    asked: argparse.Namespace,
    results: dict[str, str],
) -> None:
    OUT.mkdir(parents=True, exist_ok=True)
    path = OUT / f"{asked.module}.txt"
    left = {name: line for name, line in results.items() if name not in {m.name for m in mutants}}
    path.write_text("".join(f"{line}\n" for line in left.values()), encoding="utf-8")
    survivors = path.with_suffix(".survivors")
    if not asked.new:
        survivors.write_text("", encoding="utf-8")

    def tell(verdict: Verdict) -> None:
        name = verdict.mutant.name
        line = f"{verdict.state:9} {verdict.seconds:7.2f} {name} {verdict.by}".rstrip()
        _append(path, line)
        if verdict.state not in (KILLED, ENDED):
            _append(survivors, f"{verdict.state} {name}\n{verdict.mutant.change}\n")

    judge = Judge(mutants, tell, every=asked.slower)
    status = pytest.main([*QUIET.split(), *tests], [judge])
    if status not in (0, 5):
        raise SystemExit(f"pytest ended with {int(status)}")


def _path(name: str) -> str:
    """A test file by its short name; with a folder in it, the name is whole."""
    return f"tests/{name}.py" if "/" in name else f"tests/test_{name}.py"


def _append(path: Path, line: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(line + "\n")


def _results(module: str) -> dict[str, str]:
    """The lines of the last run, by the mutant's name."""
    path = OUT / f"{module}.txt"
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return {line.split()[2]: line for line in lines}


def _score(results: dict[str, str]) -> str:
    """How many of each kind, by file and in all."""
    by_file: dict[str, Counter[str]] = {}
    for name, line in results.items():
        for file in (name.split(":")[0], "all"):
            by_file.setdefault(file, Counter())[line.split()[0]] += 1
    rows = []
    for file, states in sorted(by_file.items()):
        dead, total = states[KILLED] + states[ENDED], states.total()
        rows.append(f"{file}: {dead} of {total}, {dead / total:.1%} ({dict(states)})")
    return "\n".join(rows)


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
