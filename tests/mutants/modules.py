"""Which files each of the four modules is, and which tests judge it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Module:
    """`whole`: files of which every mutant is judged; `drawn`: files of which `sample` mutants are
    drawn by `seed`. `tests`: names of test files; `slower`: those that survivors face too.
    """

    whole: tuple[str, ...]
    tests: tuple[str, ...]
    slower: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()
    sample: int = 0
    seed: int = 1
    variables: Mapping[str, str] = field(default_factory=dict)


RIGS = {"STAYLIT_ORACLE_RIGS": "300"}
ORACLE = "mutants/judge_rigs"
OF_THE_ENGINE = (
    *("selector", "condition", "nodes", "run", "onward", ORACLE),
    *("seamless", "races", "power_and_sync", "routes_and_returns"),
)

MODULES = {
    "ledger": Module(("sim.study.ledger",), ("ledger",)),
    "signal": Module(
        ("sim.engine.signal",),
        ("signal", *OF_THE_ENGINE),
        variables=RIGS,
    ),
    "engine": Module(
        (
            "sim.engine.condition",
            "sim.engine.selector",
            "sim.engine.nodes",
            "sim.engine.run",
            "sim.engine.settling",
        ),
        OF_THE_ENGINE,
        slower=("live", "delays", "injection"),
        drawn=("sim.engine.board", "sim.engine.playing"),
        sample=200,
        variables=RIGS,
    ),
    "montecarlo": Module(
        whole=(),
        tests=("efforts", "mutants/judge_shows"),
        drawn=("sim.risk.montecarlo",),
        sample=705,
    ),
}
