"""Work that goes on where it was cut off: an executor that keeps what is done in a journal.

In: the path of a journal, what the work is, an `Executor`. Out: an executor that does not work out
again what the journal holds; the journal grows by a line for each chunk that is done, whatever ends
the run after it. Raises InputError for a journal of other work or another version, one that is
damaged or used by another run, and for a full disk; nothing of such a file is changed.
"""

from __future__ import annotations

import io
import json
import os
import platform
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from hashlib import blake2b
from importlib.metadata import version
from pathlib import Path
from time import monotonic

from sim import __version__
from sim.errors import InputError, refuse
from sim.executing import C, Executor, Json, K, M, Task
from sim.journal import (
    ANOTHER,
    ELSEWHERE,
    MOST_BYTES,
    MOST_LINE,
    MOST_LINES,
    Header,
    Journal,
    header_in,
    line_of,
    records_in,
)
from sim.output import append_whole

OPTION = "--checkpoint"
SECURED = 1.0
"""Seconds: so often at most what is written is forced to the disk. Until then it outlives the
program, but not the machine.
"""


def header_of(work: Iterable[object]) -> Header:
    """Of what is worked out: values whose `repr` tells them from all others."""
    text = repr(tuple(work)).encode()
    return Header(blake2b(text, digest_size=16).hexdigest(), program())


def program() -> str:
    """What works it out: the version, a mark of its files, the versions of Python and of numpy;
    another one may give other last digits.
    """
    mark = blake2b(digest_size=6)
    here = Path(__file__).parent
    for path in sorted(here.rglob("*.py")):
        mark.update(path.relative_to(here).as_posix().encode() + b"\0" + path.read_bytes())
    return f"{__version__}-{mark.hexdigest()}-{platform.python_version()}-{version('numpy')}"


@contextmanager
def kept(path: str, header: Header) -> Iterator[Writing]:
    """A journal, which nobody else can use meanwhile."""
    with _opened(path) as file:
        _no_stream(file, path)
        _only_here(file, path)
        writing = Writing(file, path, header)
        try:
            yield writing
        finally:
            with suppress(OSError):
                os.fsync(file.fileno())


def _opened(path: str) -> io.FileIO:
    """Raises InputError for what is no file, or cannot be written."""
    try:
        if Path(path).exists() and not Path(path).is_file():
            raise refuse(OPTION, f"{path} is no file", "a journal, or a new file", todo=ELSEWHERE)
        return io.FileIO(os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o666), "r+b")
    except (OSError, ValueError, RuntimeError) as error:
        raise _unusable(path, error) from None


def _no_stream(file: io.FileIO, path: str) -> None:
    """Raises InputError if the shell writes into it as well, what is printed or complained."""
    for stream in (1, 2):
        with suppress(OSError):
            if os.path.sameopenfile(file.fileno(), stream):
                found = f"{path} is where this run prints"
                raise refuse(OPTION, found, "a journal, or a new file", todo=ELSEWHERE)


def _only_here(file: io.FileIO, path: str) -> None:
    """Raises InputError if another run uses the journal, where the system can tell."""
    try:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        found, todo = f"{path} is used by another run", "wait until it ends, or name another file"
        raise refuse(OPTION, found, "a journal of its own for each run", todo=todo) from None
    except (ImportError, OSError):
        return


class Writing:
    """An open journal of this work: what it holds, and its end, to which more is written."""

    def __init__(self, file: io.FileIO, path: str, header: Header) -> None:
        self.file, self.path, self.header = file, path, header
        found = self._read()
        self.records = found.records
        self.secured = monotonic()
        self.whole = found.whole
        self.lines = 1 + len(found.records)
        self._cut_torn()
        if not self.whole:
            self._append(header.line())

    def _read(self) -> Journal:
        """What the file holds. Raises InputError if it cannot go on there: whose it is comes first,
        before all of it is read.
        """
        try:
            self.file.seek(0)
            reader = io.BufferedReader(self.file)
            try:
                header = header_in(reader, self.path)
                if header is not None:
                    self._must_be_ours(header)
                    return records_in(reader, header, self.path)
            finally:
                reader.detach()
            self.file.seek(0)
            begun = self.file.read(len(self.header.line()))
        except OSError as error:
            raise _unusable(self.path, error) from None
        if not self.header.line().startswith(begun):
            raise _other_work(self.path)
        return Journal()

    def _must_be_ours(self, header: Header) -> None:
        """Raises InputError for a journal of other work or of another version."""
        if header.work != self.header.work:
            raise _other_work(self.path)
        if header.program != self.header.program:
            said = f"{self.path} was written by version {header.program}"
            raise refuse(OPTION, said, f"this version, {self.header.program}", todo=ANOTHER)

    def _cut_torn(self) -> None:
        """What was torn while it was written is taken away."""
        try:
            if os.fstat(self.file.fileno()).st_size > self.whole:
                os.ftruncate(self.file.fileno(), self.whole)
        except OSError as error:
            raise _unusable(self.path, error) from None

    def over(self, executor: Executor) -> Executor:
        """The executor whose results this journal keeps."""
        return Kept(executor, self)

    def put(self, key: str, made: Json) -> None:
        """A chunk is done. What a journal has no room for is worked out again another time."""
        text = json.dumps(made, separators=(",", ":"), allow_nan=False).encode("ascii")
        line = line_of(self.header.work, key, text)
        room = self.whole + len(line) <= MOST_BYTES and self.lines < MOST_LINES
        if room and len(line) < MOST_LINE:
            self._append(line)
            self.lines += 1
        if monotonic() - self.secured > SECURED:
            os.fsync(self.file.fileno())
            self.secured = monotonic()

    def _append(self, line: bytes) -> None:
        try:
            append_whole(self.file, line, self.whole)
        except OSError as error:
            raise _unusable(self.path, error) from None
        self.whole += len(line)


class Kept:
    """An executor whose results a journal keeps."""

    def __init__(self, executor: Executor, writing: Writing) -> None:
        self.executor, self.writing = executor, writing

    @property
    def workers(self) -> int:
        """As many as do the work."""
        return self.executor.workers

    def each(self, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[tuple[int, M]]:
        """The number of each chunk and what it comes to, in the order in which they are done;
        what the journal holds when it is its turn.
        """
        plain = task.plain
        if plain is None:
            yield from self.executor.each(task, chunks)
            return
        known, places = deque[tuple[int, M]](), list[tuple[int, str]]()

        def fresh() -> Iterator[C]:
            for number, chunk in enumerate(chunks):
                key = key_of(task.name, chunk)
                text = self.writing.records.get(key)
                if text is None:
                    places.append((number, key))
                    yield chunk
                else:
                    known.append((number, _unpacked(text, task, chunk, self.writing.path)))

        for place, made in self.executor.each(task, fresh()):
            number, key = places[place]
            self.writing.put(key, plain.pack(made))
            yield number, made
            while known:
                yield known.popleft()
        yield from known


def key_of(name: str, chunk: object) -> str:
    """Of a chunk of a task: equal keys, equal chunks."""
    return blake2b(repr((name, chunk)).encode(), digest_size=16).hexdigest()


def _unpacked(text: bytes, task: Task[K, C, M], chunk: C, path: str) -> M:
    """What a line says. Raises InputError if that is nothing that the chunk could have come to."""
    assert task.plain is not None
    try:
        made = task.plain.unpack(json.loads(text, parse_constant=_no_number))
        if task.plain.fits(chunk, made):
            return made
    except (ValueError, RecursionError):
        pass
    raise refuse(OPTION, f"{path} holds what is no part of this work", todo=ANOTHER)


def _no_number(text: str) -> Json:
    raise ValueError(f"{text} is no number of JSON")


def _other_work(path: str) -> InputError:
    return refuse(
        OPTION, f"{path} is a journal of other work",
        "one of the same scenario (with the files that it names) and the same options",
        todo=ANOTHER,
    )  # fmt: skip


def _unusable(path: str, error: Exception) -> InputError:
    why = getattr(error, "strerror", None) or "not a usable file name"
    why = "it is a link to itself" if isinstance(error, RuntimeError) else why
    found, allowed = f"{path} cannot be written: {why}", "a file in a folder that you may write to"
    todo = "make room or name another file, and run it again: it goes on from what is done"
    return refuse(OPTION, found, allowed, todo=todo)
