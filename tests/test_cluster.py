"""Work by the workers of a Dask scheduler on this machine; one of them killed in the middle.

In: a scheduler and two workers in processes of their own on 127.0.0.1; addresses that are none.
Out: what one process prints; one message.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from types import SimpleNamespace

import pytest

from sim import cli, cluster
from sim.cluster import checked
from sim.errors import InputError
from sim.leaving import WorkLostError
from tests.resumed import ENV, NOT_MET, PATIENCE, begun, expected, lines, wait_for_lines

DASK = (sys.executable, "-m", "dask")


def started(path: Path, *asked: str, seed: str = "0") -> subprocess.Popen[bytes]:
    """A part of Dask, which writes what it says into a file; names are hashed by this seed."""
    with path.open("wb") as out:
        return subprocess.Popen(
            [*DASK, *asked], cwd=path.parent, env={**ENV, "PYTHONHASHSEED": seed},
            stdout=out, stderr=subprocess.STDOUT,
        )  # fmt: skip


@pytest.fixture(name="scheduler")
def _scheduler(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler, and its two workers."""
    file = tmp_path / "scheduler.json"
    asked = ("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
    with ExitStack() as ends:
        own = started(tmp_path / "scheduler.log", *asked, "--scheduler-file", str(file))
        ends.callback(_end, own)
        until = time.monotonic() + PATIENCE
        while not file.exists() or not file.read_text().strip():
            assert own.poll() is None and time.monotonic() < until
            time.sleep(0.05)
        address = json.loads(file.read_text())["address"]
        workers = []
        for number in range(2):
            asked = ("worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
            log = tmp_path / f"worker-{number}.log"
            workers.append(started(log, *asked, "--host", "127.0.0.1", seed=str(number + 1)))
            ends.callback(_end, workers[-1])
        yield address, workers


def _end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()


def test_a_worker_that_is_killed_in_the_middle_changes_no_byte(
    scheduler: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    """In the middle: the journal holds some chunks then, and many more in the end."""
    address, workers = scheduler
    journal = tmp_path / "risk.journal"
    running = begun("--cluster", address, "--checkpoint", str(journal))
    assert wait_for_lines(journal, 8, running), running.communicate()
    workers[0].send_signal(signal.SIGKILL)
    before = lines(journal)
    assert running.poll() is None
    out, said = running.communicate(timeout=PATIENCE)
    assert (running.returncode, said) == (NOT_MET, b"")
    assert lines(journal) > before + 20, "most of the work came later"
    assert (workers[0].poll(), workers[1].poll()) == (-signal.SIGKILL, None)
    assert out == expected()


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("127.0.0.1:8786", "tcp://127.0.0.1:8786"),
        ("tcp://wall-server.local:1", "tcp://wall-server.local:1"),
        ("tls://[::1]:65535", "tls://[::1]:65535"),
    ],
)
def test_an_address_is_a_host_and_a_port(said: str, meant: str) -> None:
    assert checked(said) == meant


@pytest.mark.parametrize(
    "said",
    ["host", "host:", ":1", "host:0", "host:65536", "ftp://host:1", "tcp://host:1/x", "ho st:1",
     "host:1\n", "\0:1", "inproc://1/2", "[:1", "host:\u0661"],
)  # fmt: skip
def test_what_is_no_address_is_refused(said: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match="no address"):
        checked(said)
    assert cli.run(["risk", "first", "--cluster", said]) == 2
    assert "tcp://HOST:PORT" in capsys.readouterr().err


def test_workers_of_its_own_and_processes_here_are_one_too_many(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for command in ("risk", "compare"):
        assert cli.run([command, "first", "--cluster", "x:1", "--workers", "2"]) == 2
        assert "leave --workers out" in capsys.readouterr().err


def test_without_the_package_it_is_said_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert cli.run(["compare", "first", "--cluster", "127.0.0.1:8786"]) == 2
    said = capsys.readouterr().err
    assert ".venv/bin/pip install -e '.[cluster]'" in said
    assert "'staylit" not in said  # no registry has it: what bears its name there is another's


class Nobody:
    """A scheduler without workers."""

    def __init__(self, *of: object, **how: object) -> None:
        self.closed = False

    def wait_for_workers(self, *of: object, **how: object) -> None:
        raise TimeoutError

    def scheduler_info(self, **how: object) -> dict[str, object]:
        return {"workers": {}}

    def close(self, **how: object) -> None:
        self.closed = True


def unreachable(*of: object, **how: object) -> None:
    raise OSError("timed out")


@pytest.mark.parametrize(
    ("client", "said"), [(unreachable, "no scheduler answers"), (Nobody, "has no worker")]
)
def test_who_does_not_answer_or_has_no_worker_is_told(
    client: object, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", SimpleNamespace(Client=client))
    assert cli.run(["risk", "first", "--cluster", "127.0.0.1:8786"]) == 2
    assert said in capsys.readouterr().err


def test_work_without_workers_for_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    from queue import SimpleQueue

    monkeypatch.setattr(cluster, "ALONE", 0.02)
    monkeypatch.setattr(cluster, "LOOKS", 0.01)
    with pytest.raises(WorkLostError, match="has had no worker"):
        cluster.Cluster(Nobody(), "tcp://x:1")._next(SimpleQueue())


@pytest.mark.parametrize(
    ("name", "module", "said"),
    [
        ("KilledWorker", "distributed.scheduler", "lost again and again"),
        ("FutureCancelledError", "distributed.client", "is not there any more"),
    ],
)
def test_what_dask_gives_up_is_told_in_words_of_ours(name: str, module: str, said: str) -> None:
    error = type(name, (Exception,), {"__module__": module})

    def result() -> None:
        raise error

    with pytest.raises(WorkLostError, match=said):
        cluster.Cluster(Nobody(), "tcp://x:1")._result(SimpleNamespace(result=result))


def test_what_a_chunk_raised_itself_is_told_as_it_is() -> None:
    def result() -> None:
        raise ZeroDivisionError("a mistake of the program")

    with pytest.raises(ZeroDivisionError, match="a mistake"):
        cluster.Cluster(Nobody(), "tcp://x:1")._result(SimpleNamespace(result=result))


def test_a_worker_of_another_version_is_refused() -> None:
    with pytest.raises(InputError, match="a worker has version"):
        cluster._one("0.0", abs, None, 1)  # type: ignore[arg-type]


def test_help_says_whom_to_trust(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["risk", "--help"]) == 0
    assert "trusted networks" in " ".join(capsys.readouterr().out.split())
