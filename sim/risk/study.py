"""The risk of a show for one wall group.

In: a `Scenario`, the name of a group, what was asked (`RiskAsked`). Out: a frozen `RiskStudy`. The
same scenario, seed and version give the same values, on any number of processes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from time import monotonic
from typing import Any

import numpy as np

from sim import __version__
from sim.executing import Executor, Task, holding, run
from sim.processes import given
from sim.risk.asked import RiskAsked
from sim.risk.bands import reweighed, sways
from sim.risk.bench import Heard, bench, exacts_of, singles_fit
from sim.risk.helping import gathered
from sim.risk.montecarlo import USUAL, Effort, sample
from sim.risk.parcels import EXACTS
from sim.risk.piles import Sampling, alone
from sim.risk.plain import spent
from sim.risk.register import (
    CONFIDENCE,
    backings,
    rates_used,
    spare_shares,
    spares,
    suppliers_of_rig,
)
from sim.risk.results import Paired, RiskStudy, TopologyRisk
from sim.risk.risks import hazards_here
from sim.risk.setting import Setting, field_of, setting
from sim.risk.severity import meanings
from sim.risk.single import Single
from sim.risk.streams import Floats
from sim.risk.topology_risk import topology_risk
from sim.risk.values import LOSS
from sim.risk.ways import Plainly, sampled_plainly
from sim.scenario.digest import digest_of
from sim.scenario.risk_assumed import risk_assumptions
from sim.scenario.scenario import Scenario, Variant

PRECISION = 0.01
"""The standard error at which to stop, unless asked."""
Told = Callable[[str], None]
Ends = tuple[Floats, Floats]


def risk_of(
    scenario: Scenario, group: str, wanted: RiskAsked, told: Told = lambda label: None,
    executor: Executor | None = None,
) -> RiskStudy:  # fmt: skip
    """All topologies of a group, or the one wanted; worked out by the executor, if there is one."""
    variants = [v for v in scenario.variants(group) if wanted.topology in ("", v.label)]
    of = setting(scenario, group, variants)
    if not of.stages:
        return _frame(of, variants, {}, wanted)
    with given(executor, wanted.workers) as workers:
        made, ends = simulated(of, wanted, workers, told)
        study = _study(of, variants, made, ends, wanted)
        if not wanted.plain:
            return study
        return sampled_plainly(study, of, made, wanted, Plainly(main_of(of), workers, told))


def effort_of(wanted: RiskAsked) -> Effort:
    """How far to go by strata; what is asked of plain sampling is no budget of theirs."""
    budget = None if wanted.plain else wanted.shows
    return Effort(wanted.seed, budget, wanted.precision or PRECISION, refuses=True)


def simulated(
    of: Setting, wanted: RiskAsked, executor: Executor, told: Told
) -> tuple[Sampling, Sequence[Ends]]:
    """The sampling of all topologies, and each of them at the ends of all timings (none where it
    was interrupted).
    """
    effort, begun, before = effort_of(wanted), monotonic(), spent()

    def progress(made: Sampling) -> None:
        budget = effort.budget or made.shows + USUAL
        left = (monotonic() - begun) * max(0.0, budget / max(made.shows, 1) - 1)
        told(f"{made.shows} of at most {budget}, {left:.0f} s left at most,")

    with bench(of.known, of, of.group, executor, steps(told)) as work:
        made = sample(work, effort, progress)
    made = replace(made, seconds=spent() - before)
    if not made.finished:
        return made, ()
    places = range(len(of.stages))
    try:
        found = extremes(of, executor, steps(told))
    except KeyboardInterrupt:
        return replace(made, finished=False), ()
    return made, [
        (_ended(made, n, found[2 * n]), _ended(made, n, found[2 * n + 1])) for n in places
    ]


def steps(told: Told) -> Heard:
    """Tells of the parts of a long step, and how long the rest of it takes."""
    begun = [monotonic()]

    def heard(done: int, of: int) -> None:
        if done == 1:
            begun.append(monotonic())
        left = (monotonic() - begun[-1]) / max(done - 1, 1) * (of - done)
        told(f"part {done} of {of} of a step, {left:.0f} s left of it," if done > 1 else "a step")

    return heard


def extremes(of: Setting, executor: Executor, heard: Heard) -> list[list[Single | None]]:
    """Every hazard by itself, of each topology with all timings least, then all most."""
    plain = replace(EXACTS, fits=lambda at, one: singles_fit(of.fields[at[0]], hazards, one))
    task = Task(f"ends of {of.group}", _at_an_end, of.known, plain)
    places = list(product(range(len(of.stages)), ("all-least", "all-most")))
    hazards = len(of.union.hazards)
    found = list[list[Single | None]]()
    with holding(of.known, of):
        for each in run(executor, task, places):
            found.append(each)
            heard(len(found), len(places))
    return found


def _at_an_end(of: Setting, at: tuple[int, str]) -> list[Single | None]:
    stage, which = of.stages[at[0]], at[1]
    return exacts_of(field_of(of.scenario, of.group, stage, of.union, plain=True, which=which))


def _ended(made: Sampling, topology: int, found: Sequence[Single | None]) -> Floats:
    """The values of a topology, with single faults at other timings."""
    masses = np.array([hazard.mass for hazard in made.union.hazards])
    count = len(masses)
    typical = reweighed(made, topology, np.ones((1, count)))[0]
    before = alone(made, topology)
    means = np.array(
        [before[n] if single is None else np.array(single.means) for n, single in enumerate(found)]
    )
    moved: Floats = typical + masses @ (means - before)
    return moved


def main_of(of: Setting) -> int:
    """The topology that a report speaks of: the one offered, else the first that can be built."""
    offered = [n for n, stage in enumerate(of.stages) if stage.variant.offered]
    return offered[0] if offered else 0


def _study(
    of: Setting,
    variants: Sequence[Variant],
    made: Sampling,
    ends: Sequence[Ends],
    wanted: RiskAsked,
) -> RiskStudy:
    nights = [gathered(of, made, n) for n in range(len(of.stages))]
    main = main_of(of)
    found = {
        stage.variant.label: topology_risk(of, made, n, nights, ends[n] if ends else None)
        for n, stage in enumerate(of.stages)
    }
    keys = [value.key for value in made.fields[main].values]
    sway_of = LOSS if LOSS in keys else "dark time"
    effort = effort_of(wanted)
    return replace(
        _frame(of, variants, found, wanted),
        paired=tuple(_paired(of, made)),
        sways=sways(made, main, keys.index(sway_of), ends[main] if ends else None),
        sway_of=sway_of,
        budget=effort.budget or 0,
        precision=effort.precision,
        **_registered(of, made),
    )


def _registered(of: Setting, made: Sampling) -> dict[str, Any]:
    """The fields of a study that say what it rests on."""
    main, terms = main_of(of), of.scenario.terms
    rig, here = of.stages[main].rig, hazards_here(made, main)
    carried = spares(here, rig, 1)
    return {
        "backings": backings(terms, here),
        "rates": rates_used(here),
        "suppliers": suppliers_of_rig(rig, of.group),
        "spares": tuple((each.kit, each.mean, each.spares) for each in carried),
        "spares_for": (1, CONFIDENCE),
        "spare_shares": spare_shares(terms, rig),
    }


def _frame(
    of: Setting, variants: Sequence[Variant], found: Mapping[str, TopologyRisk], wanted: RiskAsked
) -> RiskStudy:
    """What stands in every study."""
    scenario = of.scenario
    assumed = (*scenario.assumptions, *risk_assumptions(scenario))
    return RiskStudy(
        group=of.group,
        title=scenario.title,
        length=scenario.length,
        terms=scenario.terms,
        topologies=_all(of, variants, found),
        assumptions=len(assumed),
        assumed=assumed,
        seed=wanted.seed,
        version=__version__,
        digest=digest_of(scenario),
        severities=meanings(scenario.terms.contract is not None),
    )


def _all(
    of: Setting, variants: Sequence[Variant], found: Mapping[str, TopologyRisk]
) -> tuple[TopologyRisk, ...]:
    return tuple(
        found.get(v.label) or TopologyRisk(v, of.reasons.get(v.label, ())) for v in variants
    )


def _paired(of: Setting, made: Sampling) -> Iterator[Paired]:
    """How much more every other topology has than the main one."""
    main = main_of(of)
    for number, stage in enumerate(of.stages):
        if number != main:
            for place, value in enumerate(made.fields[main].values):
                found = made.paired(number, main, place)
                yield Paired(stage.variant.label, value.key, value.name, found)
