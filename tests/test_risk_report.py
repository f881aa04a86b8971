"""What `staylit risk` reports of a study: every figure as it is, both doubts apart, honest words.

In: studies written by hand (`tests.risk_studies`); no simulation runs. Out: texts, documents,
statuses of the command. What parses a report back is shown to notice a report of another study.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import inf
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim import cli
from sim.executing import Executor
from sim.reliability.estimates import Estimate, exactly, one_in, share
from sim.reliability.riskmatrix import STANDARD
from sim.report import risk_words as words
from sim.report.blocks import CAUTIONS, Blocks, Heading, Points, Table
from sim.report.jsondoc import as_json
from sim.report.markdown import as_markdown
from sim.report.risk_data import risk_csv, risk_document
from sim.report.risk_report import risk_blocks
from sim.report.risk_sight import sight_words
from sim.report.risk_topologies import CAUSES
from sim.report.text import as_text
from sim.report.verify_report import verify_blocks, verify_csv, verify_document
from sim.risk import striking
from sim.risk.asked import RiskAsked
from sim.risk.results import Figure, RiskStudy, Sampling
from sim.risk.sight import UNSEEN, Sight
from sim.scenario.scenario import Limit, Variant
from sim.study.promises import MET, NOT, OPEN, Verdict
from sim.timebase import FLICKS
from tests.risk_studies import (
    DIFFER,
    FULL,
    OFFERED,
    REFUTED,
    SINGLE,
    STUDIES,
    VERIFIED,
    bare,
    known,
    nothing_built,
    unbuildable,
    unfinished,
    without_contract,
)

LIMITS = tuple(
    Verdict(
        Limit(any_, "dark", Fraction(0), "wall", 0, 0, "", f"no {any_} darkens the wall"), found
    )
    for any_, found in (("single fault", NOT), ("single dead or cut", MET), ("double fault", OPEN))
)
every_study = pytest.mark.parametrize("study", STUDIES.values(), ids=list(STUDIES))


def text(study: RiskStudy, width: int = 100) -> str:
    return as_text(risk_blocks([study]), width)


def flowing(study: RiskStudy) -> str:
    """The report with every run of white space as one space, so that sentences can be looked up."""
    return " ".join(text(study, 4000).split())


def section(study: RiskStudy, heading: str) -> Blocks:
    """The blocks below a heading of level 2, up to the next one."""
    blocks = risk_blocks([study])
    heads = [i for i, b in enumerate(blocks) if isinstance(b, Heading) and b.level < 3]
    begin = next(i for i in heads if _text(blocks[i]).startswith(heading))
    return blocks[begin + 1 : next((i for i in heads if i > begin), len(blocks))]


def _text(block: object) -> str:
    return str(getattr(block, "text", ""))


def below(blocks: Blocks, heading: str) -> Table:
    """The first table after the heading that begins so."""
    place = next(i for i, b in enumerate(blocks) if _text(b).startswith(heading))
    return next(b for b in blocks[place:] if isinstance(b, Table))


# ---- looks ---------------------------------------------------------------------------------------


@every_study
@pytest.mark.parametrize("width", [60, 80, 100])
def test_every_line_fits(study: RiskStudy, width: int) -> None:
    assert max(map(len, text(study, width).splitlines())) <= width


@pytest.mark.parametrize("width", [60, 80, 100])
def test_every_line_of_the_verification_fits(width: int) -> None:
    shown = as_text(verify_blocks([VERIFIED, REFUTED]), width)
    assert max(map(len, shown.splitlines())) <= width


@every_study
@pytest.mark.parametrize("width", [60, 80, 100])
def test_no_number_is_broken_between_its_digits(study: RiskStudy, width: int) -> None:
    """No line of a sentence ends in digits that go on in the next one."""
    lines = text(study, width).splitlines()
    broken = [
        (a, b) for a, b in pairwise(lines) if re.search(r"\d$", a) and re.match(r"\s*\d{3}\b", b)
    ]
    assert not [pair for pair in broken if "  " not in pair[0].strip()]


@pytest.mark.parametrize("width", [60, 64, 70, 79])
def test_no_number_of_a_table_is_broken_between_its_digits(width: int) -> None:
    cell = "4 040 to 4 380 EUR " * 9
    lines = as_text([Table(("a", "b"), ((cell, cell),))], width).splitlines()[2:]
    assert len(lines) > 2
    whole = re.compile(r"((4 040|to|4 380|EUR) )+")
    assert all(
        whole.fullmatch(f"{part.strip()} ") for line in lines for part in re.split("  +", line)
    )


def test_long_names_still_fit() -> None:
    label = "crossed-relays-with-a-very-long-label-indeed, diverse routes, two references"
    offered = replace(OFFERED, variant=replace(OFFERED.variant, label=label))
    study = replace(FULL, topologies=(offered, SINGLE))
    for width in (80, 100):
        assert max(map(len, text(study, width).splitlines())) <= width


@every_study
def test_the_same_study_gives_the_same_bytes_and_no_clock_time(study: RiskStudy) -> None:
    made = [(text(study), risk_csv([study]), as_json(risk_document([study]))) for _ in range(2)]
    assert made[0] == made[1]
    assert not re.search(r"\b\d{1,2}:\d{2}\b|\b20\d\d-\d\d-\d\d", "".join(made[0]))


def test_control_characters_of_names_are_written_out() -> None:
    study = replace(FULL, title="bad\x1bname", digest="\x07")
    assert "\x1b" not in text(study)
    assert "bad\\x1bname" in text(study)


# ---- every number as it is -----------------------------------------------------------------------


def differences(value: Any, shown: Any, path: str = "") -> Iterator[str]:
    """Where a JSON value is not what the frozen value is, field by field."""
    for end, one, other in parts(value, shown):
        yield from differences(one, other, path + end)
    if not parts(value, shown) and not alike(value, shown):
        yield path


def parts(value: Any, shown: Any) -> list[tuple[str, Any, Any]]:
    """What a value is made of, each beside what is shown of it."""
    if is_dataclass(value) and not isinstance(value, Variant):
        return [(f".{f.name}", getattr(value, f.name), shown[f.name]) for f in fields(value)]
    if isinstance(value, Mapping):
        return [(f".{key}", item, shown[key]) for key, item in value.items()]
    if isinstance(value, tuple | list) and len(value) == len(shown):
        pairs = zip(value, shown, strict=True)
        return [(f"[{number}]", one, other) for number, (one, other) in enumerate(pairs)]
    return []


def alike(value: Any, shown: Any) -> bool:
    """Whether a value without parts, or an empty one, is what is shown."""
    if isinstance(value, Decimal | Fraction):
        return isinstance(shown, str) and type(value)(shown) == value
    if isinstance(value, Variant):
        return (shown["label"], shown["offered"]) == (value.label, value.offered)
    if isinstance(value, frozenset):
        return set(shown) == value
    if isinstance(value, tuple | list | Mapping):
        return len(value) == len(shown)
    return bool(shown == value)


@every_study
def test_json_holds_every_value_of_the_study(study: RiskStudy) -> None:
    document = json.loads(as_json(risk_document([study])))
    assert document["format"] == "staylit-risk 1"
    assert list(differences(study, document["groups"][0])) == []


def test_json_of_another_study_is_noticed() -> None:
    """That the comparison can fail: one figure of one topology a millionth off."""
    document = json.loads(as_json(risk_document([FULL])))
    found = OFFERED.figures[1].found
    off = replace(OFFERED.figures[1], found=replace(found, value=found.value * (1 + 1e-6)))
    figures = (OFFERED.figures[0], off, *OFFERED.figures[2:])
    other = replace(FULL, topologies=(replace(OFFERED, figures=figures), *FULL.topologies[1:]))
    assert list(differences(other, document["groups"][0])) == [
        ".topologies[0].figures[1].found.value"
    ]


def test_json_has_no_number_that_json_does_not_know() -> None:
    rate = replace(FULL.rates[0], error_factor=float("inf"))
    document = risk_document([replace(FULL, rates=(rate,))])
    assert json.loads(as_json(document))["groups"][0]["rates"][0]["error_factor"] is None


def lines_of(study: RiskStudy) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(risk_csv([study]))))


@every_study
def test_csv_has_a_row_for_each_figure_and_topology_with_all_digits(study: RiskStudy) -> None:
    lines = {(line["topology"], line["key"]): line for line in lines_of(study)}
    assert len(lines) == len(lines_of(study))
    for one in study.topologies:
        for figure in (*one.figures, *filter(None, [one.loss_expected])):
            line = lines[one.variant.label, figure.key]
            shown = [float(line[name]) for name in ("value", "low", "high", "guessed")]
            found = figure.found
            assert shown == [found.value, found.low, found.high, figure.guessed]
            band = tuple(float(line[f"band_{end}"]) for end in ("low", "high") if figure.band)
            assert band == (figure.band or ())
            assert int(line["shows"]) == found.shows
            assert line["none_seen"] == ("yes" if found.value == 0 < found.high else "no")


def test_csv_has_exact_amounts_differences_and_what_cannot_be_built() -> None:
    lines = {(line["topology"], line["key"]): line for line in lines_of(FULL)}
    amounts = {key: lines["crossed-relays", key] for key in ("price", "loss_100", "loss_worst")}
    shown = [(Decimal(line["value"]), line["currency"]) for line in amounts.values()]
    assert shown == [(Decimal("41250.50"), "EUR"), (Decimal(12000), "EUR"), (Decimal(80000), "EUR")]
    assert float(lines["single-feed", "any"]["more_than_offered"]) == 0.331
    assert lines["crossed-relays", "any"]["more_than_offered"] == ""
    out = lines["return-loop, diverse routes", ""]
    assert (out["can_be_built"], out["value"]) == ("no", "")
    assert out["reasons"].startswith("unit-a needs 32 ports")


def test_csv_without_a_contract_knows_no_money() -> None:
    lines = lines_of(without_contract())
    assert not [line for line in lines if line["kind"] == "money" or line["currency"]]


# ---- what people read ----------------------------------------------------------------------------


def odds_back(shown: str) -> list[float]:
    """The chances that a text of odds holds, in its order."""
    numbers = re.findall(r"\d[\d ]*(?:\.\d+)?", shown.replace("1 in ", ""))
    return [1 / float(number.replace(" ", "")) for number in numbers]


def rows_of(study: RiskStudy, figure: Figure, within: str) -> dict[str, tuple[str, ...]]:
    """The cells of the Markdown table of one figure, by topology."""
    made = as_markdown(section(study, within))
    name = words.heading(figure.name, figure.kind)
    part = made.partition(f"### {name}")[2].partition("###")[0].strip()
    lines = [line for line in part.splitlines() if line.startswith("| ")][2:]
    cells = [tuple(cell.strip() for cell in line.strip("|").split(" | ")) for line in lines]
    return {row[0].removesuffix(" (offered)"): row[1:] for row in cells}


@pytest.mark.parametrize("study", [FULL, without_contract(), known()])
@pytest.mark.parametrize("number", [0, 1, 2])
def test_markdown_shows_chances_right_to_their_digits(study: RiskStudy, number: int) -> None:
    """Odds have two digits: within a twentieth; interval and band are never narrower than are."""
    for one in (each for each in study.topologies if not each.reasons):
        figure = one.figures[number]
        cells = rows_of(study, figure, "How likely")[one.variant.label]
        assert figure.band is not None
        often, rarely = odds_back(cells[2])
        assert often >= figure.band[1] * (1 - 1e-12)
        assert rarely <= figure.band[0] * (1 + 1e-12)
        if figure.found.value == 0:
            assert cells[:2] == (one_in(figure.found).partition(" (")[0], "none seen")
            assert figure.found.high <= odds_back(cells[0].removeprefix("fewer than "))[0] < 1
            continue
        assert odds_back(cells[0])[0] == pytest.approx(figure.found.value, rel=0.05)
        high, low = odds_back(cells[1])
        assert low <= figure.found.low <= figure.found.high <= high
        assert high == pytest.approx(figure.found.high, rel=0.11)


def test_markdown_shows_money_and_dark_time_right_to_three_digits() -> None:
    for one, figure in ((OFFERED, OFFERED.loss_expected), (SINGLE, SINGLE.loss_expected)):
        assert figure is not None
        table = replace(figure, name="expected loss of a show")
        cells = rows_of(FULL, table, "What it costs")[one.variant.label]
        assert figure.band is not None
        ends = (figure.found.value, figure.found.low, figure.found.high, *figure.band)
        shown = re.findall(r"\d[\d ]*(?:\.\d+)?", " ; ".join(cells[:3]))
        assert [float(n.replace(" ", "")) for n in shown] == pytest.approx(ends, rel=0.005)
    for one in (OFFERED, SINGLE):
        figure = one.figures[3]
        cells = rows_of(FULL, figure, "Topologies compared")[one.variant.label]
        assert float(cells[0]) == pytest.approx(figure.found.value, rel=0.005)
        assert cells[3] == "200 000"


def test_exact_amounts_are_shown_to_the_coin() -> None:
    table = below(section(FULL, "What it costs"), "Price and rare losses")
    assert table.rows[0][1:] == ("41 250.50 EUR", "12 000 EUR", "40 000 EUR", "80 000 EUR")
    assert table.rows[1][1:] == ("30 000 EUR", "60 000 EUR", "80 000 EUR", "80 000 EUR")


@given(st.floats(0, 1))
def test_an_availability_is_whole_or_nothing_only_if_exactly_so(part: float) -> None:
    shown = words.available(part)
    assert (shown == "100 %") == (Decimal(repr(part)) == 1)
    assert (shown == "0 %") == (part == 0)
    if not shown.startswith("under"):
        assert Decimal(shown.removesuffix(" %")) / 100 <= Decimal(repr(part))


@pytest.mark.parametrize(
    ("part", "shown"),
    [(0.99987, "99.987 %"), (0.999776, "99.977 %"), (0.9, "90 %"), (1.0, "100 %"),
     (0.004, "under 1 %")],
)  # fmt: skip
def test_availability_is_rounded_down(part: float, shown: str) -> None:
    assert words.available(part) == shown


@given(st.floats(0, 1e9))
def test_money_is_nothing_only_if_it_is(value: float) -> None:
    assert (words.amount(value, "EUR") == "0 EUR") == (value == 0)


@pytest.mark.parametrize(
    ("value", "code", "shown"),
    [
        (1234.5, "EUR", "1 230 EUR"), (99.999, "EUR", "100 EUR"), (8.3456, "EUR", "8.35 EUR"),
        (1234567, "JPY", "1 230 000 JPY"), (0.4, "JPY", "<1 JPY"), (0.001, "EUR", "<0.01 EUR"),
        (-731.2, "EUR", "-731 EUR"), (0.25, "KWD", "0.250 KWD"),
    ],
)  # fmt: skip
def test_mean_amounts_have_three_digits(value: float, code: str, shown: str) -> None:
    assert words.amount(value, code) == shown


@given(st.integers(0, 1000), st.integers(1, 1000), st.floats(0, 1), st.floats(0, 1))
def test_a_chance_is_never_or_certain_only_if_exact(
    hits: int, more: int, one: float, other: float
) -> None:
    found = share(hits, hits + more)
    figure = Figure("x", "x", "chance", found, 0.5, (min(one, other), max(one, other)))
    shown = [words.about(figure), words.by_chance(figure)]
    assert not any(each in ("never", "1 in 1") for each in shown)
    assert (words.by_ignorance(figure) == "not known: none seen") == (one == other == 0)
    assert words.by_ignorance(figure) != "never"
    for each in (words.by_chance(figure), words.by_ignorance(figure)):
        assert not each.startswith("1 in 1 to") or max(one, other) == 1


@pytest.mark.parametrize(
    ("found", "kind", "shown"),
    [
        (Estimate(0.01, 0.008, 0.0125, 0.95, ""), "chance",
         ("1 more in 100", "1 more in 80 to 130")),
        (Estimate(-0.01, -0.0125, -0.008, 0.95, ""), "chance",
         ("1 fewer in 100", "1 fewer in 80 to 130")),
        (Estimate(0.01, -0.01, 0.02, 0.95, ""), "chance",
         ("none shown", "1 fewer in 100 to 1 more in 50")),
        (Estimate(-30.0, -40.0, -20.0, 0.95, ""), "money", ("30 EUR less", "20 to 40 EUR less")),
        (exactly(0.0), "money", ("none", "exact")),
        (exactly(2.0), "wall-seconds", ("2.00 more", "exact")),
    ],
)  # fmt: skip
def test_differences_in_words(found: Estimate, kind: str, shown: tuple[str, str]) -> None:
    assert words.more_or_fewer(found, kind, "EUR") == shown


# ---- honest words --------------------------------------------------------------------------------


@every_study
def test_no_share_is_nothing_or_all_unless_exact(study: RiskStudy) -> None:
    """0 % and 100 % stand only where a share of placeholders or an availability is exactly so."""
    exact = [
        f.guessed
        for one in study.topologies
        for f in (*one.figures, *filter(None, [one.loss_expected]))
    ]
    exact += [float(each.share) for each in study.spare_shares]
    lit = [one.availability for one in study.topologies if not one.reasons]
    shown = re.findall(r"(?<![\d.,])(?:0|100) %", text(study))
    assert ("0 %" in shown) <= (0.0 in exact)
    assert ("100 %" in shown) <= (1.0 in exact or 1.0 in lit)


def test_nothing_seen_is_a_bound_and_never_nothing() -> None:
    shown = flowing(FULL)
    assert "a whole wall dark for over 10 s: fewer than 1 in 54 000 shows (none seen;" in shown
    assert OFFERED.figures[2].found.value == 0
    cells = [
        c for b in section(FULL, "How likely") if isinstance(b, Table) for r in b.rows for c in r
    ]
    assert "none seen" in cells
    assert not [cell for cell in cells if "never" in cell or cell.startswith("0")]


def test_what_is_exactly_nothing_is_never() -> None:
    assert "anything dark: never (exact; 0 % on placeholders)" in flowing(bare())


def test_both_doubts_are_told_apart_by_name() -> None:
    shown = flowing(FULL)
    assert (
        "1 in 220 shows (by chance 1 in 200 to 240; by ignorance 1 in 69 to 1 900; 83 % on" in shown
    )
    for blocks in (section(FULL, "How likely"), section(FULL, "What it costs")):
        heads = [b.head for b in blocks if isinstance(b, Table) and b.head[1] == "about"]
        assert heads
        assert all(h[2:4] == ("by chance\n(95 %)", "by ignorance\n(90 %)") for h in heads)


def test_a_band_that_nobody_asked_for_is_said_to_be_missing() -> None:
    figures = tuple(replace(figure, band=None) for figure in OFFERED.figures)
    one = replace(OFFERED, figures=figures)
    shown = flowing(replace(FULL, topologies=(one, SINGLE)))
    assert "not asked for" in shown
    assert "1 in 220 shows (by chance 1 in 200 to 240; 83 % on placeholders)" in shown


def test_placeholders_above_the_stated_share_are_marked_beside_every_headline() -> None:
    """The topology offered lies above it, the other one below."""
    lead = flowing(FULL).partition("How likely")[0]
    assert lead.count(words.INDICATIVE) == 2
    assert f"of a show of 3 h ({words.INDICATIVE})." in lead
    assert f"40 000 EUR ({words.INDICATIVE})." in lead
    assert "WARNING. Indicative, not evidence: 83 % of the expected loss rests on" in lead
    for heading in ("How likely", "What it costs"):
        tables = [b for b in section(FULL, heading) if isinstance(b, Table)]
        assert len(tables) >= 2
        for table in tables:
            marked = [any(words.INDICATIVE in cell for cell in row) for row in table.rows]
            assert marked == [True, False]


def test_where_only_some_headlines_rest_on_placeholders_they_alone_are_marked() -> None:
    figures = (replace(OFFERED.figures[0], guessed=0.1), *OFFERED.figures[1:])
    one = replace(OFFERED, figures=figures)
    lead = flowing(replace(FULL, topologies=(one, SINGLE))).partition("How likely")[0]
    assert "this is to be expected of a show of 3 h. " in lead
    first, second = re.findall(r"- ((?:anything dark|blackout).*?\).*?)(?= -)", lead)
    assert not first.endswith(words.INDICATIVE)
    assert second.endswith(f"), {words.INDICATIVE}")


def test_placeholders_of_all_are_marked_in_the_heading() -> None:
    study = replace(FULL, topologies=FULL.topologies[:1])
    heads = [b.text for b in section(study, "How likely") if isinstance(b, Heading)]
    assert len(heads) == 3
    assert all(head.endswith(f"({words.INDICATIVE})") for head in heads)


def test_placeholders_below_the_stated_share_are_not_marked() -> None:
    assert words.INDICATIVE not in text(known()).lower()
    assert "21 %" in text(known())


def test_the_stated_share_itself_is_not_above_it() -> None:
    study = replace(known(), terms=replace(FULL.terms, indicative_above=0.21))
    assert words.INDICATIVE not in text(study).lower()
    under = replace(known(), terms=replace(FULL.terms, indicative_above=0.2099))
    assert words.INDICATIVE in text(under).lower()
    figures = risk_document([under])["groups"][0]["topologies"][0]["figures"]
    assert all(figure["indicative"] for figure in figures)


def test_the_first_page_says_all_that_it_must() -> None:
    page = flowing(FULL).partition("What was studied")[0]
    for said in (
        "expected loss: 731 EUR a show (by chance 702 to 760 EUR; by ignorance 180 to 3 900 EUR; "
        "83 % on placeholders)",
        "dark time: 2.41 wall-seconds a show (by chance 2.32 to 2.51; by ignorance 0.603 to "
        "12.1; 83 % on placeholders)",
        "99 of 100 cost at most 12 000 EUR and 999 of 1 000 cost at most 40 000 EUR",
        "The worst foreseeable show costs 80 000 EUR",
        "What helps most: a second way beside pontoon A; it saves at most 225 EUR a show, "
        "and costs 180 EUR for 12 shows: worth it.",
        "relay-backup: 6 h before the show; evidence: line check sheet 4.",
        "*unit-c: never; evidence: nothing is stated; crossed-relays has nothing of that name.",
        "scaling unit B and tail cable: nobody said when, so they count as never tested.",
        "belong to us (402 things) and venue (6 things)",
        "return-loop, diverse routes cannot be built: unit-a needs 32 ports",
    ):
        assert said in page
    for word in ("weather load", "structure", "theft", "crowd", "rights"):
        assert word in page.partition("What was not studied")[2]


def test_where_rare_shows_cost_nothing_that_is_said() -> None:
    one = replace(OFFERED, loss_100=Decimal(0))
    shown = flowing(replace(FULL, topologies=(one, SINGLE)))
    assert "99 of 100 cost nothing and 999 of 1 000 cost at most 40 000 EUR" in shown


def test_three_risks_stand_on_the_first_page_and_ten_in_the_table() -> None:
    names = [row.name for row in OFFERED.rows]
    first = next(b for b in section(FULL, "The three risks that matter"))
    assert [t.partition(":")[0] for t in getattr(first, "texts", ())] == names[:3]
    table = next(b for b in section(FULL, "The ten largest risks") if isinstance(b, Table))
    assert [row[1].partition("\n")[0] for row in table.rows] == names[:10]
    assert "JSON has 2 smaller risks more." in flowing(FULL)


def test_what_may_strike_is_what_is_there_by_topology() -> None:
    table = below(section(FULL, "What was studied"), "What may strike")
    assert [" ".join(name.split()) for name in table.head] == [
        "topology", "things that fail", "backups dead already"
    ]  # fmt: skip
    assert table.rows == (("crossed-relays (offered)", "0.21", "0.09"),
                          ("single-feed", "0.22", "none"))  # fmt: skip
    shown = flowing(FULL)
    assert (
        "Of these there is none here: people who err, mistakes at load-in, changeovers that fail "
        "and shared causes."
    ) in shown
    every = tuple((cause, 0.1) for cause in CAUSES)
    one = replace(OFFERED, causes=every)
    assert "there is none here" not in flowing(replace(FULL, topologies=(one,)))


def test_every_cause_that_the_program_knows_has_words() -> None:
    assert tuple(CAUSES) == striking.CAUSES


def test_how_shows_were_worked_out_is_told_once_unless_it_differs() -> None:
    assert text(FULL).count("such a show") == 1
    other = replace(SINGLE, strata=SINGLE.strata[:1])
    shown = flowing(replace(FULL, topologies=(OFFERED, other)))
    assert shown.count("such a show") == 2
    assert "number of faults of single-feed: 200 000 shows" in shown


def test_every_type_in_the_rig_stands_among_the_spares() -> None:
    table = below(section(FULL, "Answers for tenders"), "Spares")
    assert table.rows == (
        ("scaling unit", "2", "1", "50 %", "<0.0001", "0"),
        ("receiving card", "144", "none", "0 %", "0.0195", "1"),
        ("patch", "40", "4 (any copper)", "10 %", "0", "0"),
    )


def test_a_risk_is_told_in_full() -> None:
    """As it stands on the first page, with its doubt and what is seen and helps."""
    assert (
        "scaling unit A blanked: 1 in 320 shows (indicative, not evidence). From a show it takes "
        "1.21 wall-seconds, 412 EUR on average and 40 000 EUR at worst by itself. Seen: "
        "everything dark until mended. Helps: a second unit "
        "that somebody watches and takes by hand."
    ) in flowing(FULL)
    table = next(b for b in section(FULL, "The ten largest risks") if isinstance(b, Table))
    assert table.rows[3] == (
        "4", "relay-backup dead before the show\n(never tested; us)",
        f"1 in 1 200 shows, only with other faults\n{words.INDICATIVE}",
        "no wall-seconds\n0 EUR on average\n0 EUR at worst by itself",
        "nothing by itself", "test the backup before each show",
    )  # fmt: skip


half, all_ = Fraction(1, 2), Fraction(1)


@pytest.mark.parametrize(
    ("seen", "mends", "said"),
    [
        (UNSEEN, True, "nothing by itself"),
        (Sight(dark=all_), True, "everything dark until mended"),
        (Sight(dark=all_), False, "everything dark to the end of the show"),
        (Sight(half, Fraction(1, 4)), True, "50 % dark and 25 % not as intended until mended"),
        (Sight(spoilt=half, turns=True), True, "50 % not as intended, on and off, until mended"),
        (
            Sight(blink=all_, blink_dark=True, frames=(18, 19), time=FLICKS // 3), True,
            "a blink: everything dark for 18..19 frames",
        ),
        (
            Sight(blink=half, frames=(1, 1), time=9), True,
            "a blink: 50 % not as intended for 1 frame",
        ),
        (
            Sight(blink=all_, blink_dark=True, frames=(30_000, 30_001), time=600 * FLICKS), True,
            "a blink: everything dark for 10 min (30 000 frames)",
        ),
        (
            Sight(half, blink=all_, blink_dark=True, frames=(110, 111), time=2 * FLICKS), False,
            "50 % dark to the end of the show; before that a blink: everything dark for 110..111 "
            "frames (within 2 s)",
        ),
    ],
)  # fmt: skip
def test_a_blink_has_frames_and_what_lasts_has_an_area(seen: Sight, mends: bool, said: str) -> None:
    assert sight_words(seen, mends) == said


def test_a_figure_that_is_another_ones_double_is_not_told_twice() -> None:
    name = "dark time where the picture moves"
    twice = tuple(
        replace(one, figures=(*one.figures, replace(one.figures[3], key="moving", name=name)))
        for one in (OFFERED, SINGLE)
    )
    shown = flowing(replace(FULL, topologies=twice))
    said = "Dark time where the picture moves: the same in every figure as dark time."
    assert said in shown and shown.count("icture moves") == 1
    other = replace(twice[1], figures=(*SINGLE.figures, replace(twice[0].figures[4])))
    assert "the same in every figure" not in flowing(replace(FULL, topologies=(twice[0], other)))


def test_how_often_more_is_lost_is_told_and_nothing_seen_is_not_never() -> None:
    table = below(section(FULL, "Topologies compared"), "How often crossed-relays costs more")
    assert table.rows == (
        ("1 000 EUR", "1 in 32 shows"), ("20 000 EUR", "1 in 220 shows"),
        ("100 000 EUR", "none seen"),
    )  # fmt: skip


def test_what_moves_the_answer_has_the_unit_of_its_figure() -> None:
    for study, name, ends in (
        (FULL, "Expected loss, with one", ("402 EUR", "2 210 EUR")),
        (without_contract(), "Dark time, wall-seconds a show, with one", ("1.31", "7.70")),
    ):
        blocks = section(study, "What moves the answer")
        assert _text(blocks[0]).startswith(name)
        table = next(b for b in blocks if isinstance(b, Table))
        assert table.rows == (("scaling unit blanked", "placeholder", *ends),)


def test_whose_items_fail_is_told_also_where_nobody_is_named() -> None:
    table = next(b for b in section(FULL, "Whose items") if isinstance(b, Table))
    assert table.rows == (
        ("nobody named", "0.00300", "0 EUR"), ("us", "1.57", "500 EUR"),
        ("venue", "0.840", "231 EUR"),
    )  # fmt: skip


def test_the_clauses_of_the_contract_are_told_in_words() -> None:
    shown = flowing(FULL)
    assert (
        "blackout (refund): more than 10 % of a wall dark in one go for over 5 s: 15 % of the fee, "
        "for over 1 min: 50 % of the fee and 1 000 EUR."
    ) in shown
    assert "All that is due for one show is held to the fee." in shown
    assert "Insurance bears what exceeds 5 000 EUR, up to 50 000 EUR." in shown


def test_who_bears_the_expected_loss_is_told_where_insurance_is_stated() -> None:
    said = "Of the expected loss of a show with crossed-relays, insurance bears 411 EUR and the"
    assert f"{said} owner 320 EUR." in flowing(FULL)
    assert "insurance bears" not in flowing(without_contract())


def test_who_notices_and_what_can_be_reached_is_told() -> None:
    shown = flowing(FULL).partition("Response times")[2]
    table = below(section(FULL, "Answers for tenders"), "Response times")
    assert table.rows == (
        ("a fault of what is monitored", "1 s to 5 s", "placeholder"),
        ("a whole wall dark", "2 s", "placeholder"),
    )
    assert (
        "Of the rig can be reached: 300 things at any time and 108 things after the show (or "
        "nobody said)."
    ) in shown
    assert "noticed" not in flowing(bare())


def test_the_timings_that_are_stated_stand_in_the_register() -> None:
    tables = [b for b in section(FULL, "Assumptions register") if isinstance(b, Table)]
    assert tables[1].rows == (
        ("relay unit.detect", "100 ms to 2 s, typically 300 ms", "claim", "its maker"),
        ("circuit.hold_up", "10 min", "measured", "own test"),
    )


def test_what_is_not_worth_it_says_so() -> None:
    table = next(b for b in section(FULL, "What helps most") if isinstance(b, Table))
    assert [row[-1] for row in table.rows] == ["worth it", words.NOT_WORTH, "-"]
    assert words.NOT_WORTH == "not worth it for penalties alone"
    assert table.rows[2][3] == "not stated"


def test_without_a_contract_there_are_units_and_fibres_and_no_currency() -> None:
    shown = text(without_contract())
    assert not re.search(r"\b(EUR|price|fee|loss)\b", shown.partition("Assumptions register")[0])
    table = next(b for b in section(without_contract(), "What it costs") if isinstance(b, Table))
    assert table.head == ("topology", "units", "fibres", "crew hours")
    assert table.rows[0] == ("crossed-relays (offered)", "2", "8", "6")


def test_an_interrupted_study_says_so_first_and_marks_the_topology() -> None:
    lead = flowing(unfinished()).partition("How likely")[0]
    assert "WARNING. Unfinished: the simulation was interrupted (crossed-relays after 1 200" in lead
    assert "crossed-relays (offered) *" in flowing(unfinished())
    assert "Unfinished" not in flowing(FULL)


def test_what_cannot_be_built_is_said_first_and_another_one_is_told_of() -> None:
    shown = flowing(unbuildable())
    assert shown.index("return-loop cannot be built") < shown.index(
        "With single-feed, not the topo"
    )
    assert "How likely" not in text(nothing_built())
    assert "Never look into a fibre" in text(nothing_built())


# Source: MIL-STD-882E Tables I to III (secondary source read).
@pytest.mark.parametrize(
    ("severity", "row"), [(1, "HHHSM"), (2, "HHSMM"), (3, "SSMMM"), (4, "MMLLL")]
)
def test_the_matrix_is_drawn_against_published(severity: int, row: str) -> None:
    table = next(b for b in section(FULL, "Risk matrix") if isinstance(b, Table))
    assert table.head == ("", *STANDARD.levels)
    assert table.rows[0] == ("at least 1 in", "10", "100", "1 000", "1 000 000", "rarer")
    shown = [cell.partition("\n")[0][0].upper() for cell in table.rows[severity][1:]]
    assert "".join(shown) == row


def test_each_risk_stands_once_in_the_matrix_at_its_place() -> None:
    table = next(b for b in section(FULL, "Risk matrix") if isinstance(b, Table))
    found = {
        int(number): (severity, STANDARD.levels[place])
        for severity, row in enumerate(table.rows[1:], 1)
        for place, cell in enumerate(row[1:])
        for number in re.findall(r"\d+", cell)
    }
    rows = enumerate(OFFERED.rows[:10], 1)
    assert found == {number: (row.severity, row.level) for number, row in rows}


def test_the_matrix_says_which_night_each_chance_is_of() -> None:
    tables = [b for b in section(FULL, "Risk matrix") if isinstance(b, Table)]
    assert tables[1].rows[:4] == (
        ("1", "scaling unit A blanked (item)", "catastrophic", "1 in 500 shows", "high"),
        ("2", "circuit pontoon A tripped (shared cause)", "catastrophic", "1 in 1 000 shows",
         "high"),
        ("3", "receiving card dead (item)", "marginal or worse", "1 in 56 shows", "serious"),
        ("4", "relay-backup dead before the show (never tested)", "negligible or worse",
         "1 in 1 200 shows", "low"),
    )  # fmt: skip
    never = replace(OFFERED.rows[0], reaches=(0.0,) * 4, level="")
    shown = flowing(replace(FULL, topologies=(replace(OFFERED, rows=(never,)),)))
    assert "In no simulated show seen to do harm, so not in the matrix: 1." in shown


def test_the_scenarios_own_thresholds_are_those_of_the_matrix() -> None:
    study = replace(FULL, terms=replace(FULL.terms, edges=(0.5, 0.2, 0.01, 0.001)))
    table = next(b for b in section(study, "Risk matrix") if isinstance(b, Table))
    assert table.rows[0][1:] == ("2.0", "5.0", "100", "1 000", "rarer")
    assert "own thresholds" in flowing(study)


def test_answers_for_tenders() -> None:
    shown = flowing(FULL).partition("Answers for tenders")[2].partition("Assumptions register")[0]
    for said in (
        "No single fault takes the whole picture for good except: pontoon A tripped, scaling unit "
        "A blanked, relay-main",
        "Availability: 99.977 %. It is the mean part of",
        "circuit pontoon A tripped 9 min 30 s",
        "2 technicians on site",
        "2 min to 10 min, mostly 4 min",
        "1 min, in 95 of 100 under 3 times that (lognormal)",
        "scaling unit 2 1 50 %",
        "Test log -------- - relay-backup: 6 h before the show",
    ):
        assert said in shown
    assert "No single fault takes the whole picture for good. " in flowing(bare())


def test_the_register_has_source_and_grade_of_every_input() -> None:
    tables = [b for b in section(FULL, "Assumptions register") if isinstance(b, Table)]
    inputs = [(row[0], row[4], row[5]) for row in tables[0].rows]
    assert inputs == [(each.what, each.source, each.grade) for each in FULL.rates]
    assert [row[3] for row in tables[0].rows] == ["10", "2.3", "-"]
    assert tables[2].rows == (
        ("groups.main.routes", "route of trunks", "one", "guess", "unfavourable"),
    )


def test_the_method_tells_shows_seed_version_and_hash() -> None:
    tables = [b for b in section(FULL, "Method") if isinstance(b, Table)]
    assert [row[3] for row in tables[0].rows] == ["0", "0", "200 000"]
    marks = next(b for b in section(FULL, "Marks") if isinstance(b, Table))
    assert dict(marks.rows) == {"seed": "7", "version": "0.3.0", "scenario hash": "0c41d9e2f7a8"}


def test_two_ways_of_sampling_stand_beside_each_other() -> None:
    both = Sampling(
        "crossed-relays", "dark", (4000, 90_000), (1.5, 1.25), (2e-21, 3.1e-15), 12_345.6
    )
    rare = replace(both, what="wall", by_theory=True, gain=inf)
    tables = [
        b for b in section(replace(FULL, samplings=(both, rare)), "Method") if isinstance(b, Table)
    ]
    assert tables[-1].rows == (
        ("crossed-relays", "dark", "by strata", "4 000", "1.5", "2e-21", "12 300"),
        ("", "", "plainly", "90 000", "1.25", "3.1e-15", ""),
        ("crossed-relays", "wall", "by strata", "4 000", "1.5", "2e-21", "beyond counting"),
        ("", "", "plainly, by theory", "90 000", "1.25", "3.1e-15", ""),
    )
    assert "differences were sampled plainly, as asked" in flowing(replace(FULL, plain=True))


@every_study
def test_every_report_ends_with_all_cautions(study: RiskStudy) -> None:
    shown = flowing(study).partition("Cautions")[2]
    for caution in (*CAUTIONS.texts, "more than three flashes in a second", "IEC 60825-2"):
        assert caution in shown


def test_the_lead_names_what_leads_and_says_by_what_rule() -> None:
    points = next(b for b in risk_blocks([FULL]) if isinstance(b, Points))
    named = [t.partition(": ")[0] for t in points.texts]
    assert named[:3] == [OFFERED.figures[0].name, "a whole wall dark for over 10 s", "blackout"]
    assert "Named are" not in flowing(FULL), "all of them are"
    few = replace(OFFERED, leading=("wall",))
    shown = flowing(replace(FULL, topologies=(few, SINGLE)))
    assert "Named are the likeliest chance, the whole wall dark for longest, and" in shown


def test_the_least_is_told_with_what_it_cannot_be_told_apart_from() -> None:
    shown = flowing(FULL)
    assert "is least with crossed-relays (731 EUR) and most with single-feed (4 210 EUR)" in shown
    assert "The same shows tell crossed-relays apart from all others." in shown
    near = replace(OFFERED, alike=("single-feed", "two-unit"))
    assert (
        "The same shows do not tell crossed-relays apart from single-feed or two-unit: the "
        "difference may be chance."
    ) in flowing(replace(FULL, topologies=(near, SINGLE)))


def test_a_broken_limit_is_in_the_lead() -> None:
    shown = flowing(replace(FULL, verdicts=LIMITS))
    assert (
        'The topology offered does not meet "no single fault darkens the wall": `staylit faults` '
        "tells by what. Limits on double faults are not judged here: see `staylit faults --pairs`."
    ) in shown
    assert "topology offered does not meet" not in flowing(replace(FULL, verdicts=LIMITS[1:]))


# ---- simulation against theory -------------------------------------------------------------------


def test_the_verification_shows_both_ways_side_by_side() -> None:
    table = next(b for b in verify_blocks([REFUTED]) if isinstance(b, Table))
    assert table.rows[0][2:] == ("2.51e-9", "1.20e-11", "2.50e-9", "3.00e-12", "0.81", "agree")
    assert table.rows[1][6:] == ("19.98", "differ")
    shown = " ".join(as_text(verify_blocks([REFUTED]), 4000).split())
    assert "WARNING. Simulation and theory differ in 1 figure of 2" in shown
    passed = as_text(verify_blocks([VERIFIED]), 4000)
    assert "WARNING" not in passed
    assert "Simulation and theory agree in 1 figure compared." in passed


def test_the_verification_for_programs_has_all_digits() -> None:
    document = json.loads(as_json(verify_document([REFUTED])))
    assert document["format"] == "staylit-verify 1"
    assert list(differences(REFUTED, document["groups"][0])) == []
    assert list(differences(VERIFIED, document["groups"][0])) != []
    lines = list(csv.DictReader(io.StringIO(verify_csv([REFUTED]))))
    shown = [float(lines[1][name]) for name in ("simulated", "error", "theory", "bound", "off")]
    assert shown == [DIFFER.simulated, DIFFER.error, DIFFER.theory, DIFFER.bound, DIFFER.off]


# ---- the command ---------------------------------------------------------------------------------


class Standing:
    """In the place of the study: hands out what it is told to, and keeps what it was asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.study, self.verified = FULL, VERIFIED
        self.asked: list[tuple[str, RiskAsked]] = []
        self.workers = 0
        monkeypatch.setitem(sys.modules, "sim.risk.study", SimpleNamespace(risk_of=self._risk_of))
        place = SimpleNamespace(verify_of=self._verify_of)
        monkeypatch.setitem(sys.modules, "sim.risk.verifying", place)

    def _risk_of(
        self, scenario: Any, group: str, wanted: RiskAsked, told: Any, executor: Executor
    ) -> RiskStudy:
        told("half of the shows")
        self.asked.append((group, wanted))
        self.workers = executor.workers
        return self.study

    def _verify_of(
        self, scenario: Any, group: str, wanted: RiskAsked, told: Any, executor: Executor
    ) -> Any:
        self.asked.append((group, wanted))
        return self.verified


@pytest.fixture
def standing(monkeypatch: pytest.MonkeyPatch) -> Standing:
    return Standing(monkeypatch)


def test_the_command_hands_on_what_was_asked(
    standing: Standing, capsys: pytest.CaptureFixture[str]
) -> None:
    args = "--seed 9 --shows 5000 --precision 0.02 --workers 2 --plain --format json".split()
    assert cli.run(["risk", "first", *args]) == 0
    assert [wanted for _, wanted in standing.asked] == [RiskAsked("", 9, 5000, 0.02, plain=True)]
    assert standing.workers == 2
    assert json.loads(capsys.readouterr().out)["format"] == "staylit-risk 1"


def test_the_usual_is_asked_for_where_nothing_is_said(standing: Standing) -> None:
    assert cli.run(["risk", "first"]) == 0
    assert standing.asked[0][1] == RiskAsked()


def test_a_topology_is_looked_for_in_its_group_only(
    standing: Standing, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["risk", "river", "--topology", "relay-pair"]) == 0
    assert [(group, wanted.topology) for group, wanted in standing.asked] == [
        ("main", "relay-pair")
    ]
    assert cli.run(["risk", "river", "--topology", "relay-pear"]) == 2
    assert "relay-pair" in capsys.readouterr().err


@pytest.mark.parametrize("form", ["text", "markdown", "json", "csv"])
def test_every_format_is_written(
    form: str, standing: Standing, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["risk", "first", "--format", form]) == 0
    assert cli.run(["risk", "first", "--verify", "--format", form]) == 0
    assert "crossed-relays" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("study", "status"),
    [
        (FULL, 0), (known(), 0), (replace(FULL, verdicts=LIMITS), 1), (unbuildable(), 1),
        (unfinished(), 130), (replace(unfinished(), verdicts=LIMITS), 130),
    ],
)  # fmt: skip
def test_the_exit_status_of_a_study(study: RiskStudy, status: int, standing: Standing) -> None:
    standing.study = study
    assert cli.run(["risk", "first"]) == status


def test_the_exit_status_of_the_verification(standing: Standing) -> None:
    assert cli.run(["risk", "first", "--verify"]) == 0
    standing.verified = REFUTED
    assert cli.run(["risk", "first", "--verify"]) == 1


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--precision", "nan"], "a part of the value between 0 and 1"),
        (["--precision", "0"], "a part of the value between 0 and 1"),
        (["--shows", "0"], "a whole number from 1 to"),
        (["--seed", "-1"], "a whole number from 0 to"),
        (["--group", "nowhere"], "there is no wall group"),
        (["--output", "."], "it is a folder"),
        (["--format", "svg"], "is not one of its values"),
    ],
)
def test_bad_usage_is_refused_before_anything_runs(
    args: list[str], said: str, standing: Standing, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["risk", "first", *args]) == 2
    assert said in capsys.readouterr().err
    assert standing.asked == []
