"""Everything that reads what people or other programs wrote, by name, as one call on a file.

In: the path of a file. Out: whether it was taken; an InputError says that it was refused. What else
comes out is a mistake in the program. `SEEDS`: texts that each of them takes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

from tests.fuzz.journals import changed_journal, journal
from tests.fuzz.mutants import mutated_lines, mutated_table, mutated_tree
from tests.fuzz.spoils import mutated_bytes

ROOT = Path(__file__).parents[2]
CORPUS = Path(__file__).parent / "corpus"
SCENARIOS = ROOT / "scenarios"
ONCE = "once-"
"""Begins the names of inputs that went wrong once: they are tried again, and nothing is made of
them."""
MOST_PARTS = 2_000
"""A rig of a mutated scenario is built only up to so many cabinets, all topologies together."""


@dataclass(frozen=True)
class Target:
    """A reader: what it does with a file, how such files are changed, which ones it begins with."""

    name: str
    takes: Callable[[Path], None]
    mutate: Callable[[Random, Sequence[str]], bytes]
    also: tuple[str, ...] = ()
    ending: str = ".yaml"

    def seeds(self) -> tuple[str, ...]:
        """Texts that it takes: of the corpus, and of the files that come with the program."""
        every = sorted((CORPUS / self.name).glob(f"*{self.ending}"))
        own = [path for path in every if not path.name.startswith(ONCE)]
        shipped = [path for each in self.also for path in sorted(SCENARIOS.glob(each))]
        return tuple(path.read_text(encoding="utf-8") for path in [*own, *shipped])

    def input(self, seed: int, number: int) -> bytes:
        """The input of this number under this seed, the same on every machine."""
        draw = Random(f"{seed} {self.name} {number}")
        kind = mutated_bytes if draw.random() < 0.2 else self.mutate
        return kind(draw, _seeds(self.name))


@cache
def _seeds(name: str) -> tuple[str, ...]:
    return TARGETS[name].seeds()


# ---- scenarios, and the files that they name


def scenario(path: Path) -> None:
    """Load it, plan it, build every topology that it names."""
    _built(path)


def _built(path: Path) -> Any:
    from sim.scenario.loader import load
    from sim.study.study import rig_of

    made = load(path)
    cabinets = sum(wall.grid[0] * wall.grid[1] for wall in made.file.walls.values())
    variants = [variant for group in made.groups for variant in made.variants(group)]
    if cabinets * len(variants) <= MOST_PARTS:
        for variant in variants:
            rig_of(made, variant)
    return made


def check(path: Path) -> None:
    """What `staylit check` says of it, as text and as JSON."""
    from sim.asked import Asked
    from sim.commands import check as checked

    made = _built(path)
    cabinets = sum(wall.grid[0] * wall.grid[1] for wall in made.file.walls.values())
    if cabinets <= MOST_SMALL:
        checked(Asked(path))
        checked(Asked(path, format="json"))


MOST_SMALL = 30
"""Cabinets of a scenario that is checked, so that thousands can be."""


def _beside(path: Path, key: str) -> None:
    """`first`, naming the file under a key."""
    from dataclasses import replace

    from sim.scenario.included import with_files
    from sim.scenario.loader import read

    made = _first().scenario
    naming = replace(made, file=made.file.model_copy(update={key: (path.name,)}))
    with_files(naming, str(path.with_name("show.yaml")), read)


def rates(path: Path) -> None:
    """A file of learned rates that a scenario names."""
    _beside(path, "rate_files")


def proof(path: Path) -> None:
    """A file of what tests showed that a scenario names."""
    _beside(path, "proof_files")


# ---- tables


def records(path: Path) -> None:
    """`staylit rates`: the table, the rates, their report and file."""
    from sim.asked import Asked
    from sim.commands import rates as learned

    learned(Asked(path))


def sheet(path: Path) -> None:
    """`staylit proof --read`: the filled sheet, what it shows, its report and file."""
    from datetime import datetime

    from sim.asked import written
    from sim.practice.filled import Reader, filled
    from sim.practice.proof_text import proof_text
    from sim.practice.proving import proof as shown
    from sim.reliability.records import table_text
    from sim.report import proof_report

    on = _first()
    reader = Reader(on.pulls, datetime(2026, 5, 1, 20), path.name)
    made = shown(on.rig, filled(table_text(path), reader))
    proof_text(made, path.name)
    written(proof_report.blocks(made, on.variants, on.scenario), on.asked)


def results(path: Path) -> None:
    """`staylit rehearse --progress`: an engineer's own table, and what it comes to."""
    from sim.asked import written
    from sim.commands_rehearse import results_in
    from sim.practice.advice import dues, standings
    from sim.report.practise_report import progress_blocks

    on = _first()
    entries = results_in(path)
    written(progress_blocks(on.scenario, standings(entries), dues(entries, on.masses)), on.asked)


# ---- drills, texts


def drill(path: Path) -> None:
    """`staylit rehearse --drill`: the drill on its rig, up to where somebody acts."""
    from sim.commands_rehearse import _variant
    from sim.practice.files import read_drill
    from sim.practice.planning import plan_of_drill

    on = _first()
    file = read_drill(path)
    _variant(on.scenario, file, on.asked)
    plan_of_drill(file, on.scenario, on.show, on.rig, on.names)


def script(path: Path) -> None:
    """`staylit rehearse --script`: the acts, and what comes of up to ten of them."""
    from sim.practice.acts import parse_acts
    from sim.practice.files import read_script
    from sim.session import after

    on = _first()
    acts = parse_acts(read_script(path), on.tongue)
    after(on.drill, acts[:10], on.ground)


def said(path: Path) -> None:
    """Texts of the command line, one a line: `fault|cut panel/trunk-main-1 at 5 s`. Each is a
    command of its own, so that the same one again is no further input.
    """
    from sim.errors import InputError

    text = path.read_bytes().decode("utf-8", errors="replace")
    refused = None
    for line in dict.fromkeys(text.splitlines()):
        kind, _, rest = line.partition("|")
        try:
            if kind in SAID:
                SAID[kind](_first(), rest)
        except InputError as error:
            str(error)
            refused = error
    if refused:
        raise refused


def _fault(on: Any, text: str) -> None:
    from sim.study.fault_text import parse_faults

    parse_faults([text], on.rig, on.scenario.rate, on.scenario.start, on.names)


def _act(on: Any, text: str) -> None:
    from sim.practice.acts import parse_act

    parse_act(text, on.tongue, "act")


def _seen(on: Any, text: str) -> None:
    from sim.practice.evidence import evidence

    evidence([text], [], on.desk)


def _report(on: Any, text: str) -> None:
    from sim.practice.evidence import evidence

    evidence([], [text], on.desk)


def _since(on: Any, text: str) -> None:
    from sim import commands_practice

    commands_practice._since(text, on.scenario)


def _begins(on: Any, text: str) -> None:
    from sim.commands_proof import _begins as begins

    begins(text)


def _item(on: Any, text: str) -> None:
    from sim.spoken import spoken
    from sim.study.explanation import explain

    explain(on.scenario, text, spoken)


SAID: Mapping[str, Callable[[Any, str], None]] = {
    "fault": _fault, "act": _act, "seen": _seen, "report": _report, "since": _since,
    "begins": _begins, "item": _item,
}  # fmt: skip


@cache
def _first() -> Any:
    """`first` with its rig, and all that is read against it."""
    from sim.asked import Asked, rig_for
    from sim.commands_rehearse import _masses, ready
    from sim.practice.course import ground_of
    from sim.practice.desk import desk_of
    from sim.practice.proving import by_name
    from sim.practice.pulls import pulls
    from sim.scenario.loader import load
    from sim.spoken import spoken
    from sim.study.study import rig_of

    asked = Asked(SCENARIOS / "first.yaml")
    made = load(asked.path)
    main = made.offered["panel"]
    rig = rig_for(made, main)
    begun = ready(asked, CORPUS / "drill" / "whole.yaml")
    return SimpleNamespace(
        asked=asked, scenario=made, variants=(main,), rig=rig, names=spoken(rig),
        show=rig_of(made, main)[0], pulls=by_name(pulls(rig)), masses=_masses(made, rig),
        drill=begun.plan, tongue=begun.tongue, ground=ground_of(begun.plan),
        desk=desk_of(rig, made.terms.moving),
    )  # fmt: skip


def warm() -> None:
    """Load all that every target needs, so that no input is charged with it."""
    _first()


TARGETS: Mapping[str, Target] = {
    each.name: each
    for each in (
        Target("scenario", scenario, mutated_tree, ("first.yaml", "studio.yaml", "atrium.yaml")),
        Target("check", check, mutated_tree, ("first.yaml",)),
        Target("rates", rates, mutated_tree),
        Target("proof", proof, mutated_tree),
        Target("records", records, mutated_table, ("*.csv",), ".csv"),
        Target("sheet", sheet, mutated_table, (), ".csv"),
        Target("results", results, mutated_table, (), ".csv"),
        Target("drill", drill, mutated_tree),
        Target("script", script, mutated_tree),
        Target("said", said, mutated_lines, (), ".txt"),
        Target("journal", journal, changed_journal, (), ".journal"),
    )
}
