"""The reader of journals: what holds, what was torn, what is damaged, what is none.

In: journals of records drawn, cut off, changed, mixed. Out: what was written, or less of it where
the end is missing, or one `InputError`; nothing else. BLAKE2b is that of Python's own hashlib.
"""

from __future__ import annotations

import io
import json
from hashlib import blake2b
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim import journal
from sim.errors import InputError
from sim.journal import FORM, Header, Journal, journal_in, line_of, read_journal

WORK = "0123456789abcdef" * 2
HEADER = Header(WORK, "1.2-abc")
KEYS = st.integers(0, 2**128 - 1).map(lambda number: f"{number:032x}")
RECORDS = st.dictionaries(KEYS, st.lists(st.text(max_size=9), max_size=4), max_size=5)


def written(records: dict[str, list[str]], work: str = WORK) -> bytes:
    """A whole journal."""
    lines = (line_of(work, key, json.dumps(said).encode()) for key, said in records.items())
    return b"".join((Header(work, HEADER.program).line(), *lines))


def found_in(raw: bytes) -> Journal:
    return journal_in(io.BytesIO(raw), "the journal")


def told(found: Journal) -> dict[str, list[str]]:
    return {key: json.loads(text) for key, text in found.records.items()}


def test_a_line_is_what_its_description_says() -> None:
    """Put together by hand: the check is keyed by the work, and is of all else in the line."""
    key, text = "ab" * 16, b'["x"]'
    rest = f"5 {key} ".encode() + text
    check = blake2b(rest, digest_size=8, key=WORK.encode()).hexdigest()
    assert line_of(WORK, key, text) == f"5 {check} {key} ".encode() + text + b"\n"
    head = f"staylit-journal {FORM} {WORK} 1.2-abc".encode()
    assert HEADER.line() == head + b" %s\n" % blake2b(head, digest_size=8).hexdigest().encode()


@given(RECORDS)
def test_what_was_written_is_read(records: dict[str, list[str]]) -> None:
    raw = written(records)
    found = found_in(raw)
    assert (found.header, told(found), found.whole) == (HEADER, records, len(raw))


@given(RECORDS, st.data())
def test_any_beginning_of_a_journal_is_a_journal(
    records: dict[str, list[str]], data: st.DataObject
) -> None:
    """It holds the records that are whole, the first ones."""
    raw = written(records)
    cut = raw[: data.draw(st.integers(0, len(raw)))]
    found = found_in(cut)
    whole = cut.count(b"\n")
    assert (found.header is None) == (whole == 0)
    assert list(told(found).items()) == list(records.items())[: max(whole - 1, 0)]
    assert found.whole == cut.rfind(b"\n") + 1


@given(RECORDS, st.data())
def test_a_byte_that_was_changed_is_found_or_costs_the_last_record_only(
    records: dict[str, list[str]], data: st.DataObject
) -> None:
    raw = bytearray(written(records))
    place = data.draw(st.integers(0, len(raw) - 1))
    raw[place] ^= data.draw(st.integers(1, 255))
    try:
        found = found_in(bytes(raw))
    except InputError as error:
        assert str(error).count("\n") == 2, "one message"
        return
    assert place >= len(written(dict(list(records.items())[:-1]))) or not records
    assert list(told(found).items()) == list(records.items())[:-1]
    assert found.header in (None, HEADER)


@given(st.binary(max_size=300), st.sampled_from([b"", b"staylit-journal ", HEADER.line()]))
def test_anything_at_all_is_a_journal_or_is_refused(raw: bytes, begin: bytes) -> None:
    try:
        found = found_in(begin + raw)
    except InputError:
        return
    assert not found.records and found.whole in (0, len(HEADER.line()))


@given(RECORDS.filter(lambda records: len(records) > 1))
def test_lines_of_another_work_are_damage(records: dict[str, list[str]]) -> None:
    other = written(records, "f" * 32).splitlines(keepends=True)
    with pytest.raises(InputError, match="damaged in line 2"):
        found_in(HEADER.line() + b"".join(other[1:]))


def test_a_key_that_says_two_things_is_damage_and_the_same_twice_is_not() -> None:
    one, other = (line_of(WORK, "a" * 32, text) for text in (b"1", b"2"))
    assert told(found_in(HEADER.line() + one + one)) == {"a" * 32: 1}
    with pytest.raises(InputError, match="damaged in line 3"):
        found_in(HEADER.line() + one + other)


def test_a_journal_of_another_form_says_so() -> None:
    head = f"staylit-journal {FORM + 1} {WORK} 1.2-abc ".encode() + b"0" * 16
    with pytest.raises(InputError, match=f"form {FORM + 1}\n    allowed: form {FORM}"):
        found_in(head + b"\n")


def test_what_is_longer_than_any_line_is_not_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal, "MOST_LINE", 100)
    with pytest.raises(InputError, match="damaged in line 2"):
        found_in(HEADER.line() + b"0" * 1000)


@pytest.mark.parametrize(("bound", "most"), [("MOST_BYTES", 150), ("MOST_LINES", 2)])
def test_a_journal_of_more_than_memory_has_room_for_is_refused(
    bound: str, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    raw = HEADER.line() + line_of(WORK, "a" * 32, b"1") + line_of(WORK, "b" * 32, b"1")
    assert len(found_in(raw).records) == 2
    monkeypatch.setattr(journal, bound, most)
    with pytest.raises(InputError, match="larger than any journal"):
        found_in(raw)


@pytest.mark.parametrize("name", ["", ".", "/dev/zero", "no/such/file", "a\0b"])
def test_what_is_no_file_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(InputError):
        read_journal(tmp_path / name if not name.startswith("/") else name)


def test_a_text_of_somebody_else_is_no_journal(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("buy milk\n")
    with pytest.raises(InputError, match="is no journal") as refused:
        read_journal(path)
    assert "name another file" in str(refused.value)
    assert "remove" not in str(refused.value)
