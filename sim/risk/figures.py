"""What `risk` reports of one topology: figures, risks, helps, rare losses.

In: nothing. Out: the frozen values that `topology_risk` fills and reports render. Chances are per
show; dark times wall-seconds a show (the whole group dark for one second is one); amounts of money
are exact decimals in the contract's currency; times are flicks.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sim.reliability.estimates import Estimate
from sim.rig.bill import Bill
from sim.rig.terms import Law
from sim.risk.sight import Sight
from sim.scenario.scenario import Variant
from sim.timebase import Timing


@dataclass(frozen=True, slots=True)
class Figure:
    """An estimate of one thing. `kind`: chance, wall-seconds, frames or money; `band`: what
    ignorance of rates and timings leaves open (5th to 95th percentile; None: not asked for);
    `guessed`: the part of it that rests on placeholders, 0 to 1. `name` reads after "in a show:",
    such as "whole wall dark for over 10 s"; one `key` has one name and kind in all topologies.
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
    contract); `seen`: what the audience sees of the worst of them; `helps`: what would help;
    `reaches`: chance a show that it brings a night of each severity or worse, alone or with others,
    the worst first; `severity` (from 1, the worst) and `level` (one of the matrix's `levels`, "":
    it was never seen to do harm): where the matrix finds it gravest.
    """

    name: str
    cause: str
    count: int
    suppliers: tuple[str, ...]
    mass: float
    defect: float
    dark: float
    guessed: float
    seen: Sight
    helps: str
    loss: Decimal | None = None
    worst: Decimal | None = None
    reaches: tuple[float, ...] = ()
    severity: int = 4
    level: str = ""


@dataclass(frozen=True, slots=True)
class Outlay:
    """What is shown where there are no prices: units (all but cables), fibres, hours of crew."""

    units: int
    fibres: int
    crew_hours: Fraction


NOTICED = ("alarm", "wall dark", "part spoilt", "still")
"""What tells somebody: an alarm, a whole wall dark, part of one spoilt, a still."""
TOPOLOGY, TEST, SECOND_WAY, SPARE = "topology", "test", "second way", "spare"


@dataclass(frozen=True, slots=True)
class Help:
    """What one more protection or test would save a show, against what it costs (None: nobody said
    a price). `kind`: topology (`what`: its label), test or second way (`what`: the role of what is
    tested or doubled), spare (`what`: a type); `bound`: it saves so much at most; `many`: several
    of that role; `worth`: "yes", "no" or "not worth it for penalties alone", "" where it cannot be
    said. `saves` money and `spares` wall-seconds a show.
    """

    what: str
    saves: Decimal | None
    spares: float
    price: Decimal | None
    worth: str
    kind: str = TOPOLOGY
    bound: bool = False
    many: bool = False


@dataclass(frozen=True, slots=True)
class StratumRow:
    """Shows with so many faults: their chance, how they were worked out, how many."""

    faults: str
    chance: float
    method: str
    shows: int


@dataclass(frozen=True, slots=True)
class TopologyRisk:
    """One topology. `reasons`: why it cannot be built; then all else is empty. `outlay`: what it
    needs beyond prices. `figures`: what matters most first; chances of it stand on the first page.
    `leading`: keys of the chances named first: the likeliest, the whole wall dark for longest, the
    clauses that cost most, then by likelihood. `alike`: topologies that the same shows do not tell
    apart from it by expected loss, without a contract by dark time. `rows`: the gravest first.
    `helps`: what helps most first. `causes`: cause (`striking.CAUSES`), mean number of its strikes
    a show, for those that there are.

    `timings`: type and timing of those that the scenario states. `notices`: how soon somebody
    knows, by `NOTICED`; () without a crew. `reach`: when how many things of the rig can be reached.

    `exceedance`: (loss, chance of more). `loss_borne`: of the expected loss what an insurer bears
    and what the owner does (None: no insurance is stated). `loss_100`: what one show in 100
    exceeds; `loss_worst`: worst foreseeable. `by_supplier`: whose items, expected loss (0 without a
    contract), wall-seconds a show. `single_points`: names with modes. `longest_recovery`: fault,
    flicks until nothing is dark although nobody mends it, the longest first. `availability`: mean
    part of the group's area and of the show's time that is not dark. `unfinished`: interrupted, so
    that intervals are wider.
    """

    variant: Variant
    reasons: tuple[str, ...] = ()
    bill: Bill | None = None
    price: Decimal | None = None
    outlay: Outlay | None = None
    figures: tuple[Figure, ...] = ()
    leading: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    rows: tuple[RiskRow, ...] = ()
    helps: tuple[Help, ...] = ()
    strata: tuple[StratumRow, ...] = ()
    shows: int = 0
    faults_per_show: float = 0.0
    causes: tuple[tuple[str, float], ...] = ()
    timings: tuple[tuple[str, Timing], ...] = ()
    notices: tuple[tuple[str, Law], ...] = ()
    reach: tuple[tuple[str, int], ...] = ()
    exceedance: tuple[tuple[Decimal, float], ...] = ()
    loss_expected: Figure | None = None
    loss_borne: tuple[Decimal, Decimal] | None = None
    loss_100: Decimal | None = None
    loss_1000: Decimal | None = None
    loss_worst: Decimal | None = None
    by_supplier: tuple[tuple[str, Decimal, float], ...] = ()
    single_points: tuple[str, ...] = ()
    longest_recovery: tuple[tuple[str, int], ...] = ()
    availability: float = 1.0
    unfinished: bool = False

    def figure(self, key: str) -> Figure | None:
        return next((each for each in self.figures if each.key == key), None)
