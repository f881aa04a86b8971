"""Figures of the whole rig as `check` tells them: ports, trunks, inputs, loads, fibres.

In: a frozen `Checkup`. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from sim.limits.cables import Fibre
from sim.limits.findings import grouped
from sim.limits.loads import Outlet, PortLoad
from sim.report.blocks import Block, Heading, Table
from sim.report.folding import folded_rows
from sim.report.words import plain, share
from sim.study.checkup import Checkup


def figures(checkup: Checkup) -> Iterator[Block]:
    """The tables."""
    yield Heading("Ports, trunks and inputs")
    yield Table(
        ("unit or relay unit", "connection", "used", "has", "free", "for returns"),
        folded_rows([_outlet(row) for row in checkup.outlets]),
        frozenset({2, 3, 4, 5}),
    )
    yield Heading("Load of the ports")
    yield Table(
        ("sender", "ports", "pixels at most", "can carry", "used"),
        folded_rows([_load(name, of) for name, of in _by_sender(checkup.ports).items()]),
        frozenset({1, 2, 3, 4}),
    )
    if checkup.fibres:
        yield Heading("Fibres")
        yield Table(
            ("fibre", "length", "connectors", "splices", "budget", "margin", "reach"),
            folded_rows([_fibre(row) for row in checkup.fibres]),
            frozenset({1, 2, 3, 4, 5, 6}),
        )


def _outlet(row: Outlet) -> tuple[str, ...]:
    unknown = "no limit known"
    has = unknown if row.has is None else str(row.has)
    free = "" if row.free is None else str(row.free)
    return plain(row.name), f"{row.what}s", str(row.used), has, free, str(row.returns or "")


def _by_sender(loads: Iterable[PortLoad]) -> dict[str, list[PortLoad]]:
    found: dict[str, list[PortLoad]] = {}
    for load in loads:
        found.setdefault(load.sender, []).append(load)
    return found


def _load(name: str, loads: Sequence[PortLoad]) -> tuple[str, ...]:
    worst = max(loads, key=lambda load: Fraction(load.pixels, load.capacity))
    used = share(Fraction(worst.pixels, worst.capacity))
    return plain(name), str(len(loads)), grouped(worst.pixels), grouped(worst.capacity), used


def _fibre(row: Fibre) -> tuple[str, ...]:
    reach = "not said" if row.reach is None else f"{grouped(int(row.reach))} m"
    return (
        plain(row.thing), f"{float(row.length):g} m", str(row.connectors), str(row.splices),
        f"{row.budget / 1000:g} dB", f"{row.margin / 1000:g} dB", reach,
    )  # fmt: skip
