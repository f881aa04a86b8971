"""How much a file may hold: what is more is refused in good time, and what is as much is not.

In: files that are broken, or made to break things. Out: one message that says what is allowed, in
good time (of the processor).
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import yaml

from sim import bounds
from sim.errors import InputError, Problem, few
from sim.practice.files import read_drill, read_script
from sim.practice.results import HEAD, entries_of
from sim.prompting import Prompt
from sim.reliability.records import records_from
from sim.scenario.files import read_text
from sim.scenario.loader import scenario_from

FIRST = Path(__file__).parents[1] / "scenarios" / "first.yaml"
Tree = dict[str, Any]
SECONDS = 2.0
"""Of the processor, for anything that is refused."""


def first() -> Tree:
    made: Tree = yaml.load(FIRST.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    return made


def refused(do: Callable[[], object]) -> str:
    """What is said, in good time."""
    begun = time.process_time()
    with pytest.raises(InputError) as caught:
        do()
    assert time.process_time() - begun < SECONDS
    assert len(caught.value.problems) <= bounds.MOST_PROBLEMS + 1
    return str(caught.value)


def _named(count: int, entry: object) -> Tree:
    return {f"n{number}": entry for number in range(count)}


def _section(section: str, entry: object, count: int) -> Tree:
    return {**first(), section: _named(count, entry)}


def _walls(count: int, grid: str) -> Tree:
    wall = {"grid": grid, "pixels": "1 x 1 px", "chains": "by column"}
    return {**first(), "walls": {"panel": first()["walls"]["panel"], **_named(count, wall)}}


def _of_group(key: str, entries: object) -> Tree:
    made = first()
    made["groups"]["panel"][key] = entries
    return made


def _against(count: int) -> Tree:
    labels = [{"topology": "two-unit", "label": f"{number}"} for number in range(count)]
    return _of_group("against", labels)


def _great() -> Tree:
    made = first()
    made["walls"]["panel"] |= {"grid": "50000 x 2", "pixels": "2 x 2 px"}
    made["groups"]["panel"]["layers"] = {"player": "player"}
    return made


def _behind(count: int) -> Tree:
    """Circuits one behind the other."""
    made = first()
    for number in range(count):
        above = f"c{number - 1}" if number else "desk power"
        made["circuits"][f"c{number}"] = {"from": above}
    return made


def _like(count: int) -> Tree:
    made = first()
    for number in range(count):
        above = f"k{number - 1}" if number else "scaling unit"
        made["equipment"][f"k{number}"] = {"like": above}
    return made


def _form(units: int) -> Tree:
    names = [f"u{number}" for number in range(units)]
    form = {"units": names, "relays": {}, "heads": {"*": "u0"}}
    return _of_group("offered", {"topology": "own", "form": form})


TOO_MUCH: dict[str, tuple[Callable[[], Tree], str]] = {
    "groups": (lambda: _section("groups", {"offered": "relay-pair"}, 501), "at most 500"),
    "walls": (lambda: _walls(2_000, "1 x 1"), "at most 2000"),
    "cabinets": (lambda: _walls(3, "40000 x 1"), "up to 100000"),
    "many great walls": (lambda: _walls(40, "100000 x 1"), "up to 100000"),
    "circuits": (lambda: _section("circuits", {}, 20_001), "at most 20000"),
    "circuits behind each other": (lambda: _behind(31), "more than 30 one behind the other"),
    "types like each other": (lambda: _like(31), "more than 30 one behind the other"),
    "types": (lambda: _section("equipment", {"like": "scaling unit"}, 501), "at most 500"),
    "sources": (lambda: _section("sources", "media computer", 201), "at most 200"),
    "layers": (lambda: _of_group("layers", _named(101, "player")), "at most 100"),
    "arrangements": (lambda: _of_group("arrangements", _named(101, ["player"])), "at most 100"),
    "topologies": (lambda: _against(61), "at most 60"),
    "units of a form": (lambda: _form(401), "at most 400"),
    "patterns": (lambda: _of_group("suppliers", _named(2_001, "us")), "at most 2000"),
    "files": (lambda: {**first(), "rate_files": [f"{n}.yaml" for n in range(21)]}, "at most 20"),
    "limits": (lambda: {**first(), "limits": [first()["limits"][0]] * 501}, "at most 500"),
}  # fmt: skip


@pytest.mark.parametrize("name", TOO_MUCH)
def test_more_than_any_rig_has_is_refused_in_good_time(name: str) -> None:
    made, allowed = TOO_MUCH[name]
    text = yaml.dump(made(), Dumper=getattr(yaml, "CSafeDumper", yaml.SafeDumper), sort_keys=False)
    assert allowed in refused(lambda: scenario_from(text))


AS_MUCH: dict[str, Callable[[], Tree]] = {
    "one great wall": _great,
    "circuits behind each other": lambda: _behind(29),
    "types like each other": lambda: _like(29),
    "layers": lambda: _of_group("layers", _named(100, "player")),
    "topologies": lambda: _against(60),
}  # fmt: skip


@pytest.mark.parametrize("name", AS_MUCH)
def test_as_much_as_is_allowed_is_taken(name: str) -> None:
    text = yaml.dump(AS_MUCH[name](), sort_keys=False)
    assert scenario_from(text).title == "First steps"


# ---- tables


RECORDS = "thing,family,type,from,to,hours,mode,failures,demands,per,note\n"
GOOD = "t#,relay,,2023-01-01,2025-01-01,2400,dead,1,,,\n"


def _rows(row: str, count: int = 100_000) -> str:
    return RECORDS + "".join(row.replace("#", str(number)) for number in range(count))


TABLES: dict[str, tuple[Callable[[], str], str]] = {
    "wrong families": (lambda: _rows(GOOD.replace("relay", "relai#")), "more problem"),
    "wrong modes": (lambda: _rows(GOOD.replace("dead", "dad#")), "more problem"),
    "one period again and again": (lambda: _rows(GOOD.replace("#", ""), 30_000), "more problem"),
    "short rows": (lambda: _rows("t#,relay\n"), "more problem"),
    "columns": (lambda: ",".join(f"c{n}" for n in range(200_000)), "at most 100"),
    "one long row": (lambda: RECORDS + "," * 10_000_000, "at most 100"),
    "a long cell": (lambda: RECORDS + "x" * 10_000_000, "not a table"),
    "rows": (lambda: RECORDS + "\n" * 100_002, "at most 100000"),
    "a long note": (lambda: _rows(GOOD.replace(",\n", f",{'n' * 2001}\n"), 1), "up to 2000"),
    "a long name": (lambda: _rows(GOOD.replace("t#", "t" * 121), 1), "up to 120"),
    "a name that turns": (lambda: _rows(GOOD.replace("t#", "t\u202e"), 1), "cannot be printed"),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_a_table_that_is_too_much_is_refused_in_good_time(name: str) -> None:
    made, allowed = TABLES[name]
    text = made()
    assert allowed in refused(lambda: records_from(text, "kept.csv"))


def test_a_table_of_drills_that_is_all_wrong_is_told_in_few_words() -> None:
    text = HEAD + "x,y\n" * 100_001
    assert "at most 100000" in refused(lambda: entries_of(text, "mine.csv"))
    text = HEAD + "x,y\n" * 50_000
    assert "more problem" in refused(lambda: entries_of(text, "mine.csv"))


def test_a_file_is_read_no_further_than_it_may_be_long(tmp_path: Path) -> None:
    path = tmp_path / "large"
    path.write_bytes(b"x" * (bounds.MOST_BYTES + 1))
    assert "at most 2 MiB" in refused(lambda: read_text(path))
    path.write_bytes(b"x" * bounds.MOST_BYTES)
    assert len(read_text(path)) == bounds.MOST_BYTES
    with path.open("wb") as file:
        file.truncate(10**12)
    assert "at most 20 MiB" in refused(lambda: read_text(path, bounds.MOST_TABLE_BYTES))


@pytest.mark.parametrize("key", ["acts", "faults", "fails", "hints"])
def test_a_drill_of_more_acts_than_anybody_does_is_refused(key: str, tmp_path: Path) -> None:
    path = tmp_path / "long.yaml"
    items = ["{after: 1 s, text: x}" if key == "hints" else "look"] * (bounds.MOST_ACTS + 1)
    head = "" if key == "acts" else "title: x\n" + "faults: [x]\n" * (key != "faults")
    path.write_text(f"{head}{key}: [{', '.join(items)}]\n", encoding="utf-8")
    read = read_script if key == "acts" else read_drill
    assert "at most 1000" in refused(lambda: read(path))


def test_a_line_that_never_ends_is_read_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("x" * 10**6))
    heard = Prompt().hear()
    assert isinstance(heard, str) and len(heard) == bounds.MOST_LINE


# ---- numbers


NUMBERS = ("1e999999 h", f"{'9' * 5000} h", "nan h", "inf h", "1e5 h", f"0.{'0' * 5000}1 h", "-1 h")


@pytest.mark.parametrize("number", NUMBERS, ids=lambda text: text[:12])
def test_numbers_that_explode_are_refused(number: str) -> None:
    for old, new in (
        ("length: 10 min", f"length: {number}"),
        ("length: 40 m,", f"length: {number.replace('h', 'm')},"),
        ("grid: 2 x 2", f"grid: {number.removesuffix(' h')} x 2"),
        ("over: 50 %", f"over: {number.replace('h', '%')}"),
    ):
        text = FIRST.read_text(encoding="utf-8")
        assert text.count(old) == 1
        said = refused(partial(scenario_from, text.replace(old, new)))
        assert len(said) < 4 * bounds.MOST_SAID


# ---- messages


def test_of_many_problems_the_first_are_told_and_that_there_are_more() -> None:
    asked: list[int] = []

    def each() -> Iterator[Problem]:
        for number in range(10**9):
            asked.append(number)
            yield Problem(f"f:{number}", "wrong")

    told = few(each())
    assert len(asked) == bounds.MOST_PROBLEMS + 1, "no more are looked for than are told"
    assert (len(told), told[-1].found) == (bounds.MOST_PROBLEMS + 1, "at least 1 more problem")
    many = [Problem(f"f:{number}", "wrong") for number in range(80)]
    assert few(many)[-1].found == "at least 30 more problems"
    assert few(few(many)) == few(many) and few(many[:50]) == tuple(many[:50])


def test_what_was_found_is_cut_where_nobody_reads_on() -> None:
    said = str(Problem("f", "x" * 10**6, "y" * 10**6))
    assert len(said) < 3 * bounds.MOST_SAID and said.endswith(f"... {'y' * 200}")
