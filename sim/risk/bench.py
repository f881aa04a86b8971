"""Who works shows out: this process, or an executor's, each of which knows all topologies.

In: `Field`s, shows. Out: rows in the topologies' order; the same whoever works them out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Generic, Protocol, TypeVar

import numpy as np

from sim.executing import Executor, Here, Known, Plain, Task, holding, run
from sim.risk.field import Field
from sim.risk.parcels import EXACTS, ROWS, Packed, cut, packed, unpacked
from sim.risk.shows import Show, Union
from sim.risk.single import Single
from sim.risk.streams import Floats

CHUNK = 2000
BLOCK = 500
"""So many hazards of one topology are summed exactly in one go."""
Heard = Callable[[int, int], None]
One = TypeVar("One")
Made = TypeVar("Made")


class Topologies(Protocol):
    """What every process knows."""

    @property
    def fields(self) -> tuple[Field, ...]:
        """The topologies."""

    @property
    def union(self) -> Union:
        """Their hazards."""


@dataclass(frozen=True, slots=True)
class Extra(Generic[One, Made]):
    """Work of another kind on the same topologies."""

    name: str
    does: Callable[[Any, One], Made]
    plain: Plain[Made]


def nobody(done: int, of: int) -> None:
    """Nobody hears of parts done."""


class Alone:
    """Everything in this process."""

    def __init__(self, fields: Sequence[Field], union: Union, heard: Heard = nobody) -> None:
        self.fields = tuple(fields)
        self.union = union
        self.heard = heard

    def rows(self, shows: Sequence[Show]) -> Sequence[Floats]:
        """The rows of these shows, for every topology."""
        cuts = [shows[n : n + CHUNK] for n in range(0, len(shows), CHUNK)]
        if not cuts:
            return [field.rows(shows) for field in self.fields]
        todo = list(product(self.fields, cuts))
        return self.joined((field.rows(cut) for field, cut in todo), len(cuts))

    def joined(self, made: Iterator[Floats], cuts: int) -> Sequence[Floats]:
        """The rows of all shows from those of their parts, heard of one by one."""
        count, found = len(self.fields), list[Floats]()
        for rows in made:
            found.append(rows)
            if cuts > 1:
                self.heard(len(found), count * cuts)
        return [np.concatenate(found[n * cuts : (n + 1) * cuts]) for n in range(count)]

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        """What every hazard of the union comes to by itself, where that has a closed form."""
        return self.all_heard(exacts_of(field) for field in self.fields)

    def all_heard(self, made: Iterator[list[Single | None]]) -> Sequence[Sequence[Single | None]]:
        """Of every topology, heard of one by one."""
        found = []
        for each in made:
            found.append(each)
            self.heard(len(found), len(self.fields))
        return found

    def each(self, work: Extra[One, Made], of: Sequence[One]) -> Iterator[Made]:
        """What more work makes of each of these, in their order."""
        return (work.does(self, one) for one in of)


def exacts_of(field: Field, begin: int = 0, end: int | None = None) -> list[Single | None]:
    """Every hazard of the union by itself in one topology, or some of them; what it does not have
    does nothing.
    """
    nothing = Single((0.0,) * len(field.values), ())
    return [
        nothing if field.local[number] < 0 else field.exact(number)
        for number in range(len(field.local))[begin:end]
    ]


class Several:
    """An executor's processes, each with all topologies."""

    def __init__(self, alone: Alone, executor: Executor, known: Known[Any], name: str) -> None:
        self.alone = alone
        self.fields, self.union = alone.fields, alone.union
        self.executor, self.known, self.name = executor, known, name

    def rows(self, shows: Sequence[Show]) -> Sequence[Floats]:
        """The rows of these shows, for every topology."""
        cuts = cut(shows)
        if len(cuts) < 2:
            return self.alone.rows(shows)
        chunks = product(range(len(self.fields)), map(packed, cuts))
        return self.alone.joined(
            self.each(Extra("rows", _rows, replace(ROWS, fits=self._rows_fit)), list(chunks)),
            len(cuts),
        )

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        """What every hazard of the union comes to by itself, where that has a closed form."""
        blocks = range(0, max(len(self.union.hazards), 1), BLOCK)
        chunks = list(product(range(len(self.fields)), blocks))
        made = self.each(Extra("exacts", _exacts, replace(EXACTS, fits=self._exacts_fit)), chunks)
        return self.alone.all_heard(
            [one for _ in blocks for one in next(made)] for _ in self.fields
        )

    def each(self, work: Extra[One, Made], of: Sequence[One]) -> Iterator[Made]:
        """What more work makes of each of these, in their order."""
        task = Task(f"{work.name} of {self.name}", work.does, self.known, work.plain)
        return run(self.executor, task, of)

    def _rows_fit(self, of: tuple[int, Packed], made: Floats) -> bool:
        return made.shape == (of[1].count, self.fields[of[0]].gauge.size)

    def _exacts_fit(self, of: tuple[int, int], made: Sequence[Single | None]) -> bool:
        hazards = range(len(self.union.hazards))[of[1] : of[1] + BLOCK]
        return singles_fit(self.fields[of[0]], len(hazards), made)


def singles_fit(field: Field, hazards: int, made: Sequence[Single | None]) -> bool:
    """Whether these may be so many hazards of a topology, by the number of their numbers."""
    found = [each for each in made if each is not None]
    rows = {len(row) for each in found for _, row in each.nights}
    means = {len(each.means) for each in found}
    return len(made) == hazards and rows <= {field.gauge.size} and means <= {len(field.values)}


def _rows(known: Topologies, of: tuple[int, Packed]) -> Floats:
    topology, shows = of
    return known.fields[topology].rows(unpacked(shows))


def _exacts(known: Topologies, of: tuple[int, int]) -> list[Single | None]:
    topology, begin = of
    return exacts_of(known.fields[topology], begin, begin + BLOCK)


@contextmanager
def bench(
    known: Known[Any], made: Topologies, name: str, executor: Executor, heard: Heard = nobody
) -> Iterator[Alone | Several]:
    """`made`: what is known, as this process has it; `name` tells it from others of a command.
    `heard`: is told how many parts of a long piece of work are done, of how many.
    """
    alone = Alone(made.fields, made.union, heard)
    if isinstance(executor, Here):
        yield alone
        return
    with holding(known, made):
        yield Several(alone, executor, known, name)
