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

from sim import cli, executors, workers
from sim.journal import read_journal
from sim.scenario.scenario import Scenario, Variant
from sim.study.study import VariantStudy, study
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


def test_a_comparison_goes_on_from_its_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cut off after two topologies; the others alone are worked out, then none any more."""
    asked = ["compare", "first", "--format", "json", "--workers", "1"]
    status = cli.run(asked)
    expected = capsys.readouterr().out
    journal, did = tmp_path / "compare.journal", list[str]()

    def counted(scenario: Scenario, variant: Variant, modes: frozenset[str]) -> VariantStudy:
        if len(did) == 2:
            raise KeyboardInterrupt
        did.append(variant.label)
        return study(scenario, variant, modes)

    monkeypatch.setattr(workers, "study", counted)
    for done in (2, 4, 5, 5):
        last = cli.run([*asked, "--checkpoint", str(journal)])
        assert len(read_journal(journal).records) == done
        did.clear()
    assert (last, capsys.readouterr().out.count(expected)) == (status, 2)


def test_a_page_is_not_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["compare", "first", "--format", "html", "--checkpoint", str(tmp_path / "x")]
    assert cli.run(asked) == 2
    assert "keeps nothing of a page" in capsys.readouterr().err


@pytest.mark.parametrize("place", ["out.json", "show.yaml", "rates.csv"])
def test_a_journal_is_neither_the_result_nor_an_input(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nor a file that the scenario names: here it is said, and need not be right."""
    show = tmp_path / "show.yaml"
    show.write_bytes((ROOT / "scenarios" / "first.yaml").read_bytes())
    (tmp_path / place).touch()
    before = {each: each.read_bytes() for each in tmp_path.iterdir()}
    monkey = pytest.MonkeyPatch()
    monkey.setattr(executors, "files_of", lambda *of: [tmp_path / "rates.csv"])
    asked = ["risk", str(show), "--output", str(tmp_path / "out.json")]
    assert cli.run([*asked, "--checkpoint", str(tmp_path / place)]) == 2
    monkey.undo()
    assert "--checkpoint" in capsys.readouterr().err
    assert {each: each.read_bytes() for each in tmp_path.iterdir()} == before


@pytest.mark.parametrize("name", ["/dev/stdout", "/dev/stderr", "printed"])
def test_a_journal_is_not_where_the_run_prints(name: str, tmp_path: Path) -> None:
    out, said = tmp_path / "printed", tmp_path / "said"
    with out.open("wb") as printed_, said.open("wb") as complained:
        done = subprocess.run(
            [*RISK, "--checkpoint", name], cwd=tmp_path, env=ENV, stdout=printed_,
            stderr=complained, check=False,
        )  # fmt: skip
    assert (done.returncode, out.read_bytes()) == (2, b"")
    assert said.read_text().startswith(f"--checkpoint: {name} is where this run prints\n")


def test_a_full_disk_is_one_message_and_then_it_goes_on(whole: int, tmp_path: Path) -> None:
    """No file may be longer than 120 000 bytes: the system refuses the rest of a line."""
    journal = tmp_path / "risk.journal"
    done = subprocess.run(
        [*RISK, "--checkpoint", str(journal), "--workers", "1"],
        cwd=ROOT, env=ENV, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (120_000, 120_000)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "--checkpoint" in done.stderr and "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
    assert 1 < lines(journal) < whole and journal.read_bytes().endswith(b"\n")
    assert printed("--checkpoint", str(journal)) == expected()
