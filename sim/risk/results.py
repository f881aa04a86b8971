"""What `risk` reports of a group: the study of all its topologies, and what it rests on.

In: nothing. Out: the values that `study_of_risk` fills and reports render; reports compute nothing.
Chances are per show; dark times wall-seconds a show (the whole group dark for one second is one);
amounts of money are exact decimals in the contract's currency.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from sim.reliability.estimates import Estimate
from sim.rig.terms import Terms
from sim.risk.figures import Figure, Help, Outlay, RiskRow, StratumRow, TopologyRisk
from sim.scenario.kits import Assumption
from sim.study.promises import NOT, Verdict

__all__ = [
    "BEYOND", "Backing", "Check", "Figure", "Help", "Outlay", "Paired", "RateUsed", "RiskRow",
    "RiskStudy", "Sampling", "SpareShare", "StratumRow", "Sway", "TopologyRisk", "Verification",
]  # fmt: skip

BEYOND = 5.0
"""A difference of so many roots (see `Check`) or more is no chance any more."""


@dataclass(frozen=True, slots=True)
class Paired:
    """How much more of something a topology has than the one offered, in the same shows."""

    label: str
    key: str
    name: str
    found: Estimate


@dataclass(frozen=True, slots=True)
class Sway:
    """What moves the answer: the figure with an input at its least and at its most."""

    name: str
    source: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Backing:
    """When a backup was last tested, and with what evidence. `things`: patterns, or roles of what
    nobody said anything about (then not `stated`); `before`: flicks before the show, None: never;
    `there`: whether the rig offered has anything of the name.
    """

    things: tuple[str, ...]
    before: int | None
    evidence: str = ""
    stated: bool = True
    there: bool = True


@dataclass(frozen=True, slots=True)
class RateUsed:
    """An input: whose rate of which mode, how much per what, error factor (0: it has none), source
    and grade; `count`: of how many things in the rig offered. Timings and chances stand so too.
    """

    what: str
    value: str
    error_factor: float
    source: str
    grade: str
    count: int


@dataclass(frozen=True, slots=True)
class SpareShare:
    """Spares of a type: in the rig offered, carried, and that as a part of what is in the rig.
    `of`: the family whose one stock this type shares with others; "": it has its own.
    """

    what: str
    installed: int
    carried: int
    share: Fraction
    of: str = ""


@dataclass(frozen=True, slots=True)
class Sampling:
    """One figure sampled by strata and plainly (only empty shows left out): shows and seconds of
    processor time that each took, variance of each estimate, and `gain`: how many times the
    variance of plain sampling is at equal processor time (infinite where strata are exact).
    `by_theory`: too rare for plain sampling, whose variance is then that of a share of the value
    that the strata give, in as many shows.
    """

    topology: str
    what: str
    shows: tuple[int, int]
    seconds: tuple[float, float]
    variance: tuple[float, float]
    gain: float
    by_theory: bool = False


@dataclass(frozen=True, slots=True)
class RiskStudy:
    """All topologies of a group. `digest`: scenario hash; `length`: flicks. `spares`: type, mean
    failures, how many to carry. `severities`: what each severity of the matrix means here, the
    worst first. `sway_of`: key of the figure that `sways` speak of. `assumed`: what the scenario
    does not say, `assumptions` how much. `verdicts`: on the stated limits, of the topology offered,
    by single faults. `budget` and `precision`: as asked, 0: none; `plain`: sampled without strata;
    `samplings`: both ways beside each other. `spares_for`: over how many shows `spares` last, with
    which confidence. `price_over`: over how many shows a price is paid.
    """

    group: str
    title: str
    length: int
    terms: Terms
    topologies: tuple[TopologyRisk, ...]
    paired: tuple[Paired, ...] = ()
    sways: tuple[Sway, ...] = ()
    backings: tuple[Backing, ...] = ()
    rates: tuple[RateUsed, ...] = ()
    assumptions: int = 0
    suppliers: Mapping[str, int] = field(default_factory=dict)
    seed: int = 1
    version: str = ""
    digest: str = ""
    spares: tuple[tuple[str, float, int], ...] = ()
    spare_shares: tuple[SpareShare, ...] = ()
    severities: tuple[str, ...] = ()
    sway_of: str = ""
    assumed: tuple[Assumption, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    budget: int = 0
    precision: float = 0.0
    plain: bool = False
    samplings: tuple[Sampling, ...] = ()
    spares_for: tuple[int, Fraction] = (1, Fraction(19, 20))
    price_over: int = 1

    @property
    def offered(self) -> TopologyRisk:
        return next(each for each in self.topologies if each.variant.offered)

    @property
    def unfinished(self) -> bool:
        return any(each.unfinished for each in self.topologies)

    @property
    def unmet(self) -> bool:
        """Whether what is offered breaks a stated limit, or cannot be built."""
        out = any(each.variant.offered and each.reasons for each in self.topologies)
        return out or any(each.verdict == NOT for each in self.verdicts)

    @property
    def main(self) -> TopologyRisk:
        """The topology that a report speaks of: the one offered, else the first, that can be built;
        the first of all where none can.
        """
        built = [each for each in self.topologies if not each.reasons] or list(self.topologies)
        return next((each for each in built if each.variant.offered), built[0])


@dataclass(frozen=True, slots=True)
class Check:
    """One figure by simulation and by theory. `kind` as in `Figure`; `error`: standard error of the
    simulation; `bound`: what theory leaves out at most; `off`: their difference over the root of
    (error squared plus bound squared); `verdict`: "agree", "differ" (`off` above `BEYOND`), or
    "not compared".
    """

    topology: str
    what: str
    kind: str
    simulated: float
    error: float
    theory: float
    bound: float
    off: float
    verdict: str


@dataclass(frozen=True, slots=True)
class Verification:
    """Simulation and theory side by side. `passed`: no row differs; `assumed`: what theory assumes,
    in sentences. `short`: topologies whose shows, `budget` at most, ran out before a standard error
    of `precision` of the value.
    """

    group: str
    title: str
    rows: tuple[Check, ...]
    passed: bool
    assumed: tuple[str, ...] = ()
    shows: int = 0
    seed: int = 1
    version: str = ""
    digest: str = ""
    short: tuple[str, ...] = ()
    precision: float = 0.0
    budget: int = 0
