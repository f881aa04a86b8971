"""What `explain` has to tell, by the kind of item: frozen values, nothing worked out here.

In: nothing. Out: `Explanation` and what it can hold. Times are flicks, shares parts of a group's
pixels, optical figures thousandths of a dB.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.rig.kit import Kit
from sim.scenario.kits import Assumption
from sim.scenario.scenario import Scenario, Variant
from sim.study.alternatives import Alternative
from sim.study.points import SinglePoint
from sim.study.promises import Verdict
from sim.study.rows import FaultRow
from sim.study.swings import Swing
from sim.timebase import Timing


@dataclass(frozen=True, slots=True)
class TimingTold:
    """A timing: its range, and for each group how far it moves frames. `users`: how many things
    have it.
    """

    key: str
    timing: Timing
    users: int
    swings: tuple[Swing, ...]


@dataclass(frozen=True, slots=True)
class FigureTold:
    """A figure of an equipment type that the scenario says (optics: thousandths of a dB)."""

    kit: str
    field: str
    value: str


@dataclass(frozen=True, slots=True)
class RateTold:
    """How often a mode strikes one thing, per hour (a cable of one km where it counts by length);
    the truth may be `error_factor` times more or less. `own`: stated for this rig.
    """

    mode: str
    per_hour: float
    error_factor: float
    source: str
    own: bool = False


@dataclass(frozen=True, slots=True)
class TypeTold:
    """An equipment type with every figure filled in, what of it was assumed, what is of it, and the
    failure rates of its family.
    """

    kit: Kit
    like: tuple[str, ...]
    things: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
    rates: tuple[RateTold, ...]


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What the faults of a thing or a route do in one group; `points`: why, where they last."""

    group: str
    variant: Variant
    rows: tuple[FaultRow, ...]
    points: tuple[SinglePoint, ...]


@dataclass(frozen=True, slots=True)
class ThingTold:
    """A thing of the rig: what powers it, what it takes from, feeds and powers, its routes."""

    name: str
    family: str
    kit: str
    supplier: str
    place: str
    monitored: bool
    powered_by: tuple[str, ...]
    takes_from: tuple[str, ...]
    feeds: tuple[str, ...]
    powers: tuple[str, ...]
    routes: tuple[str, ...]
    outcomes: tuple[Outcomes, ...]


@dataclass(frozen=True, slots=True)
class PlaceTold:
    """A route: the cables on it, and what a cut of all of them does."""

    name: str
    things: tuple[str, ...]
    outcomes: tuple[Outcomes, ...]


@dataclass(frozen=True, slots=True)
class LimitTold:
    """A limit, judged for each group that it concerns, with the topology offered."""

    label: str
    verdicts: tuple[tuple[str, Variant, Verdict], ...]


@dataclass(frozen=True, slots=True)
class AssumptionTold:
    """An assumption that is no timing, and what would be otherwise with other values."""

    assumption: Assumption
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True, slots=True)
class WordTold:
    """A word of the reports; `strikes`: the kinds of things that it strikes, if it is a fault."""

    word: str
    meaning: str
    strikes: tuple[str, ...]


Told = (
    TimingTold | FigureTold | TypeTold | ThingTold | PlaceTold | LimitTold | WordTold
    | AssumptionTold | Assumption
)  # fmt: skip
"""A bare `Assumption` is a timing that nothing in the rig uses."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """`kind`: timing, equipment type, figure, thing, circuit, route, limit, assumption, word.

    `variants`: the topologies of the rig in which it was found.
    """

    scenario: Scenario
    item: str
    kind: str
    told: Told
    variants: tuple[Variant, ...]
