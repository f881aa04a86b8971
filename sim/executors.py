"""Who carries work out: processes of this machine or a cluster, with a journal or without.

In: what was asked on the command line (`How`), what the work is. Out: an `Executor`, for a while.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sim.executing import Executor
from sim.output import may_be_written
from sim.processes import given
from sim.scenario.digest import digest_of
from sim.scenario.included import files_of
from sim.scenario.scenario import Scenario


@dataclass(frozen=True, slots=True)
class How:
    """How work is carried out: `workers`: processes at most (0: one for each core); `cluster`: the
    address of a scheduler instead; `checkpoint`: the file of a journal; "" for none.
    """

    workers: int = 0
    cluster: str = ""
    checkpoint: str = ""


HERE = How()


@contextmanager
def opened(how: How, work: Sequence[object], inputs: Iterable[Path] = ()) -> Iterator[Executor]:
    """Who does it. `work`: values whose `repr` tells it from all other work. Raises InputError for
    a journal or a cluster that cannot be used.
    """
    if not how.checkpoint:
        with _workers(how) as executor:
            yield executor
        return
    from sim.checkpoint import OPTION, header_of, kept

    may_be_written(how.checkpoint, inputs, OPTION, "read by this run", whole=False)
    with kept(how.checkpoint, header_of(work)) as journal, _workers(how) as executor:
        yield journal.over(executor)


def carried_out(
    scenario: Scenario, path: Path, work: Sequence[object], how: How
) -> AbstractContextManager[Executor]:
    """Who does it, for a while; a journal is of this scenario and of what was asked alone."""
    inputs = [path, *files_of(scenario, path)]
    return opened(how, (digest_of(scenario), *work), inputs)


@contextmanager
def _workers(how: How) -> Iterator[Executor]:
    if not how.cluster:
        with given(None, how.workers) as executor:
            yield executor
        return
    from sim.cluster import cluster

    with cluster(how.cluster) as executor:
        yield executor
