"""`staylit risk` with a journal in processes of its own, for tests that end them.

In: arguments, a journal, until when to wait. Out: what was printed; processes under way.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
ENV = {**os.environ, "PYTHONPATH": str(ROOT)}
RISK = (
    *f"{sys.executable} -W error -m sim risk first --topology relay-pair".split(),
    "--format",
    "json",
)
"""Some two seconds of processor time, over half of it after the journal begins."""
NOT_MET = 1
"""Its status: a limit that the scenario states is not met."""
PATIENCE = 120
"""Seconds of waiting for a process on a busy machine."""


def begun(*more: str) -> subprocess.Popen[bytes]:
    """The command under way."""
    return subprocess.Popen(
        [*RISK, *more], cwd=ROOT, env=ENV, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )


def printed(*more: str) -> bytes:
    """What it prints if nobody ends it."""
    running = begun(*more)
    out, said = running.communicate(timeout=PATIENCE)
    assert (running.returncode, said) == (NOT_MET, b"")
    return out


@cache
def expected() -> bytes:
    """By one process, without a journal."""
    return printed("--workers", "1")


def lines(journal: Path) -> int:
    """How many lines of it are whole."""
    return journal.read_bytes().count(b"\n") if journal.exists() else 0


def wait_for_lines(journal: Path, count: int, running: subprocess.Popen[bytes]) -> bool:
    """Whether the journal came to have so many before the command ended."""
    until = time.monotonic() + PATIENCE
    while lines(journal) < count:
        if running.poll() is not None:
            return False
        assert time.monotonic() < until, "it hangs"
        time.sleep(0.001)
    return True
