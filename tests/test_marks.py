"""The mark of a scenario that stands in reports: the same in every run, another for another one.

In: scenarios that come with the program, processes with hash seeds of their own. Out: their marks.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from sim.scenario.digest import digest_of
from sim.scenario.loader import load

ROOT = Path(__file__).parents[1]
STUDIO = ROOT / "scenarios" / "studio.yaml"
"""Has a set of several layers that move, which is told in another order in each run."""


def _in_another_run(seed: str, said: str) -> str:
    code = (
        "from pathlib import Path; from sim.scenario.digest import digest_of;"
        f"from sim.scenario.loader import load; of = load(Path({str(STUDIO)!r})); print({said})"
    )
    env = {**os.environ, "PYTHONHASHSEED": seed}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, text=True, check=True
    )
    return done.stdout


@pytest.mark.parametrize(("said", "alike"), [("digest_of(of)", True), ("repr(of.terms)", False)])
def test_a_mark_is_the_same_in_every_run_and_a_set_as_it_comes_is_not(
    said: str, alike: bool
) -> None:
    found = {_in_another_run(str(seed), said) for seed in range(1, 5)}
    assert (len(found) == 1) == alike


def test_other_layers_that_move_give_another_mark() -> None:
    scenario = load(STUDIO)
    (name, moving), *_ = scenario.terms.moving.items()
    fewer = replace(scenario.terms, moving={name: frozenset(sorted(moving)[1:])})
    assert len(moving) > 1
    assert digest_of(replace(scenario, terms=fewer)) != digest_of(scenario)
