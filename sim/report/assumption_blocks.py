"""What `explain` tells about an assumption: what was taken, and what other values would change.

In: a frozen assumption, with the study of other values if it is no timing. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.limits.findings import first_few
from sim.report.blocks import Block, Heading, Para, Points, Table
from sim.report.rowtext import title
from sim.report.words import harmless, listed, share
from sim.scenario.kits import Assumption
from sim.study.alternatives import Alternative, Change
from sim.study.rows import FaultRow
from sim.study.told import AssumptionTold

MOST = 12
"""So many faults are written out; JSON has all."""
TAKEN = "The scenario does not say it, so what stands here is taken."


def assumption_blocks(told: Assumption | AssumptionTold) -> Iterator[Block]:
    """The whole answer but its title and cautions."""
    assumed = told.assumption if isinstance(told, AssumptionTold) else told
    timing = isinstance(told, Assumption)
    yield Para(f"{TAKEN} {'Nothing in the rig offered uses it.' if timing else NO_TIMING}")
    facts = (
        ("place", assumed.path), ("what", assumed.what), ("taken", assumed.value),
        ("grade", assumed.grade), ("source", assumed.source),
    )  # fmt: skip
    yield Table(("what", "value"), tuple((name, harmless(said)) for name, said in facts))
    yield Para(f"To say it, write it in the scenario at `{harmless(assumed.path)}`.")
    if isinstance(told, AssumptionTold):
        yield from _moves(told)


NO_TIMING = "It is no timing, so it has no least and most: it is one thing or another."


def _moves(told: AssumptionTold) -> Iterator[Block]:
    yield Heading("What it moves")
    if not told.alternatives:
        yield Para(
            "No other value is worked out for it here. To see what another one changes, write it "
            "into a copy of the scenario and run `staylit check` on both."
        )
    other = dict.fromkeys(
        f"{harmless(change.group)} with {harmless(change.variant.label)}"
        for each in told.alternatives for change in each.changes if not change.variant.offered
    )  # fmt: skip
    if other:
        yield Para(f"What is offered has no such thing, so it is judged for {listed(other)}.")
    for each in told.alternatives:
        yield Heading(f"With {harmless(each.value)} instead", 3)
        yield Points(tuple(_alternative(each)))


def _alternative(each: Alternative) -> Iterator[str]:
    for reason in each.reasons:
        yield f"it cannot be built: {harmless(reason)}"
    for change in each.changes:
        group = f"{harmless(change.group)} with {harmless(change.variant.label)}"
        if change.nothing:
            yield f"{group}: no verdict on a limit and no lasting fault is otherwise."
        for said in _change(change):
            yield f"{group}: {said}"


def _change(change: Change) -> Iterator[str]:
    for label, before, after in change.limits:
        yield f"limit {after} instead of {before}: {harmless(label)}."
    if change.gone:
        yield f"not lasting any more: {first_few(list(map(_lasting, change.gone)), MOST)}."
    if change.new:
        new = first_few(list(map(_lasting, change.new)), MOST)
        yield f"lasting then, but not as assumed: {new}."
    moved = [f"{_lasting(one)} becomes {_share(other)}" for one, other in change.moved]
    if moved:
        yield f"lasting otherwise: {first_few(moved, MOST)}."


def _lasting(row: FaultRow) -> str:
    return f"{title(row)} ({_share(row)})"


def _share(row: FaultRow) -> str:
    return f"{share(row.lasting[1])} {' or '.join(row.states)}"
