"""Chunks worked out by the workers of a Dask scheduler, on this machine or on others.

In: the address of a scheduler, a `Task`, chunks. Out: what each chunk comes to. A worker that is
lost costs the chunks that it had: the scheduler gives them to another. Whoever reaches the port of
a scheduler can run what he likes on its workers; only a trusted network will do, or TLS by Dask's
own settings.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from queue import Empty, SimpleQueue
from time import monotonic
from typing import Any

from sim.checkpoint import program
from sim.errors import StaylitError, refuse
from sim.executing import C, Executor, K, Known, M, Task, done
from sim.leaving import WorkLostError

Client = Any
Future = Any
"""Of `distributed`, which is loaded only where a cluster is asked for."""
OPTION = "--cluster"
ADDRESS = re.compile(
    r"(?:(tcp|tls)://)?([A-Za-z0-9.-]+|\[[0-9A-Fa-f:.%]+\]):([0-9]{1,5})", re.ASCII
)
ALLOWED = "tcp://HOST:PORT or tls://HOST:PORT of a Dask scheduler"
ANSWERS = 10
"""Seconds in which a scheduler must answer, and in which one must have a worker."""
ALONE = 60
"""Seconds without any worker after which the work is given up."""
LOOKS = 1.0
"""Seconds after which it is looked whether there still are workers."""
AHEAD = 8
"""So many chunks for each worker are handed out at most."""
GONE = (
    "staylit: the scheduler at {} has had no worker for a minute\n"
    "    do: start workers, and run it again; with --checkpoint it goes on from what is done"
)
LOST = (
    "staylit: workers of {} were lost again and again with the same part, perhaps because memory "
    "ran out\n    do: run it again with workers that have more memory; with --checkpoint it goes "
    "on from what is done"
)
LEFT = (
    "staylit: the scheduler at {} is not there any more, or has dropped the work\n"
    "    do: start it again, and run this again; with --checkpoint it goes on from what is done"
)


@contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """Who works at this address. Raises InputError where nobody can be reached."""
    meant = checked(address)
    client = _client(meant)
    try:
        _some_worker(client, meant)
        yield Cluster(client, meant)
    finally:
        client.close(timeout=ANSWERS)


def checked(address: str) -> str:
    """The address with its scheme. Raises InputError for what is none."""
    found = ADDRESS.fullmatch(address)
    if found is None or not 0 < int(found[3]) < 65536:
        raise refuse(OPTION, f"{address!r} is no address", ALLOWED, todo="correct the address")
    return f"{found[1] or 'tcp'}://{found[2]}:{found[3]}"


def _client(address: str) -> Client:
    try:
        import distributed
    except ImportError:
        found = "needs the package `distributed`, which this installation lacks"
        todo = "in the directory of your clone: .venv/bin/pip install -e '.[cluster]'"
        raise refuse(OPTION, found, "an installation with it", todo=todo) from None
    _silence()
    try:
        return distributed.Client(address, timeout=ANSWERS, set_as_default=False)
    except (OSError, ValueError, RuntimeError) as error:
        found = f"no scheduler answers at {address} ({type(error).__name__})"
        todo = "start one with `dask scheduler`, or correct the address"
        raise refuse(OPTION, found, ALLOWED, todo=todo) from None


def _silence() -> None:
    """What Dask has to say is said in words of ours, where it matters."""
    for name in list(logging.root.manager.loggerDict):
        if name.split(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def _some_worker(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=ANSWERS)
    except TimeoutError:
        found, todo = f"the scheduler at {address} has no worker", f"`dask worker {address}`"
        raise refuse(OPTION, found, "one worker at least", todo=todo) from None


class Cluster:
    """The workers of one scheduler."""

    def __init__(self, client: Client, address: str) -> None:
        self.client, self.address = client, address
        self.program = program()
        self._there, self._looked = 0, -LOOKS

    @property
    def workers(self) -> int:
        """Processes of workers that are there, or were a second ago."""
        if monotonic() - self._looked >= LOOKS:
            self._there = len(self.client.scheduler_info(n_workers=-1)["workers"])
            self._looked = monotonic()
        return self._there

    def each(self, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[tuple[int, M]]:
        """The number of each chunk and what it comes to, in the order in which they are done."""
        known = self.client.submit(_itself, task.known, pure=False)
        todo, ended = enumerate(chunks), SimpleQueue[Future]()
        under_way: dict[Future, int] = {}
        try:
            while True:
                while len(under_way) < max(self.workers, 1) * AHEAD and (each := next(todo, None)):
                    future = self.client.submit(
                        _one, self.program, task.does, known, each[1], pure=False
                    )
                    under_way[future] = each[0]
                    future.add_done_callback(ended.put)
                if not under_way:
                    return
                future = self._next(ended)
                yield under_way.pop(future), self._result(future)
        finally:
            self.client.cancel([*under_way, known], force=True)

    def _next(self, ended: SimpleQueue[Future]) -> Future:
        """The next chunk that has ended. Raises WorkLostError where nobody works any more."""
        idle = 0.0
        while idle < ALONE:
            try:
                return ended.get(timeout=LOOKS)
            except Empty:
                idle = 0.0 if self.workers else idle + LOOKS
        raise WorkLostError(GONE.format(self.address))

    def _result(self, future: Future) -> Any:
        """What a chunk came to. Raises what it raised, in words of ours where it was Dask's."""
        try:
            return future.result()
        except StaylitError:
            raise
        except Exception as error:
            if type(error).__module__.split(".")[0] not in ("distributed", "dask", "concurrent"):
                raise
            said = LOST if type(error).__name__ == "KilledWorker" else LEFT
            raise WorkLostError(said.format(self.address)) from None


# ---- at a worker


def _itself(known: Known[Any]) -> Known[Any]:
    """Goes to each worker once, and is made again if those that had it are lost."""
    return known


def _one(wanted: str, does: Any, known: Known[Any], chunk: Any) -> Any:
    if wanted != _program():
        found = f"a worker has version {_program()}"
        raise refuse(OPTION, found, f"the same as here, {wanted}", todo="install it there as well")
    return done(does, known, chunk)


@cache
def _program() -> str:
    return program()
