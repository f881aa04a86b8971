"""Drills drawn by likelihood and difficulty: in proportion to rates, one drill for one seed.

Frequencies over many seeds are held against the masses of `risk` by Pearson's chi-square test
(scipy); drawings with a bias fail the same test. In: seeds. Out: drawn drills, their files.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from functools import cache
from itertools import accumulate
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chisquare

from sim.asked import Asked
from sim.cli import run
from sim.commands_rehearse import Ready as Begun
from sim.commands_rehearse import _ready, ready_drawn
from sim.commands_rehearse import ready as begun_from
from sim.errors import InputError
from sim.practice.acts import Act
from sim.practice.causes import nothing_wrong
from sim.practice.composing import Order, drill_file, drill_text
from sim.practice.drawing import LASTS, LEVELS, Drawn, Pool, chosen, drawn, pool_of
from sim.practice.drill import rehearsed
from sim.practice.files import DrillFile, read_drill
from sim.practice.pairs import paired
from sim.report.situation import situation_lines
from sim.risk.setting import setting
from sim.risk.streams import stream
from sim.shipped import drills
from tests.seen_rigs import SCENARIOS
from tests.test_diagnosis import ready

SEEDS = 4000
LEAST = 1e-3
"""The chance of a difference as great, below which a drawing counts as biased."""
FEW = 5
"""Pearson's test wants about five expected in each class; rarer ones are put together."""


@cache
def pool(name: str, difficulty: str) -> Pool:
    there = ready(name)
    return pool_of(there.library, there.hazards, LEVELS[difficulty])


@cache
def drill_of(name: str, difficulty: str, seed: int) -> Begun:
    """As `ready_drawn` makes it, from what is known already."""
    there = ready(name)
    scenario, rig = there.stage.scenario, there.stage.rig
    variant = scenario.offered[scenario.groups[0]]
    found = drawn(pool(name, difficulty), there.library, seed)
    file = drill_file(found, Order(name, variant, seed, difficulty), scenario, rig)
    return _ready(file, scenario, variant, rig)


def texts(file: DrillFile) -> Hashable:
    """A file without the places in it."""
    said = {key: text for key, (text, _) in file.said.items()}
    lists = ([t for t, _ in of] for of in (file.faults, file.fails))
    hints = [(after, text) for (after, _), (text, _) in file.hints]
    return str((said, *lists, [(kit, n) for kit, (n, _) in file.spares], hints))


# ---- in proportion -----------------------------------------------------------------------------


def chance(counts: Mapping[Hashable, int], masses: Mapping[Hashable, float]) -> float:
    """The chance of a difference as great, if things are drawn in proportion to masses."""
    assert set(counts) <= set(masses)
    total, whole = sum(counts.values()), sum(masses.values())
    expected = {key: total * mass / whole for key, mass in masses.items()}
    often = [key for key in expected if expected[key] >= FEW]
    found = [counts.get(key, 0) for key in often]
    wanted = [expected[key] for key in often]
    rest = total - sum(wanted)
    if rest > FEW:
        found, wanted = [*found, total - sum(found)], [*wanted, rest]
    assert len(wanted) > 5
    factor = sum(found) / sum(wanted)
    return float(chisquare(found, [each * factor for each in wanted]).pvalue)


def faults_of(name: str, seeds: int = SEEDS) -> Counter[Hashable]:
    there = ready(name)
    found = (drawn(pool(name, "middling"), there.library, seed) for seed in range(seeds))
    return Counter(each.cause.name for each in found)


def masses_of(of: Pool) -> dict[Hashable, float]:
    return {cause.name: cause.weight for cause in of.struck}


@pytest.mark.parametrize("name", ["first", "studio", "river"])
def test_single_faults_are_drawn_in_proportion_to_their_masses(name: str) -> None:
    assert chance(faults_of(name), masses_of(pool(name, "middling"))) > LEAST


@pytest.mark.parametrize("name", ["first", "studio", "river"])
def test_a_biased_drawing_is_found(name: str) -> None:
    """All alike; masses to the power of 1.3; the neighbour of the one meant."""
    of = pool(name, "middling")
    names, masses = [c.name for c in of.struck], [c.weight for c in of.struck]
    draws = stream(1, "bias").random(SEEDS)
    for weights in ([1.0] * len(masses), [mass**1.3 for mass in masses], masses[1:] + masses[:1]):
        sums = tuple(accumulate(weights))
        counts = Counter[Hashable](names[chosen(sums, u)] for u in draws)
        assert chance(counts, masses_of(of)) < LEAST / 100
    fair = Counter[Hashable](names[chosen(tuple(accumulate(masses)), u)] for u in draws)
    assert chance(fair, masses_of(of)) > LEAST


def test_pairs_are_drawn_in_proportion_to_the_products_of_their_masses() -> None:
    """Every pair of `first` that is admitted, found by trying all."""
    there, of = ready("first"), pool("first", "hard")
    masses: dict[Hashable, float] = {}
    for hidden in of.hidden:
        for cause in of.struck:
            both = paired(there.library, hidden, cause.hazards[0])
            if both is not None and walls(both) != walls(cause):
                masses[hidden.key, cause.name] = hidden.mass * cause.weight
    found = [drawn(of, there.library, seed) for seed in range(1500)]
    counts = Counter[Hashable]((d.first.key, d.cause.name) for d in found if d.first)
    assert chance(counts, masses) > LEAST
    alone = {key: masses[key] / next(h.mass for h in of.hidden if h.key == key[0])  # type: ignore[index]
             for key in masses}  # fmt: skip
    assert chance(counts, alone) < LEAST / 100, "masses of the hidden one would not matter"


def walls(cause: object) -> Hashable:
    look = cause.look  # type: ignore[attr-defined]
    return frozenset(look.shown.spots.items()), look.blinked


def test_the_masses_are_those_of_risk() -> None:
    there = ready("studio")
    scenario = there.stage.scenario
    [stage] = setting(scenario, "backdrop", [scenario.offered["backdrop"]]).stages
    known = {hazard.key: hazard.mass for hazard in stage.hazards}
    found = {cause.name: cause.weight for cause in pool("studio", "middling").struck}
    assert set(found) <= set(known)
    assert all(known[name] == mass for name, mass in found.items())


@pytest.mark.parametrize("u, number", [(0.0, 0), (0.24, 0), (0.26, 1), (0.99, 2)])
def test_a_number_falls_on_the_one_that_it_lies_in(u: float, number: int) -> None:
    assert chosen((1.0, 2.0, 4.0), u) == number


def test_strikes_come_at_any_time_alike() -> None:
    """Against a uniform law by ten classes; what is watched before is 10 to 90 s."""
    there = ready("river")
    found = [drawn(pool("river", "middling"), there.library, seed) for seed in range(2000)]
    last = there.library.rig.length - LASTS
    times = np.array([each.at for each in found])
    counts, _ = np.histogram(times, bins=10, range=(0, last))
    assert chisquare(counts).pvalue > LEAST
    squeezed, _ = np.histogram(np.clip(times, last // 5, last), bins=10, range=(0, last))
    assert chisquare(squeezed).pvalue < LEAST / 100
    lead = [each.at - each.begin for each in found if each.begin]
    second, frame = 705_600_000, there.library.rig.frame
    assert 10 * second - frame < min(lead) < 12 * second < 88 * second < max(lead) <= 90 * second
    assert all(each.at % frame == each.begin % frame == 0 for each in found)


# ---- difficulty --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["first", "studio", "river"])
def test_a_difficulty_admits_what_it_says(name: str) -> None:
    there = ready(name)
    easy, middling, hard = (pool(name, each) for each in LEVELS)
    nothing = nothing_wrong(there.library).look.sign
    assert all(c.look.shown.spots for c in easy.struck) and max(easy.alike) <= 4
    assert all(c.look.sign != nothing and len(c.hazards) == 1 for c in middling.struck)
    assert {c.name for c in easy.struck} < {c.name for c in middling.struck}
    assert max(middling.alike) > 4 and not middling.hidden
    assert hard.hidden and all(hazard.early for hazard in hard.hidden)
    for seed in range(12):
        found = drawn(hard, there.library, seed)
        assert found.first is not None
        both = paired(there.library, found.first, found.cause.hazards[0])
        assert both is not None and walls(both) != walls(found.cause)
        assert found.shown == bool(both.look.shown.spots)


def test_a_hard_drill_takes_spares_and_the_seat_by_the_units() -> None:
    crew = drill_of("river", "middling", 1).plan.crew
    assert crew is not None
    seats = set[str]()
    for seed in range(8):
        plan = drill_of("river", "hard", seed).plan
        assert plan.crew is not None
        assert plan.crew.spares == {kit: max(n - 1, 0) for kit, n in crew.spares.items()}
        assert plan.reach[plan.place] == "always"
        seats.add(plan.place)
    assert seats == {"control cabin", "banks"}


def test_an_easy_drill_hints_and_has_something_to_swap() -> None:
    for seed in range(6):
        begun = drill_of("studio", "easy", seed)
        assert begun.plan.hints and not drill_of("studio", "middling", seed).plan.hints
        assert begun.plan.crew is not None and set(begun.plan.crew.spares.values()) == {1}
        assert begun.scenario.terms.crew is None


def test_where_nothing_is_admitted_it_is_said() -> None:
    there = ready("first")
    for level in LEVELS.values():
        with pytest.raises(InputError, match="no fault of this rig is so"):
            drawn(Pool(level, (), (), ()), there.library, 1)
    of = pool("first", "hard")
    odd = Pool(of.level, of.struck[:1], of.hidden[:1], of.alike[:1])
    alone: Drawn | None = None
    with pytest.raises(InputError, match="no fault of this rig is so"):
        alone = drawn(odd, there.library, 1)
    assert alone is None


# ---- files -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["first", "studio", "river"])
@pytest.mark.parametrize("difficulty", LEVELS)
def test_a_drawn_drill_is_a_file_that_gives_it_again(
    name: str, difficulty: str, tmp_path: Path
) -> None:
    path = tmp_path / "d.yaml"
    for seed in range(2):
        found = drill_of(name, difficulty, seed)
        path.write_text(drill_text(found.file))
        assert texts(read_drill(path)) == texts(found.file)
        again = begun_from(Asked(SCENARIOS / f"{name}.yaml"), path)
        assert again.plan == found.plan
        assert again.plan.title == f"drawn with seed {seed}, {difficulty}"


@pytest.mark.parametrize("drill", drills())
def test_a_shipped_drill_is_written_as_it_is_read(drill: str, tmp_path: Path) -> None:
    file = read_drill(SCENARIOS / "drills" / f"{drill}.yaml")
    path = tmp_path / "d.yaml"
    path.write_text(drill_text(file))
    assert texts(read_drill(path)) == texts(file)


def test_one_seed_is_one_drill_and_another_is_another() -> None:
    asked = Asked(SCENARIOS / "first.yaml")
    again = ready_drawn(asked, 3, "middling")
    assert again.plan == drill_of("first", "middling", 3).plan
    made = {texts(drill_of("first", "middling", seed).file) for seed in range(12)}
    assert len(made) == 12


@pytest.mark.parametrize("difficulty", LEVELS)
def test_nothing_gives_the_cause_away(difficulty: str) -> None:
    """Title and first situation name nothing that is struck; before it strikes all is lit."""
    for seed in range(4):
        found = drill_of("river", difficulty, seed)
        first = rehearsed(found.plan, (Act("wait", time=1),))[0][0]
        lines = situation_lines(first, None, found.plan.rig, found.scenario)
        shown = "\n".join([found.plan.title, *lines])
        assert "all walls are lit everywhere" in shown
        assert not [f.thing for f in found.plan.script.faults if f.thing in shown]


def test_the_command_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    script, kept = tmp_path / "s.yaml", tmp_path / "d.yaml"
    script.write_text("acts: [wait 2 min, look, wait 1 min]\n")
    common = ["rehearse", "first", "--script", str(script)]
    assert run([*common, "--drawn", "5", "--write-drill", str(kept)]) == 0
    said = capsys.readouterr().out
    assert "drill: drawn with seed 5, middling" in said
    assert run([*common, "--drill", str(kept)]) == 0
    assert capsys.readouterr().out == said
    other = ["--drawn", "5", "--topology", "single-feed"]
    assert run([*common, *other]) == 0
    assert "panel: single-feed" in capsys.readouterr().out
    assert kept.read_text() == drill_text(drill_of("first", "middling", 5).file)


WRONG = {
    "neither": ([], "Say either --drill FILE or --drawn SEED"),
    "both": (["--drill", "river-cut-trunk", "--drawn", "1"], "Say either --drill FILE or"),
    "difficulty": (["--drill", "river-cut-trunk", "--difficulty", "easy"], "belongs to --drawn"),
    "group": (["--drill", "river-cut-trunk", "--group", "main"], "--group belongs to --drawn"),
    "kept": (["--drill", "river-cut-trunk", "--write-drill", "x.yaml"], "--write-drill belongs"),
    "word": (["--drawn", "1", "--difficulty", "esay"], "nearest: easy"),
    "seed": (["--drawn", "one"], "a whole number from 0"),
    "over itself": (["--drawn", "1", "--write-drill", str(SCENARIOS / "river.yaml")], "made from"),
}


@pytest.mark.parametrize("args, said", WRONG.values(), ids=WRONG)
def test_wrong_usage_is_refused(
    args: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["rehearse", "river", *args]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
