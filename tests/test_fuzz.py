"""Readers of files against inputs that nobody meant: a corpus, and some hundred changed at random.

In: `tests/fuzz/corpus`, seeded changes of it. Out: each is taken or refused with a message, in time
and in little memory. Many more: `python -m tests.fuzz --runs 100000` (tests/README.md).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.errors import refuse
from tests.fuzz.guided import found_in, parts_of
from tests.fuzz.running import HEAD, Row, kept, shared_out, table
from tests.fuzz.targets import CORPUS, TARGETS, Target, warm
from tests.fuzz.trying import BROKEN, LARGE, MOST_MEMORY, REFUSED, SLOW, TAKEN, Tried, tried

SECONDS = 20.0
"""For an input here, where other tests may be running beside it: what hangs takes longer."""
FEW = {"scenario": 25, "check": 10, "sheet": 30, "said": 30}
USUAL = 60
NO_ERROR = (TAKEN, REFUSED, LARGE)
"""Memory is that of the whole process here, which has run other tests before."""
REPLAYED = [path for path in sorted(CORPUS.rglob("*")) if path.is_file()]


@pytest.mark.parametrize("path", REPLAYED, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_lies_in_the_corpus_is_taken_or_refused(path: Path, tmp_path: Path) -> None:
    warm()
    found = tried(TARGETS[path.parent.name], path.read_bytes(), tmp_path, SECONDS)
    assert found.how in NO_ERROR, found.said


@pytest.mark.parametrize("name", TARGETS)
def test_what_every_reader_begins_with_is_taken(name: str, tmp_path: Path) -> None:
    """Else its changes would all be refused by the same line."""
    warm()
    seeds = TARGETS[name].seeds()
    assert seeds
    for seed in seeds:
        found = tried(TARGETS[name], seed.encode(), tmp_path, SECONDS)
        assert found.how in (TAKEN, LARGE), found.said


@pytest.mark.parametrize("name", TARGETS)
def test_changed_inputs_are_taken_or_refused(name: str, tmp_path: Path) -> None:
    warm()
    target, hows = TARGETS[name], set()
    for number in range(FEW.get(name, USUAL)):
        made = target.input(2, number)
        found = tried(target, made, tmp_path, SECONDS)
        assert found.how in NO_ERROR, f"{number}: {found.said}\n{made[:500]!r}"
        hows.add(found.how)
    assert REFUSED in hows, "its changes change nothing"


def test_the_same_seed_gives_the_same_inputs() -> None:
    for target in TARGETS.values():
        assert [target.input(3, n) for n in range(4)] == [target.input(3, n) for n in range(4)]
        assert target.input(3, 1) != target.input(4, 1)


def test_a_text_that_is_said_again_is_asked_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a file of one text, doubled, is slow because it is sixty commands."""
    asked: list[str] = []
    monkeypatch.setattr("tests.fuzz.targets.SAID", {"item": lambda on, text: asked.append(text)})
    made = b"item|limit 1\nitem|latent\n" * 30
    assert tried(TARGETS["said"], made, tmp_path, SECONDS).how in (TAKEN, LARGE)
    assert asked == ["limit 1", "latent"]


@pytest.mark.parametrize("name", TARGETS)
def test_parts_that_are_led_are_taken_as_files(name: str, tmp_path: Path) -> None:
    """So that coverage leads on from what is right."""
    warm()
    parts, whole = parts_of(TARGETS[name])
    assert len(parts) >= len(TARGETS[name].seeds())
    for part in parts:
        found = tried(TARGETS[name], whole(part.encode()), tmp_path, SECONDS)
        assert found.how in (TAKEN, LARGE), found.said


# ---- that what goes wrong is seen


def _broken(path: Path) -> None:
    raise KeyError(path.name)


def _endless(path: Path) -> None:
    while True:
        pass


def _coloured(path: Path) -> None:
    error = refuse("file", "x")
    error.args = ("\x1b[31mred",)
    raise error


def _fine(path: Path) -> None:
    assert path.read_bytes() == b"made"


@pytest.mark.parametrize(
    ("takes", "how"),
    [(_broken, BROKEN), (_endless, SLOW), (_coloured, BROKEN), (_fine, TAKEN)],
)
def test_what_goes_wrong_is_seen(takes, how: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    target = Target("made up", takes, lambda draw, seeds: b"")
    found = tried(target, b"made", tmp_path, 0.2)
    assert found.how == how
    assert found.good == (how == TAKEN)
    told = kept(tmp_path / "found", target, b"made", found)
    assert [path.read_bytes() for path in (tmp_path / "found").iterdir()] == [b"made"]
    assert how in told
    assert len(found_in(tmp_path / "found", "made up")) == 1


def test_too_much_memory_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = iter((MOST_MEMORY / 2, MOST_MEMORY + 1))
    monkeypatch.setattr("tests.fuzz.trying.memory", lambda: next(sizes))
    assert tried(Target("x", _fine, lambda d, s: b""), b"made", tmp_path).how == LARGE


def test_inputs_are_shared_out_and_counted() -> None:
    shares = shared_out(1000, [*TARGETS])
    assert sum(shares.values()) >= 1000 and min(shares.values()) >= 10
    row = Row("one")
    row.add(Tried(TAKEN, 1.0, 2.0, 30.0))
    row.add(Tried(BROKEN, 3.0, 1.0, 20.0))
    one, every = (dict(zip(HEAD, cells, strict=True)) for cells in table([row]))
    assert one | {"reader": "all"} == every
    assert (one["inputs"], one["taken"], one["broken"], one["slow"]) == ("2", "1", "1", "0")
    assert (one["mean ms"], one["slowest s"], one["by the clock s"]) == ("2000.0", "3.00", "2.00")
