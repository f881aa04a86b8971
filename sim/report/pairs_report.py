"""Every double fault of a topology for people: what a backup protects against once, and not twice.

In: frozen `PairRow`s and the scenario. Out: blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sim.limits.findings import grouped
from sim.report.blocks import CAUTIONS, Block, Blocks, Heading, Para, Points, Table
from sim.report.faults_report import only_modes
from sim.report.words import counted, harmless, listed, plain, share
from sim.scenario.scenario import Scenario
from sim.study.doubles import PairRow

MOST_PAIRS = 60


def pairs_blocks(
    found: Sequence[tuple[str, Sequence[PairRow]]], scenario: Scenario, modes: Sequence[str] = ()
) -> Blocks:
    """Double faults in both orders, worst first, for groups (label, rows); of some modes only where
    these are named.
    """
    made: list[Block] = [Heading(f"{scenario.title}: every double fault, both orders", 1)]
    made += [only_modes(modes)] if modes else []
    made += [Para(_pairs_lead(label, rows)) for label, rows in found]
    for label, rows in found:
        made += _pairs(label, rows)
    made += [Heading("How to read it"), PAIRS_READ]
    return (*made, Heading("Cautions"), CAUTIONS)


PAIRS_READ = Points(
    (
        "how many: pairs of like things, with every first mode of the line and every second one.",
        "alone: how much of the group's pixels is not lit, in whatever state, after the first by "
        "itself and after the second by itself, once all has settled; together: after both. What "
        "blinks on the way is not counted.",
        "All timings are typical: where two protections race, others may leave more or less.",
        "Listed are only pairs that leave more not lit than the two alone add up to; --format csv "
        "has all.",
    )
)


def _pairs_lead(label: str, rows: Sequence[PairRow]) -> str:
    """What it comes to, with the first of the worst."""
    worse = _worse(rows)
    number = grouped(sum(row.count for row in worse)) if worse else "none"
    said = (
        f"{harmless(label)}: {number} of {counted(sum(row.count for row in rows), 'pair')} of "
        f"different faults, the second when the first has settled, {_verb(worse)} more not lit "
        "than the two alone add up to"
    )
    if not worse:
        return f"{said}."
    first, second, _, alone, both = _pair_lines(worse)[0]
    return (
        f"{said}; these are what a backup protects against once, and not twice. One of the worst: "
        f"{first}, then {second}: {alone} alone, {both} together."
    )


def _verb(worse: Sequence[PairRow]) -> str:
    return "leave" if sum(row.count for row in worse) > 1 else "leaves"


def _worse(rows: Iterable[PairRow]) -> list[PairRow]:
    return [row for row in rows if row.together > sum(row.alone)]


def _pairs(label: str, rows: Sequence[PairRow]) -> Iterator[Block]:
    lines = _pair_lines(_worse(rows))
    yield Heading(harmless(label))
    if not lines:
        yield Para("No pair here leaves more not lit than the two alone add up to.")
    else:
        yield Table(
            ("first", "second", "how many", "alone", "together"), lines[:MOST_PAIRS], NUMBER
        )
    if len(lines) > MOST_PAIRS:
        yield Para(f"{grouped(len(lines) - MOST_PAIRS)} more lines: --format csv has all.")


NUMBER = frozenset({2})
Key = tuple[str, ...]


def _pair_lines(rows: Iterable[PairRow]) -> tuple[tuple[str, ...], ...]:
    """Pairs of like things on one line where every first mode goes with every second one."""
    thens: dict[Key, dict[str, int]] = {}
    for row in rows:
        (one, mode), (other, then) = _split(row.first), _split(row.second)
        alone = listed([share(part) for part in row.alone])
        key = (one, mode, other, alone, share(row.together))
        thens.setdefault(key, {})[then] = row.count
    firsts: dict[tuple[Key, Key], dict[str, int]] = {}
    for (one, mode, other, alone, both), found in thens.items():
        place = (one, other, alone, both), tuple(sorted(found))
        firsts.setdefault(place, {})[mode] = sum(found.values())
    return tuple(
        (
            f"{plain(one)} {', '.join(modes)}",
            f"{plain(other)} {', '.join(then)}",
            grouped(sum(modes.values())),
            alone,
            both,
        )
        for ((one, other, alone, both), then), modes in firsts.items()
    )


def _split(name: str) -> tuple[str, str]:
    """The role and the mode of a row's name."""
    before, _, mode = name.rpartition(" ")
    return before, mode
