"""How late the picture is, how it jumps, and how far walls are apart, as `check` tells it.

In: a frozen `GroupCheck`. Out: sentences.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor

from sim.limits.findings import decimal, micro
from sim.report.words import plain, wall_words
from sim.study.checkup import GroupCheck, Leap


def delays(group: GroupCheck) -> Iterator[str]:
    """The sentences of one group."""
    if group.delay is None:
        yield "Some cabinet is not fed, so there is no delay to tell."
        return
    yield (
        f"The picture is {_span(group.delay.usual)} frames late by the usual paths, "
        f"{_span(group.delay.any)} by any."
    )
    for leap in group.leaps:
        yield _leap(leap)
    for gap in group.gaps:
        yield (
            f"{wall_words(gap.one)} and {wall_words(gap.other)} show the same picture "
            f"{micro(gap.usual)} apart, up to {micro(gap.most)} by other paths."
        )


def _span(span: tuple[Fraction, Fraction]) -> str:
    low, high = map(decimal, span)
    return low if low == high else f"{low} to {high}"


def _leap(leap: Leap) -> str:
    jump, called = leap.jump, plain(leap.role)
    whose = f"{called}: " if leap.count == 1 else f"{called} ({leap.count} of them): "
    if not jump.flicks:
        return f"{whose}no jump when it changes over."
    way = "later" if jump.flicks > 0 else "earlier"
    size = abs(jump.frames)
    return (
        f"{whose}the picture jumps {decimal(size)} frames {way} at a changeover "
        f"({floor(size)} to {ceil(size)} whole frames)."
    )
