"""The simulation held against theory on a small scenario; either of them wrong must be found.

In: the first example with a few rates stated, high enough that few shows tell. Out: verifications
that agree, and that differ with status 1 where theory or the simulation is made wrong here. Each
side, right or wrong in one way, is worked out once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

import sim.reliability.theory_histories as histories
from sim import cli
from sim.reliability import theory_whole
from sim.reliability.theory_blows import Blow
from sim.reliability.theory_whole import Whole
from sim.risk import verifying
from sim.risk.asked import RiskAsked
from sim.risk.montecarlo import Effort
from sim.risk.piles import Sampling
from sim.risk.piling import Work
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
ASKED = RiskAsked(topology="relay-pair", seed=3, shows=20_000, precision=0.02, workers=1)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("verify") / "rig.yaml"
    made.write_text(FIRST.read_text(encoding="utf-8") + RATES, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def known() -> dict[object, Any]:
    """Simulations and theories by what they are made with."""
    return {}


@pytest.fixture(autouse=True)
def _each_side_once(known: dict[object, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """All of the same rig; what tests make wrong is part of what a side is known by."""
    sample, theory = verifying.sample, verifying.whole

    def simulated(work: Work, effort: Effort, told: Any) -> Sampling:
        key = (effort, Related.parts)
        if key not in known:
            known[key] = sample(work, effort, told)
        return cast(Sampling, known[key])

    def told_by_theory(*of: Any) -> Whole:
        key = (verifying.blows, theory_whole._two, histories._Drawing._beyond)
        if key not in known:
            known[key] = theory(*of)
        return cast(Whole, known[key])

    monkeypatch.setattr(verifying, "sample", simulated)
    monkeypatch.setattr(verifying, "whole", told_by_theory)


def verified(path: Path, asked: RiskAsked = ASKED) -> Verification:
    return verifying.verify_of(load(path), "panel", asked)


def forgetful(self: Related, events: Sequence[Any]) -> list[list[Any]]:
    """How faults are related, wrongly: none with any other."""
    return [[each] for each in events]


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


def test_an_interruption_verifies_nothing(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Though some shows are known by then."""
    sample = verifying.sample

    def told(of: Sampling) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(verifying, "sample", lambda work, effort, _: sample(work, effort, told))
    assert cli.run(["risk", str(path), "--verify", "--workers", "1"]) == 130
    assert capsys.readouterr() == ("", "staylit: interrupted\n")


@pytest.mark.parametrize("share", [0.7, 1.4])
def test_theory_with_wrong_masses_is_found(
    path: Path, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = verifying.blows

    def wrong(stage: Stage) -> Iterator[Blow]:
        yield from (replace(blow, mass=blow.mass * share) for blow in right(stage))

    monkeypatch.setattr(verifying, "blows", wrong)
    found = verified(path)
    assert not found.passed
    assert [row.verdict for row in found.rows] == ["differ", "differ"]


def test_a_simulation_that_forgets_how_faults_meet_is_found(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Single faults stay right: only the row of all shows tells."""
    monkeypatch.setattr(Related, "parts", forgetful)
    found = verified(path)
    assert [row.verdict for row in found.rows] == ["agree", "differ"]
    assert all_shows(found).off > BEYOND and not found.passed


def test_theory_without_two_faults_is_found(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(theory_whole, "_two", lambda *_: (0.0, 0.0))
    monkeypatch.setattr(histories._Drawing, "_beyond", lambda self, hit, history: 0.0)
    assert [row.verdict for row in verified(path).rows] == ["agree", "differ"]


def test_the_command_ends_with_1_where_they_differ(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    args = ["risk", str(path), "--verify", "--topology", "relay-pair", "--workers", "1"]
    args += ["--shows", "20000", "--precision", "0.02", "--seed", "3"]
    assert cli.run(args) == 0
    assert "photosensitive" in capsys.readouterr().out
    monkeypatch.setattr(Related, "parts", forgetful)
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
