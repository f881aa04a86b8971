"""The comparison of the engine with the oracle, with the oracle's answers worked out once.

The rigs, the script and the comparison are those of tests/test_engine_against_oracle.py; the oracle
shares no code with sim/, so that no mutant of the engine changes what it says.
"""

from __future__ import annotations

import pytest

from sim.faults import Script
from sim.rig.topology import Rig, corner
from tests.rigs import seeded
from tests.test_engine_against_oracle import RIGS, Lines, differs, oracle

CHUNK = 20


def _answered(seed: int) -> tuple[Rig, Script, Lines]:
    rig, script = seeded(seed)
    return rig, script, oracle(rig, script, corner(rig, "typical")).lines


ANSWERED = [_answered(seed) for seed in range(RIGS)]


@pytest.mark.parametrize("first", range(0, RIGS, CHUNK))
def test_the_engine_agrees_with_the_oracle(first: int) -> None:
    assert not any(differs(*case) for case in ANSWERED[first : first + CHUNK])
