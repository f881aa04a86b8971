"""Shows and what they come to, as they travel between processes and stand in a journal.

In: shows, rows, single faults. Out: frozen `Packed` shows; what JSON can say, and back. Numbers are
exact in both.
"""

from __future__ import annotations

import zlib
from base64 import b64decode, b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sim.executing import Json, Plain
from sim.risk.shows import Blow, Show
from sim.risk.single import Single
from sim.risk.streams import Floats

HEAVY = 1600
"""Shows of one parcel at most, if each had one fault; one of n faults counts as n squared."""
MOST_NUMBERS = 4_000_000
"""In one table of a journal."""


def cut(shows: Sequence[Show]) -> list[Sequence[Show]]:
    """Shows in parcels of about the same work, in their order."""
    found: list[Sequence[Show]] = []
    begin = weight = 0
    for number, show in enumerate(shows):
        if weight and weight + len(show) ** 2 > HEAVY:
            found.append(shows[begin:number])
            begin, weight = number, 0
        weight += len(show) ** 2
    return [*found, shows[begin:]] if shows else []


@dataclass(frozen=True, slots=True)
class Packed:
    """Shows as bytes, which travel quickly: for each show how many strikes it has, for each strike
    its hazard and how many numbers were drawn, and these numbers (32-bit integers, 64-bit floats).
    """

    strikes: bytes
    hazards: bytes
    widths: bytes
    draws: bytes

    @property
    def count(self) -> int:
        """How many shows."""
        return len(self.strikes) // 4


def packed(shows: Sequence[Show]) -> Packed:
    """The shows as bytes."""
    blows = [blow for show in shows for blow in show]
    draws = [number for blow in blows for number in blow.draws]
    return Packed(
        _whole(len(show) for show in shows),
        _whole(blow.hazard for blow in blows),
        _whole(len(blow.draws) for blow in blows),
        np.array(draws, dtype="<f8").tobytes(),
    )


def unpacked(of: Packed) -> list[Show]:
    """The shows again."""
    draws = iter(np.frombuffer(of.draws, "<f8").tolist())
    pairs = zip(_numbers(of.hazards), _numbers(of.widths), strict=True)
    blows = (Blow(hazard, tuple(next(draws) for _ in range(width))) for hazard, width in pairs)
    return [tuple(next(blows) for _ in range(count)) for count in _numbers(of.strikes)]


def _whole(numbers: Iterator[int]) -> bytes:
    return np.fromiter(numbers, dtype="<i4").tobytes()


def _numbers(of: bytes) -> list[int]:
    found: list[int] = np.frombuffer(of, "<i4").tolist()
    return found


# ---- in a journal


def table_said(of: Floats) -> Json:
    """A table of floats: its shape, and its bytes compressed."""
    raw = np.ascontiguousarray(of, dtype="<f8").tobytes()
    return [*of.shape, b64encode(zlib.compress(raw, 1)).decode()]


def table_read(said: Json) -> Floats:
    """Raises ValueError for what is no table of so many numbers."""
    if not isinstance(said, list) or not 2 <= len(said) <= 3:
        raise ValueError("no table")
    *shape, text = said
    if not all(type(side) is int and 0 <= side <= MOST_NUMBERS for side in shape):
        raise ValueError("no shape of a table")
    size = 8 * int(np.prod([float(side) for side in shape]))
    if not isinstance(text, str) or size > 8 * MOST_NUMBERS:
        raise ValueError("no numbers, or too many")
    found = np.frombuffer(_opened(text, size), "<f8").reshape(shape)
    return found.astype(np.float64)


def _opened(text: str, size: int) -> bytes:
    """So many bytes, never more. Raises ValueError for any other number of them."""
    try:
        reader = zlib.decompressobj()
        raw = reader.decompress(b64decode(text, validate=True), size + 1)
    except zlib.error as error:
        raise ValueError("not compressed") from error
    if len(raw) != size or not reader.eof or reader.unused_data:
        raise ValueError("another number of bytes")
    return raw


def singles_said(of: Sequence[Single | None]) -> Json:
    """Single faults: their means, and their nights one by one."""
    return [
        each and [_floats(each.means), [[p.hex(), _floats(row)] for p, row in each.nights]]
        for each in of
    ]


def singles_read(said: Json) -> list[Single | None]:
    """Raises ValueError for what are no single faults."""
    if not isinstance(said, list):
        raise ValueError("no single faults")
    return [None if each is None else _single(each) for each in said]


def _single(said: Json) -> Single:
    try:
        means, nights = said
        of = tuple((float.fromhex(p), _read(row)) for p, row in nights)
        return Single(_read(means), of)
    except (TypeError, AttributeError, OverflowError) as error:
        raise ValueError("no single fault") from error


def _floats(of: Sequence[float]) -> str:
    return " ".join(float(number).hex() for number in of)


def _read(said: Json) -> tuple[float, ...]:
    if not isinstance(said, str):
        raise ValueError("no numbers")
    return tuple(map(float.fromhex, said.split()))


ROWS = Plain(table_said, table_read)
EXACTS = Plain(singles_said, singles_read)
