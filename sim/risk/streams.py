"""Seeded draws for each hazard: in which shows it strikes, when, and how its repair goes.

In: a seed, the name of a hazard, its mass (mean strikes a show). Out: frozen `Arrivals`. Each name
has streams of its own, so that another hazard changes nothing here, and a longer series begins with
the shorter one. A hazard's strikes over all shows are one Poisson process along the shows laid end
to end; `pace` lets it run faster, which changes how many strike in a show and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np
from numpy.random.bit_generator import ISeedSequence
from numpy.typing import NDArray

DRAWS = 6
"""Uniform numbers for each strike: its time, notice, travel, diagnosis, fixing, the wrong unit."""
Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Arrivals:
    """`shows`: the numbers of the shows struck, rising; `draws`: uniform in [0, 1), `DRAWS` for
    each.
    """

    shows: Whole
    draws: Floats


class _Key(ISeedSequence):
    """A key of Philox as it is. `Philox(key=...)` comes to the same in three times the time: it
    asks the system for entropy first and leaves it unused.
    """

    def __init__(self, digest: bytes) -> None:
        self.words = _words(digest)

    def generate_state(self, n_words: int, dtype: object = np.uint32) -> NDArray[np.uint64]:
        return self.words


def stream(seed: int, *names: str | int) -> np.random.Generator:
    """A generator of its own for these names (Philox, keyed by a hash of seed and names)."""
    return np.random.Generator(np.random.Philox(_Key(_key(seed, names))))  # type: ignore[arg-type]


def _key(seed: int, names: Sequence[str | int]) -> bytes:
    text = "\x1f".join([str(seed), *map(str, names)])
    return blake2b(text.encode(), digest_size=16).digest()


def _words(digest: bytes) -> NDArray[np.uint64]:
    """A key as Philox holds it: the low word first."""
    return np.frombuffer(digest[::-1], dtype="<u8").astype(np.uint64)


def arrivals(seed: int, name: str, mass: float, shows: int, pace: float = 1.0) -> Arrivals:
    """The strikes of one hazard in shows 0 to `shows` - 1."""
    gaps = stream(seed, name, "gaps")
    when = _up_to(gaps, mass * pace, shows)
    numbers = when.astype(np.int64)
    inside = numbers < shows
    draws = stream(seed, name, "draws").random((int(inside.sum()), DRAWS))
    return Arrivals(numbers[inside], draws)


def _up_to(gaps: np.random.Generator, mass: float, shows: int) -> Floats:
    """Arrivals in units of shows, until they are past the last one."""
    mean = mass * shows
    size = int(mean + 6 * mean**0.5 + 10)
    found = np.cumsum(gaps.standard_exponential(size)) / mass
    while found[-1] < shows:
        more = np.cumsum(gaps.standard_exponential(size)) / mass
        found = np.concatenate([found, found[-1] + more])
    return found
