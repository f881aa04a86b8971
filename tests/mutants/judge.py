"""A pytest plugin that lets chosen tests judge mutants, each in a process of its own.

In: mutants, and the tests that pytest has collected. Out: one `Verdict` each, told as it falls.
First a process without a mutant measures how long each test takes (processor time) and which lines
it runs. Then for each mutant a copy of this process makes the mistake and runs the tests that come
by it, the quickest and the last killers first, until one fails. What takes far longer than without
a mistake, or more memory than `MEMORY`, is ended and counts as killed: those are told apart.
"""

from __future__ import annotations

import gc
import os
import pickle
import resource
import signal
import sys
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import TypeVar

import coverage
import pytest
from _pytest.runner import runtestprotocol

from tests.mutants.made import Mutant, put_in
from tests.mutants.results import ENDED, KILLED, SURVIVED, UNSEEN

T = TypeVar("T")
MEMORY = 3 << 30
"""Bytes of address space that a mutant may take in all: a list without end stops there."""
LEAST_SECONDS = 2
"""Of processor time that a test has in any case, beyond three times what it and the longest need
(which may have worked out what others share).
"""


@dataclass(frozen=True)
class Verdict:
    """`by`: the test that failed; `seconds` of processor time."""

    mutant: Mutant
    state: str
    by: str
    seconds: float


@dataclass(frozen=True)
class Known:
    """Of a test without any mutant: seconds of processor time, lines that it runs by file."""

    seconds: float
    lines: dict[str, frozenset[int]]


class Judge:
    """`judges`: the test files that judge a mutant; `every`: all of their tests, not only those
    that run a line of the statement changed.
    """

    def __init__(
        self,
        mutants: Sequence[Mutant],
        judges: Callable[[Mutant], Collection[str]],
        tell: Callable[[Verdict], None],
        every: bool,
    ) -> None:
        self.mutants, self.judges, self.tell, self.every = mutants, judges, tell, every
        self.killers: dict[str, list[str]] = {}

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            raise session.Failed("the tests cannot be collected")
        items = {item.nodeid: item for item in session.items}
        gc.collect()
        gc.freeze()
        known = _in_a_copy(lambda: _known(list(items.values()), {m.file for m in self.mutants}))
        if known is None:
            raise session.Failed("a test fails without any mutant")
        print(f"{len(known)} tests, {sum(k.seconds for k in known.values()):.1f} s", flush=True)
        for mutant in self.mutants:
            self.tell(self._verdict(mutant, items, known))
        return True

    def _verdict(
        self, mutant: Mutant, items: dict[str, pytest.Item], known: dict[str, Known]
    ) -> Verdict:
        last = self.killers.setdefault(mutant.function, [])
        files = self.judges(mutant)
        judging = [n for n in items if n.split("::")[0] in files]
        chosen = [n for n in judging if self.every or _comes_by(known[n], mutant)]
        if not chosen:
            return Verdict(mutant, UNSEEN, "", 0.0)
        chosen.sort(key=lambda n: (n not in last, known[n].seconds))
        longest = max(known[n].seconds for n in judging)
        limits = {n: LEAST_SECONDS + 3 * (known[n].seconds + longest) for n in chosen}
        begun = _children()
        found = _in_a_copy(lambda: _killer(mutant, [items[n] for n in chosen], limits))
        seconds = _children() - begun
        if found is None:
            return Verdict(mutant, ENDED, "", seconds)
        if found:
            self.killers[mutant.function] = [found, *(n for n in last if n != found)][:3]
        return Verdict(mutant, KILLED if found else SURVIVED, found, seconds)


def _comes_by(known: Known, mutant: Mutant) -> bool:
    return not known.lines.get(mutant.file, frozenset()).isdisjoint(mutant.lines)


def _killer(mutant: Mutant, items: Sequence[pytest.Item], limits: dict[str, float]) -> str:
    """The first test that fails with the mutant; none: an empty text. One that takes more than its
    limit (seconds of processor time) ends the process.
    """
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    put_in(mutant)
    for item, following in zip_longest(items, items[1:]):
        signal.setitimer(signal.ITIMER_PROF, limits[item.nodeid])
        if not _passes(item, following):
            return str(item.nodeid)
    return ""


def _passes(item: pytest.Item, following: pytest.Item | None) -> bool:
    return not any(r.failed for r in runtestprotocol(item, nextitem=following, log=False))


def _known(items: Sequence[pytest.Item], files: set[str]) -> dict[str, Known] | None:
    """What each test takes and runs; None if one fails."""
    cover = coverage.Coverage(data_file=None, include=sorted(files), config_file=False)
    seconds = {}
    cover.start()
    for item in items:
        cover.switch_context(item.nodeid)
        begun = time.process_time()
        if not _passes(item, None):
            print(f"fails without any mutant: {item.nodeid}", file=sys.__stderr__)
            return None
        seconds[item.nodeid] = time.process_time() - begun
    cover.stop()
    lines: dict[str, dict[str, set[int]]] = {name: {} for name in seconds}
    for file in files:
        for line, names in cover.get_data().contexts_by_lineno(file).items():
            for name in names:
                if name in lines:
                    lines[name].setdefault(file, set()).add(line)
    return {
        name: Known(seconds[name], {file: frozenset(found) for file, found in by_file.items()})
        for name, by_file in lines.items()
    }


def _children() -> float:
    """Seconds of processor time of all copies that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _in_a_copy(work: Callable[[], T]) -> T | None:
    """What `work` returns in a copy of this process, which prints nothing; None if it was ended."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.close(read)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            result = pickle.dumps(work())
            with os.fdopen(write, "wb") as pipe:
                pipe.write(result)
            status = 0
        finally:
            os._exit(status)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        answer = pipe.read()
    _, ended = os.waitpid(child, 0)
    return pickle.loads(answer) if ended == 0 else None
