"""README.md shows what the program prints today, and names only what there is.

Every shown command runs once: the page with a stale output shows the same commands.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import pytest

from tests import readme_shows
from tests.readme_shows import README, refreshed


@pytest.fixture(scope="module", autouse=True)
def _each_command_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(readme_shows, "shown", cache(readme_shows.shown))
        yield


def test_every_shown_output_equals_a_fresh_run() -> None:
    text = README.read_text(encoding="utf-8")
    assert refreshed(text) == text
    assert text.count("<!-- shows: ") >= 5


def test_a_stale_output_is_noticed() -> None:
    text = README.read_text(encoding="utf-8")
    stale = re.sub(r"\$ staylit explain", "$ staylit expound", text, count=1)
    assert stale != text and refreshed(stale) == text
