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
from sim.leaving import silence, undisturbed


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
    whole: bool = True,
) -> None:
    """Refuse early what is an input, a folder, or in no folder that can be written to. Raises
    InputError.

    `option` is where it was said, `called` what the inputs are; `whole`: it is exchanged for
    another, not added to.
    """
    if not output:
        return
    path = Path(output)
    if output.endswith(os.sep):
        raise _unwritable(output, IsADirectoryError(errno.EISDIR, "it names a folder"))
    if any(same_file(path, read) for read in inputs):
        raise refuse(option, f"{output} is {called}", "another file")
    try:
        if path.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        if not path.is_symlink() and not path.parent.is_dir():
            raise FileNotFoundError(2, f"there is no folder {path.parent}")
        if not _handed_over(path) and (path.is_file() or not path.exists()):
            own = _own(path)
            if whole or not own.exists():
                _writable(own.parent)
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
    may_be_written(output)
    try:
        if os.path.lexists(path) and not force:
            raise refuse(
                output, "is there already", "a new file", todo="name another, or add --force"
            )
        _replace(path, text, fresh=not force)
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
            with undisturbed():
                append_whole(
                    file, (((gap if before else head) + line).encode("utf-8")), len(before)
                )
    except (OSError, ValueError) as error:
        raise _unwritable(output, error) from None


def _hold(file: RawIOBase) -> None:
    """Keep others out until it is closed, where the system can."""
    with suppress(ImportError, OSError):
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX)


def _written(file: RawIOBase, text: bytes | memoryview) -> int:
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


def _replace(path: Path, made: str | bytes, fresh: bool = False) -> None:
    """Beside and renamed, so that no half-written file is ever seen; devices and what the shell
    hands over are written to. `fresh`: nothing may be there, not even what came this instant.
    """
    data = made.encode() if isinstance(made, str) else made
    if _handed_over(path) or (path.exists() and not path.is_file()):
        _poured(path, data)
        return
    path = _own(path)
    with undisturbed():
        handle, beside = tempfile.mkstemp(prefix=f".{path.name[:SHORT]}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(beside).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_mask())
            _put_in_place(Path(beside), path, fresh)
        except BaseException:
            Path(beside).unlink(missing_ok=True)
            raise


SHORT = 40
"""Characters of its own name that a file has while it is written: a name may be 255 bytes long."""


def _put_in_place(beside: Path, path: Path, fresh: bool) -> None:
    if fresh:
        with suppress(FileExistsError):
            path.hardlink_to(beside)
            beside.unlink()
            return
        raise FileExistsError(errno.EEXIST, "it has just come to be there")
    beside.replace(path)


def _handed_over(path: Path) -> bool:
    """Whether it stands for a stream that the shell opened."""
    return str(path) in STREAMS or str(path).startswith(("/dev/fd/", "/proc/self/fd/"))


STREAMS = ("/dev/stdout", "/dev/stderr")


def _poured(path: Path, data: bytes) -> None:
    """Into what is no file of its own. A pipe that nobody reads from would be waited for."""
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "it is a folder")
    waits = os.O_NONBLOCK if path.is_fifo() and not _handed_over(path) else 0
    try:
        handle = os.open(path, os.O_WRONLY | os.O_APPEND | waits)
    except OSError as error:
        told = "nobody reads from this pipe" if error.errno == errno.ENXIO else error.strerror
        raise OSError(error.errno, told) from None
    os.set_blocking(handle, True)
    with os.fdopen(handle, "wb", buffering=0) as file:
        left = memoryview(data)
        while left:
            left = left[_written(file, left) :]


def _own(path: Path) -> Path:
    """The file itself, whatever links lead to its folder. Raises OSError for a link that leads out
    of the folder that was named.
    """
    if not path.is_symlink():
        return path.resolve()
    real = path.resolve()
    if real.parent != path.parent.resolve():
        raise OSError(errno.ELOOP, "it is a link to another folder")
    return real


def _writable(folder: Path) -> None:
    """Raises OSError where no file can be made, as far as the system tells."""
    if not os.access(folder, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, "no file can be made in its folder")


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
