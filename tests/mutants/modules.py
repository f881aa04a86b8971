"""Which files each of the four modules is, and which tests judge it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Module:
    """`whole`: files of which every mutant is judged; `drawn`: files of which `sample` mutants are
    drawn by `seed`. `tests`: names of test files; `slower`: those that survivors face too;
    `without`: tests of them that hold for a whole run of the suite only.
    """

    whole: tuple[str, ...]
    tests: tuple[str, ...]
    slower: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()
    sample: int = 0
    seed: int = 1
    without: tuple[str, ...] = ()
    variables: Mapping[str, str] = field(default_factory=dict)


FEW_RIGS = {"STAYLIT_ORACLE_RIGS": "100"}
COUNTED = ("tests/test_engine_against_oracle.py::test_every_rule_is_exercised",)
"""Counts what 2 000 rigs have exercised."""
OF_THE_ENGINE = tuple(
    "engine_against_oracle seamless races live delays power_and_sync routes_and_returns".split()
)

MODULES = {
    "ledger": Module(("sim.study.ledger",), ("ledger", "picture")),
    "signal": Module(
        ("sim.engine.signal",),
        ("ledger", "picture", *OF_THE_ENGINE),
        without=COUNTED,
        variables=FEW_RIGS,
    ),
    "engine": Module(
        (
            "sim.engine.condition",
            "sim.engine.selector",
            "sim.engine.nodes",
            "sim.engine.settling",
            "sim.engine.playing",
            "sim.engine.board",
            "sim.engine.run",
        ),
        OF_THE_ENGINE,
        slower=("marks", "symmetry"),
        without=COUNTED,
        variables=FEW_RIGS,
    ),
    "montecarlo": Module(("sim.risk.montecarlo",), ("montecarlo", "strata", "plain")),
}
