"""A drill in a terminal: whole sessions through a pseudo-terminal, and what is left behind.

In: keys typed one line after the other, an end of input, an interrupt, a resize, a hang-up. Out:
the settings of the terminal, the record, the report, the status.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from sim.cli import run
from sim.practice.planning import tongue_of
from sim.practice.results import entries_of
from sim.session import Talk, script_text, session
from tests.seen_rigs import stage
from tests.test_drill import STUCK, plan_of

ROOT = Path(__file__).parents[1]
OWNS_TERMINAL = """
import fcntl, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from sim.__main__ import main
main()
"""
"""The command, with the pseudo-terminal as its own: keys such as the interrupt reach it."""
ENV = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "dumb"}
STRICT = {"PYTHONIOENCODING": "utf-8:strict"}
"""As where the locale is UTF-8: what is no text raises an error when it is read."""
DRILL = ("rehearse", "studio", "--drill", "studio-dead-port")


@dataclass(frozen=True)
class Ended:
    """What a session left: status, what stood on the terminal, report, settings before, after."""

    status: int
    screen: str
    report: str
    before: list[Any]
    after: list[Any]


class Terminal:
    """One command with a pseudo-terminal for its input and its talk."""

    def __init__(self, *args: str, kind: str = "dumb") -> None:
        self.master, slave = pty.openpty()
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        self.process = subprocess.Popen(
            [sys.executable, "-W", "error", "-c", OWNS_TERMINAL, *args],
            cwd=ROOT, env={**ENV, **STRICT, "TERM": kind}, stdin=slave, stderr=slave,
            stdout=subprocess.PIPE, start_new_session=True,
        )  # fmt: skip
        self.screen, self.seen = "", 0

    def wait_for(self, text: str, seconds: float = 60) -> None:
        """Read until a text stands on the terminal after the one that was waited for before."""
        end = time.monotonic() + seconds
        while text not in self.screen[self.seen :]:
            if time.monotonic() > end:
                self.process.kill()
                self.end()
                raise AssertionError(f"{text!r} never came after {self.screen[self.seen :]!r}")
            if select.select([self.master], [], [], 0.2)[0]:
                self.screen += os.read(self.master, 65536).decode(errors="replace")
        self.seen = self.screen.index(text, self.seen) + len(text)

    def type(self, keys: str | bytes) -> None:
        os.write(self.master, keys if isinstance(keys, bytes) else keys.encode())

    def resize(self, rows: int, columns: int) -> None:
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        os.kill(self.process.pid, signal.SIGWINCH)

    def end(self) -> Ended:
        try:
            report, _ = self.process.communicate(timeout=60)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.communicate()
            raise
        while select.select([self.master], [], [], 0)[0]:
            self.screen += os.read(self.master, 65536).decode(errors="replace")
        after = termios.tcgetattr(self.slave)
        os.close(self.slave)
        os.close(self.master)
        status = self.process.returncode
        return Ended(status, self.screen, report.decode(), self.before, after)


def replayed(record: Path, capsys: pytest.CaptureFixture[str]) -> str:
    assert run([*DRILL, "--script", str(record)]) == 0
    return capsys.readouterr().out


ENDINGS = {"done": "done\n", "stop": "stop\n", "end of input": "\x04", "interrupt": "\x03"}


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_session_leaves_a_clean_terminal_and_a_record_that_gives_the_same_bytes(
    ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "mine.yaml"
    terminal = Terminal(*DRILL, "--record", str(record))
    terminal.wait_for("> ")
    for keys, answer in (
        ("look\n", "backdrop 12.5 % dark"),
        ("jump \x1b[31m about\n", "nothing that can be done"),
        ("help\n", "re-patch PORT"),
        ("\n", "\n> "),
        ("re-patch backdrop/port-a-3\n", "done, after 2 min 30 s"),
    ):
        terminal.type(keys)
        terminal.wait_for(answer)
        if keys.strip():
            terminal.wait_for("> ")
    terminal.resize(10, 20)
    terminal.type("wait 20 s\n")
    terminal.wait_for("> ")
    terminal.type(ENDINGS[ending])
    ended = terminal.end()
    assert ended.status == (130 if ending == "interrupt" else 0)
    assert ended.before == ended.after
    assert "Traceback" not in ended.screen + ended.report
    assert record.read_text().count("\n  - ") == 3
    assert "\x1b" not in ended.screen.replace("^[", ""), "readable without colour"
    assert ended.report.replace("\r\n", "\n") == replayed(record, capsys)


def test_a_hang_up_leaves_a_record(tmp_path: Path) -> None:
    record = tmp_path / "mine.yaml"
    terminal = Terminal(*DRILL, "--record", str(record))
    terminal.wait_for("> ")
    terminal.type("look\n")
    terminal.wait_for("> ")
    terminal.process.send_signal(signal.SIGHUP)
    ended = terminal.end()
    assert ended.status == 128 + signal.SIGHUP
    assert record.read_text().endswith('acts:\n  - "look"\n')


def is_clean(ended: Ended) -> bool:
    """Settings as before, no traceback, no escape but what somebody typed (echoed as ^[)."""
    return (
        ended.before == ended.after
        and "Traceback" not in ended.screen + ended.report
        and "\x1b" not in ended.screen
    )


def test_an_interrupt_while_an_act_takes_its_time_leaves_record_and_results(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In real time, twenty times faster: the fault shows by itself while a line is typed."""
    record, results = tmp_path / "mine.yaml", tmp_path / "mine.csv"
    kept = ("--record", str(record), "--results", str(results), "--date", "2026-02-03")
    terminal = Terminal(*DRILL, "--pace", "20", *kept)
    terminal.wait_for("> ")
    terminal.type("lo")
    terminal.wait_for("12.5 % dark")
    terminal.wait_for("> ")
    terminal.type("ok\n")
    terminal.wait_for("done, after 20 s")
    terminal.wait_for("> ")
    terminal.type("walk to machine room\n")
    time.sleep(0.5)
    terminal.resize(12, 30)
    time.sleep(0.5)
    terminal.type("\x03")
    ended = terminal.end()
    assert ended.status == 130 and is_clean(ended)
    acts = record.read_text().splitlines()[2:]
    assert acts[-1] == '  - "walk to machine room"' and '  - "look"' in acts
    assert all("wait" in act for act in acts if "look" not in act and "walk" not in act)
    [entry] = entries_of(results.read_text(), "f")
    assert entry.what.broken and entry.what.date == "2026-02-03"
    found = ended.report.partition("What to practise next")[0]
    assert found == replayed(record, capsys).partition("What to practise next")[0]


ODD = {
    "no text": b"\xff\xfe look \xc3\x28\n",
    "keys that move and clear": b"\x1b[2J\x1b[A\x1b[?25l\n",
    "nothing and tabs": b" \t \x00 \n",
    "long": b"look" * 900 + b"\n",
}


@pytest.mark.parametrize("keys", ODD.values(), ids=ODD)
def test_whatever_is_typed_the_drill_goes_on(keys: bytes, tmp_path: Path) -> None:
    record = tmp_path / "mine.yaml"
    terminal = Terminal(*DRILL, "--record", str(record))
    terminal.wait_for("> ")
    terminal.type(keys)
    terminal.wait_for("> ")
    terminal.type("tell\n")
    terminal.wait_for("done, after 10 s")
    terminal.wait_for("> ")
    terminal.type("look\x04\x04")
    terminal.wait_for("done, after 20 s")
    terminal.wait_for("> ")
    terminal.type("\x04")
    ended = terminal.end()
    assert ended.status == 0 and is_clean(ended)
    assert record.read_text().endswith('acts:\n  - "tell"\n  - "look"\n')


def test_an_interrupt_before_anything_was_done_leaves_an_empty_record(tmp_path: Path) -> None:
    record = tmp_path / "mine.yaml"
    terminal = Terminal(*DRILL, "--record", str(record))
    terminal.wait_for("> ")
    terminal.type("loo\x03")
    ended = terminal.end()
    assert ended.status == 130 and is_clean(ended)
    assert record.read_text().endswith("acts: []\n")


HIDE, SHOW = "\x1b[?25l", "\x1b[?25h"


@pytest.mark.parametrize("broken", [True, False])
def test_a_line_of_progress_gives_the_cursor_back(broken: bool) -> None:
    """On a terminal that knows escapes the line of progress hides the cursor while it draws."""
    terminal = Terminal("rehearse", "river", "--drawn", "1", kind="xterm")
    terminal.wait_for(HIDE)
    if not broken:
        terminal.wait_for("> ")
    terminal.type("\x03")
    ended = terminal.end()
    assert ended.status == 130 and ended.before == ended.after
    assert "Traceback" not in ended.screen
    assert ended.screen.rindex(SHOW) > ended.screen.rindex(HIDE)
    assert "\x1b" not in ended.screen.rpartition(SHOW)[2].replace("\x1b[1A\x1b[2K", "")


def test_a_drill_that_is_over_asks_no_more() -> None:
    plan = plan_of(stage("river").rig, minutes=1)
    tongue = tongue_of(stage("river").scenario, plan.rig, {})
    heard, told, said = iter(["wait 1 min", "look"]), list[bool](), list[str]()
    talk = Talk(
        lambda _: next(heard), lambda now, _: told.append(now.over), said.append, said.append
    )
    found = session(plan, tongue, talk)
    assert [act.do for act in found.acts] == ["wait"]
    assert told == [False, True] and said == ["wait 1 min"]
    assert STUCK not in plan.script.faults


def test_a_record_is_a_script() -> None:
    assert script_text((), "t") == "# What was done in a drill: t.\nacts: []\n"
    assert script_text(('ask "x"',), "t").endswith('acts:\n  - "ask \\"x\\""\n')


def test_record_and_script_exclude_each_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = ROOT / "scenarios" / "drills" / "studio-dead-port.script.yaml"
    record = tmp_path / "mine.yaml"
    assert run([*DRILL, "--script", str(script), "--record", str(record)]) == 2
    assert "--record" in capsys.readouterr().err
    assert run([*DRILL, "--record", str(script.with_name("studio-dead-port.yaml"))]) == 2
    assert "what it is made from" in capsys.readouterr().err
