"""Who works shows out: this process, or several that each know all topologies.

In: `Field`s, shows. Out: rows in the topologies' order; the same whatever the number of processes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from itertools import product
from multiprocessing import get_all_start_methods, get_context
from multiprocessing.pool import Pool
from typing import Any, TypeVar

import numpy as np

from sim.children import begin, uninterrupted
from sim.risk.field import Field
from sim.risk.shows import Show, Union
from sim.risk.single import Single
from sim.risk.streams import Floats

FEW = 400
"""Up to so many shows of one topology are no work for another process."""
CHUNK = 2000
Heard = Callable[[int, int], None]
One = TypeVar("One")
Made = TypeVar("Made")
Task = Callable[[tuple[Field, ...], Union, One], Made]
"""Work of another kind on the same topologies."""


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

    def each(self, task: Task[One, Made], of: Sequence[One]) -> Iterator[Made]:
        """What a task makes of each of these, in their order."""
        return (task(self.fields, self.union, one) for one in of)


def exacts_of(field: Field) -> list[Single | None]:
    """Every hazard of the union by itself in one topology; what it does not have does nothing."""
    nothing = Single((0.0,) * len(field.values), ())
    return [
        nothing if local < 0 else field.exact(number) for number, local in enumerate(field.local)
    ]


class Several:
    """Copies of this process, each with all topologies."""

    def __init__(self, alone: Alone, pool: Pool) -> None:
        self.alone = alone
        self.fields, self.union = alone.fields, alone.union
        self.pool = pool

    def rows(self, shows: Sequence[Show]) -> Sequence[Floats]:
        """The rows of these shows, for every topology."""
        if len(shows) <= FEW:
            return self.alone.rows(shows)
        cuts = [shows[n : n + CHUNK] for n in range(0, len(shows), CHUNK)]
        topologies = range(len(self.alone.fields))
        made = self.pool.imap(_rows, product(topologies, cuts))
        return self.alone.joined(made, len(cuts))

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        """What every hazard of the union comes to by itself, where that has a closed form."""
        return self.alone.all_heard(self.pool.imap(_exacts, range(len(self.fields))))

    def each(self, task: Task[One, Made], of: Sequence[One]) -> Iterator[Made]:
        """What a task makes of each of these, in their order."""
        return self.pool.imap(partial(_each, task), of)


_KNOWN: list[Alone] = []
"""The topologies, as a copied process finds them."""


def _rows(of: tuple[int, Sequence[Show]]) -> Floats:
    topology, shows = of
    return _KNOWN[-1].fields[topology].rows(shows)


def _exacts(topology: int) -> list[Single | None]:
    return exacts_of(_KNOWN[-1].fields[topology])


def _each(task: Task[Any, Any], one: Any) -> Any:
    return task(_KNOWN[-1].fields, _KNOWN[-1].union, one)


@contextmanager
def bench(
    fields: Sequence[Field], union: Union, jobs: int, heard: Heard = nobody
) -> Iterator[Alone | Several]:
    """One process if `jobs` is 1 or processes cannot be copied here. `heard`: is told how many
    parts of a long piece of work are done, of how many.
    """
    alone = Alone(fields, union, heard)
    if jobs < 2 or "fork" not in get_all_start_methods():
        yield alone
        return
    _KNOWN.append(alone)
    try:
        with uninterrupted():
            pool = get_context("fork").Pool(jobs, begin)
        with pool:
            yield Several(alone, pool)
        pool.join()
    finally:
        _KNOWN.pop()
