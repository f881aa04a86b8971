"""Chunks worked out in several processes of this machine.

In: how many processes at most, a `Task`, chunks. Out: what each chunk comes to. A process that is
ended from outside costs the chunks that were under way: they are worked out again, with one process
fewer where that comes twice in a row. What ends this early ends the processes at once.
"""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import active_children, get_all_start_methods, get_context
from multiprocessing.process import BaseProcess
from typing import Any, Generic

from sim.children import begin, uninterrupted
from sim.executing import C, Executor, Here, K, Known, M, Task, done
from sim.leaving import WorkLostError

AHEAD = 4
"""So many chunks for each process are handed out at most."""
MOST_LOSSES = 3
"""So often in a row processes may be ended from outside without a chunk done."""
LOST = (
    "staylit: processes that worked a part out were ended from outside again and again, perhaps "
    "because memory ran out\n    do: run it again; `--workers 1` needs no such processes and less "
    "memory"
)


@contextmanager
def local(workers: int) -> Iterator[Executor]:
    """So many processes; only this one if that is 1."""
    if workers < 2:
        yield Here()
        return
    processes = Processes(workers)
    try:
        yield processes
    finally:
        processes.stop()


@contextmanager
def given(executor: Executor | None, workers: int) -> Iterator[Executor]:
    """The executor, or if there is none so many processes (0: one for each core) for a while."""
    if executor is not None:
        yield executor
        return
    with local(workers or os.cpu_count() or 1) as processes:
        yield processes


class Processes:
    """Processes that last until another task needs to know something else, or until `stop`."""

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._pool: ProcessPoolExecutor | None = None
        self._mark = ""
        self._others: list[BaseProcess] = []

    def each(self, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[tuple[int, M]]:
        """The number of each chunk and what it comes to, in the order in which they are done."""
        todo, under_way = _Todo(chunks), dict[Future[M], tuple[int, C]]()
        losses = 0
        try:
            while True:
                try:
                    self._hand_out(task, todo, under_way)
                    if not under_way:
                        return
                    for each in _finished(under_way):
                        losses = 0
                        yield each
                except BrokenProcessPool:
                    losses += 1
                    self._lose(todo, under_way, losses)
        finally:
            if under_way:
                self.stop()

    def _hand_out(
        self, task: Task[K, C, M], todo: _Todo[C], under_way: dict[Future[M], tuple[int, C]]
    ) -> None:
        """As many chunks as are to be under way."""
        while len(under_way) < self.workers * AHEAD and (following := todo.following()):
            try:
                under_way[self._submitted(task, following[1])] = following
            except BrokenProcessPool:
                todo.again([following])
                raise

    def _submitted(self, task: Task[K, C, M], chunk: C) -> Future[M]:
        if self._pool is not None and self._mark == task.known.mark:
            with uninterrupted():  # one that begins anew is started when there is work for it
                return self._pool.submit(_one, task.does, chunk)
        self.stop()
        self._mark, self._others = task.known.mark, active_children()
        with uninterrupted():
            way = get_context(_way())
            self._pool = ProcessPoolExecutor(self.workers, way, _begin, (task.known,))
            return self._pool.submit(_one, task.does, chunk)

    def _lose(
        self, todo: _Todo[C], under_way: dict[Future[Any], tuple[int, C]], losses: int
    ) -> None:
        """Raises WorkLostError if this happened too often."""
        todo.again(under_way.values())
        under_way.clear()
        self.stop()
        if losses > MOST_LOSSES:
            raise WorkLostError(LOST)
        if losses > 1:
            self.workers = max(self.workers - 1, 1)

    def stop(self) -> None:
        """End the processes at once."""
        pool, self._pool = self._pool, None
        if pool is not None:
            for child in active_children():
                if child not in self._others:
                    child.terminate()
            pool.shutdown(cancel_futures=True)


class _Todo(Generic[C]):
    """Chunks with their numbers; those that were lost come first."""

    def __init__(self, chunks: Iterable[C]) -> None:
        self._rest = enumerate(chunks)
        self._lost = deque[tuple[int, C]]()

    def following(self) -> tuple[int, C] | None:
        """The next one with its number, or None after the last."""
        return self._lost.popleft() if self._lost else next(self._rest, None)

    def again(self, lost: Iterable[tuple[int, C]]) -> None:
        """These are still to do."""
        self._lost.extend(lost)


def _finished(under_way: dict[Future[M], tuple[int, C]]) -> Iterator[tuple[int, M]]:
    """What is done by now, at least one; raises what a chunk raised."""
    for future in wait(under_way, return_when=FIRST_COMPLETED).done:
        made = future.result()
        yield under_way.pop(future)[0], made


# ---- in such a process


_GIVEN: list[Known[Any]] = []
"""What the tasks of this process need to know."""


def _begin(known: Known[Any]) -> None:
    begin()
    _GIVEN.append(known)


def _one(does: Callable[[Any, C], M], chunk: C) -> M:
    return done(does, _GIVEN[-1], chunk)


def _way() -> str:
    """How processes start: copies of this one are quickest, but safe only without threads."""
    alone = threading.active_count() == 1 and "fork" in get_all_start_methods()
    return "fork" if alone else "spawn"
