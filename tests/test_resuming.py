"""A run of `risk` that is ended at any moment, and then run again: the same bytes.

In: the command in a process of its own, ended by SIGKILL at random moments (fixed seed;
STAYLIT_KILLS says how many), by an interruption, by a full disk. Out: what one process prints that
nobody ends.
"""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import time
from functools import cache
from pathlib import Path

import pytest

from sim.journal import read_journal
from tests.resumed import ENV, RISK, ROOT, begun, expected, lines, printed, wait_for_lines

KILLS = int(os.environ.get("STAYLIT_KILLS", "3"))
CHANCES = random.Random(20261127)
MOMENTS = [(n, CHANCES.uniform(-0.1, 1.0), CHANCES.uniform(0, 0.02)) for n in range(KILLS)]
"""Which, how far the journal is (before its first line if negative), how many seconds later."""


@cache
def all_lines(tmp: Path) -> int:
    """Lines of a journal of the whole run."""
    journal = tmp / "whole.journal"
    assert printed("--checkpoint", str(journal)) == expected()
    return lines(journal)


@pytest.fixture(name="whole", scope="module")
def _whole(tmp_path_factory: pytest.TempPathFactory) -> int:
    return all_lines(tmp_path_factory.mktemp("whole"))


@pytest.mark.parametrize(("number", "part", "later"), MOMENTS)
def test_a_run_that_was_killed_goes_on_to_the_same_bytes(
    number: int, part: float, later: float, whole: int, tmp_path: Path
) -> None:
    """With one process and two in turn; it goes on with as many as the other."""
    journal = tmp_path / "risk.journal"
    workers = [str(1 + number % 2), str(2 - number % 2)]
    running = begun("--checkpoint", str(journal), "--workers", workers[0])
    if part < 0:
        time.sleep(-part * 5)
    else:
        wait_for_lines(journal, int(part * whole), running)
        time.sleep(later)
    running.kill()
    running.communicate()
    before = lines(journal)
    assert printed("--checkpoint", str(journal), "--workers", workers[1]) == expected()
    assert lines(journal) == whole
    print(f"killed with {before} of {whole} lines, status {running.returncode}")


def test_it_is_killed_in_the_middle_and_goes_on_from_there(whole: int, tmp_path: Path) -> None:
    """Killed again and again it comes to its end, which it could not if it began anew."""
    journal = tmp_path / "risk.journal"
    for part in (0.3, 0.8):
        running = begun("--checkpoint", str(journal), "--workers", "1")
        assert wait_for_lines(journal, int(part * whole), running)
        running.kill()
        running.communicate()
        kept = read_journal(journal).records
        assert running.returncode == -signal.SIGKILL
        assert part * whole - 2 < len(kept) < whole - 1
    assert printed("--checkpoint", str(journal), "--workers", "1") == expected()
    assert kept.items() <= read_journal(journal).records.items(), "what was there was not touched"


def test_an_interruption_leaves_a_journal_to_go_on_from(whole: int, tmp_path: Path) -> None:
    journal = tmp_path / "risk.journal"
    running = begun("--checkpoint", str(journal), "--workers", "2")
    assert wait_for_lines(journal, whole // 2, running)
    running.send_signal(signal.SIGINT)
    _, said = running.communicate()
    assert (running.returncode, b"Traceback" in said) == (130, False)
    assert 0 < len(read_journal(journal).records) < whole - 1
    assert printed("--checkpoint", str(journal)) == expected()


def test_a_full_disk_is_one_message_and_then_it_goes_on(whole: int, tmp_path: Path) -> None:
    """No file may be longer than 20 000 bytes: the system refuses the rest of a line."""
    journal = tmp_path / "risk.journal"
    done = subprocess.run(
        [*RISK, "--checkpoint", str(journal), "--workers", "1"],
        cwd=ROOT, env=ENV, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "--checkpoint" in done.stderr and "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
    assert 1 < lines(journal) < whole and journal.read_bytes().endswith(b"\n")
    assert printed("--checkpoint", str(journal)) == expected()
