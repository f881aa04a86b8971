"""The report of one injection: states by their names, the walls at the worst moment and at the end.

In: runs on the scenario `first`. Out: the words of the report at 80 and 100 characters, its data.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from sim import commands
from sim.asked import Asked
from sim.report.events import Event, folded

FIRST = Path("scenarios/first.yaml")


def told(*faults: str, width: int = 100, form: str = "text") -> str:
    return commands.inject(Asked(FIRST, format=form, width=width), faults, [], "typical").text


def on_one_line(text: str) -> str:
    return " ".join(text.split())


def test_a_wall_that_is_only_unlocked_is_called_unlocked() -> None:
    """A frame of `first` is 20 ms: 3 s are 150 of them."""
    said = on_one_line(told("unlocked player at 2 s for 3 s"))
    assert "Group panel: 150 frames unlocked (only cameras see it); all of it is lit" in said
    assert "not lit" not in said.partition("What happened")[0]
    assert " dark " not in said.partition("D dark")[0]


def test_frames_in_several_states_are_told_by_state_and_so_is_the_end() -> None:
    said = on_one_line(told("cut desk at 2 s for 1 s", "stuck panel/r1c1/receiver at 9 s"))
    assert "frames dark and" in said and " frozen; at the end of the show 25 % frozen." in said


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ("cut panel/trunk-main-1 at 2 s", "All walls are lit everywhere."),
        ("cut panel/trunk-main-1 at 2 s", "Nothing has changed on them since 00:00:02:02."),
        ("dead player at 2 s", "They stay as they were at the worst moment."),
        ("dead player before the show", "They stay as they were at the worst moment."),
    ],
)
def test_the_walls_at_the_end_of_the_show_are_told(fault: str, words: str) -> None:
    said = on_one_line(told(fault))
    assert words in said.partition("The walls at the end of the show")[2]


def test_a_wall_that_ends_otherwise_than_at_its_worst_is_drawn_again() -> None:
    said = told("cut desk at 2 s for 1 s", "stuck panel/r1c1/receiver at 9 s")
    worst, _, end = said.partition("The walls at the end of the show")
    assert "  r1  DD\n  r2  DD\n" in worst
    assert "  r1  F.\n  r2  ..\n" in end


def test_where_nothing_shows_there_is_no_wall_to_draw() -> None:
    said = told("dead panel/relay-backup at 2 s")
    assert "Nobody sees anything of it." in said
    assert "The walls" not in said


@pytest.mark.parametrize("width", [80, 100])
def test_every_state_at_once_still_fits_without_broken_words(width: int) -> None:
    said = told(
        "corrupt player at 1 s for 1 s", "stale player at 3 s for 1 s",
        "stuck player at 5 s for 1 s", "unlocked player at 7 s for 1 s", "cut desk at 9 s",
        width=width,
    )  # fmt: skip
    lines = said.splitlines()
    assert max(map(len, lines)) <= width
    (head,) = [line for line in lines if line.startswith("frames ")]
    assert head.split() == "frames dark corrupt wrong frozen unlocked first last".split()


def test_json_has_the_end_as_well() -> None:
    made = json.loads(
        told("cut desk at 2 s for 1 s", "stuck panel/r1c1/receiver at 9 s", form="json")
    )
    assert made["end_moment"] == [{"wall": "panel", "group": "panel", "rows": ["F.", ".."]}]
    assert made["worst_moment"][0]["rows"] == ["DD", "DD"]
    assert made["changed_at"] == 9 * 705_600_000
    ends = {toll["kind"]: toll["end"] for toll in made["tolls"]}
    assert ends["group"] == {"frozen": "1/4"}


def test_what_stands_from_before_the_show_is_told_in_place_of_an_empty_table() -> None:
    said = on_one_line(told("dead relay-main before the show"))
    happened = said.partition("What happened")[2].partition("What was lost")[0]
    assert "dead relay-main before the show: stands from before the show" in happened
    assert "Nobody sees it." in happened
    assert "time code" not in happened
    seen = on_one_line(told("dead player before the show"))
    assert "stands from before the show" in seen
    assert "latent" not in seen
    both = on_one_line(told("dead relay-main before the show", "dead player at 2 s"))
    assert "stands from before the show" in both and "player failed" in both
    assert "latent" not in both


def test_what_comes_again_and_again_is_told_once() -> None:
    """A show of 600 s, off for one second of every two from the first one on: 300 times."""
    said = told("flapping trunk-main-1 at 1 s", width=160)
    assert len(said.splitlines()) < 80
    flat = on_one_line(said)
    assert re.search(r"and so on, every 2 s, 29\d times more, until 00:09:5\d", flat)
    assert "more events" not in flat


def test_only_like_events_evenly_apart_are_folded() -> None:
    def event(at: int, text: str = "it failed") -> Event:
        return Event(at, text, ("it",))

    even = [event(at) for at in (0, 2, 4, 6, 8)]
    first, second = folded([*even, event(8, "other"), event(19)])[:2]
    assert (first.event.at, first.more) == (0, 0)
    assert (second.event.at, second.more, second.every, second.until) == (2, 3, 2, 8)
    kept = [run.event.at for run in folded([*even, event(8, "other"), event(19)])]
    assert kept == [0, 2, 8, 19]
    assert [run.more for run in folded(even[:4])] == [0, 0, 0, 0]
    odd = [event(at) for at in (0, 2, 5, 6, 11, 13)]
    assert [run.event for run in folded(odd)] == odd
