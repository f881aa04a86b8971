"""What `explain` tells about an equipment type, as pairs of what and value, and its failure rates.

In: a `Kit` and what is told of it. Out: texts, empty ones for what is not said; blocks. Rates are
per hour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.limits.findings import first_few, grouped, kind_words
from sim.report.blocks import Block, Heading, Para, Table
from sim.report.words import harmless, listed, plain
from sim.rig.kit import Kit
from sim.study.told import RateTold, TypeTold

MOST = 12
"""So many names are written out; JSON has all."""
CHOOSING = frozenset({"processor", "relay", "receiver"})
LIMITS = ("ports", "trunks", "trunk_inputs", "inputs", "chain", "pixels", "line_width", "reach")


def kit_facts(kit: Kit, told: TypeTold) -> Iterator[tuple[str, str]]:
    """What is known of a type: (what, value)."""
    things = first_few([plain(name) for name in told.things], MOST)
    yield "kind", kind_words(kit.family)
    yield "like", listed(map(harmless, told.like))
    yield "in this rig", f"{len(told.things)}: {things}" if told.things else "none"
    yield "choice of input", kit.picks.restore if kit.family in CHOOSING else ""
    yield "monitored", "yes" if kit.monitored else "no"
    yield "price", "not said" if kit.price is None else f"{float(kit.price):g}"
    for name in LIMITS:
        value = getattr(kit.limits, name)
        yield name.replace("_", " "), "" if value is None else grouped(int(value))


def rate_blocks(found: Sequence[RateTold]) -> Iterator[Block]:
    """The failure rates of a type, and which of them are placeholders."""
    if found:
        yield Heading("Failure rates")
        own = sum(rate.own for rate in found)
        stated = f"{own} of {len(found)} are stated for this rig. " if own else ""
        rest = "The others are placeholders" if own else "Placeholders"
        if own < len(found):
            stated += (
                f"{rest}, no evidence: they stand for every type of this kind until `rates` or "
                "`rate_files` in the scenario replace them. "
            )
        yield Para(f"{stated}The truth may be so many times more or less.")
        head = ("fault", "per hour of one", "times more or less", "source")
        rows = ((r.mode, f"{r.per_hour:g}", f"{r.error_factor:.3g}", r.source) for r in found)
        yield Table(head, tuple(rows), frozenset({1, 2}))
