"""The command `risk` as a process of its own: progress on a terminal, interruption, what is left.

In: real processes on a pseudo-terminal, signals. Out: exit status 130 with what was worked out
until then, marked as unfinished; no words of other processes, and none of them left.
"""

from __future__ import annotations

import os
import pty
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ENV = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm", "COLUMNS": "200"}
BY_STRATA = "risk first --topology relay-pair --shows 900000000 --precision 0.00001 --workers 2"
PLAINLY = "risk first --topology single-feed --plain --shows 32000 --precision 0.3 --workers 2"
EARLY = "risk river --group main --topology relay-pair --workers 2"
PLAINLY_DONE = r"plainly, \d+ of 32000 with a fault, \d+ s left"
PATIENCE = 90.0
Sent = Callable[[int, int], None]


@dataclass
class Ended:
    """A process that has ended: its status, standard output, what the terminal showed."""

    status: int
    shown: str
    terminal: str
    group: int


@cache
def interrupted(asked: str, when: str, send: Sent) -> Ended:
    """Run a command with its standard error on a terminal, until that shows `when`; interrupt.
    Whoever asks for the same looks at the same run.
    """
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-W", "error", "-m", "sim", *asked.split()],
        cwd=ROOT, env=ENV, stdout=subprocess.PIPE, stderr=slave, text=True, start_new_session=True,
    )  # fmt: skip
    os.close(slave)
    seen: list[str] = []
    reader = threading.Thread(target=_read, args=(master, seen))
    reader.start()
    try:
        until = time.monotonic() + PATIENCE
        while not re.search(when, "".join(seen)):
            assert process.poll() is None and time.monotonic() < until, "".join(seen)[-500:]
            time.sleep(0.05)
        send(process.pid, signal.SIGINT)
        shown, _ = process.communicate(timeout=PATIENCE)
    finally:
        process.kill()
        process.wait()
        reader.join(timeout=10)
    return Ended(process.returncode, shown, "".join(seen), process.pid)


def _read(master: int, seen: list[str]) -> None:
    with suppress(OSError):  # the other end has gone
        while data := os.read(master, 4096):
            seen.append(data.decode(errors="replace"))
    os.close(master)


def left(group: int) -> bool:
    """Whether some process of a group is still there, after a moment to end."""
    for _ in range(50):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.1)
    return True


@pytest.mark.timeout(200)
@pytest.mark.parametrize("send", [os.kill, os.killpg], ids=["parent", "everybody"])
@pytest.mark.parametrize(
    ("asked", "when"),
    [(BY_STRATA, r"\d+ of at most \d+, \d+ s left"), (PLAINLY, PLAINLY_DONE)],
    ids=["strata", "plainly"],
)
def test_an_interruption_leaves_what_was_worked_out_marked(
    asked: str, when: str, send: Sent
) -> None:
    ended = interrupted(asked, when, send)
    assert ended.status == 130, ended.terminal[-500:]
    assert "Unfinished: the simulation was interrupted" in " ".join(ended.shown.split())
    assert re.search(r"by chance\s", ended.shown), "intervals stand in it"
    assert ended.terminal.count("staylit: interrupted; the result says what was known by then") == 1
    assert "Traceback" not in ended.terminal + ended.shown
    assert not left(ended.group)


@pytest.mark.timeout(300)
@pytest.mark.parametrize("send", [os.kill, os.killpg], ids=["parent", "everybody"])
def test_an_interruption_before_anything_was_simulated_leaves_what_bounds_it(send: Sent) -> None:
    """While single faults are summed or first shows looked at: what is known, marked."""
    ended = interrupted(EARLY, r"part \d+ of \d+ of a step", send)
    assert ended.status == 130, ended.terminal[-500:]
    assert "Unfinished: the simulation was interrupted" in " ".join(ended.shown.split())
    assert "Traceback" not in ended.terminal + ended.shown
    assert not left(ended.group)


@pytest.mark.timeout(200)
def test_progress_tells_the_time_that_is_left() -> None:
    ended = interrupted(PLAINLY, PLAINLY_DONE, os.kill)
    assert re.search(r"simulating shows: ", ended.terminal)
    numbers = [int(each) for each in re.findall(r"plainly, (\d+) of", ended.terminal)]
    assert numbers and numbers == sorted(numbers)


def test_nothing_is_told_where_there_is_no_terminal() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sim", *"risk first --topology single-feed --shows 5000".split()],
        cwd=ROOT, env=ENV, capture_output=True, text=True, check=False, timeout=PATIENCE,
    )  # fmt: skip
    assert done.stderr == ""
    assert "Unfinished" not in done.stdout and done.returncode in (0, 1)
