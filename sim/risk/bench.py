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
One = TypeVar("One")
Made = TypeVar("Made")
Task = Callable[[tuple[Field, ...], Union, One], Made]
"""Work of another kind on the same topologies."""


class Alone:
    """Everything in this process."""

    def __init__(self, fields: Sequence[Field], union: Union) -> None:
        self.fields = tuple(fields)
        self.union = union

    def rows(self, shows: Sequence[Show]) -> Sequence[Floats]:
        """The rows of these shows, for every topology."""
        return [field.rows(shows) for field in self.fields]

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        """What every hazard of the union comes to by itself, where that has a closed form."""
        return [exacts_of(field) for field in self.fields]

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

    def __init__(self, fields: Sequence[Field], union: Union, pool: Pool) -> None:
        self.alone = Alone(fields, union)
        self.fields, self.union = self.alone.fields, union
        self.pool = pool

    def rows(self, shows: Sequence[Show]) -> Sequence[Floats]:
        """The rows of these shows, for every topology."""
        if len(shows) <= FEW:
            return self.alone.rows(shows)
        cuts = [shows[n : n + CHUNK] for n in range(0, len(shows), CHUNK)]
        topologies = range(len(self.alone.fields))
        made = self.pool.starmap(_rows, product(topologies, cuts), chunksize=1)
        count = len(cuts)
        return [np.concatenate(made[n * count : (n + 1) * count]) for n in topologies]

    def exacts(self) -> Sequence[Sequence[Single | None]]:
        """What every hazard of the union comes to by itself, where that has a closed form."""
        return self.pool.map(_exacts, range(len(self.alone.fields)), chunksize=1)

    def each(self, task: Task[One, Made], of: Sequence[One]) -> Iterator[Made]:
        """What a task makes of each of these, in their order."""
        return self.pool.imap(partial(_each, task), of)


_KNOWN: list[Alone] = []
"""The topologies, as a copied process finds them."""


def _rows(topology: int, shows: Sequence[Show]) -> Floats:
    return _KNOWN[-1].fields[topology].rows(shows)


def _exacts(topology: int) -> list[Single | None]:
    return exacts_of(_KNOWN[-1].fields[topology])


def _each(task: Task[Any, Any], one: Any) -> Any:
    return task(_KNOWN[-1].fields, _KNOWN[-1].union, one)


@contextmanager
def bench(fields: Sequence[Field], union: Union, jobs: int) -> Iterator[Alone | Several]:
    """One process if `jobs` is 1 or processes cannot be copied here."""
    if jobs < 2 or "fork" not in get_all_start_methods():
        yield Alone(fields, union)
        return
    _KNOWN.append(Alone(fields, union))
    try:
        with uninterrupted():
            pool = get_context("fork").Pool(jobs, begin)
        with pool:
            yield Several(fields, union, pool)
        pool.join()
    finally:
        _KNOWN.pop()
