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
from sim.report.words import harmless, seconds, share, struck_words, unit_words
from sim.risk.figures import SPARE, TEST, TOPOLOGY
from sim.risk.results import Figure, Help, RiskStudy, TopologyRisk
from sim.timebase import rate, show_time

INDICATIVE = "indicative, not evidence"
NOT_WORTH = "not worth it for penalties alone"
UNITS = ("wall-seconds", "frames")
"""Kinds that are units; tables name them once, above."""
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


def fault_words(name: str) -> str:
    """A kind of fault in a sentence: `power jumper cut` for `power/jumper cut`, with the cause in
    brackets if it had one.
    """
    kind, bracket, cause = harmless(name).partition(" (")
    role, space, mode = kind.rpartition(" ")
    told = f"{struck_words(role, mode, units=True)} {mode}" if space else kind
    return f"{told}{bracket}{cause}"


def help_words(what: Help) -> str:
    """`topology two-unit`, `one more spare relay unit`, `test every backup trunk ...`."""
    if what.kind == SPARE:
        return f"one more spare {harmless(what.what)}"
    if what.kind == TOPOLOGY:
        return f"topology {harmless(what.what)}"
    every = "every " * what.many + unit_words(what.what)
    return f"test {every} before the show" if what.kind == TEST else f"a second way beside {every}"


# ---- one figure ----------------------------------------------------------------------------------


def about(figure: Figure, code: str = "") -> str:
    """The value alone: `1 in 85`, `fewer than 1 in 400`, `1 240 EUR`, `12.3`."""
    found = figure.found
    if figure.kind == "chance":
        return one_in(found).partition(" (")[0]
    if found.bound_only:
        return f"under {measured(found.high, figure.kind, code)}"
    return measured(found.value, figure.kind, code)


def by_chance(figure: Figure, code: str = "") -> str:
    """Its interval: `1 in 70 to 100`, `none seen`, `exact`."""
    found = figure.found
    if found.exact:
        return "exact"
    if found.bound_only:
        return "none seen"
    if figure.kind == "chance":
        return _span(found)
    return between(found.low, found.high, figure.kind, code)


def by_ignorance(figure: Figure, code: str = "") -> str:
    """Its band: `1 in 20 to 400`, `300 to 4 100 EUR`; `not asked for`."""
    if figure.band is None:
        return "not asked for"
    low, high = figure.band
    if high <= 0 and not figure.found.exact:
        return "not known: none seen"
    if figure.kind != "chance":
        return between(low, high, figure.kind, code)
    return odds(high) if low == high else _span(Estimate(high, low, high, 0.9, "band"))


def _span(found: Estimate) -> str:
    """`1 in 70 to 100`, the likelier end first, both rounded outward."""
    inside = one_in(found).partition(" (")[2].removesuffix(")")
    inside = inside.removesuffix(f", {level(found)}").replace(" to 1 in ", " to ")
    sure = inside.startswith("1 in 1 to") and found.high < 1
    return f"nearly {inside}" if sure else inside


def between(low: float, high: float, kind: str, code: str = "") -> str:
    """A span in the unit of its kind; from nothing or less: `at most ...`."""
    if low <= 0:
        return f"at most {measured(high, kind, code)}"
    return f"{measured(low, kind, code).removesuffix(f' {code}')} to {measured(high, kind, code)}"


def measured(value: float, kind: str, code: str = "") -> str:
    """A value with three digits; money has its currency, a chance its `1 in`."""
    if kind == "chance":
        return odds(value)
    return amount(value, code) if kind == "money" else seconds(value)


def with_unit(text: str, kind: str) -> str:
    """`2.41 wall-seconds`; what is no time or count has its unit already."""
    return f"{text} {kind}" if kind in UNITS else text


def heading(name: str, kind: str) -> str:
    """The name of a figure as a heading, with its unit where figures have none."""
    shown = harmless(name)
    unit = f", {kind} a show" if kind in UNITS else ""
    return shown[:1].upper() + shown[1:] + unit


def odds(probability: float) -> str:
    """`1 in 85`; `never` only for 0."""
    return one_in(exactly(probability)).partition(" (")[0]


def shows_of(chance: str) -> str:
    """`1 in 85 shows`; `never` as it is."""
    return chance if chance == "never" else f"{chance} shows"


def level(found: Estimate) -> str:
    """`95 %`."""
    return f"{100 * found.level:g} %"


def guessed_share(part: float) -> str:
    """The part that rests on placeholders: `83 %`; 0 % and 100 % only if exact."""
    return share(Fraction(repr(float(min(max(part, 0.0), 1.0)))))


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
    if part == 0:
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
    if found.exact:
        return _more(found.value, kind, code), "exact"
    if found.low <= 0 <= found.high:
        return "none shown", f"{_end(found.low, kind, code)} to {_end(found.high, kind, code)}"
    return _more(found.value, kind, code), _one_sided(found, kind, code)


def _one_sided(found: Estimate, kind: str, code: str) -> str:
    """`1 more in 70 to 100`, `20 to 30 EUR more`."""
    word = _word(found.value, kind)
    small, large = sorted((abs(found.low), abs(found.high)))
    if kind != "chance":
        return f"{between(small, large, kind, code)} {word}"
    return _span(Estimate(large, small, large, found.level, "")).replace("1 in", f"1 {word} in")


def _end(value: float, kind: str, code: str) -> str:
    """An end of an interval; odds are rounded outward."""
    if kind != "chance" or value == 0:
        return _more(value, kind, code)
    size = abs(value)
    text = _span(Estimate(size, 0.0, size, 0.95, "")).removeprefix("at most ")
    return text.replace("1 in", f"1 {_word(value, kind)} in")


def _more(value: float, kind: str, code: str) -> str:
    """`1 more in 85`, `1 fewer in 200`, `120 EUR more`."""
    if value == 0:
        return "none"
    word = _word(value, kind)
    if kind == "chance":
        return odds(abs(value)).replace("1 in", f"1 {word} in")
    return f"{measured(abs(value), kind, code)} {word}"


def _word(value: float, kind: str) -> str:
    return "more" if value > 0 else "fewer" if kind == "chance" else "less"
