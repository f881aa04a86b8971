"""Rows that say the same of many names, told once: reports of large rigs stay readable.

In: names, each with what is said of it. Out: the same in the same order; where more than a few say
the same, the first names and how many more there are. Machine-readable reports fold nothing.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from typing import TypeVar

from sim.limits.findings import first_few

Said = TypeVar("Said", bound=Hashable)
MOST_APART = 8
"""So many names of which the same is said stand in lines of their own."""
NAMED = 3


def folded(rows: Sequence[tuple[str, Said]]) -> Iterator[tuple[str, Said]]:
    """Names with what is said of them; many of which the same is said come in the place of the
    first of them.
    """
    names: dict[Said, list[str]] = {}
    for name, said in rows:
        names.setdefault(said, []).append(name)
    told: set[Said] = set()
    for name, said in rows:
        if len(names[said]) <= MOST_APART:
            yield name, said
        elif said not in told:
            told.add(said)
            yield f"each of {first_few(names[said], NAMED)}", said


def folded_rows(rows: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Rows of a table of which the first cell is a name."""
    return tuple((name, *rest) for name, rest in folded([(row[0], row[1:]) for row in rows]))
