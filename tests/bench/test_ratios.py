"""The engine against a bare SimPy loop and against the tick-stepping oracle, each in one run.

In: `river`'s main screen under crossed relays. Out: one ratio of processor times for each test,
printed, and held to its aim. What is counted for the bare loop, and why, stands in
tests/bench/counted.py; tests/bench/README.md says what the figures mean.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import asdict
from itertools import chain, cycle, islice, pairwise
from typing import Any

import pytest

from sim.engine.run import run
from sim.engine.settling import Base
from sim.engine.signal import Trace, cell_lines
from sim.engine.through import run_through
from sim.engine.wiring import wire
from sim.faults import Fault, Script
from sim.rig.audit import as_json as audit
from sim.rig.topology import Rig, corner
from sim.study.contingency import Laboratory, Outcome, singles
from sim.study.strikes import strikes
from sim.timebase import FLICKS, FOREVER
from tests.bench.conftest import InTurn, Say, processor_time
from tests.bench.counted import Counted, bare, counting, waits
from tests.oracles import simulate

pytestmark = pytest.mark.benchmark(timer=time.process_time)

MOST_FOR_SINGLES = 4
MOST_FOR_ONE_LONG_RUN = 3
LEAST_OVER_120_FRAMES = 100
LEAST_OVER_THREE_HOURS = 100_000
HOURS = 3 * 3600


def every_single(rig: Rig) -> tuple[Outcome, ...]:
    """From a rig that is built to what each of its single faults does, under all corners."""
    return singles(Laboratory(rig, "main"), strikes(rig))


def plain_runs(rig: Rig) -> list[Counted]:
    """Each single fault once on the whole rig, nothing merged, all timings typical. A loose contact
    counts until the rig repeats itself, as nobody plays it longer.
    """
    laboratory = Laboratory(rig, "main")
    base = laboratory.bases["typical"]
    with counting() as made:
        for strike in filter(laboratory.concerns, strikes(rig)):
            flaps = any(fault.mode == "flapping" for fault in strike.faults)
            run(base, Script(strike.faults), base.values, rig.length, flaps)
    return list(made)


def test_every_single_fault_against_a_bare_loop(
    river: Rig, in_turn: Callable[..., InTurn], say: Say
) -> None:
    plain = plain_runs(river)
    with counting() as merged:
        outcomes = every_single(river)
    assert len(plain) == len(outcomes) > len(merged)
    delays = [waits(made.instants) for made in plain]
    fewer = [waits(made.instants) for made in merged]
    kinds = sum((made.kinds for made in plain), Counter[str]())
    assert bare(delays) == kinds.total() > bare(fewer)

    found = in_turn(lambda: every_single(river), lambda: bare(delays))
    least = sum(processor_time(lambda: bare(fewer)) for _ in range(9)) / 9
    ours = sorted(found.ours)[len(found.ours) // 2]
    say("singles", ours, "s of processor time, from the rig to every outcome")
    say("singles-bare", found.ratio, f"{len(plain)} environments, {dict(kinds)}: {found.told}")
    say(
        "singles-bare-merged", ours / least,
        f"against only what the merged runs make: {len(fewer)} environments, "
        f"{sum(map(len, fewer))} time-outs",
    )  # fmt: skip
    assert found.ratio <= MOST_FOR_SINGLES


FLAPPING = ("main/trunk-main-a-1", "main/unit-a", "main/chain-1/jumper-3")
"""The busiest, one of few changes, one of hardly any."""
WINDOW = 240
"""Seconds of the plain run that are counted; the second half stands for every later one."""


def flap(thing: str, period: int = FLICKS) -> Script:
    """Off for the first half of every turn, from the first flick on."""
    return Script((Fault(thing, "flapping", 0, period=period, off=period // 2),))


def window(base: Base, script: Script) -> tuple[list[int], list[int], float]:
    """What happens in the two halves of the window, and what the plain run of it takes."""
    end = WINDOW * FLICKS
    with counting() as made:
        counted = run(base, script, base.values, end)
    assert counted == run_through(base, script, base.values, end), "not what the plain run shows"
    halves: tuple[list[int], list[int]] = ([], [])
    for at in sorted(made[0].instants):
        halves[at >= end // 2].append(at)
    return *halves, processor_time(lambda: run(base, script, base.values, end))


def for_hours(early: list[int], late: list[int]) -> Iterator[int]:
    """The waits of three hours: the second half of the window over and over."""
    half = WINDOW // 2
    turns = HOURS // half - 1
    turn = waits(at - half * FLICKS for at in late)
    turn[0] += half * FLICKS - (late[-1] - half * FLICKS)
    first = waits([*early, late[0]])
    return chain(first, islice(cycle([*turn[1:], turn[0]]), turns * len(turn) - 1))


@pytest.mark.timeout(900)
@pytest.mark.parametrize("thing", FLAPPING)
def test_three_hours_of_a_loose_contact_at_one_hertz_against_a_bare_loop(
    river: Rig, in_turn: Callable[..., InTurn], say: Say, thing: str
) -> None:
    base = Base(wire(river), corner(river, "typical"))
    script = flap(thing)
    early, late, plain = window(base, script)
    within = processor_time(lambda: bare([waits([*early, *late])]))
    quarter = WINDOW * FLICKS // 4
    last = [at for at in late if at >= 3 * quarter]
    assert [at + quarter for at in late if at < 3 * quarter] == last, "it does not repeat itself"
    expected = len(early) + len(late) * (HOURS * 2 // WINDOW - 1)
    assert bare([for_hours(early, late)]) == expected

    def ours() -> Trace:
        return run_through(base, script, base.values, HOURS * FLICKS)

    found = in_turn(ours, lambda: bare([for_hours(early, late)]), rounds=3)
    say(f"long-bare {thing}", found.ratio, f"{expected} time-outs: {found.told}")
    say(f"long-bare-plain {thing}", plain / within, f"every turn played, over {WINDOW} s")
    assert found.ratio <= MOST_FOR_ONE_LONG_RUN


def coarse(rig: Rig) -> tuple[int, dict[str, int], dict[str, Any]]:
    """A tick of a sixteenth of a frame (about a millisecond), all timings in whole ticks of it, and
    the rig as the oracle reads it: its own times ask for ticks a hundred times shorter, and a tick
    costs the oracle as much whatever its length, so this is in its favour. (Of the frames of
    sources only lost ones make use, and no script here loses any.)
    """
    tick = rig.frame // 16
    values = {
        key: value if value >= FOREVER else round(value / tick) * tick
        for key, value in corner(rig, "typical").items()
    }
    read = audit(rig)
    for node in read["nodes"]:
        if node.get("frame"):
            node["frame"] = round(node["frame"] / tick) * tick
    return tick, values, read


SCRIPTS = {
    "dead": Script((Fault("main/relay-main", "dead", 0),)),
    "tripped": Script((Fault("shore A", "tripped", 0),)),
}


@pytest.mark.timeout(900)
@pytest.mark.parametrize("what", SCRIPTS)
def test_one_run_against_the_oracle(
    river: Rig, in_turn: Callable[..., InTurn], say: Say, what: str
) -> None:
    """From a rig that is built to the line of every cell. The oracle steps through 30, 60 and 120
    frames; that each frame costs it alike is shown by these, and its three hours are reckoned from
    them. The engine works its three hours out in full.
    """
    script, (tick, values, read) = SCRIPTS[what], coarse(river)
    plain = {**asdict(script), "failing": sorted(script.failing)}
    frames = (30, 60, 120)
    took, seen = {}, {}
    for count in frames:

        def stepped(count: int = count) -> None:
            seen[count] = simulate(read, plain, values, tick, count * river.frame).lines

        took[count] = processor_time(stepped)
    slopes = [(took[b] - took[a]) / (b - a) for a, b in pairwise(frames)]
    assert max(slopes) < 1.5 * min(slopes), f"a frame costs the oracle {slopes} s"

    def lines(end: int) -> dict[tuple[str, int], list[tuple[int, int]]]:
        return cell_lines(river, run_through(river, script, values, end))

    short = 120 * river.frame
    for cell, line in lines(short).items():
        ticks = seen[120][cell]
        assert line == [
            (n * tick, quality)
            for n, quality in enumerate(ticks)
            if n == 0 or quality != ticks[n - 1]
        ], cell
    three_hours = HOURS * FLICKS
    found = in_turn(lambda: lines(three_hours), lambda: lines(short))
    ours, ours_short = sorted(found.ours)[3], sorted(found.other)[3]
    each = (took[120] - took[30]) / 90
    reckoned = took[120] + each * (three_hours / river.frame - 120)
    say(
        f"oracle-120-frames {what}", took[120] / ours_short,
        f"{took[120]:.3g} s against {ours_short:.3g} s of processor time",
    )  # fmt: skip
    say(
        f"oracle-three-hours {what}", reckoned / ours,
        f"{reckoned:.3g} s, reckoned from {each:.3g} s a frame (60 more frames cost "
        f"{slopes[1] / slopes[0]:.2f} times what 30 more do, each), against {ours:.3g} s",
    )  # fmt: skip
    assert took[120] >= LEAST_OVER_120_FRAMES * ours_short
    assert reckoned >= LEAST_OVER_THREE_HOURS * ours
