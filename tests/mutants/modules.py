"""Which files each of the four modules is, and which tests judge the mutants of each file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Names = tuple[str, ...]
SEED = 1


@dataclass(frozen=True)
class Module:
    """`files`: for each file the names of the test files that judge its mutants; `slower`: those
    that survivors face too; `drawn`: files of which not all mutants are judged but so many, drawn
    by `SEED`, as each takes long.
    """

    files: Mapping[str, Names]
    slower: Names = ()
    drawn: Mapping[str, int] = field(default_factory=dict)
    variables: Mapping[str, str] = field(default_factory=dict)

    def tests(self, file: str, slower: bool) -> Names:
        """Who judges a mutant of this file."""
        return (*self.files[file], *(self.slower if slower else ()))


RIGS = {"STAYLIT_ORACLE_RIGS": "300"}
ORACLE = "mutants/judge_rigs"
SIGNALS = (
    *("selector", "condition", "nodes", "run", "onward", ORACLE),
    *("seamless", "races", "power_and_sync", "routes_and_returns"),
)
STEPS = (*SIGNALS, "tables", "live")
TURNS = (*SIGNALS, "recording", "through")
MERGED = ("symmetry", "alike")


def _of(tests: Names, *files: str) -> dict[str, Names]:
    return {f"sim.engine.{file}": tests for file in files}


MODULES = {
    "ledger": Module({"sim.study.ledger": ("ledger",)}),
    "signal": Module({"sim.engine.signal": ("signal", *SIGNALS)}, variables=RIGS),
    "engine": Module(
        {
            **_of(STEPS, "condition", "selector", "nodes", "run", "settling", "board"),
            **_of(STEPS, "tables", "live"),
            **_of(TURNS, "playing", "recording", "onward", "through"),
            **_of((*SIGNALS, *MERGED), "wiring", "symmetry"),
            **_of(MERGED, "branches"),
        },
        slower=("delays", "injection"),
        drawn={"sim.engine.symmetry": 13, "sim.engine.branches": 50},
        variables=RIGS,
    ),
    "montecarlo": Module(
        {"sim.risk.montecarlo": ("efforts", "first_looks", "mutants/judge_shows")}
    ),
}
