"""Journals of work that goes on: what reads them, and lines that hold but say something else.

In: the path of a file; `random.Random`, journals to start from. Out: nothing, or an InputError;
bytes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import suppress
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any

from tests.fuzz.spoils import mutated_bytes

WORK = "0" * 32


def journal(path: Path) -> None:
    """A journal, and what each line of it may have come to."""
    from sim.journal import read_journal
    from sim.risk.parcels import EXACTS, ROWS
    from sim.risk.plain import SUMS
    from sim.study.doubles import PAIRS
    from sim.workers import STUDY

    for text in read_journal(path).records.values():
        for plain in (ROWS, EXACTS, SUMS, PAIRS, STUDY):
            with suppress(ValueError, RecursionError):
                plain.unpack(json.loads(text))


def changed_journal(draw: Random, seeds: Sequence[str]) -> bytes:
    """Lines whose checks hold, of which each says something that was changed."""
    said = texts_in(seeds)
    return framed(
        *(
            _tree_changed(draw, said) if draw.random() < 0.6 else mutated_bytes(draw, said)
            for _ in range(draw.randint(1, 3))
        )
    )


def texts_in(seeds: Sequence[str]) -> list[str]:
    """What the lines of journals say."""
    return [line.split(" ", 3)[-1] for seed in seeds for line in seed.splitlines()[1:]]


def framed(*texts: bytes) -> bytes:
    """A journal of which each line says one of these, with checks that hold."""
    from sim.journal import Header, line_of

    lines = (
        line_of(WORK, f"{number:032x}", text.replace(b"\n", b""))
        for number, text in enumerate(texts)
    )
    return b"".join((Header(WORK, "1.0").line(), *lines))


ODD: tuple[Any, ...] = (
    None, True, 0, 1, -1, 400, 2**31, 2**64, 10**40, 1.5, -0.0, 1e308, "", "x", "dead", "1/0",
    "1/3", "nan", "0x1p+2000", "0x1.8p+0", "inf", "9" * 3000, "\u202e", "eAED", [], {}, [[]],
    [0, []],
)  # fmt: skip
"""What may stand where something else should."""


def _tree_changed(draw: Random, said: Sequence[str]) -> bytes:
    """Still JSON, with one to three values exchanged, left out, or put in twice."""
    tree = [json.loads(draw.choice(said))]
    for _ in range(draw.randint(1, 3)):
        holder = draw.choice([*_lists(tree)])
        at = draw.randrange(len(holder))
        kind = draw.randrange(4)
        if kind < 2:
            holder[at] = deepcopy(draw.choice(ODD))
        elif kind == 2 and holder is not tree:
            del holder[at]
        else:
            holder.insert(at, holder[draw.randrange(len(holder))])
    return json.dumps(tree[0], separators=(",", ":")).encode()


def _lists(tree: list[Any]) -> Iterator[list[Any]]:
    """All lists that hold something, from outside to inside."""
    if tree:
        yield tree
    for each in tree:
        if isinstance(each, list):
            yield from _lists(each)
