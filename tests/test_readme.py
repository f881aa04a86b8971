"""README.md shows what the program prints today, and names only what there is."""

from __future__ import annotations

import re

from tests.readme_shows import README, refreshed


def test_every_shown_output_equals_a_fresh_run() -> None:
    text = README.read_text(encoding="utf-8")
    assert refreshed(text) == text
    assert text.count("<!-- shows: ") >= 5


def test_a_stale_output_is_noticed() -> None:
    text = README.read_text(encoding="utf-8")
    stale = re.sub(r"\$ staylit explain", "$ staylit expound", text, count=1)
    assert stale != text and refreshed(stale) == text
