"""Two processes against one on work of over ten seconds: how many times as quick.

In: two million shows of `first`, sampled plainly, with one process and with two in turn. Out: the
ratio of the wall-clock times (medians), printed and held to its aim. It needs two cores that
nobody else uses: on a busy machine it fails, and says nothing.
"""

from __future__ import annotations

import os
import time
from statistics import median
from typing import Any

import pytest

from sim.risk.asked import RiskAsked
from sim.risk.results import RiskStudy
from sim.risk.study import risk_of
from sim.scenario.loader import load
from sim.shipped import find

SHOWS = 2_000_000
ROUNDS = 3
LONG = 10.0
"""Seconds that one process takes at least."""
LEAST = 1.8
pytestmark = pytest.mark.benchmark(timer=time.perf_counter)


def studied(workers: int) -> RiskStudy:
    asked = RiskAsked(topology="relay-pair", plain=True, shows=SHOWS, workers=workers)
    return risk_of(load(find("first")), "panel", asked)


@pytest.mark.timeout(900)
def test_two_processes_against_one(benchmark: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert (os.cpu_count() or 1) >= 2, "two processes need two cores"
    alone: list[tuple[float, RiskStudy]] = []

    def before() -> None:
        begin = time.perf_counter()
        study = studied(1)
        alone.append((time.perf_counter() - begin, study))

    found = benchmark.pedantic(studied, args=(2,), setup=before, rounds=ROUNDS, iterations=1)
    one, two = median(seconds for seconds, _ in alone), median(benchmark.stats.stats.data)
    benchmark.extra_info["ratio"] = one / two
    with capsys.disabled():
        print(f"\nworkers: {one / two:.4g} (one process {one:.3g} s, two {two:.3g} s)", end="")
    assert found.topologies == alone[0][1].topologies, "the same figures"
    assert one > LONG
    assert one / two >= LEAST
