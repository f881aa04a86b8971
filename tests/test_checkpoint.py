"""Work that goes on from its journal: what is not done again, what is refused, what is left alone.

In: small tasks with journals that were cut off, changed, of other work, in use, or hold what no
task made. Out: the same results, or one `InputError` and the file as it was.
"""

from __future__ import annotations

import json
import tracemalloc
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim import checkpoint, journal
from sim.checkpoint import header_of, kept, key_of, program
from sim.errors import InputError
from sim.executing import C, Here, K, M, Task, run
from sim.executors import How, opened
from sim.journal import MOST_LINE, Header, line_of, read_journal
from tests.chunks import WHOLE, squares

HEADER = Header("0123456789abcdef" * 2, "1.2-abc")
MANY = 6
EXPECTED = [5 + n * n for n in range(MANY)]
KEPT = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


@dataclass
class Counting:
    """This process, and the chunks that it worked out; an interruption before number `until`."""

    until: int = MANY
    did: list[object] = field(default_factory=list)
    workers: int = 1

    def each(self, task: Task[K, C, M], chunks: Iterable[C]) -> Iterator[tuple[int, M]]:
        for number, chunk in enumerate(chunks):
            if number == self.until:
                raise KeyboardInterrupt
            self.did.append(chunk)
            yield from ((number, made) for _, made in Here().each(task, [chunk]))


def through(
    path: Path, header: Header = HEADER, until: int = MANY
) -> tuple[list[int], list[object]]:
    """The results, and which chunks were worked out for them."""
    counting = Counting(until)
    with kept(str(path), header) as journal:
        return list(run(journal.over(counting), squares(), range(MANY))), counting.did


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return tmp_path / "work.journal"


def whole(path: Path) -> bytes:
    """A journal of all chunks."""
    path.unlink(missing_ok=True)
    assert through(path) == (EXPECTED, list(range(MANY)))
    return path.read_bytes()


# ---- going on


def test_what_is_done_is_not_done_again(path: Path) -> None:
    whole(path)
    before = path.read_bytes()
    assert through(path) == (EXPECTED, [])
    assert path.read_bytes() == before


@pytest.mark.parametrize("until", range(MANY))
def test_an_interruption_keeps_what_was_done(path: Path, until: int) -> None:
    with pytest.raises(KeyboardInterrupt):
        through(path, until=until)
    assert len(read_journal(path).records) == until
    assert through(path) == (EXPECTED, list(range(until, MANY)))


def test_chunks_done_in_any_order_are_found_again(path: Path) -> None:
    lines = whole(path).splitlines(keepends=True)
    path.write_bytes(lines[0] + lines[5] + lines[2])
    assert through(path) == (EXPECTED, [0, 2, 3, 5])


@KEPT
@given(st.data())
def test_any_beginning_of_a_journal_goes_on_to_the_same(path: Path, data: st.DataObject) -> None:
    raw = whole(path)
    cut = data.draw(st.integers(0, len(raw)))
    path.write_bytes(raw[:cut])
    found, did = through(path)
    assert found == EXPECTED
    assert did == list(range(max(raw[:cut].count(b"\n") - 1, 0), MANY))
    assert path.read_bytes() == raw, "what was torn is gone, what was missing is there"


@KEPT
@given(st.data())
def test_a_changed_byte_is_refused_and_left_or_changes_nothing(
    path: Path, data: st.DataObject
) -> None:
    raw = bytearray(whole(path))
    raw[data.draw(st.integers(0, len(raw) - 1))] ^= data.draw(st.integers(1, 255))
    path.write_bytes(raw)
    try:
        found, _ = through(path)
    except InputError:
        assert path.read_bytes() == bytes(raw)
    else:
        assert found == EXPECTED


def test_results_that_no_journal_can_keep_are_worked_out_again(path: Path) -> None:
    from dataclasses import replace

    task = replace(squares(), plain=None)
    for _ in range(2):
        counting = Counting()
        with kept(str(path), HEADER) as journal:
            assert list(run(journal.over(counting), task, range(MANY))) == EXPECTED
        assert counting.did == list(range(MANY))
    assert not read_journal(path).records


@pytest.mark.parametrize(
    ("bound", "most"), [("MOST_LINE", 55), ("MOST_BYTES", 300), ("MOST_LINES", 4)]
)
def test_what_a_journal_has_no_room_for_is_worked_out_again(
    path: Path, bound: str, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It never grows so large that the next run would refuse it."""
    for module in (journal, checkpoint):
        monkeypatch.setattr(module, bound, most)
    first, again = through(path), through(path)
    assert first[0] == again[0] == EXPECTED
    kept_of = MANY - len(again[1])
    assert 0 < kept_of < MANY
    assert len(read_journal(path).records) == kept_of


# ---- refused, and left as it is


@pytest.mark.parametrize(
    ("header", "said"),
    [
        (Header("f" * 32, HEADER.program), "of other work"),
        (Header(HEADER.work, "1.3-abc"), "was written by version 1.2-abc"),
    ],
)
def test_a_journal_of_other_work_or_another_version_is_refused(
    path: Path, header: Header, said: str
) -> None:
    before = whole(path)
    with pytest.raises(InputError, match=said):
        through(path, header)
    assert path.read_bytes() == before


@pytest.mark.parametrize("text", ["buy milk\n", "staylit-journal 1 of mine", "\0", "staylit\n"])
def test_a_file_that_is_no_journal_is_refused(path: Path, text: str) -> None:
    path.write_text(text)
    with pytest.raises(InputError):
        through(path)
    assert path.read_text() == text


@pytest.mark.parametrize(
    ("begin", "said"),
    [
        (Header("f" * 32, HEADER.program).line(), "of other work"),
        (HEADER.line(), "larger than any journal"),
        (b"", "is no journal"),
    ],
)
def test_a_huge_file_is_refused_in_little_memory(path: Path, begin: bytes, said: str) -> None:
    """Two gigabytes, of which the disk keeps none; its second line has no end."""
    with path.open("wb") as file:
        file.write(begin)
        file.truncate(2 << 30)
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match=said):
            through(path)
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()
    assert path.stat().st_size == 2 << 30


def test_the_longest_line_costs_less_memory_than_a_run_may_have(path: Path) -> None:
    """From one of half a megabyte whose check holds: empty mappings, the worst that was found."""
    text = b"[" + b"{}," * 170_000 + b"0]"
    path.write_bytes(HEADER.line() + line_of(HEADER.work, key_of("squares", 5), text))
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="no part of this work"):
            through(path)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert 10 < most / len(text) < 450_000_000 / MOST_LINE


def test_an_empty_file_is_as_good_as_none(path: Path) -> None:
    path.touch()
    assert through(path) == (EXPECTED, list(range(MANY)))


def test_two_runs_cannot_share_a_journal(path: Path) -> None:
    with kept(str(path), HEADER), pytest.raises(InputError, match="used by another run"):
        through(path)
    assert through(path) == (EXPECTED, list(range(MANY)))


@pytest.mark.parametrize("name", [".", "no/such/folder", "/dev/full", "loop"])
def test_what_cannot_be_written_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(InputError, match="--checkpoint"):
        through(tmp_path / name)


def test_a_journal_is_never_written_over_an_input(tmp_path: Path) -> None:
    scenario = tmp_path / "show.yaml"
    scenario.write_text("")
    (tmp_path / "link").symlink_to(scenario)
    for name in ("show.yaml", "link"):
        with pytest.raises(InputError, match="read by this run"):  # noqa: SIM117
            with opened(How(workers=1, checkpoint=str(tmp_path / name)), (), [scenario]):
                pass
    assert scenario.read_text() == ""


def test_a_full_disk_is_one_message_and_leaves_whole_lines(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The third line is written in part only."""
    from sim import output

    write, lines = output._written, []

    def full(file: object, text: bytes) -> int:
        lines.append(text)
        return write(file, text[: 10 if len(lines) == 3 else None])  # type: ignore[arg-type]

    monkeypatch.setattr(output, "_written", full)
    with pytest.raises(InputError, match="No space left on device"):
        through(path)
    assert path.read_bytes() == b"".join(lines[:2])
    monkeypatch.undo()
    assert through(path) == (EXPECTED, list(range(1, MANY)))


# ---- what a journal says, by whoever can write it


@pytest.mark.parametrize(
    "said", ["", "x", "-", '"9"', "[1]", "{}", "null", "1.5", "NaN", "0", "[" * 100_000, "9" * 5000]
)
def test_what_no_chunk_could_have_come_to_is_refused(path: Path, said: str) -> None:
    """With a check that holds. 0 is less than the square of chunk 5."""
    line = line_of(HEADER.work, key_of("squares", 5), said.encode())
    path.write_bytes(HEADER.line() + line)
    with pytest.raises(InputError, match="no part of this work"):
        through(path)


def test_a_line_of_another_chunk_does_not_count(path: Path) -> None:
    path.write_bytes(HEADER.line() + line_of(HEADER.work, key_of("cubes", 5), b"30"))
    assert through(path) == (EXPECTED, list(range(MANY)))
    assert WHOLE.unpack(json.loads("30")) == 30, "it would have, as chunk 5 of squares"


# ---- what the work is


def test_the_header_tells_work_and_program() -> None:
    one = header_of(("risk", 1.0, ("main",)))
    assert one == header_of(("risk", 1.0, ("main",)))
    others = [("risk", 1.5, ("main",)), ("risk", 1.0, ("banks",)), ("verify", 1.0, ("main",)), ()]
    assert len({header_of(each).work for each in (*others, ("risk", 1.0, ("main",)))}) == 5
    assert one.program == program() and len(one.line()) < 200


def test_a_changed_file_of_the_program_is_another_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "risk").mkdir()
    (tmp_path / "risk" / "one.py").write_text("pass\n")
    monkeypatch.setattr(checkpoint, "__file__", str(tmp_path / "checkpoint.py"))
    before = program()
    (tmp_path / "risk" / "one.py").write_text("pass  # still\n")
    assert program() != before
