"""Results written safely: whole or not at all, and never over what they were made from.

In: a text or bytes, the file to write (or none: standard output), the files that were read. Out:
nothing, or an InputError.
"""

from __future__ import annotations

import errno
import os
import sys
import tempfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from io import RawIOBase
from pathlib import Path

from sim.errors import InputError, refuse
from sim.leaving import silence


def put(made: str | bytes, output: str = "", inputs: Iterable[Path] = ()) -> None:
    """Write a result. Raises InputError if the file is an input or cannot be written.

    A reader of standard output that has gone has read all that it wanted: no error.
    """
    if not output:
        _say(made if isinstance(made, str) else made.decode())
        return
    may_be_written(output, inputs)
    try:
        _replace(Path(output), made)
    except (OSError, ValueError, RuntimeError) as error:
        raise _unwritable(output, error) from None


def may_be_written(
    output: str,
    inputs: Iterable[Path] = (),
    option: str = "--output",
    called: str = "the scenario itself",
) -> None:
    """Refuse early what is an input, a folder, or in no folder. Raises InputError.

    `option` is where it was said, `called` what the inputs are.
    """
    if not output:
        return
    path = Path(output)
    if any(same_file(path, read) for read in inputs):
        raise refuse(option, f"{output} is {called}", "another file")
    try:
        if path.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        if not path.is_symlink() and not path.parent.is_dir():
            raise FileNotFoundError(2, f"there is no folder {path.parent}")
    except (OSError, ValueError, RuntimeError) as error:
        raise _unwritable(output, error) from None


def _say(text: str) -> None:
    """To standard output. Raises InputError if that is closed, or its disk is full."""
    if sys.stdout is None:
        raise refuse("standard output", "is closed", todo="write into a file with --output")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        silence(sys.stdout)
    except OSError as error:
        silence(sys.stdout)
        todo = "write somewhere else, with --output"
        raise refuse("standard output", f"cannot be written: {error.strerror}", todo=todo) from None


def put_new(text: str, output: str, force: bool) -> None:
    """Write a file that must not be there yet, unless `force`. Raises InputError."""
    path = Path(output)
    try:
        if os.path.lexists(path) and not force:
            raise refuse(
                output, "is there already", "a new file", todo="name another, or add --force"
            )
        _replace(path, text)
    except (OSError, ValueError, RuntimeError) as error:
        raise _unwritable(output, error) from None


def put_line(line: str, head: str, output: str, check: Callable[[str], object]) -> None:
    """Put a line at the end of a table, whole or not at all, with its head where there is none yet.
    Two that do so at once wait for each other. `check` refuses what the table holds. Raises
    InputError.
    """
    try:
        with Path(output).open("a+b", buffering=0) as file:
            _hold(file)
            file.seek(0)
            before = file.read() or b""
            check(before.decode("utf-8", errors="replace"))
            gap = "" if before.endswith(b"\n") else "\n"
            append_whole(file, (((gap if before else head) + line).encode("utf-8")), len(before))
    except (OSError, ValueError) as error:
        raise _unwritable(output, error) from None


def _hold(file: RawIOBase) -> None:
    """Keep others out until it is closed, where the system can."""
    with suppress(ImportError, OSError):
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX)


def _written(file: RawIOBase, text: bytes) -> int:
    return file.write(text) or 0


def append_whole(file: RawIOBase, text: bytes, whole: int) -> None:
    """At the end of a file that is so long; what was written in part is taken away again."""
    try:
        if _written(file, text) < len(text):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    except BaseException:
        os.ftruncate(file.fileno(), whole)
        raise


def _unwritable(output: str, error: Exception) -> InputError:
    why = getattr(error, "strerror", None) or "not a usable file name"
    why = "it is a link to itself" if isinstance(error, RuntimeError) else why
    allowed = "a file in a folder that you may write to"
    return refuse(output, f"cannot be written: {why}", allowed, todo="name another file")


def same_file(one: Path, other: Path) -> bool:
    """Whether both are one file, or would be once it is written."""
    try:
        there = one.exists() and other.exists()
        return one.samefile(other) if there else os.path.realpath(one) == os.path.realpath(other)
    except (OSError, ValueError):
        return False


def _replace(path: Path, made: str | bytes) -> None:
    """Beside and renamed, so that no half-written file is ever seen; devices are written to."""
    data = made.encode() if isinstance(made, str) else made
    if path.exists() and not path.is_file():
        if path.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        path.write_bytes(data)
        return
    path = path.resolve()
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(beside).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_mask())
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
