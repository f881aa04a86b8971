"""Where every command may write and where not: inputs, links, folders, pipes, full disks, signals.

In: every command (`tests.every_command`) in a folder of its own. Out: one message and status 2, or
the whole file; never a file that is lost, half written, or left over.
"""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from random import Random

import pytest

from sim import cli, output
from sim.errors import InputError
from sim.leaving import HEARD, failed, interrupt, undisturbed
from sim.printing import printed
from sim.scenario.loader import inputs_of
from tests.every_command import COMMANDS, ROOT, arguments, inputs, settled

ENV = {**os.environ, "PYTHONPATH": str(ROOT)}
KILLS, MANY = int(os.environ.get("STAYLIT_SIGNALS", "4")), 20
"""Signals at random moments, each to a command drawn at random; of many, to any command."""
EVERY = [name for name in COMMANDS if name != "rehearse --results"]


@pytest.fixture(name="folder")
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    made = tmp_path / "chosen"
    made.mkdir()
    monkeypatch.chdir(settled(made))
    monkeypatch.setattr("sys.stdin", None)
    return made


def held(folder: Path) -> dict[str, bytes]:
    """All files of a folder and of those in it."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def refused(name: str, out: str, capsys: pytest.CaptureFixture[str]) -> str:
    """The one message with which a command refuses to write there."""
    capsys.readouterr()
    assert cli.run(arguments(name, out)) == 2, (name, out)
    said = capsys.readouterr()
    assert said.out == "" and "Traceback" not in said.err
    first = [line for line in said.err.splitlines() if line and not line.startswith("    ")]
    assert len(first) == 1, said.err
    return said.err


# ---- what may not be written


@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_that_was_read_is_written_over(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = held(folder)
    for number, read in enumerate(inputs(name)):
        hard, soft = folder / f"hard-{number}", folder / f"soft-{number}"
        hard.hardlink_to(folder / read)
        soft.symlink_to(read)
        for spelt in (read, f"../chosen/./{read}", str(hard), str(soft)):
            refused(name, spelt, capsys)
        hard.unlink()
        soft.unlink()
    assert held(folder) == before


@pytest.mark.parametrize("name", COMMANDS)
def test_what_cannot_be_written_is_refused_and_nothing_is_left_over(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    outside = folder.parent / "elsewhere"
    outside.mkdir()
    (outside / "kept").write_text("kept", encoding="utf-8")
    (folder / "link").symlink_to(outside / "kept")
    (folder / "new-link").symlink_to(outside / "new")
    (folder / "loop").symlink_to("loop")
    os.mkfifo(folder / "pipe")
    before = held(folder.parent)
    for out in (".", "no/such/folder/x", "x/", "link", "new-link", "loop", "n" * 300, "a\0b"):
        refused(name, out, capsys)
    assert held(folder.parent) == before


@pytest.mark.parametrize("name", COMMANDS)
def test_a_folder_that_cannot_be_written_to_is_refused_before_the_work(
    name: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As the system would tell; whoever may do everything is let in everywhere."""
    closed = folder / "closed"
    closed.mkdir(0o500)
    access = os.access

    def told(path: str | Path, mode: int) -> bool:
        return access(path, mode) and not (mode & os.W_OK and Path(path) == closed)

    monkeypatch.setattr(output.os, "access", told)
    monkeypatch.setattr(output, "_replace", lambda *of, **more: pytest.fail("it worked for it"))
    assert "no file can be made in its folder" in refused(name, str(closed / "out"), capsys)
    assert list(closed.iterdir()) == []


def test_what_is_only_added_to_may_lie_in_a_closed_folder(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(output.os, "access", lambda path, mode: False)
    output.may_be_written(str(folder / "mine.csv"), whole=False)
    for name, whole in (("mine.csv", True), ("new.csv", False)):
        with pytest.raises(InputError, match="no file can be made"):
            output.may_be_written(str(folder / name), whole=whole)


CHEAP = ("check", "rates", "rates --file", "draw", "rehearse --write-drill", "proof --read", "new")
"""One for each way to a file; the others share the way of the first."""


@pytest.mark.parametrize("name", [*CHEAP, "rehearse --record"])
def test_a_full_disk_or_a_pipe_nobody_reads_is_one_message(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(folder / "pipe")
    assert "cannot be" in refused_late(name, "/dev/full", capsys)
    assert "cannot be" in refused_late(name, "pipe", capsys)


def refused_late(name: str, out: str, capsys: pytest.CaptureFixture[str]) -> str:
    """As `refused`, but a rehearsal has told its situations by then."""
    capsys.readouterr()
    assert cli.run(arguments(name, out)) == 2, (name, out)
    said = capsys.readouterr().err
    assert "Traceback" not in said
    return said


def test_a_file_that_a_scenario_names_is_one_of_its_inputs(folder: Path) -> None:
    found = [path.name for path in inputs_of(folder / "first.yaml")]
    assert found == ["first.yaml", "own.yaml", "shown.yaml"]
    assert inputs_of(folder / "records.csv") == (folder / "records.csv",)
    os.mkfifo(folder / "pipe")
    assert inputs_of(folder / "pipe") == (folder / "pipe",), "and a pipe is not read for it"


@pytest.mark.parametrize(
    "read", ["records.csv", "sheet.csv", "mine.csv", "drill.yaml", "acts.yaml"]
)
@pytest.mark.parametrize("what", ["pipe", "folder", "device", "missing"])
def test_what_cannot_be_read_is_refused_and_not_waited_for(
    read: str, what: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder / read
    path.unlink()
    if what == "pipe":
        os.mkfifo(path)
    elif what == "folder":
        path.mkdir()
    elif what == "device":
        path.symlink_to("/dev/zero")
    name = {
        "records.csv": "rates", "sheet.csv": "proof --read", "mine.csv": "rehearse --progress",
    }.get(read, "rehearse")  # fmt: skip
    refused(name, "out.txt", capsys)
    assert not (folder / "out.txt").exists()


# ---- what is written


@pytest.mark.parametrize("name", CHEAP)
def test_what_is_there_is_exchanged_as_a_whole(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A hard link to the old file keeps the old one; its rights stay."""
    out, old = folder / "out", folder / "old"
    out.write_text("old", encoding="utf-8")
    out.chmod(0o640)
    old.hardlink_to(out)
    assert cli.run(arguments(name, "out")) in (0, 1), capsys.readouterr().err
    assert old.read_text(encoding="utf-8") == "old" and len(out.read_bytes()) > 20
    assert out.stat().st_mode & 0o777 == 0o640


def test_a_link_within_the_folder_leads_to_its_file(folder: Path) -> None:
    (folder / "latest").symlink_to("one.txt")
    assert cli.run(["draw", "first.yaml", "--output", "latest"]) == 0
    assert (folder / "latest").is_symlink() and (folder / "one.txt").read_bytes()[:4] == b"<svg"


def test_a_folder_may_itself_be_a_link(folder: Path) -> None:
    (folder.parent / "there").symlink_to(folder)
    assert cli.run(["draw", "first.yaml", "--output", "../there/one.svg"]) == 0
    assert (folder / "one.svg").exists()


def test_a_name_may_be_as_long_as_the_system_lets_it(folder: Path) -> None:
    assert cli.run(["draw", "first.yaml", "--output", "n" * 251 + ".svg"]) == 0
    assert (folder / ("n" * 251 + ".svg")).exists()


def test_what_came_while_we_worked_is_not_written_over(folder: Path) -> None:
    """Without --force a file that another one made in the meantime stays."""
    path = folder / "mine.yaml"
    path.write_text("theirs", encoding="utf-8")
    with pytest.raises(FileExistsError):
        output._replace(path, "ours", fresh=True)
    assert path.read_text(encoding="utf-8") == "theirs"
    assert [p.name for p in folder.iterdir() if "mine.yaml." in p.name] == []


def test_a_pipe_that_somebody_reads_gets_all(folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    heard: list[bytes] = []
    reader = threading.Thread(target=lambda: heard.append((folder / "pipe").read_bytes()))
    reader.start()
    for _ in range(200):
        try:
            output.put("x" * 300_000, "pipe")
            break
        except InputError as error:  # it has not come to read yet
            assert "nobody reads" in str(error)
            time.sleep(0.01)
    reader.join(10)
    assert heard == [b"x" * 300_000]


def test_a_disk_that_fills_up_leaves_the_old_file_alone(folder: Path) -> None:
    (folder / "out.txt").write_text("old", encoding="utf-8")
    before = held(folder)
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "sim", *arguments("faults", "out.txt")],
        cwd=folder, env=ENV, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "out.txt: cannot be written: File too large" in done.stderr
    assert held(folder) == before


def test_what_the_shell_handed_over_is_added_to(folder: Path) -> None:
    """`>>` keeps what is there."""
    (folder / "all.svg").write_text("before\n", encoding="utf-8")
    command = f"{sys.executable} -m sim draw first.yaml --output /dev/stdout >> all.svg"
    subprocess.run(["sh", "-c", command], cwd=folder, env=ENV, check=True)
    assert (folder / "all.svg").read_text(encoding="utf-8").startswith("before\n<svg")


@pytest.mark.parametrize("name", ["check", "rates --file", "new"])
def test_a_remark_that_nobody_can_hear_changes_no_status(name: str, folder: Path) -> None:
    command = " ".join(f"'{each}'" for each in arguments(name, "out.txt"))
    said = f"{sys.executable} -m sim {command} 2>/dev/full >/dev/null"
    done = subprocess.run(["sh", "-c", said], cwd=folder, env=ENV, check=False)
    assert done.returncode == (1 if name == "check" else 0)
    assert (folder / "out.txt").stat().st_size > 100


# ---- signals


def test_a_signal_waits_for_what_is_done_whole_or_not_at_all() -> None:
    seen: list[str] = []
    before = signal.signal(signal.SIGINT, interrupt)
    try:
        with pytest.raises(KeyboardInterrupt), undisturbed():
            signal.raise_signal(signal.SIGINT)
            seen.append("it went on")
        assert signal.getsignal(signal.SIGINT) is interrupt
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        with undisturbed():
            signal.raise_signal(signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN, "what is ignored stays ignored"
    finally:
        signal.signal(signal.SIGINT, before)
        HEARD.clear()
    assert seen == ["it went on"]


def test_a_file_is_whole_when_a_signal_comes_as_it_is_written(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = os.fsync

    def struck(handle: int) -> None:
        signal.raise_signal(signal.SIGINT)
        whole(handle)

    before = signal.signal(signal.SIGINT, interrupt)
    monkeypatch.setattr(output.os, "fsync", struck)
    try:
        with pytest.raises(KeyboardInterrupt):
            output.put("all of it", "out.txt")
    finally:
        signal.signal(signal.SIGINT, before)
        HEARD.clear()
    assert (folder / "out.txt").read_text(encoding="utf-8") == "all of it"
    assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []


@pytest.mark.parametrize(
    ("number", "status", "said"),
    [(signal.SIGINT, 130, "staylit: interrupted\n"), (signal.SIGTERM, 143, "")],
)
def test_what_a_library_makes_of_an_interruption_is_still_one(
    number: int, status: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    HEARD.append(number)
    try:
        assert failed(ValueError("KeyboardInterrupt, as a library tells it")) == status
    finally:
        HEARD.clear()
    assert capsys.readouterr().err == said


def test_signals_at_random_moments_leave_whole_files_or_none(folder: Path) -> None:
    """STAYLIT_SIGNALS=200 for a long run."""
    draw = Random(int(os.environ.get("STAYLIT_KILL_SEED", "11")))
    whole: dict[str, tuple[bytes, float]] = {}
    for _ in range(KILLS):
        name = draw.choice(CHEAP if KILLS < MANY else EVERY)
        if name not in whole:
            status, _, took = struck(folder, name, None, 0.0)
            assert status in (0, 1)
            whole[name] = ((folder / "out").read_bytes(), took)
        made, took = whole[name]
        old = draw.choice((None, b"old"))
        (folder / "out").unlink(missing_ok=True)
        if old:
            (folder / "out").write_bytes(old)
        before = held(folder)
        number = draw.choice((signal.SIGINT, signal.SIGTERM))
        status, said, _ = struck(folder, name, number, draw.uniform(0.3, 1.05) * took)
        told = f"{name}, {number!r}, {status}: {said}"
        assert status in (0, 1, 130, 143, -number), told
        assert "Traceback" not in said and "rror" not in said, told
        assert said.count("staylit: interrupted") == (status == 130), told
        after = held(folder)
        assert {k: v for k, v in after.items() if k != "out"} == {
            k: v for k, v in before.items() if k != "out"
        }, told
        assert after.get("out") in ({made, old}), told


def struck(
    folder: Path, name: str, number: signal.Signals | None, after: float
) -> tuple[int, str, float]:
    """A command, a signal to all its processes after so many seconds; status, words, seconds."""
    begun = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", "sim", *arguments(name, "out")],
        cwd=folder, env={**ENV, "TMPDIR": str(folder)}, stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    if number is not None:
        time.sleep(after)
        os.killpg(process.pid, number)
    _, said = process.communicate(timeout=100)
    return process.returncode, said, time.monotonic() - begun


def test_a_pdf_that_is_interrupted_leaves_no_process_and_no_folder(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a program that starts another one, as browsers do, and never ends."""
    temporary = folder / "temporary"
    temporary.mkdir()
    slow = folder / "slow"
    slow.write_text("#!/bin/sh\ntouch $TMPDIR/own\nsleep 77 &\necho $! > ../pid\nwait\n")
    slow.chmod(0o755)
    monkeypatch.setenv("STAYLIT_CHROMIUM", str(slow))
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    before = signal.signal(signal.SIGALRM, interrupt)
    try:
        signal.setitimer(signal.ITIMER_REAL, 0.5)
        with pytest.raises(KeyboardInterrupt):
            printed("<p>")
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
        HEARD.clear()
    assert list(temporary.iterdir()) == []
    started = int((folder.parent / "pid").read_text(encoding="utf-8"))
    for _ in range(100):
        if not Path(f"/proc/{started}").exists() or _waits(started):
            break
        time.sleep(0.01)
    else:
        pytest.fail("what it had started still runs")


def _waits(process: int) -> bool:
    """It has ended and waits to be collected."""
    return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
