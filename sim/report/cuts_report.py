"""Minimal cut sets and what they come to, for `risk --cut-sets`.

In: frozen `CutStudy`s. Out: blocks, a JSON-able document, or CSV.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sim.limits.findings import grouped
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.rates_report import figure
from sim.report.risk_words import fault_words, odds, shows_of
from sim.report.tables import as_csv
from sim.report.values import as_values
from sim.report.words import counted, harmless
from sim.risk.cuts import CellRow, CutStudy, PlaceRow, TopologyCuts, Way

CUTS = "staylit-cut-sets 1"
ABOUT = {
    "chance": "that all of a place is dark for good by the end of a show in which nobody mends",
    "share": "of a show for which it is dark so, on average",
    "long_run": "share of time in a standing installation, each item mended after `mended` hours",
    "ways": "the likeliest kinds of cut sets: how many sets, the sum of their chances",
    "dark": "wall-seconds a show: first - overlap + second; off by bound at most",
    "beyond": "the chance that more faults strike in a show than the cut sets have",
}
READ = Points(
    (
        "A minimal cut set: things that, failing together, darken all of a place for good, and of "
        "which none can be left out. A place with cut sets of one has single points.",
        "chance: by the end of a show in which nobody mends anything; mean: the share of a show. "
        "Both as if cut sets were independent, so at most a little high (Esary and Proschan).",
        "long run: a standing installation, in which what fails is noticed and stands mended after "
        "the mean time given; what only happens before a show is left out of it.",
        "alone, in pairs: how many cut sets of one and of two.",
        "No simulation is in this, only functions of time over the wiring. "
        "`staylit risk SCENARIO --verify` holds both ways against each other.",
    )
)


def cuts_blocks(found: Iterable[CutStudy]) -> Blocks:
    """The whole report."""
    made = tuple(block for one in found for block in _one(one))
    return (*made, Heading("How to read it"), READ, Heading("Cautions"), CAUTIONS)


def _one(one: CutStudy) -> Iterator[Block]:
    yield Heading(harmless(f"{one.title}, wall group {one.group}: minimal cut sets"), 1)
    yield Para(
        f"What darkens a place for good, up to {counted(one.order, 'fault')} together, by theory "
        "alone."
    )
    yield Table(
        ("topology", "place", "alone", "in pairs", "chance", "mean", "long run"),
        tuple(_place(of, place) for of in one.topologies for place in of.places),
        frozenset({2, 3, 4, 5, 6}),
    )
    yield Para(f"Long run: everything that fails stands mended after {one.mended:g} h on average.")
    for of in one.topologies:
        yield from _topology(of, one.order)
    yield Heading("What the theory assumes")
    yield Points(tuple(map(harmless, one.assumed)))
    yield Para(f"Version {harmless(one.version)}, scenario hash {harmless(one.digest)}.")


def _place(of: TopologyCuts, place: PlaceRow) -> tuple[str, ...]:
    chances = (place.chance, place.share, place.long_run)
    counts = (grouped(place.singles), grouped(place.pairs))
    return (harmless(of.topology), where(place), *counts, *map(odds, chances))


def where(place: PlaceRow) -> str:
    """A place as people name it."""
    return harmless(f"{place.kind} {place.name}")


def _topology(of: TopologyCuts, order: int) -> Iterator[Block]:
    yield Heading(harmless(of.topology))
    yield Para(_times(of, order))
    for place in of.places:
        if place.ways:
            yield Para(f"Likeliest ways to lose all of {where(place)}:")
            yield Table(
                ("what fails", "cut sets", "chance"),
                tuple(map(_way, place.ways)),
                frozenset({1, 2}),
            )
    yield Para("Cells that hang on like things in the same way, those dark longest first:")
    yield Table(
        ("cabinet", "cabinets\nalike", "alone", "in pairs", "chance", "dark s"),
        tuple(map(_cell, of.cells)),
        frozenset({1, 2, 3, 4, 5}),
    )


def _times(of: TopologyCuts, order: int) -> str:
    second = f", {figure(of.second)} more by pairs" if order > 1 else ""
    return (
        f"Dark time expected in a show, in wall-seconds: {figure(of.first)} by single faults one "
        f"by one, less {_figure(of.overlap)} where they meet{second}: {figure(of.dark)}, off by "
        f"{figure(of.bound)} at most. More than {counted(order, 'fault')} strike in "
        f"{shows_of(odds(of.beyond))}: no cut set here has so many."
    )


def _figure(value: float) -> str:
    return figure(value) if value else "0"


def _way(way: Way) -> tuple[str, ...]:
    named = " + ".join(fault_words(kind) for kind in way.kinds)
    return (named, grouped(way.sets), odds(way.chance))


def _cell(row: CellRow) -> tuple[str, ...]:
    counts = (row.cabinets, row.singles, row.pairs)
    return (harmless(row.cabinet), *map(grouped, counts), odds(row.chance), _figure(row.dark))


def cuts_document(found: Iterable[CutStudy]) -> dict[str, Any]:
    """All of it as plain values."""
    return {
        "format": CUTS,
        "about": ABOUT,
        "cautions": list(CAUTIONS.texts),
        "groups": [as_values(one) for one in found],
    }


HEAD = (
    "group", "topology", "kind", "place", "singles", "pairs", "chance", "share", "long_run",
    "mended_hours",
)  # fmt: skip


def cuts_csv(found: Iterable[CutStudy]) -> str:
    """One line for each place and topology."""
    return as_csv(HEAD, (line for one in found for line in _lines(one)))


def _lines(one: CutStudy) -> Iterator[dict[str, Any]]:
    for of in one.topologies:
        for place in of.places:
            yield {
                "group": one.group,
                "topology": of.topology,
                "kind": place.kind,
                "place": place.name,
                "singles": place.singles,
                "pairs": place.pairs,
                "chance": place.chance,
                "share": place.share,
                "long_run": place.long_run,
                "mended_hours": one.mended,
            }
