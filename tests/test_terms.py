"""What a scenario says about risk, as terms: crew, laws, tests, shared causes, contract, load-in.

In: the shipped scenarios and small texts. Out: exact values in flicks, chances, shares, decimals;
what nobody said, taken the unfavourable way and listed; texts and values that agree both ways.
"""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError
from decimal import Decimal
from fractions import Fraction
from math import exp, isclose
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.faults import MODES, OF_ITSELF
from sim.reliability.money import parse_money
from sim.reliability.riskmatrix import STANDARD, with_edges
from sim.rig import terms as held
from sim.rig.terms import PLACEHOLDER, ClauseTerms, Law, Repair, Step, Terms, Together
from sim.scenario import risk_entries
from sim.scenario.entries import Entry
from sim.scenario.loader import load, scenario_from
from sim.scenario.plan import plan_of
from sim.scenario.risk_assumed import risk_assumptions
from sim.timebase import FLICKS
from tests.test_mistakes import BASE
from tests.test_scenario import BUSY

SCENARIOS = Path(__file__).parents[1] / "scenarios"
README = Path(__file__).parents[1] / "README.md"
MINUTE = 60 * FLICKS
SAID = "stated in the scenario"


def terms(text: str) -> Terms:
    """The terms of the small rig with these lines more."""
    return scenario_from(f"{BASE}{text}\n").terms


def law(text: str) -> Law:
    """A random time as written, by way of a crew's travel."""
    crew = terms(f"crew: {{technicians: 1, travel: {text}}}").crew
    assert crew is not None
    return crew.repairs[0].travel


# Laws


LAWS = [
    ("5 min", Law("fixed", 5 * MINUTE, source=SAID)),
    ("0 s", Law("fixed", 0, source=SAID)),
    ("1..4 min", Law("uniform", MINUTE, 4 * MINUTE, source=SAID)),
    ("4..4 min", Law("fixed", 4 * MINUTE, source=SAID)),
    ('"1..4 min, typically 2 min"', Law("triangular", MINUTE, 4 * MINUTE, 2 * MINUTE, source=SAID)),
    ("{range: 1..4 min, source: log}", Law("uniform", MINUTE, 4 * MINUTE, source="log")),
    ("{law: uniform, range: 90 s .. 4 min}", Law("uniform", 90 * FLICKS, 4 * MINUTE, source=SAID)),
    ("{law: exponential, mean: 8 min}", Law("exponential", 8 * MINUTE, source=SAID)),
    (
        "{law: lognormal, median: 5 min, factor: 2.5, source: log}",
        Law("lognormal", 5 * MINUTE, factor=2.5, source="log"),
    ),
    ("25 frames", Law("fixed", FLICKS // 2, source=SAID)),
]


@pytest.mark.parametrize(("text", "made"), LAWS, ids=[text for text, _ in LAWS])
def test_a_random_time_is_read_exactly(text: str, made: Law) -> None:
    assert law(text) == made


def written(made: Law) -> str:
    """A law as a person would write it, times in ms."""
    a, b, c = (f"{n * 1000 // FLICKS} ms" for n in (made.a, made.b, made.c))
    if made.kind == "exponential":
        return f"{{law: exponential, mean: {a}, source: {made.source}}}"
    if made.kind == "lognormal":
        return f"{{law: lognormal, median: {a}, factor: {made.factor}, source: {made.source}}}"
    span = a if made.kind == "fixed" else f"{a} .. {b}"
    span += f", typically {c}" if made.kind == "triangular" else ""
    return f'{{range: "{span}", source: {made.source}}}'


MILLISECONDS = st.integers(1, 10**7).map(lambda n: n * FLICKS // 1000)
SOURCES = st.sampled_from(["a log", "placeholder", "somebody said so"])


@st.composite
def laws(draw: st.DrawFn) -> Law:
    """Any law that can be written."""
    kind = draw(st.sampled_from(["fixed", "exponential", "lognormal", "uniform", "triangular"]))
    source = draw(SOURCES)
    if kind in ("fixed", "exponential"):
        return Law(kind, draw(MILLISECONDS), source=source)
    if kind == "lognormal":
        factor = draw(st.integers(100, 100_000)) / 100
        return Law(kind, draw(MILLISECONDS), factor=factor, source=source)
    a, c, b = sorted(draw(st.sets(MILLISECONDS, min_size=3, max_size=3)))
    return Law(kind, a, b, c if kind == "triangular" else 0, source=source)


@given(laws())
def test_a_law_that_is_written_and_read_is_the_same(made: Law) -> None:
    assert law(written(made)) == made


# Crew


def repairs_of(text: str) -> tuple[Repair, ...]:
    crew = terms(text).crew
    assert crew is not None
    return crew.repairs


def first_for(repairs: tuple[Repair, ...], family: str, mode: str) -> Repair | None:
    """The first repair of a family that mends a mode."""
    fits = (r for r in repairs if r.family == family and (not r.modes or mode in r.modes))
    return next(fits, None)


def test_without_a_crew_nobody_mends_and_it_is_listed() -> None:
    scenario = scenario_from(BASE)
    assert scenario.terms.crew is None
    (assumed,) = (each for each in risk_assumptions(scenario) if each.path == "crew")
    assert assumed.value == "nobody"


def test_a_bare_number_is_a_crew() -> None:
    crew = terms("crew: 3").crew
    assert crew is not None
    assert (crew.technicians, dict(crew.spares), crew.control) == (3, {}, "")
    assert crew.wrong_unit == 0.03, "the upper end of visible operator errors, from memory"


RANGES = {"jumper": (3, 10), "receiver": (2, 5), "processor": (10, 30), "fibre": (2, 10)}
"""Minutes: jumper from behind, module, scaling unit swap, spare strand (common practice, from
memory, no source)."""


@pytest.mark.parametrize("family", RANGES)
def test_what_a_crew_does_not_say_is_the_usual_range_and_a_placeholder(family: str) -> None:
    mode = "cut" if family == "fibre" else "dead"
    found = first_for(repairs_of("crew: 2"), family, mode)
    assert found is not None
    least, most = RANGES[family]
    assert (found.by, found.fix.kind) == ("swap", "uniform")
    assert (found.fix.a, found.fix.b) == (least * MINUTE, most * MINUTE)
    assert found.fix.source.startswith(PLACEHOLDER)
    assert found.travel.source.startswith(PLACEHOLDER)


@pytest.mark.parametrize("family", ["source", "processor"])
def test_soft_faults_of_sources_and_units_are_restarted(family: str) -> None:
    repairs = repairs_of("crew: 2")
    for mode in ("blanked", "stuck", "corrupt", "stale", "unlocked"):
        found = first_for(repairs, family, mode)
        assert found is not None
        assert found.by == "restart"
    hard = first_for(repairs, family, "dead")
    assert hard is not None
    assert hard.by == "swap"


def test_every_lasting_mode_is_mended_in_one_way_but_of_circuits_and_control_links() -> None:
    repairs = repairs_of("crew: 2")
    for family, modes in MODES.items():
        for mode in modes:
            ways = [r for r in repairs if r.family == family and mode in r.modes]
            nobody = family in ("circuit", "control-link") or mode in OF_ITSELF
            assert len(ways) == (0 if nobody else 1), (family, mode)


def test_a_spare_strand_is_there_only_if_it_is_said() -> None:
    without, with_one = terms("crew: 2"), terms("crew: {technicians: 2, spares: {fibre trunk: 1}}")
    assert without.crew is not None
    assert with_one.crew is not None
    assert not without.crew.spares
    assert with_one.crew.spares == {"fibre trunk": 1}


def test_the_most_special_repair_stands_first_and_says_for_itself() -> None:
    repairs = repairs_of(
        "crew:\n"
        "  technicians: 2\n"
        "  travel: 1 min\n"
        "  diagnose: 2 min\n"
        "  control: desk line\n"
        "  repairs:\n"
        "    - {family: processor, by: swap, fix: 9 min}\n"
        "    - {type: big unit, modes: [stuck, blanked], by: remote, fix: 1 min, travel: 7 min}\n"
        "    - {things: [sides/unit-a, camera], by: restart, fix: 3 min}\n"
    )
    own = [(r.things, r.kit, r.family, r.by, r.modes) for r in repairs[:4]]
    assert own == [
        ("sides/unit-a", "", "", "restart", ()),
        ("camera", "", "", "restart", ()),
        ("", "big unit", "", "remote", ("stuck", "blanked")),
        ("", "", "processor", "swap", ()),
    ]
    assert [r.travel.a // MINUTE for r in repairs[:4]] == [1, 1, 7, 1]
    assert {r.diagnose.a // MINUTE for r in repairs} == {2}
    assert not [r for r in repairs[4:] if r.family == "processor"], "said, so not assumed as well"


def test_a_repair_of_some_modes_leaves_the_others_to_the_usual_ones() -> None:
    repairs = repairs_of(
        "crew: {technicians: 2, repairs: [{family: jumper, modes: [dead], by: swap, fix: 1 min}]}"
    )
    dead, corrupt = (first_for(repairs, "jumper", mode) for mode in ("dead", "corrupt"))
    assert dead is not None
    assert corrupt is not None
    assert (dead.fix, corrupt.fix.a) == (Law("fixed", MINUTE, source=SAID), 3 * MINUTE)


def test_what_somebody_moved_needs_no_spare() -> None:
    repairs = repairs_of("crew: 2")
    for family in ("processor", "selector"):
        found = first_for(repairs, family, "moved")
        assert found is not None
        assert found.by == "restart"


def test_with_a_control_link_units_are_restarted_from_afar() -> None:
    repairs = repairs_of("crew: {technicians: 2, control: desk line}")
    ways = {r.by for r in repairs if r.family == "processor" and "stuck" in r.modes}
    assert ways == {"remote"}
    assert {r.by for r in repairs if r.family == "source" and "stuck" in r.modes} == {"restart"}


# Tests and shared causes


def test_tests_stand_in_the_order_of_the_file() -> None:
    text = (
        'tested: [{things: [sides/unit-a, "*relay*"], before: 2 h, evidence: sheet},'
        ' {things: "*", before: never}]'
    )
    found = terms(text).tested
    assert found == (
        held.Tested("sides/unit-a", 2 * 60 * MINUTE, "sheet"),
        held.Tested("*relay*", 2 * 60 * MINUTE, "sheet"),
        held.Tested("*", None, ""),
    )
    scenario = scenario_from(f"{BASE}{text}\n")
    assert "tested" not in {each.path for each in risk_assumptions(scenario)}


def test_a_chance_per_show_is_that_chance_and_a_rate_is_a_poisson_one() -> None:
    base = "together: [{name: dip, things: [A, B], mode: tripped, for: 2 s, rate: "
    (per_show,) = terms(f"{base}0.5 % per show}}]").together
    assert isclose(per_show.per_show, 0.005, rel_tol=1e-12)
    assert (per_show.things, per_show.lasts) == (("A", "B"), 2 * FLICKS)
    (hourly,) = terms(f"{base}0.5 per h}}]").together
    assert isclose(hourly.per_show, 1 - exp(-0.5 * 2), rel_tol=1e-12), "at least one in 2 h"


def test_a_share_of_identical_units() -> None:
    (found,) = terms("together: [{name: heat, type: relay unit, share: 5 %, source: log}]").together
    assert found == Together("heat", kit="relay unit", share=0.05, source="log")


def test_a_cause_that_strikes_what_knows_its_mode_among_others() -> None:
    (found,) = terms(
        'together: [{name: flood, things: "sides/*", mode: cut, rate: 1 per year}]'
    ).together
    assert found.mode == "cut"
    assert found.lasts is None


# Contract


def test_a_contract_is_exact() -> None:
    found = terms(
        "contract:\n"
        "  fee: 12 500.50 EUR\n"
        "  deductible: 500 EUR\n"
        "  cover: 20 000 EUR\n"
        "  clauses:\n"
        "    - {name: dark, state: dark, of: wall, over: 10 %, group: sides,\n"
        "       steps: [{for: 5 s, pays: 15 %}, {for: 60 s, pays: 5 000 EUR}]}\n"
        "    - {name: late, kind: delay, state: not lit, of: corner, over: 0 %,\n"
        "       for: 1 frame, pays: 1.5 %}\n"
    ).contract
    assert found is not None
    assert (found.currency, found.fee) == ("EUR", Decimal("12500.50"))
    assert (found.deductible, found.cover, found.cap) == (Decimal(500), Decimal(20_000), None)
    steps = (Step(5 * FLICKS, Fraction(3, 20)), Step(60 * FLICKS, amount=Decimal(5000)))
    assert found.clauses == (
        ClauseTerms("dark", "dark", "wall", Fraction(1, 10), steps, "refund", "sides"),
        ClauseTerms(
            "late", "not lit", "corner", Fraction(0),
            (Step(FLICKS // 50, Fraction(3, 200)),), "delay",
        ),
    )  # fmt: skip


@given(st.integers(1, 10**9), st.integers(0, 99), st.booleans())
def test_money_means_what_it_means_elsewhere_in_the_program(
    whole: int, cents: int, spaced: bool
) -> None:
    text = f"{whole:,}.{cents:02d} EUR".replace(",", " " if spaced else "")
    found = terms(f"contract: {{fee: {text}}}").contract
    other = parse_money(text, "fee")
    assert found is not None
    assert (found.fee, found.currency) == (other.amount, other.currency)


# Load-in, thresholds, layers, moments


def test_load_in_is_as_said_or_the_placeholder() -> None:
    silent, half = terms(""), terms("load_in: {patch_error: 0.3 %}")
    said = terms("load_in: {patch_error: 0.3 %, caught: 95 %, source: log}")
    assert (silent.patch_error, silent.patch_caught) == (0.001, 0.9)
    assert (half.patch_error, half.patch_caught) == (0.003, 0.9)
    assert (said.patch_error, said.patch_caught, said.patch_source) == (0.003, 0.95, "log")
    assert silent.patch_source.startswith(PLACEHOLDER)
    assert half.patch_source.startswith(PLACEHOLDER)


def test_thresholds() -> None:
    silent = terms("")
    assert silent.longest == (10 * FLICKS, 60 * FLICKS)
    assert (silent.edges, silent.age_untested, silent.indicative_above) == ((), 500.0, 0.5)
    said = terms(
        "risk: {longest: [1 min, 2 s], edges: [20 %, 2 %, 0.2 %, 0.0001 %], untested_age: 2 days,"
        " indicative_above: 25 %}"
    )
    assert said.longest == (2 * FLICKS, MINUTE)
    assert said.edges == (0.2, 0.02, 0.002, 1e-6)
    assert (said.age_untested, said.indicative_above) == (48.0, 0.25)


@example([1000, 100, 10, 1])
@example([100, 10, 1, 0])
@example([100, 10, 10, 1])
@example([100, 10, 5, 1])
@given(st.lists(st.integers(0, 1000), min_size=1, max_size=6))
def test_edges_are_taken_exactly_where_the_risk_matrix_takes_them(tenths: list[int]) -> None:
    text = "risk: {edges: [" + ", ".join(f"{n / 10} %" for n in tenths) + "]}"
    try:
        matrix = with_edges(tuple(n / 1000 for n in tenths), "edges")
    except InputError:
        with pytest.raises(InputError, match="do not divide a risk matrix"):
            terms(text)
    else:
        assert terms(text).edges == matrix.edges
        assert len(matrix.edges) == len(STANDARD.edges)


def test_a_layer_moves_unless_it_is_said_to_stand() -> None:
    assert terms("").moving == {"sides": frozenset({"inset", *(f"full {n}" for n in range(1, 5))})}
    still = BASE.replace("from: player, on_loss", "from: player, moving: no, on_loss")
    assert scenario_from(still).terms.moving == {"sides": frozenset({"inset"})}


@pytest.mark.parametrize("name", ["first", "river", "studio", "atrium"])
def test_layers_go_by_the_names_that_they_have_in_the_plan(name: str) -> None:
    scenario = load(SCENARIOS / f"{name}.yaml")
    for group in plan_of(scenario).groups:
        assert scenario.terms.moving[group.name] <= {layer.name for layer in group.layers}
        assert scenario.terms.moving[group.name]


def test_weighted_moments_count_and_others_do_not() -> None:
    moments = (
        "  critical: [{from: 1 min, to: 2 min, weight: 2.5}, {from: 3 min, to: 4 min}]\n  breaks:"
    )
    found = scenario_from(BASE.replace("  breaks:", moments)).terms.weights
    assert found == ((MINUTE, 2 * MINUTE, 2.5),)


# What is assumed


SAYING = {
    "crew": "crew: 2",
    "tested": 'tested: [{things: "*", before: never}]',
    "together": "together: [{name: heat, family: relay, share: 0 %}]",
    "load_in.patch_error": "load_in: {patch_error: 0.3 %}",
    "load_in.caught": "load_in: {caught: 99 %}",
    "risk.untested_age": "risk: {untested_age: 10 h}",
}


@pytest.mark.parametrize("path", SAYING)
def test_what_is_said_is_no_assumption_any_more(path: str) -> None:
    before = {each.path for each in risk_assumptions(scenario_from(BASE))}
    after = {each.path for each in risk_assumptions(scenario_from(f"{BASE}{SAYING[path]}\n"))}
    assert before - after == {path}
    assert {each.partition(".")[0] for each in after - before} <= {"crew"}


def test_a_crew_that_says_all_leaves_only_what_others_mend() -> None:
    text = (
        "crew:\n  technicians: 2\n  control: desk line\n  wrong_unit: 1 %\n  travel: 1 min\n"
        "  diagnose: 1 min\n  repairs:\n"
        + "".join(
            f"    - {{family: {family}, by: swap, fix: 3 min}}\n"
            for family in MODES if family not in ("circuit", "selector")
        )
    )  # fmt: skip
    found = [e for e in risk_assumptions(scenario_from(BASE + text)) if e.path.startswith("crew")]
    assert [(each.path, each.value) for each in found] == [
        ("crew.spares", "0"),
        ("crew.repairs", "not before the end of the show"),
    ]


def test_each_risk_assumption_has_a_grade_and_a_source_and_stands_once() -> None:
    for name in ("first", "river", "studio", "atrium"):
        found = risk_assumptions(load(SCENARIOS / f"{name}.yaml"))
        assert len(set(found)) == len(found) > 0
        for each in found:
            assert each.path and each.what and each.value and each.source
            assert each.grade == "guess"


def test_money_is_never_assumed() -> None:
    text = "contract: {fee: 100 EUR}\n"
    found = [e for e in risk_assumptions(scenario_from(BASE + text)) if "contract" in e.path]
    assert [(each.path, each.value) for each in found] == [
        ("contract.cover", "nothing"),
        ("contract.cap", "the fee"),
    ]


def test_what_is_said_of_risk_changes_nothing_that_check_and_compare_read() -> None:
    text = (SCENARIOS / "river.yaml").read_text(encoding="utf-8")
    before, _, _ = text.partition("\n# What the risk of the night rests on")
    assert before != text
    one, other = scenario_from(text), scenario_from(before)
    assert one.assumptions == other.assumptions
    assert plan_of(one) == plan_of(other)
    assert one.terms != other.terms


# The shipped scenarios


def test_the_night_regatta() -> None:
    found = load(SCENARIOS / "river.yaml").terms
    assert found.crew is not None
    assert found.contract is not None
    assert found.crew.technicians == 2
    assert found.crew.control == "desk to units"
    assert found.crew.spares["jumper"] == 8
    assert [clause.kind for clause in found.contract.clauses] == ["refund", "make-good", "abandon"]
    assert found.contract.fee == Decimal(120_000)
    assert [each.name for each in found.together] == [
        "a dip of the venue generator", "rain on the banks", "one wrong setting in both units",
    ]  # fmt: skip
    assert [each.before for each in found.tested] == [120 * MINUTE, 120 * MINUTE, None]
    assert found.moving["main"] == {"camera", "programme"}
    (weight,) = found.weights
    assert weight[2] == 3.0


def test_the_others_say_less() -> None:
    studio, atrium = (load(SCENARIOS / f"{name}.yaml").terms for name in ("studio", "atrium"))
    assert studio.crew is None
    assert studio.contract is not None
    assert studio.contract.currency == "GBP"
    assert atrium.contract is None
    assert atrium.crew is not None
    first = load(SCENARIOS / "first.yaml").terms
    assert (first.crew, first.contract, first.tested, first.together) == (None, None, (), ())


def test_terms_are_frozen_and_travel_to_other_processes() -> None:
    found = load(SCENARIOS / "river.yaml").terms
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(FrozenInstanceError):
        found.age_untested = 1.0  # type: ignore[misc]


def test_the_example_in_the_readme_is_one() -> None:
    _, _, after = README.read_text(encoding="utf-8").partition("## What a scenario may say about")
    example = after.partition("```yaml\n")[2].partition("```")[0]
    found = scenario_from(BUSY + example).terms
    assert found.crew is not None
    assert found.contract is not None
    assert len(found.together) == len(found.contract.clauses) == 2
    assert found.patch_error == 0.003
    assert found.tested[0].before == 120 * MINUTE


KEYS: dict[str, type[Entry]] = {
    "crew": risk_entries.CrewEntry,
    "crew.repairs": risk_entries.RepairEntry,
    "tested": risk_entries.TestedEntry,
    "together": risk_entries.TogetherEntry,
    "contract": risk_entries.ContractEntry,
    "contract.clauses": risk_entries.ClauseEntry,
    "load_in": risk_entries.LoadInEntry,
    "risk": risk_entries.RiskEntry,
}


@pytest.mark.parametrize("section", KEYS)
def test_the_readme_names_every_key(section: str) -> None:
    _, _, after = README.read_text(encoding="utf-8").partition("## What a scenario may say about")
    page = after.partition("\n## ")[0]
    keys = {info.alias or name for name, info in KEYS[section].model_fields.items()} - {
        "name",
        "source",
    }
    missing = {key for key in keys if f"`{key}`" not in page and f".{key}`" not in page}
    assert not missing, section


def test_mistakes_in_several_sections_are_told_together() -> None:
    text = (
        "crew: {technicians: 0, wrong_unit: 120 %}\n"
        "contract: {fee: 100}\n"
        "load_in: {caught: 1}\n"
        "tested: [{things: sides/unit-a, before: soon}]\n"
        "together: [{name: heat, family: relay}]\n"
    )
    with pytest.raises(InputError) as caught:
        scenario_from(BASE.replace("state: dark", "state: drak") + text, "rig.yaml")
    assert [problem.where.split(": ")[1] for problem in caught.value.problems] == [
        "limits[1].state", "crew.technicians", "crew.wrong_unit", "contract.fee", "load_in.caught",
        "tested[1].before", "together[1]",
    ]  # fmt: skip
