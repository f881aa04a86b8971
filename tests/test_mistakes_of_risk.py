"""Mistakes in what a scenario says about risk that used to be taken: each has its one message.

In: the good file of `tests.test_mistakes` and single changes to it. Out: exactly one problem, with
the line, the path, what was found, what is allowed, the nearest name and what to do; and next to
each, the nearest thing that may be said, which loads.
"""

from __future__ import annotations

from math import exp
from pathlib import Path
from typing import NamedTuple

import pytest

from sim.risk.hazards import hazards
from sim.scenario.loader import scenario_from
from sim.study.study import rig_of
from tests.test_mistakes import BASE, has_its_message, more

REPAIRS = "crew: {technicians: 2, control: desk line, repairs: ["
DEAD = "{family: relay, modes: [dead], by: swap, fix: 3 min}"
ALL = "{family: relay, by: swap, fix: 5 min}"
CLAUSE = "contract: {fee: 9 000 EUR, clauses: [{name: dark, state: dark, of: wall, over: 10 %, "
SHOW = "less than the show"
PAID = "a clause that pays nothing"


class Bad(NamedTuple):
    """A section that is wrong, the parts of its message, and one next to it that is not."""

    text: str
    path: str
    found: str
    allowed: str
    do: str
    good: str


def repairs(*of: str) -> str:
    return f"{REPAIRS}{', '.join(of)}]}}"


def due(said: str, more: str = "") -> str:
    return f"{CLAUSE}{said}}}]{more}}}"


def together(*of: str) -> str:
    causes = (f"{{name: cause {n}, family: relay, {each}}}" for n, each in enumerate(of))
    return f"together: [{', '.join(causes)}]"


def second(whose: str) -> str:
    return f"a second repair of {whose}: only the first of two counts"


def never_more(held: str, amount: str) -> str:
    return f"more than is ever paid: the {held} is {amount} EUR"


UNCAPPED = "fee, which dues are held to where no cap is said"
TWICE = "crew.repairs[2]"
ONE_EACH = "one for each mode"
PAYS = "contract.clauses[1].pays"
TIME = "a time that no show is longer than"
NOT_HELD = "a deductible that no loss can exceed: the"
BY = "crew.repairs[1].by"

TABLE = [
    Bad(repairs(ALL, ALL), TWICE, second("relay"), ONE_EACH, "delete one", repairs(DEAD, ALL)),
    Bad(repairs(ALL, DEAD), TWICE, second("relay"), ONE_EACH, "delete one", repairs(DEAD, ALL)),
    Bad(repairs(DEAD, DEAD), TWICE, second("relay"), ONE_EACH, "modes: that differ",
        repairs(DEAD, DEAD.replace("dead", "stuck"))),
    Bad(repairs("{type: jumper, by: swap, fix: 3 min}", "{type: jumper, by: swap, fix: 4 min}"),
        TWICE, second("jumper"), ONE_EACH, "delete one",
        repairs("{type: jumper, by: swap, fix: 3 min}", "{family: jumper, by: swap, fix: 4 min}")),
    Bad(repairs("{things: [A, B], by: restart, fix: 3 min}", "{things: B, by: restart, fix: 1 s}"),
        TWICE, second("B"), ONE_EACH, "delete one",
        repairs("{things: A, by: restart, fix: 3 min}", "{things: B, by: restart, fix: 1 s}")),
    Bad(repairs("{family: jumper, by: restart, fix: 3 min}"), BY,
        "restart of a jumper, which nobody can restart", "swap", "by: swap",
        repairs("{family: jumper, by: swap, fix: 3 min}")),
    Bad(repairs("{things: route north, by: remote, fix: 3 min}"), BY,
        "remote of a fibre, which nobody can restart", "swap", "by: swap",
        repairs("{things: sides/unit-a, by: remote, fix: 3 min}")),
    Bad("crew: {technicians: 2, wrong_unit: 100 %}", "crew.wrong_unit",
        "a wrong unit every time, so that nothing is ever mended", "below 100 %", "as 3 %",
        "crew: {technicians: 2, wrong_unit: 99 %}"),
    Bad("load_in: {patch_error: 100 %, caught: 90 %}", "load_in.patch_error",
        "every cable patched wrong", "below 100 %", "as 0.1 %",
        "load_in: {patch_error: 99 %, caught: 100 %}"),
    Bad(together("share: 60 %", "share: 50 %"), "together[2].share",
        "shares of relay dead that add up to 110 %", "100 % in all", "lower",
        together("share: 60 %", "share: 40 %")),
    Bad("contract: {fee: 9 000 EUR, cap: 0 EUR}", "contract.cap", "a cap of nothing",
        "above 0", "leave cap out", "contract: {fee: 9 000 EUR, cap: 1 EUR}"),
    Bad("contract: {fee: 9 000 EUR, deductible: 5 EUR, cover: 0 EUR}", "contract.cover",
        "a cover of nothing", "above 0", "leave cover out",
        "contract: {fee: 9 000 EUR, deductible: 0 EUR, cover: 1 EUR}"),
    Bad("contract: {fee: 9 000 EUR, cap: 500 EUR, deductible: 600 EUR, cover: 700 EUR}",
        "contract.deductible", f"{NOT_HELD} cap is 500 EUR", "less than 500 EUR", "raise cap",
        "contract: {fee: 9 000 EUR, cap: 500 EUR, deductible: 499 EUR, cover: 700 EUR}"),
    Bad("contract: {fee: 9 000 EUR, deductible: 9 000 EUR, cover: 700 EUR}",
        "contract.deductible", f"{NOT_HELD} fee, which dues are held to is 9 000 EUR",
        "less than 9 000 EUR", "lower the deductible",
        "contract: {fee: 9 000 EUR, cap: 9 001 EUR, deductible: 9 000 EUR, cover: 700 EUR}"),
    Bad(due("for: 5 s, pays: 9 001 EUR"), PAYS, never_more(UNCAPPED, "9 000"), "up to 9 000 EUR",
        "raise cap", due("for: 5 s, pays: 9 001 EUR", ", cap: 10 000 EUR")),
    Bad(due("for: 5 s, pays: 20 %", ", cap: 1 000 EUR"), PAYS, never_more("cap", "1 000"),
        "up to 1 000 EUR", "raise cap", due("for: 5 s, pays: 10 %", ", cap: 1 000 EUR")),
    Bad(due("for: 5 s, pays: 0 %"), PAYS, PAID, "above 0", "delete it", due("for: 0 s, pays: 1 %")),
    Bad(due("for: 5 s, pays: 0 EUR"), PAYS, PAID, "above 0", "delete it",
        due("for: 5 s, pays: 1 EUR")),
    Bad(due("for: 2 h, pays: 5 %"), "contract.clauses[1].for", TIME, SHOW, "as 30 s",
        due("for: 119 min, pays: 5 %")),
    Bad(due("steps: [{for: 5 s, pays: 5 %}, {for: 3 h, pays: 9 %}]"),
        "contract.clauses[1].steps[2].for", TIME, SHOW, "as 30 s",
        due("steps: [{for: 5 s, pays: 5 %}, {for: 1 h, pays: 9 %}]")),
    Bad(due("for: 5 s, pays: 5 %").replace("over: 10 %", "over: 100 %"),
        "contract.clauses[1].over", "a clause that is never due: over 100 %", "below 100 %",
        "as 99 %", due("for: 5 s, pays: 5 %").replace("over: 10 %", "over: 99 %")),
]  # fmt: skip
"""Breaks outside the show, chances above 100 %, spares of unknown types, no technicians, negative
times, absurd Weibull shapes and tests after the show stand in `tests.test_mistakes`."""


@pytest.mark.parametrize("bad", TABLE, ids=lambda bad: f"{bad.path}: {bad.found}"[:60])
def test_a_mistake_has_its_one_message_and_what_is_next_to_it_none(bad: Bad) -> None:
    has_its_message(more(bad.text, bad.text, bad.path, bad.found, bad.allowed, "", bad.do))
    scenario_from(f"{BASE}\n{bad.good}\n")


def test_a_cause_that_strikes_in_every_show_does_so_as_often_as_it_says() -> None:
    """300 an hour over ten minutes: a mean number of 50, whose chance is 1 to any float."""
    cause = "together: [{name: dip, things: wall power, mode: tripped, rate: 300 per h, for: 1 s}]"
    first = Path("scenarios/first.yaml").read_text(encoding="utf-8")
    scenario = scenario_from(f"{first}\n{cause}\n")
    assert 1 - exp(-50) == 1
    rig = rig_of(scenario, scenario.offered["panel"])[1]
    assert rig is not None
    found = hazards(rig, scenario.terms, rig.length, lambda strike: False)
    [dip] = [hazard for hazard in found if hazard.cause == "shared cause"]
    assert dip.mass == pytest.approx(50)
