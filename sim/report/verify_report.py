"""Simulation and theory side by side, for `risk --verify`.

In: frozen `Verification`s. Out: blocks, a JSON-able document, or CSV.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any

from sim.limits.findings import grouped
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.rates_report import figure
from sim.report.risk_register import FLASHES
from sim.report.tables import as_csv
from sim.report.values import as_values
from sim.report.words import counted, harmless
from sim.risk.results import BEYOND, Check, Verification

VERIFY = "staylit-verify 1"
ABOUT = {
    "kind": "chance: per show; wall-seconds, frames: a show",
    "error": "standard error of the simulated value",
    "bound": "what the theory leaves out at most",
    "off": "difference over the root of (error squared plus bound squared)",
    "verdict": f"agree; differ: off above {BEYOND:g}; not compared",
    "short": "topologies whose shows ran out before the standard error wanted (precision)",
}
READ = Points(
    (
        "simulation: this program's own shows, with the standard error of their mean.",
        "theory: functions of time over the wiring, summed over faults and pairs of faults by "
        "formula; it shares no code with the simulation. bound: what it leaves out at most.",
        "off: the difference over the root of (error squared plus bound squared). By chance alone "
        f"it hardly ever exceeds 4; above {BEYOND:g} the two differ and this command ends with "
        "status 1.",
    )
)


def verify_blocks(found: Iterable[Verification]) -> Blocks:
    """The whole report."""
    made = tuple(block for one in found for block in _one(one))
    return (
        *made,
        Heading("How to read it"),
        READ,
        Heading("Cautions"),
        CAUTIONS,
        Points((FLASHES,)),
    )


def _one(one: Verification) -> Iterator[Block]:
    yield Heading(harmless(f"{one.title}, wall group {one.group}: simulation against theory"), 1)
    yield Para(_lead(one), warning=not one.passed)
    yield Table(
        ("topology", "what", "simulation", "standard\nerror", "theory", "bound", "off", "verdict"),
        tuple(map(_cells, one.rows)),
        frozenset({2, 3, 4, 5, 6}),
    )
    if one.short:
        yield Para(_short(one), warning=True)
    if one.assumed:
        yield Heading("What the theory assumes")
        yield Points(tuple(map(harmless, one.assumed)))
    yield Para(
        f"{grouped(one.shows)} shows, seed {one.seed}, version {harmless(one.version)}, scenario "
        f"hash {harmless(one.digest)}."
    )


def _lead(one: Verification) -> str:
    compared = [row for row in one.rows if row.verdict != "not compared"]
    wrong = [row for row in compared if row.verdict == "differ"]
    if not compared:
        return "Nothing was compared."
    if wrong:
        number = counted(len(wrong), "figure")
        return f"Simulation and theory differ in {number} of {grouped(len(compared))}: see below."
    worst = max(row.off for row in compared)
    return (
        f"Simulation and theory agree in {counted(len(compared), 'figure')} compared. The largest "
        f"difference is {worst:.2f} times what error and bound make together; {BEYOND:g} times is "
        "allowed."
    )


def _short(one: Verification) -> str:
    names = harmless(", ".join(one.short))
    return (
        f"The shows ran out, {grouped(one.budget)} at most, before a standard error of "
        f"{100 * one.precision:g} % of the value: {names}."
    )


def _cells(row: Check) -> tuple[str, ...]:
    numbers = (row.simulated, row.error, row.theory, row.bound)
    off = f"{row.off:.2f}" if row.verdict != "not compared" else "-"
    return (harmless(row.topology), harmless(row.what), *map(_number, numbers), off, row.verdict)


def _number(value: float) -> str:
    """Three digits; 0 only if exactly 0."""
    return figure(value) if value else "0"


def verify_document(found: Iterable[Verification]) -> dict[str, Any]:
    """All of it as plain values."""
    return {
        "format": VERIFY,
        "about": ABOUT,
        "cautions": [*CAUTIONS.texts, FLASHES],
        "groups": [as_values(one) for one in found],
    }


HEAD = (
    "group", "topology", "what", "kind", "simulated", "error", "theory", "bound", "off", "verdict",
    "shows", "seed",
)  # fmt: skip


def verify_csv(found: Iterable[Verification]) -> str:
    """One line for each figure and topology."""
    lines = (
        {**asdict(row), "group": one.group, "shows": one.shows, "seed": one.seed}
        for one in found
        for row in one.rows
    )
    return as_csv(HEAD, lines)
