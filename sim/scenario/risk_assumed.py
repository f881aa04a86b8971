"""What a scenario does not say about risk and is taken all the same: listed with a risk report.

In: a `Scenario`. Out: `Assumption`s: where it could be said, what it is, the value taken, grade and
source, which says so where it is taken the favourable way. `check` and `compare` use none of it;
money is never among them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain

from sim.faults import MODES
from sim.rig.figures import PLACEHOLDER, TRADE, UNKNOWN
from sim.rig.placeholders import GUESSED, RANGED
from sim.scenario.assumed import guess, types_used
from sim.scenario.kits import Assumption, family_of
from sim.scenario.mending import CALLED, DIAGNOSE, TRAVEL, mendings
from sim.scenario.models import ScenarioFile
from sim.scenario.risk_entries import CrewEntry
from sim.scenario.scenario import Scenario
from sim.scenario.shape import layers_of


def risk_assumptions(scenario: Scenario) -> tuple[Assumption, ...]:
    """What a scenario leaves unsaid about risk and is taken all the same, each once."""
    parts: tuple[Callable[[ScenarioFile], Assumed], ...] = (
        _of_layers,
        _of_crew,
        _of_tests,
        _of_causes,
        _of_contract,
        _of_load_in,
        _of_doubt,
        _of_risk,
    )
    if scenario.file.risk.rates_only:
        parts = (_of_layers, _of_crew, _of_rates, _of_causes, _of_contract)
    return tuple(dict.fromkeys(chain.from_iterable(part(scenario.file) for part in parts)))


Assumed = Iterator[Assumption]
FAVOURABLE = "unknown, and taken the favourable way"


def _of_layers(file: ScenarioFile) -> Assumed:
    for group in file.groups:
        for name, layer in layers_of(file, group).items():
            if layer.moving is None:
                what = "whether its picture moves, so that it is seen when it stands still"
                yield guess(f"groups.{group}.layers.{name}.moving", what, "yes")


def _of_crew(file: ScenarioFile) -> Assumed:
    crew = file.crew
    if crew is None:
        yield guess("crew", "who mends before the end of the show", "nobody")
        return
    if crew.control is None:
        yield guess("crew.control", "the control link for restarts: none, somebody walks", "none")
    if crew.wrong_unit is None:
        what = "the chance that a unit is restarted that had nothing"
        yield guess("crew.wrong_unit", what, "3 %", f"{PLACEHOLDER}; {TRADE}")
    for key, fact in (("travel", TRAVEL), ("diagnose", DIAGNOSE)):
        if getattr(crew, key) is None and not all(getattr(r, key) for r in crew.repairs):
            what = f"how long they {key} where a repair does not say"
            yield guess(f"crew.{key}", what, str(fact), f"{PLACEHOLDER}; {TRADE}")
    yield guess("crew.spares", "spares in stock of what is not named there", "0")
    yield from _of_repairs(file, crew)


def _of_repairs(file: ScenarioFile, crew: CrewEntry) -> Assumed:
    """How each family that the rig has is mended where the crew does not say."""
    said = {each.family for each in crew.repairs if each.family and not each.modes}
    for family in (name for name in families_used(file) if name not in said):
        path, what = "crew.repairs", f"how a {CALLED.get(family, family)} is mended"
        ways = [f"{each.by} in {each.fix}" for each in mendings(family)]
        modes = [f" ({', '.join(each.modes)})" for each in mendings(family)]
        shown = [way + (of if len(ways) > 1 else "") for way, of in zip(ways, modes, strict=True)]
        if shown:
            yield guess(path, what, "; ".join(shown), f"{PLACEHOLDER}; {TRADE}")
        else:
            yield guess(path, what, "not before the end of the show")


def families_used(file: ScenarioFile) -> tuple[str, ...]:
    """The families that something of the rig is of, in the order of the catalogue."""
    used = {family_of(name, file.equipment) for name in types_used(file)} | {"circuit"}
    used |= {"control-link"} if file.controls else set()
    return tuple(family for family in MODES if family in used)


def _of_tests(file: ScenarioFile) -> Assumed:
    if not any("*" in entry.things for entry in file.tested):
        else_ = "whatever is not named there" if file.tested else "every backup"
        yield guess("tested", f"when {else_} was last seen to work as a backup", "never")


def _of_causes(file: ScenarioFile) -> Assumed:
    if not file.together:
        yield guess("together", "what strikes several things at once", "nothing", FAVOURABLE)


def _of_contract(file: ScenarioFile) -> Assumed:
    if file.contract is None:
        return
    if file.contract.cover is None:
        yield guess("contract.cover", "what an insurer bears", "nothing")
    if file.contract.cap is None:
        yield guess("contract.cap", "what all dues together are held to", "the fee", FAVOURABLE)


def _of_load_in(file: ScenarioFile) -> Assumed:
    source = f"{PLACEHOLDER}; {TRADE}"
    if file.load_in.patch_error is None:
        what = "the chance that a cable is patched wrong at load-in"
        yield guess("load_in.patch_error", what, "0.1 %", source)
    if file.load_in.caught is None:
        what = "the chance that the line check finds a wrong patch"
        yield guess("load_in.caught", what, "90 %", source)


def _of_rates(file: ScenarioFile) -> Assumed:
    """Where only stated rates count, what has none is taken never to strike."""
    what = "what has no stated rate, or no stated test: never strikes"
    yield guess("risk.rates_only", what, "stated", f"{FAVOURABLE}, as the scenario asks")


def _of_doubt(file: ScenarioFile) -> Assumed:
    """How far off a placeholder may be."""
    what = "how many times more or less often than it says a placeholder may strike"
    value = f"{GUESSED:g}; {RANGED:.2g} where the trade names a range"
    yield guess("rates", what, value, f"{PLACEHOLDER}; a guess is right within a power of ten")


def _of_risk(file: ScenarioFile) -> Assumed:
    if file.risk.untested_age is None:
        what = "how long what was never tested may have been dead unseen"
        yield guess("risk.untested_age", what, "500 h", f"{PLACEHOLDER}; {UNKNOWN}")
