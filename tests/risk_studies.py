"""Studies of the risk of a show, written by hand, for tests of what reports make of them.

In: nothing. Out: frozen `RiskStudy`s whose figures are invented and agree with each other in kind
only. No simulation runs.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from sim.reliability.estimates import Estimate, exactly, share
from sim.rig.bill import Bill
from sim.rig.plan import Options
from sim.rig.terms import ClauseTerms, Contract, Crew, Law, Repair, Step, Terms
from sim.risk.figures import SECOND_WAY, TEST
from sim.risk.results import (
    Backing,
    Check,
    Figure,
    Help,
    Outlay,
    Paired,
    RateUsed,
    RiskRow,
    RiskStudy,
    SpareShare,
    StratumRow,
    Sway,
    TopologyRisk,
    Verification,
)
from sim.risk.sight import UNSEEN, Sight
from sim.scenario.kits import Assumption
from sim.scenario.scenario import Variant
from sim.timebase import FLICKS, Timing, fixed

MINUTE = 60 * FLICKS
SHOWS = 200_000


def variant(label: str, offered: bool = False) -> Variant:
    return Variant("main", label, label.split(",", maxsplit=1)[0], Options(), offered=offered)


def mean(value: float, shows: int = SHOWS, width: float = 0.04) -> Estimate:
    half = value * width
    return Estimate(value, value - half, value + half, 0.95, "strata, Student", shows)


def dark(value: float, guessed: float) -> Figure:
    band = (value / 4, value * 5)
    return Figure("dark", "dark time", "wall-seconds", mean(value), guessed, band)


def chance(key: str, name: str, hits: int, guessed: float, band: bool = True) -> Figure:
    found = share(hits, SHOWS)
    span = (found.high / 9, min(1.0, found.high * 3)) if band else None
    return Figure(key, name, "chance", found, guessed, span)


def chances(times: float, guessed: float) -> tuple[Figure, ...]:
    """As many hits as these, `times`; the last is never seen where they are few."""
    return (
        chance("any", "anything dark, even for a frame", int(33_120 * times), guessed),
        chance("blackout", "blackout: over 10 % dark for over 5 s", int(905 * times), guessed),
        chance("wall", "a whole wall dark for over 10 s", int(4 * (times > 1) * times), guessed),
    )


def bill(units: int, fibres: int) -> Bill:
    families = {"processor": units, "fibre": fibres, "copper": 16}
    kits = {"scaling unit": units, "fibre trunk": fibres, "copper patch": 16}
    return Bill(kits, families, {"fibre trunk": Fraction(2400)}, 2, Fraction(31_400), ())


ROWS = (
    RiskRow(
        "scaling unit A blanked", "item", 1, ("us",), 2e-4, 3.1e-3, 1.21, 1.0,
        Sight(dark=Fraction(1)),
        "a second unit that somebody watches and takes by hand",
        Decimal("412.35"), Decimal("40000"), (2e-3, 2.5e-3, 3e-3, 3.1e-3), 1, "occasional",
    ),
    RiskRow(
        "circuit pontoon A tripped", "shared cause", 1, ("venue",), 1e-3, 1e-3, 0.84, 0.4,
        Sight(dark=Fraction(1, 2), turns=True), "A/B power", Decimal("230"),
        Decimal("30000"), (1e-3, 1e-3, 1e-3, 1e-3), 1, "occasional",
    ),
    RiskRow(
        "receiving card dead", "item", 144, ("us", "A & B Hire, Ltd"), 0.02, 0.0195, 0.36, 1.0,
        Sight(Fraction(1, 144), blink=Fraction(1), blink_dark=True, frames=(18, 19), time=9),
        "spare cabinets at the wall", Decimal("12.5"),
        Decimal("5000"), (0.0, 0.0, 0.018, 0.0195), 3, "probable",
    ),
    RiskRow(
        "relay-backup dead before the show", "never tested", 1, ("us",), 0.01, 0.0, 0.0, 1.0,
        UNSEEN, "test the backup before each show", Decimal(0), Decimal(0),
        (0.0, 0.0, 0.0, 8e-4), 4, "remote",
    ),
)  # fmt: skip


def small_rows(number: int) -> tuple[RiskRow, ...]:
    """Small risks enough to fill a table."""
    return tuple(replace(ROWS[2], name=f"jumper {n} cut", count=n) for n in range(1, number + 1))


def strata() -> tuple[StratumRow, ...]:
    return (
        StratumRow("none", 0.7408, "exact", 0),
        StratumRow("one", 0.2222, "summed by class", 0),
        StratumRow("two or more", 0.037, "simulated", SHOWS),
    )


OFFERED = TopologyRisk(
    variant("crossed-relays", True),
    bill=bill(2, 8),
    price=Decimal("41250.50"),
    outlay=Outlay(2, 8, Fraction(6)),
    figures=(*chances(1, 0.83), dark(2.413, 0.83)),
    leading=("any", "wall", "blackout"),
    rows=(*ROWS, *small_rows(8)),
    helps=(
        Help("pontoon A", Decimal("225.10"), 0.8, Decimal("180"), "yes", SECOND_WAY, True),
        Help("two-unit", Decimal("11.9"), 0.3, Decimal(9000), "no"),
        Help("unit-b", Decimal("3.2"), 0.02, None, "", TEST, True),
    ),
    strata=strata(),
    shows=SHOWS,
    faults_per_show=0.3,
    causes=(("item", 0.21), ("never tested", 0.09)),
    timings=(
        (
            "relay unit.detect",
            Timing(FLICKS // 10, 3 * FLICKS // 10, 2 * FLICKS, "claim", "its maker"),
        ),
        ("circuit.hold_up", fixed(10 * MINUTE, source="own test")),
    ),
    notices=(
        ("alarm", Law("uniform", FLICKS, 5 * FLICKS)),
        ("wall dark", Law("fixed", 2 * FLICKS)),
    ),
    reach=(("always", 300), ("after the show", 108)),
    exceedance=((Decimal(1000), 0.031), (Decimal(20000), 0.0045), (Decimal(100000), 0.0)),
    loss_expected=Figure("loss", "expected loss", "money", mean(731.24), 0.83, (180.0, 3900.0)),
    loss_borne=(Decimal("411.4"), Decimal("319.84")),
    loss_100=Decimal("12000"),
    loss_1000=Decimal("40000"),
    loss_worst=Decimal("80000"),
    by_supplier=(
        ("", Decimal(0), 0.003),
        ("us", Decimal("500.2"), 1.57),
        ("venue", Decimal(231), 0.84),
    ),
    single_points=("pontoon A tripped", "scaling unit A blanked", "relay-main stuck"),
    longest_recovery=(("circuit pontoon A tripped", 570 * FLICKS), ("unit-a dead", 26 * FLICKS)),
    availability=0.999776,
)

SINGLE = TopologyRisk(
    variant("single-feed"),
    bill=bill(1, 2),
    price=Decimal("30000"),
    figures=(*chances(3, 0.4), dark(30.1, 0.4)),
    leading=("any", "blackout", "wall"),
    rows=ROWS[:2],
    strata=strata(),
    shows=SHOWS,
    faults_per_show=0.22,
    causes=(("item", 0.22),),
    loss_expected=Figure("loss", "expected loss", "money", mean(4210.0), 0.4, (900.0, 15000.0)),
    loss_100=Decimal("60000"),
    loss_1000=Decimal("80000"),
    loss_worst=Decimal("80000"),
    single_points=("unit-a dead", "route north shore cut"),
    availability=0.9972,
)

RETURNS = TopologyRisk(
    variant("return-loop, diverse routes"),
    ("unit-a needs 32 ports and has 16 (a return to where the head is fed takes two)",),
)

LAW = Law("triangular", 2 * MINUTE, 10 * MINUTE, 4 * MINUTE)
TERMS = Terms(
    crew=Crew(
        2,
        (
            Repair("swap", Law("fixed", MINUTE), Law("exponential", 3 * MINUTE), LAW),
            Repair(
                "remote", Law("fixed", 0), Law("lognormal", MINUTE, factor=3.0),
                Law("uniform", 20 * FLICKS, 120 * FLICKS, source="own log, 2024"), "", "", "source",
            ),
        ),
        {"scaling unit": 1},
    ),
    contract=Contract(
        "EUR",
        Decimal(80000),
        (
            ClauseTerms(
                "blackout", "dark", "wall", Fraction(1, 10),
                (Step(5 * FLICKS, Fraction(3, 20)), Step(MINUTE, Fraction(1, 2), Decimal(1000))),
            ),
        ),
        deductible=Decimal(5000),
        cover=Decimal(50000),
    ),
    moving={"main": frozenset({"camera", "replay"})},
    weights=((0, MINUTE, 3.0),),
)  # fmt: skip

FULL = RiskStudy(
    "main",
    "Night regatta",
    180 * MINUTE,
    TERMS,
    (OFFERED, SINGLE, RETURNS),
    paired=(
        Paired(
            "single-feed", "any", "anything dark, even for a frame",
            Estimate(0.331, 0.325, 0.337, 0.95, "paired", SHOWS),
        ),
        Paired("single-feed", "dark", "dark time", mean(27.7)),
        Paired("single-feed", "loss", "expected loss",
               Estimate(3478.8, -20.0, 6977.6, 0.95, "paired", SHOWS)),
    ),
    sways=(Sway("scaling unit blanked", "placeholder", 402.0, 2210.0),),
    backings=(
        Backing(("relay-backup",), 360 * MINUTE, "line check sheet 4"),
        Backing(("*unit-c",), None, there=False),
        Backing(("unit-b", "tail"), None, stated=False),
    ),
    rates=(
        RateUsed("scaling unit dead", "1e-5 an hour", 10.0, "placeholder", "placeholder", 2),
        RateUsed("receiving card dead", "2.1e-6 an hour", 2.3, "own records, 2021-2024", "records",
                 144),
        RateUsed("relay unit detect", "0.1..2 s, typically 0.3 s", 0.0, "maker", "claim", 2),
    ),
    assumptions=61,
    suppliers={"us": 402, "venue": 6},
    seed=7,
    version="0.3.0",
    digest="0c41d9e2f7a8",
    spares=(("scaling unit", 0.00007, 0), ("receiving card", 0.0195, 1)),
    spares_for=(12, Fraction(19, 20)),
    price_over=12,
    spare_shares=(
        SpareShare("scaling unit", 2, 1, Fraction(1, 2)),
        SpareShare("receiving card", 144, 0, Fraction(0)),
        SpareShare("patch", 40, 4, Fraction(1, 10), "copper"),
    ),
    severities=("the whole wall dark for over 10 s", "a clause is due", "seen", "not seen"),
    sway_of="loss",
    assumed=(Assumption("groups.main.routes", "route of trunks", "one", "guess", "unfavourable"),),
    budget=1_000_000,
    precision=0.01,
)  # fmt: skip


def without_contract(study: RiskStudy = FULL) -> RiskStudy:
    """The same with nothing in money."""
    return replace(
        study,
        terms=replace(study.terms, contract=None),
        topologies=tuple(_moneyless(each) for each in study.topologies),
        paired=tuple(each for each in study.paired if each.key != "loss"),
        sway_of="dark",
        sways=(Sway("scaling unit blanked", "placeholder", 1.31, 7.7),),
    )


def _moneyless(one: TopologyRisk) -> TopologyRisk:
    return replace(
        one,
        price=None,
        rows=tuple(replace(row, loss=None, worst=None) for row in one.rows),
        helps=tuple(replace(h, saves=None, price=None, worth="") for h in one.helps),
        exceedance=(),
        loss_expected=None,
        loss_borne=None,
        loss_100=None,
        loss_1000=None,
        loss_worst=None,
        by_supplier=tuple((name, Decimal(0), of) for name, _, of in one.by_supplier),
    )


def unfinished() -> RiskStudy:
    """Interrupted after some shows."""
    cut = replace(OFFERED, unfinished=True, shows=1200)
    return replace(FULL, topologies=(cut, *FULL.topologies[1:]))


def known() -> RiskStudy:
    """Rates mostly from records: no topology's placeholders are above the stated share."""
    return replace(FULL, topologies=tuple(_known(each) for each in FULL.topologies))


def _known(one: TopologyRisk) -> TopologyRisk:
    return replace(
        one,
        figures=tuple(replace(figure, guessed=0.21) for figure in one.figures),
        rows=tuple(replace(row, guessed=0.0) for row in one.rows),
        loss_expected=one.loss_expected and replace(one.loss_expected, guessed=0.21),
    )


def bare() -> RiskStudy:
    """Next to nothing said, nothing found."""
    figure = Figure("any", "anything dark", "chance", exactly(0.0), 0.0)
    only = TopologyRisk(variant("single-feed", True), figures=(figure,), leading=("any",), shows=10)
    return RiskStudy("", "A show", 60 * MINUTE, Terms(), (only,))


def unbuildable() -> RiskStudy:
    """What is offered cannot be built; another one can."""
    offered = replace(RETURNS, variant=variant("return-loop", True))
    return replace(FULL, topologies=(offered, SINGLE), paired=())


def nothing_built() -> RiskStudy:
    return replace(unbuildable(), topologies=unbuildable().topologies[:1])


STUDIES = {
    "full": FULL, "without contract": without_contract(), "unfinished": unfinished(),
    "known": known(), "bare": bare(), "unbuildable": unbuildable(),
    "nothing built": nothing_built(),
}  # fmt: skip

AGREE = Check(
    "crossed-relays", "a whole wall dark for over 10 s", "chance", 2.51e-9, 1.2e-11, 2.5e-9,
    3e-12, 0.81, "agree",
)  # fmt: skip
DIFFER = replace(AGREE, what="dark time", kind="wall-seconds", simulated=2.41, error=0.02,
                 theory=2.81, bound=0.001, off=19.98, verdict="differ")  # fmt: skip
SILENT = replace(AGREE, what="anything wrong", off=0.0, verdict="not compared")
VERIFIED = Verification(
    "main", "Night regatta", (AGREE, SILENT), True, ("Two faults strike in either order.",),
    SHOWS, 7, "0.3.0", "0c41d9e2f7a8",
)  # fmt: skip
REFUTED = replace(VERIFIED, rows=(AGREE, DIFFER), passed=False)
