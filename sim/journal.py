"""A journal of work that may be interrupted: what is done of it, one line for each chunk.

In: the path of a file, what the work is (`Header`). Out: frozen `Journal`s; lines put at the end of
the file. Lengths are bytes. The form, number `FORM`, is our own, in ASCII:

    staylit-journal FORM WORK PROGRAM CHECK
    LENGTH CHECK KEY JSON
    ...

WORK is a hash of all that says what is worked out, PROGRAM names what works it out. LENGTH counts
the bytes of JSON, KEY is a hash of the chunk, CHECK one of WORK and of all else in the line. A line
that does not end was torn while it was written, and counts for nothing; a line that ends and does
not hold is damage. The check guards against accidents, not against whoever can write the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import blake2b
from io import SEEK_END
from pathlib import Path
from typing import BinaryIO

from sim.errors import InputError, refuse

FORM = 1
NAME = b"staylit-journal"
MOST_BYTES = 256 * 1024 * 1024
"""Of a journal: it is kept in memory. A comparison of a large rig takes 1 MB."""
MOST_LINE = 16 * 1024 * 1024
"""The longest line, its end included; what JSON says takes 25 times as much memory at worst."""
MOST_LINES = 500_000
"""The first one included."""
MOST_HEADER = 200
HEADER = re.compile(
    rb"staylit-journal ([0-9]{1,9}) ([0-9a-f]{32}) ([0-9A-Za-z.+-]{1,64}) ([0-9a-f]{16})\n"
)
RECORD = re.compile(rb"([0-9]{1,9}) ([0-9a-f]{16}) ([0-9a-f]{32}) ")
ANOTHER = "name another file, or remove this one if what it holds is not needed"
ELSEWHERE = "name another file"
"""Where the file is somebody's, and no journal: nobody is told to remove it."""


@dataclass(frozen=True, slots=True)
class Header:
    """`work`: 32 hexadecimal digits; `program`: letters, digits, dots, `+`, `-`."""

    work: str
    program: str

    def line(self) -> bytes:
        """The first line of a journal."""
        said = b"%s %d %s %s" % (NAME, FORM, self.work.encode(), self.program.encode())
        return b"%s %s\n" % (said, check(said, ""))


@dataclass(frozen=True, slots=True)
class Journal:
    """`records`: JSON of each chunk by its key. `whole`: so many bytes hold; what comes after them
    was torn. `header`: None where not even the first line is whole.
    """

    header: Header | None = None
    records: Mapping[str, bytes] = field(default_factory=dict)
    whole: int = 0


def check(said: bytes, work: str) -> bytes:
    """Sixteen hexadecimal digits."""
    return blake2b(said, digest_size=8, key=work.encode()).hexdigest().encode()


def line_of(work: str, key: str, text: bytes) -> bytes:
    """The line for a chunk; `text`: JSON in one line."""
    rest = b"%s %s" % (key.encode(), text)
    return b"%d %s %s\n" % (len(text), check(b"%d %s" % (len(text), rest), work), rest)


def read_journal(path: str | Path) -> Journal:
    """What a file holds. Raises InputError for one that cannot be read, is no journal, has a form
    of another number, or is damaged.
    """
    name = str(path)
    try:
        if Path(path).exists() and not Path(path).is_file():
            raise refuse(name, "is no file", "a journal, or a new file", todo=ELSEWHERE)
        with Path(path).open("rb") as file:
            return journal_in(file, name)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "not a usable file name"
        raise refuse(name, f"cannot be read: {why}", "a journal", todo=ANOTHER) from None


def journal_in(file: BinaryIO, name: str) -> Journal:
    """The same of an open file, from where it stands."""
    header = header_in(file, name)
    return Journal() if header is None else records_in(file, header, name)


def header_in(file: BinaryIO, name: str) -> Header | None:
    """What the first line says, which comes next; None where it was torn."""
    first = file.readline(MOST_HEADER)
    if first.endswith(b"\n"):
        return _header(first, name)
    if len(first) < MOST_HEADER and is_begun(first):
        return None
    raise _none(name)


def records_in(file: BinaryIO, header: Header, name: str) -> Journal:
    """What stands after the first line, which was read."""
    begin = file.tell()
    if file.seek(0, SEEK_END) > MOST_BYTES:
        raise _too_large(name, f"{MOST_BYTES} bytes")
    file.seek(begin)
    records: dict[str, bytes] = {}
    whole, number = begin, 1
    while (line := file.readline(MOST_LINE)).endswith(b"\n"):
        number += 1
        if number > MOST_LINES:
            raise _too_large(name, f"{MOST_LINES} lines")
        key, text = _record(line, header.work, name, number)
        if records.setdefault(key, text) != text:
            raise damaged(name, number)
        whole += len(line)
    if len(line) == MOST_LINE:
        raise damaged(name, number + 1)
    return Journal(header, records, whole)


def is_begun(first: bytes) -> bool:
    """Whether a line that does not end may be the beginning of a journal's first."""
    begin = b"%s %d " % (NAME, FORM)
    return begin.startswith(first[: len(begin)]) and b"\0" not in first


def _header(line: bytes, name: str) -> Header:
    found = HEADER.fullmatch(line)
    if found is None:
        raise damaged(name, 1) if line.startswith(NAME + b" ") else _none(name)
    if int(found[1]) != FORM:
        form = f"is a journal of form {int(found[1])}"
        raise refuse(name, form, f"form {FORM}", todo=ANOTHER)
    header = Header(found[2].decode(), found[3].decode())
    if header.line() != line:
        raise damaged(name, 1)
    return header


def _record(line: bytes, work: str, name: str, number: int) -> tuple[str, bytes]:
    found = RECORD.match(line)
    if found is not None:
        key, text = found[3].decode(), line[found.end() : -1]
        if line == line_of(work, key, text):
            return key, text
    raise damaged(name, number)


def damaged(name: str, line: int) -> InputError:
    """The error for a line that is whole and does not hold."""
    found = f"is damaged in line {line}: what it holds cannot be trusted"
    return refuse(name, found, "a journal as it was written", todo=ANOTHER)


def _too_large(name: str, most: str) -> InputError:
    return refuse(name, "is larger than any journal", most, todo=ANOTHER)


def _none(name: str) -> InputError:
    allowed = "a journal of this program, or a new file"
    return refuse(name, "is no journal", allowed, todo=ELSEWHERE)
