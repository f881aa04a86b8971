"""An engineer's table of drills: written and read again, never lost; progress, what is due next.

Trends are held against numpy's least squares, medians against `statistics`. In: reviews, tables,
whole commands. Out: entries, messages, advice.
"""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from io import RawIOBase
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.cli import run
from sim.commands_rehearse import add_result
from sim.errors import InputError
from sim.faults import Fault
from sim.harmless import harmless
from sim.practice.acts import Act
from sim.practice.advice import (
    PHASES,
    SLOW,
    Due,
    dues,
    masses_by_kind,
    phases,
    slowest,
    standings,
    trend,
)
from sim.practice.results import HEAD, Entry, What, entries_of, entry_line, entry_of
from sim.practice.review import review
from sim.timebase import FLICKS
from tests.plans import FRAME
from tests.test_diagnosis import ready
from tests.test_drill import CROSSED, STUCK, plan_of

SECOND = FLICKS
WAIT, SWAP = Act("wait", time=30 * SECOND), Act("swap", "main/relay-main")
WHAT = What("2026-03-04", "plan", "crossed-relays", "t", 7)
ENTRY = Entry(
    WHAT, ("relay stuck",), "redundancy", True, SECOND, 60 * SECOND, 61 * SECOND, None,
    Fraction(3, 2), Fraction(9), 2,
)  # fmt: skip
MILLI = FLICKS // 1000
WILD = ("=1+1", "-2", "'=x", "''@a", "'", "\x1b[31m", "\u202e", " =1", "a,b", '"', "\uff1d1")
WORDS = (st.sampled_from(WILD) | st.text(min_size=1, max_size=12)).map(
    lambda text: " ".join(text.split()) or "x"
)
TIMES = st.none() | st.integers(0, 10**6).map(lambda number: number * MILLI)
LOSSES = st.integers(0, 10**8).map(lambda number: Fraction(number, 1000))
ENTRIES = st.builds(
    Entry,
    what=st.builds(
        What, st.dates().map(lambda day: day.isoformat()), WORDS, WORDS, WORDS,
        st.none() | st.integers(0, 2**63), st.booleans(),
    ),
    kinds=st.lists(st.sampled_from(["port dead", "relay stuck", "fibre cut"]), min_size=1)
    .map(dict.fromkeys).map(tuple),
    goal=st.sampled_from(["picture", "redundancy", "critical"]),
    reached=st.booleans(), noticed=TIMES, right=TIMES, picture=TIMES, redundancy=TIMES,
    lost=LOSSES, lost_by_nothing=LOSSES, hints=st.integers(0, 99),
)  # fmt: skip


# ---- the table ---------------------------------------------------------------------------------


@given(st.lists(ENTRIES, max_size=4))
def test_what_is_written_is_read_again(entries: list[Entry]) -> None:
    text = HEAD + "".join(map(entry_line, entries))
    assert entries_of(text, "f") == tuple(map(_written_out, entries))
    assert text.count("\n") == len(entries) + 1
    assert text.replace("\n", "").isprintable()
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)


def _written_out(entry: Entry) -> Entry:
    """What cannot be printed comes back as it was shown."""
    what = entry.what
    named = {key: harmless(getattr(what, key)) for key in ("scenario", "topology", "drill")}
    return replace(entry, what=replace(what, **named))


def test_a_line_tells_what_the_drill_came_to() -> None:
    plan = plan_of(CROSSED, STUCK, Fault("main/r1c1/receiver", "dead", 25 * SECOND))
    made = review(plan, (WAIT, SWAP))
    entry = entry_of(made, WHAT)
    assert entry.kinds == ("relay stuck", "receiver dead")
    assert (entry.noticed, entry.right, entry.lost) == (made.noticed, made.right, made.lost)
    assert not entry.reached and entry.picture is None
    assert ",relay stuck + receiver dead,redundancy,no,whole,20.000,40.000,,," in entry_line(entry)
    failing = replace(plan, script=replace(plan.script, failing=frozenset({"x"})))
    assert entry_of(replace(made, plan=failing), WHAT).kinds[-1] == "selector changeover"


LINE = entry_line(ENTRY)
BAD = {
    "another table": ("name,age\nx,1\n", "f:1", "is no table of drills"),
    "short": (HEAD + LINE + "2026-01-01,x\n", "f:3", "2 fields"),
    "date": (HEAD + LINE.replace("2026-03-04", "4.3.2026"), "f:2", "date is '4.3.2026'"),
    "seed": (HEAD + LINE.replace(",7,", ",seven,"), "f:2", "seed is 'seven'"),
    "reached": (HEAD + LINE.replace(",yes,", ",maybe,"), "f:2", "reached is 'maybe'"),
    "ended": (HEAD + LINE.replace(",whole,", ",half,"), "f:2", "ended is 'half'"),
    "time": (HEAD + LINE.replace(",60.000,", ",soon,"), "f:2", "right_s is 'soon'"),
    "less than none": (HEAD + LINE.replace(",9.000,", ",-9,"), "f:2", "lost_doing_nothing_s"),
    "hints": (HEAD + LINE.replace(",2\n", ",two\n"), "f:2", "hints is 'two'"),
    "quotes": (HEAD + '"open\n', "f:2", "is no table"),
}  # fmt: skip


@pytest.mark.parametrize("text, where, found", BAD.values(), ids=BAD)
def test_a_table_that_cannot_be_read_is_refused_with_its_line(
    text: str, where: str, found: str
) -> None:
    with pytest.raises(InputError) as caught:
        entries_of(text, "f")
    assert str(caught.value).startswith(where) and found in str(caught.value)
    assert entries_of(HEAD + LINE, "f") == (ENTRY,)


# ---- whole commands ----------------------------------------------------------------------------

DRILL = ["rehearse", "studio", "--drill", "studio-dead-port"]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("wait until 19:32:10:00\nlook\ndone\n"))


@pytest.mark.usefixtures("typed")
def test_a_drill_adds_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, before = tmp_path / "mine.csv", HEAD + LINE.rstrip("\n")
    path.write_text(before)
    assert run([*DRILL, "--results", str(path), "--date", "2026-05-06", "--format", "json"]) == 0
    made = json.loads(capsys.readouterr().out)
    text = path.read_text()
    assert text.startswith(before + "\n") and text.count("\n") == 3
    entry = entries_of(text, "f")[-1]
    assert entry.what == What("2026-05-06", "studio", "single-feed", "studio-dead-port")
    assert entry.noticed == made["times"]["noticed"] == 10 * SECOND
    assert entry.right is made["times"]["right"] is None and not entry.reached
    assert entry.hints == 1 and entry.kinds == ("port dead",)
    assert [each.name for each in tmp_path.iterdir()] == ["mine.csv"]
    assert len(made["practise_next"]) == 3 and made["phases"][1]["came"] is False


@pytest.mark.usefixtures("typed")
def test_a_new_table_begins_with_its_head(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    assert run([*DRILL, "--results", str(path)]) == 0
    assert path.read_text().startswith(HEAD)
    assert len(entries_of(path.read_text(), "f")) == 1


@pytest.mark.usefixtures("typed")
@pytest.mark.parametrize("text", ["name,age\n", HEAD + "2026-01-01,x\n", "\x00\xff"])
def test_a_bad_table_is_left_as_it_is_and_the_drill_does_not_begin(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.csv"
    path.write_bytes(text.encode("latin-1"))
    assert run([*DRILL, "--results", str(path)]) == 2
    said = capsys.readouterr()
    assert str(path) in said.err and "Traceback" not in said.err and not said.out
    assert "One act a line" not in said.err
    assert path.read_bytes() == text.encode("latin-1")


@pytest.mark.usefixtures("typed")
def test_a_table_that_cannot_be_written_keeps_what_it_had(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(HEAD + LINE)

    def full(file: RawIOBase, text: bytes) -> int:
        """Half of it is written, then the disk is full."""
        return file.write(text[:20]) or 0

    monkeypatch.setattr("sim.output._written", full)
    assert run([*DRILL, "--results", str(path)]) == 2
    said = capsys.readouterr()
    assert "No space left" in said.err and "backdrop/port-a-3 failed" in said.out
    assert path.read_text() == HEAD + LINE
    assert [each.name for each in tmp_path.iterdir()] == ["mine.csv"]


def _adding(path: Path, how: Callable[[Path, Entry], None], name: str) -> None:
    for _ in range(30):
        how(path, replace(ENTRY, what=replace(WHAT, drill=name)))


def _unguarded(path: Path, entry: Entry) -> None:
    """As it must not be done: read, then written whole."""
    text = path.read_text() if path.exists() else HEAD
    time.sleep(0.005)
    path.write_text(text + entry_line(entry))


@pytest.mark.parametrize(("how", "kept"), [(add_result, True), (_unguarded, False)])
def test_drills_that_end_at_once_each_keep_their_line(
    how: Callable[[Path, Entry], None], kept: bool, tmp_path: Path
) -> None:
    """Two processes, thirty drills each; a table that is read and written whole loses some."""
    path, fork = tmp_path / "mine.csv", multiprocessing.get_context("fork")
    both = [fork.Process(target=_adding, args=(path, how, name)) for name in ("one", "two")]
    for each in both:
        each.start()
    for each in both:
        each.join(60)
    text = path.read_text()
    whole = text.startswith(HEAD) and text.count("\n") == 61 and text.count(HEAD) == 1
    assert whole == kept
    if kept:
        drills = [entry.what.drill for entry in entries_of(text, "f")]
        assert sorted(drills) == ["one"] * 30 + ["two"] * 30


USAGE = {
    "script": (["--results", "x.csv", "--script", "s.yaml"], "--results belongs to a drill"),
    "date": (["--date", "2026-01-01"], "--date belongs to --results"),
    "no day": (["--results", "x.csv", "--date", "tomorrow"], "'tomorrow' is no day"),
    "progress": (["--progress"], "--progress goes with --results"),
    "record": (["--results", "x.csv", "--record", "x.csv"], "what it is made from"),
}


@pytest.mark.parametrize("args, said", USAGE.values(), ids=USAGE)
def test_wrong_usage_is_refused(
    args: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*DRILL, *args]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert not Path("x.csv").exists()


def test_progress_is_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.csv"
    faster = replace(ENTRY, right=40 * SECOND)
    broken = replace(ENTRY, what=replace(WHAT, broken=True), right=None)
    path.write_text(HEAD + LINE + entry_line(broken) + entry_line(faster))
    asked = ["rehearse", "studio", "--results", str(path), "--progress"]
    assert run(asked) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "relay stuck 2 2 1 min, 40 s; median 50 s 20 s faster" in said
    assert "not practised yet" in said
    assert run([*asked, "--format", "json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["kinds"][0]["right"] == [60 * SECOND, 40 * SECOND]
    path.write_text(HEAD + entry_line(replace(ENTRY, right=None)) * 2)
    assert run(asked) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "relay stuck 2 2 in none of them -" in said
    path.write_text(HEAD)
    assert run(asked) == 0
    assert "No drill was done to its end yet" in capsys.readouterr().out
    assert run([*asked[:3], str(tmp_path / "none.csv"), "--progress"]) == 2
    assert "cannot be read" in capsys.readouterr().err


# ---- progress ----------------------------------------------------------------------------------


@given(st.lists(st.none() | st.integers(0, 10**6), max_size=9))
def test_the_trend_is_that_of_least_squares(times: list[int | None]) -> None:
    """Against numpy.polyfit of degree one."""
    known = [(n, time) for n, time in enumerate(times) if time is not None]
    found = trend(times)
    if len(known) < 2:
        assert found is None
        return
    slope = np.polyfit(*zip(*known, strict=True), 1)[0]
    assert found is not None and float(found) == pytest.approx(slope, abs=1e-3, rel=1e-6)


def done(kind: str, right: int | None, broken: bool = False) -> Entry:
    return replace(ENTRY, kinds=(kind,), right=right, what=replace(WHAT, broken=broken))


def test_each_kind_is_counted_by_itself() -> None:
    entries = [
        done("port dead", 30), done("relay stuck", 9), done("port dead", None),
        done("port dead", 20), done("relay stuck", 1, broken=True),
    ]  # fmt: skip
    first, second = standings(entries)
    assert (first.kind, first.drills, first.rights) == ("port dead", 3, (30, None, 20))
    assert first.middle == 30 and first.trend == -5
    assert (second.kind, second.drills, second.middle, second.trend) == ("relay stuck", 1, 9, None)
    assert standings([done("a", None), done("a", None), done("a", 5)])[0].middle is None


def test_what_is_likely_and_new_or_slow_is_due_first() -> None:
    """By hand: masses 8, 4, 2, 1; slow halves count half, new ones and ones without a right act
    count whole.
    """
    masses = {"a": 8.0, "b": 4.0, "c": 2.0, "d": 1.0}
    assert [each.kind for each in dues([], masses)] == ["a", "b", "c"]
    quick = done("a", SLOW // 8)
    assert dues([quick], masses) == (
        Due("b", 4 / 15, True, None), Due("c", 2 / 15, True, None),
        Due("a", 8 / 15, False, SLOW // 8),
    )  # fmt: skip
    never = done("b", None)
    assert dues([quick, never], masses)[0] == Due("b", 4 / 15, False, None)
    assert dues([done("a", 2 * SLOW)], masses)[0] == Due("a", 8 / 15, False, 2 * SLOW)


def test_masses_are_those_of_what_strikes_and_stays() -> None:
    there = ready("studio")
    found = masses_by_kind(there.stage.rig, there.hazards)
    kept = [
        h for h in there.hazards
        if not h.early and len(h.strikes) == 1 and h.strikes[0].mode == "dead"
        and all("port-" in fault.thing for fault in h.strikes[0].faults)
    ]  # fmt: skip
    assert kept and found["port dead"] == pytest.approx(sum(h.mass for h in kept), rel=1e-12)
    assert "source drops" not in found and "receiver restart" not in found
    assert "selector moved" in found and "selector changeover" not in found


# ---- parts of a drill --------------------------------------------------------------------------


def test_a_drill_is_taken_apart() -> None:
    """The relay stands still from 20 s on; 30 s of waiting end at 40 s; swapping takes 20 s, its
    start 5 s, its cabinets a frame: 20 s to notice, 20 s of work, and the rest is the rig's own.
    """
    found = phases(review(plan_of(CROSSED, STUCK), (WAIT, SWAP)))
    assert [phase.name for phase in found] == [*PHASES]
    assert [phase.took for phase in found[:2]] == [20 * SECOND, 20 * SECOND]
    assert sum(phase.took for phase in found) == (20 + 20 + 5) * SECOND + FRAME
    assert [phase.spare for phase in found] == [20 * SECOND, 0, 0, 0]
    assert all(phase.came for phase in found)
    worst = slowest(found)
    assert worst is not None and worst.name == "to notice"


def test_dawdling_before_the_right_act_is_found() -> None:
    early = Act("wait", time=11 * SECOND)
    acts = (early, Act("tell"), *(WAIT,) * 4, SWAP)
    found = phases(review(plan_of(CROSSED, STUCK), acts))
    worst = slowest(found)
    assert worst is not None and worst.name == "to the first right act"
    assert worst.spare == (10 + 4 * 30) * SECOND and worst.took == worst.spare + 20 * SECOND


def test_what_never_came_lasts_to_the_end() -> None:
    plan = plan_of(CROSSED, STUCK)
    found = phases(review(plan, ()))
    assert [phase.came for phase in found] == [False] * 4
    assert found[0].took == plan.until - plan.struck and found[0].needed == 0


def test_the_best_course_tells_what_was_possible() -> None:
    plan = plan_of(CROSSED, STUCK)
    mine = review(plan, (WAIT, WAIT, SWAP))
    best = review(plan, (Act("wait", time=10 * SECOND), SWAP))
    found = phases(mine, best)
    assert [phase.needed for phase in found] == [phase.took for phase in phases(best)]
    same = slowest(phases(best, best))
    assert same is None and slowest(found) is not None
