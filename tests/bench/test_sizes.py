"""Walls of 1 000 to 100 000 cabinets as a person has them worked out: time and greatest memory.

In: scenarios of `tests/big_walls`, each in a process of its own. Out: for each command seconds of
processor time and megabytes, printed, and the exponent with which time grows; held to its aims.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from math import log
from pathlib import Path

import pytest

from tests.big_walls import SIZES, big_wall

ROOT = Path(__file__).resolve().parents[2]
LOSSES = ("--mode", "dead", "--mode", "cut")
FAULT = "dead screen/r1c1/receiver at 5 s"
STEEPEST = 1.1
"""The greatest exponent of time by size, from 1 000 to 10 000 cabinets."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds of processor time and the most megabytes held at once, of one process."""

    seconds: float
    megabytes: float


def cost(folder: Path, cabinets: int, command: str, *more: str) -> Cost:
    """What one command on one wall costs, the start of Python with it."""
    path = folder / f"wall-{cabinets}.yaml"
    path.write_text(big_wall(SIZES[cabinets]), encoding="utf-8")
    words = (sys.executable, "-m", "sim", command, str(path), *more)
    with Path(os.devnull).open("w") as nowhere:
        process = subprocess.Popen(words, stdout=nowhere, cwd=ROOT)
        _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode in (0, 1), "1: a stated limit is not met"
    return Cost(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def told(capsys: pytest.CaptureFixture[str], name: str, found: Cost) -> Cost:
    """Print it past pytest's capture."""
    with capsys.disabled():
        print(
            f"\n{name}: {found.seconds:.4g} (s of processor time, {found.megabytes:.0f} MB)", end=""
        )
    return found


def test_every_dead_or_cut_of_10_000_cabinets(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = {
        n: told(capsys, f"wide-{n}", cost(tmp_path, n, "faults", *LOSSES))
        for n in (1_000, 3_000, 10_000)
    }
    exponent = log(found[10_000].seconds / found[1_000].seconds) / log(10)
    with capsys.disabled():
        print(f"\nwide-exponent: {exponent:.3g} (1 000 to 10 000 cabinets)", end="")
    assert exponent <= STEEPEST
    assert found[10_000].seconds < 20
    assert found[10_000].megabytes < 600


@pytest.mark.timeout(1800)
@pytest.mark.parametrize(("command", "more"), [("inject", (FAULT,)), ("check", ())])
def test_100_000_cabinets(
    command: str, more: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = told(capsys, f"widest-{command}", cost(tmp_path, 100_000, command, *more))
    assert found.seconds < 60
    assert found.megabytes < 2000
