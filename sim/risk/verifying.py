"""The simulation held against theory: two ways to the same figures that share no code.

In: a `Scenario`, the name of a group, what was asked. Out: a frozen `Verification`: for each
topology the dark time that single faults make and that of all shows, in wall-seconds a show.
Nobody mends anything here, whatever is called on changes over, and contacts that came loose to the
show are left out, on both sides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from sim import __version__
from sim.executing import Executor
from sim.processes import given
from sim.reliability.theory_blows import Blow
from sim.reliability.theory_whole import Whole, whole
from sim.rig.topology import corner
from sim.risk.asked import RiskAsked
from sim.risk.bench import bench
from sim.risk.hazards import strike_at
from sim.risk.montecarlo import Effort, doubt, sample
from sim.risk.piles import Sampling
from sim.risk.results import BEYOND, Check, Verification
from sim.risk.setting import Stage, setting
from sim.risk.values import SECONDS
from sim.scenario.digest import digest_of
from sim.scenario.scenario import Scenario
from sim.timebase import FLICKS

BUDGET, PRECISION = 600_000, 0.009
"""Shows at most, and the standard error at which no more are drawn, as a part of the value."""
TELLING = 0.1
"""A bound wider than this part of a figure tells too little to compare it."""
ROUNDING = 1e-9
"""Of two ways to add the same numbers up, as a part of them."""
DARK = "dark time"
WITHOUT = (
    "repairs, changeovers that fail when called on, contacts that were loose before the show, and "
    "what by a Weibull shape strikes at some times rather than others."
)
LEFT_OUT = (f"Left out on both sides: {WITHOUT}",)
Told = Callable[[str], None]


def verify_of(
    scenario: Scenario, group: str, wanted: RiskAsked, told: Told = lambda label: None,
    executor: Executor | None = None,
) -> Verification:  # fmt: skip
    """Every topology of a group that can be built, or the one wanted. An interruption ends it:
    what a part of the shows comes to is held against nothing.
    """
    variants = [v for v in scenario.variants(group) if wanted.topology in ("", v.label)]
    of = setting(scenario, group, variants, plain=True)
    if not of.stages:
        return _verification(scenario, group, wanted, (), (), 0)
    budget, precision = wanted.shows or BUDGET, wanted.precision or PRECISION
    effort = Effort(wanted.seed, budget, precision, (DARK,))
    name = f"{group} as theory has it"
    with given(executor, wanted.workers) as who, bench(of.known, of, name, who) as work:
        made = sample(work, effort, lambda so_far: told(f"{so_far.shows} of at most {budget},"))
    if not made.finished:
        raise KeyboardInterrupt
    rows: list[Check] = []
    assumed: tuple[str, ...] = ()
    for number, stage in enumerate(of.stages):
        told(f"theory of {stage.variant.label}")
        found = whole(stage.rig, group, blows(stage), corner(stage.rig, "typical"))
        rows += _checks(stage, made, number, found)
        assumed = found.assumes
    done = _verification(scenario, group, wanted, tuple(rows), assumed, made.shows)
    short = (row.topology for row in rows if row.error > precision * abs(row.simulated))
    return replace(done, short=tuple(dict.fromkeys(short)), precision=precision, budget=budget)


def blows(stage: Stage) -> Iterator[Blow]:
    """The hazards of a topology as theory has them."""
    for hazard in stage.hazards:
        faults = strike_at(hazard, 0)
        yield Blow(hazard.key, faults, hazard.mass, hazard.early)


def _checks(stage: Stage, made: Sampling, topology: int, found: Whole) -> Iterator[Check]:
    """Single faults added up, and all shows. The simulation counts whole frames of the show only,
    theory all of it: that last part of a frame is in the bound.
    """
    label, rig = stage.variant.label, stage.rig
    place = next(n for n, v in enumerate(made.fields[topology].values) if v.key == DARK)
    scale, last = 1.0 / (found.area * FLICKS), rig.frame / rig.length
    first, dark = found.first * scale, found.dark * scale
    ones = replace(made, piles=tuple(pile for pile in made.piles if pile.faults == 1))
    singles = ones.mean(topology, place), ones.error(topology, place)
    yield check(label, "single faults, each by itself", singles, (first, first * last))
    simulated = made.mean(topology, place), doubt(made, topology, place)
    yield check(label, "all shows", simulated, (dark, found.bound * scale + dark * last))


def check(
    label: str, what: str, simulated: tuple[float, float], known: tuple[float, float]
) -> Check:
    """One figure both ways: (value, standard error) and (value, bound). A bound wider than a tenth
    of the figure is no ground to say that they agree.
    """
    (value, error), (expected, bound) = simulated, known
    root = (error**2 + bound**2 + (ROUNDING * expected) ** 2) ** 0.5
    off = abs(value - expected) / root if root else 0.0 if value == expected else float("inf")
    verdict = "agree" if off <= BEYOND else "differ"
    if bound > TELLING * abs(expected) and verdict == "agree":
        verdict = "not compared"
    return Check(label, what, SECONDS, value, error, expected, bound, off, verdict)


def _verification(
    scenario: Scenario, group: str, wanted: RiskAsked, rows: tuple[Check, ...],
    assumed: tuple[str, ...], shows: int,
) -> Verification:  # fmt: skip
    return Verification(
        group=group,
        title=scenario.title,
        rows=rows,
        passed=all(row.verdict != "differ" for row in rows),
        assumed=(*LEFT_OUT, *assumed),
        shows=shows,
        seed=wanted.seed,
        version=__version__,
        digest=digest_of(scenario),
    )
