"""One input tried in this process: what came of it, how long it took, what memory it left behind.

In: a target, bytes. Out: a frozen `Tried`. Times are seconds, of the processor and by the clock;
memory is the most that this process ever had (MB of 10^6 bytes).
"""

from __future__ import annotations

import resource
import signal
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from sim.bounds import MOST_PROBLEMS
from sim.bounds import MOST_SAID as MOST_PART
from sim.errors import StaylitError
from tests.fuzz.targets import Target

MOST_SECONDS = 2.0
"""Of the processor. What waits instead of working is ended after ten times that."""
MOST_MEMORY = 500.0
TAKEN, REFUSED, BROKEN, SLOW, LARGE = "taken", "refused", "broken", "slow", "large"


@dataclass(frozen=True)
class Tried:
    """`how`: taken, refused; broken (an error that is no message), slow, large (memory)."""

    how: str
    worked: float
    waited: float
    memory: float
    said: str = ""

    @property
    def good(self) -> bool:
        """Whether it was taken or refused, in time and in little memory."""
        return self.how in (TAKEN, REFUSED)


class TooLongError(BaseException):
    """It took longer than it may: no Exception, so that nothing on the way takes it for its own."""


def _stop(number: int, frame: FrameType | None) -> None:
    raise TooLongError


@contextmanager
def _in_time(seconds: float) -> Iterator[None]:
    before = [(each, signal.signal(each, _stop)) for each in (signal.SIGPROF, signal.SIGALRM)]
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, 10 * seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
        for each, handler in before:
            signal.signal(each, handler)


def memory() -> float:
    """The most memory that this process ever had."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most * (1 if sys.platform == "darwin" else 1024) / 1e6


def tried(target: Target, made: bytes, folder: Path, seconds: float = MOST_SECONDS) -> Tried:
    """What a target does with these bytes, as a file in a folder."""
    path = folder / f"input{target.ending}"
    path.write_bytes(made)
    before = memory()
    worked, waited = time.process_time(), time.monotonic()
    try:
        with _in_time(seconds):
            how, said = _once(target, path)
    except TooLongError as error:
        how, said = SLOW, "".join(traceback.format_tb(error.__traceback__)[-6:])
    worked, waited = time.process_time() - worked, time.monotonic() - waited
    most = memory()
    if how in (TAKEN, REFUSED) and before < most > MOST_MEMORY:
        how = LARGE
    return Tried(how, worked, waited, most, said)


def _once(target: Target, path: Path) -> tuple[str, str]:
    try:
        target.takes(path)
    except StaylitError as error:
        said = str(error)
        odd = next((c for c in said if not c.isprintable() and c != "\n"), "")
        if odd or not said.strip() or len(said) > MOST_SAID:
            return BROKEN, f"a message of {len(said)} characters with {odd!r}: {said[:300]!r}"
        return REFUSED, said
    except Exception as error:
        return BROKEN, "".join(traceback.format_exception(error)[-12:])
    return TAKEN, ""


MOST_SAID = 4 * MOST_PROBLEMS * MOST_PART
"""Characters of all messages on one file."""
