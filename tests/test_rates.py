"""Failure rates that a scenario states: how they are read, which one counts, what they change."""

from __future__ import annotations

import re
from fractions import Fraction
from math import exp, sqrt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import weibull_min

from sim.errors import InputError
from sim.reliability.learned import learn, rates_text
from sim.reliability.records import read_records
from sim.rig.figures import RANGES
from sim.rig.placeholders import CHANCES, RATES, TESTED_TODAY, Rate
from sim.rig.rates import OwnRate, Subject, expected, in_show, rate_of, scaled
from sim.scenario.fields import FieldError
from sim.scenario.loader import load, scenario_from
from sim.scenario.plan import plan_of
from sim.scenario.ratetext import amount
from sim.study.study import study
from sim.timebase import FLICKS

FIRST = Path("scenarios/first.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "per_hour"),
    [
        ("2e-5 per h", 2e-5),
        ("0.00002 per hour", 2e-5),
        ("12000 h MTBF", 1 / 12000),
        ("MTBF 12000 h", 1 / 12000),
        ("2 per year", 2 / 8760),
        ("3 per day", 3 / 24),
        # failures in 10^9 hours: IEC 61709 (the unit's meaning from memory)
        ("500 FIT", 5e-7),
    ],
)
def test_rates_as_people_write_them(text: str, per_hour: float) -> None:
    assert amount(text).per_hour(3.0) == pytest.approx(per_hour, rel=1e-12)


@given(st.floats(1e-6, 0.999), st.floats(0.5, 100))
def test_a_chance_per_show_is_what_the_rate_gives_over_the_show(
    chance: float, hours: float
) -> None:
    rate = amount(f"{chance:.12f} per show").per_hour(hours)
    assert 1 - exp(-rate * hours) == pytest.approx(chance, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "per", "value"),
    [
        ("0.5 % per load-in", "load-in", 0.005),
        ("1e-4 per mating", "mating", 1e-4),
        ("0.1 % per power-up", "power-up", 0.001),
        ("2 % per demand", "changeover", 0.02),
    ],
)
def test_chances_on_an_occasion(text: str, per: str, value: float) -> None:
    found = amount(text)
    assert (found.per, found.value) == (per, pytest.approx(value, rel=1e-12))


def test_what_counts_per_hour_and_on_an_occasion_are_told_apart() -> None:
    hourly = OwnRate("dead", 1e-3, family="jumper")
    plugged = OwnRate("dead", 1e-4, family="jumper", per="mating")
    subject = Subject("main/chain-1/jumper-2", "jumper")
    found = rate_of([hourly, plugged], subject, "dead", "mating")
    assert found is not None and (found.value, found.per) == (1e-4, "mating")
    found = rate_of([plugged], subject, "dead")
    assert found == RATES["jumper", "dead"]
    assert rate_of([hourly], subject, "dead", "mating") == CHANCES["jumper", "dead", "mating"]
    assert rate_of([hourly], subject, "dead", "power-up") is None


LIVES = st.floats(10, 1e6)


@given(LIVES, st.floats(0.2, 10), st.floats(0, 1e5), st.floats(0.1, 1000))
def test_wear_against_theory(life: float, shape: float, age: float, hours: float) -> None:
    """Mean number from one age to another: the difference of the cumulative hazards, -ln of the
    survival, of Weibull's law whose mean is the life (scipy.stats.weibull_min).
    """
    law = weibull_min(shape, scale=life / float(weibull_min(shape).mean()))
    assert law.mean() == pytest.approx(life, rel=1e-9)
    exact = float(law.logsf(age) - law.logsf(age + hours))
    found = expected(Rate(1 / life, 1.0, shape=shape), age, age + hours)
    assert found == pytest.approx(exact, rel=1e-6, abs=1e-9 * float(-law.logsf(age)))


def test_the_mean_life_is_not_the_characteristic_life() -> None:
    """A life of 1000 h and shape 2: gamma(1.5) = 0.886227 (Abramowitz and Stegun, table 6.1), so
    that 0.886227^2 = 0.785398 are to be expected up to the mean life, not 1.
    """
    assert expected(Rate(1e-3, 1.0, shape=2), 0, 1000) == pytest.approx(0.785398, rel=1e-6)
    assert expected(Rate(1e-3, 1.0), 0, 1000) == 1


@given(st.floats(0.2, 10), st.floats(1e-3, 1e3))
def test_so_many_things_or_km_expect_so_many_times_as_much(shape: float, factor: float) -> None:
    rate = Rate(1e-3, 1.0, shape=shape, age=500)
    found = in_show(scaled(rate, factor), 3)
    assert found == pytest.approx(factor * in_show(rate, 3), rel=1e-6)


def test_wear_is_stated_in_a_scenario_and_counts_over_the_show() -> None:
    """By hand: shape 2, life 1000 h, age 3000 h: ((3000 + 1/6)^2 - 3000^2) 0.785398 / 1000^2 in a
    show of ten minutes is 7.85420e-4, six times that an hour.
    """
    stated = "{family: processor, mode: dead, rate: 1000 h MTBF, shape: 2, age: 3000 h}"
    scenario = scenario_from(first(f"rates:\n  - {stated}"))
    assert scenario.length == 600 * FLICKS
    rates = {row.name: row.rate for row in study(scenario, scenario.offered["panel"]).rows}
    assert rates["unit-a dead"] == pytest.approx(6 * 7.85420e-4, rel=1e-5)


def test_a_rate_for_each_km() -> None:
    """0.1 failures per fibre-km in 1e6 h (MIL-HDBK-217F sec. 23, value from memory): 1.2 km of it
    fail 1.2e-7 times an hour.
    """
    per_year = 0.1e-6 * 8760
    own = OwnRate("cut", amount(f"{per_year:.12f} per km and year").value, "", "", "fibre", True)
    subject = Subject("main/trunk-main-1", "fibre", "fibre trunk", Fraction(1200))
    found = rate_of([own], subject, "cut")
    assert found is not None
    assert found.per_hour == pytest.approx(1.2e-7, rel=1e-6)


@pytest.mark.parametrize(
    "text",
    [
        "-1 per h", "0 per h", "0 h MTBF", "MTBF 0 h", "1", "per h", "1 per fortnight",
        "100 % per show", "1 per show", "nan per h", "inf FIT", "1e400 FIT",
        "1e9 per h", "5 %", "1 h", "٣ per h", "",
    ],
)  # fmt: skip
def test_what_is_no_rate_is_refused(text: str) -> None:
    with pytest.raises(FieldError) as refused:
        amount(text)
    assert refused.value.allowed and refused.value.todo


SUBJECT = Subject("main/unit-a", "processor", "scaling unit")
BY_FAMILY = OwnRate("dead", 1e-3, family="processor", source="f")
BY_TYPE = OwnRate("dead", 2e-3, kit="scaling unit", source="t")
BY_NAME = OwnRate("dead", 3e-3, things="main/unit-*", source="n")


def test_the_most_special_statement_counts() -> None:
    def source(*own: OwnRate) -> str:
        found = rate_of(own, SUBJECT, "dead")
        return found.source if found else ""

    assert source(BY_FAMILY, BY_TYPE, BY_NAME) == source(BY_NAME, BY_TYPE) == "n"
    assert source(BY_FAMILY, BY_TYPE) == "t"
    assert source(BY_FAMILY) == "f"
    assert rate_of([BY_FAMILY], SUBJECT, "stuck") == RATES["processor", "stuck"]
    assert rate_of([BY_FAMILY], Subject("x", "relay"), "dead") == RATES["relay", "dead"]


def first(more: str) -> str:
    return f"{FIRST}\n{more}\n"


def dark_and_guessed(text: str) -> tuple[float, float]:
    scenario = scenario_from(text)
    made = study(scenario, scenario.offered["panel"])
    return made.dark, made.guessed


def test_a_stated_rate_changes_what_is_to_be_expected_and_what_rests_on_placeholders() -> None:
    """By hand: a rate twice the placeholder adds that fault's own share of the dark time once
    more, and takes it out of what rests on placeholders.
    """
    dark, guessed = dark_and_guessed(FIRST)
    assert guessed == pytest.approx(dark)
    scenario = scenario_from(FIRST)
    rows = study(scenario, scenario.offered["panel"]).rows
    share = sum(row.dark for row in rows if row.role == "unit-a" and row.mode == "dead")
    assert share > 0
    twice = 2 * RATES["processor", "dead"].per_hour
    stated = first(f"rates:\n  - {{type: scaling unit, mode: dead, rate: {twice:.12f} per h}}")
    other_dark, other_guessed = dark_and_guessed(stated)
    assert other_dark == pytest.approx(dark + share)
    assert other_guessed == pytest.approx(dark - share)


def test_a_routes_rate_can_be_stated_by_its_name() -> None:
    scenario = scenario_from(first("rates:\n  - {things: route desk, mode: cut, rate: 1 per h}"))
    rates = {row.name: row.rate for row in study(scenario, scenario.offered["panel"]).rows}
    plain = scenario_from(FIRST)
    before = {row.name: row.rate for row in study(plain, plain.offered["panel"]).rows}
    assert rates == {**before, "route desk cut": 1.0}
    share = CHANCES["copper", "whole route", "cut"].value
    assert before["route desk cut"] == pytest.approx(share * RATES["copper", "cut"].per_hour)


def test_placeholders_are_as_uncertain_as_their_sources_say() -> None:
    """Ten, or the square root of ten where the source names a range, whatever they count per."""
    for rate in (*RATES.values(), *CHANCES.values(), TESTED_TODAY):
        named = ".." in rate.source
        assert rate.error_factor == pytest.approx(sqrt(10) if named else 10.0), rate
    assert RATES["fibre", "cut"].error_factor == CHANCES["fibre", "cut", "load-in"].error_factor
    wide = [float(RANGES[of].most / RANGES[of].least) for of in RANGED_RATES]
    assert max(wide) <= 10, "no range is wider than the factor says"


RANGED_RATES = (
    "temporary fibre damaged", "changeover fails, untested",
    "changeover fails, tested the same day",
)  # fmt: skip


@pytest.mark.parametrize(
    ("said", "factor"),
    [("", 3.0), (", source: placeholder", 10.0), (", error_factor: 2, source: placeholder", 2.0)],
)
def test_a_rate_without_an_error_factor_has_a_placeholders_only_if_it_is_one(
    said: str, factor: float
) -> None:
    text = first(f"rates:\n  - {{family: relay, mode: dead, rate: 2 per year{said}}}")
    [own] = plan_of(scenario_from(text)).rates
    assert own.error_factor == factor


RECORDS = """\
format: 1
rates:
  - family: "processor"
    mode: "dead"
    per: "hour"
    mean: 0.000125
    low: 1.0e-05
    high: 0.0005
    error_factor: 4.5
    gamma_shape: 0.5
    gamma_hours: 4000.0
    failures: 0
    hours: 4000
    prior: "Jeffreys"
    source: "fleet.csv, 2024-01-01 to 2025-01-01"
  - family: "relay"
    mode: "changeover"
    per: "changeover"
    mean: 0.01
    source: "fleet.csv, 2024-01-01 to 2025-01-01"
"""


def included(folder: Path, records: str) -> Path:
    (folder / "own.yaml").write_text(records, encoding="utf-8")
    (folder / "show.yaml").write_text(first("rate_files: own.yaml"), encoding="utf-8")
    return folder / "show.yaml"


def test_a_file_of_rates_is_included_from_beside_the_scenario(tmp_path: Path) -> None:
    scenario = load(included(tmp_path, RECORDS))
    source = "fleet.csv, 2024-01-01 to 2025-01-01"
    dead = OwnRate("dead", 0.000125, family="processor", error_factor=4.5, source=source)
    fails = OwnRate("changeover", 0.01, family="relay", source=source, per="changeover")
    assert scenario.learned == (dead, fails)
    rates = {row.name: row.rate for row in study(scenario, scenario.offered["panel"]).rows}
    assert rates["unit-a dead"] == 0.000125


@pytest.mark.parametrize(
    ("old", "new", "where", "found"),
    [
        ("mean: 0.000125", "mean: 0", "own.yaml:6: rates[1].mean", "zero"),
        ("mean: 0.000125", "mean: -1", "own.yaml:6: rates[1].mean", "no such number"),
        ('mode: "dead"', 'mode: "dread"', "own.yaml:4: rates[1].mode", "no fault mode"),
        ("format: 1", "format: 2", "own.yaml:1: format", "'2'"),
        ('family: "relay"', 'family: "rely"', "own.yaml:16: rates[2].family", "'rely'"),
        ('    per: "hour"\n', "", "own.yaml:3: rates[1]", "per is missing"),
        (
            'per: "hour"',
            'per: "mating"',
            "own.yaml:5: rates[1].per",
            "a processor per mating",
        ),
        ('per: "changeover"', 'per: "hour"', "own.yaml:18: rates[2].per", "per hour"),
        ("mean: 0.01", "mean: 1.5", "own.yaml:19: rates[2].mean", "a chance of 1.5"),
    ],
)
def test_what_is_wrong_in_such_a_file_is_told_with_its_line(
    tmp_path: Path, old: str, new: str, where: str, found: str
) -> None:
    assert old in RECORDS
    with pytest.raises(InputError) as refused:
        load(included(tmp_path, RECORDS.replace(old, new, 1)))
    [problem] = refused.value.problems
    assert problem.where == f"{tmp_path}/{where}"
    assert found in problem.found and problem.allowed and problem.todo


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    path = included(tmp_path, RECORDS)
    (tmp_path / "own.yaml").unlink()
    with pytest.raises(InputError, match=r"own\.yaml"):
        load(path)


def test_a_scenario_reads_what_the_rates_command_writes(tmp_path: Path) -> None:
    table = Path("scenarios/records-example.csv")
    learned = learn(read_records(table))
    scenario = load(included(tmp_path, rates_text(learned, table.name)))
    assert len(learned) == len(scenario.learned) == 9
    for one, own in zip(learned, scenario.learned, strict=True):
        key = one.key
        assert (own.family, own.kit, own.mode, own.per) == (key.family, key.kit, key.mode, key.per)
        assert own.value == pytest.approx(one.interval().value, rel=1e-5)


def test_the_rates_of_the_readme_can_be_stated() -> None:
    readme = Path("README.md").read_text(encoding="utf-8")
    [block] = re.findall(r"```yaml\n(rates:\n.*?)```", readme, re.DOTALL)
    river = Path("scenarios/river.yaml").read_text(encoding="utf-8")
    scenario = scenario_from(f"{river}\n{block}")
    assert [entry.mode for entry in scenario.file.rates] == ["cut", "dead", "dead"]
