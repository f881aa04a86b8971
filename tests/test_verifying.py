"""The simulation held against theory on a small scenario; either of them wrong must be found.

In: the first example with a few rates stated, high enough that few shows tell. Out: verifications
that agree, and that differ with status 1 where theory or the simulation is made wrong here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import sim.reliability.theory_histories as histories
from sim import cli
from sim.reliability.theory_blows import Blow
from sim.risk import verifying
from sim.risk.asked import RiskAsked
from sim.risk.related import Related
from sim.risk.results import BEYOND, Check, Verification
from sim.risk.setting import Stage
from sim.scenario.loader import load

FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
RATES = """
rates:
  - {family: fibre, mode: cut, rate: 20 % per show, source: invented}
  - {family: relay, mode: dead, rate: 10 % per show, source: invented}
  - {family: processor, mode: restart, rate: 20 % per show, source: invented}
tested: [{things: "*", before: 1 h, evidence: invented}]
risk: {rates_only: stated}
"""
ASKED = RiskAsked(topology="relay-pair", seed=3, shows=20_000, precision=0.02, jobs=1)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("verify") / "rig.yaml"
    made.write_text(FIRST.read_text(encoding="utf-8") + RATES, encoding="utf-8")
    return made


@cache
def verified(path: Path, asked: RiskAsked = ASKED) -> Verification:
    return verifying.verify_of(load(path), "panel", asked)


def all_shows(of: Verification) -> Check:
    return next(row for row in of.rows if row.what == "all shows")


def test_both_ways_agree_closely(path: Path) -> None:
    found = verified(path)
    row = all_shows(found)
    assert found.passed and row.verdict == "agree"
    assert row.error < 0.021 * row.simulated and row.bound < 0.05 * row.theory
    assert abs(row.simulated - row.theory) < 4 * row.error + row.bound
    assert row.theory > 1.1 * found.rows[0].theory, "more than single faults are compared"
    assert found.short == ()


def test_shows_that_run_out_are_told(path: Path) -> None:
    found = verified(path, replace(ASKED, shows=400, precision=0.001))
    assert found.short == ("relay-pair",) and found.budget == 400


def failing(path: Path) -> Verification:
    return verifying.verify_of(load(path), "panel", ASKED)


@pytest.mark.parametrize("share", [0.7, 1.4])
def test_theory_with_wrong_masses_is_found(
    path: Path, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = verifying.blows

    def wrong(stage: Stage) -> Iterator[Blow]:
        yield from (replace(blow, mass=blow.mass * share) for blow in right(stage))

    monkeypatch.setattr(verifying, "blows", wrong)
    found = failing(path)
    assert not found.passed
    assert [row.verdict for row in found.rows] == ["differ", "differ"]


def test_a_simulation_that_forgets_how_faults_meet_is_found(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Single faults stay right: only the row of all shows tells."""
    monkeypatch.setattr(Related, "parts", lambda self, events: [[each] for each in events])
    found = failing(path)
    assert [row.verdict for row in found.rows] == ["agree", "differ"]
    assert all_shows(found).off > BEYOND and not found.passed


def test_theory_without_two_faults_is_found(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sim.reliability.theory_whole as whole

    monkeypatch.setattr(whole, "_two", lambda *_: (0.0, 0.0))
    monkeypatch.setattr(histories._Drawing, "_beyond", lambda self, hit, history: 0.0)
    assert [row.verdict for row in failing(path).rows] == ["agree", "differ"]


def test_the_command_ends_with_1_where_they_differ(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    args = ["risk", str(path), "--verify", "--topology", "relay-pair", "--jobs", "1"]
    args += ["--shows", "20000", "--precision", "0.02"]
    assert cli.run(args) == 0
    assert "photosensitive" in capsys.readouterr().out
    monkeypatch.setattr(Related, "parts", lambda self, events: [[each] for each in events])
    assert cli.run(args) == 1
    assert "differ" in capsys.readouterr().out


def test_verify_and_plain_at_once_are_refused(path: Path, capsys: Any) -> None:
    assert cli.run(["risk", str(path), "--verify", "--plain"]) == 2
    said = capsys.readouterr().err
    assert "--plain: asked together with --verify" in said and "one of the two" in said


def test_a_bound_that_is_wide_compares_nothing() -> None:
    wide = verifying.check("t", "all shows", (1.0, 0.01), (1.0, 0.11))
    narrow = verifying.check("t", "all shows", (1.0, 0.01), (1.0, 0.09))
    wrong = verifying.check("t", "all shows", (9.0, 0.01), (1.0, 0.5))
    assert [row.verdict for row in (wide, narrow, wrong)] == ["not compared", "agree", "differ"]
