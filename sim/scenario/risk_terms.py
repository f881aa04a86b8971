"""What a show is held to and who mends it, as a file says it, gaps filled.

In: a valid file. Out: frozen `Terms` with the gaps filled the unfavourable way (times in flicks,
chances from 0 to 1, money as exact decimals), as `risk_assumed` lists them. Money is never assumed.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import chain
from math import expm1

from sim.rig.figures import PLACEHOLDER, TRADE
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
from sim.scenario.laws import Pays
from sim.scenario.mending import DIAGNOSE, TRAVEL, law_of, usual_repairs
from sim.scenario.models import ScenarioFile
from sim.scenario.risk_entries import (
    ClauseEntry,
    ContractEntry,
    CrewEntry,
    RepairEntry,
    TogetherEntry,
    steps_of,
)
from sim.scenario.shape import layer_name, layers_of, parts_of
from sim.timebase import FLICKS

WRONG_UNIT, PATCH_ERROR, PATCH_CAUGHT, UNTESTED_AGE = 0.03, 0.001, 0.9, 500.0
INDICATIVE = 0.5
LONGEST = (10 * FLICKS, 60 * FLICKS)
"""For how long "a whole wall dark" is asked where nobody says it."""


def terms_of(file: ScenarioFile) -> Terms:
    """What a file says, gaps filled the unfavourable way."""
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
        stated_only=risk.rates_only is not None,
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
    mean = entry.rate.per_hour(hours) * hours if entry.rate else 0.0
    return Together(
        name=entry.name,
        mode=entry.mode,
        things=entry.things,
        kit=entry.kit or "",
        family=entry.family or "",
        share=entry.share or 0.0,
        per_show=-expm1(-mean),
        mean=mean,
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
        steps=tuple(_step(time, pays) for time, pays in steps_of(entry)),
        kind=entry.kind,
        group=entry.group or "",
    )


def _step(time: int, pays: Pays) -> Step:
    if isinstance(pays, tuple):
        return Step(time, amount=_decimal(pays[0]))
    return Step(time, pays)
