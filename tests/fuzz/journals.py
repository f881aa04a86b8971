"""Journals of work that goes on: what reads them, and lines that hold but say something else.

In: the path of a file; `random.Random`, journals to start from. Out: nothing, or an InputError;
bytes.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from random import Random

from tests.fuzz.spoils import mutated_bytes

WORK = "0" * 32


def journal(path: Path) -> None:
    """A journal, and what each line of it may have come to."""
    from sim.journal import read_journal
    from sim.risk.parcels import EXACTS, ROWS
    from sim.risk.plain import SUMS

    for text in read_journal(path).records.values():
        for plain in (ROWS, EXACTS, SUMS):
            with suppress(ValueError, RecursionError):
                plain.unpack(json.loads(text))


def changed_journal(draw: Random, seeds: Sequence[str]) -> bytes:
    """Lines whose checks hold, of which each says something that was changed."""
    from sim.journal import Header, line_of

    said = [line.split(" ", 3)[-1] for seed in seeds for line in seed.splitlines()[1:]]
    made = [Header(WORK, "1.0").line()]
    for number in range(draw.randint(1, 3)):
        text = mutated_bytes(draw, said).replace(b"\n", b"")
        made.append(line_of(WORK, f"{number:032x}", text))
    return b"".join(made)
