"""What people read of double faults: an answer first, every column said, one mode or several.

In: rows written by hand. Out: words, against what the rows say.
"""

from __future__ import annotations

import re
from fractions import Fraction

from sim.report.pages import blocks_page
from sim.report.pairs_report import pairs_blocks
from sim.report.text import as_text
from sim.scenario.loader import load
from sim.shipped import find
from sim.study.doubles import PairRow

ZERO, ALL = Fraction(0), Fraction(1)
ROWS = (
    PairRow("relay-main dead", "relay-backup dead", 2, (ZERO, ZERO), ALL),
    PairRow("player dead", "relay-backup dead", 3, (ALL, ZERO), ALL),
)
LABEL = "Wall group panel, relay-pair"


def text(rows: tuple[PairRow, ...], modes: tuple[str, ...] = ()) -> str:
    return as_text(pairs_blocks([(LABEL, rows)], load(find("first")), modes), 400)


def test_the_answer_comes_first_with_one_of_the_worst() -> None:
    told = text(ROWS)
    before, _, after = told.partition("-" * len(LABEL))
    assert f"{LABEL}: 2 of 5 pairs of different faults" in before
    worst = "relay-main dead, then relay-backup dead: 0 % and 0 % alone, 100 % together."
    assert worst in before
    assert re.search(r"relay-main dead +relay-backup dead +2 +0 % and 0 % +100 %", after)
    assert "player dead" not in told


def test_none_and_one_read_well() -> None:
    assert f"{LABEL}: none of 3 pairs of different faults" in text(ROWS[1:])
    assert "leaves more not lit than the two alone add up to." in text(ROWS[1:])
    one = PairRow("a dead", "b dead", 1, (ZERO, ZERO), ALL)
    assert "1 of 1 pair of different faults" in text((one,))
    assert "has settled, leaves more not lit" in text((one,))


def test_every_column_is_said_and_that_timings_are_typical() -> None:
    told = text(ROWS)
    heads = re.search(r"^first +second +(how many) +(alone) +(together)$", told, re.M)
    assert heads
    for head in heads.groups():
        assert re.search(rf"[-;] *{head}: ", told)
    assert "All timings are typical" in told


def test_of_one_mode_or_of_several() -> None:
    assert "Only faults of the mode dead were" in text(ROWS, ("dead",))
    assert "Only faults of the modes cut and dead were" in text(ROWS, ("cut", "dead"))


def test_a_page_of_pairs_has_a_summary() -> None:
    made = blocks_page(pairs_blocks([(LABEL, ROWS)], load(find("first"))))
    summary = made.split(">Summary<")[1].split("<nav")[0]
    assert "2 of 5 pairs of different faults" in summary
