"""What `risk` reports: one frozen result for each topology, and the study of a group.

In: nothing. Out: the values that `study_of_risk` fills and reports render; reports compute nothing.
Chances are per show; dark times wall-seconds a show (the whole group dark for one second is one);
amounts of money are exact decimals in the contract's currency.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from sim.reliability.estimates import Estimate
from sim.rig.bill import Bill
from sim.rig.terms import Terms
from sim.scenario.scenario import Variant


@dataclass(frozen=True, slots=True)
class Figure:
    """An estimate of one thing. `kind`: chance, wall-seconds, frames or money; `band`: what
    ignorance of rates and timings leaves open (5th to 95th percentile; None: not asked for);
    `guessed`: the part of it that rests on placeholders, 0 to 1.
    """

    key: str
    name: str
    kind: str
    found: Estimate
    guessed: float
    band: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class RiskRow:
    """One risk: like faults (or one cause) together. `count`: how many; `mass`: how many strike in
    a show; `defect`: chance a show that it alone shows the audience anything wrong; `dark`:
    wall-seconds a show; `loss`: expected; `worst`: the loss that it alone can cost (None: no
    contract); `seen`: what the audience sees; `helps`: what would help; `severity` and `level`: as
    in the risk matrix.
    """

    name: str
    cause: str
    count: int
    suppliers: tuple[str, ...]
    mass: float
    defect: float
    dark: float
    guessed: float
    seen: str
    helps: str
    loss: Decimal | None = None
    worst: Decimal | None = None
    severity: int = 4
    level: str = ""


@dataclass(frozen=True, slots=True)
class Help:
    """What one more protection or test would save a show, against what it costs (None: nobody said
    a price); `worth`: yes, no ("not worth it for penalties alone"), or "" where it cannot be said.
    `saves` money and `spares` wall-seconds a show.
    """

    what: str
    saves: Decimal | None
    spares: float
    price: Decimal | None
    worth: str


@dataclass(frozen=True, slots=True)
class StratumRow:
    """Shows with so many faults: their chance, how they were worked out, how many."""

    faults: str
    chance: float
    method: str
    shows: int


@dataclass(frozen=True, slots=True)
class TopologyRisk:
    """One topology. `reasons`: why it cannot be built; then all else is empty. `exceedance`: (loss,
    chance of more). `losses`: expected, 1 in 100, 1 in 1000, worst foreseeable. `single_points`:
    names with modes.
    """

    variant: Variant
    reasons: tuple[str, ...] = ()
    bill: Bill | None = None
    price: Decimal | None = None
    figures: tuple[Figure, ...] = ()
    rows: tuple[RiskRow, ...] = ()
    helps: tuple[Help, ...] = ()
    strata: tuple[StratumRow, ...] = ()
    shows: int = 0
    faults_per_show: float = 0.0
    exceedance: tuple[tuple[Decimal, float], ...] = ()
    loss_expected: Figure | None = None
    loss_100: Decimal | None = None
    loss_1000: Decimal | None = None
    loss_worst: Decimal | None = None
    by_supplier: tuple[tuple[str, Decimal, float], ...] = ()
    single_points: tuple[str, ...] = ()
    longest_recovery: tuple[tuple[str, str], ...] = ()
    availability: float = 1.0
    unfinished: bool = False

    def figure(self, key: str) -> Figure | None:
        return next((each for each in self.figures if each.key == key), None)


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
    """When a backup was last tested (`before`: in words) and with what evidence."""

    what: str
    before: str
    evidence: str


@dataclass(frozen=True, slots=True)
class RateUsed:
    """An input: whose rate of which mode, how much per what, error factor, source and grade."""

    what: str
    value: str
    error_factor: float
    source: str
    grade: str
    count: int


@dataclass(frozen=True, slots=True)
class RiskStudy:
    """All topologies of a group. `marks`: scenario hash; `matrix`: severity names and edges."""

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

    @property
    def offered(self) -> TopologyRisk:
        return next(each for each in self.topologies if each.variant.offered)
