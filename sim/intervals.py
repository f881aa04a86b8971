"""Sets of whole numbers as disjoint half-open intervals: instants in flicks, or frames by number.

In: pairs (start, end) of integers in any order. Out: frozen `Intervals`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Intervals:
    """Disjoint, sorted [start, end) that do not touch; made by `intervals`, which sees to that."""

    spans: tuple[Span, ...] = ()

    @property
    def total(self) -> int:
        """How many whole numbers there are in it."""
        return sum(end - start for start, end in self.spans)

    def __iter__(self) -> Iterator[Span]:
        return iter(self.spans)

    def __bool__(self) -> bool:
        return bool(self.spans)

    def __contains__(self, number: object) -> bool:
        return any(start <= number < end for start, end in self.spans if isinstance(number, int))

    def __or__(self, other: Intervals) -> Intervals:
        return intervals((*self.spans, *other.spans))

    def __and__(self, other: Intervals) -> Intervals:
        return Intervals(tuple(_common(self.spans, other.spans)))

    def __sub__(self, other: Intervals) -> Intervals:
        if not self.spans:
            return self
        return self & _gaps(other, self.spans[0][0], self.spans[-1][1])


def intervals(spans: Iterable[Span]) -> Intervals:
    """The union of any spans; empty ones (end <= start) do not count."""
    joined: list[Span] = []
    for start, end in sorted(span for span in spans if span[0] < span[1]):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return Intervals(tuple(joined))


def _common(one: tuple[Span, ...], other: tuple[Span, ...]) -> Iterator[Span]:
    i = j = 0
    while i < len(one) and j < len(other):
        start, end = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if start < end:
            yield start, end
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1


def _gaps(held: Intervals, start: int, end: int) -> Intervals:
    """What of [start, end) is not held."""
    edges = [start, *(edge for span in held.spans for edge in span), end]
    clipped = [min(max(edge, start), end) for edge in edges]
    return intervals(zip(clipped[::2], clipped[1::2], strict=True))
