"""Figures of a risk study as people read them: chances, money, wall-seconds, their intervals.

In: frozen `Figure`s, `Estimate`s, exact amounts. Out: short texts. Chances are "1 in N"; nothing is
ever shown as 0 or as certain unless it is exactly so; bounds are rounded outward by `one_in`,
other figures have three digits.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_CEILING, Context, Decimal
from fractions import Fraction

from sim.limits.findings import grouped
from sim.reliability.estimates import Estimate, exactly, one_in
from sim.reliability.money import MINOR, Money
from sim.report.words import harmless, seconds, share
from sim.risk.results import Figure, RiskStudy, TopologyRisk
from sim.timebase import rate, show_time

INDICATIVE = "indicative, not evidence"
NOT_WORTH = "not worth it for penalties alone"
BAND_LEVEL = 0.9
"""A band goes from the 5th to the 95th percentile."""
UNITS = {"wall-seconds": "wall-s", "frames": "frames"}
ANY_RATE = rate("50")
"""Its frames are whole milliseconds, so that no time is shown in frames."""


def called(topology: TopologyRisk) -> str:
    """Its label, in quotes if it would come apart in a list."""
    label = harmless(topology.variant.label)
    return f'"{label}"' if "," in label else label


def titled(topology: TopologyRisk) -> str:
    """Its label as tables have it."""
    offered = " (offered)" if topology.variant.offered else ""
    return harmless(topology.variant.label) + offered + (" *" if topology.unfinished else "")


def currency(study: RiskStudy) -> str:
    """The contract's currency, "" without a contract."""
    return study.terms.contract.currency if study.terms.contract else ""


def built(study: RiskStudy) -> list[TopologyRisk]:
    return [each for each in study.topologies if not each.reasons]


def duration(flicks: int) -> str:
    """`3 h`, `12 min 30 s`."""
    return show_time(flicks, ANY_RATE)


# ---- one figure ----------------------------------------------------------------------------------


def about(figure: Figure, code: str = "") -> str:
    """The value alone: `1 in 85`, `fewer than 1 in 400`, `1 240 EUR`, `12.3 wall-s`."""
    found = figure.found
    if figure.kind == "chance":
        return one_in(found).partition(" (")[0]
    if found.bound_only:
        return f"under {measured(found.high, figure.kind, code)}"
    return measured(found.value, figure.kind, code)


def by_chance(figure: Figure, code: str = "") -> str:
    """Its interval: `1 in 70 to 1 in 100`, `none seen`, `exact`."""
    found = figure.found
    if found.exact:
        return "exact"
    if found.bound_only:
        return "none seen"
    if figure.kind == "chance":
        inside = one_in(found).partition(" (")[2].removesuffix(")")
        return inside.removesuffix(f", {level(found)}")
    return between(found.low, found.high, figure.kind, code)


def by_ignorance(figure: Figure, code: str = "") -> str:
    """Its band: `1 in 20 to 1 in 400`, `300 to 4 100 EUR`; `not asked for`."""
    if figure.band is None:
        return "not asked for"
    low, high = figure.band
    if figure.kind != "chance":
        return between(low, high, figure.kind, code)
    if low == high:
        return odds(high)
    text = one_in(Estimate(high, low, high, BAND_LEVEL, "band")).partition(" (")[2]
    return text.removesuffix(")").removesuffix(", 90 %")


def between(low: float, high: float, kind: str, code: str = "") -> str:
    """A span in the unit of its kind; from nothing or less: `at most ...`."""
    if low <= 0:
        return f"at most {measured(high, kind, code)}"
    unit = code if kind == "money" else UNITS[kind]
    least = measured(low, kind, code).removesuffix(f" {unit}")
    return f"{least} to {measured(high, kind, code)}"


def measured(value: float, kind: str, code: str = "") -> str:
    """A value with three digits and its unit."""
    if kind == "chance":
        return odds(value)
    return amount(value, code) if kind == "money" else f"{seconds(value)} {UNITS[kind]}"


def odds(probability: float) -> str:
    """`1 in 85`; `never` only for 0."""
    return one_in(exactly(probability)).partition(" (")[0]


def level(found: Estimate) -> str:
    """`95 %`."""
    return f"{100 * found.level:g} %"


def guessed_share(part: float) -> str:
    """The part that rests on placeholders: `83 %`; 0 % and 100 % only if exact."""
    return share(Fraction(min(max(part, 0.0), 1.0)))


def indicative(study: RiskStudy, figures: Iterable[Figure | None]) -> bool:
    """Whether the placeholder share of any of these lies above the stated share."""
    return any(f is not None and f.guessed > study.terms.indicative_above for f in figures)


# ---- money, parts of a whole ---------------------------------------------------------------------


def exact_money(value: Decimal | None, code: str) -> str:
    """An exact amount to the smallest coin: `12 500 EUR`; `-` where nobody said one."""
    if value is None or not code:
        return "-"
    shown = Money(value, code)
    coin = Decimal(1).scaleb(-MINOR[code])
    return f"<{coin} {code}" if 0 < value < coin / 2 else str(shown)


def amount(value: float | Decimal, code: str) -> str:
    """A mean amount with three digits: `1 240 EUR`, `8.35 EUR`; under a coin `<0.01 EUR`."""
    size, sign = Decimal(repr(abs(float(value)))), "-" if value < 0 else ""
    coin = Decimal(1).scaleb(-MINOR[code])
    if size == 0:
        return f"0 {code}"
    if size < coin:
        return f"{sign}<{coin} {code}"
    rounded = Decimal(f"{size:.3g}")
    places = 0 if rounded >= 100 else MINOR[code]
    return sign + str(Money(round(rounded, places), code))


def available(part: float) -> str:
    """A part near the whole with its nines: `99.987 %`, rounded down, 100 % only if exact."""
    missing = 100 - 100 * Decimal(repr(float(part)))
    if missing <= 0:
        return "100 %"
    if missing >= 100:
        return "0 %"
    shown = Context(prec=2, rounding=ROUND_CEILING).create_decimal(missing)
    return f"{100 - shown:f} %" if shown < 100 else "under 1 %"


def shows_words(number: int) -> str:
    """`1 000 000 shows`."""
    return f"{grouped(number)} show{'s' * (number != 1)}"


def more_or_fewer(found: Estimate, kind: str, code: str = "") -> tuple[str, str]:
    """A difference to the topology offered and its interval, both in words."""
    if found.exact and found.value == 0:
        return "none", "exact"
    span = f"{_more(found.low, kind, code)} to {_more(found.high, kind, code)}"
    shown = "exact" if found.exact else span
    if found.low <= 0 <= found.high:
        return "none shown", shown
    return _more(found.value, kind, code), shown


def _more(value: float, kind: str, code: str) -> str:
    """`1 more in 85`, `1 fewer in 200`, `120 EUR more`."""
    if value == 0:
        return "none"
    word = "more" if value > 0 else "less"
    if kind == "chance":
        word = "more" if value > 0 else "fewer"
        return odds(abs(value)).replace("1 in", f"1 {word} in")
    return f"{measured(abs(value), kind, code)} {word}"
