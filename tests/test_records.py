"""An owner's records: read, refused with one good message each, turned into rates and a file."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from sim.bounds import MOST_ROWS
from sim.errors import InputError, Problem
from sim.faults import MODES
from sim.reliability.estimates import garwood
from sim.reliability.learned import Key, Learned, learn, rates_text
from sim.reliability.posterior import BetaChance, GammaRate, error_factor
from sim.reliability.records import COLUMNS, read_records, records_from

HEAD = "thing,family,type,from,to,hours,mode,failures,demands,per,note"
GOOD = f"""\
{HEAD}
relay 1,relay,,2024-01-01,2024-07-01,1200,dead,1,,,"fan, then dead"
relay 1,relay,,2024-01-01,2024-07-01,1200,stuck,0,,,
relay 1,relay,,2024-07-01,2025-01-01,800.5,dead,0,,,
relay 2,relay,,2024-01-01,2025-01-01,2000,,0,,,nothing at all
relay 1,relay,,2024-01-01,2024-07-01,,changeover,2,285,,
desk,selector,,2024-03-01 18:30,2024-03-01 23:00,,moved,1,40,show,
"""


def learned(text: str = GOOD) -> dict[Key, Learned]:
    return {one.key: one for one in learn(records_from(text, "kept.csv"))}


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as raised:
        records_from(text, "kept.csv")
    return raised.value.problems


# ---- what good records say -----------------------------------------------------------------------


def test_hours_count_for_the_mode_that_a_row_names() -> None:
    """Dead: 1200 + 800.5 + 2000 h, 1 failure. Stuck: 1200 + 2000. Others: only the quiet 2000."""
    found = learned()
    dead, stuck = found[Key("relay", "", "dead", "hour")], found[Key("relay", "", "stuck", "hour")]
    assert (dead.failures, dead.exposure, dead.rows) == (1, 4000.5, 3)
    assert (stuck.failures, stuck.exposure, stuck.rows) == (0, 3200, 2)
    others = {key.mode: it.exposure for key, it in found.items() if key.family == "relay"}
    rest = set(MODES["relay"]) - {"dead", "stuck"}
    assert {others[mode] for mode in rest} == {2000}
    assert (dead.begins, dead.ends) == (datetime(2024, 1, 1), datetime(2025, 1, 1))


def test_hours_are_updated_from_jeffreys_as_a_rate() -> None:
    dead = learned()[Key("relay", "", "dead", "hour")]
    assert dead.known == GammaRate(1.5, 4000.5)
    assert dead.prior == "Jeffreys"
    found, exact = dead.interval(), garwood(1, 4000.5, 0.9)
    assert found.value == pytest.approx(1.5 / 4000.5)
    assert exact.low < found.low < found.value < found.high < exact.high


def test_demands_are_updated_from_jeffreys_as_a_chance() -> None:
    found = learned()
    assert found[Key("relay", "", "changeover", "changeover")].known == BetaChance(2.5, 283.5)
    assert found[Key("selector", "", "moved", "show")].known == BetaChance(1.5, 39.5)


def test_published_examples_come_out_of_a_table() -> None:
    # Source: NASA/SP-2009-569 sec. 4.2.2.1 and 4.2.1.1 (its own text read), figures recomputed.
    text = f"""{HEAD}
a,relay,,2024-01-01,2024-12-31,4800,dead,0,,,
a,relay,,2024-01-01,2024-12-31,,changeover,2,285,,
"""
    rate, chance = Key("relay", "", "dead", "hour"), Key("relay", "", "changeover", "changeover")
    priors = {
        rate: (GammaRate(1.6, 365_000), "other fleets"),
        chance: (BetaChance(1.24, 189_075), "other fleets"),
    }
    found = {one.key: one for one in learn(records_from(text, "a.csv"), priors)}
    assert found[rate].interval().value == pytest.approx(4.327e-6, rel=5e-4)
    assert found[chance].interval().high == pytest.approx(3.513e-5, rel=5e-4)
    assert {one.prior for one in found.values()} == {"other fleets"}


def test_a_prior_of_the_other_kind_is_refused() -> None:
    key = Key("relay", "", "dead", "hour")
    with pytest.raises(ValueError, match="other kind"):
        learn(records_from(GOOD, "a.csv"), {key: (BetaChance(1, 1), "wrong")})


def test_types_are_counted_apart() -> None:
    text = f"{HEAD}\na,relay,short,2024-01-01,2024-12-31,100,dead,1,,,\n"
    text += "b,relay,long,2024-01-01,2024-12-31,300,dead,0,,,\n"
    found = learned(text)
    assert {key.kit: one.exposure for key, one in found.items()} == {"short": 100, "long": 300}


def test_what_was_never_exposed_has_no_rate() -> None:
    assert learned(f"{HEAD}\na,relay,,2024-01-01,2024-12-31,0,dead,0,,,\n") == {}


def test_semicolons_a_byte_order_mark_blank_rows_and_columns_in_any_order(tmp_path: Path) -> None:
    text = "\ufeffTo;From;thing;family;failures;mode;hours\r\n;;;;;;\r\n"
    text += " 2024-12-31 ;2024-01-01;a;port;2;dead;100\r\n"
    path = tmp_path / "kept.csv"
    path.write_bytes(text.encode())
    (record,) = read_records(path)
    assert (record.thing, record.failures, record.exposure) == ("a", 2, 100)
    assert record.where == "kept.csv:3"


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(1, 24)), min_size=1, max_size=12))
def test_days_in_any_order_add_up(days: list[tuple[int, int]]) -> None:
    """One thing, one row for each day: the posterior is that of all failures in all hours."""
    rows = [
        f"a,port,,2024-01-{d + 1:02},2024-01-{d + 2:02},{h},dead,{f},,,"
        for d, (f, h) in enumerate(days)
    ]
    for order in (rows, rows[::-1]):
        (one,) = learned("\n".join([HEAD, *order])).values()
        assert one.known == GammaRate(0.5 + sum(f for f, _ in days), sum(h for _, h in days))


# ---- what is refused -----------------------------------------------------------------------------

ROW = "a,relay,,2024-01-01,2024-12-31,100,dead,1,,,"


def changed(**cells: str) -> str:
    names = HEAD.split(",")
    row = dict(zip(names, ROW.split(","), strict=True)) | cells
    return f"{HEAD}\n{','.join(row[name] for name in names)}\n"


# Each change, where the one message stands, what it says, the nearest name.
ONE_CELL = [
    ({"thing": ""}, "thing", "empty", ""),
    ({"family": "relais"}, "family", "unknown: 'relais'", "relay"),
    ({"family": ""}, "family", "empty", ""),
    ({"mode": "ded"}, "mode", "'ded' is no fault mode of a relay", "dead"),
    ({"mode": "stick"}, "mode", "'stick' is no fault mode of a relay", "stuck"),
    ({"family": "port", "mode": "changeover", "hours": "", "demands": "9"}, "mode",
     "'changeover' is no fault mode of a port", ""),
    ({"mode": ""}, "mode", "failures or demands of no mode", ""),
    ({"mode": "", "failures": "0", "hours": "", "demands": "9", "per": "show"}, "mode",
     "failures or demands of no mode", ""),
    ({"from": "yesterday"}, "from", "not a day or moment: 'yesterday'", ""),
    ({"from": "31.12.2023"}, "from", "not a day or moment: '31.12.2023'", ""),
    ({"to": "2024-02-30"}, "to", "not a day or moment: '2024-02-30'", ""),
    ({"to": "2024-12-31 10:00+02:00"}, "to", "not a day or moment: '2024-12-31 10:00+02:00'", ""),
    ({"to": ""}, "to", "empty", ""),
    ({"to": "2023-12-31"}, "to", "2023-12-31 00:00:00 is not after 2024-01-01 00:00:00", ""),
    ({"to": "2024-01-01"}, "to", "2024-01-01 00:00:00 is not after 2024-01-01 00:00:00", ""),
    ({"hours": "-5"}, "hours", "not a number from 0 to 1000000000: '-5'", ""),
    ({"hours": "nan"}, "hours", "not a number from 0 to 1000000000: 'nan'", ""),
    ({"hours": "inf"}, "hours", "not a number from 0 to 1000000000: 'inf'", ""),
    ({"hours": "1e3"}, "hours", "not a number from 0 to 1000000000: '1e3'", ""),
    ({"hours": "9" * 30}, "hours", f"not a number from 0 to 1000000000: '{'9' * 30}'", ""),
    ({"hours": "8761"}, "hours", "8761 h in a period of 8760 h", ""),
    ({"hours": "0"}, "hours", "failures in no hours", ""),
    ({"hours": ""}, "hours", "neither hours nor demands", ""),
    ({"demands": "7", "per": "show"}, "hours", "both hours and demands", ""),
    ({"failures": ""}, "failures", "empty", ""),
    ({"failures": "-1"}, "failures", "not a whole number from 0 to 1000000000: '-1'", ""),
    ({"failures": "1.5"}, "failures", "not a whole number from 0 to 1000000000: '1.5'", ""),
    ({"failures": "8", "hours": "", "demands": "7", "per": "show"}, "failures",
     "8 failures in 7 demands", ""),
    ({"hours": "", "demands": "7.5", "per": "show"}, "demands",
     "not a whole number from 0 to 1000000000: '7.5'", ""),
    ({"hours": "", "demands": "7"}, "per", "empty", ""),
    ({"hours": "", "demands": "7", "per": "shows"}, "per", "unknown: 'shows'", "show"),
    ({"per": "show"}, "per", "'show' without demands", ""),
    ({"mode": "changeover"}, "demands", "a changeover by the hour", ""),
    ({"family": "copper", "mode": "patch error"}, "demands", "a patch error by the hour", ""),
    ({"mode": "patch error"}, "mode", "'patch error' is no fault mode of a relay", ""),
    ({"hours": "", "demands": "7", "per": "mating"}, "per", "dead of a relay per mating", ""),
    ({"family": "jumper", "hours": "", "demands": "7", "per": "power-up"}, "per",
     "dead of a jumper per power-up", ""),
    ({"mode": "restart", "hours": "", "demands": "7", "per": "load-in"}, "per",
     "restart of a relay per load-in", ""),
    ({"hours": "", "demands": "7", "per": "changeover"}, "per",
     "dead of a relay per changeover", ""),
    ({"thing": "x" * 121}, "thing", "a cell that cannot be printed or is too long: 'x", ""),
    ({"thing": "a\u2028b"}, "thing", "a cell that cannot be printed or is too long", ""),
    ({"note": "a\x00b"}, "note", "a cell that cannot be printed or is too long", ""),
]  # fmt: skip


@pytest.mark.parametrize(("cells", "column", "found", "near"), ONE_CELL)
def test_a_wrong_cell_has_one_good_message(
    cells: dict[str, str], column: str, found: str, near: str
) -> None:
    (problem,) = problems(changed(**cells))
    assert problem.where == f"kept.csv:2: {column}"
    assert problem.found.startswith(found)
    assert problem.nearest == near
    assert problem.allowed and problem.todo


@pytest.mark.parametrize(
    ("family", "mode", "per"),
    [
        ("jumper", "dead", "mating"), ("relay", "dead", "power-up"), ("copper", "cut", "load-in"),
        ("fibre", "patch error", "load-in"), ("processor", "moved", "show"),
    ],
)  # fmt: skip
def test_what_fails_on_an_occasion_is_learned_as_a_chance(family: str, mode: str, per: str) -> None:
    cells = {"family": family, "mode": mode, "per": per, "hours": "", "demands": "80"}
    ((key, one),) = learned(changed(**cells)).items()
    assert key == Key(family, "", mode, per)
    assert one.known == BetaChance(1.5, 79.5)


def test_the_row_that_is_changed_is_good_itself() -> None:
    assert len(records_from(changed(), "kept.csv")) == 1


NEXT = "a,relay,,2024-12-31,2025-12-31,50,dead,0,,,"
TWO_ROWS = [
    (NEXT.replace("2024-12-31", "2024-12-30"), "from",
     "2024-12-30 00:00 to 2025-12-31 00:00 of 'a' overlaps 2024-01-01 00:00 to 2024-12-31 00:00"),
    (NEXT.replace("relay", "port"), "family", "'a' is 'port' here, 'relay' before"),
    (NEXT.replace(",relay,,", ",relay,long,"), "type", "'a' is 'long' here, 'nothing' before"),
    (ROW, "mode", "'dead' of 'a' in this period once more"),
    (ROW.replace("dead", "stuck").replace("100", "90"), "hours",
     "90 h here, 100 h before in the same period"),
    (ROW.replace("dead,1", ",0"), "mode", "nothing failed, but 'dead' is counted in kept.csv:2"),
]  # fmt: skip


@pytest.mark.parametrize(("second", "column", "found"), TWO_ROWS)
def test_rows_that_contradict_one_another_have_one_good_message(
    second: str, column: str, found: str
) -> None:
    (problem,) = problems(f"{HEAD}\n{ROW}\n{second}\n")
    assert problem.where == f"kept.csv:3: {column}"
    assert problem.found == found
    assert problem.allowed and "kept.csv:2" in problem.todo + problem.found


def test_periods_that_touch_or_belong_to_two_things_do_not_overlap() -> None:
    other = ROW.replace("a,relay", "b,relay")
    assert len(records_from(f"{HEAD}\n{ROW}\n{NEXT}\n{other}\n", "kept.csv")) == 3


def test_a_short_period_inside_a_long_one_is_found_behind_another() -> None:
    days = (("01", "31"), ("05", "06"), ("10", "11"))
    rows = [f"a,port,,2024-01-{a},2024-01-{b},1,dead,0,,," for a, b in days]
    found = problems("\n".join([HEAD, *rows]))
    assert [problem.where for problem in found] == ["kept.csv:3: from", "kept.csv:4: from"]


@given(st.lists(st.tuples(st.integers(1, 25), st.integers(1, 5)), min_size=1, max_size=6))
def test_overlaps_against_enumeration(spans: list[tuple[int, int]]) -> None:
    """Refused if and only if some day is counted in two different periods."""
    rows = [
        f"a,port,,2024-01-{a:02},2024-01-{a + n:02},1,{mode},0,,,"
        for (a, n), mode in zip(dict.fromkeys(spans), 6 * ["dead"], strict=False)
    ]
    days = [day for a, n in dict.fromkeys(spans) for day in range(a, a + n)]
    text = "\n".join([HEAD, *rows])
    if len(days) == len(set(days)):
        assert len(records_from(text, "kept.csv")) == len(rows)
    else:
        assert all("overlaps" in problem.found for problem in problems(text))


WHOLE = [
    ("", "an empty table"),
    ("\n ,\n", "an empty table"),
    (HEAD, "a heading without rows"),
    (f"{HEAD},colour\n{ROW},red", "an unknown column 'colour'"),
    (f"{HEAD},thing\n{ROW},b", "the column 'thing' stands twice"),
    (HEAD.replace("family", "note").replace(",note", "", 1) + "\n", "no column 'family'"),
    ("thing,family,from,to,failures\na,port,2024-01-01,2024-01-02,0", "no column 'hours'"),
    (f"{HEAD}\n{ROW},more", "12 cells"),
    (f"{HEAD}\na,relay", "2 cells"),
    (f'{HEAD}\n"a,relay', "not a table"),
    (f'{HEAD}\n"a"b,relay', "not a table"),
    (f"{HEAD}\n" + f"{ROW}\n" * (MOST_ROWS + 1), "too many rows"),
]


@pytest.mark.parametrize(("text", "found"), WHOLE, ids=range(len(WHOLE)))
def test_a_table_that_cannot_be_read_has_one_good_message(text: str, found: str) -> None:
    (problem,) = problems(text)
    assert problem.where.startswith("kept.csv")
    assert problem.found.startswith(found)
    assert problem.allowed and problem.todo


def test_all_problems_are_reported_together_in_the_order_of_lines() -> None:
    rows = [ROW.replace("100", "-1"), NEXT.replace("dead", "ded"), ROW.replace("1,,", "x,,")]
    found = problems("\n".join([HEAD, *rows]))
    assert [problem.where.split(": ")[0] for problem in found] == [
        f"kept.csv:{n}" for n in (2, 3, 4)
    ]


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.csv: cannot be read"):
        read_records(tmp_path / "none.csv")
    (tmp_path / "old.csv").write_bytes(b"thing\ncaf\xe9\n")
    with pytest.raises(InputError, match=r"old\.csv:2: byte 0xe9"):
        read_records(tmp_path / "old.csv")


def test_every_column_is_described_in_printable_words() -> None:
    assert set(HEAD.split(",")) == set(COLUMNS)
    assert all(text and text.isprintable() for text in COLUMNS.values())


# ---- the file ------------------------------------------------------------------------------------


def test_the_file_reads_back_as_what_was_learned() -> None:
    found = learn(records_from(GOOD, "kept.csv"))
    tree = yaml.safe_load(rates_text(found, "kept.csv"))
    assert tree["format"] == 1
    assert len(tree["rates"]) == len(found)
    for row, one in zip(tree["rates"], found, strict=True):
        assert Key(row["family"], row.get("type", ""), row["mode"], row["per"]) == one.key
        seen = one.interval()
        numbers = [row["mean"], row["low"], row["high"], row["error_factor"]]
        wanted = [seen.value, seen.low, seen.high, error_factor(one.known)]
        assert numbers == pytest.approx(wanted, rel=1e-5)
        if one.key.per == "hour":
            assert GammaRate(row["gamma_shape"], row["gamma_hours"]) == one.known
            assert row["hours"] == pytest.approx(one.exposure, rel=1e-5)
        else:
            assert BetaChance(row["beta_failed"], row["beta_worked"]) == one.known
            assert row["demands"] == one.exposure
        assert row["failures"] == one.failures
        assert row["source"] == f"kept.csv, {one.begins.date()} to {one.ends.date()}"


def test_a_round_number_in_the_file_is_read_as_a_number() -> None:
    """Half a failure (Jeffreys) in 50 000 h: 1e-05, which YAML 1.1 takes for a text so written."""
    (found,) = learn(records_from(f"{HEAD}\na,port,,2014-01-01,2024-01-01,50000,dead,0,,,", "a"))
    (row,) = yaml.safe_load(rates_text([found], "a"))["rates"]
    assert row["mean"] == 1e-05


@given(st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=20))
def test_any_name_survives_the_file(name: str) -> None:
    quoted = '"' + name.replace('"', '""') + '"'
    text = f"{HEAD}\na,relay,{quoted},2024-01-01,2024-12-31,100,dead,1,,,\n"
    (row,) = yaml.safe_load(rates_text(learn(records_from(text, "a.csv")), 'a "b": #.csv'))["rates"]
    assert row["type"] == name
    assert row["source"].startswith('a "b": #.csv, ')


def test_the_same_records_give_the_same_bytes_and_none_give_an_empty_list() -> None:
    one, two = (rates_text(learn(records_from(GOOD, "a")), "a") for _ in range(2))
    assert one == two
    assert yaml.safe_load(rates_text([], "a")) == {"format": 1, "rates": []}
