"""What a show is held to and who mends it, as a file says it, and what is assumed beyond it.

In: a valid file. Out: frozen `Terms` with the gaps filled the unfavourable way (times in flicks,
chances from 0 to 1, money as exact decimals), and for the risk report each such `Assumption`.
Money is never assumed. `check` and `compare` use none of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import chain
from math import expm1

from sim.faults import MODES
from sim.rig.figures import PLACEHOLDER, TRADE, UNKNOWN
from sim.rig.terms import (
    ClauseTerms,
    Contract,
    Crew,
    Repair,
    Step,
    Terms,
    Tested,
    Together,
)
from sim.scenario.assumed import guess, types_used
from sim.scenario.kits import Assumption, family_of
from sim.scenario.mending import DIAGNOSE, TRAVEL, law_of, mendings, usual_repairs
from sim.scenario.models import ScenarioFile
from sim.scenario.risk_entries import (
    ClauseEntry,
    ContractEntry,
    CrewEntry,
    RepairEntry,
    StepEntry,
    TogetherEntry,
)
from sim.scenario.shape import layer_name, layers_of, parts_of
from sim.timebase import FLICKS

WRONG_UNIT, PATCH_ERROR, PATCH_CAUGHT, UNTESTED_AGE = 0.03, 0.001, 0.9, 500.0
INDICATIVE = 0.5
LONGEST = (10 * FLICKS, 60 * FLICKS)
"""For how long "a whole wall dark" is asked where nobody says it."""


def terms_of(file: ScenarioFile) -> Terms:
    """What a file says, gaps filled as `risk_assumptions` lists them."""
    load_in, risk = file.load_in, file.risk
    stated = load_in.patch_error is not None and load_in.caught is not None
    return Terms(
        crew=_crew(file.crew) if file.crew else None,
        tested=tuple(
            Tested(things, entry.before, entry.evidence)
            for entry in file.tested
            for things in entry.things
        ),
        together=tuple(_together(file, entry) for entry in file.together),
        contract=_contract(file.contract) if file.contract else None,
        moving={group: _moving(file, group) for group in file.groups},
        weights=tuple(
            (m.begin, m.end, float(m.weight)) for m in file.show.critical if m.weight is not None
        ),
        longest=tuple(sorted(set(risk.longest))) or LONGEST,
        edges=risk.edges,
        age_untested=_or(risk.untested_age, UNTESTED_AGE),
        indicative_above=_or(risk.indicative_above, INDICATIVE),
        patch_error=_or(load_in.patch_error, PATCH_ERROR),
        patch_caught=_or(load_in.caught, PATCH_CAUGHT),
        patch_source=load_in.source if stated else f"{PLACEHOLDER}; {TRADE}",
    )


def _or(said: float | None, usual: float) -> float:
    return usual if said is None else said


def _moving(file: ScenarioFile, group: str) -> frozenset[str]:
    """The layers that move, by the names that they have in the rig: one for each part."""
    found: list[str] = []
    for name, layer in layers_of(file, group).items():
        across, down = parts_of(file.sources.get(layer.choices[0].source))
        parts = across * down
        if layer.moving is not False:
            found += [layer_name(name, parts, number) for number in range(1, parts + 1)]
    return frozenset(found)


def _crew(entry: CrewEntry) -> Crew:
    said = sorted(entry.repairs, key=lambda each: 0 if each.things else 1 if each.kit else 2)
    own = chain.from_iterable(_repairs(entry, each) for each in said)
    return Crew(
        technicians=entry.technicians,
        repairs=(*own, *usual_repairs(entry)),
        spares=dict(entry.spares),
        control=entry.control or "",
        wrong_unit=_or(entry.wrong_unit, WRONG_UNIT),
        source=entry.source,
    )


def _repairs(crew: CrewEntry, entry: RepairEntry) -> Iterator[Repair]:
    """The repair, once for each pattern of things that it names."""
    for things in entry.things or ("",):
        yield Repair(
            by=entry.by,
            travel=entry.travel or crew.travel or law_of(TRAVEL),
            diagnose=entry.diagnose or crew.diagnose or law_of(DIAGNOSE),
            fix=entry.fix,
            things=things,
            kit=entry.kit or "",
            family=entry.family or "",
            modes=entry.modes,
        )


def _together(file: ScenarioFile, entry: TogetherEntry) -> Together:
    hours = file.show.length / (3600 * FLICKS)
    chance = -expm1(-entry.rate.per_hour(hours) * hours) if entry.rate else 0.0
    return Together(
        name=entry.name,
        mode=entry.mode,
        things=entry.things,
        kit=entry.kit or "",
        family=entry.family or "",
        share=entry.share or 0.0,
        per_show=chance,
        lasts=entry.time,
        source=entry.source,
    )


def _contract(entry: ContractEntry) -> Contract:
    return Contract(
        currency=entry.fee[1],
        fee=_decimal(entry.fee[0]),
        clauses=tuple(map(_clause, entry.clauses)),
        deductible=_decimal(entry.deductible[0]) if entry.deductible else None,
        cover=_decimal(entry.cover[0]) if entry.cover else None,
        cap=_decimal(entry.cap[0]) if entry.cap else None,
    )


def _decimal(amount: Fraction) -> Decimal:
    """Exact: written amounts have four decimals at most."""
    return Decimal(amount.numerator) / amount.denominator


def _clause(entry: ClauseEntry) -> ClauseTerms:
    return ClauseTerms(
        name=entry.name,
        state=entry.state,
        of=entry.of,
        over=entry.over,
        steps=tuple(map(_step, entry.steps)),
        kind=entry.kind,
        group=entry.group or "",
    )


def _step(entry: StepEntry) -> Step:
    if isinstance(entry.pays, tuple):
        return Step(entry.time, amount=_decimal(entry.pays[0]))
    return Step(entry.time, entry.pays)


# What is assumed


def risk_assumptions(file: ScenarioFile) -> tuple[Assumption, ...]:
    """What a file leaves unsaid about risk and is taken all the same, in the order of the file."""
    parts = (_of_layers, _of_crew, _of_tests, _of_causes, _of_contract, _of_load_in, _of_risk)
    return tuple(dict.fromkeys(chain.from_iterable(part(file) for part in parts)))


Assumed = Iterator[Assumption]


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
        path, what = "crew.repairs", f"how a {family} is mended"
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
        what = "what strikes several things at once: none is counted, which is favourable"
        yield guess("together", what, "nothing", f"{PLACEHOLDER}; nobody gave a figure")


def _of_contract(file: ScenarioFile) -> Assumed:
    if file.contract is None:
        return
    if file.contract.cover is None:
        yield guess("contract.cover", "what an insurer bears", "nothing")
    if file.contract.cap is None:
        yield guess("contract.cap", "what all dues together are held to", "the fee")


def _of_load_in(file: ScenarioFile) -> Assumed:
    source = f"{PLACEHOLDER}; {TRADE}"
    if file.load_in.patch_error is None:
        what = "the chance that a cable is patched wrong at load-in"
        yield guess("load_in.patch_error", what, "0.1 %", source)
    if file.load_in.caught is None:
        what = "the chance that the line check finds a wrong patch"
        yield guess("load_in.caught", what, "90 %", source)


def _of_risk(file: ScenarioFile) -> Assumed:
    if file.risk.untested_age is None:
        what = "how long what was never tested may have been dead unseen"
        yield guess("risk.untested_age", what, "500 h", f"{PLACEHOLDER}; {UNKNOWN}")


__all__ = ["families_used", "risk_assumptions", "terms_of"]
