"""Work cut into chunks, worked out in this process or in several, whichever is asked for.

In: a `Task` (what to do with a chunk, and what a process must know for it), chunks. Out: what each
chunk comes to. A chunk is a frozen value that carries all it needs, its random numbers or their
seed among it, and what it comes to depends on nothing else: not on how many processes there are,
which of them does it, in which order, or whether one of them ended meanwhile.
"""

from __future__ import annotations

import pickle
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import blake2b
from typing import Any, Generic, Protocol, TypeVar

K = TypeVar("K")
C = TypeVar("C")
M = TypeVar("M")
Json = Any
"""What JSON can say: None, truths, whole numbers, floats, texts, lists and mappings of them."""

MOST_KNOWN = 4
"""So many values a process keeps prepared; the one that it has not needed longest goes first."""


@dataclass(frozen=True, slots=True)
class Known(Generic[K]):
    """What a process must know before it works, prepared once in each: `prepare(given)`. Both
    travel to other processes: `prepare` is a function of a module, `given` can be pickled.
    """

    prepare: Callable[[Any], K]
    given: Any
    mark: str = field(init=False, compare=False)

    def __post_init__(self) -> None:
        text = pickle.dumps((self.prepare, self.given))
        object.__setattr__(self, "mark", blake2b(text, digest_size=16).hexdigest())


@dataclass(frozen=True, slots=True)
class Plain(Generic[M]):
    """How what a chunk comes to stands in a journal. `unpack` raises ValueError for anything that
    `pack` cannot have made; `fits` (a chunk, what it came to) is false for what that chunk cannot
    come to. Neither trusts what it gets.
    """

    pack: Callable[[M], Json]
    unpack: Callable[[Json], M]
    fits: Callable[[Any, M], bool] = lambda chunk, made: True


@dataclass(frozen=True, slots=True)
class Task(Generic[K, C, M]):
    """`does`: a function of a module, pure: of what is known and a chunk. `name` tells the task
    from others on the same. `plain`: None where a journal cannot keep what chunks come to.
    """

    name: str
    does: Callable[[K, C], M]
    known: Known[K]
    plain: Plain[M] | None = None


class Executor(Protocol):
    """Who works chunks out. `workers`: how many of them at once, as far as is known."""

    @property
    def workers(self) -> int:
        """How many chunks are worked out at once."""

    def each(self, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[tuple[int, M]]:
        """The number of each chunk (from 0) and what it comes to, in the order in which they are
        done. Raises WorkLostError if workers end from outside again and again, and whatever a
        chunk raises.
        """


def run(executor: Executor, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[M]:
    """What each chunk comes to, in the order of the chunks."""
    early: dict[int, M] = {}
    following = 0
    for number, made in executor.each(task, chunks):
        early[number] = made
        while following in early:
            yield early.pop(following)
            following += 1


class Here:
    """Everything in this process, one chunk after the other."""

    workers = 1

    def each(self, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[tuple[int, M]]:
        """The number of each chunk and what it comes to, in their order."""
        for number, chunk in enumerate(chunks):
            yield number, done(task.does, task.known, chunk)


# ---- in a process that works


_PREPARED: OrderedDict[str, Any] = OrderedDict()
_TURN = threading.RLock()
"""What is prepared remembers what it worked out, so that only one thread of a process may use it:
a worker of a cluster may have several.
"""


def done(does: Callable[[K, C], M], known: Known[K], chunk: C) -> M:
    """One chunk, with what is prepared here."""
    with _TURN:
        return does(prepared(known), chunk)


def prepared(known: Known[K]) -> K:
    """What this process knows of it; prepared when it is needed first."""
    with _TURN:
        if known.mark not in _PREPARED:
            _PREPARED[known.mark] = known.prepare(known.given)
        made: K = _PREPARED[known.mark]
        return hold(known, made)


def hold(known: Known[K], made: K) -> K:
    """Keep what is prepared already; copies of this process find it as well."""
    with _TURN:
        _PREPARED[known.mark] = made
        _PREPARED.move_to_end(known.mark)
        while len(_PREPARED) > MOST_KNOWN:
            _PREPARED.popitem(last=False)
        return made


@contextmanager
def holding(known: Known[K], made: K) -> Iterator[None]:
    """For a while this process, and copies of it, need not prepare what it has made already."""
    hold(known, made)
    try:
        yield
    finally:
        forget(known)


def forget(known: Known[Any]) -> None:
    """What was prepared is not needed any more in this process."""
    with _TURN:
        _PREPARED.pop(known.mark, None)
