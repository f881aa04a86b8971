"""The text of a file that a person names, as it lies on the disk or comes through a pipe.

In: a path, how much it may hold. Out: its text, or an `InputError`. Bytes; lines count from 1.
"""

from __future__ import annotations

from pathlib import Path

from sim.bounds import MOST_BYTES
from sim.errors import refuse
from sim.scenario.document import place

MEGABYTE = 1024 * 1024


def read_text(path: str | Path, most: int = MOST_BYTES, split: str = "") -> str:
    """The text of a file: it must be a readable file of at most so many bytes in UTF-8. `split`:
    what to do with a larger one.
    """
    name = str(path)
    try:
        _check_kind(path, name)
        with Path(path).open("rb") as file:
            raw = file.read(most + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "not a usable file name"
        raise refuse(
            name, f"cannot be read: {why}", "a readable file", todo="check the path and its rights"
        ) from None
    if len(raw) > most:
        size = f"{most // MEGABYTE} MiB"
        todo = split or SPLIT
        raise refuse(name, f"the file is larger than {size}", f"at most {size}", todo=todo)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        found = f"byte {raw[error.start]:#04x}, which is not UTF-8"
        raise refuse(
            place(name, line), found, "UTF-8 text", todo="save the file as UTF-8"
        ) from None


def _check_kind(path: str | Path, name: str) -> None:
    """A pipe that nobody writes to would be waited for; one handed over by the shell is fine."""
    if Path(path).is_dir():
        raise refuse(name, "a directory", "a file", todo="name a file within it")
    handed_over = name == "/dev/stdin" or name.startswith(("/dev/fd/", "/proc/self/fd/"))
    if Path(path).exists() and not Path(path).is_file() and not handed_over:
        raise refuse(name, "a pipe or a device", "a file", todo="name a file, or /dev/stdin")


SPLIT = "describe chains by column, by row or serpentine instead of listing them, or split the rig"
