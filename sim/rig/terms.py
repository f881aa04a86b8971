"""What a show is held to and who mends it: crew, spares, tests, shared causes, a contract.

In: a scenario or a person fills these in. Out: frozen values. Times are flicks, chances between 0
and 1, shares exact numbers; what nobody said is empty, and then counts the unfavourable way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

PLACEHOLDER = "placeholder"
LAWS = ("fixed", "exponential", "lognormal", "uniform", "triangular")


@dataclass(frozen=True, slots=True)
class Law:
    """A random time in flicks. fixed: `a`; exponential: mean `a`; lognormal: median `a`, and the
    95th percentile is `factor` times that; uniform: `a` to `b`; triangular: `a` to `b`, mostly `c`.
    """

    kind: str
    a: int
    b: int = 0
    c: int = 0
    factor: float = 1.0
    source: str = PLACEHOLDER


@dataclass(frozen=True, slots=True)
class Repair:
    """How something is mended: of the things whose names match `things`, of a type `kit`, of a
    `family`; the other two are "". `by`: swap (takes a spare), restart (takes none), or remote (a
    restart over the control link; without the link somebody walks). `modes`: what it mends; ():
    every mode. A crew's repairs stand in order: the first that fits a fault counts.
    """

    by: str
    travel: Law
    diagnose: Law
    fix: Law
    things: str = ""
    kit: str = ""
    family: str = ""
    modes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Crew:
    """Who mends, with what. `spares` by type (then by family); what is not named has none.

    `control`: the control link that remote restarts need. `wrong_unit`: the chance that a unit is
    restarted that had nothing.
    """

    technicians: int
    repairs: tuple[Repair, ...] = ()
    spares: Mapping[str, int] = field(default_factory=dict)
    control: str = ""
    wrong_unit: float = 0.0
    source: str = PLACEHOLDER


@dataclass(frozen=True, slots=True)
class Tested:
    """When the things whose names match `things` were last seen to work as a backup: so many
    flicks before the show (None: never), and what shows it.
    """

    things: str
    before: int | None = None
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class Together:
    """What strikes several things at once: `mode` of all things whose names match `things` (what
    does not know the mode is spared) for `lasts` flicks (None: until mended), with `per_show`
    chance in one show, `mean` times (0: as often as that chance says); or, with `kit` or `family`
    alone, the `share` of the failures of its identical units that strike all of one kind at once
    (the beta factor of IEC 61508-6).
    """

    name: str
    mode: str = "dead"
    things: tuple[str, ...] = ()
    kit: str = ""
    family: str = ""
    share: float = 0.0
    per_show: float = 0.0
    mean: float = 0.0
    lasts: int | None = None
    source: str = PLACEHOLDER


@dataclass(frozen=True, slots=True)
class Step:
    """Longer than `time` flicks in one go costs `share` of the fee and `amount` in currency."""

    time: int
    share: Fraction = Fraction(0)
    amount: Decimal | None = None


KINDS = ("refund", "abandon", "delay", "make-good")


@dataclass(frozen=True, slots=True)
class ClauseTerms:
    """What the contract takes back: more than `over` of `of` in `state` (dark, corrupt, wrong,
    frozen, unlocked, not lit), in one go for longer than a step's time; the highest step counts.

    `of`: wall (each wall), group, or the name of a wall, region or audience area; `group` "": all.
    """

    name: str
    state: str
    of: str
    over: Fraction
    steps: tuple[Step, ...]
    kind: str = "refund"
    group: str = ""


@dataclass(frozen=True, slots=True)
class Contract:
    """Fee and clauses in `currency`; of a loss exceeding `deductible`, an insurer bears up to
    `cover` (None: no insurance); all dues together are held to `cap` (None: the fee).
    """

    currency: str
    fee: Decimal
    clauses: tuple[ClauseTerms, ...] = ()
    deductible: Decimal | None = None
    cover: Decimal | None = None
    cap: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Terms:
    """All of it. `moving`: for each group the layers that move (a frozen still is no defect);
    `weights`: critical moments as (begin, end, weight), 1 elsewhere; `longest`: the times (flicks)
    for which "a whole wall dark for more than" is asked; `edges`: probability edges of the risk
    matrix, falling (empty: the standard ones); `tested`: the first whose pattern matches counts;
    `age_untested`: hours that what was never tested counts as running unseen; `patch_error`: the
    chance that a cable is patched wrong at load-in, `patch_caught` that the line check finds it;
    `stated_only`: what has no stated rate never strikes.
    """

    crew: Crew | None = None
    tested: tuple[Tested, ...] = ()
    together: tuple[Together, ...] = ()
    contract: Contract | None = None
    moving: Mapping[str, frozenset[str]] = field(default_factory=dict)
    weights: tuple[tuple[int, int, float], ...] = ()
    longest: tuple[int, ...] = ()
    edges: tuple[float, ...] = ()
    age_untested: float = 500.0
    indicative_above: float = 0.5
    patch_error: float = 0.0
    patch_caught: float = 0.0
    patch_source: str = PLACEHOLDER
    stated_only: bool = False
