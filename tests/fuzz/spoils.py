"""Texts spoiled as bytes: pieces taken out, put in, doubled, joined with others, cut off.

In: `random.Random`, texts to start from. Out: bytes. The same draws give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

from tests.fuzz.wild import CHARACTERS, CSV, NUMBERS, YAML


def mutated_bytes(draw: Random, seeds: Sequence[str]) -> bytes:
    """A text with pieces taken out, put in, doubled, joined with another, or cut off."""
    made = encoded(draw.choice(seeds))
    for _ in range(draw.choice((1, 1, 2, 4, 8))):
        made = draw.choice(BYTE_CHANGES)(draw, made, encoded(draw.choice(seeds)))
    return made


def encoded(text: str) -> bytes:
    return text.encode("utf-8", errors="surrogatepass")


def _span(draw: Random, made: bytes, most: int = 60) -> tuple[int, int]:
    at = draw.randint(0, len(made))
    return at, min(len(made), at + draw.randint(0, most))


def _flipped(draw: Random, made: bytes, other: bytes) -> bytes:
    at = draw.randrange(len(made) or 1)
    return made[:at] + bytes([draw.randrange(256)]) + made[at + 1 :]


def _cut(draw: Random, made: bytes, other: bytes) -> bytes:
    begin, end = _span(draw, made)
    return made[:begin] + made[end:]


def _put(draw: Random, made: bytes, other: bytes) -> bytes:
    at = draw.randint(0, len(made))
    piece = encoded(draw.choice((*YAML, *CHARACTERS, *NUMBERS, *CSV)))
    return made[:at] + piece + made[at:]


def _doubled(draw: Random, made: bytes, other: bytes) -> bytes:
    begin, end = _span(draw, made, 400)
    return made[:end] + made[begin:end] * draw.choice((1, 1, 20)) + made[end:]


def _joined(draw: Random, made: bytes, other: bytes) -> bytes:
    return made[: draw.randint(0, len(made))] + other[draw.randint(0, len(other)) :]


def _ended(draw: Random, made: bytes, other: bytes) -> bytes:
    return made[: draw.randint(0, len(made))]


def _lined(draw: Random, made: bytes, other: bytes) -> bytes:
    lines = made.split(b"\n")
    one, to = draw.randrange(len(lines)), draw.randrange(len(lines))
    lines.insert(to, draw.choice((b"  ", b"", b"\t")) + lines.pop(one))
    return b"\n".join(lines)


def _recoded(draw: Random, made: bytes, other: bytes) -> bytes:
    text = made.decode("utf-8", errors="replace")
    return draw.choice(
        (text.encode("utf-16"), text.encode("latin-1", errors="replace"), b"\xef\xbb\xbf" + made,
         made.replace(b"\n", b"\r\n"), made.replace(b"\n", b"\r"), made.replace(b" ", b"\xc2\xa0"))
    )  # fmt: skip


BYTE_CHANGES: tuple[Callable[[Random, bytes, bytes], bytes], ...] = (
    _flipped, _flipped, _cut, _cut, _put, _put, _put, _doubled, _joined, _ended, _lined, _lined,
    _recoded,
)  # fmt: skip
