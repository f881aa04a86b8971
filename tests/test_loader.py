"""From YAML to texts with lines: nothing is guessed from looks, nothing unsafe is taken.

In: small texts, and texts made by chance. Out: trees of texts; only InputError for what is wrong.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.faults import Quality
from sim.scenario.document import Row, Table
from sim.scenario.loader import load, read, read_text, scenario_from
from sim.timebase import FLICKS
from tests.test_mistakes import BASE

SCENARIOS = Path(__file__).parents[1] / "scenarios"


@pytest.mark.parametrize(
    "scalar",
    [
        "20:00:00:00", "21:40", "on", "no", "59.94", "yes", "null", "~", "0x10", "010", "1e3",
        "2026-11-25", "1_000", ".5", "true", "=", "12:30:45", "-0",
    ],
)  # fmt: skip
def test_a_scalar_is_the_text_that_was_written(scalar: str) -> None:
    tree = read(f"key: {scalar}\n").tree
    assert tree == {"key": scalar}
    assert isinstance(tree, Table)
    assert isinstance(tree["key"], str)


def test_quotes_and_blocks_are_texts_too() -> None:
    tree = read("a: 'x: y'\nb: \"tab # no\"\nc: >\n  one\n  two\nd: [p, {q: r}]\n").tree
    assert tree == {"a": "x: y", "b": "tab # no", "c": "one two", "d": ["p", {"q": "r"}]}


def test_every_value_knows_its_line() -> None:
    document = read("a: 1\nb:\n  - x\n  -\n    c: 2\n", "rig.yaml")
    assert document.where(("a",)) == "rig.yaml:1: a"
    assert document.where(("b", 0)) == "rig.yaml:3: b[1]"
    assert document.where(("b", 1, "c")) == "rig.yaml:5: b[2].c"
    assert document.where(("b", 1, "missing")) == "rig.yaml:5: b[2]"
    assert document.where(()) == "rig.yaml:1"


def test_an_alias_stands_for_the_whole_value() -> None:
    tree = read("a: &one {x: 1}\nb: *one\nc: [*one, *one]\n").tree
    assert isinstance(tree, Table)
    assert tree["b"] == {"x": "1"}
    assert isinstance(tree["c"], Row)
    assert tree["c"] == [{"x": "1"}, {"x": "1"}]


def test_a_byte_order_mark_is_no_character(tmp_path: Path) -> None:
    path = tmp_path / "rig.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.encode())
    assert load(path).title == "Test rig"


def test_line_ends_of_other_systems_are_taken(tmp_path: Path) -> None:
    path = tmp_path / "rig.yaml"
    path.write_bytes(BASE.replace("\n", "\r\n").encode())
    assert load(path).title == "Test rig"
    assert "\r" not in load(path).title


def test_several_problems_of_the_reading_come_together() -> None:
    document = read("a: 1\na: !!int 2\n<<: {b: 1}\n", "rig.yaml")
    assert [problem.where for problem in document.problems] == [
        "rig.yaml:2: a", "rig.yaml:2: a", "rig.yaml:3",
    ]  # fmt: skip
    assert document.tree == {"a": "1"}


TRAPS = [
    ("start: 20:00:00:00", "start: 21:40:00:00", lambda s: s.start, "21:40:00:00"),
    ("mirrored: yes", "mirrored: on", lambda s: s.file.groups["sides"].mirrored, True),
    ("rate: 50", "rate: 59.94", lambda s: s.rate.per_second, Fraction(60000, 1001)),
    ("rate: 50", "rate: '50'", lambda s: s.rate.per_second, 50),
    ("length: 2 h", "length: 1 h 30 min", lambda s: s.length, 5400 * FLICKS),
    ("title: Test rig", "title: no", lambda s: s.title, "no"),
    ("title: Test rig", "title: 12:30", lambda s: s.title, "12:30"),
    ("title: Test rig", "title: 2026-11-25", lambda s: s.title, "2026-11-25"),
    ("over: 10 %", "over: 0.5 %", lambda s: s.limits[0].over, Fraction(1, 200)),
]


@pytest.mark.parametrize(("old", "new", "read_off", "expected"), TRAPS, ids=[t[1] for t in TRAPS])
def test_what_yaml_would_turn_into_something_else(old, new, read_off, expected) -> None:  # type: ignore[no-untyped-def]
    assert BASE.count(old) == 1
    text = BASE.replace(old, new)
    if "59.94" in new:
        text = text.replace("start: 20:00:00:00", "start: 20:00:00;00")
    assert read_off(scenario_from(text)) == expected


def test_words_for_yes_and_no_mean_what_they_say() -> None:
    for word, meant in (("yes", True), ("on", True), ("true", True)):
        scenario = scenario_from(BASE.replace("mirrored: yes", f"mirrored: {word}"))
        assert scenario.file.groups["sides"].mirrored is meant
    for word in ("no", "off", "false"):
        text = BASE.replace("delay: 1 frame", f"delay: 1 frame, monitored: {word}")
        assert scenario_from(text).file.equipment["big unit"].monitored is False


def test_a_selector_that_accepts_a_named_quality() -> None:
    text = BASE.replace("delay: 1 frame", "delay: 1 frame, picks: {accepts_above: black}")
    chooser = scenario_from(text).file.equipment["big unit"].picks
    assert chooser.accepts_above == Quality.BLACK


LINES = BASE.splitlines(keepends=True)


@given(
    st.integers(0, len(LINES) - 1),
    st.integers(0, len(LINES) - 1),
    st.sampled_from(("drop", "double", "swap", "indent", "value")),
    st.text(alphabet="ab1 :[]{}-&*!|>'\"#%@,.?~<=\n\t\u00e9", max_size=6),
)
def test_a_file_changed_by_chance_never_ends_in_a_traceback(
    first: int, second: int, how: str, junk: str
) -> None:
    """Either a scenario or an InputError that names a place and something to do."""
    lines = list(LINES)
    if how == "drop":
        del lines[first]
    elif how == "double":
        lines.insert(second, lines[first])
    elif how == "swap":
        lines[first], lines[second] = lines[second], lines[first]
    elif how == "indent":
        lines[first] = f"  {lines[first]}"
    else:
        lines[first] = lines[first].partition(":")[0] + f": {junk}\n"
    try:
        scenario = scenario_from("".join(lines), "rig.yaml")
    except InputError as error:
        assert all(problem.where.startswith("rig.yaml") for problem in error.problems)
        assert all(problem.found and problem.todo for problem in error.problems)
    else:
        assert scenario.groups == ("sides",)


@given(st.text(max_size=40))
def test_any_text_is_a_scenario_or_an_input_error(text: str) -> None:
    with pytest.raises(InputError) as caught:
        scenario_from(text, "rig.yaml")
    assert caught.value.exit_status == 2
    assert str(caught.value).startswith("rig.yaml")


@pytest.mark.parametrize("name", ["first", "river", "studio", "atrium"])
def test_the_shipped_files_are_plain_utf_8_of_a_modest_size(name: str) -> None:
    text = read_text(SCENARIOS / f"{name}.yaml")
    assert len(text) < 20_000
    assert not read(text).problems
