"""The break bench of a page: from what was worked out of a show to what the page holds of it.

In: a `Scenario`, `Watched` topologies; or one script that was run, with its rig. Out: a `Bench`
(markup and JSON), or None where no topology can be built.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from sim.asked import rig_for
from sim.engine.signal import Trace
from sim.faults import Script
from sim.report import bench_view
from sim.report.bench_data import Shown, bench_document
from sim.report.bench_view import Bench
from sim.report.drawing import circuits_told
from sim.report.scheme import scheme
from sim.rig.topology import Rig
from sim.scenario.scenario import Scenario, Variant
from sim.study.replay import scripted
from sim.study.watching import Watched


def bench_of(scenario: Scenario, watched: Iterable[Watched]) -> Bench | None:
    """Every fault of all these topologies that can be built."""
    return _made(
        scenario,
        [
            Shown(each.variant, rig_for(scenario, each.variant), each.replays)
            for each in watched
            if each.replays is not None
        ],
    )


def bench_of_script(
    scenario: Scenario,
    variants: Iterable[Variant],
    rig: Rig,
    ran: tuple[Script, Trace],
    texts: Sequence[str],
) -> Bench | None:
    """One script, on each group of the rig that it was run on."""
    script, trace = ran
    return _made(
        scenario,
        [Shown(each, rig, scripted(rig, each.group, script, trace, texts)) for each in variants],
    )


def _made(scenario: Scenario, shown: Sequence[Shown]) -> Bench | None:
    if not shown:
        return None
    told = [replace(each, about=circuits_told(each.rig, scheme(each.rig))) for each in shown]
    return bench_view.bench(bench_document(scenario, told), [each.rig for each in shown])
