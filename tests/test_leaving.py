"""How a command ends: streams that are full, closed or left, errors nobody foresaw, signals.

In: commands in processes of their own. Out: the status for the shell, what was said, how many
processes are left. Status 1 means one thing only: a stated limit is not met.
"""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from sim import __main__, cli, commands, output
from sim.leaving import ENDING, LESS, TRACEBACK, interrupt, leave_on_signals

ROOT = Path(__file__).parents[1]
ENV = {**os.environ, "PYTHONPATH": str(ROOT)}
STAYLIT = f"{sys.executable} -W error -m sim"
NOT_MET = "compare first"
"""Ends with 1 if all goes well."""


def shell(command: str) -> subprocess.CompletedProcess[str]:
    """A line of shell; `staylit` in it is this program."""
    return subprocess.run(
        ["sh", "-c", command.replace("staylit", STAYLIT)],
        cwd=ROOT, env=ENV, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip


# ---- streams


@pytest.mark.parametrize("asked", [NOT_MET, "--help", "draw first"])
def test_a_full_disk_under_standard_output_is_one_message_and_status_2(asked: str) -> None:
    done = shell(f"staylit {asked} > /dev/full")
    assert done.returncode == 2
    assert "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr


def test_a_closed_standard_output_is_one_message_and_status_2(tmp_path: Path) -> None:
    done = shell(f"staylit {NOT_MET} >&-")
    assert (done.returncode, done.stderr.splitlines()[0]) == (2, "standard output: is closed")
    path = tmp_path / "result.txt"
    assert shell(f"staylit {NOT_MET} --output {path} >&-").returncode == 1, "it was not needed"
    assert path.stat().st_size > 100


@pytest.mark.parametrize("gone", ["2>&-", "<&-", "<&- 2>&-", "2>/dev/full"])
def test_what_a_command_does_not_need_may_be_gone(gone: str) -> None:
    done = shell(f"staylit {NOT_MET} {gone}")
    assert (done.returncode, done.stderr) == (1, "")
    assert done.stdout.startswith("First steps")
    assert shell(f"staylit compare nothing {gone}").returncode == 2


def test_new_without_a_standard_input_says_what_it_needs(tmp_path: Path) -> None:
    done = shell(f"staylit new {tmp_path}/mine.yaml <&-")
    assert (done.returncode, done.stdout) == (2, "")
    assert "--columns N --rows N" in done.stderr


@pytest.mark.parametrize(
    ("asked", "status"), [(NOT_MET, 1), ("explain first latent", 0), ("--help", 0)]
)
def test_a_reader_that_has_read_enough_changes_no_status(asked: str, status: int) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [*STAYLIT.split(), *asked.split()],
        cwd=ROOT, env=ENV, stdout=writer, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    os.close(writer)
    assert (done.returncode, done.stderr) == (status, "")


# ---- files


def test_a_link_to_itself_is_refused_like_any_bad_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "loop").symlink_to("loop")
    assert cli.run(["check", "first", "--output", str(tmp_path / "loop")]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert cli.run(["new", str(tmp_path / "loop"), "--columns", "2", "--rows", "2"]) == 2
    assert cli.run(["compare", str(tmp_path / "loop")]) == 2


@pytest.mark.parametrize("place", ["no/such/folder.txt", "", "scenario.yaml"])
def test_a_file_that_cannot_be_written_is_refused_before_the_work(
    place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario = tmp_path / "scenario.yaml"
    scenario.write_bytes((ROOT / "scenarios" / "first.yaml").read_bytes())
    monkeypatch.setattr(commands, "compared", lambda *_: pytest.fail("it worked for nothing"))
    assert cli.run(["compare", str(scenario), "--output", str(tmp_path / place)]) == 2


def test_a_full_disk_leaves_no_half_written_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(handle: int, *args: object, **more: object) -> None:
        os.close(handle)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(output.os, "fdopen", full)
    assert cli.run(["faults", "first", "--output", str(tmp_path / "out.txt")]) == 2
    assert capsys.readouterr().err.count("No space left on device") == 1
    assert list(tmp_path.iterdir()) == []


# ---- errors that nobody foresaw


def said_of(
    error: Exception, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> str:
    """What is said of an error in the middle of a command, on the error stream alone."""

    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(commands, "check", fail)
    assert cli.run(["check", "first"]) == 70
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


@pytest.mark.parametrize(
    "error",
    [KeyError("x"), RecursionError(), RuntimeError("a\nb"), AssertionError()],
)
def test_a_mistake_of_the_program_is_status_70_and_says_how_to_see_it(
    error: Exception, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = said_of(error, monkeypatch, capsys)
    assert type(error).__name__ in said
    assert len(said.splitlines()) == 2 and "Traceback" not in said
    assert f"{TRACEBACK}=1" in said
    monkeypatch.setenv(TRACEBACK, "1")
    assert cli.run(["check", "first"]) == 70
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("error", [MemoryError(), MemoryError("731 KiB for an array")])
def test_too_little_memory_is_no_mistake_of_the_program(
    error: MemoryError, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = said_of(error, monkeypatch, capsys)
    assert said == f"staylit: memory ran out\n    do: {LESS}\n"


# ---- signals


@pytest.fixture(name="running")
def _running() -> Iterator[Callable[[], tuple[subprocess.Popen[str], list[int]]]]:
    """`compare` at work, in a group of its own, and the ids of the processes that it started."""
    started: list[subprocess.Popen[str]] = []
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)  # whoever runs the tests may ignore it

    def begin() -> tuple[subprocess.Popen[str], list[int]]:
        running = subprocess.Popen(
            [*STAYLIT.split(), "compare", "river", "--workers", "2"],
            cwd=ROOT, env=ENV, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            start_new_session=True,
        )  # fmt: skip
        started.append(running)
        return running, _two_children(running.pid)

    yield begin
    signal.signal(signal.SIGHUP, before)
    for each in started:
        with suppress(ProcessLookupError):
            os.killpg(each.pid, signal.SIGKILL)
        each.communicate()


def _children(parent: int) -> list[int]:
    """Those that this process has started now; none once it has ended."""
    try:
        return list(map(int, Path(f"/proc/{parent}/task/{parent}/children").read_text().split()))
    except (FileNotFoundError, ProcessLookupError):
        return []


def _two_children(parent: int) -> list[int]:
    if not Path(f"/proc/{parent}/task/{parent}/children").exists():
        pytest.skip("this system does not list the processes that one has started")
    for _ in range(2000):
        found = _children(parent)
        if len(found) == 2:
            time.sleep(0.2)
            return found
        time.sleep(0.01)
    return pytest.fail("no processes were started")


def _gone(process: int) -> bool:
    """Within a second; one that has ended and waits to be collected is gone."""
    for _ in range(100):
        try:
            if Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        except (FileNotFoundError, ProcessLookupError):
            return True
        time.sleep(0.01)
    return False


def _spent() -> float:
    """Seconds of processor time of all processes that have ended, and of those they started."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_a_signal_leaves_no_process_behind(
    number: signal.Signals, running: Callable[[], tuple[subprocess.Popen[str], list[int]]]
) -> None:
    process, children = running()
    process.send_signal(number)
    out, said = process.communicate(timeout=30)
    assert (out, said) == ("", "")
    assert process.returncode == (-9 if number == signal.SIGKILL else 128 + number)
    assert [child for child in children if not _gone(child)] == []


def test_an_interruption_ends_all_processes_at_once(
    running: Callable[[], tuple[subprocess.Popen[str], list[int]]],
) -> None:
    """As a terminal does it: the signal goes to every process of the group.

    The whole comparison takes over 10 s of processor time.
    """
    before = _spent()
    process, children = running()
    os.killpg(process.pid, signal.SIGINT)
    out, said = process.communicate(timeout=30)
    assert (process.returncode, out, said.strip()) == (130, "", "staylit: interrupted")
    assert _spent() - before < 6
    assert [child for child in children if not _gone(child)] == []


def test_while_the_command_loads_an_interruption_ends_it_without_a_word(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The system's own way then, which has no traceback; ours as soon as there is work to end."""
    seen = []

    def begin() -> None:
        seen.append(signal.getsignal(signal.SIGINT))
        leave_on_signals()
        seen.append(signal.getsignal(signal.SIGINT))

    kept = {number: signal.getsignal(number) for number in (signal.SIGINT, *ENDING)}
    monkeypatch.setattr(cli, "main", begin)
    try:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        __main__.main()
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        __main__.main()
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)
    ours, ignored = interrupt, signal.SIG_IGN
    assert seen == [signal.SIG_DFL, ours, ignored, ignored], "what is ignored stays ignored"


def test_an_interruption_while_a_class_is_made_is_an_interruption(tmp_path: Path) -> None:
    """Python makes dataclasses of texts; begun with -m it ends by a signal that came meanwhile."""
    struck = "import signal; signal.raise_signal(signal.SIGINT)"
    code = (
        "import sys; from sim import cli, commands; from sim.__main__ import main\n"
        f"commands.check = lambda *_: exec({struck!r})\n"
        "sys.argv[1:] = ['check', 'first']; main()\n"
    )
    (tmp_path / "struck.py").write_text(code, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "struck"],
        cwd=tmp_path, env=ENV, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "staylit: interrupted\n")


def test_processes_that_are_ended_from_outside_are_told_with_status_70(
    running: Callable[[], tuple[subprocess.Popen[str], list[int]]],
) -> None:
    """Again and again: what one was at work on is worked out again by another."""
    process, children = running()
    ended = set[int]()
    while process.poll() is None:
        for child in _children(process.pid):
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            ended.add(child)
        time.sleep(0.01)
    out, said = process.communicate(timeout=30)
    assert (process.returncode, out) == (70, "")
    assert "ended from outside" in said and "Traceback" not in said
    assert len(ended) > len(children)
    assert [child for child in ended if not _gone(child)] == []
