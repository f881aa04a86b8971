"""The text of a scenario file, as it lies on the disk or comes through a pipe.

In: a path. Out: its text, or an `InputError`. Bytes; lines count from 1.
"""

from __future__ import annotations

from pathlib import Path

from sim.errors import refuse
from sim.scenario.document import place

MOST_BYTES = 2 * 1024 * 1024


def read_text(path: str | Path) -> str:
    """The text of a file: it must be a readable file of at most 2 MiB in UTF-8."""
    name = str(path)
    try:
        _check_kind(path, name)
        with Path(path).open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "not a usable file name"
        raise refuse(
            name, f"cannot be read: {why}", "a readable file", todo="check the path and its rights"
        ) from None
    if len(raw) > MOST_BYTES:
        raise refuse(name, "the file is larger than 2 MiB", "at most 2 MiB", todo=SPLIT)
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
        raise refuse(name, "a directory", "a scenario file", todo="name a file within it")
    handed_over = name == "/dev/stdin" or name.startswith(("/dev/fd/", "/proc/self/fd/"))
    if Path(path).exists() and not Path(path).is_file() and not handed_over:
        raise refuse(
            name, "a pipe or a device", "a scenario file", todo="name a file, or /dev/stdin"
        )


SPLIT = "describe chains by column, by row or serpentine instead of listing them, or split the rig"
