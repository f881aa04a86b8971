"""What reports put between backticks stands on a page as what is typed, or as a quotation.

In: blocks made here. Out: the page as text, in which nothing that people wrote is markup.
"""

from __future__ import annotations

import pytest

from sim.report.blocks import Heading, Para, Points
from sim.report.pages import blocks_page


def shown(text: str) -> str:
    """The page of a report with this as its answer, as a paragraph, in a list and as a warning."""
    said = (Heading("A title", 1), Para(text), Heading("More"), Para(text), Points((text,)))
    return blocks_page((*said, Para(text, warning=True), Heading("Cautions"), Points((text,))))


@pytest.mark.parametrize(
    ("written", "on_page"),
    [
        ("see `staylit faults` for more", "see <code>staylit faults</code> for more"),
        ("without `--plain` it", "without <code>--plain</code> it"),
        ("`rate_files` in the scenario", "<code>rate_files</code> in the scenario"),
        ("decides `no fault, ever` or `other one`", "decides “no fault, ever” or “other one”"),
        ("one ` alone", "one ` alone"),
        ("``", "``"),
        ("`staylit <b>x</b>`", "<code>staylit &lt;b&gt;x&lt;/b&gt;</code>"),
        ("`<b>`<i>`", "“&lt;b&gt;”&lt;i&gt;`"),
    ],
)
def test_what_stands_between_backticks(written: str, on_page: str) -> None:
    page = shown(written)
    for before, after in (
        ('<p class="answer">', "</p>"),
        ("<p>", "</p>"),
        ("<li>", "</li>"),
        ("<strong>Warning.</strong> ", "</p>"),
    ):
        assert f"{before}{on_page}{after}" in page
