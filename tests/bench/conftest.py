"""What every benchmark needs: the rig that is measured, a figure printed, two things in turn.

In: `river` as it comes with the program. Out: fixtures. All times are processor time, seconds.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import median
from typing import Any

import pytest

from sim.rig.topology import Rig
from sim.scenario.loader import load
from sim.shipped import find
from sim.study.study import rig_of

Say = Callable[..., None]


@pytest.fixture(scope="session")
def river() -> Rig:
    """River's main screen under crossed relays, the banks as offered."""
    scenario = load(find("river"))
    (wanted,) = [v for v in scenario.variants("main") if v.topology == "crossed-relays"]
    _, rig, reasons = rig_of(scenario, wanted)
    assert rig is not None, reasons
    return rig


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Iterator[Say]:
    """Print a line past pytest's capture, in the form that tests/measure.py reads."""

    def said(name: str, figure: float, what: str) -> None:
        with capsys.disabled():
            print(f"\n{name}: {figure:.4g} ({what})", end="")

    yield said


@dataclass(frozen=True, slots=True)
class InTurn:
    """Processor time of two things done in turn, seconds, by round."""

    ours: tuple[float, ...]
    other: tuple[float, ...]

    @property
    def ratio(self) -> float:
        """Of the two medians."""
        return median(self.ours) / median(self.other)

    @property
    def told(self) -> str:
        pairs = [a / b for a, b in zip(self.ours, self.other, strict=True)]
        return (
            f"{median(self.ours):.3g} s against {median(self.other):.3g} s of processor time, "
            f"median of {len(pairs)} in turn, each by itself {min(pairs):.3g} to {max(pairs):.3g}"
        )


def processor_time(work: Callable[[], Any]) -> float:
    """How long this takes, seconds of processor time; waste of before is swept first."""
    gc.collect()
    begin = time.process_time()
    work()
    return time.process_time() - begin


@pytest.fixture
def in_turn(benchmark: Any) -> Callable[..., InTurn]:
    """Measure ours by the benchmark, and just before each of its rounds the other one."""

    def measured(ours: Callable[[], Any], other: Callable[[], Any], rounds: int = 7) -> InTurn:
        others: list[float] = []

        def before() -> None:
            others.append(processor_time(other))
            gc.collect()

        benchmark.pedantic(ours, setup=before, rounds=rounds, iterations=1)
        found = InTurn(tuple(benchmark.stats.stats.data), tuple(others))
        benchmark.extra_info["ratio"] = found.ratio
        return found

    return measured
