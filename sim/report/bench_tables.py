"""Tables in which equal parts stand once, and sentences with their names taken out.

In: any values that can be hashed; events of a run. Out: numbers, runs of numbers, templates.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import Generic, TypeVar

from sim.report.events import Event
from sim.report.words import harmless, plain

Template = tuple[str | int, ...]
"""A sentence in parts; a number stands for a name."""
MOST_NAMED = 2
"""Events of more things than this name none of them."""
T = TypeVar("T", bound=Hashable)


class Once(Generic[T]):
    """Values, each kept once; `of` gives the number of one."""

    def __init__(self) -> None:
        self.numbers: dict[T, int] = {}

    def of(self, value: T) -> int:
        return self.numbers.setdefault(value, len(self.numbers))

    @property
    def values(self) -> list[T]:
        return [*self.numbers]


def runs(numbers: Iterable[int]) -> list[int]:
    """Ascending numbers as runs: first, last, first, last ..."""
    found: list[int] = []
    for number in numbers:
        if found and found[-1] == number - 1:
            found[-1] = number
        else:
            found += [number, number]
    return found


def forms(event: Event) -> Iterator[str]:
    """How the names of an event may be printed in its sentence."""
    if len(event.names) <= MOST_NAMED:
        for name in event.names:
            yield plain(name)
            yield harmless(name.partition("#")[0])


def template(text: str, order: Sequence[str], fill: Sequence[str]) -> Template:
    """A sentence with names taken out, the longest first; a number stands for one."""
    parts: list[str | int] = [text]
    for name in order:
        parts = [piece for part in parts for piece in _apart(part, name, fill.index(name))]
    return tuple(parts)


def _apart(part: str | int, name: str, number: int) -> list[str | int]:
    if isinstance(part, int) or not name or name not in part:
        return [part]
    before, after = part.split(name, 1)
    rest = _apart(after, name, number)
    return [piece for piece in (before, number, *rest) if piece != ""]
